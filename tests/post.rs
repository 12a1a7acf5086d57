//! Handing letters over: to real mail servers, and into folders.
//!
//! The servers are aiosmtpd (PyPI) and, where it can be had, smtp-sink of Debian's package postfix. Both listen on this machine
//! only. What arrived is read with Python's `email` and `mailbox`.
#![expect(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/server.rs"]
mod server;

use burler::digest::post::{
    Answer, Carrier, Fault, FaultKind, IntoFolder, IntoMaildir, Login, Parcel, PasswordAt, Secret, Security, Smtp,
    SmtpSettings, Waits,
};
use burler::digest::{Entry, Letter, Settings, Window, letter, message};
use burler::disk::Disk;
use burler::finding::{Finding, Grade, Kind, Verdict};
use server::{PASSWORD, Server, Talk, USER, assert_no_credential, certificates, holds};
use std::fs;
use std::io::Write;
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, SystemTime};

const ID: &str = "<20261125.7f3a@burler.oddfathom.example>";
const TO: &str = "second@oddfathom.example";

/// A letter with lines that begin with dots and names beyond ASCII.
fn a_letter() -> Letter {
    let finding = Finding {
        kind: Kind::JointBreak,
        grade: Grade::Fault,
        silenced: false,
        boxes: Vec::new(),
        measure: None,
        says: "the left and right edges do not meet".into(),
        remedy: "paint the seam over".into(),
    };
    let entry = Entry {
        folder: "studio".into(),
        tile: "algue-verte-é.png".into(),
        verdict: Verdict::Held,
        before: None,
        copy_of: None,
        findings: vec![finding],
        original: "exports/algue-verte-é.png".into(),
        outputs: Vec::new(),
        picture: None,
        notes: Vec::new(),
    };
    let window = Window { until: "today".into(), ..Window::default() };
    let mut letter = letter(&[entry], &window, &Settings::default()).unwrap();
    letter.text = format!(".\n..\n.hidden\n{}\n.\nQUIT\n{}", letter.text, "dulse ".repeat(400));
    letter
}

fn a_mail() -> Vec<u8> {
    let to = [TO.to_string()];
    message(&a_letter(), "Burler <burler@oddfathom.example>", &to, ID, SystemTime::UNIX_EPOCH).unwrap()
}

fn parcel<'a>(to: &'a [String], bytes: &'a [u8]) -> Parcel<'a> {
    Parcel { message_id: ID, written: SystemTime::UNIX_EPOCH + Duration::from_secs(1_795_629_605), to, bytes }
}

/// A file with a password that only its owner can read.
fn password_file(folder: &Path, password: &str) -> PathBuf {
    let file = folder.join("password");
    fs::write(&file, format!("{password}\nnot this line\n")).unwrap();
    fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
    file
}

/// Long enough for a busy machine.
fn waits() -> Waits {
    let long = Duration::from_secs(30);
    Waits { reply: long, data: long, end: long }
}

/// For servers that will not answer.
fn impatient() -> Waits {
    let short = Duration::from_millis(700);
    Waits { reply: short, data: short, end: short }
}

fn settings(port: u16, security: Security) -> SmtpSettings {
    SmtpSettings {
        host: "localhost".into(),
        port,
        security,
        login: None,
        ca: Some(certificates().join("ca.pem")),
        from: "Burler <burler@oddfathom.example>".into(),
    }
}

/// Hands a letter over to a server; every answer.
fn hand(settings: SmtpSettings, to: &[&str]) -> Vec<Answer> {
    hand_within(waits(), settings, to)
}

fn hand_within(waits: Waits, settings: SmtpSettings, to: &[&str]) -> Vec<Answer> {
    let to: Vec<String> = to.iter().map(ToString::to_string).collect();
    Smtp::new(settings, waits).carry(&parcel(&to, &a_mail()), &mut || Ok(()))
}

fn with_login(port: u16, security: Security, file: &Path) -> SmtpSettings {
    let login = Login { user: USER.into(), password: PasswordAt::File(file.into()) };
    SmtpSettings { login: Some(login), ..settings(port, security) }
}

