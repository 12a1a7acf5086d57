//! The manifest of what was put away from an archive: lines of JSON, first one about the archive, then one for each file.
//!
//! The schema is public: a person or another program can put the files back by it. Fields are only ever added.

use serde::{Deserialize, Serialize};
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};

/// The version of a manifest's shape.
pub const SCHEMA: u32 = 1;

/// A path as text, and as its raw bytes in hexadecimal when it is not UTF-8.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Spelled {
    /// As text; what is not UTF-8 is replaced.
    pub path: String,
    /// The raw bytes, only when they are not UTF-8.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub path_hex: Option<String>,
}

impl Spelled {
    /// Spells a path.
    #[must_use]
    pub fn of(path: &Path) -> Self {
        let bytes = path.as_os_str().as_bytes();
        let hex = || bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        Self { path: path.to_string_lossy().into_owned(), path_hex: path.to_str().is_none().then(hex) }
    }

    /// The path; `None` when the hexadecimal digits are none.
    #[must_use]
    pub fn path(&self) -> Option<PathBuf> {
        let Some(hex) = &self.path_hex else { return Some(PathBuf::from(&self.path)) };
        let digits: Option<Vec<u8>> = hex.chars().map(|digit| u8::try_from(digit.to_digit(16)?).ok()).collect();
        let digits = digits.filter(|digits| digits.len() % 2 == 0)?;
        let bytes: Vec<u8> = digits.chunks_exact(2).map(|pair| (pair[0] << 4) | pair[1]).collect();
        Some(PathBuf::from(OsStr::from_bytes(&bytes)))
    }
}

/// The first line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// The archive's name.
    pub archive: String,
    /// Its folder.
    pub folder: Spelled,
    /// When the files were put away (RFC 3339, UTC).
    pub made: String,
}

/// One file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Away {
    /// Where it lay, relative to the archive's folder; it lies under the same path in the folder named as the manifest.
    pub file: Spelled,
    /// Its bytes.
    pub size: u64,
    /// Their hash, 64 hexadecimal digits.
    pub blake3: String,
    /// When it was written: seconds since 1970, and nanoseconds after those.
    pub mtime: (i64, u32),
    /// Its rights in octal digits, as `chmod` takes them.
    pub mode: String,
    /// Why it was put away: `temporary`, `empty` and their like.
    pub why: String,
}

/// A manifest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Manifest {
    /// About the archive.
    pub head: Head,
    /// The files.
    pub files: Vec<Away>,
}

#[derive(Serialize, Deserialize)]
struct Versioned<T> {
    schema: u32,
    #[serde(flatten)]
    line: T,
}

impl Manifest {
    /// The text of the whole manifest.
    ///
    /// # Errors
    /// None that can happen; serde knows no others.
    pub fn to_text(&self) -> Result<String, serde_json::Error> {
        let mut text = serde_json::to_string(&Versioned { schema: SCHEMA, line: &self.head })?;
        text.push('\n');
        for line in &self.files {
            text.push_str(&serde_json::to_string(&Versioned { schema: SCHEMA, line })?);
            text.push('\n');
        }
        Ok(text)
    }

    /// Reads one back.
    ///
    /// # Errors
    /// The number of the first line that is none, counted from 1.
    pub fn from_text(text: &str) -> Result<Self, usize> {
        fn line<'a, T: Deserialize<'a>>(text: &'a str, number: usize) -> Result<T, usize> {
            match serde_json::from_str::<Versioned<T>>(text) {
                Ok(versioned) if versioned.schema == SCHEMA => Ok(versioned.line),
                _ => Err(number),
            }
        }
        let mut lines = text.lines();
        let head = line(lines.next().unwrap_or_default(), 1)?;
        let files = lines.enumerate().map(|(at, text)| line(text, at + 2)).collect::<Result<_, _>>()?;
        Ok(Self { head, files })
    }
}
