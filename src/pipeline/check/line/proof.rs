//! Which lines are proven to be merged see-through lines, and which only look like it.
//!
//! Takes a line looked at closely and the papers to think of, yields what it is. In doubt it is art.

use super::course::{Course, Sample, median};
use super::veil::{SPREAD, Veil, fitted, with_paper};

/// What a merged line lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// White.
    White,
    /// Black.
    Black,
    /// A color that covers a part of the tile.
    OfTile([u8; 3]),
}

impl Paper {
    fn color(self) -> [f64; 3] {
        match self {
            Self::White => [255.0; 3],
            Self::Black => [0.0; 3],
            Self::OfTile(color) => color.map(f64::from),
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
    Art(&'static str),
}

/// Thinks about a line; `papers` beside white and black.
#[must_use]
pub fn opinion(course: &Course, papers: &[[u8; 3]]) -> Opinion {
    if course.samples.len() < 24 {
        return Opinion::Art("too little to see");
    }
    if course.wobble > 0.45 {
        return Opinion::Art("not straight");
    }
    if course.strength < 2.0 * course.noise + 4.0 {
        return Opinion::Art("faint");
    }
    if course.agreeing < 0.6 * course.agreeing_beside {
        return Opinion::Art("on an edge");
    }
    let quiet = (0.06 * course.strength).max(0.7 * course.noise).max(2.0);
    let opaque = if course.stretch.slope.abs() < 0.002 { 0.93 } else { 0.86 };
    let all = [Paper::White, Paper::Black].into_iter().chain(papers.iter().map(|color| Paper::OfTile(*color)));
    if let Some(veil) = fitted(course)
        && veil.spread >= SPREAD
        && veil.certainty >= 6.0
    {
        if veil.left > quiet {
            return Opinion::Art("not one veil");
        }
        if veil.shows > opaque {
            return Opinion::Art("ink");
        }
        if veil.shows < 0.02 {
            return Opinion::Art("hardly there");
        }
        let best = all
            .map(|paper| {
                let off = (0..3)
                    .map(|c| {
                        let far = (paper.color()[c] - mean(course, c)).abs();
                        (paper.color()[c] - veil.paper[c]).abs() / (4.0 + 3.0 * far / veil.certainty)
                    })
                    .fold(0.0, f64::max);
                (paper, off)
            })
            .min_by(|a, b| a.1.total_cmp(&b.1));
        return match best {
            Some((paper, off)) if off <= 1.0 => Opinion::Proven(paper, veil),
            _ if veil.certainty >= 20.0 && veil.spread >= 24.0 && veil.paper.iter().all(|v| (-3.0..=258.0).contains(v)) => Opinion::Proven(Paper::OfTile(veil.paper.map(|v| v as u8)), veil),
            _ => Opinion::Art("no such paper"),
        };
    }
    let loose = fitted(course).filter(|veil| veil.certainty >= 3.0);
    for paper in [Paper::White, Paper::Black] {
        if let Some(veil) = with_paper(course, paper.color())
            && veil.cover > 0.0
            && (0.02..opaque).contains(&veil.shows)
            && veil.left <= quiet
            && steady(course, &veil)
            && (telling(course, paper) || loose.is_some_and(|loose| (loose.cover - veil.cover).abs() <= loose.cover / 3.0))
        {
            return Opinion::Plausible(paper, veil);
        }
    }
    Opinion::Art("one color")
}

fn mean(course: &Course, channel: usize) -> f64 {
    course.samples.iter().map(|sample| sample.side[channel]).sum::<f64>() / course.samples.len().max(1) as f64
}

/// Whether the way from the color beside the line to the paper is a colored one: a gray line on gray could be anything.
fn telling(course: &Course, paper: Paper) -> bool {
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