fn kind(answer: &Answer) -> (&'static str, Option<FaultKind>) {
    match answer {
        Answer::Accepted => ("accepted", None),
        Answer::Later(fault) => ("later", Some(fault.kind)),
        Answer::Never(fault) => ("never", Some(fault.kind)),
        Answer::InDoubt(fault) => ("in doubt", Some(fault.kind)),
    }
}

fn says(answer: &Answer) -> String {
    match answer {
        Answer::Accepted => String::new(),
        Answer::Later(fault) | Answer::Never(fault) | Answer::InDoubt(fault) => fault.to_string(),
    }
}

#[test]
fn a_letter_arrives_byte_for_byte_on_every_kind_of_connection() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    let ways = [("implicit", Security::Implicit), ("starttls", Security::StartTls), ("none", Security::None)];
    let servers = Server::start_all(&ways.map(|(tls, _)| Talk { tls, login: true, ..Talk::default() }));
    for ((tls, security), server) in ways.into_iter().zip(servers) {
        let answers = hand(with_login(server.port, security, &file), &[TO, USER]);
        assert_eq!(answers, [Answer::Accepted, Answer::Accepted], "{tls}");
        assert_eq!(server.accepted(), [a_mail()], "{tls}");
        assert_eq!(
            server.envelopes(),
            [format!("{{\"from\": \"burler@oddfathom.example\", \"to\": [\"{TO}\", \"{USER}\"]}}")]
        );
        if tls != "none" {
            assert_no_credential(&server.raw(), tls);
            assert!(!holds(&server.raw(), b"Subject:"), "{tls}: the letter went in the clear");
        }
        let clear = server.clear();
        // RFC 5321, 2.3.8: lines end with CRLF, and neither stands alone.
        let lines: Vec<&[u8]> = clear.split(|byte| *byte == b'\n').collect();
        for line in &lines[..lines.len() - 1] {
            assert!(line.ends_with(b"\r") && !line[..line.len() - 1].contains(&b'\r'), "{tls}: {line:?}");
            // RFC 5322, 2.1.1: at most 998 octets without CRLF.
            assert!(line.len() <= 999);
        }
        // RFC 5321, 4.5.2: a line that begins with a dot gets one more on the wire, and the reader takes it off.
        for (sent, read) in [
            (&b"\r\n..\r\n"[..], &b"\r\n.\r\n"[..]),
            (b"\r\n...\r\n", b"\r\n..\r\n"),
            (b"\r\n..hidden", b"\r\n.hidden"),
        ] {
            assert!(holds(&clear, sent) && holds(&server.accepted()[0], read), "{tls}: {sent:?}");
        }
    }
}

#[test]
fn nothing_secret_leaves_before_a_server_has_proven_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    let certificates = [
        ("self-signed", FaultKind::NotTrusted),
        ("expired", FaultKind::Expired),
        ("not-yet", FaultKind::NotYetValid),
        ("wrong-name", FaultKind::WrongName),
        // A root of the house is trusted only where it is named.
        ("good", FaultKind::NotTrusted),
    ];
    for (tls, security) in [("implicit", Security::Implicit), ("starttls", Security::StartTls)] {
        let talk = |(certificate, _)| Talk { tls, certificate, login: true, ..Talk::default() };
        for ((certificate, expected), server) in
            certificates.into_iter().zip(Server::start_all(&certificates.map(talk)))
        {
            let told = with_login(server.port, security, &file);
            let answers = hand(if certificate == "good" { SmtpSettings { ca: None, ..told } } else { told }, &[TO]);
            assert_eq!(kind(&answers[0]), ("later", Some(expected)), "{tls} {certificate}: {}", says(&answers[0]));
            for bytes in [server.raw(), server.clear()] {
                assert_no_credential(&bytes, certificate);
                assert!(!holds(&bytes, b"MAIL") && !holds(&bytes, b"Subject:"), "{tls} {certificate}");
            }
            assert!(!server.raw().is_empty() && server.accepted().is_empty(), "{tls} {certificate}");
        }
    }
}

