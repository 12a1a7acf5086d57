//! Crossing edges: how art moves along a pair of lines on its way across it.
//!
//! Takes four lines around a pair. Every place where the art changes along the lines votes how many pixels aside it goes
//! on beyond the pair, and how many lines further; votes that agree are a shift or missing lines, votes that scatter are
//! loose ends. Knows nothing of limits.

use super::line::Line;
use super::tally::Cells;

/// How far the blur along a line reaches to each side.
pub(super) const RADIUS: usize = 4;

/// A binomial blur, deviation 1.41 pixels: its weights, out of 256.
const BLUR: [u16; RADIUS + 1] = [70, 56, 28, 8, 1];

/// A place votes when it changes by this much a pixel along the lines, in 256ths of a level: rounding reaches half.
const LEAST_CHANGE: i32 = 192;

/// A vote counts no more than a change of this many 256ths a pixel: clear edges count alike, whatever their contrast.
const MOST_WEIGHT: i32 = 2048;

/// Weights are summed in units of this many 256ths of a level.
const WEIGHT_UNIT: i32 = 16;

/// Bins of a vote per pixel or line.
const BINS_PER_UNIT: f32 = 8.0;

/// Votes further than this from none fall into the last bins.
const FURTHEST: i32 = 8;

/// How many bins.
const BINS: usize = 2 * FURTHEST as usize * BINS_PER_UNIT as usize + 1;

/// An edge that goes on more than this many pixels aside does not go on. Hard edges jump a pixel now and then.
const LOOSE: f32 = 1.5;

/// An edge that goes on further aside than this many pixels votes for a side.
const ASIDE: f32 = 0.4;

/// The parts of a pair over which loose ends are counted.
pub(super) const PARTS: [usize; 5] = [1, 3, 6, 12, 24];

/// A line blurred along itself, in 256ths of a level, and which of its pixels count: `None` when all do.
pub(super) struct Soft {
    pub(super) channels: Vec<Vec<u16>>,
    counted: Option<Vec<u8>>,
}

impl Soft {
    /// Blurs a line; `counted` are its pixels that count.
    pub(super) fn new(line: &Line, counted: Option<&[u8]>) -> Self {
        let channels = line.channels.iter().map(|channel| soften(channel)).collect();
        Self { channels, counted: counted.map(shrunk) }
    }

    /// Whether nothing see-through is near a pixel.
    pub(super) fn counts(&self, at: usize) -> bool {
        self.counted.as_ref().and_then(|counted| counted.get(at)).is_none_or(|counted| *counted != 0)
    }
}

/// All sums are of weights that make 256 at most, so they fit 16 bits.
fn soften(values: &[u8]) -> Vec<u16> {
    let mut soft: Vec<u16> = values.iter().map(|value| u16::from(*value) * 256).collect();
    let Some(inner) = soft.get_mut(RADIUS..values.len().saturating_sub(RADIUS)) else { return soft };
    let from = |first: usize| &values[first..first + inner.len()];
    let near: [&[u8]; 2 * RADIUS + 1] = std::array::from_fn(from);
    for (at, out) in inner.iter_mut().enumerate() {
        let pair = |by: usize| u16::from(near[RADIUS - by][at]) + u16::from(near[RADIUS + by][at]);
        *out = BLUR[0] * u16::from(near[RADIUS][at])
            + BLUR[1] * pair(1)
            + BLUR[2] * pair(2)
            + BLUR[3] * pair(3)
            + BLUR[4] * pair(4);
    }
    soft
}

/// Leaves out what the blur carries see-through pixels into.
fn shrunk(counted: &[u8]) -> Vec<u8> {
    let mut left = counted.to_vec();
    for (at, _) in counted.iter().enumerate().filter(|(_, counts)| **counts == 0) {
        let end = (at + RADIUS + 2).min(left.len());
        left[at.saturating_sub(RADIUS + 1)..end].fill(0);
    }
    left
}

/// What the art does at one pair of lines.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Crossing {
    /// How much crosses: the sum of all weights.
    pub(super) content: f64,
    /// By how many pixels the art of the line after the pair lies further along than that of the line before leads to:
    /// the median vote.
    pub(super) shift: f64,
    /// The weight of votes for one side beyond [`ASIDE`], less that of votes for the other.
    pub(super) aside: f64,
    /// How much moves aside from line to line: the sum of weights of the votes for `advance`.
    pub(super) slant: f64,
    /// By how many lines more than one the art advances across the pair: the median vote.
    pub(super) advance: f64,
    /// The largest weight of loose ends over each of [`PARTS`].
    pub(super) loose: [f64; PARTS.len()],
}

