//! What two tiles are to each other, decided: the same repeat moved, turned, mirrored, scaled, laid otherwise, encoded anew, or
//! the same drawing in other colors.
//!
//! Takes two tiles with what their signatures proposed; yields a relation or none. Decided by whole numbers.

use super::agree::Difference;
use super::align::Laid;
use super::exact::{Cloths, FOLLOWING};
use super::grid::Extent;
use super::pair::{self, Sheet};
use super::turn::Turn;
use super::wave::SIDE;
use crate::pipeline::cloth::lattice::gcd;
use crate::spec::Repeat;
use crate::tile::Raster;
use serde::{Deserialize, Serialize};
use std::rc::Rc;

/// One of the two tiles, and one of its looks.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// Its pixels.
    pub raster: &'a Raster,
    /// How it is laid.
    pub repeat: Repeat,
    /// How often the smallest straight repeat lies in its own.
    pub copies: [u32; 2],
}

/// What the colors are to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Colors {
    /// Every pixel is equal.
    Equal,
    /// The same but for what coding or scaling leaves.
    Same,
    /// Each exchanged for another.
    Exchanged,
}

/// What the second tile is to the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Relation {
    /// The colors.
    pub colors: Colors,
    /// How the second must be laid down to be the first.
    pub turn: Turn,
    /// How far it must then be moved, right and down, in pixels of the first.
    pub shift: [i64; 2],
    /// Size of the first to size of the second, in thousandths; 1000 is pixel for pixel.
    pub scale: u32,
    /// How both are laid for this.
    pub repeats: [Repeat; 2],
    /// How sure it is, in hundredths; 100 only where every pixel is equal.
    pub confidence: u8,
}

/// Most that colors of one repeat may differ, in thousandths: over all, and at the worst place. Measured on drawn tiles: JPEG
/// of quality 50 and reductions to a third stay below; one motif exchanged is above.
const SAME: Difference = Difference { whole: 150, worst: 500 };

/// The same when colors are exchanged, for both directions.
const EXCHANGED: Difference = Difference { whole: 100, worst: 350 };

/// The least difference of colors over all that is another colorway and not another encoding, in thousandths.
const OTHER_COLORS: i64 = 6;

/// The same for tiles of unlike scale, whose contrasts are not quite the same.
const OTHER_COLORS_SCALED: i64 = 30;

/// What is looked at as well when the colors of one scale differ less than that over all, and much at one place.
const MUTED: Difference = Difference { whole: 2, worst: 100 };

/// By what factor an exchange of colors must explain a difference better than coding or scaling would: muted pictures differ
/// little when their channels are exchanged, and yet all in one way.
const BETTER_EXPLAINED: i64 = 3;

/// Up to this difference over all, in thousandths, it is worth looking whether every pixel is equal: fine textures differ so
/// much at a quarter of a pixel.
const NEARLY_EQUAL: i64 = 30;

/// What is so near that no other way needs to be tried.
const SURE: Difference = Difference { whole: 4, worst: 60 };

/// How many ways are tried, the likeliest first.
const TRIED: usize = 4;

/// The least share of edges that run the same way in two colorways: proposes only.
const SAME_WAY: f32 = 0.35;

/// Ways whose edges agree by so much less than the best way's are not tried with exchanged colors.
const LESS_LIKELY: f32 = 0.1;

/// Most copies of the smaller tile that are laid side by side to reach the size of the larger.
const MOST_TIMES: u32 = 6;

/// How many waves, counted by their weight, a drawing must have to be known again at another size and in other colors: all
/// checks of two colors are one drawing.
pub const PLAIN: u32 = 12;

