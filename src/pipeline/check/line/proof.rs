//! Which lines are proven to be merged see-through lines, and which only look like it.
//!
//! Takes a line looked at closely and the papers to think of, yields what it is. In doubt it is art.

use super::course::{Course, Sample, median};
use super::veil::{SPREAD, Veil, fitted, with_paper};
use crate::finding::{Bound, Measure};

/// What a merged line lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// White.
    White,
    /// Black.
    Black,
    /// A color that covers a part of the tile.
    OfTile([u8; 3]),
    /// Any other color.
    Other([u8; 3]),
}

impl Paper {
    /// Its color, in levels.
    #[must_use]
    pub fn color(self) -> [f64; 3] {
        match self {
            Self::White => [255.0; 3],
            Self::Black => [0.0; 3],
            Self::OfTile(color) | Self::Other(color) => color.map(f64::from),
        }
    }

    /// What the designer reads.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::White => "white".into(),
            Self::Black => "black".into(),
            Self::OfTile([r, g, b]) => format!("a color of the tile (red {r}, green {g}, blue {b})"),
            Self::Other([r, g, b]) => format!("one color (red {r}, green {g}, blue {b})"),
        }
    }
}

/// What is thought of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Opinion {
    /// One opacity and one paper explain it over several colors.
    Proven(Paper, Veil),
    /// It crosses one color only, and white or black paper explains what it does to all three channels.
    Plausible(Paper, Veil),
    /// A line of the art, as far as one can tell.
    Art(Why),
}

/// Why a line is taken for art.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// So many places where both sides agree are too few.
    TooLittle(usize),
    /// Its middle strays by so many pixels.
    NotStraight(f64),
    /// It stands out only so many times as much as the art beside it does.
    Faint(f64),
    /// Its sides agree in this share of the places where art beside it does: it lies on an edge.
    OnAnEdge(f64),
    /// The color beside it stays within so many levels, and nothing else tells.
    OneColor(f64),
    /// One veil leaves this share of it unexplained.
    NotOneVeil(f64),
    /// This share of the line's own color is opaque.
    Ink(f64),
    /// The paper that would explain it is so many levels from any that could be.
    NoSuchPaper(f64),
}

impl Why {
    /// Whether what was looked at is a straight thin line at all.
    #[must_use]
    pub fn is_line(self) -> bool {
        !matches!(self, Self::TooLittle(_) | Self::NotStraight(_) | Self::Faint(_))
    }

    /// What was measured, beside the limit that it passes.
    #[must_use]
    pub fn measure(self) -> Measure {
        match self {
            Self::TooLittle(n) => Measure::new(
                "places where both sides of a thin line agree",
                n as f64,
                "places",
                Bound::Max,
                FEWEST as f64,
            ),
            Self::NotStraight(off) => Measure::new("a thin line's straying", off, "px", Bound::Min, WOBBLE),
            Self::Faint(times) => {
                Measure::new("a thin line against the art beside it", times, "times", Bound::Max, STANDS_OUT)
            }
            Self::OnAnEdge(share) => {
                Measure::new("a thin line between equal sides", share * 100.0, "%", Bound::Max, ON_AN_EDGE * 100.0)
            }
            Self::OneColor(levels) => {
                Measure::new("colors a thin line crosses", levels, "levels apart", Bound::Max, SPREAD)
            }
            Self::NotOneVeil(share) => Measure::new(
                "what one see-through line leaves unexplained",
                share * 100.0,
                "%",
                Bound::Min,
                LEFT * 100.0,
            ),
            Self::Ink(share) => Measure::new("a thin line's own color", share * 100.0, "%", Bound::Min, OPAQUE * 100.0),
            Self::NoSuchPaper(levels) => Measure::new(
                "paper that explains a thin line, from any likely one",
                levels,
                "levels",
                Bound::Min,
                OFF_PAPER,
            ),
        }
    }
}

/// The fewest places from which a line is judged.
const FEWEST: usize = 16;

/// The most that middles may stray, root of mean square, in pixels: drawing a line on a grid makes up to a third of a pixel.
const WOBBLE: f64 = 0.45;

/// How many times the art's own difference a line must stand out, and by how many levels times pixels more.
const STANDS_OUT: f64 = 2.0;

