//! Area averages in linear light: rows of light in, sRGB codes out.
//!
//! Each output pixel is the exact mean of the rectangle it covers, with fractional coverage at the rims: no kernel
//! reaches over the tile's edge, so a reduced repeat stays a repeat. Knows no tiles and no layouts.

use crate::pixel::light;

/// Weights of one output pixel sum to this, so that a constant stays constant.
const ONE: u32 = 1 << 15;

/// Along one axis: which source pixels each output pixel covers, and by how much.
#[derive(Clone, Debug)]
pub struct Axis {
    /// First source pixel of each output pixel, and where its weights start.
    spans: Vec<(u32, u32)>,
    weights: Vec<u16>,
    source: u32,
    /// The whole number of source pixels in each output pixel, when there is one.
    whole: Option<u32>,
}

impl Axis {
    /// `count` output pixels, each covering `p / q` source pixels, from source pixel 0 on.
    ///
    /// For a whole tile of `p` pixels reduced to `q`: `Axis::new(p, q, q)`. Zeros are taken as 1.
    #[must_use]
    pub fn new(p: u32, q: u32, count: u32) -> Self {
        let (p, q) = (u64::from(p.max(1)), u64::from(q.max(1)));
        let mut spans = Vec::with_capacity(count as usize);
        let mut weights = Vec::new();
        for out in 0..u64::from(count) {
            let (from, until) = (out * p, (out + 1) * p);
            let (first, last) = (from / q, (until - 1) / q);
            spans.push((first as u32, weights.len() as u32));
            let mut given = 0;
            for pixel in first..=last {
                let covered = until.min((pixel + 1) * q) - from;
                let so_far = ((covered * u64::from(ONE) + p / 2) / p) as u32;
                weights.push((so_far - given) as u16);
                given = so_far;
            }
        }
        let source = (u64::from(count) * p).div_ceil(q) as u32;
        let whole = (p % q == 0).then_some((p / q) as u32);
        Self { spans, weights, source, whole }
    }

    /// How many output pixels there are.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.spans.len() as u32
    }

    /// How many source pixels are covered, a partly covered last one included.
    #[must_use]
    pub fn source(&self) -> u32 {
        self.source
    }

    fn span(&self, out: usize) -> (u32, &[u16]) {
        let (first, from) = self.spans[out];
        let until = self.spans.get(out + 1).map_or(self.weights.len(), |next| next.1 as usize);
        (first, &self.weights[from as usize..until])
    }
}

/// Averages a picture of `across.source()` by `down.source()` pixels into `across.count()` by `down.count()`.
///
/// `fill(y, row)` writes source row `y` as light (the fourth value of a pixel means nothing); it is asked for each row once,
/// in order. The answer is opaque RGBA codes, rows from the top.
pub fn reduce(across: &Axis, down: &Axis, fill: impl FnMut(u32, &mut [[u16; 4]])) -> Vec<u8> {
    let mut out = vec![255_u8; across.count() as usize * down.count() as usize * 4];
    // A sum of 256 values of 16 bits still fits 32; the whole-number path divides once, at the end.
    let whole = across.whole.zip(down.whole).filter(|(x, y)| x * y <= 256);
    let mut rows = out.chunks_exact_mut((across.count() as usize * 4).max(4));
    let mut columns = vec![[0; 4]; across.source() as usize];
    sums(across, down, whole.is_some(), fill, |sums| {
        let Some(pixels) = rows.next() else { return };
        match whole {
            Some((x, y)) => sum_whole(sums, x, y, pixels),
            None => {
                let codes = light::to_codes();
                let pixels = pixels.chunks_exact_mut(4);
                sum_weighted(sums, &mut columns, across, pixels, |pixel, light| {
                    for (code, light) in pixel[..3].iter_mut().zip(light) {
                        *code = codes[light as usize];
                    }
                });
            }
        }
    });
    out
}

