//! Stripes: whether a tile is one set of straight, regular stripes, at whatever angle, and what they are like.
//!
//! Takes a raster, yields the stripes or nothing. In a tile that repeats, stripes go round a whole number of times across
//! and down; lines of pixels tell these numbers, and one phase made of both must then explain nearly all light. Integers
//! throughout.

use crate::pixel::light;
use crate::tile::Raster;

/// Rows and columns looked at.
const LINES: u32 = 24;

/// Parts of one period.
const BINS: usize = 64;

/// Rows that must tell the same number of stripes, in percent; columns alike.
const AGREE: usize = 80;

/// The part of the variance of light that the stripes must explain, in percent: a checkerboard's largest part is 41.
const EXPLAINED: u128 = 75;

/// The least mean deviation of light over its mean, in percent: even bars of a contrast have just that.
const LEAST_DEVIATION: u64 = 30;

/// Straight, regular stripes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stripes {
    /// Stripes, light and dark counted as one, from the left edge to the right.
    pub across: u32,
    /// The same from the top edge to the bottom.
    pub down: u32,
    /// Light of the light parts, 0 to 65535.
    pub light: u16,
    /// Light of the dark parts.
    pub dark: u16,
    /// Part of a period that is light, in percent.
    pub duty: u32,
}

/// The stripes of a tile, on white paper where it is see-through.
#[must_use]
pub fn stripes(raster: &Raster) -> Option<Stripes> {
    let (width, height) = (raster.width(), raster.height());
    let rows: Vec<(u32, Vec<u16>)> = spread(height)
        .map(|y| (y, raster.row(y).as_chunks::<4>().0.iter().map(|&pixel| shade(pixel)).collect()))
        .collect();
    let columns = || {
        spread(width)
            .map(|x| (x, (0..height).map(|y| shade(raster.pixel(x, y))).collect()))
            .collect::<Vec<(u32, Vec<u16>)>>()
    };
    let levels = Levels::of(&rows).filter(Levels::apart)?;
    let across = agreed(&rows, &levels)?;
    let columns = columns();
    let down = agreed(&columns, &levels)?;
    if across + down == 0 {
        return None;
    }
    let signs: &[bool] = if across == 0 || down == 0 { &[true] } else { &[true, false] };
    signs.iter().find_map(|&rising| {
        let mut folded = Folded::default();
        let phase = |x: u32, y: u32| {
            let right = u64::from(across) * u64::from(x) * u64::from(height);
            let below = u64::from(down) * u64::from(y) * u64::from(width);
            let whole = u64::from(width) * u64::from(height);
            let turn = if rising { right + below } else { right + whole * u64::from(down) - below };
            ((turn % whole) as u128 * BINS as u128 / u128::from(whole)) as usize
        };
        for (y, row) in &rows {
            row.iter().zip(0..).for_each(|(&light, x)| folded.add(phase(x, *y), light));
        }
        for (x, column) in &columns {
            column.iter().zip(0..).for_each(|(&light, y)| folded.add(phase(*x, y), light));
        }
        folded.stripes(across, down)
    })
}

/// Light of a pixel over white paper: the luminance weights of IEC 61966-2-1, Y = 0.2126 R + 0.7152 G + 0.0722 B.
fn shade([red, green, blue, alpha]: [u8; 4]) -> u16 {
    let of = light::of_codes();
    let [red, green, blue] = [red, green, blue].map(|code| {
        let own = of[usize::from(code)];
        u32::from(if alpha == 255 { own } else { light::over(own, alpha, light::FULL) })
    });
    ((2126 * red + 7152 * green + 722 * blue) / 10_000) as u16
}

/// Places along a side, spread by the golden section so that no regular design lines up with them.
fn spread(side: u32) -> impl Iterator<Item = u32> {
    (0..LINES.min(side)).map(move |i| ((u64::from(i.wrapping_mul(0x9E37_79B9)) * u64::from(side)) >> 32) as u32)
}

/// The mean light of some lines and its mean deviation.
struct Levels {
    mean: u64,
    deviation: u64,
}

impl Levels {
    fn of(lines: &[(u32, Vec<u16>)]) -> Option<Self> {
        let all = || lines.iter().flat_map(|(_, line)| line).map(|&light| u64::from(light));
        let count = lines.iter().map(|(_, line)| line.len() as u64).sum::<u64>();
        let mean = all().sum::<u64>().checked_div(count)?;
        let deviation = all().map(|light| light.abs_diff(mean)).sum::<u64>() / count;
        Some(Self { mean, deviation })
    }

    fn apart(&self) -> bool {
        self.deviation * 100 >= self.mean * LEAST_DEVIATION
    }
}

