//! The commands from outside: what they say to the character, what they write, and how they end.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/house.rs"]
mod house;
#[path = "desk/tiles.rs"]
mod tiles;

#[path = "commands/bad_input.rs"]
mod bad_input;
#[path = "commands/configuring.rs"]
mod configuring;
#[path = "commands/in_the_way.rs"]
mod in_the_way;
#[path = "commands/judging.rs"]
mod judging;
#[path = "commands/ledger.rs"]
mod ledger;
#[path = "commands/mending.rs"]
mod mending;
#[path = "commands/pictures.rs"]
mod pictures;
#[path = "commands/turning.rs"]
mod turning;

/// An order sheet for the drawn tiles, and a folder that is watched.
const CONFIG: &str = "\
[folder.studio]
exports = \"exports\"

[spec.swatch]
width = \"120 px\"
height = \"120 px\"
resolution = 300

[state]
folder = \"state\"
";
