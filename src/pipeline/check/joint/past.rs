//! A lossy past: whether pixels tell of a JPEG that was saved in another format since, by blocks of 8 x 8 or by halved chroma.
//!
//! Takes a raster. Knows nothing of joints; only asked where one would be held.

use super::line::luma;
use crate::tile::Raster;

/// Samples along a side of a block (ITU-T T.81, A.1.1).
const BLOCK: usize = 8;

/// Larger steps are the art's own, in levels of luma.
const FAINT: u8 = 12;

/// Faint steps between blocks must be more often than between any other two lines, by one in this many.
const MORE: u64 = 6;

/// Fewer faint steps than this between blocks tell nothing.
const LEAST: u64 = 200;

/// A change of color this strong over four pixels is an edge, in levels of red or blue less luma.
const EDGE: i32 = 24;

/// One pixel that wavers for so many steps is many.
const WAVERING: u64 = 4;

/// One pixel in so many that wavers is few: a coder rings in every block that holds an edge.
const SPARSE: u64 = 100;

/// So many more squares must be clean where blocks lie, and a quarter more.
const LEAST_CLEAN: usize = 12;

/// Of edges at most one in so many is sharp inside a cell of halved chroma; clipping at black and white leaves a few.
const SHARP: u64 = 12;

/// Where light has fewer sharp edges than one to so many edges of color, all is soft and nothing is told.
const CLEAR: u64 = 24;

/// Whether a tile tells of a JPEG.
#[must_use]
pub fn lossy(raster: &Raster) -> bool {
    shows_blocks(raster) || shows_halved_chroma(raster) || fills_blocks(raster)
}

/// Whether edges of color are never sharp between two pixels that share a sample of halved chroma (ITU-T T.81, A.1.1: 4:2:0),
/// which any drawing has as often as between others. Light stays sharp, so soft art is not meant.
fn shows_halved_chroma(raster: &Raster) -> bool {
    let (mut edges, mut sharp, mut clear) = (0u64, 0u64, 0u64);
    for y in 0..raster.height() {
        let row = raster.row(y).as_chunks::<4>().0;
        for four in row.windows(4).skip(1).step_by(2) {
            let tints =
                [0, 2].map(|channel| [0, 1, 2, 3].map(|at| i32::from(four[at][channel]) - i32::from(luma(&four[at]))));
            for [a, b, c, d] in tints {
                if (a - d).abs() >= EDGE {
                    edges += 1;
                    sharp += u64::from((b - c).abs() * 4 >= (a - d).abs() * 3);
                }
            }
            let [a, b, c, d] = [0, 1, 2, 3].map(|at| i32::from(luma(&four[at])));
            clear += u64::from((a - d).abs() >= EDGE && (b - c).abs() * 4 >= (a - d).abs() * 3);
        }
    }
    edges >= LEAST && sharp * SHARP <= edges && clear * CLEAR > edges
}

/// Whether pixels waver faintly beside one another, as a coder's ringing, grain or paper makes them: many are above or below
/// both their neighbors by a few levels, for each step that can be seen. Drawn edges, smoothed or not, and shades do not waver.
pub(super) fn wavers(raster: &Raster) -> bool {
    let (mut peaks, mut dips, mut steps, mut pixels) = (0u64, 0u64, 0u64, 0u64);
    for y in (0..raster.height()).step_by(3) {
        // The plain mean: whether pixels waver must not hang on the order of channels.
        let mean = |pixel: &[u8; 4]| (pixel[..3].iter().map(|value| u16::from(*value)).sum::<u16>() / 3) as u8;
        let light: Vec<u8> = raster.row(y).as_chunks::<4>().0.iter().map(mean).collect();
        for three in light.windows(3) {
            let [before, after] = [three[0].abs_diff(three[1]), three[2].abs_diff(three[1])];
            let faint = |step: u8| (1..=FAINT).contains(&step);
            let wavers = faint(before) && faint(after);
            peaks += u64::from(wavers && three[1] > three[0] && three[1] > three[2]);
            dips += u64::from(wavers && three[1] < three[0] && three[1] < three[2]);
            steps += u64::from(after > FAINT);
        }
        pixels += u64::from(raster.width());
    }
    // The middle of a shaded thread is a peak or a dip, each time the same.
    let wavers = 2 * peaks.min(dips);
    wavers * WAVERING > steps && wavers * SPARSE > pixels
}