/// The number of periods around a line on which nearly all lines agree.
fn agreed(lines: &[(u32, Vec<u16>)], levels: &Levels) -> Option<u32> {
    let mut counts: Vec<u32> = lines.iter().map(|(_, line)| periods(line, levels)).collect();
    counts.sort_unstable();
    let median = counts[counts.len() / 2];
    let same = counts.iter().filter(|&&count| count == median).count();
    (same * 100 >= counts.len() * AGREE).then_some(median)
}

/// How often light rises around a line that closes on itself; it must pass half a deviation on both sides of the mean.
fn periods(line: &[u16], levels: &Levels) -> u32 {
    let (low, high) = (levels.mean - levels.deviation.min(levels.mean) / 2, levels.mean + levels.deviation / 2);
    let side = |&light: &u16| match u64::from(light) {
        light if light > high => Some(true),
        light if light < low => Some(false),
        _ => None,
    };
    let mut before = line.iter().rev().find_map(side);
    let mut rises = 0;
    for now in line.iter().filter_map(side) {
        rises += u32::from(now && before == Some(false));
        before = Some(now);
    }
    rises
}

/// Light by its place in a period.
struct Folded {
    counts: [u64; BINS],
    sums: [u64; BINS],
    squares: u64,
}

impl Default for Folded {
    fn default() -> Self {
        Self { counts: [0; BINS], sums: [0; BINS], squares: 0 }
    }
}

impl Folded {
    fn add(&mut self, bin: usize, light: u16) {
        self.counts[bin] += 1;
        self.sums[bin] += u64::from(light);
        self.squares += u64::from(light) * u64::from(light);
    }

    /// The stripes, if the place in the period explains the light.
    fn stripes(&self, across: u32, down: u32) -> Option<Stripes> {
        let count = u128::from(self.counts.iter().sum::<u64>());
        let sum = u128::from(self.sums.iter().sum::<u64>());
        // Sums of squares about the mean, times the count: whole numbers.
        let total = count * u128::from(self.squares) - sum * sum;
        let bins = self.counts.iter().zip(&self.sums).filter(|(count, _)| **count > 0);
        let within: u128 = bins.clone().map(|(&n, &s)| count * u128::from(s) * u128::from(s) / u128::from(n)).sum();
        let explained = within.saturating_sub(sum * sum);
        if total == 0 || explained * 100 < total * EXPLAINED {
            return None;
        }
        let means: Vec<u16> = bins.map(|(&n, &s)| (s / n) as u16).collect();
        let mut sorted = means.clone();
        sorted.sort_unstable();
        let (dark, light) = (sorted[sorted.len() / 8], sorted[sorted.len() - 1 - sorted.len() / 8]);
        let middle = dark / 2 + light / 2;
        let duty = means.iter().filter(|&&mean| mean > middle).count() as u32 * 100 / means.len() as u32;
        Some(Stripes { across, down, light, dark, duty })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(width: u32, height: u32, light: impl Fn(u32, u32) -> bool) -> Raster {
        let code = |x, y| if light(x, y) { [240, 240, 230, 255] } else { [20, 30, 60, 255] };
        Raster::new(
            width,
            height,
            (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).flat_map(|(x, y)| code(x, y)).collect(),
        )
        .unwrap()
    }

    fn found(raster: &Raster) -> Option<(u32, u32, u32)> {
        stripes(raster).map(|stripes| (stripes.across, stripes.down, stripes.duty))
    }

    #[test]
    fn stripes_are_counted_at_any_angle() {
        assert_eq!(found(&drawn(240, 160, |x, _| x % 20 < 10)), Some((12, 0, 50)));
        assert_eq!(found(&drawn(240, 160, |_, y| y % 16 < 4)).map(|found| (found.0, found.1)), Some((0, 10)));
        for rising in [true, false] {
            let slanted = drawn(240, 160, |x, y| (2 * x + if rising { 3 * y } else { 3 * (160 - y) }) % 40 < 20);
            let (across, down, duty) = found(&slanted).unwrap();
            assert_eq!((across, down), (12, 12));
            assert!((47..=53).contains(&duty), "{duty}");
        }
    }

    #[test]
    fn what_is_not_one_set_of_stripes_is_none() {
        assert_eq!(found(&drawn(240, 160, |x, y| (x / 10 + y / 10) % 2 == 0)), None, "a checkerboard");
        assert_eq!(found(&drawn(240, 160, |x, y| x % 20 < 10 || y % 20 < 10)), None, "a window check");
        assert_eq!(found(&drawn(240, 160, |_, _| true)), None, "plain");
        assert_eq!(found(&drawn(240, 160, |x, y| (x % 24).pow(2) + (y % 20).pow(2) < 100)), None, "dots");
        assert_eq!(
            found(&drawn(240, 160, |x, _| [7, 60, 63, 120, 140, 143, 200].iter().filter(|&&edge| x > edge).count()
                % 2
                == 0)),
            None,
            "uneven"
        );
    }
}
