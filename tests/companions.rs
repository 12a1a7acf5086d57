//! Companions without a keyboard: an order sheet wants them, the daemon makes them of every tile saved into its folder, and
//! they follow tile and sheet like every other output.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;
#[path = "desk/house.rs"]
mod house;
#[path = "desk/tiles.rs"]
mod tiles;

use house::{BURLER, House};
use rustix::process::{Pid, Signal, kill_process};
use std::process::Child;

fn config(companions: &str) -> String {
    format!(
        "[state]\nfolder = \"state\"\n[folder.studio]\nexports = \"exports\"\n\
         [settle]\nquiet = \"300 ms\"\nscan = \"2 s\"\n\
         [spec.turned]\ncompanions = [{companions}]\n"
    )
}

/// A running watch, told to stop when it goes.
struct Watch(Child);

impl Watch {
    fn over(house: &House) -> Self {
        Self(house.command(BURLER, &["watch", "--config", "burler.toml"]).spawn().unwrap())
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        kill_process(Pid::from_child(&self.0), Signal::TERM).ok();
        self.0.wait().ok();
    }
}

fn comes(house: &House, wanted: &[&str]) {
    let ready = || house.names("checked/ready");
    desk::wait_for("the companions", || format!("{:?}", ready()), || (ready() == wanted).then_some(()));
}

#[test]
fn saving_into_the_folder_of_the_sheet_is_enough() {
    let house = House::new();
    house.put("burler.toml", config("\"turn 45\", \"as half-drop\", \"turn 30\""));
    house.bring("kelp.png", "exports/turned/kelp.png");
    house.bring("dulse.png", "exports/turned/dulse.png");
    house.bring("limpet.png", "exports/turned/limpet.png");
    house.bring("kelp.png", "exports/plain.png");
    {
        let _watch = Watch::over(&house);
        comes(
            &house,
            &[
                "plain.png",
                "turned/dulse.png",
                "turned/dulse.png.as-half-drop.png",
                "turned/dulse.png.turn-45.png",
                "turned/kelp.png",
                "turned/kelp.png.as-half-drop.png",
                "turned/kelp.png.turn-45.png",
            ],
        );
        desk::wait_for(
            "the held picture",
            || format!("{:?}", house.names("checked")),
            || house.has("checked/held/turned/limpet.png.held.png").then_some(()),
        );
    }
    // The same bytes as the command gives.
    let said = house.run(&["turn", "exports/turned/kelp.png", "--by", "45", "--output", "by-hand"]);
    assert_eq!(said.status, 0, "{said:?}");
    assert_eq!(
        house.read("by-hand/ready/kelp.png.turn-45.png"),
        house.read("checked/ready/turned/kelp.png.turn-45.png")
    );
    // Another wish of the sheet: what it no longer wants moves to earlier/, what it wants still stays.
    house.put("burler.toml", config("\"as half-drop\", \"turn 1:1 palette-only\""));
    let _watch = Watch::over(&house);
    comes(
        &house,
        &[
            "plain.png",
            "turned/dulse.png",
            "turned/dulse.png.as-half-drop.png",
            "turned/dulse.png.turn-1to1-palette-only.png",
            "turned/kelp.png",
            "turned/kelp.png.as-half-drop.png",
            "turned/kelp.png.turn-1to1-palette-only.png",
        ],
    );
    let earlier = house.names("checked/earlier");
    assert!(earlier.iter().any(|name| name.ends_with("ready/turned/kelp.png.turn-45.png")), "{earlier:?}");
}

#[test]
fn a_companion_never_takes_the_name_of_another_tile() {
    let house = House::new();
    house.put("burler.toml", config("\"turn 45\""));
    house.bring("pebbles-1.png", "exports/turned/kelp.png.turn-45.png");
    let _watch = Watch::over(&house);
    let own = "checked/ready/turned/kelp.png.turn-45.png";
    desk::wait_for(
        "the tile of that name",
        || format!("{:?}", house.names("checked")),
        || house.has(own).then_some(()),
    );
    house.bring("kelp.png", "exports/turned/kelp.png");
    let aside = || house.names("checked/ready/turned").into_iter().find(|name| name.starts_with("kelp.png.turn-45~"));
    desk::wait_for("the companion under another name", || format!("{:?}", house.names("checked")), aside);
    assert_eq!(house.read(own), tiles::bytes("pebbles-1.png"));
}