#[test]
fn a_server_that_does_not_encrypt_gets_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    for (talk, security, expected) in [
        (
            Talk { tls: "starttls", script: &["no-starttls"], ..Talk::default() },
            Security::StartTls,
            FaultKind::NoStartTls,
        ),
        (Talk::default(), Security::StartTls, FaultKind::NoStartTls),
        (Talk::default(), Security::Implicit, FaultKind::NotEncrypted),
    ] {
        let server = Server::start(&Talk { login: true, ..talk });
        let answers = hand(with_login(server.port, security, &file), &[TO]);
        assert_eq!(kind(&answers[0]), ("later", Some(expected)), "{security:?}: {}", says(&answers[0]));
        assert_no_credential(&[server.raw(), server.clear()].concat(), "plain");
        assert!(!holds(&server.clear(), b"MAIL"));
    }
    // A server that encrypts at once, called by somebody who waits for its greeting in the clear.
    let server = Server::start(&Talk { tls: "implicit", login: true, ..Talk::default() });
    let answers = hand_within(impatient(), with_login(server.port, Security::StartTls, &file), &[TO]);
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Silent)));
    assert_no_credential(&server.raw(), "implicit");
}

#[test]
fn replies_slipped_in_before_the_encryption_win_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    let server = Server::start(&Talk { tls: "starttls", login: true, script: &["inject"], ..Talk::default() });
    let answers = hand(with_login(server.port, Security::StartTls, &file), &[TO]);
    assert_eq!(kind(&answers[0]).0, "later", "{}", says(&answers[0]));
    assert!(server.accepted().is_empty());
    assert_no_credential(&server.raw(), "inject");
}

#[test]
fn what_a_server_answers_is_told_apart() {
    let second = "other@oddfathom.example";
    let cases = [
        ("greet 421 4.3.2 closing", [("later", Some(FaultKind::Later)); 2]),
        ("greet 554 no service", [("later", Some(FaultKind::Later)); 2]),
        ("mail 451 4.3.0 later", [("later", Some(FaultKind::Later)); 2]),
        ("mail 550 5.7.1 not yours", [("never", Some(FaultKind::Sender)); 2]),
        ("rcpt 450 4.2.1 busy", [("later", Some(FaultKind::Later)); 2]),
        ("rcpt 550 5.1.1 unknown", [("never", Some(FaultKind::Recipient)); 2]),
        // The others go on when one is refused.
        (
            "rcpt 550 5.1.1 unknown for other@oddfathom.example",
            [("accepted", None), ("never", Some(FaultKind::Recipient))],
        ),
        ("rcpt 452 4.2.2 full for other@oddfathom.example", [("accepted", None), ("later", Some(FaultKind::Full))]),
        ("data 451 4.3.0 later", [("later", Some(FaultKind::Later)); 2]),
        ("data 554 5.5.1 no", [("never", Some(FaultKind::Rejected)); 2]),
        ("end 421 4.3.2 closing", [("later", Some(FaultKind::Later)); 2]),
        ("end 451 4.3.0 later", [("later", Some(FaultKind::Later)); 2]),
        ("end 552 5.2.2 full", [("later", Some(FaultKind::Full)); 2]),
        ("end 552 5.3.4 too big", [("never", Some(FaultKind::TooLarge)); 2]),
        ("end 554 5.6.0 looks like spam", [("never", Some(FaultKind::Rejected)); 2]),
        ("drop greet", [("later", Some(FaultKind::Cut)); 2]),
        ("drop mail", [("later", Some(FaultKind::Cut)); 2]),
        ("drop rcpt", [("later", Some(FaultKind::Cut)); 2]),
        ("drop data", [("later", Some(FaultKind::Cut)); 2]),
        ("stall greet", [("later", Some(FaultKind::Silent)); 2]),
        ("stall mail", [("later", Some(FaultKind::Silent)); 2]),
        ("drop end-lost", [("in doubt", Some(FaultKind::Doubt)); 2]),
        ("drop end-kept", [("in doubt", Some(FaultKind::Doubt)); 2]),
        ("stall end-kept", [("in doubt", Some(FaultKind::Doubt)); 2]),
    ];
    // After each case the server is well again.
    let script: Vec<&str> = cases.iter().flat_map(|(action, _)| [*action, "ok"]).collect();
    let server = Server::start(&Talk { script: &script, ..Talk::default() });
    let mut accepted = 0;
    for (action, expected) in cases {
        let waits = if action.starts_with("stall") { impatient() } else { waits() };
        let answers = hand_within(waits, settings(server.port, Security::None), &[TO, second]);
        let seen: Vec<_> = answers.iter().map(kind).collect();
        assert_eq!(seen, expected, "{action}: {}", says(&answers[0]));
        accepted += usize::from(action.ends_with("end-kept") || seen.contains(&("accepted", None)));
        assert_eq!(server.accepted().len(), accepted, "{action}");
        let again = hand(settings(server.port, Security::None), &[TO, second]);
        assert_eq!(again, [Answer::Accepted, Answer::Accepted], "{action}");
        accepted += 1;
    }
}

