//! Laying: another repeat, the same endless cloth, sample for sample; and what cannot be laid says why.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot set its table has failed")]

mod desk;
mod drawn;

use burler::codec::Limits;
use burler::codec::picture::encode_png;
use burler::pipeline::lay::{LayError, lay};
use burler::spec::Repeat;
use burler::spec::wish::Lay;
use burler::tile::{Raster, Tile};
use drawn::{Dice, deep_tile, raster, tile};
use proptest::prelude::*;
use std::fs;

const LAID: [Repeat; 5] = [Repeat::Block, Repeat::HalfDrop, Repeat::ThirdDrop, Repeat::QuarterDrop, Repeat::Brick];

fn wish(repeat: Repeat) -> Lay {
    Lay { repeat, size: None }
}

fn laid(tile: &Tile, from: Repeat, to: Repeat) -> Result<Tile, LayError> {
    lay(tile, from, &wish(to), &Limits::default()).map(|laid| laid.tile)
}

/// Every pixel of its own.
fn noise(width: u32, height: u32, seed: u64) -> Tile {
    let mut dice = Dice(seed);
    tile(raster(width, height, |_, _| dice.next().to_le_bytes()[..4].try_into().unwrap()))
}

/// The pixel of the plane by the definitions of the trade: each column lowered, or each row moved.
fn on_plane(raster: &Raster, repeat: Repeat, x: i64, y: i64) -> [u8; 4] {
    let (w, h) = (i64::from(raster.width()), i64::from(raster.height()));
    let (column, row) = (x.div_euclid(w), y.div_euclid(h));
    match (repeat, repeat.drop_divisor()) {
        (_, Some(n)) => raster.wrapped(x, y - column * h / i64::from(n)),
        (Repeat::Brick, _) => raster.wrapped(x - row * w / 2, y),
        _ => raster.wrapped(x, y),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// The plane is the same plane, and the way back gives the same tile.
    #[test]
    fn there_and_back_is_bit_exact(w in 1_u32..8, h in 1_u32..5, seed: u64, from in 0_usize..5, to in 0_usize..5) {
        let (from, to) = (LAID[from], LAID[to]);
        // Sides that every layout can divide.
        let tile = noise(w * 2, h * 12, seed);
        let there = match laid(&tile, from, to) {
            Err(LayError::Already(_)) if from == to => return Ok(()),
            there => there.unwrap(),
        };
        for y in -40..40 {
            for x in -40..40 {
                prop_assert_eq!(on_plane(&tile.raster, from, x, y), on_plane(&there.raster, to, x, y));
            }
        }
        let back = laid(&there, to, from).unwrap();
        prop_assert_eq!(back.raster, tile.raster);
    }
}

#[test]
fn sixteen_bits_stay_sixteen_bits() {
    let mut dice = Dice(5);
    let samples: Vec<u16> = (0..12 * 8 * 4).map(|_| dice.next() as u16).collect();
    let tile = deep_tile(12, 8, samples.clone());
    let there = laid(&tile, Repeat::HalfDrop, Repeat::Block).unwrap();
    assert_eq!((there.raster.width(), there.raster.height()), (24, 8));
    // Two samples that are equal in 8 bits and not in 16 are two.
    let deep = there.deep.as_ref().unwrap();
    assert_eq!(deep.0[..12 * 4], samples[..12 * 4]);
    let lowered = &samples[4 * 12 * 4..][..12 * 4];
    assert_eq!(deep.0[12 * 4..24 * 4], *lowered, "the second column begins with the fifth row");
    let back = laid(&there, Repeat::Block, Repeat::HalfDrop).unwrap();
    assert_eq!((back.deep, back.raster), (tile.deep, tile.raster));
}

#[test]
fn the_smallest_tile_is_given_unless_another_is_wished() {
    // Four units of 5 x 6 in a tile of 10 x 12, laid as block.
    let unit = noise(5, 6, 3);
    let tile = tile(raster(10, 12, |x, y| unit.raster.wrapped(x.into(), y.into())));
    let as_block = lay(&tile, Repeat::Block, &wish(Repeat::Block), &Limits::default()).unwrap();
    assert_eq!(as_block.tile.raster, unit.raster);
    let size = |width, height| Lay { repeat: Repeat::Block, size: Some([width, height]) };
    let larger = lay(&tile, Repeat::Block, &size(15, 6), &Limits::default()).unwrap();
    assert_eq!((larger.tile.raster.width(), larger.tile.raster.height()), (15, 6));
    let no = lay(&tile, Repeat::Block, &size(14, 7), &Limits::default()).unwrap_err();
    assert_eq!(
        no.to_string(),
        "a tile of 14 x 7 px does not hold whole repeats as block; the nearest that does is 15 x 6 px, the smallest 5 x 6 px"
    );
}

#[test]
fn what_cannot_be_laid_says_why() {
    let odd = noise(9, 7, 1);
    let said = |repeat, to| laid(&odd, repeat, to).unwrap_err().to_string();
    assert_eq!(
        said(Repeat::HalfDrop, Repeat::Block),
        "the tile is 9 x 7 px and is laid as half-drop, which would move copies by parts of a pixel; export it with a height that can be divided by 2"
    );
    assert_eq!(
        said(Repeat::Brick, Repeat::Block),
        "the tile is 9 x 7 px and is laid as brick, which would move copies by parts of a pixel; export it with a width that can be divided by 2"
    );
    assert_eq!(
        said(Repeat::Across, Repeat::Block),
        "the repeat of the tile is across, which does not cover the plane, so there is no endless cloth to cut anew; name another with --repeat if that is not what the tile is meant for"
    );
    assert_eq!(
        said(Repeat::Block, Repeat::Block),
        "the tile is laid as block already, and there is no smaller one that makes the same cloth"
    );
    let narrow = Limits { max_side: 20, max_pixels: 200, ..Limits::default() };
    let over = |to| lay(&odd, Repeat::Block, &wish(to), &narrow).unwrap_err().to_string();
    assert_eq!(over(Repeat::QuarterDrop), "as quarter-drop the tile would be 9 x 28 px: a side may have 20 at most");
    let few = Limits { max_pixels: 100, ..narrow };
    let said = lay(&odd, Repeat::Block, &wish(Repeat::Brick), &few).unwrap_err().to_string();
    assert_eq!(
        said,
        "as brick the tile would be 18 x 7 px: with the tile beside it there is room for 0 million pixels"
    );
}

/// Terms of the discrete Fourier transform with h + k odd vanish in a centered cell (International Tables for
/// Crystallography, volume A, reflection conditions): a half-drop as block is one.
#[test]
fn a_half_drop_as_block_is_a_centered_cell() {
    let house = tempfile::tempdir().unwrap();
    let file = house.path().join("block.png");
    let block = laid(&noise(24, 36, 8), Repeat::HalfDrop, Repeat::Block).unwrap();
    fs::write(&file, encode_png(&block.raster, None).unwrap()).unwrap();
    let program = "
import sys
import numpy as np
from PIL import Image
art = np.asarray(Image.open(sys.argv[1])).astype(float)[:, :, 0]
terms = np.abs(np.fft.fft2(art))
h, k = np.mgrid[0:art.shape[0], 0:art.shape[1]]
odd = (h + k) % 2 == 1
print(art.shape, terms[odd].max() < 1e-9 * terms.max(), terms[~odd].min() > 1)
for move in [(18, 24), (18, -24), (0, 24), (18, 0)]:
    print(move, (np.roll(art, move, (0, 1)) == art).all())
";
    let said = desk::run_python(program, &[file.to_str().unwrap()]);
    assert_eq!(said, "(36, 48) True True\n(18, 24) True\n(18, -24) True\n(0, 24) False\n(18, 0) False\n");
}
