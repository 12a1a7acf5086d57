//! The tiles that `tiles.py` draws, drawn once for all tests that want them.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]
#![allow(dead_code, reason = "each test binary uses its own part of the harness")]

use super::desk;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

const DRAWING: &str = include_str!("tiles.py");

/// The folder they lie in. It is named for the drawing, so that another drawing is not mistaken for it.
pub fn folder() -> &'static Path {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    FOLDER.get_or_init(|| {
        let versions = fs::read(desk::root().join("tests/requirements.txt")).unwrap();
        let hash = blake3::hash(&[DRAWING.as_bytes(), &versions].concat()).to_hex();
        let target = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let folder = target.join(format!("tiles-{}", &hash[..16]));
        if !folder.is_dir() {
            let fresh = tempfile::tempdir_in(target).unwrap();
            desk::run_python(DRAWING, &[fresh.path().to_str().unwrap()]);
            // Another test may have been faster, which is as good.
            let renamed = fs::rename(fresh.keep(), &folder);
            assert!(renamed.is_ok() || folder.is_dir(), "{renamed:?}");
        }
        folder
    })
}

/// The bytes of one.
pub fn bytes(name: &str) -> Vec<u8> {
    fs::read(folder().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}
