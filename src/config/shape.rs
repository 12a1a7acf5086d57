//! The TOML shape of the configuration, exactly as written. Unknown keys are refused here; meaning comes in `config`.

use serde::Deserialize;
use serde::de::IgnoredAny;
use std::collections::BTreeMap;
use toml::Spanned;

/// Text with its place in the file, so that a message can point at it.
pub type Text = Spanned<String>;

/// The whole file.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct File {
    /// `[state]`
    pub state: State,
    /// `[folder.NAME]`
    pub folder: BTreeMap<Text, Folder>,
    /// `[archive.NAME]`
    pub archive: BTreeMap<Text, Archive>,
    /// `[spec.NAME]`
    pub spec: BTreeMap<Text, Spec>,
    /// `[settle]`
    pub settle: Settle,
    /// `[worker]`
    pub worker: Worker,
    /// `[mockup]`
    pub mockup: Mockup,
    /// `[digest]`
    pub digest: Option<Digest>,
}

/// `[state]`
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct State {
    /// Where ledger, spool and scratch live.
    pub folder: Option<Text>,
}

/// `[folder.NAME]`
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Folder {
    /// The designer's folder, only read.
    pub exports: Text,
    /// Burler's output folder; default: `checked` beside exports.
    pub checked: Option<Text>,
    /// The spec for tiles whose subfolders name none.
    pub spec: Option<Text>,
    /// `all` or `mended`.
    pub ready: Option<Text>,
    /// Look at the folder again and again instead of waiting for events, for mounts without them.
    pub polling: Option<bool>,
    /// Days that withdrawn outputs stay in `earlier/`.
    pub keep_earlier: Option<Text>,
    /// What is given back beside a tile whose spec names nothing.
    #[serde(default)]
    pub companions: Vec<Text>,
}

/// `[archive.NAME]`
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Archive {
    /// The designer's older tiles, only read.
    pub folder: Text,
    /// The spec for tiles whose subfolders name none.
    pub spec: Option<Text>,
    /// Where mended tiles and pictures go; default: beside the folder, its name with `-checked` behind it.
    pub checked: Option<Text>,
    /// Time of day of the nightly sweep, `02:30`.
    pub at: Option<Text>,
    /// Time of day at which it stops.
    pub until: Option<Text>,
    /// Within how long every file is read again in full.
    pub verify: Option<Text>,
    /// How long nobody has touched what may be put away.
    pub tidy_after: Option<Text>,
    /// How files are named, `{collection}_{design}_{colorway}`.
    pub names: Option<Text>,
    /// The letters that may stand in a word of a name, `a-z 0-9 -`.
    pub letters: Option<Text>,
    /// The most letters of a name.
    pub longest: Option<Spanned<i64>>,
    /// Whether what can be mended is mended into `checked`, and what is held is pictured there.
    pub mend: Option<bool>,
}

/// `[spec.NAME]`
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Spec {
    /// Demanded width.
    pub width: Option<Text>,
    /// Demanded height.
    pub height: Option<Text>,
    /// Demanded pixels per inch.
    pub resolution: Option<Spanned<f64>>,
    /// `opaque`, `transparent` or `either`.
    pub ground: Option<Text>,
    /// A repeat, or `any`.
    pub repeat: Option<Text>,
    /// Blocks along each side.
    pub blocks: Option<Spanned<u32>>,
    /// Most bytes.
    pub bytes: Option<Text>,
    /// `rgb`.
    pub mode: Option<Text>,
    /// Demanded profile.
    pub profile: Option<String>,
    /// Most bits per color.
    pub depth: Option<u8>,
    /// Most flat colors.
    pub colors: Option<Spanned<u32>>,
    /// From how far away the print is looked at.
    pub viewing: Option<Text>,
    /// Kinds that do not count.
    pub silence: Vec<Text>,
    /// Kinds that are only told.
    pub tell: Vec<Text>,
    /// Kinds that hold the tile.
    pub hold: Vec<Text>,
    /// What is given back beside the tile.
    pub companions: Vec<Text>,
}

/// `[settle]`
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settle {
    /// Quiet time of a complete file.
    pub quiet: Option<Text>,
    /// How long a truncated file may take.
    pub grace: Option<Text>,
    /// The time between full scans.
    pub scan: Option<Text>,
}

/// `[worker]`
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Worker {
    /// Tiles inspected at the same time.
    pub count: Option<Spanned<u32>>,
    /// Most memory of one worker.
    pub memory: Option<Text>,
    /// Most time for one tile.
    pub time: Option<Text>,
}

/// `[mockup]`
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Mockup {
    /// Longest side of the repeat picture in pixels.
    pub max_side: Option<Spanned<u32>>,
    /// JPEG quality, 1 to 100.
    pub quality: Option<Spanned<u8>>,
}

/// `[digest]`
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Digest {
    /// Time of day, `18:00`.
    pub at: Option<Text>,
    /// IANA zone name; default: the system's.
    pub zone: Option<Text>,
    /// Weekdays.
    pub days: Option<Spanned<Vec<Text>>>,
    /// Whether a held tile is told at once.
    pub at_once: Option<bool>,
    /// The least time between letters that do not wait for their time of day.
    pub calm: Option<Text>,
    /// `21:00-07:00`, or `never`.
    pub quiet: Option<Text>,
    /// After how many tiles a letter does not wait; 0 for never.
    pub after: Option<Spanned<usize>>,
    /// Most tiles told in full in one letter.
    pub most: Option<Spanned<usize>>,
    /// After how long a held tile is called to mind again, or `never`.
    pub remind: Option<Text>,
    /// Recipients.
    pub to: Option<Vec<Text>>,
    /// A Maildir that letters are put into, for those without a mail server.
    pub maildir: Option<Text>,
    /// A folder that letters are put into as `.eml` files.
    pub file: Option<Text>,
    /// `[digest.smtp]`
    pub smtp: Option<Spanned<Smtp>>,
}

/// `[digest.smtp]`
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Smtp {
    /// The server's name.
    pub host: Text,
    /// Its port; default: what goes with `tls`.
    pub port: Option<Spanned<u16>>,
    /// `implicit`, `starttls`, or `none` to this machine itself.
    pub tls: Option<Text>,
    /// The user name.
    pub user: Option<Text>,
    /// A file with the password that only its owner can read.
    pub password_file: Option<Text>,
    /// Not a setting: a password that somebody wrote here is not even read, only refused.
    pub password: Option<Spanned<IgnoredAny>>,
    /// The password as a credential of the service manager.
    pub credential: Option<Text>,
    /// A root certificate to trust beside the system's.
    pub ca: Option<Text>,
    /// The sender; default: the user name when that is an address.
    pub from: Option<Text>,
}