/// The same means, of four channels, as light.
pub fn lights(across: &Axis, down: &Axis, fill: impl FnMut(u32, &mut [[u16; 4]])) -> Vec<[u16; 4]> {
    let mut out = vec![[0_u16; 4]; across.count() as usize * down.count() as usize];
    let mut rows = out.chunks_exact_mut((across.count() as usize).max(1));
    let mut columns = vec![[0; 4]; across.source() as usize];
    sums(across, down, false, fill, |sums| {
        let Some(pixels) = rows.next() else { return };
        let pixels = pixels.iter_mut();
        sum_weighted(sums, &mut columns, across, pixels, |pixel, light| *pixel = light.map(|light| light as u16));
    });
    out
}

/// Hands on, for each output row, its source rows summed: weighted, or each counted once where rows are `whole`.
fn sums(
    across: &Axis,
    down: &Axis,
    whole: bool,
    mut fill: impl FnMut(u32, &mut [[u16; 4]]),
    mut done: impl FnMut(&[[u32; 4]]),
) {
    let mut row = vec![[0_u16; 4]; across.source() as usize];
    let mut sums = vec![[0_u32; 4]; row.len()];
    let mut filled = None;
    for y in 0..down.count() as usize {
        let (first, weights) = down.span(y);
        for (i, (source, &weight)) in (first..).zip(weights).enumerate() {
            if filled != Some(source) {
                fill(source, &mut row);
                filled = Some(source);
            }
            // Multiplied as 16 by 16 bits, which every machine does many at a time.
            let weight = if whole { 1 } else { weight };
            let pairs = sums.as_flattened_mut().iter_mut().zip(row.as_flattened());
            match (i, weight) {
                (0, 1) => pairs.for_each(|(sum, &light)| *sum = u32::from(light)),
                (0, _) => pairs.for_each(|(sum, &light)| *sum = u32::from(light) * u32::from(weight)),
                (_, 1) => pairs.for_each(|(sum, &light)| *sum += u32::from(light)),
                (_, _) => pairs.for_each(|(sum, &light)| *sum += u32::from(light) * u32::from(weight)),
            }
        }
        done(&sums);
    }
}

/// Sums `x` columns of row sums over `y` rows and divides by their number.
fn sum_whole(sums: &[[u32; 4]], x: u32, y: u32, pixels: &mut [u8]) {
    let codes = light::to_codes();
    let area = x * y;
    // Exact for areas up to 256: the sum is below 2^24, and the reciprocal errs by less than 2^-40 of it.
    let reciprocal = (1_u64 << 40).div_ceil(u64::from(area));
    for (pixel, columns) in pixels.chunks_exact_mut(4).zip(sums.chunks_exact(x as usize)) {
        let total = columns.iter().fold([area / 2; 4], |total, column| [0, 1, 2, 3].map(|i| total[i] + column[i]));
        for (code, total) in pixel[..3].iter_mut().zip(total) {
            *code = codes[((u64::from(total) * reciprocal) >> 40) as usize];
        }
    }
}

/// Weighs the columns of row sums that are themselves weighted; `columns` is where these are kept as light.
fn sum_weighted<P>(
    sums: &[[u32; 4]],
    columns: &mut [[u16; 4]],
    across: &Axis,
    pixels: impl Iterator<Item = P>,
    mut set: impl FnMut(P, [u32; 4]),
) {
    // Light again, which fits 16 bits.
    for (column, sum) in columns.as_flattened_mut().iter_mut().zip(sums.as_flattened()) {
        *column = ((sum + ONE / 2) / ONE) as u16;
    }
    for (x, pixel) in pixels.enumerate() {
        let (first, weights) = across.span(x);
        let mut total = [ONE / 2; 4];
        for (column, &weight) in columns[first as usize..].iter().zip(weights) {
            let more: [u32; 4] = std::array::from_fn(|i| u32::from(column[i]) * u32::from(weight));
            total = std::array::from_fn(|i| total[i] + more[i]);
        }
        set(pixel, total.map(|total| total / ONE));
    }
}
