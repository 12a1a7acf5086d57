//! Folders: where home is, what `~` and relative paths mean, and that no two folders overlap.
//!
//! The only reader of the environment.

use std::ffi::OsString;
use std::path::{Component, Path, PathBuf};

/// The folders of the person running Burler.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Home {
    /// The home folder.
    pub home: PathBuf,
    /// Burler's state folder.
    pub state: PathBuf,
    /// The configuration file read when none is named.
    pub config: PathBuf,
}

impl Home {
    /// The folders by the XDG Base Directory specification 0.8: an empty variable counts as unset and a relative value is
    /// ignored.
    #[must_use]
    pub fn from_environment() -> Self {
        Self::from_variables(|name| std::env::var_os(name))
    }

    fn from_variables(read: impl Fn(&str) -> Option<OsString>) -> Self {
        let absolute = |name: &str| read(name).map(PathBuf::from).filter(|path| path.is_absolute());
        let home = absolute("HOME").unwrap_or_else(|| PathBuf::from("/"));
        // systemd hands a system service its folders in these two variables.
        let state = absolute("STATE_DIRECTORY")
            .unwrap_or_else(|| absolute("XDG_STATE_HOME").unwrap_or_else(|| home.join(".local/state")).join("burler"));
        let config = absolute("CONFIGURATION_DIRECTORY")
            .unwrap_or_else(|| absolute("XDG_CONFIG_HOME").unwrap_or_else(|| home.join(".config")).join("burler"));
        Self { state, config: config.join("burler.toml"), home }
    }
}

/// The folder in which the service manager hands over credentials (systemd, `LoadCredential=`).
#[must_use]
pub fn credentials() -> Option<PathBuf> {
    std::env::var_os("CREDENTIALS_DIRECTORY").map(PathBuf::from).filter(|path| path.is_absolute())
}

/// An absolute path without `.` and `..` for a path as written; relative ones are taken from `base`.
#[must_use]
pub fn resolve(written: &str, base: &Path, home: &Home) -> PathBuf {
    let path = match written.strip_prefix('~') {
        Some("") => home.home.clone(),
        Some(rest) if rest.starts_with('/') => home.home.join(&rest[1..]),
        _ => base.join(written),
    };
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                out.pop();
            }
            other => out.push(other),
        }
    }
    out
}

/// The same path with links resolved as far as it exists.
#[must_use]
pub fn real(path: &Path) -> PathBuf {
    let mut missing = Vec::new();
    let mut at = path;
    loop {
        if let Ok(mut found) = at.canonicalize() {
            found.extend(missing.iter().rev());
            return found;
        }
        match (at.parent(), at.file_name()) {
            (Some(parent), Some(name)) => {
                missing.push(name);
                at = parent;
            }
            _ => return path.to_path_buf(),
        }
    }
}

/// One configured folder, to be kept apart from the others.
#[derive(Clone, Debug)]
pub struct Place {
    /// What it is for, in words.
    pub what: String,
    /// The entry it belongs to.
    pub entry: String,
    /// Where it is.
    pub path: PathBuf,
}

/// The first two folders of which one lies inside the other once links are resolved.
///
/// The state folder may hold nothing else, and no output folder may lie where arrivals are looked for.
#[must_use]
pub fn overlap(places: &[Place]) -> Option<(&Place, &Place)> {
    let reals: Vec<PathBuf> = places.iter().map(|place| real(&place.path)).collect();
    for (i, one) in reals.iter().enumerate() {
        for (j, other) in reals.iter().enumerate().skip(i + 1) {
            if one.starts_with(other) || other.starts_with(one) {
                return Some((&places[i], &places[j]));
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn variables(pairs: &'static [(&str, &str)]) -> Home {
        Home::from_variables(|name| pairs.iter().find(|(key, _)| *key == name).map(|(_, value)| value.into()))
    }

    // XDG Base Directory specification 0.8 (from memory): empty means unset, relative values are ignored.
    #[test]
    fn folders_follow_the_xdg_rules() {
        let plain = variables(&[("HOME", "/home/fen")]);
        assert_eq!(plain.state, Path::new("/home/fen/.local/state/burler"));
        assert_eq!(plain.config, Path::new("/home/fen/.config/burler/burler.toml"));
        let set = variables(&[("HOME", "/home/fen"), ("XDG_STATE_HOME", "/var/fen"), ("XDG_CONFIG_HOME", "")]);
        assert_eq!(set.state, Path::new("/var/fen/burler"));
        assert_eq!(set.config, Path::new("/home/fen/.config/burler/burler.toml"));
        let relative = variables(&[("HOME", "/home/fen"), ("XDG_STATE_HOME", "state")]);
        assert_eq!(relative.state, Path::new("/home/fen/.local/state/burler"));
    }

    #[test]
    fn paths_are_resolved_as_written() {
        let home = variables(&[("HOME", "/home/fen")]);
        let at = |written| resolve(written, Path::new("/etc/burler"), &home);
        assert_eq!(at("~/oddfathom/exports"), Path::new("/home/fen/oddfathom/exports"));
        assert_eq!(at("~"), Path::new("/home/fen"));
        assert_eq!(at("tiles/../exports"), Path::new("/etc/burler/exports"));
        assert_eq!(at("/a/./b"), Path::new("/a/b"));
        assert_eq!(at("~fen/x"), Path::new("/etc/burler/~fen/x"));
    }
}