/// Counts votes; reused from pair to pair.
pub(super) struct Voting {
    cells: Cells,
    /// The cell of each place.
    cell_of: Vec<u32>,
    /// The places that change enough to vote.
    voters: Vec<u32>,
    /// Of one channel, place by place: see [`Self::vote`].
    along: Vec<i32>,
    step: Vec<i32>,
    around: Vec<i32>,
    shift: Vec<u32>,
    advance: Vec<u32>,
    aside: i64,
    loose: Vec<u32>,
}

impl Voting {
    /// For pairs of `length` pixels.
    pub(super) fn new(length: usize) -> Self {
        let cells = Cells::new(length);
        let width = |cell: usize| cells.start(cell + 1) - cells.start(cell);
        let cell_of = (0..cells.count()).flat_map(|cell| std::iter::repeat_n(cell as u32, width(cell))).collect();
        let voters = vec![0; length];
        let [along, step, around] = [(); 3].map(|()| vec![0; length]);
        let (shift, advance, loose) = (vec![0; BINS], vec![0; BINS], vec![0; cells.count()]);
        Self { cells, cell_of, voters, along, step, around, shift, advance, aside: 0, loose }
    }

    /// What the art does at the pair in the middle of four lines.
    pub(super) fn measure(&mut self, lines: [&Soft; 4]) -> Crossing {
        self.shift.fill(0);
        self.advance.fill(0);
        self.aside = 0;
        self.loose.fill(0);
        let masked = lines.iter().any(|line| line.counted.is_some());
        let [before, near, far, after] = lines.map(|line| &line.channels);
        for (((before, near), far), after) in before.iter().zip(near).zip(far).zip(after) {
            self.differ([before, near, far, after]);
            for voter in 0..self.find_voters(near.len()) {
                let at = self.voters[voter] as usize;
                if masked && lines.iter().filter_map(|line| line.counted.as_ref()).any(|line| line[at] == 0) {
                    continue;
                }
                self.vote(self.cell_of[at] as usize, self.along[at], self.step[at], self.around[at]);
            }
        }
        let sum = |bins: &[u32]| bins.iter().map(|weight| u64::from(*weight)).sum::<u64>();
        let (content, slant) = (sum(&self.shift), sum(&self.advance));
        Crossing {
            content: content as f64,
            shift: median(&self.shift, content),
            aside: self.aside.unsigned_abs() as f64,
            slant: slant as f64,
            advance: median(&self.advance, slant),
            loose: PARTS.map(|part| self.largest_loose(part)),
        }
    }

    /// What changes at every place of one channel: four times the change along the lines; the step across the pair; twice
    /// the mean of the steps before and after it.
    fn differ(&mut self, lines: [&[u16]; 4]) {
        let length = lines.iter().map(|line| line.len()).min().unwrap_or(0);
        let [before, near, far, after] = lines.map(|line| &line[..length]);
        let Some(inner) = length.checked_sub(2) else { return };
        let level = |line: &[u16], at: usize| i32::from(line[at]);
        let [near_before, near_after, far_before, far_after] = [&near[..inner], &near[2..], &far[..inner], &far[2..]];
        for (at, along) in self.along[1..length - 1].iter_mut().enumerate() {
            *along = level(near_after, at) - level(near_before, at) + level(far_after, at) - level(far_before, at);
        }
        let (steps, arounds) = (&mut self.step[..length], &mut self.around[..length]);
        for at in 0..length {
            steps[at] = level(far, at) - level(near, at);
            arounds[at] = level(near, at) - level(before, at) + level(after, at) - level(far, at);
        }
    }

    /// Lists the places that change enough to vote, and says how many there are. Written without a branch, since nobody can
    /// foresee which do.
    fn find_voters(&mut self, length: usize) -> usize {
        let mut count = 0;
        let inner = RADIUS + 1..length.saturating_sub(RADIUS + 1);
        for (at, along) in self.along.iter().enumerate().take(inner.end).skip(inner.start) {
            self.voters[count] = at as u32;
            count += usize::from(along.abs() >= 4 * LEAST_CHANGE);
        }
        count
    }

