//! Stray makers: one unit of a regular design set aside by a few pixels, with the place of it.
//!
//! Strength 0 is one pixel along an axis, 1 one pixel both ways, 2 two and 3 three pixels (4 is taken as 3).

use super::canvas::Canvas;
use super::chance::Chance;
use super::colors::changed;
use super::shape::Shape;
use burler::finding::Area;
use burler::tile::Raster;

/// The move of a strength in any direction.
pub fn aside(chance: &mut Chance, strength: u32) -> [i64; 2] {
    let sign = |chance: &mut Chance| if chance.odds(2) { 1 } else { -1 };
    let [x, y] = [sign(chance), sign(chance)];
    match strength {
        0 if chance.odds(2) => [x, 0],
        0 => [0, y],
        1 => [x, y],
        2 => [2 * x, i64::from(chance.whole(0, 2)) * y],
        _ => [3 * x, i64::from(chance.whole(0, 3)) * y],
    }
}

/// A field of one motif at the points of a lattice, straight or each second row moved by half; with a strength, one motif sits
/// aside. Yields the tile, and where the stray is and its move.
pub fn field(seed: u64, strength: Option<u32>) -> (Raster, Option<(Area, [i64; 2])>) {
    let mut chance = Chance::new(seed ^ 0xF1E1D);
    let (columns, rows) = (chance.whole(4, 9) as usize, 2 * chance.whole(2, 4) as usize);
    let (wide, high) = (2 * chance.whole(12, 36) as usize, chance.whole(24, 72) as usize);
    let half = chance.odds(2);
    let mut canvas = Canvas::new(columns * wide, rows * high);
    let ground = chance.color();
    canvas.fill(ground);
    let motifs: Vec<(Shape, [f32; 3], [f32; 2])> = (0..chance.whole(1, 3))
        .map(|_| {
            let size = wide.min(high) as f32 * chance.between(0.15, 0.42);
            let off = [chance.between(-0.1, 0.1) * wide as f32, chance.between(-0.1, 0.1) * high as f32];
            (Shape::any(&mut chance, size), chance.color_apart(ground, 40.0), off)
        })
        .collect();
    let soft = if chance.odds(3) { 0.0 } else { 1.0 };
    let (column, row) = (chance.whole(0, columns as u32 - 1) as usize, chance.whole(0, rows as u32 - 1) as usize);
    let by = strength.map(|strength| aside(&mut chance, strength));
    for j in 0..rows {
        for i in 0..columns {
            let mut x = (i * wide) as f32 + wide as f32 / 2.0;
            let mut y = (j * high) as f32 + high as f32 / 2.0;
            if half && j % 2 == 1 {
                x += (wide / 2) as f32;
            }
            if let (true, Some(by)) = ((i, j) == (column, row), by) {
                x += by[0] as f32;
                y += by[1] as f32;
            }
            for (shape, color, off) in &motifs {
                canvas.stamp((x + off[0], y + off[1]), shape.reach(), *color, soft, |x, y| shape.distance(x, y));
            }
        }
    }
    let tile = canvas.raster();
    let truth = by.and_then(|by| {
        let (sound, _) = field(seed, None);
        Some((changed(&sound, &tile)?, by))
    });
    (tile, truth)
}

/// The smallest upright cell of a tile that comes again on the torus, both ways at least three times; half of it where
/// each second one is moved by half.
pub fn cell(tile: &Raster) -> Option<(u32, u32)> {
    let (width, height) = (tile.width(), tile.height());
    let same = |right: u32, down: u32| {
        let row = |y: u32| (tile.row(y), tile.row((y + down) % height));
        (0..height).all(|y| {
            let (own, other) = row(y);
            let cut = right as usize * 4;
            own[..own.len() - cut] == other[cut..] && own[own.len() - cut..] == other[..cut]
        })
    };
    let period = |side: u32, same: &dyn Fn(u32) -> bool| (2..=side / 3).find(|&p| side.is_multiple_of(p) && same(p));
    let wide = period(width, &|p| same(p, 0))?;
    let high = period(height, &|p| same(0, p))?;
    // Straight lines have no unit along them.
    if wide < 8 || high < 8 {
        return None;
    }
    let halved = wide % 2 == 0 && high % 2 == 0 && same(wide / 2, high / 2);
    Some(match halved {
        true if wide > high => (wide / 2, high),
        true => (wide, high / 2),
        false => (wide, high),
    })
}

/// One unit of a tile set aside: its pixels laid over the tile a few pixels from where they were. `None` where the tile
/// holds no smaller unit, or the move leaves no pixel changed to speak of.
pub fn stray(tile: &Raster, seed: u64, strength: u32) -> Option<(Raster, Area)> {
    let mut chance = Chance::new(seed ^ 0x57_4A_59);
    let (wide, high) = cell(tile)?;
    let by = aside(&mut chance, strength);
    let (left, top) = (chance.whole(0, tile.width() - 1), chance.whole(0, tile.height() - 1));
    let mut out = tile.clone();
    for y in 0..high {
        for x in 0..wide {
            let (x, y) = (i64::from(left + x), i64::from(top + y));
            let at = |v: i64, side: u32| v.rem_euclid(i64::from(side)) as usize;
            let to = (at(y + by[1], tile.height()) * tile.width() as usize + at(x + by[0], tile.width())) * 4;
            out.samples_mut()[to..to + 4].copy_from_slice(&tile.wrapped(x, y));
        }
    }
    let differs = |p: &[u8], q: &[u8]| p.iter().zip(q).any(|(p, q)| p.abs_diff(*q) > 12);
    let count =
        tile.samples().chunks_exact(4).zip(out.samples().chunks_exact(4)).filter(|(p, q)| differs(p, q)).count();
    if count < 16 {
        return None;
    }
    let area = changed(tile, &out)?;
    Some((out, area))
}