/// The relation of two tiles, if there is one; `plain` says that their drawing has fewer than [`PLAIN`] waves.
#[must_use]
pub fn relation(one: Side<'_>, other: Side<'_>, plain: bool) -> Option<Relation> {
    let mut found: Vec<Found> = Vec::new();
    let mut doubtful: Vec<(Sheets, Laid, Difference)> = Vec::new();
    for swaps in [false, true] {
        let Some(frames) = frames(&one, &other, swaps) else { continue };
        let finest = pair::finest([&frames.one, &frames.other]);
        let first = Sheet::of(one.raster, &frames.one, finest);
        let sheets = Rc::new((first, Sheet::of(other.raster, &frames.other, finest), frames));
        let turns = Turn::all().into_iter().filter(|turn| turn.swaps() == swaps);
        for way in pair::ways(&sheets.0, &sheets.1, turns).iter().take(TRIED) {
            let (laid, colors) = pair::settled(&sheets.0, &sheets.1, way);
            let way_found = Found { laid, colors, frames, equal: None };
            let equal = way_found.equal(one, other);
            if equal.is_some() || (colors.within(SAME) && !recolored(&sheets, &laid, colors)) {
                let enough = equal.is_some() || (frames.scale != 1000 && colors.within(SURE));
                found.push(Found { equal, ..way_found });
                // A drawing may hold one that is almost its copy: only where every pixel is equal is there no better way.
                if enough {
                    break;
                }
            } else if way.edges >= SAME_WAY {
                doubtful.push((sheets.clone(), laid, colors));
            }
        }
        if found.iter().any(|found| found.equal.is_some() || found.colors.within(SURE)) {
            break;
        }
    }
    if let Some(best) = plainest(&found) {
        return Some(best.relation(one, other, Colors::Same, best.colors.worst * 1000 / SAME.worst));
    }
    doubtful.sort_by(|a, b| b.1.edges.total_cmp(&a.1.edges));
    let likeliest = doubtful.first().map_or(0.0, |doubt| doubt.1.edges);
    let likely = doubtful.iter().filter(|doubt| doubt.1.edges >= likeliest - LESS_LIKELY);
    let mut best: Option<(Found, i64)> = None;
    for (sheets, laid, colors) in likely.take(TRIED) {
        if let Some([there, back]) = pair::exchanged(&sheets.0, &sheets.1, laid, EXCHANGED) {
            let worst = there.worst.max(back.worst);
            if best.as_ref().is_none_or(|(_, least)| worst < *least) {
                best = Some((Found { laid: *laid, colors: *colors, frames: sheets.2, equal: None }, worst));
            }
            if worst <= SURE.worst {
                break;
            }
        }
    }
    let (best, worst) = best?;
    let kind = if best.colors.whole < OTHER_COLORS { Colors::Same } else { Colors::Exchanged };
    if plain && kind == Colors::Exchanged {
        let scale = best.frames.scale;
        if scale != 1000 || best.cloths(one, other).following(best.shift()) < FOLLOWING {
            return None;
        }
    }
    Some(best.relation(one, other, kind, worst * 1000 / EXCHANGED.worst))
}

/// Whether what differs is better told as an exchange of colors.
fn recolored(sheets: &Sheets, laid: &Laid, colors: Difference) -> bool {
    let clearly = if sheets.2.scale == 1000 { OTHER_COLORS } else { OTHER_COLORS_SCALED };
    let somewhere = sheets.2.scale == 1000 && colors.whole >= MUTED.whole && colors.worst >= MUTED.worst;
    (colors.whole >= clearly || somewhere)
        && pair::exchanged(&sheets.0, &sheets.1, laid, EXCHANGED).is_some_and(|ways| {
            ways.iter().all(|way| way.whole * BETTER_EXPLAINED <= colors.whole && way.worst * 2 <= colors.worst)
        })
}

type Sheets = Rc<(Sheet, Sheet, Frames)>;

/// What of both cloths is compared.
#[derive(Clone, Copy)]
struct Frames {
    one: Extent,
    other: Extent,
    scale: u32,
}