/// The least share of the places where the art beside it agrees: art goes on under a merged line.
const ON_AN_EDGE: f64 = 0.5;

/// The most that a veil may leave unexplained, as a share of what the line does in all three channels.
const LEFT: f64 = 0.06;

/// The most of a line's own color that may show where it is not ink: a pixel that a line 1 px wide at 45 degrees crosses
/// through its middle is covered to 1 - 2 (sqrt(1/2) - 1/2)^2 = 0.914, and a lossy coder takes a little more.
const OPAQUE: f64 = 0.86;

/// How far the paper that explains a line may lie from the one named, in levels, however uncertain it is.
const OFF_PAPER: f64 = 20.0;

/// How many times its uncertainty a slope must be: in flat art, and where something is left unexplained.
const CERTAIN: [f64; 2] = [6.0, 18.0];

/// Thinks about a line of a tile; `papers` beside white and black, `side` the smaller side in pixels.
#[must_use]
pub fn opinion(course: &Course, papers: &[[u8; 3]], side: f64) -> Opinion {
    if let Some(why) = no_line(course) {
        return Opinion::Art(why);
    }
    let given = [Paper::White, Paper::Black].into_iter().filter_map(|paper| Some((paper, given(course, paper)?)));
    let given = given.filter(|(_, veil)| veil.shows <= OPAQUE).max_by(|a, b| a.1.share.total_cmp(&b.1.share));
    if let Some((paper, veil)) = given {
        return Opinion::Proven(paper, veil);
    }
    let free = fitted(course);
    if let Some(veil) = free.filter(|veil| veil.spread >= SPREAD && veil.certainty >= CERTAIN[0]) {
        let allowed = allowed(course);
        return match () {
            () if veil.left > allowed => Opinion::Art(Why::NotOneVeil(veil.left / course.strength)),
            () if veil.shows > OPAQUE => Opinion::Art(Why::Ink(veil.shows)),
            () if veil.shows < 0.02 => Opinion::Art(Why::Faint(0.0)),
            () if veil.left > 2.0 && veil.certainty < CERTAIN[1] => Opinion::Art(Why::OneColor(0.0)),
            () => of_paper(course, &veil, papers, side),
        };
    }
    let loose = free.filter(|veil| veil.certainty >= 3.0);
    let long = 3.0 * course.stretch.length() >= side;
    for paper in [Paper::White, Paper::Black] {
        let Some(veil) = with_paper(course, paper.color()) else { continue };
        let near = |loose: Veil| (loose.cover - veil.cover).abs() <= loose.cover / 3.0;
        if long
            && veil.cover > 0.0
            && (0.02..OPAQUE).contains(&veil.shows)
            && veil.left <= (0.05 * course.strength).max(1.5)
            && steady(course, &veil)
            && (colored(course, paper) || loose.is_some_and(near))
        {
            return Opinion::Plausible(paper, veil);
        }
    }
    Opinion::Art(Why::OneColor(free.map_or(0.0, |veil| veil.spread.min(SPREAD))))
}

/// Whether a line is explained by the veil of a line that is proven: parts of one fault need no proof of their own.
#[must_use]
pub fn same_veil(course: &Course, paper: Paper, proven: &Veil) -> Option<Veil> {
    let veil = with_paper(course, paper.color())?;
    let alike = (veil.cover - proven.cover).abs() <= 0.15 * proven.cover;
    (alike && veil.left <= (0.05 * course.strength).max(1.5) && steady(course, &veil)).then_some(veil)
}

/// The veil of a paper that is thought of beforehand: with one number to choose, the places of several colors that it
/// explains prove it, if a line that adds the same to every color would not explain them as well.
fn given(course: &Course, paper: Paper) -> Option<Veil> {
    let veil = with_paper(course, paper.color())?;
    let exact = veil.left <= (0.01 * course.strength).max(1.5) && veil.share >= 0.7 && veil.shows >= 0.02;
    let tells = veil.spread >= SPREAD && veil.cover * veil.spread >= (4.0 * veil.left).max(3.0);
    (exact && tells).then_some(veil)
}

