//! A mail server on this machine as a process of its own, and what it got. It ends with the test.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use super::desk;
use std::fmt::Write as _;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, OnceLock};
use tempfile::TempDir;

const PROGRAM: &str = include_str!("../digest/server.py");
const CERTIFICATES: &str = include_str!("../digest/certificates.py");

/// The user the server knows.
pub const USER: &str = "studio@oddfathom.example";
/// The password of that user.
pub const PASSWORD: &str = "Bladder-wrack 7!";

/// How the server talks.
#[derive(Clone, Debug)]
pub struct Talk<'a> {
    /// `none`, `starttls` or `implicit`.
    pub tls: &'a str,
    /// The name of its certificate.
    pub certificate: &'a str,
    /// Whether it wants a log-in.
    pub login: bool,
    /// Whether it takes addresses beyond ASCII.
    pub utf8: bool,
    /// What it does at each connection.
    pub script: &'a [&'a str],
    /// What it does after that.
    pub then: &'a str,
    /// A port, when it must be a certain one.
    pub port: u16,
}

impl Default for Talk<'_> {
    fn default() -> Self {
        Self { tls: "none", certificate: "good", login: false, utf8: false, script: &[], then: "ok", port: 0 }
    }
}

/// One server.
pub struct Server {
    _house: Arc<House>,
    pub port: u16,
    folder: TempDir,
}

/// The process that servers live in; killed when the last of them is dropped.
struct House(Child);

impl Drop for House {
    fn drop(&mut self) {
        self.0.kill().ok();
        self.0.wait().ok();
    }
}

/// The folder of throw-away certificates, made once.
pub fn certificates() -> &'static Path {
    static FOLDER: OnceLock<TempDir> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        desk::run_python(CERTIFICATES, &[folder.path().to_str().unwrap()]);
        folder
    });
    folder.path()
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

fn spelled(talk: &Talk<'_>, folder: &Path) -> String {
    let mut want = format!("{{\"folder\":{},", quoted(folder.to_str().unwrap()));
    let script: Vec<String> = talk.script.iter().map(|action| quoted(action)).collect();
    write!(want, "\"script\":[{}],\"then\":{},\"port\":{},", script.join(","), quoted(talk.then), talk.port).unwrap();
    if talk.login {
        write!(want, "\"login\":{{\"user\":{},\"password\":{}}},", quoted(USER), quoted(PASSWORD)).unwrap();
    }
    let file = |ending: &str| {
        let file = certificates().join(format!("{}.{ending}", talk.certificate));
        quoted(file.to_str().unwrap())
    };
    if talk.tls != "none" {
        write!(want, "\"certificate\":{},\"key\":{},", file("pem"), file("key")).unwrap();
    }
    write!(want, "\"utf8\":{},\"tls\":{}}}", talk.utf8, quoted(talk.tls)).unwrap();
    want
}

impl Server {
    pub fn start(talk: &Talk<'_>) -> Self {
        Self::start_all(std::slice::from_ref(talk)).remove(0)
    }

    /// Several in one process, which saves the time it takes to start one.
    pub fn start_all(talks: &[Talk<'_>]) -> Vec<Self> {
        let folders: Vec<TempDir> = talks.iter().map(|_| tempfile::tempdir().unwrap()).collect();
        let wants: Vec<String> =
            talks.iter().zip(&folders).map(|(talk, folder)| spelled(talk, folder.path())).collect();
        let mut command = Command::new(desk::python());
        command.arg("-c").arg(PROGRAM).arg(format!("[{}]", wants.join(",")));
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let house = Arc::new(House(child));
        let open = |folder| {
            let line = lines.next().unwrap_or_else(|| panic!("the server did not start")).unwrap();
            let port = line.trim().parse().unwrap_or_else(|_| panic!("the server did not start: {line:?}"));
            Self { _house: Arc::clone(&house), port, folder }
        };
        folders.into_iter().map(open).collect()
    }

    /// Every byte that came in, as it was on the wire.
    pub fn raw(&self) -> Vec<u8> {
        fs::read(self.folder.path().join("raw")).unwrap_or_default()
    }

    /// Every byte that came in, after decryption.
    pub fn clear(&self) -> Vec<u8> {
        fs::read(self.folder.path().join("clear")).unwrap_or_default()
    }

    /// The letters it accepted, in order.
    pub fn accepted(&self) -> Vec<Vec<u8>> {
        self.files(".eml").iter().map(|file| fs::read(file).unwrap()).collect()
    }

    /// Sender and addresses of each, as JSON.
    pub fn envelopes(&self) -> Vec<String> {
        self.files(".json").iter().map(|file| fs::read_to_string(file).unwrap()).collect()
    }

    fn files(&self, ending: &str) -> Vec<PathBuf> {
        let entries = fs::read_dir(self.folder.path().join("accepted")).into_iter().flatten();
        let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        files.retain(|file| file.to_str().unwrap().ends_with(ending));
        files.sort();
        files
    }
}

/// Whether one text lies in another, byte for byte.
pub fn holds(whole: &[u8], part: &[u8]) -> bool {
    whole.windows(part.len()).any(|window| window == part)
}

/// Asserts that neither user nor password, in any form they can be sent in, is among bytes, nor the verb before them.
pub fn assert_no_credential(bytes: &[u8], what: &str) {
    static CODED: OnceLock<String> = OnceLock::new();
    let coded = CODED.get_or_init(|| {
        desk::run_python(
            "import base64,sys\nu,p=sys.argv[1:]\nfor t in (u,p,'\\0'+u+'\\0'+p): print(base64.b64encode(t.encode()).decode())",
            &[USER, PASSWORD],
        )
    });
    let forms = [USER, PASSWORD, "AUTH", "auth"].into_iter().chain(coded.lines());
    for form in forms {
        // The last characters depend on what follows.
        let stem = form.trim_end_matches('=');
        assert!(!holds(bytes, stem.as_bytes()), "{what}: {form:?} was sent");
    }
}
