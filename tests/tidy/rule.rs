//! What is a stray, and what may become of it.

use crate::shed::Shed;
use burler::archive::stray::{Fate, Kind, Looks, Row, judge};
use burler::archive::{list, rows, tidying};
use burler::codec::picture::encode_png;
use burler::tile::{Content, Raster};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::time::{Duration, SystemTime};

fn row(path: &str, looks: Looks, content: &[u8]) -> Row {
    Row {
        path: path.into(),
        is_plain: true,
        size: content.len() as u64,
        age: Some(Duration::from_hours(48)),
        links: 1,
        head: content.iter().take(16).copied().collect(),
        looks,
        content: Some(Content::of(content)),
    }
}

fn one(row: Row) -> Option<(Kind, Fate)> {
    let found = judge(&[row]);
    assert!(found.len() < 2);
    found.first().map(|stray| (stray.kind, stray.fate))
}

#[test]
fn strays_are_told_by_name_and_bytes() {
    use Looks::{Image, NoImage, PartOfImage, Unknown};
    for (path, looks, content, expected) in [
        ("dulse.png.part", NoImage, &b"x"[..], Some((Kind::Temporary, Fate::PutAway))),
        ("dulse.png.crdownload", PartOfImage, b"x", Some((Kind::Temporary, Fate::PutAway))),
        (".burler-0af3.part", NoImage, b"x", Some((Kind::Temporary, Fate::PutAway))),
        (".dulse.png.x9fK2q", PartOfImage, b"x", Some((Kind::Temporary, Fate::PutAway))),
        ("~$list.txt", NoImage, b"x", Some((Kind::Temporary, Fate::PutAway))),
        // A whole image under such a name may be the only one there is.
        ("dulse.png.tmp", Image, b"x", Some((Kind::Temporary, Fate::Kept))),
        ("dulse.png~", Image, b"x", Some((Kind::Temporary, Fate::Kept))),
        ("dulse.tmp", Unknown, b"x", Some((Kind::Temporary, Fate::Told))),
        ("dulse.png", NoImage, b"", Some((Kind::Empty, Fate::PutAway))),
        (".DS_Store", NoImage, b"x", Some((Kind::System, Fate::PutAway))),
        ("Thumbs.db", NoImage, b"x", Some((Kind::System, Fate::PutAway))),
        ("net/desktop.ini", NoImage, b"x", Some((Kind::System, Fate::PutAway))),
        // RFC 1740, appendix A: AppleDouble begins 00 05 16 07.
        ("._dulse.png", NoImage, b"\0\x05\x16\x07\0\x02", Some((Kind::System, Fate::PutAway))),
        ("notes.txt", NoImage, b"x", Some((Kind::Foreign, Fate::OnDemand))),
        ("dulse", Image, b"x", Some((Kind::Unnamed, Fate::Told))),
        ("dulse.txt", Unknown, b"x", Some((Kind::Foreign, Fate::Told))),
        // These are tiles, whatever is with them: the sweep judges them.
        ("dulse.png", Image, b"x", None),
        ("dulse.png", NoImage, b"x", None),
        ("dulse (1).png", Image, b"x", None),
        // These belong to other programs.
        (".git/HEAD.tmp", NoImage, b"x", None),
        (".keep", NoImage, b"", None),
        ("._dulse.png", Image, b"x", Some((Kind::Unnamed, Fate::Told))),
        (".nfs000000000012", NoImage, b"x", None),
    ] {
        let found = one(row(path, looks, content));
        assert_eq!(found, expected, "{path} {looks:?}");
    }
}

#[test]
fn young_linked_and_special_files_are_left_alone() {
    let old = row("dulse.part", Looks::NoImage, b"x");
    assert_eq!(one(Row { age: Some(Duration::from_secs(86_399)), ..old.clone() }), None);
    assert_eq!(one(Row { age: Some(Duration::from_secs(86_400)), ..old.clone() }).unwrap().1, Fate::PutAway);
    assert_eq!(one(Row { age: None, ..old.clone() }), None);
    assert_eq!(one(Row { is_plain: false, ..old.clone() }), None);
    assert_eq!(one(Row { links: 2, ..old }), Some((Kind::Temporary, Fate::Linked)));
}