fn no_line(course: &Course) -> Option<Why> {
    let n = course.samples.len();
    let alike = course.agreeing / course.agreeing_beside.max(0.01);
    match () {
        () if n < FEWEST => Some(Why::TooLittle(n)),
        () if course.wobble > WOBBLE => Some(Why::NotStraight(course.wobble)),
        () if course.strength < STANDS_OUT * course.noise + 4.0 => {
            Some(Why::Faint((course.strength / course.noise.max(1.0)).min(STANDS_OUT)))
        }
        () if alike < ON_AN_EDGE => Some(Why::OnAnEdge(alike)),
        () => None,
    }
}

/// How much a veil may leave unexplained: rounding, a small share, or what the art does by itself.
fn allowed(course: &Course) -> f64 {
    (LEFT * course.strength).max(0.7 * course.noise).max(2.0)
}

/// Names the paper of a veil that explains a line over several colors.
fn of_paper(course: &Course, veil: &Veil, papers: &[[u8; 3]], side: f64) -> Opinion {
    let off = |paper: Paper| -> (f64, bool) {
        let mut near = true;
        let mut most = 0.0_f64;
        for c in 0..3 {
            let off = (paper.color()[c] - veil.paper[c]).abs();
            let far = (paper.color()[c] - mean(course, c)).abs();
            near &= off <= (4.0 + 3.0 * far / veil.certainty).min(OFF_PAPER);
            most = most.max(off);
        }
        (most, near)
    };
    let tints = papers.iter().map(|color| Paper::OfTile(*color));
    let best = [Paper::White, Paper::Black].into_iter().chain(tints).map(|paper| (paper, off(paper)));
    let best = best.min_by(|a, b| a.1.0.total_cmp(&b.1.0));
    // The ground a tile is merged onto is its commonest color; another that is in the tile is an ink.
    let ink = papers.iter().skip(1).any(|color| off(Paper::OfTile(*color)).0 <= 8.0);
    // Ink of any color can lie thinly over others; where the paper is neither white nor black more is asked.
    let exact = veil.left <= (0.015 * course.strength).max(1.2) && veil.certainty >= 20.0 && veil.shows <= 0.8;
    let clear = veil.share >= 0.85 && course.noise <= 0.05 * course.strength && course.agreeing >= 0.5;
    let sure = (clear || !ink)
        && 2.0 * course.stretch.length() >= side
        && exact
        && veil.cover >= 0.2
        && veil.spread >= 2.0 * SPREAD;
    match best {
        Some((paper @ (Paper::White | Paper::Black), (_, true))) => Opinion::Proven(paper, *veil),
        Some((paper, (_, true))) if sure => Opinion::Proven(paper, *veil),
        _ if sure && veil.paper.iter().all(|v| (-3.0..=258.0).contains(v)) => {
            Opinion::Proven(Paper::Other(veil.paper.map(|v| v.round().clamp(0.0, 255.0) as u8)), *veil)
        }
        _ => Opinion::Art(Why::NoSuchPaper(best.map_or(OFF_PAPER, |(_, (off, _))| off.max(OFF_PAPER)))),
    }
}

fn mean(course: &Course, channel: usize) -> f64 {
    course.samples.iter().map(|sample| sample.side[channel]).sum::<f64>() / course.samples.len().max(1) as f64
}

/// Whether the way from the color beside the line to the paper is a colored one: a gray line on gray could be anything.
fn colored(course: &Course, paper: Paper) -> bool {
    let way: [f64; 3] = std::array::from_fn(|c| (paper.color()[c] - mean(course, c)).abs());
    let (least, most) = (way.iter().copied().fold(f64::MAX, f64::min), way.iter().copied().fold(0.0, f64::max));
    most - least >= 0.2 * most
}

/// Whether the medians of the three channels are what the veil adds, to within a few in a hundred.
fn steady(course: &Course, veil: &Veil) -> bool {
    let middle = |of: &dyn Fn(&Sample) -> f64| median(course.samples.iter().map(of).collect());
    (0..3).all(|c| {
        let adds = middle(&|sample| sample.sum[c]);
        let wanted = middle(&|sample| veil.cover * (veil.paper[c] - sample.side[c]));
        let chance = 3.0 * course.noise / (course.samples.len() as f64 / 3.0).sqrt();
        (adds - wanted).abs() <= (0.02 * course.strength).max(1.0).max(chance)
    })
}
