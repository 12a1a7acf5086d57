//! Which names tiles have. A pure rule over a path relative to its exports folder.
//!
//! Sync clients, browsers and editors write under a name that is hidden or has something appended to it (`~`, `.part`,
//! `.tmp` and their like) and rename when they are done: such names end in no image extension.

use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::{Component, Path};

/// Whether a file or folder of this name is hidden: it begins with a dot, as temporary names of sync clients and our own
/// unfinished outputs do.
#[must_use]
pub fn is_hidden(name: &OsStr) -> bool {
    name.as_bytes().starts_with(b".")
}

/// Whether a file at this relative path is one that Burler looks at.
#[must_use]
pub fn is_tile(path: &Path) -> bool {
    path.file_name().is_some_and(looks_like_image_name)
        && path.components().all(|part| matches!(part, Component::Normal(name) if !is_hidden(name)))
}

fn looks_like_image_name(name: &OsStr) -> bool {
    const EXTENSIONS: [&str; 8] = ["png", "jpg", "jpeg", "jpe", "jfif", "tif", "tiff", "webp"];
    let extension = Path::new(name).extension().map(OsStr::to_ascii_lowercase);
    extension.is_some_and(|extension| EXTENSIONS.iter().any(|known| extension == *known))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_are_told_from_unfinished_and_foreign_names() {
        for name in
            ["dulse.png", "DULSE.PNG", "a.b.JPeG", "cloth-16in/net.tif", "~dulse.webp", "wei\u{df}.tiff", "-.png"]
        {
            assert!(is_tile(Path::new(name)), "{name}");
        }
        for name in [
            "",
            "dulse",
            "png",
            ".png",
            ".dulse.png",
            ".dulse.png.x9fK2q",
            ".burler-0af3.part",
            "dulse.png~",
            "#dulse.png#",
            "dulse.png.part",
            "dulse.png.partial",
            "dulse.png.tmp",
            "dulse.png.download",
            "dulse.png.crdownload",
            "dulse.png.filepart",
            "dulse.txt",
            ".cache/dulse.png",
            "net/.trash/dulse.png",
            "../dulse.png",
            "/dulse.png",
        ] {
            assert!(!is_tile(Path::new(name)), "{name}");
        }
        assert!(is_tile(Path::new(OsStr::from_bytes(b"du\xfflse\n.png"))), "names need not be UTF-8");
    }
}