#[test]
fn a_copy_may_go_only_when_its_base_has_the_same_bytes() {
    let fate = |base: Row, copy: Row| {
        let found = judge(&[copy, base]);
        found.iter().find(|stray| stray.kind == Kind::Copy).map(|stray| stray.fate)
    };
    let tile = |path: &str, bytes: &[u8]| row(path, Looks::Image, bytes);
    let base = tile("net/kelp.png", b"kelp");
    assert_eq!(fate(base.clone(), tile("net/kelp (1).png", b"kelp")), Some(Fate::PutAway));
    assert_eq!(fate(base.clone(), tile("net/kelp (conflicted copy 2026-05-01).png", b"kelp")), Some(Fate::PutAway));
    assert_eq!(fate(base.clone(), tile("net/kelp (1).png", b"other")), Some(Fate::Told));
    assert_eq!(fate(base.clone(), Row { content: None, ..tile("net/kelp (1).png", b"kelp") }), Some(Fate::Told));
    assert_eq!(fate(Row { content: None, ..base.clone() }, tile("net/kelp (1).png", b"kelp")), Some(Fate::Told));
    assert_eq!(fate(base.clone(), tile("other/kelp (1).png", b"kelp")), None);
    assert_eq!(fate(Row { is_plain: false, ..base.clone() }, tile("net/kelp (1).png", b"kelp")), None);
    assert_eq!(fate(base, Row { links: 2, ..tile("net/kelp (1).png", b"kelp") }), Some(Fate::Linked));
}

#[test]
fn real_files_come_to_the_same() {
    let shed = Shed::full();
    fs::hard_link(shed.file("nets/notes.txt"), shed.file("nets/linked.tmp")).unwrap();
    symlink("kelp.png", shed.file("link.tmp")).unwrap();
    symlink("..", shed.file("nets/up.part")).unwrap();
    fs::create_dir(shed.file("folder.tmp")).unwrap();
    rustix::fs::mkfifoat(rustix::fs::CWD, shed.file("pipe.tmp"), rustix::fs::Mode::from_raw_mode(0o600)).unwrap();
    let plain = Raster::new(16, 16, vec![200; 16 * 16 * 4]).unwrap();
    let whole = encode_png(&plain, Some(300.0)).unwrap();
    shed.put("whole.png.tmp", &whole);
    shed.put("cut.png.tmp", &whole[..whole.len() / 2]);
    let found: Vec<String> = shed
        .strays()
        .iter()
        .map(|stray| format!("{} {:?} {:?}", stray.path.display(), stray.kind, stray.fate))
        .collect();
    assert_eq!(
        found,
        [
            "cut.png.tmp Temporary PutAway",
            "kelp (1).png Copy PutAway",
            "nets/.DS_Store System PutAway",
            "nets/deep/empty.png Empty PutAway",
            "nets/deep/~$list Temporary PutAway",
            "nets/dulse.png.part Temporary PutAway",
            "nets/linked.tmp Temporary Linked",
            "nets/notes.txt Foreign Linked",
            "whole.png.tmp Temporary Kept",
        ]
    );
    let today = judge(&rows(&shed.file(""), &list(&shed.file("")), SystemTime::now(), &|_| None));
    assert_eq!(today, [], "all are younger than a day");
}

#[test]
fn remarks_say_what_it_is_and_what_to_do() {
    let shed = Shed::full();
    shed.put("kelp copy.png", b"\x89PNG\r\n\x1a\nother");
    let said: Vec<String> = tidying::remarks(&shed.strays())
        .iter()
        .map(|remark| {
            let paths: Vec<_> = remark.paths.iter().map(|path| Path::display(path).to_string()).collect();
            format!("{} | {} | {} | {}", remark.kind, paths.join(", "), remark.says, remark.remedy)
        })
        .collect();
    assert_eq!(
        said,
        [
            "stray.temporary | nets/deep/~$list, nets/dulse.png.part | left over by programs that did not finish | burler \
             sweep --tidy puts them away; nothing is deleted",
            "stray.empty | nets/deep/empty.png | an empty file | burler sweep --tidy puts it away; nothing is deleted",
            "stray.system | nets/.DS_Store | written by a system for its own use | burler sweep --tidy puts it away; \
             nothing is deleted",
            "stray.foreign | nets/notes.txt | not an image that Burler reads | nothing, if you keep it here on purpose; \
             burler sweep --tidy=all puts it away",
            "stray.copy | kelp (1).png, kelp.png | a copy of kelp.png, exactly the same | burler sweep --tidy puts it \
             away; nothing is deleted",
            "stray.copy | kelp copy.png, kelp.png | named as a copy of kelp.png, with other content; left alone | compare \
             both and give the one you want to keep a name of its own",
        ]
    );
}