    /// Takes the votes of one pixel of one channel that changes enough, of what [`Self::differ`] says.
    #[inline]
    fn vote(&mut self, cell: usize, along: i32, step: i32, around: i32) {
        let weight = ((along.abs() / 4).min(MOST_WEIGHT) / WEIGHT_UNIT) as u32;
        // Twice the step across the pair beyond the mean of the steps before and after it.
        let aside = -2.0 * (2 * step - around) as f32 / along as f32;
        self.shift[bin(aside)] += weight;
        // From here on without branches, since nobody can foresee the votes.
        self.aside += i64::from(weight) * (i64::from(aside > ASIDE) - i64::from(aside < -ASIDE));
        self.loose[cell] += weight * u32::from(aside.abs() > LOOSE);
        // What crosses straight tells nothing of the distance, and an edge along the lines does not cross.
        let slanted =
            (8 * around.abs() >= along.abs()) & (around.abs() <= 2 * along.abs()) & (around.abs() >= 2 * LEAST_CHANGE);
        let weight = ((around.abs() / 2).min(MOST_WEIGHT) / WEIGHT_UNIT) as u32;
        self.advance[bin((2 * step) as f32 / around as f32 - 1.0)] += weight * u32::from(slanted);
    }

    /// The largest weight of loose ends over 1/`part` of the pair.
    fn largest_loose(&self, part: usize) -> f64 {
        let (count, width) = (self.cells.count(), (self.cells.count() / part).max(1));
        let mut sum: u32 = self.loose[..width].iter().sum();
        let mut largest = sum;
        if part > 1 {
            let entering = self.loose[width..].iter().chain(&self.loose);
            for (leaves, enters) in self.loose[..count].iter().zip(entering) {
                sum = sum + enters - leaves;
                largest = largest.max(sum);
            }
        }
        f64::from(largest)
    }
}

/// The bin of a vote; of none, where nothing was divided by nothing, the first.
#[inline]
fn bin(vote: f32) -> usize {
    let furthest = FURTHEST as f32;
    ((vote.clamp(-furthest, furthest) + furthest) * BINS_PER_UNIT + 0.5) as usize
}

/// The weighted median over bins of which the weights sum up to `total`, between bins by their weights; 0 without votes.
fn median(bins: &[u32], total: u64) -> f64 {
    let (half, mut below) = (total as f64 / 2.0, 0.0);
    for (bin, weight) in bins.iter().enumerate().filter(|(_, weight)| **weight > 0) {
        let weight = f64::from(*weight);
        if below + weight >= half {
            let inside = (half - below) / weight - 0.5;
            return (bin as f64 + inside) / f64::from(BINS_PER_UNIT) - f64::from(FURTHEST);
        }
        below += weight;
    }
    0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Edges of many places and slants, seen on line `line`, each a ramp of two pixels.
    fn art(line: f32, aside: f32) -> Soft {
        let values = (0..600).map(|x| {
            let mut value = 100.0f32;
            for edge in 0..19 {
                let place = 15.0 + 31.0 * edge as f32 + 0.4 * line * ((edge * 5 % 7) as f32 - 3.0) + aside;
                let sign = if edge % 2 == 0 { 60.0 } else { -60.0 };
                value += sign * ((x as f32 - place) / 2.0 + 0.5).clamp(0.0, 1.0);
            }
            value.round() as u8
        });
        Soft::new(&Line { channels: vec![values.collect()] }, None)
    }

    #[test]
    fn displaced_art_votes_for_its_shift_and_missing_lines_for_their_number() {
        let mut voting = Voting::new(600);
        let mut crossing = |last: f32, aside: f32| {
            let lines = [art(-1.0, 0.0), art(0.0, 0.0), art(last, aside), art(last + 1.0, aside)];
            voting.measure([&lines[0], &lines[1], &lines[2], &lines[3]])
        };
        let sound = crossing(1.0, 0.0);
        assert!(sound.shift.abs() < 0.1 && sound.advance.abs() < 0.1 && sound.loose[0] == 0.0, "{sound:?}");
        for aside in [-2.0, -1.0, 1.0, 2.0] {
            let moved = crossing(1.0, aside);
            assert!((moved.shift - f64::from(aside)).abs() < 0.25, "{aside}: {moved:?}");
        }
        for lines in [1.0, 2.0] {
            let missing = crossing(1.0 + lines, 0.0);
            assert!((missing.advance - f64::from(lines)).abs() < 0.25 && missing.shift.abs() < 0.2, "{missing:?}");
        }
        let unrelated = crossing(1.0, 13.0);
        assert!(unrelated.loose[0] > 0.6 * unrelated.content, "{unrelated:?}");
    }

    #[test]
    fn weighted_median_by_hand() {
        let mut bins = vec![0; BINS];
        assert_eq!(median(&bins, 0), 0.0);
        bins[bin(0.0)] = 4;
        assert_eq!(median(&bins, 4), 0.0);
        bins[bin(1.0)] = 12;
        // Half of 16 is 8, a third into the bin of 1, which reaches from 15/16 to 17/16.
        assert!((median(&bins, 16) - (15.0 / 16.0 + 0.125 / 3.0)).abs() < 1e-9);
        assert_eq!((bin(-100.0), bin(100.0)), (0, BINS - 1));
    }
}
