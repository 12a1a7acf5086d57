//! A state folder with a ledger and an outbox, and letters to put into it.
#![allow(clippy::unwrap_used, reason = "a test that cannot set its table has failed")]

use burler::digest::outbox::{Outgoing, Passed, Urgency, hand_over, pass};
use burler::digest::post::{Carrier, Fault, FaultKind};
use burler::disk::Disk;
use burler::ledger::Ledger;
use std::path::PathBuf;
use std::time::{Duration, SystemTime};
use tempfile::TempDir;

/// 25 November 2026, 18:00:05 UTC.
pub fn start() -> SystemTime {
    SystemTime::UNIX_EPOCH + Duration::from_secs(1_795_629_605)
}

pub fn fault(kind: FaultKind) -> Fault {
    Fault::new(kind, "a server", "")
}

/// The state folder. Its ledger and files are written through one numbered disk.
pub struct Desk {
    home: TempDir,
    pub disk: Disk,
    pub ledger: Ledger,
    written: i64,
}

impl Desk {
    pub fn new(disk: Disk) -> Self {
        // In memory where there is such a folder: the tests wait for many syncs.
        let memory = std::path::Path::new("/dev/shm");
        let home = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() }.unwrap();
        std::fs::create_dir(home.path().join("checked")).unwrap();
        let ledger = Ledger::open(&disk, &home.path().join("state/ledger.sqlite")).unwrap();
        Self { home, disk, ledger, written: 0 }
    }

    pub fn at(&self, path: &str) -> PathBuf {
        self.home.path().join(path)
    }

    pub fn spool(&self) -> PathBuf {
        self.at("state/letters")
    }

    pub fn page(&self, number: i64) -> PathBuf {
        self.at(&format!("checked/letters/letter-{number}.html"))
    }

    /// Writes the next letter to some addresses; its Message-ID.
    pub fn write(&mut self, to: &[&str], now: SystemTime) -> String {
        self.written += 1;
        let number = self.written;
        let message_id = format!("<letter-{number}@burler.oddfathom.example>");
        let letter = Outgoing {
            upto: 0,
            written: now,
            message_id: message_id.clone(),
            name: format!("letter-{number}"),
            subject: format!("{number} ready"),
            mail: format!("Message-ID: {message_id}\r\nSubject: {number} ready\r\n\r\nLetter {number}.\r\n")
                .into_bytes(),
            page: format!("<p>Letter {number}.</p>\n").into_bytes(),
            pages: vec![self.page(number)],
            told: Vec::new(),
            to: to.iter().map(ToString::to_string).collect(),
        };
        hand_over(&self.disk, &mut self.ledger, &self.home.path().join("state/letters"), &letter).unwrap();
        message_id
    }

    pub fn pass(&mut self, carrier: &mut dyn Carrier, now: SystemTime) -> Passed {
        let spool = self.spool();
        pass(&self.disk, &mut self.ledger, &spool, Some(carrier), Urgency::WhenDue, &|| now).unwrap()
    }

    pub fn pass_without(&mut self, now: SystemTime) -> Passed {
        let spool = self.spool();
        pass(&self.disk, &mut self.ledger, &spool, None, Urgency::WhenDue, &|| now).unwrap()
    }

    /// Every file in the spool.
    pub fn files(&self) -> Vec<String> {
        files(&self.spool())
    }
}

/// Every file below a folder, sorted.
pub fn files(folder: &std::path::Path) -> Vec<String> {
    let entries = walkdir::WalkDir::new(folder).sort_by_file_name().into_iter().filter_map(Result::ok);
    let files = entries.filter(|entry| entry.file_type().is_file());
    let mut files: Vec<String> =
        files.map(|entry| entry.path().strip_prefix(folder).unwrap().to_str().unwrap().into()).collect();
    files.sort();
    files
}
