//! Letters from the daemon and the commands to a real mail server (aiosmtpd, PyPI), and what a person is told when they do not
//! arrive. No secret is found anywhere but in its file.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/server.rs"]
mod server;
#[path = "desk/watched.rs"]
mod watched;

use rustix::fs::{FlockOperation, flock};
use server::{PASSWORD, Server, Talk, USER, assert_no_credential, certificates, holds};
use std::fs;
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::process::{Command, Output};
use watched::{Studio, broken, sound};

/// `[digest.smtp]` for a server on this machine.
fn smtp(port: u16, tls: &str, ca: bool) -> String {
    let ca = if ca { format!("ca = \"{}\"\n", certificates().join("ca.pem").display()) } else { String::new() };
    format!(
        "[digest]\nto = [\"second@oddfathom.example\", \"{USER}\"]\n[digest.smtp]\nhost = \"localhost\"\nport = {port}\n\
         tls = \"{tls}\"\nuser = \"{USER}\"\npassword_file = \"password\"\n{ca}"
    )
}

fn give_password(studio: &Studio, password: &str, mode: u32) {
    fs::write(studio.at("password"), password).unwrap();
    fs::set_permissions(studio.at("password"), fs::Permissions::from_mode(mode)).unwrap();
}

fn burler(studio: &Studio, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
    command.args(words).arg("--config").arg(studio.at("burler.toml")).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A studio with one tile that is ready and one that is held, both judged.
fn judged(more: &str) -> Studio {
    let studio = Studio::new();
    studio.configure(more);
    let watch = studio.watch();
    studio.save(b"kelp.png", &sound(90));
    studio.save(b"spots.png", &broken());
    studio.comes("ready/kelp.png");
    studio.comes("held/spots.png.held.png");
    studio.until("the ledger knows", || studio.says(&["status"]).contains("1 ready, 0 of them mended; 1 need you"));
    assert!(watch.stop().success());
    studio
}

/// Nothing below the studio but the password file holds the password, in any form.
fn assert_kept_secret(studio: &Studio) {
    for file in studio.files("").into_keys() {
        if file.to_str() != Some("password") {
            let bytes = fs::read(studio.at(file.to_str().unwrap())).unwrap();
            assert!(!holds(&bytes, PASSWORD.as_bytes()), "{} holds the password", file.display());
        }
    }
}

#[test]
fn a_letter_is_written_sent_and_parsed_by_another_program() {
    let server = Server::start(&Talk { tls: "implicit", login: true, ..Talk::default() });
    let studio = judged(&smtp(server.port, "implicit", true));
    give_password(&studio, PASSWORD, 0o600);
    let said = burler(&studio, &["digest"]);
    assert!(said.status.success(), "{}", text(&said.stderr));
    let out = text(&said.stdout);
    assert!(out.starts_with("1 needs you, 1 ready\n"), "{out}");
    assert!(out.ends_with(&format!("\nsent to second@oddfathom.example, {USER}: 1 needs you, 1 ready\n")), "{out}");
    let accepted = server.accepted();
    assert_eq!(accepted.len(), 1);
    let file = studio.at("got.eml");
    fs::write(&file, &accepted[0]).unwrap();
    let told = desk::run_python(include_str!("digest/read_mail.py"), &[file.to_str().unwrap()]);
    assert!(told.contains(&format!("from Burler <{USER}> to second@oddfathom.example, {USER}\n")), "{told}");
    assert!(told.contains("subject 1 needs you, 1 ready\n") && told.ends_with("sizes True True\n"), "{told}");
    assert!(told.contains("@burler.oddfathom.example> auto-generated"), "{told}");
    assert_no_credential(&server.raw(), "the wire");

    // The next letter follows it (RFC 5322, 3.6.4).
    let watch = studio.watch();
    studio.save(b"dulse.png", &sound(91));
    studio.comes("ready/dulse.png");
    studio.until("the ledger knows", || studio.says(&["status"]).contains("2 ready"));
    assert!(burler(&studio, &["digest"]).status.success());
    let chain = desk::run_python(
        "import email,email.policy,sys\n\
         a,b=(email.message_from_bytes(bytes.fromhex(t),policy=email.policy.default) for t in sys.argv[1:])\n\
         print(b['In-Reply-To']==a['Message-ID'], b['References']==a['Message-ID'], a['In-Reply-To'])",
        &server
            .accepted()
            .iter()
            .map(|mail| head(mail))
            .collect::<Vec<_>>()
            .iter()
            .map(String::as_str)
            .collect::<Vec<_>>(),
    );
    assert_eq!(chain, "True True None\n");
    assert!(burler(&studio, &["digest"]).status.success(), "nothing new");
    assert_eq!(server.accepted().len(), 2);
    assert!(watch.stop().success());
    assert!(!studio.says(&["status"]).contains("mail:"));
    assert_kept_secret(&studio);
}

/// The head of a mail in hexadecimal digits.
fn head(mail: &[u8]) -> String {
    let end = mail.windows(4).position(|four| four == b"\r\n\r\n").unwrap() + 4;
    mail[..end].iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn the_watch_sends_what_another_process_has_written_and_shows_no_secret_to_the_system() {
    let server = Server::start(&Talk { tls: "starttls", login: true, script: &["stall end-kept"], ..Talk::default() });
    let studio = judged(&smtp(server.port, "starttls", true));
    give_password(&studio, PASSWORD, 0o600);
    let lock = fs::File::create(studio.at("state/post.lock")).unwrap();
    flock(&lock, FlockOperation::LockExclusive).unwrap();
    let said = burler(&studio, &["digest"]);
    assert!(said.status.success());
    assert!(text(&said.stdout).ends_with("\nit is sent by the Burler that is sending letters right now\n"));
    assert!(studio.says(&["status"]).contains("\nmail: 1 letter waits to be sent\n"));
    let watch = studio.watch();
    drop(lock);
    studio.until("the letter arrives", || !server.accepted().is_empty());
    // The server says nothing now, so the password is in use at this moment; no other account can see it.
    for entry in ["cmdline", "environ"] {
        let bytes = fs::read(format!("/proc/{}/{entry}", watch.0.id())).unwrap();
        assert!(!holds(&bytes, PASSWORD.as_bytes()), "{entry}");
    }
    // A kill right now: the server has the letter, and nobody knows.
    drop(watch);
    let watch = studio.watch();
    studio.until("the doubt is told", || studio.says(&["status"]).contains("in doubt: Burler was ended while"));
    assert!(studio.says(&["status"]).contains("mail: 1 letter waits to be sent, next try "));
    assert!(watch.stop().success());
    assert_eq!(server.accepted().len(), 1);
    assert_kept_secret(&studio);
}

#[test]
fn a_letter_that_cannot_be_sent_waits_and_is_told_with_what_to_do() {
    let script = ["ok", "rcpt 550 5.1.1 unknown for second@oddfathom.example"];
    let server = Server::start(&Talk { tls: "implicit", login: true, script: &script, ..Talk::default() });
    let studio = judged(&smtp(server.port, "implicit", true));
    give_password(&studio, "another one", 0o600);
    let said = burler(&studio, &["digest"]);
    assert_eq!(said.status.code(), Some(74));
    assert!(text(&said.stderr).starts_with("burler: 1 letter waits to be sent, next try "), "{}", text(&said.stderr));
    assert!(text(&said.stderr).contains("does not accept the user name and password"));
    let status = studio.says(&["status"]);
    assert!(
        status.contains("\nmail: 1 letter waits to be sent, next try ") && status.contains("app password"),
        "{status}"
    );
    // Mended, it goes at once when asked for; one of the two addresses is refused for good, which is told.
    give_password(&studio, PASSWORD, 0o600);
    let said = burler(&studio, &["digest"]);
    let out = text(&said.stdout);
    assert_eq!(out, format!("nothing new to tell, so no letter\nsent to {USER}: 1 needs you, 1 ready\n"));
    let err = text(&said.stderr);
    assert!(
        err.contains("it did not reach second@oddfathom.example: the server takes no letters for second@"),
        "{err}"
    );
    assert!(studio.says(&["status"]).contains("\nmail: the letter of "));
    // And the next letter says so, once.
    let watch = studio.watch();
    studio.save(b"dulse.png", &sound(91));
    studio.comes("ready/dulse.png");
    studio.until("the ledger knows", || studio.says(&["status"]).contains("2 ready"));
    assert!(watch.stop().success());
    burler(&studio, &["digest"]);
    let page = || {
        let pages = studio.files("checked/letters").into_keys();
        pages.map(|page| fs::read_to_string(studio.at(page.to_str().unwrap())).unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(page().iter().filter(|page| page.contains("It did not reach second@oddfathom.example")).count(), 1);
    assert!(!studio.says(&["status"]).contains("mail:"));
}

#[test]
fn a_test_letter_is_sent_or_it_is_said_what_to_do() {
    let talk = |certificate| Talk { tls: "implicit", certificate, login: true, ..Talk::default() };
    let servers = Server::start_all(&[talk("good"), talk("expired"), talk("wrong-name"), Talk::default()]);
    let [good, expired, wrong_name, plain] = &servers[..] else { unreachable!("four servers") };
    let closed = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let studio = Studio::new();
    let said = |more: &str| {
        studio.configure(more);
        let said = burler(&studio, &["digest", "test"]);
        assert!(!holds(&[&said.stdout[..], &said.stderr[..]].concat(), PASSWORD.as_bytes()));
        (said.status.code().unwrap(), text(&said.stdout), text(&said.stderr))
    };
    let expect = |more: &str, status: i32, words: &[&str]| {
        let (code, out, err) = said(more);
        assert_eq!((code, out.as_str()), (status, ""), "{err}");
        assert!(words.iter().all(|word| err.contains(word)), "{words:?} in {err}");
    };
    give_password(&studio, PASSWORD, 0o600);
    let sent = said(&smtp(good.port, "implicit", true));
    assert_eq!(sent, (0, format!("a test letter was sent to second@oddfathom.example, {USER}\n"), String::new()));
    let mail = String::from_utf8(good.accepted().remove(0)).unwrap();
    assert!(mail.contains("Subject: A test letter of Burler\r\n") && mail.contains("It has arrived"), "{mail}");

    expect("", 78, &["no way to send letters is configured; add [digest.smtp]"]);
    expect(
        &smtp(good.port, "implicit", false),
        74,
        &["nobody this machine trusts has signed the certificate of localhost:", "ca under"],
    );
    expect(
        &smtp(expired.port, "implicit", true),
        74,
        &["the certificate of localhost:", "has expired", "check this machine's date"],
    );
    expect(
        &smtp(wrong_name.port, "implicit", true),
        74,
        &["is another server's", "mail.elsewhere.example", "write host under"],
    );
    expect(
        &smtp(plain.port, "implicit", true),
        74,
        &["does not encrypt from the first byte", "write tls = \"starttls\""],
    );
    expect(&smtp(plain.port, "starttls", true), 74, &["offers no encryption", "write tls = \"implicit\""]);
    expect(&smtp(closed, "implicit", true), 74, &["nothing answers at localhost:", "465 goes with"]);
    let nowhere = smtp(465, "implicit", true).replace("\"localhost\"", "\"mail.oddfathom.invalid\"");
    expect(&nowhere, 74, &["no mail server named mail.oddfathom.invalid can be found", "check host"]);
    let no_root = smtp(good.port, "implicit", false) + "ca = \"burler.toml\"\n";
    expect(&no_root, 74, &["the root certificate under ca", "burler.toml holds no certificate in PEM form"]);
    give_password(&studio, PASSWORD, 0o644);
    expect(
        &smtp(good.port, "implicit", true),
        74,
        &["can be read or changed by others, so it is not used; run: chmod 600"],
    );
    give_password(&studio, "wrong", 0o600);
    expect(&smtp(good.port, "implicit", true), 74, &["does not accept the user name and password", "535"]);
    fs::remove_file(studio.at("password")).unwrap();
    expect(&smtp(good.port, "implicit", true), 74, &["the password is missing: cannot read", "it is not there"]);
    assert_eq!(good.accepted().len(), 1);
    for server in [expired, wrong_name, plain] {
        assert_no_credential(&[server.raw(), server.clear()].concat(), "a test letter");
    }
}

#[test]
fn a_credential_of_the_service_manager_serves_as_well() {
    let server = Server::start(&Talk { tls: "implicit", login: true, ..Talk::default() });
    let studio = Studio::new();
    let more =
        smtp(server.port, "implicit", true).replace("password_file = \"password\"", "credential = \"mail-password\"");
    studio.configure(&more);
    fs::create_dir(studio.at("credentials")).unwrap();
    fs::write(studio.at("credentials/mail-password"), PASSWORD).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_burler"));
    command.args(["digest", "test", "--config"]).arg(studio.at("burler.toml"));
    let said = command.env("CREDENTIALS_DIRECTORY", studio.at("credentials")).output().unwrap();
    assert!(said.status.success(), "{}", text(&said.stderr));
    let said = burler(&studio, &["digest", "test"]);
    assert!(text(&said.stderr).contains("was not handed over by the service manager"), "{}", text(&said.stderr));
}

#[test]
fn a_mail_folder_gets_the_letter_without_a_server() {
    let studio = judged("[digest]\nmaildir = \"Maildir\"\n");
    let said = burler(&studio, &["digest"]);
    assert!(said.status.success(), "{}", text(&said.stderr));
    assert!(
        text(&said.stdout).ends_with("sent to the folder for letters: 1 needs you, 1 ready\n"),
        "{}",
        text(&said.stdout)
    );
    assert_eq!(studio.files("Maildir").len(), 1);
    assert!(studio.files("Maildir").into_keys().all(|file| file.starts_with("Maildir/new")));
    studio.configure("[digest]\nfile = \"letters\"\n");
    assert_eq!(
        text(&burler(&studio, &["digest", "test"]).stdout),
        "a test letter was sent to the folder for letters\n"
    );
    assert_eq!(studio.files("letters").len(), 1);
}
