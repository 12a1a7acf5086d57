//! Odd pixels: those that are not what their copies say they should be.
//!
//! Takes copies, yields places in the order of the rows, or nothing where so many are odd that no unit stands out. Only
//! pixels that differ from their nearest copy are asked, so what follows the lattice is only compared.

use super::copies::{Copies, apart};

/// A pixel is odd when it differs by more than this, and by more than so many times the spread of its copies.
const LEVELS: u8 = 12;
const SPREADS: u16 = 4;

/// So many copies may be like an odd pixel, by chance; where a whole row of the design is set otherwise, half of them are.
const LIKE: usize = 1;

/// When more than one pixel in so many differs from its copy, the design varies from unit to unit.
const VARIED: u64 = 12;

/// Pixels compared at a time.
const STRIDE: usize = 16;

/// The odd pixels, rows from the top.
pub fn pixels(copies: &Copies<'_>) -> Option<Vec<(u32, u32)>> {
    let (width, height) = (copies.raster.width(), copies.raster.height());
    let most = u64::from(width) * u64::from(height) / VARIED;
    let [right, down] = copies.a;
    let mut suspects = Vec::new();
    for y in 0..height {
        let below = i64::from(y) + down;
        if !(0..i64::from(height)).contains(&below) {
            continue;
        }
        let (own, other) =
            (copies.raster.row(y).as_chunks::<4>().0, copies.raster.row(below as u32).as_chunks::<4>().0);
        let (from, to) = ((-right).max(0) as usize, right.max(0) as usize);
        let (Some(own), Some(other)) = (own.get(from..), other.get(to..)) else { return None };
        let long = own.len().min(other.len());
        for (chunk, (p, q)) in own[..long].chunks(STRIDE).zip(other[..long].chunks(STRIDE)).enumerate() {
            if p == q {
                continue;
            }
            for i in (0..p.len()).filter(|&i| p[i] != q[i]) {
                let x = (from + chunk * STRIDE + i) as i64;
                suspects.push((y, x as u32));
                suspects.push((below as u32, (x + right) as u32));
            }
        }
        if suspects.len() as u64 > 2 * most {
            return None;
        }
    }
    suspects.sort_unstable();
    suspects.dedup();
    let odd = |&(y, x): &(u32, u32)| {
        let Some(should) = copies.should(x.into(), y.into()) else { return false };
        let Some(own) = copies.at(x.into(), y.into()) else { return false };
        let by = apart(own, should.be);
        by > LEVELS
            && u16::from(by) > SPREADS * u16::from(should.spread)
            && copies.of(x.into(), y.into()).filter(|copy| apart(own, *copy) <= LEVELS).count() <= LIKE
    };
    Some(suspects.into_iter().filter(odd).map(|(y, x)| (x, y)).collect())
}
