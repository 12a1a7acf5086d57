//! Together: all that was measured at a pair of lines as one number.
//!
//! A joint that was cut is somewhat odd in many ways, and beyond a limit of its own in none of them; a pair inside is the
//! oddest of all in one way or another by chance, hardly ever in several. Takes pairs that were measured in every way;
//! knows nothing of lines and tiles.

use super::crossing::{self, Crossing};
use super::customary::Departures;
use super::limit::limit_at;
use super::passage::Passage;
use super::rare::{self, Rarity};
use super::reading::Reading;
use super::tally::{Statistic, TALLIED};
use super::uneven;

/// Accepted chance that one sound joint is beyond its limit, under the model of `limit::margin`. Tails of a sum of squares
/// are shorter than the model's: inside sound tiles of 600 lines the oddest pair was this far from the next once in thirty
/// thousand pairs.
const FALSE_ALARM: f64 = 1e-4;

/// The same for a sum over only two ways, which is as long in the tail as each of them.
const FALSE_ALARM_OF_TWO: f64 = 1e-5;

/// Loose ends of this share of what usually crosses are no more than chance.
pub(super) const LOOSE_FLOOR: f64 = 0.03;

/// How many ways there are to be odd, and how many of them, the first, are of how the art goes on.
const WAYS: usize = 9;
const OF_COURSE: usize = 7;

/// A pair of lines, measured in every way.
#[derive(Clone, Debug)]
pub(super) struct Whole {
    /// In the order of [`Statistic::TALLIED`].
    pub(super) excess: [f64; TALLIED],
    pub(super) crossing: Crossing,
    pub(super) passage: Passage,
    /// In the order of [`Statistic::OF_CUSTOM`]; nothing where the art has no custom.
    pub(super) departs: Departures,
    /// Over [`rare::PARTS`].
    pub(super) rare: Rarity,
    /// Over [`uneven::PARTS`].
    pub(super) uneven: [f64; uneven::PARTS.len()],
}

/// One measure: its value at a pair, and a floor of about what rounding alone can do to it.
type Measure = (Box<dyn Fn(&Whole) -> f64>, f64);

/// How odd a joint is beside pairs inside, in squares of what the oddest pair does in each way: of measures that say much the
/// same, the one that is oddest speaks. In the order of [`Statistic::TOGETHER`]: a joint that is odd in a few ways is lost
/// among all of them, so some are asked by themselves.
pub(super) fn readings(joint: &Whole, inside: &[Whole]) -> [Reading; Statistic::TOGETHER.len()] {
    let content = middle(inside.iter().map(|pair| pair.crossing.content).collect());
    let parts: Vec<(f64, Vec<f64>)> =
        ways(content).into_iter().map(|way| part_of_oddest(&way, joint, inside)).collect();
    let asked = [(0..OF_COURSE, FALSE_ALARM), (OF_COURSE..WAYS, FALSE_ALARM_OF_TWO), (0..WAYS, FALSE_ALARM)];
    std::array::from_fn(|at| {
        let (ways, chance) = asked[at].clone();
        let (mut odd, mut odd_inside) = (0.0, vec![0.0; inside.len()]);
        for (part, parts_inside) in &parts[ways] {
            odd += part * part;
            odd_inside.iter_mut().zip(parts_inside).for_each(|(odd, part)| *odd += part * part);
        }
        let statistic = Statistic::TOGETHER[at];
        let limit = limit_at(chance, &mut odd_inside, inside.len(), statistic.floor());
        Reading { statistic, joint: odd, inside: limit.most, limit: limit.limit }
    })
}

/// In one way, how odd the joint and every pair inside are as parts of what the oddest pair inside does beyond the usual.
fn part_of_oddest(way: &[Measure], joint: &Whole, inside: &[Whole]) -> (f64, Vec<f64>) {
    let (mut most, mut most_inside) = (0.0f64, vec![0.0f64; inside.len()]);
    for (value, floor) in way {
        let values: Vec<f64> = inside.iter().map(value).collect();
        let largest = values.iter().copied().fold(0.0, f64::max);
        let usual = middle(values.clone());
        let part = |value: f64| (value - usual) / (largest - usual + floor);
        most = most.max(part(value(joint)));
        most_inside.iter_mut().zip(&values).for_each(|(most, value)| *most = most.max(part(*value)));
    }
    (most, most_inside)
}

