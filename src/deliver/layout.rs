//! Where things go below the output folder, and what they are called when a name is not free.
//!
//! Takes names and yields names. Pure; knows neither what is on the disk nor what is claimed.

use crate::ledger::Role;
use std::ffi::{OsStr, OsString};
use std::os::unix::ffi::{OsStrExt, OsStringExt};
use std::path::{Path, PathBuf};

/// Checked files.
pub const READY: &str = "ready";
/// Pictures of what is wrong.
pub const HELD: &str = "held";
/// A folder of mock-ups for each tile.
pub const MOCKUPS: &str = "mockups";
/// What a newer verdict has withdrawn.
pub const EARLIER: &str = "earlier";
/// The artist's word: held pictures that were moved here. Burler makes the folder and only reads what is in it.
pub const LET_PASS: &str = "let-pass";
/// Letters as pages.
pub const LETTERS: &str = "letters";

/// Every folder that Burler writes below the output folder.
pub const OWN: [&str; 5] = [READY, HELD, MOCKUPS, EARLIER, LETTERS];

/// Bytes a file name may have on every disk in common use.
const MOST_BYTES: usize = 255;
/// Bytes left free in a claimed name for what is put behind it: `.partly-mended.png`, and `~` with six digits.
const RESERVE: usize = 18 + 7;
/// The longest ending that is taken for an extension.
const MOST_EXTENSION: usize = 16;

/// Where a role's file goes for a claimed name. `png` is the name for a mended tile of another format.
#[must_use]
pub fn spot(role: Role, name: &Path, png: &Path) -> PathBuf {
    match role {
        Role::Ready => Path::new(READY).join(name),
        Role::ReadyAsPng => Path::new(READY).join(png),
        Role::Held => Path::new(HELD).join(with(name, ".held.png")),
        Role::Repeat => mockups(name).join("repeat.jpg"),
        Role::StrikeOff => mockups(name).join("strike-off.jpg"),
        Role::BeforeAfter => mockups(name).join("before-after.png"),
        Role::PartlyMended => Path::new(HELD).join(with(name, ".partly-mended.png")),
        Role::Filled => Path::new(HELD).join(with(name, ".filled.png")),
        Role::Companion(wish) => Path::new(READY).join(beside(name, &format!(".{}.png", wish.file_word()))),
    }
}

/// The folder of a tile's mock-ups.
#[must_use]
pub fn mockups(name: &Path) -> PathBuf {
    Path::new(MOCKUPS).join(name)
}

/// A name with `.png` behind it.
#[must_use]
pub fn as_png(name: &Path) -> PathBuf {
    with(name, ".png")
}

/// Whether a name leaves room for what is put behind it.
#[must_use]
pub fn fits(name: &Path) -> bool {
    name.file_name().is_some_and(|last| last.len() + RESERVE <= MOST_BYTES)
}

/// The name with `~` and six hexadecimal digits before its extension, shortened where it would get too long.
///
/// The digits come from the hash of `seed`, the original's path; `turn` 0 is the first choice, others follow when even
/// that is taken.
#[must_use]
pub fn aside(name: &Path, seed: &Path, turn: u32) -> PathBuf {
    let mut hasher = blake3::Hasher::new();
    hasher.update(seed.as_os_str().as_bytes());
    if turn > 0 {
        hasher.update(&turn.to_be_bytes());
    }
    let mark = format!("~{}", &hasher.finalize().to_hex()[..6]);
    let last = name.file_name().unwrap_or_default();
    let (stem, extension) = parted(last);
    let room = (MOST_BYTES - RESERVE).saturating_sub(mark.len() + extension.len());
    let mut new = cut(stem, room).to_vec();
    new.extend_from_slice(mark.as_bytes());
    new.extend_from_slice(extension);
    name.with_file_name(OsString::from_vec(new))
}

/// A file name as stem and extension with its point; a point at the beginning belongs to the stem.
fn parted(name: &OsStr) -> (&[u8], &[u8]) {
    let bytes = name.as_bytes();
    match bytes.iter().rposition(|byte| *byte == b'.') {
        Some(at) if at > 0 && bytes.len() - at <= MOST_EXTENSION => bytes.split_at(at),
        _ => (bytes, b""),
    }
}

