//! The ledger's shape: opening the database, its versions and the steps between them.
//!
//! Takes a path; yields a connection whose shape is the newest this program knows. Never writes a newer or foreign one.

use super::error::LedgerError;
use crate::disk::{Deed, Disk};
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::path::Path;
use std::time::Duration;

/// The steps from each version to the next; the number of steps is the version.
const STEPS: [&str; 7] = [FIRST, LET_PASS, TOLD, MAIL, ARCHIVE, TWINS, SKETCHES];

/// For each version, what stands in for what it lacks when an older ledger is only read: temporary tables and views are
/// found before the stored ones of the same name and are never written to the file.
const STAND_INS: [&str; 7] = [
    "",
    "CREATE TEMP VIEW standings AS SELECT *, '' AS let_pass FROM main.standings;
     CREATE TEMP TABLE words (
         folder TEXT, path BLOB, stamp TEXT, file BLOB, content BLOB, marks TEXT, changed INTEGER
     );",
    "CREATE TEMP VIEW told AS
     SELECT folder, path, content, verdict, '' AS says, changed AS change, upto AS letter, window_end_ms AS at_ms
     FROM standings, (SELECT * FROM main.letters ORDER BY number DESC LIMIT 1) WHERE changed <= upto;
     CREATE TEMP TABLE news (change INTEGER PRIMARY KEY, at_ms INTEGER);",
    "CREATE TEMP TABLE posts (
         number INTEGER, message_id TEXT, name TEXT, subject TEXT, queued_ms INTEGER, tries INTEGER, next_ms INTEGER,
         handing INTEGER, doubts INTEGER, state TEXT, answer TEXT, changed INTEGER
     );
     CREATE TEMP TABLE addressees (message_id TEXT, place INTEGER, address TEXT, reached TEXT, answer TEXT);
     CREATE TEMP TABLE pages (message_id TEXT, file BLOB);",
    "CREATE TEMP TABLE members (
         folder TEXT, path BLOB, stamp TEXT, content BLOB, state TEXT, other BLOB, verified_ms INTEGER, found_ms INTEGER,
         spec_digest TEXT, rules INTEGER, spec TEXT, verdict TEXT, news TEXT, came_from BLOB, changed INTEGER
     );
     CREATE TEMP TABLE sweeps (folder TEXT, began_ms INTEGER, ended_ms INTEGER);",
    "CREATE TEMP TABLE likenesses (content BLOB, version INTEGER, likeness TEXT);
     CREATE TEMP TABLE relations (one BLOB, other BLOB, version INTEGER, relation TEXT);
     CREATE TEMP TABLE contacts (folder TEXT, file BLOB, sheet TEXT, content BLOB);",
    "CREATE TEMP TABLE sketches (content BLOB, version INTEGER, sketch BLOB);
     CREATE TEMP TABLE remarks (folder TEXT, kind TEXT, files BLOB, says TEXT, remedy TEXT, changed INTEGER);",
];

/// Marks the file as a ledger of ours: the letters "Burl".
const APPLICATION: i64 = 0x4275_726c;

/// How long one process waits for another to finish a short transaction.
const PATIENCE: Duration = Duration::from_secs(10);

const FIRST: &str = "
CREATE TABLE judgments (
    content BLOB NOT NULL, spec_digest TEXT NOT NULL, rules INTEGER NOT NULL, ticket TEXT NOT NULL,
    PRIMARY KEY (content, spec_digest, rules)
) STRICT, WITHOUT ROWID;

CREATE TABLE standings (
    folder TEXT NOT NULL, path BLOB NOT NULL, stamp TEXT NOT NULL, content BLOB NOT NULL,
    spec_digest TEXT NOT NULL, rules INTEGER NOT NULL, spec TEXT NOT NULL, verdict TEXT NOT NULL,
    pictures TEXT NOT NULL, name BLOB NOT NULL, state TEXT NOT NULL, changed INTEGER NOT NULL, at_ms INTEGER NOT NULL,
    PRIMARY KEY (folder, path)
) STRICT, WITHOUT ROWID;
CREATE INDEX standings_by_content ON standings (folder, content);
CREATE INDEX standings_by_change ON standings (changed);

CREATE TABLE outputs (
    id INTEGER PRIMARY KEY, folder TEXT NOT NULL, path BLOB NOT NULL, file BLOB NOT NULL, role TEXT NOT NULL,
    content BLOB NOT NULL, origin BLOB NOT NULL, stamp TEXT, state TEXT NOT NULL, goal BLOB, withdrawn_ms INTEGER,
    found INTEGER NOT NULL
) STRICT;
CREATE INDEX outputs_by_path ON outputs (folder, path);
CREATE INDEX outputs_by_state ON outputs (folder, state);