/// Whether faint steps fill whole blocks: a coder rings all over a block that holds an edge and leaves the next one clean, so
/// clean squares are far more frequent where its blocks lie than half a block aside.
fn fills_blocks(raster: &Raster) -> bool {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    let counts = [0, BLOCK / 2].map(|aside| {
        let (wide, high) = (width.saturating_sub(aside) / BLOCK, height.saturating_sub(aside) / BLOCK);
        let (mut clean, mut squares, mut marked) = (0usize, 0usize, vec![false; wide]);
        for square in 0..high {
            marked.fill(false);
            for y in aside + square * BLOCK..aside + (square + 1) * BLOCK {
                let row = raster.row(y as u32).as_chunks::<4>().0;
                for (marked, pixels) in marked.iter_mut().zip(row[aside..].chunks_exact(BLOCK)) {
                    *marked = *marked
                        || pixels.windows(2).any(|two| (1..=FAINT).contains(&luma(&two[0]).abs_diff(luma(&two[1]))));
                }
            }
            clean += marked.iter().filter(|marked| !**marked).count();
            squares += wide;
        }
        (clean, squares)
    });
    let [(clean, squares), (aside, squares_aside)] = counts;
    clean < squares && clean * squares_aside > aside * squares / 4 * 5 + LEAST_CLEAN * squares
}

/// Whether faint steps that stand alone are most frequent where blocks meet, both across and down.
fn shows_blocks(raster: &Raster) -> bool {
    let (width, height) = (raster.width() as usize, raster.height() as usize);
    if width < 4 * BLOCK || height < 4 * BLOCK {
        return false;
    }
    let line = |y: usize| -> Vec<u8> { raster.row(y as u32).as_chunks::<4>().0.iter().map(|p| luma(p)).collect() };
    let (mut across, mut down) = ([0u64; BLOCK], [0u64; BLOCK]);
    let mut rows: [Vec<u8>; 4] = [0, 1, 2, 3].map(line);
    for y in 3..height {
        if y > 3 {
            rows.rotate_left(1);
            rows[3] = line(y);
        }
        let [a, b, c, d] = &rows;
        // The pair of rows y - 2 and y - 1; the count of a pair goes by the line before it.
        let faint = a.iter().zip(b).zip(c).zip(d).filter(|(((a, b), c), d)| alone([**a, **b, **c, **d])).count();
        down[(y - 2) % BLOCK] += faint as u64;
        for (x, four) in d.windows(4).enumerate() {
            across[(x + 1) % BLOCK] += u64::from(alone([four[0], four[1], four[2], four[3]]));
        }
    }
    blocks(&across, width) && blocks(&down, height)
}

/// Whether the step between the middle two of four values is faint and stands out from both its neighbors.
fn alone([a, b, c, d]: [u8; 4]) -> bool {
    let step = b.abs_diff(c);
    let beside = a.abs_diff(b).max(c.abs_diff(d));
    step > beside && step <= FAINT
}

/// Whether the pairs over a block border, which begin on its last line, are clearly ahead of all others.
fn blocks(counts: &[u64; BLOCK], lines: usize) -> bool {
    // How many of the pairs 1 to lines - 3 begin on each line of a block.
    let pairs = |place: usize| (1..lines - 2).filter(|line| line % BLOCK == place).count() as u64;
    let border = (counts[BLOCK - 1], pairs(BLOCK - 1));
    border.0 >= LEAST
        && (0..BLOCK - 1).all(|place| border.0 * pairs(place) * MORE > counts[place] * border.1 * (MORE + 1))
}
