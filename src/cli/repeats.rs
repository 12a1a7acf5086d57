//! The smallest repeat in a designer's words: how many, how far apart, how each row or column is set off.
//!
//! Takes the unit of a ticket; yields half a sentence.

use crate::pipeline::check::words::count;
use crate::pipeline::lattice;
use crate::ticket::Unit;

/// Offsets beyond so many rows or columns are told as the two moves instead.
const MOST_STEPS: i64 = 12;

/// "18 repeats, one every 1,600 px, alternate rows offset by 800 px".
#[must_use]
pub fn words(unit: &Unit) -> String {
    let found = lattice::Unit { a: unit.a, b: unit.b };
    let [across, down] = found.periods();
    let repeats = count(u64::from(unit.per_tile), "repeats");
    let px = |pixels: i64| count(pixels.unsigned_abs(), "px");
    // How many rows, and how many columns, it takes until one stands straight below or beside another.
    let steps = across * down / (found.area() as i64).max(1);
    let every = if across == down {
        format!("one every {}", px(across))
    } else {
        format!("one every {} across and {} down", px(across), px(down))
    };
    // The reading in which the space of one repeat is nearer to a square: rows of across x row, or columns of column x down.
    let (column, row) = (across / steps, down / steps);
    let by_columns = spread(column, down) < spread(across, row);
    let offset = |into: i64| -> i64 {
        let unit_step = |offset: &i64| found.holds(if by_columns { [column, *offset] } else { [*offset, row] });
        (0..into).find(unit_step).unwrap_or(0)
    };
    match steps {
        1 => format!("{repeats}, {every}"),
        2 if by_columns => format!("{repeats}, {every}, alternate columns lowered by {}", px(row)),
        2 => format!("{repeats}, {every}, alternate rows offset by {}", px(column)),
        3..=MOST_STEPS if by_columns => {
            let lowered = offset(down);
            let (way, by) = if lowered * 2 <= down { ("lowered", lowered) } else { ("raised", down - lowered) };
            format!(
                "{repeats}, one every {} down, each next column {} on and {way} by {}",
                px(down),
                px(column),
                px(by)
            )
        }
        3..=MOST_STEPS => {
            let moved = offset(across);
            let (way, by) = if moved * 2 <= across { ("right", moved) } else { ("left", across - moved) };
            format!(
                "{repeats}, one every {} across, each next row {} down and {} to the {way}",
                px(across),
                px(row),
                px(by)
            )
        }
        _ => format!("{repeats}, the next ones {}, and {}", moved(unit.a), moved(unit.b)),
    }
}

/// How far from square a space is, as the longer side in hundredths of the shorter.
fn spread(a: i64, b: i64) -> i64 {
    a.max(b) * 100 / a.min(b).max(1)
}

/// A move in words.
fn moved([right, down]: [i64; 2]) -> String {
    let px = |pixels: i64| count(pixels.unsigned_abs(), "px");
    let part = |pixels: i64, plus: &str, minus: &str| match pixels {
        0 => None,
        1.. => Some(format!("{} {plus}", px(pixels))),
        ..0 => Some(format!("{} {minus}", px(pixels))),
    };
    [part(right, "to the right", "to the left"), part(down, "down", "up")]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(a: [i64; 2], b: [i64; 2], per_tile: u32) -> String {
        words(&Unit { a, b, per_tile })
    }

    #[test]
    fn block_half_drop_brick_and_third_drop_read_as_a_designer_says_them() {
        assert_eq!(said([800, 0], [0, 800], 36), "36 repeats, one every 800 px");
        assert_eq!(said([800, 0], [0, 1200], 12), "12 repeats, one every 800 px across and 1,200 px down");
        assert_eq!(
            said([800, 800], [800, -800], 18),
            "18 repeats, one every 1,600 px, alternate rows offset by 800 px"
        );
        // A half-drop of 600 x 600: columns 600 px apart, each lowered by 300.
        assert_eq!(
            said([600, 300], [0, 600], 8),
            "8 repeats, one every 1,200 px across and 600 px down, alternate columns lowered by 300 px"
        );
        // The same turned by a quarter: a brick.
        assert_eq!(
            said([300, 600], [600, 0], 8),
            "8 repeats, one every 600 px across and 1,200 px down, alternate rows offset by 300 px"
        );
        assert_eq!(
            said([600, 200], [0, 600], 18),
            "18 repeats, one every 600 px down, each next column 600 px on and lowered by 200 px"
        );
        assert_eq!(
            said([600, -200], [0, 600], 18),
            "18 repeats, one every 600 px down, each next column 600 px on and raised by 200 px"
        );
        assert_eq!(
            said([600, 0], [150, 600], 16),
            "16 repeats, one every 600 px across, each next row 600 px down and 150 px to the right"
        );
        assert_eq!(
            said([113, -117], [121, 136], 7),
            "7 repeats, the next ones 113 px to the right and 117 px up, and 121 px to the right and 136 px down"
        );
    }
}
