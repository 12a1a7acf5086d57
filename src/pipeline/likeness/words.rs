//! A relation in a designer's words.
//!
//! Takes a relation and the first tile's resolution, yields sentences. Knows no names of files.

use super::relation::{Colors, Relation};
use super::turn::Turn;

/// What the second tile is to the first, as a sentence without a full stop: "the same repeat, turned a quarter clockwise and
/// moved 2.1 in to the right; every pixel is equal". `per_inch` is the first tile's resolution.
#[must_use]
pub fn sentence(relation: &Relation, per_inch: Option<f64>) -> String {
    let mut parts = Vec::new();
    if relation.scale != 1000 {
        // The second's size by the first's.
        parts.push(format!("at {} % of its size", (100_000 + relation.scale / 2) / relation.scale.max(1)));
    }
    parts.extend(turned(relation.turn));
    let laid = relation.repeats[0] != relation.repeats[1];
    if laid {
        parts.push(format!("laid as {} and not as {}", relation.repeats[1], relation.repeats[0]));
    }
    let alone = relation.turn == Turn::default() && relation.scale == 1000 && !laid;
    parts.extend(moved(relation, per_inch, alone));
    let (what, ending) = match relation.colors {
        Colors::Equal => ("the same repeat", "; every pixel is equal"),
        Colors::Same if relation.scale != 1000 => ("the same repeat", ""),
        Colors::Same => ("the same repeat", "; encoded anew, so that pixels differ a little"),
        Colors::Exchanged => ("the same drawing in other colors", ""),
    };
    let how = match parts.as_slice() {
        [] => String::new(),
        [one] => format!(", {one}"),
        [first @ .., last] => format!(", {} and {last}", first.join(", ")),
    };
    format!("{what}{how}{ending}")
}

/// What was done to the first to make the second: the way back from how the second must be laid down.
fn turned(turn: Turn) -> Option<String> {
    Some(
        match (turn.mirrored, turn.quarters % 4) {
            (false, 0) => return None,
            (false, 1) => "turned a quarter counterclockwise",
            (false, 2) => "turned upside down",
            (false, _) => "turned a quarter clockwise",
            (true, 0) => "mirrored left to right",
            (true, 1) => "mirrored and turned a quarter clockwise",
            (true, 2) => "mirrored top to bottom",
            (true, _) => "mirrored and turned a quarter counterclockwise",
        }
        .into(),
    )
}

/// Where the second starts; `exactly` where nothing else was done, so that a distance means something to the eye.
fn moved(relation: &Relation, per_inch: Option<f64>, exactly: bool) -> Option<String> {
    if relation.shift == [0, 0] {
        return None;
    }
    if !exactly {
        // A turn about a corner moves by itself; a pixel or two are the rounding of a scale.
        let far = relation.shift.iter().any(|by| by.abs() > 2);
        return far.then(|| "started at another place".into());
    }
    let length = |pixels: i64| match per_inch.filter(|per_inch| *per_inch >= 1.0) {
        Some(per_inch) => format!("{:.2} in", pixels.abs() as f64 / per_inch),
        None => format!("{} px", pixels.abs()),
    };
    // The second must be moved by the shift to be the first: it was moved the other way.
    let words = [("to the left", "to the right"), ("up", "down")];
    let ways: Vec<String> = relation
        .shift
        .iter()
        .zip(words)
        .filter(|(by, _)| **by != 0)
        .map(|(&by, (forth, back))| format!("{} {}", length(by), if by > 0 { forth } else { back }))
        .collect();
    Some(format!("moved {}", ways.join(" and ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::Repeat;

    fn relation() -> Relation {
        Relation {
            colors: Colors::Equal,
            turn: Turn::default(),
            shift: [0, 0],
            scale: 1000,
            repeats: [Repeat::Block; 2],
            confidence: 100,
        }
    }

    #[test]
    fn each_relation_has_its_words() {
        let says = |relation: Relation| sentence(&relation, Some(300.0));
        let base = relation();
        assert_eq!(says(base), "the same repeat; every pixel is equal");
        assert_eq!(
            says(Relation { shift: [-630, 120], ..base }),
            "the same repeat, moved 2.10 in to the right and 0.40 in up; every pixel is equal"
        );
        assert_eq!(
            sentence(&Relation { shift: [7, 0], ..base }, None),
            "the same repeat, moved 7 px to the left; every pixel is equal"
        );
        assert_eq!(
            says(Relation {
                turn: Turn { mirrored: false, quarters: 1 },
                shift: [90, 3],
                colors: Colors::Same,
                ..base
            }),
            "the same repeat, turned a quarter counterclockwise and started at another place; encoded anew, so that pixels \
             differ a little"
        );
        assert_eq!(
            says(Relation { scale: 2000, colors: Colors::Same, ..base }),
            "the same repeat, at 50 % of its size"
        );
        assert_eq!(
            says(Relation { repeats: [Repeat::Block, Repeat::HalfDrop], ..base }),
            "the same repeat, laid as half-drop and not as block; every pixel is equal"
        );
        assert_eq!(says(Relation { colors: Colors::Exchanged, ..base }), "the same drawing in other colors");
    }
}
