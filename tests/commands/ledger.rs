//! `watch`, `status` and `digest` where nothing was set up, nothing was watched, or someone else is at it.

use crate::CONFIG;
use crate::house::House;

#[test]
fn without_a_configuration_there_is_nothing_to_watch() {
    let house = House::new();
    let none = "|burler: ~/.config/burler/burler.toml: no folder to watch; make one with `burler config init`, or add [folder.studio] with exports = \"…\"";
    for words in [["watch"], ["digest"]] {
        house.expect(&words, 78, "", none);
    }
    house.expect(&["config", "check"], 78, "", none);
    house.expect(
        &["status"],
        74,
        "",
        "|burler: ~/.local/state/burler/ledger.sqlite is not there: nothing has been watched yet; run burler watch",
    );
    house.expect(
        &["watch", "--config", "gone.toml"],
        78,
        "",
        "|burler: cannot read gone.toml: it is not there; put it back, or connect the drive it is on; name an existing file with --config, or make one with `burler config init`",
    );
    house.put("empty.toml", "# nothing yet\n");
    house.expect(
        &["watch", "--config", "empty.toml"],
        78,
        "",
        "|burler: empty.toml: no folder to watch; make one with `burler config init`, or add [folder.studio] with exports = \"…\"",
    );
    assert!(!house.has(".local"), "nothing was written");
}

#[test]
fn without_a_ledger_there_is_nothing_to_tell() {
    let house = House::new();
    house.put("burler.toml", CONFIG);
    let none = "|burler: ~/state/ledger.sqlite is not there: nothing has been watched yet; run burler watch";
    for words in [&["status"][..], &["status", "--json"], &["digest"]] {
        house.expect(&[words, &["--config", "burler.toml"]].concat(), 74, "", none);
    }
    assert!(!house.has("state"), "nothing was written");
}

#[test]
fn a_ledger_that_is_none_is_told() {
    let house = House::new();
    house.put("burler.toml", CONFIG);
    house.put("state/ledger.sqlite", "nets, floats, rope\n".repeat(300));
    let none =
        "|burler: ~/state/ledger.sqlite is not a ledger of Burler and is left as it is; name another state folder";
    for words in ["status", "digest", "watch"] {
        house.expect(&[words, "--config", "burler.toml"], 74, "", none);
    }
    assert_eq!(house.read("state/ledger.sqlite"), "nets, floats, rope\n".repeat(300).into_bytes());
}