/// The longest beginning of at most `most` bytes that does not cut through a character.
fn cut(bytes: &[u8], most: usize) -> &[u8] {
    let is_inside = |at: usize| bytes.get(at).is_some_and(|byte| byte & 0xc0 == 0x80);
    if bytes.len() <= most {
        return bytes;
    }
    let end = (most.saturating_sub(3)..=most).rev().find(|at| !is_inside(*at)).unwrap_or(most);
    &bytes[..end]
}

/// A name with an ending of its own behind it, shortened where it would get too long for a disk.
fn beside(name: &Path, ending: &str) -> PathBuf {
    let last = name.file_name().unwrap_or_default().as_bytes();
    let mut new = cut(last, MOST_BYTES.saturating_sub(ending.len())).to_vec();
    new.extend_from_slice(ending.as_bytes());
    name.with_file_name(OsString::from_vec(new))
}

fn with(name: &Path, ending: &str) -> PathBuf {
    let mut whole = name.as_os_str().to_os_string();
    whole.push(ending);
    whole.into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::wish::Wish;

    fn spots(name: &str) -> Vec<String> {
        let name = Path::new(name);
        Role::ALL.iter().map(|role| spot(*role, name, &as_png(name)).to_str().unwrap().to_string()).collect()
    }

    #[test]
    fn every_role_has_its_place() {
        assert_eq!(
            spots("harbor/dulse.tif"),
            [
                "ready/harbor/dulse.tif",
                "ready/harbor/dulse.tif.png",
                "held/harbor/dulse.tif.held.png",
                "mockups/harbor/dulse.tif/repeat.jpg",
                "mockups/harbor/dulse.tif/strike-off.jpg",
                "mockups/harbor/dulse.tif/before-after.png",
                "held/harbor/dulse.tif.partly-mended.png",
                "held/harbor/dulse.tif.filled.png"
            ]
        );
    }

    #[test]
    fn companions_lie_beside_the_tile_under_a_name_that_fits() {
        let turned = Role::Companion(Wish::parse("turn 4:3 keep-scale").unwrap());
        let at = |name: &str| spot(turned, Path::new(name), Path::new("unused"));
        assert_eq!(at("harbor/dulse.tif"), Path::new("ready/harbor/dulse.tif.turn-4to3-keep-scale.png"));
        let long = format!("{}.png", "\u{e9}".repeat(124));
        let name = at(&long);
        assert!(name.file_name().unwrap().len() <= MOST_BYTES && name.to_str().is_some());
        assert!(name.to_str().unwrap().ends_with(".turn-4to3-keep-scale.png"));
        assert_eq!(Role::from_name(&turned.name()), Some(turned));
    }

    #[test]
    fn another_name_keeps_the_extension_and_differs_by_path_and_turn() {
        let name = aside(Path::new("harbor/dulse.png"), Path::new("harbor/Dulse.png"), 0);
        let text = name.to_str().unwrap();
        assert!(text.starts_with("harbor/dulse~") && text.ends_with(".png") && text.len() == 23, "{text}");
        assert_ne!(name, aside(Path::new("harbor/dulse.png"), Path::new("harbor/dulse.png"), 0));
        assert_ne!(name, aside(Path::new("harbor/dulse.png"), Path::new("harbor/Dulse.png"), 1));
        assert!(aside(Path::new(".hidden"), Path::new("x"), 0).to_str().unwrap().starts_with(".hidden~"));
    }

    #[test]
    fn a_long_name_is_shortened_between_characters() {
        let long = format!("{}.png", "\u{e9}".repeat(124));
        assert!(!fits(Path::new(&long)) && long.len() <= MOST_BYTES);
        let short = aside(Path::new(&long), Path::new(&long), 0);
        assert!(fits(&short) && short.to_str().is_some());
        assert!(short.as_os_str().len() > 220);
        assert!(spot(Role::Held, &short, &short).file_name().unwrap().len() <= MOST_BYTES);
    }
}