#[test]
fn a_connection_that_breaks_within_the_letter_leaves_no_doubt() {
    let server = Server::start(&Talk { script: &["drop body"], ..Talk::default() });
    // So long that the end of it is not on its way yet when the server hangs up.
    let bytes = [a_mail(), b"kelp and dulse\r\n".repeat(4_000_000 / 16)].concat();
    let to = [TO.to_string()];
    let answers = Smtp::new(settings(server.port, Security::None), waits()).carry(&parcel(&to, &bytes), &mut || Ok(()));
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Cut)), "{}", says(&answers[0]));
}

#[test]
fn a_letter_whose_leaving_cannot_be_noted_does_not_leave() {
    let server = Server::start(&Talk::default());
    let to = [TO.to_string()];
    let mut carrier = Smtp::new(settings(server.port, Security::None), waits());
    let answers = carrier.carry(&parcel(&to, &a_mail()), &mut || Err("the ledger is full".into()));
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Ledger)));
    assert_eq!(says(&answers[0]), "the ledger is full");
    assert!(server.accepted().is_empty() && !holds(&server.clear(), b"Subject:"));
}

#[test]
fn a_wrong_password_is_told_and_the_letter_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), "not the one");
    let server = Server::start(&Talk { tls: "implicit", login: true, ..Talk::default() });
    let answers = hand(with_login(server.port, Security::Implicit, &file), &[TO]);
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::WrongLogin)));
    assert!(says(&answers[0]).contains("(an app password)"), "{}", says(&answers[0]));
    assert!(!says(&answers[0]).contains("not the one"));
    // A server that wants a log-in, and nobody to log in.
    let answers = hand(settings(server.port, Security::Implicit), &[TO]);
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::LoginWanted)), "{}", says(&answers[0]));
    // One that offers none, and a user to log in.
    let open = Server::start(&Talk { tls: "implicit", ..Talk::default() });
    let answers = hand(with_login(open.port, Security::Implicit, &file), &[TO]);
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::NoLogin)), "{}", says(&answers[0]));
}

#[test]
fn a_password_that_a_server_repeats_is_not_told() {
    // A server that answers the log-in with what it was given.
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let talk = std::thread::spawn(move || {
        use std::io::{BufRead, BufReader};
        let (mut out, _) = listener.accept().unwrap();
        let mut lines = BufReader::new(out.try_clone().unwrap()).lines();
        out.write_all(b"220 here\r\n").unwrap();
        lines.next();
        out.write_all(b"250-here\r\n250 AUTH PLAIN\r\n").unwrap();
        let login = lines.next().unwrap().unwrap();
        out.write_all(format!("535 no: {login}\r\n").as_bytes()).unwrap();
        login
    });
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    let answers = hand(with_login(port, Security::None, &file), &[TO]);
    assert!(talk.join().unwrap().starts_with("AUTH PLAIN "));
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::WrongLogin)));
    assert_no_credential(says(&answers[0]).as_bytes(), "what is told");
}

#[test]
fn no_server_no_name_and_no_mail_server_are_told_apart() {
    let closed = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let answers = hand(settings(closed, Security::None), &[TO]);
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Refused)));
    let nowhere = SmtpSettings { host: "mail.oddfathom.invalid".into(), ..settings(25, Security::Implicit) };
    assert_eq!(kind(&hand(nowhere, &[TO])[0]), ("later", Some(FaultKind::HostNotFound)));
    // 192.0.2.1 is for documentation (RFC 5737): nothing is called there, since it is not this machine.
    let other = SmtpSettings { host: "192.0.2.1".into(), ..settings(25, Security::None) };
    assert_eq!(kind(&hand(other, &[TO])[0]), ("later", Some(FaultKind::NotThisMachine)));

    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let talk = std::thread::spawn(move || {
        listener.accept().unwrap().0.write_all(b"HTTP/1.1 400 Bad Request\r\n\r\n").unwrap();
    });
    let answers = hand(settings(port, Security::None), &[TO]);
    talk.join().unwrap();
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Garbled)));
}