/// The ways to be odd, each with its measures, where `content` usually crosses.
fn ways(content: f64) -> [Vec<Measure>; WAYS] {
    let excess = (0..TALLIED).map(|at| measure(Statistic::TALLIED[at].floor(), move |pair| pair.excess[at]));
    let loose = (0..crossing::PARTS.len())
        .map(|at| measure(LOOSE_FLOOR * content + Statistic::LOOSE[at].floor(), move |pair| pair.crossing.loose[at]));
    // `Passage::values` holds ends, how few pass, and what goes on equally far aside.
    let passage = |at: usize| measure(Statistic::OF_CONTOURS[at].floor(), move |pair| pair.passage.values()[at]);
    let departs = (0..Statistic::OF_CUSTOM.len())
        .map(|at| measure(Statistic::OF_CUSTOM[at].floor(), move |pair| pair.departs[at]));
    let rare = (0..rare::PARTS.len()).map(|at| measure(rare::FLOOR, move |pair| pair.rare[at]));
    let uneven = (0..uneven::PARTS.len()).map(|at| measure(uneven::FLOOR, move |pair| pair.uneven[at]));
    let aside = move |pair: &Whole| {
        let crossing = &pair.crossing;
        crossing.aside / crossing.content.max(content).max(1.0)
    };
    [
        excess.collect(),
        loose.collect(),
        (0..4).map(passage).collect(),
        (4..6).map(passage).collect(),
        vec![passage(6)],
        departs.collect(),
        vec![measure(Statistic::Aside.floor(), aside)],
        rare.collect(),
        uneven.collect(),
    ]
}

fn measure(floor: f64, value: impl Fn(&Whole) -> f64 + 'static) -> Measure {
    (Box::new(value), floor)
}

/// The median; 0 of nothing.
pub(super) fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A pair that does little in every way, a bit of this and that by its number.
    fn pair(number: usize) -> Whole {
        let bit = |of: usize, most: f64| if number.is_multiple_of(of) { most } else { 0.0 };
        let excess = std::array::from_fn(|at| bit(37, Statistic::TALLIED[at].floor() * 4.0));
        let loose = std::array::from_fn(|_| bit(41, 160.0));
        let crossing = Crossing { content: 1000.0, aside: bit(43, 200.0), loose, ..Crossing::default() };
        let passage = Passage { ends: [bit(47, 4.0); 4], pass: [20.0 - bit(53, 5.0), 6.0], ..Passage::default() };
        Whole {
            excess,
            crossing,
            passage,
            departs: [bit(59, 256.0); 3],
            rare: [bit(61, 48.0); 3],
            uneven: [bit(67, 1.2); 2],
        }
    }

    fn inside() -> Vec<Whole> {
        (1..600).map(pair).collect()
    }

    #[test]
    fn a_pair_that_is_the_oddest_in_one_way_is_no_joint_that_was_cut() {
        for number in [37, 41, 43, 47, 53, 59, 61, 67] {
            let readings = readings(&pair(number), &inside());
            assert!(!readings.iter().any(Reading::beyond), "{number}: {readings:?}");
        }
    }

    #[test]
    fn a_joint_that_is_as_odd_as_the_oddest_in_every_way_is_beyond() {
        let joint = Whole { passage: Passage { aside: 3.0, ..pair(47).passage }, ..pair(0) };
        let [course, figures, all] = readings(&joint, &inside());
        assert!(course.beyond() && all.beyond(), "{course:?}, {all:?}");
        assert!(!figures.beyond(), "two ways at once happen by chance: {figures:?}");
    }

    #[test]
    fn nothing_inside_says_nothing() {
        assert!(!readings(&pair(0), &[]).iter().any(Reading::beyond));
    }
}
