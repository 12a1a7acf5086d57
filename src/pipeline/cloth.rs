//! The endless cloth that a tile makes when it is laid in its repeat: what lies where, and which moves leave it as it is.
//!
//! Takes the samples of a tile in any depth and a repeat, yields pixels and rows of the plane, its finest lattice and tiles
//! cut out of it anew. Bit-exact; knows no scale.

pub mod lattice;

use crate::pixel::over::Sample;
use crate::spec::Repeat;
use lattice::Lattice;
use rayon::prelude::*;

/// The samples of one tile, laid endlessly. Rows from the top, straight RGBA.
#[derive(Clone, Copy, Debug)]
pub struct Cloth<'a, T> {
    pixels: &'a [[T; 4]],
    width: i64,
    height: i64,
    repeat: Repeat,
    laid: Lattice,
}

impl<'a, T: Sample + Send + Sync> Cloth<'a, T> {
    /// Lays a tile; `None` when the samples do not fill the sides, when the repeat goes one way only, or when the side that
    /// it divides is not divisible.
    #[must_use]
    pub fn new(samples: &'a [T], width: u32, height: u32, repeat: Repeat) -> Option<Self> {
        let pixels = samples.as_chunks::<4>().0;
        let (width, height) = (i64::from(width), i64::from(height));
        if samples.is_empty() || samples.len() as i64 != width * height * 4 {
            return None;
        }
        Some(Self { pixels, width, height, repeat, laid: Lattice::laid(repeat, [width, height])? })
    }

    /// The moves by which the tile is laid.
    #[must_use]
    pub fn laid(&self) -> Lattice {
        self.laid
    }

    /// Every move that maps the cloth onto itself, sample for sample: the finest lattice there is.
    #[must_use]
    pub fn lattice(&self) -> Lattice {
        self.laid.refined(|by| self.maps_onto_itself(by))
    }

    fn maps_onto_itself(&self, [right, down]: [i64; 2]) -> bool {
        let width = self.width as usize;
        self.pixels.chunks_exact(width).zip(0_i64..).all(|(row, y)| {
            let mut rest = row;
            self.spans(right, y + down, width, |span| {
                let (here, after) = rest.split_at(span.len());
                rest = after;
                here == span
            })
        })
    }

    /// The pixel at a place of the plane.
    #[must_use]
    #[inline]
    pub fn at(&self, x: i64, y: i64) -> [T; 4] {
        let (row, column) = self.place(x, y);
        self.pixels[row * self.width as usize + column]
    }

    /// The tile's row and column that lie at a place of the plane.
    #[inline]
    fn place(&self, x: i64, y: i64) -> (usize, usize) {
        let slid = if self.repeat == Repeat::Brick { x - y.div_euclid(self.height) * (self.width / 2) } else { x };
        let lowered = match self.repeat.drop_divisor() {
            Some(n) => y - slid.div_euclid(self.width) * (self.height / i64::from(n)),
            None => y,
        };
        (lowered.rem_euclid(self.height) as usize, slid.rem_euclid(self.width) as usize)
    }

    /// Hands on row `y` of the plane from column `x` in pieces as they lie in the tile, `count` pixels in all, until one is
    /// not wanted; says whether all were.
    fn spans(&self, mut x: i64, y: i64, mut count: usize, mut each: impl FnMut(&'a [[T; 4]]) -> bool) -> bool {
        let width = self.width as usize;
        while count > 0 {
            let (row, column) = self.place(x, y);
            let here = (width - column).min(count);
            if !each(&self.pixels[row * width + column..][..here]) {
                return false;
            }
            count -= here;
            x += here as i64;
        }
        true
    }

    /// Copies row `y` of the plane from column `x` on.
    pub fn copy_row(&self, x: i64, y: i64, out: &mut [[T; 4]]) {
        let mut rest = out;
        self.spans(x, y, rest.len(), |span| {
            let (here, after) = std::mem::take(&mut rest).split_at_mut(span.len());
            here.copy_from_slice(span);
            rest = after;
            true
        });
    }

    /// The samples of the plane's rectangle from the origin on: a tile cut anew.
    #[must_use]
    pub fn cut(&self, width: u32, height: u32) -> Vec<T> {
        let zero = T::clamped(0);
        let row = width as usize * 4;
        let mut out = vec![zero; row * height as usize];
        out.par_chunks_exact_mut(row).enumerate().for_each(|(y, row)| {
            self.copy_row(0, y as i64, row.as_chunks_mut::<4>().0);
        });
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAID: [Repeat; 5] = [Repeat::Block, Repeat::HalfDrop, Repeat::ThirdDrop, Repeat::QuarterDrop, Repeat::Brick];

    fn numbered(width: u32, height: u32) -> Vec<u8> {
        (0..height).flat_map(|y| (0..width).flat_map(move |x| [x as u8, y as u8, 7, 255])).collect()
    }

    #[test]
    fn a_tile_whose_pixels_all_differ_has_only_the_moves_it_is_laid_by() {
        let samples = numbered(12, 24);
        for repeat in LAID {
            let cloth = Cloth::new(&samples, 12, 24, repeat).unwrap();
            assert_eq!(cloth.lattice(), cloth.laid(), "{repeat}");
            for x in -30..30 {
                for y in -60..60 {
                    let here = cloth.at(x, y);
                    for by in [[cloth.laid().a, cloth.laid().b], [0, cloth.laid().d]] {
                        assert_eq!(here, cloth.at(x + by[0], y + by[1]), "{repeat} {x} {y}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_tile_cut_anew_lies_where_the_old_one_lay() {
        let samples = numbered(12, 24);
        for from in LAID {
            let cloth = Cloth::new(&samples, 12, 24, from).unwrap();
            for to in LAID {
                let [width, height] = cloth.lattice().smallest(to).unwrap();
                let fresh = cloth.cut(width as u32, height as u32);
                let again = Cloth::new(&fresh, width as u32, height as u32, to).unwrap();
                for x in -60..60 {
                    for y in -100..100 {
                        assert_eq!(cloth.at(x, y), again.at(x, y), "{from} as {to} at {x}, {y}");
                    }
                }
            }
        }
    }

    #[test]
    fn what_cannot_be_laid_is_no_cloth() {
        let samples = numbered(5, 7);
        for repeat in [Repeat::HalfDrop, Repeat::Brick, Repeat::Across, Repeat::None] {
            assert!(Cloth::new(&samples, 5, 7, repeat).is_none());
        }
        assert!(Cloth::new(&samples, 5, 6, Repeat::Block).is_none());
    }
}