CREATE TABLE claims (
    folder TEXT NOT NULL, folded BLOB NOT NULL, path BLOB NOT NULL,
    PRIMARY KEY (folder, folded)
) STRICT, WITHOUT ROWID;
CREATE INDEX claims_by_path ON claims (folder, path);

CREATE TABLE letters (
    number INTEGER PRIMARY KEY, upto INTEGER NOT NULL, window_end_ms INTEGER NOT NULL,
    message_id TEXT NOT NULL UNIQUE, file BLOB NOT NULL
) STRICT;

CREATE TABLE changes (one INTEGER PRIMARY KEY CHECK (one = 1), last INTEGER NOT NULL) STRICT;
INSERT INTO changes VALUES (1, 0);
";

/// The artist's word: which pictures lie in the folder let-pass, and under which marks a standing was reached.
const LET_PASS: &str = "
ALTER TABLE standings ADD COLUMN let_pass TEXT NOT NULL DEFAULT '';

CREATE TABLE words (
    folder TEXT NOT NULL, path BLOB NOT NULL, stamp TEXT NOT NULL, file BLOB, content BLOB,
    marks TEXT NOT NULL, changed INTEGER NOT NULL,
    PRIMARY KEY (folder, path)
) STRICT, WITHOUT ROWID;
CREATE INDEX words_by_content ON words (folder, content);
";

/// What letters told, and when each change came. An older ledger's letters told everything up to their last change; what its
/// findings were is not known any more, which an empty word says.
const TOLD: &str = "
CREATE TABLE told (
    folder TEXT NOT NULL, path BLOB NOT NULL, content BLOB NOT NULL, verdict TEXT NOT NULL, says TEXT NOT NULL,
    change INTEGER NOT NULL, letter INTEGER NOT NULL, at_ms INTEGER NOT NULL,
    PRIMARY KEY (folder, path, content)
) STRICT, WITHOUT ROWID;
CREATE INDEX told_by_content ON told (folder, content);
INSERT INTO told SELECT folder, path, content, verdict, '', changed, number, window_end_ms
    FROM standings, (SELECT * FROM letters ORDER BY number DESC LIMIT 1) WHERE changed <= upto;

CREATE TABLE news (change INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL) STRICT;
";

/// Letters on their way: how far each has come, whom it has reached, and which of its pages are still to be put in place.
const MAIL: &str = "
CREATE TABLE posts (
    number INTEGER PRIMARY KEY, message_id TEXT NOT NULL UNIQUE, name TEXT NOT NULL UNIQUE, subject TEXT NOT NULL,
    queued_ms INTEGER NOT NULL, tries INTEGER NOT NULL, next_ms INTEGER NOT NULL, handing INTEGER NOT NULL,
    doubts INTEGER NOT NULL, state TEXT NOT NULL, answer TEXT NOT NULL, changed INTEGER NOT NULL
) STRICT;
CREATE INDEX posts_by_state ON posts (state);
CREATE INDEX posts_by_change ON posts (changed);

CREATE TABLE addressees (
    message_id TEXT NOT NULL, place INTEGER NOT NULL, address TEXT NOT NULL, reached TEXT NOT NULL, answer TEXT NOT NULL,
    PRIMARY KEY (message_id, place)
) STRICT, WITHOUT ROWID;

CREATE TABLE pages (
    message_id TEXT NOT NULL, file BLOB NOT NULL,
    PRIMARY KEY (message_id, file)
) STRICT, WITHOUT ROWID;
";

/// Archives: what is known of each file in one, and when each was swept last. `other` is the content that a damaged file
/// was found with; a file not judged yet has no verdict.
const ARCHIVE: &str = "
CREATE TABLE members (
    folder TEXT NOT NULL, path BLOB NOT NULL, stamp TEXT NOT NULL, content BLOB NOT NULL, state TEXT NOT NULL, other BLOB,
    verified_ms INTEGER NOT NULL, found_ms INTEGER NOT NULL, spec_digest TEXT NOT NULL, rules INTEGER NOT NULL,
    spec TEXT NOT NULL, verdict TEXT, news TEXT NOT NULL, came_from BLOB, changed INTEGER NOT NULL,
    PRIMARY KEY (folder, path)
) STRICT, WITHOUT ROWID;
CREATE INDEX members_by_content ON members (content);
CREATE INDEX members_by_change ON members (changed);

