//! The endless plane: which pixel of the tile lies at any place when the tile is laid in its repeat.
//!
//! Takes a raster and a repeat, yields pixels and rows at any coordinates. Knows no scale and no drawing.

use crate::spec::Repeat;
use crate::tile::Raster;

/// A tile laid endlessly. The tile itself lies at the origin; its copies follow the repeat's definition.
#[derive(Clone, Copy, Debug)]
pub struct Plane<'a> {
    raster: &'a Raster,
    repeat: Repeat,
}

impl<'a> Plane<'a> {
    /// Lays `raster` as `repeat`.
    #[must_use]
    pub fn new(raster: &'a Raster, repeat: Repeat) -> Self {
        Self { raster, repeat }
    }

    /// Width and height of one tile.
    #[must_use]
    pub fn period(&self) -> [i64; 2] {
        [i64::from(self.raster.width()), i64::from(self.raster.height())]
    }

    /// How far the copy in column `column` and row `row` is moved from the straight grid, right and down.
    ///
    /// Half-drop lowers each column by half a tile, third- and quarter-drop by a third and a quarter, brick moves each
    /// row right by half. A side that cannot be divided is cut down to whole pixels.
    #[must_use]
    pub fn moved(&self, column: i64, row: i64) -> [i64; 2] {
        let [width, height] = self.period();
        match (self.repeat, self.repeat.drop_divisor()) {
            (_, Some(n)) => [0, (column.rem_euclid(i64::from(n)) * height).div_euclid(i64::from(n))],
            (Repeat::Brick, _) => [row.rem_euclid(2) * (width / 2), 0],
            _ => [0, 0],
        }
    }

    /// Whether copies lie beside the tile, and above and below it.
    #[must_use]
    pub fn repeats(&self) -> [bool; 2] {
        match self.repeat {
            Repeat::Across => [true, false],
            Repeat::Down => [false, true],
            Repeat::None => [false, false],
            _ => [true, true],
        }
    }

    /// The pixel at a place of the plane; without coverage where nothing is laid.
    #[must_use]
    pub fn pixel(&self, x: i64, y: i64) -> [u8; 4] {
        let mut out = [0; 4];
        self.row(x, y, &mut out);
        out
    }

    /// The pixels of row `y` from column `x` on, as many as `rgba` holds (four samples each).
    pub fn row(&self, x: i64, y: i64, rgba: &mut [u8]) {
        let [width, height] = self.period();
        let [beside, stacked] = self.repeats();
        if !stacked && !(0..height).contains(&y) {
            // Without coverage: nothing is laid here.
            rgba.fill(0);
            return;
        }
        let (mut x, mut rest) = (x, rgba);
        while !rest.is_empty() {
            // A row of bricks is one straight row of copies, moved as a whole.
            let slid = x - self.moved(0, y.div_euclid(height))[0];
            let column = slid.div_euclid(width);
            let from = slid.rem_euclid(width) as usize;
            let count = (width as usize - from).min(rest.len() / 4);
            let (here, after) = rest.split_at_mut(count * 4);
            if beside || column == 0 {
                let lowered = self.moved(column, 0)[1];
                let source = self.raster.row((y - lowered).rem_euclid(height) as u32);
                here.copy_from_slice(&source[from * 4..][..count * 4]);
            } else {
                here.fill(0);
            }
            x += count as i64;
            rest = after;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbered(width: u32, height: u32) -> Raster {
        let pixels = (0..height).flat_map(|y| (0..width).flat_map(move |x| [x as u8, y as u8, 7, 255]));
        Raster::new(width, height, pixels.collect()).unwrap()
    }

    #[test]
    fn each_repeat_lays_copies_as_it_is_defined() {
        let raster = numbered(6, 12);
        for repeat in Repeat::ALL {
            let plane = Plane::new(&raster, repeat);
            for y in -25..25_i64 {
                for x in -13..13_i64 {
                    let (column, row) = (x.div_euclid(6), y.div_euclid(12));
                    let (sx, sy) = match repeat {
                        Repeat::HalfDrop => (x, y - column * 6),
                        Repeat::ThirdDrop => (x, y - column * 4),
                        Repeat::QuarterDrop => (x, y - column * 3),
                        Repeat::Brick => (x - row * 3, y),
                        _ => (x, y),
                    };
                    let laid = match repeat {
                        Repeat::Across => row == 0,
                        Repeat::Down => column == 0,
                        Repeat::None => row == 0 && column == 0,
                        _ => true,
                    };
                    let expected = if laid { raster.wrapped(sx, sy) } else { [0; 4] };
                    assert_eq!(plane.pixel(x, y), expected, "{repeat} at {x}, {y}");
                }
            }
        }
    }

    #[test]
    fn a_long_row_equals_its_pixels() {
        let raster = numbered(5, 4);
        for repeat in Repeat::ALL {
            let plane = Plane::new(&raster, repeat);
            for y in [-5, 0, 3, 4, 9] {
                let mut row = vec![9; 23 * 4];
                plane.row(-7, y, &mut row);
                let one_by_one: Vec<u8> = (0..23).flat_map(|i| plane.pixel(i - 7, y)).collect();
                assert_eq!(row, one_by_one, "{repeat} row {y}");
            }
        }
    }
}
