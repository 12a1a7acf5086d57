//! `config`: made from options and by questions on a terminal, checked, and shown.

use crate::desk;
use crate::house::{BURLER, House};

#[test]
fn options_make_a_configuration_that_is_right() {
    let house = House::new();
    let file = "~/.config/burler/burler.toml";
    house.expect(
        &["config", "init", "--exports", "exports", "--side", "3600"],
        0,
        &format!("|wrote {file}; now run: burler watch"),
        "",
    );
    house.expect(&["config", "check"], 0, &format!("|{file} is right: 1 folder watched, 1 order sheet"), "");
    house.expect(
        &["config", "show"],
        0,
        &format!(
            "
            |configuration: {file}
            |state: ~/.local/state/burler
            |folder studio: ~/exports -> ~/checked
            |  order sheet cloth-12in; all good tiles given back; told by events; replaced outputs kept 30 days
            |order sheet cloth-12in: width 3600 px, height 3600 px, 300 per inch, opaque ground, any repeat
            |settle: quiet 2 s, grace 600 s, full scan every 300 s
            |worker: 1 process, 2.0 GB and 120 s for a tile
            |mock-ups: at most 2000 px a side, JPEG quality 90
            |letter: daily at 18:00, the system's time zone
            "
        ),
        "",
    );
    // The file is the commented starter with the answers in it.
    let text = String::from_utf8(house.read(".config/burler/burler.toml")).unwrap();
    assert!(text.contains("# quiet = \"2 s\""), "{text}");
    // One that is there is kept, unless forced.
    house.expect(
        &["config", "init", "--exports", "exports"],
        74,
        "",
        &format!("|burler: {file} is there already; change it by hand, or add --force to begin anew"),
    );
    house.make("new exports");
    let words = ["config", "init", "--force", "--exports", "new exports", "--checked", "~/given back"];
    house.expect(&words, 0, &format!("|wrote {file}; now run: burler watch"), "");
    let shown = house.run(&["config", "show"]);
    assert!(shown.out.contains("folder studio: ~/new exports -> ~/given back\n"), "{}", shown.out);
}

#[test]
fn a_configuration_is_not_made_of_nothing_or_wrongly() {
    let house = House::new();
    house.expect(
        &["config", "init"],
        2,
        "",
        "|burler: say which folder holds your tiles: burler config init --exports FOLDER",
    );
    house.expect(
        &["config", "init", "--exports", "exports", "--checked", "exports/checked"],
        78,
        "",
        "|burler: ~/.config/burler/burler.toml:5:11: exports of [folder.studio] (~/exports) and checked of [folder.studio] (~/exports/checked) overlap; give each folder a place of its own, none inside another",
    );
    assert!(!house.has(".config"), "nothing was written");
    house.put("burler.toml", "[folder.studio]\nexports = \"exports\"\n\n[settle]\nquite = \"2 s\"\n");
    house.expect(
        &["config", "check", "--config", "burler.toml"],
        78,
        "",
        "|burler: ~/burler.toml:5:1: unknown key `quite`; did you mean `quiet`?",
    );
    house.put("burler.toml", "[folder.studio]\nexports = \"no exports\"\n");
    house.expect(
        &["config", "check", "--config", "burler.toml"],
        78,
        "",
        "|burler: [folder.studio]: there is no folder ~/no exports; make it, or correct exports in ~/burler.toml",
    );
}

/// On a pseudo-terminal: an answer, the default for nothing, a number.
#[test]
fn three_questions_make_a_configuration_on_a_terminal() {
    let house = House::new();
    house.make("prints/finished");
    let program = "
import os, pty, sys, time
burler, home = sys.argv[1:3]
child, terminal = pty.fork()
if child == 0:
    os.chdir(home)
    os.environ['HOME'] = home
    for name in ('XDG_CONFIG_HOME', 'XDG_STATE_HOME', 'CONFIGURATION_DIRECTORY', 'STATE_DIRECTORY'):
        os.environ.pop(name, None)
    os.execv(burler, [burler, 'config', 'init'])
heard = b''
def hear(end):
    global heard
    while end is None or not heard.endswith(end):
        try:
            more = os.read(terminal, 4096)
        except OSError:
            break
        if not more:
            break
        heard += more
for end, answer in ((b'exports] ', b'~/prints/finished\\n'), (b'checked] ', b'\\n'), (b'(nothing when they differ) ', b'4800\\n')):
    hear(end)
    os.write(terminal, answer)
hear(None)
print(heard.decode().replace('\\r\\n', '\\n').replace(home, '~'), end='')
print('status', os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
";
    let said = desk::run_python(program, &[BURLER, house.path("").to_str().unwrap().trim_end_matches('/')]);
    // What was typed is the terminal's echo.
    let wanted = "
        |Which folder do you save finished tiles into? [~/oddfathom/exports] ~/prints/finished
        |Where should Burler put what it gives back? [~/prints/checked] 
        |How many pixels wide are your square tiles? (nothing when they differ) 4800
        |wrote ~/.config/burler/burler.toml; now run: burler watch
        |status 0
        ";
    assert_eq!(said, desk::margin(wanted));
    house.expect(
        &["config", "check"],
        0,
        "|~/.config/burler/burler.toml is right: 1 folder watched, 1 order sheet",
        "",
    );
    let shown = house.run(&["config", "show"]).out;
    assert!(shown.contains("folder studio: ~/prints/finished -> ~/prints/checked\n"), "{shown}");
    assert!(shown.contains("order sheet cloth-16in: width 4800 px, height 4800 px, 300 per inch"), "{shown}");
}