CREATE TABLE sweeps (
    folder TEXT PRIMARY KEY, began_ms INTEGER NOT NULL, ended_ms INTEGER
) STRICT, WITHOUT ROWID;
";

/// Twins: what is kept of each content to find its like, what the comparison of two contents came to (an empty text: nothing),
/// and the contact sheets that lie in an archive's output folder with what they show.
const TWINS: &str = "
CREATE TABLE likenesses (
    content BLOB PRIMARY KEY, version INTEGER NOT NULL, likeness TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE relations (
    one BLOB NOT NULL, other BLOB NOT NULL, version INTEGER NOT NULL, relation TEXT NOT NULL,
    PRIMARY KEY (one, other)
) STRICT, WITHOUT ROWID;

CREATE TABLE contacts (
    folder TEXT NOT NULL, file BLOB NOT NULL, sheet TEXT NOT NULL, content BLOB NOT NULL,
    PRIMARY KEY (folder, file)
) STRICT, WITHOUT ROWID;
";

/// What is kept of each content to know whether another one under its name shows the same drawing; and what the last whole
/// sweep of an archive remarked on twins, names and strays, each with the number of the change it came with.
const SKETCHES: &str = "
CREATE TABLE sketches (
    content BLOB PRIMARY KEY, version INTEGER NOT NULL, sketch BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE remarks (
    folder TEXT NOT NULL, kind TEXT NOT NULL, files BLOB NOT NULL, says TEXT NOT NULL, remedy TEXT NOT NULL,
    changed INTEGER NOT NULL, PRIMARY KEY (folder, kind, files, says)
) STRICT, WITHOUT ROWID;
CREATE INDEX remarks_by_change ON remarks (changed);
";

/// The newest version this program knows.
pub(super) const VERSION: i64 = STEPS.len() as i64;

/// Opens for writing, makes the file when missing and brings its shape up to date.
pub(super) fn open(disk: &Disk, path: &Path) -> Result<Connection, LedgerError> {
    let failed = |error| LedgerError::sql(path, error);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut db = Connection::open_with_flags(path, flags).map_err(failed)?;
    db.busy_timeout(PATIENCE).map_err(failed)?;
    // Asked before anything is set, so that a foreign or newer file is not even touched.
    check(&db, path)?;
    // A file system without shared memory keeps the older journal, which is slower and as safe.
    db.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())).map_err(failed)?;
    db.pragma_update(None, "synchronous", "full").map_err(failed)?;

    let step = db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
    let version = check(&step, path)?;
    if version < VERSION {
        for sql in STEPS.iter().skip(usize::try_from(version).unwrap_or(0)) {
            step.execute_batch(sql).map_err(failed)?;
        }
        step.pragma_update(None, "user_version", VERSION).map_err(failed)?;
        step.pragma_update(None, "application_id", APPLICATION).map_err(failed)?;
        disk.count(Deed::Commit, path)?;
    }
    step.commit().map_err(failed)?;
    Ok(db)
}

/// Opens for reading; a newer shape is read as far as it can be.
pub(super) fn open_to_read(path: &Path) -> Result<Connection, LedgerError> {
    if !path.exists() {
        return Err(LedgerError::Absent { path: path.into() });
    }
    let failed = |error| LedgerError::sql(path, error);
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(path, flags).map_err(failed)?;
    db.busy_timeout(PATIENCE).map_err(failed)?;
    match check(&db, path) {
        Ok(0) => Err(LedgerError::Absent { path: path.into() }),
        Ok(version) => {
            for sql in STAND_INS.iter().skip(usize::try_from(version).unwrap_or(0)) {
                db.execute_batch(sql).map_err(failed)?;
            }
            Ok(db)
        }
        Err(LedgerError::Newer { .. }) => Ok(db),
        Err(error) => Err(error),
    }
}

/// The version of a ledger of ours; 0 for an empty file.
fn check(db: &Connection, path: &Path) -> Result<i64, LedgerError> {
    let ask = |sql: &str| db.query_row(sql, [], |row| row.get::<_, i64>(0)).map_err(|e| LedgerError::sql(path, e));
    let version = ask("PRAGMA user_version")?;
    let application = ask("PRAGMA application_id")?;
    let tables = ask("SELECT count(*) FROM sqlite_schema")?;
    match (application, version) {
        (0, 0) if tables == 0 => Ok(0),
        (APPLICATION, 1..=VERSION) => Ok(version),
        (APPLICATION, found) if found > VERSION => Err(LedgerError::Newer { path: path.into(), found, known: VERSION }),
        _ => Err(LedgerError::NotOurs { path: path.into() }),
    }
}