#[test]
fn addresses_beyond_ascii_go_only_where_they_are_taken() {
    let odd = "größe@oddfathom.example";
    let plain = Server::start(&Talk::default());
    let answers = hand(settings(plain.port, Security::None), &[odd, TO]);
    assert_eq!(answers.iter().map(kind).collect::<Vec<_>>(), [("never", Some(FaultKind::Address)), ("accepted", None)]);
    let able = Server::start(&Talk { utf8: true, ..Talk::default() });
    assert_eq!(hand(settings(able.port, Security::None), &[odd, TO]), [Answer::Accepted, Answer::Accepted]);
    let answers = hand(settings(able.port, Security::None), &["no address", "a@b>\r\nRCPT TO:<c@d"]);
    assert!(answers.iter().all(|answer| kind(answer) == ("never", Some(FaultKind::Address))));
}

#[test]
fn a_password_is_read_only_where_nobody_else_can_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = password_file(folder.path(), PASSWORD);
    let at = PasswordAt::File(file.clone());
    assert_eq!(at.read().unwrap(), Secret::new(PASSWORD.into()));
    assert_eq!(format!("{:?}", at.read().unwrap()), "Secret(…)");
    for mode in [0o640, 0o604, 0o620, 0o602, 0o610, 0o601] {
        fs::set_permissions(&file, fs::Permissions::from_mode(mode)).unwrap();
        let wrong = at.read().unwrap_err();
        assert_eq!(wrong.kind, FaultKind::Password);
        let path = file.display();
        assert_eq!(
            wrong.to_string(),
            format!(
                "the password file {path} can be read or changed by others, so it is not used; run: chmod 600 {path}"
            )
        );
    }
    fs::set_permissions(&file, fs::Permissions::from_mode(0o400)).unwrap();
    assert!(at.read().is_ok());
    if rustix::process::geteuid().is_root() {
        std::os::unix::fs::chown(&file, Some(65_534), None).unwrap();
        assert!(at.read().unwrap_err().to_string().contains("belongs to another account"));
    }
    let wrong = |at: PasswordAt| at.read().unwrap_err().to_string();
    assert!(wrong(PasswordAt::File(folder.path().join("none"))).starts_with("the password is missing: cannot read "));
    assert!(wrong(PasswordAt::File(folder.path().into())).starts_with("the password is missing: "));
    let other = tempfile::tempdir().unwrap();
    let empty = password_file(other.path(), "");
    assert!(wrong(PasswordAt::File(empty)).ends_with("holds no password in its first line"));

    // A credential is guarded by the folder it lies in.
    let name = "mail-password".to_string();
    fs::write(folder.path().join(&name), PASSWORD).unwrap();
    let credential = PasswordAt::Credential { folder: Some(folder.path().into()), name: name.clone() };
    assert_eq!(credential.read().unwrap(), Secret::new(PASSWORD.into()));
    assert!(wrong(PasswordAt::Credential { folder: None, name }).contains("LoadCredential=mail-password:"));
}

#[test]
fn a_letter_put_into_a_maildir_twice_lies_there_once_and_is_read_by_another_program() {
    let folder = tempfile::tempdir().unwrap();
    let mail = folder.path().join("Maildir");
    let to = ["the folder".to_string()];
    let put = || IntoMaildir::new(Disk::new(), mail.clone()).carry(&parcel(&to, &a_mail()), &mut || Ok(()));
    assert_eq!(put(), [Answer::Accepted]);
    assert_eq!(put(), [Answer::Accepted]);
    let read = r#"
import mailbox, sys
box = mailbox.Maildir(sys.argv[1], create=False)
for key, mail in box.items():
    print(mail["Message-ID"], mail["Subject"], mail.get_subdir(), b"\r" in box.get_bytes(key))
for key in box.keys():
    mail = box[key]
    mail.set_subdir("cur")
    mail.set_flags("S")
    box[key] = mail
"#;
    let path = mail.to_str().unwrap();
    assert_eq!(desk::run_python(read, &[path]), format!("{ID} 1 needs you new False\n"));
    // The reader has moved it and put a flag behind its name.
    assert_eq!(put(), [Answer::Accepted]);
    assert_eq!(desk::run_python(read, &[path]), format!("{ID} 1 needs you cur False\n"));
    assert_eq!(fs::metadata(&mail).unwrap().permissions().mode() & 0o077, 0, "others can look into the mail folder");
}

