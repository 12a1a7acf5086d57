//! A small fixed slice of the proving ground: no alarm on sound art of any style, and gross faults found.
//!
//! The whole of it is the scoreboard under `tests/bench`, run by hand.
mod art;
#[path = "bench/score.rs"]
mod score;

use art::fault::MAKERS;
use score::{Board, Count, Item};

/// The slice: every style once, at sides of which one is no multiple of eight.
fn slice(seed: u64, strengths: impl Fn(usize) -> Vec<usize>) -> Board {
    let items =
        Item::all(seed, None).map(|item| Item { width: 240, height: 300 + (seed % 3) as usize, unit: 0.6, ..item });
    items.map(|item| item.scored(true, &strengths)).fold(Board::default(), Board::merge)
}

fn lines(lines: &[String], begin: &str) -> Vec<String> {
    lines.iter().filter(|line| line.starts_with(begin)).cloned().collect()
}

#[test]
fn sound_art_of_every_style_raises_no_alarm() {
    let board = slice(5, |_| Vec::new());
    let through = |line: &String| line.contains("JPEG");
    let alarms: Vec<String> = lines(&board.alarms, "ALARM").into_iter().filter(|line| !through(line)).collect();
    let of = board.alarms_over(|_, sort| !sort.through_jpeg());
    assert!(of.of > 80, "{} tiles", of.of);
    assert!(alarms.is_empty(), "{} of {}:\n{}", alarms.len(), of.of, alarms.join("\n"));
}

#[test]
fn gross_faults_are_found() {
    let board = slice(5, |_| vec![3]);
    // By maker: at least so many of a hundred, as the scoreboard says of the strongest faults.
    let least = [
        ("break, cut from a larger picture", 70.0),
        ("break, whole edge", 65.0),
        ("break, even step, smooth art", 90.0),
        ("drift", 85.0),
        ("see-through line", 100.0),
        ("see-through edge", 100.0),
        ("hole", 100.0),
        ("speck", 100.0),
        ("see-through ground", 100.0),
    ];
    for (name, percent) in least {
        let maker = MAKERS.iter().position(|maker| maker.name == name).expect("a maker of this name");
        let cell = board.cells.get(&(maker, 3)).copied().unwrap_or_default();
        assert!(cell.found.of >= 5, "{name}: only {} made", cell.found.of);
        let found = cell.found.percent().unwrap_or(0.0);
        assert!(
            found >= percent,
            "{name}: {found:.0} %\n{}",
            lines(&board.misses, &format!("MISSED {name}")).join("\n")
        );
        if name.starts_with("see-through") || name == "hole" || name == "speck" {
            let of_this =
                |line: &&String| line.split_once(' ').is_some_and(|(_, rest)| rest.starts_with(&format!("{name} (")));
            let astray: Vec<String> = board.misses.iter().filter(of_this).cloned().collect();
            assert!(astray.is_empty(), "{}", astray.join("\n"));
        }
    }
}

#[test]
fn bounds_are_those_of_clopper_and_pearson() {
    // Clopper and Pearson, Biometrika 26(4), 1934, one-sided: no hit of n leaves 1 - 0.05^(1/n); about 3 / n for large n
    // (Hanley and Lippman-Hand, JAMA 249(13), 1983). One hit of ten and five of fifty: beta quantiles (SciPy).
    let bound = |hit, of| Count { of, hit }.upper_bound();
    assert!((bound(0, 10) - 100.0 * (1.0 - 0.05_f64.powf(0.1))).abs() < 1e-6);
    assert!((bound(0, 1000) - 0.2991).abs() < 1e-3);
    assert!((bound(1, 10) - 39.4163).abs() < 1e-3, "{}", bound(1, 10));
    assert!((bound(5, 50) - 19.8757).abs() < 1e-1, "{}", bound(5, 50));
    assert!((bound(10, 10) - 100.0).abs() < 1e-9);
}