/// The parts of both cloths that should show the same; `None` when their proportions say that nothing does.
fn frames(one: &Side<'_>, other: &Side<'_>, swaps: bool) -> Option<Frames> {
    let (first, second) = (Extent::of(one.raster, one.repeat), Extent::of(other.raster, other.repeat));
    let turned = |sides: [u32; 2]| if swaps { [sides[1], sides[0]] } else { sides };
    if first.block == turned(second.block) {
        return Some(Frames { one: first, other: second, scale: 1000 });
    }
    let copies = [one.copies, turned(other.copies)];
    let common = [0, 1].map(|i| copies[0][i] / gcd(copies[0][i].into(), copies[1][i].into()) as u32 * copies[1][i]);
    let times = copies.map(|copies| [0, 1].map(|i| common[i] / copies[i]));
    let (first, second) = if times.as_flattened().iter().all(|&times| times <= MOST_TIMES) {
        (Extent { times: times[0], ..first }, Extent { times: turned(times[1]), ..second })
    } else {
        (Extent { parts: one.copies, ..first }, Extent { parts: other.copies, ..second })
    };
    let (size, its) = (first.size(), second.size());
    let its = if swaps { [its[1], its[0]] } else { its };
    let ratio = [0, 1].map(|i| size[i] / its[i]);
    // A reduced tile has whole sides: each may be off by half a pixel of its own, of each repeat in it.
    let slack =
        [first.block, second.block].as_flattened().iter().map(|&side| 1.0 / f64::from(side)).fold(0.0, f64::max);
    let even = (ratio[0] / ratio[1]).max(ratio[1] / ratio[0]) - 1.0 <= 1.5 * slack + 0.002;
    let scale = ((ratio[0] * ratio[1]).sqrt() * 1000.0).round() as u32;
    even.then_some(Frames { one: first, other: second, scale })
}

/// A way to lay one onto the other that holds.
struct Found {
    laid: Laid,
    colors: Difference,
    frames: Frames,
    /// The whole shift at which every pixel is equal, where there is one.
    equal: Option<[i64; 2]>,
}

impl Found {
    /// The shift in pixels of the first.
    fn shift(&self) -> [f64; 2] {
        let size = self.frames.one.size();
        [0, 1].map(|i| f64::from(self.laid.shift[i]) * size[i] / SIDE as f64)
    }

    fn cloths<'a>(&self, one: Side<'a>, other: Side<'a>) -> Cloths<'a> {
        let size = self.frames.one.size().map(|side| side.round() as i64);
        Cloths::new((one.raster, one.repeat), (other.raster, other.repeat), size, self.laid.turn)
    }

    /// The whole shift near this one at which every pixel is equal.
    fn equal(&self, one: Side<'_>, other: Side<'_>) -> Option<[i64; 2]> {
        let whole = self.frames.one.parts == [1; 2] && self.frames.other.parts == [1; 2];
        let size = self.frames.one.size();
        let around = ((size[0].max(size[1]) / SIDE as f64) as i64 + 2).min(20);
        (self.frames.scale == 1000 && whole && self.colors.whole <= NEARLY_EQUAL)
            .then(|| self.cloths(one, other).equal(self.shift(), around))
            .flatten()
    }

    /// `doubt` is in thousandths: 1000 is as far off as is still taken.
    fn relation(&self, one: Side<'_>, other: Side<'_>, colors: Colors, doubt: i64) -> Relation {
        let size = self.frames.one.size().map(|side| side.round() as i64);
        let shift = self.equal.unwrap_or_else(|| self.shift().map(|by| by.round() as i64));
        // The shorter way around.
        let shift = [0, 1].map(|i| {
            let by = shift[i].rem_euclid(size[i].max(1));
            if 2 * by > size[i] { by - size[i] } else { by }
        });
        Relation {
            colors: if self.equal.is_some() { Colors::Equal } else { colors },
            turn: self.laid.turn,
            shift,
            scale: self.frames.scale,
            repeats: [one.repeat, other.repeat],
            confidence: if self.equal.is_some() { 100 } else { (99 - doubt.clamp(0, 1000) * 29 / 1000) as u8 },
        }
    }
}

/// Of the ways that hold, the plainest that is about as good as the best: a symmetric drawing lies on its copy in many.
fn plainest(found: &[Found]) -> Option<&Found> {
    if let Some(equal) = found.iter().filter(|found| found.equal.is_some()).min_by_key(|found| found.laid.plainness()) {
        return Some(equal);
    }
    let least = found.iter().map(|found| found.colors.whole).min()?;
    found.iter().filter(|found| found.colors.whole <= 2 * least + 2).min_by_key(|found| found.laid.plainness())
}