#[test]
fn a_letter_put_into_a_folder_is_a_file_of_the_very_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let letters = folder.path().join("letters");
    let to = ["the folder".to_string()];
    for _ in 0..2 {
        let mut carrier = IntoFolder::new(Disk::new(), letters.clone());
        assert_eq!(carrier.carry(&parcel(&to, &a_mail()), &mut || Ok(())), [Answer::Accepted]);
    }
    let files: Vec<PathBuf> = fs::read_dir(&letters).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(files.len(), 1);
    assert_eq!(fs::read(&files[0]).unwrap(), a_mail());
    // A file where the folder should be.
    let taken = folder.path().join("taken");
    fs::write(&taken, "").unwrap();
    let answers = IntoFolder::new(Disk::new(), taken).carry(&parcel(&to, &a_mail()), &mut || Ok(()));
    assert_eq!(kind(&answers[0]), ("later", Some(FaultKind::Folder)), "{}", says(&answers[0]));
}

#[test]
fn what_a_server_says_cannot_break_a_line_or_fill_a_page() {
    let said = format!("5.1.1 gone\r\nBcc: x\u{202E}\u{0}{}", "kelp ".repeat(200));
    let fault = Fault::new(FaultKind::Recipient, "a\n@b", &said);
    let shown = fault.to_string();
    assert!(!shown.contains(['\r', '\n', '\0', '\u{202E}']) && shown.chars().count() < 400, "{shown}");
}

/// smtp-sink of Debian's package postfix, which `tests/run` unpacks; killed when dropped.
struct Sink(Child);

impl Drop for Sink {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// Starts it; `None` where it cannot be had or does not run.
fn sink(port: u16, into: &Path) -> Option<Sink> {
    let there = desk::root().join("target/postfix");
    let mut command = Command::new(there.join("usr/sbin/smtp-sink"));
    command.env("LD_LIBRARY_PATH", there.join("usr/lib/postfix"));
    if rustix::process::geteuid().is_root() {
        command.args(["-u", "nobody"]);
    }
    command.arg("-d").arg(into.join("letter.")).arg(format!("127.0.0.1:{port}")).arg("10");
    let mut sink = Sink(command.stderr(Stdio::null()).stdout(Stdio::null()).spawn().ok()?);
    for _ in 0..200 {
        if sink.0.try_wait().ok()?.is_some() {
            return None;
        }
        if TcpStream::connect(("127.0.0.1", port)).is_ok() {
            return Some(sink);
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    None
}

#[test]
fn a_second_mail_server_gets_the_same_letter() {
    let folder = tempfile::tempdir().unwrap();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o777)).unwrap();
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let Some(_sink) = sink(port, folder.path()) else {
        // Not through `println`, which a passing test keeps to itself.
        let told = writeln!(
            std::io::stderr(),
            "skipped: a second mail server, since target/postfix is not there or does not run"
        );
        told.expect("standard error is open");
        return;
    };
    assert_eq!(hand(settings(port, Security::None), &[TO, USER]), [Answer::Accepted, Answer::Accepted]);
    let letters =
        || -> Vec<PathBuf> { fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().path()).collect() };
    let read = |file: &PathBuf| String::from_utf8(fs::read(file).unwrap()).unwrap();
    // It writes its own head first, then the letter with the line ends of this system.
    let whole = String::from_utf8(a_mail()).unwrap().replace("\r\n", "\n");
    let got = desk::wait_for(
        "the letter",
        || format!("{:?}", letters()),
        || letters().iter().map(read).find(|text| text.trim_end().ends_with(whole.trim_end())),
    );
    let head = got.split("Received:").next().unwrap();
    for line in
        ["X-Mail-Args: <burler@oddfathom.example>", &format!("X-Rcpt-Args: <{TO}>"), &format!("X-Rcpt-Args: <{USER}>")]
    {
        assert!(head.contains(line), "{line} in {head}");
    }
}
