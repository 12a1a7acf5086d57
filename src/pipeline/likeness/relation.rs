//! What two tiles are to each other, decided: the same repeat moved, turned, mirrored, scaled, laid otherwise, encoded anew, or
//! the same drawing in other colors.
//!
//! Takes two tiles with what their signatures proposed; yields a relation or none. Decided by whole numbers.

use super::agree::{Cut, Difference, Limit, SAME_MEANS};
use super::align::Laid;
use super::exact::{Cloths, Following};
use super::grid::Extent;
use super::pair::{self, Sheet};
use super::turn::Turn;
use super::wave::SIDE;
use crate::pipeline::cloth::lattice::gcd;
use crate::spec::Repeat;
use crate::tile::Raster;
use serde::{Deserialize, Serialize};
use std::rc::Rc;

/// The version of relations: raised whenever the same two tiles can get another, so that kept ones are asked for anew.
pub const VERSION: u32 = 3;

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
const SAME: Limit = Limit { whole: 150, worst: 500, place: 8 * 4 };

/// What the mean of a channel may differ at one place of a tile with a side of fewer pixels than this, in quarters of a code: a
/// place of such a tile is hardly more than one block of a lossy coder.
const SMALL: (f64, i64) = (200.0, 10 * 4);

/// The same when colors are exchanged, for both directions.
const EXCHANGED: Limit = Limit { whole: 100, worst: 350, place: 12 * 4 };

/// What an exchange of colors must explain to be looked at pixel by pixel.
const EXPLAINED: Limit = Limit { whole: EXCHANGED.whole, worst: i64::MAX, place: 40 * 4 };

/// By what factor an exchange of colors must explain a difference better than coding or scaling would: muted pictures differ
/// little when their channels are exchanged, and yet all in one way.
const BETTER_EXPLAINED: i64 = 3;

/// Up to this difference over all, in thousandths, it is worth looking whether every pixel is equal: fine textures differ so
/// much at a quarter of a pixel.
const NEARLY_EQUAL: i64 = 30;

/// What is so near that no other way needs to be tried.
const SURE: Limit = Limit { whole: 4, worst: 60, place: 4 * 4 };

/// How many ways are tried, the likeliest first.
const TRIED: usize = 6;

/// The share of all that is to be seen by which colors may differ at a whole step of the grid to be compared more finely.
const NEAR_IN_COLORS: f32 = 0.4;

/// The least share of edges that run the same way in two colorways: proposes only.
const SAME_WAY: f32 = 0.35;

/// The least correlation of pixels at each place in two copies of one scale, in hundredths. Of what a lossy coder leaves a third
/// or more of, it leaves a correlation of 57 and more; threads moved by half have a negative one.
const SAME_WAY_FINE: i64 = 45;

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
    let mut viewed: Vec<(Sheets, bool)> = Vec::new();
    let turns = |swaps| Turn::all().into_iter().filter(move |turn| turn.swaps() == swaps);
    let views =
        [false, true].into_iter().flat_map(|swaps| frames(&one, &other, swaps).map(move |frames| (swaps, frames)));
    for (swaps, frames) in views {
        let finest = pair::finest([&frames.one, &frames.other]);
        let first = Sheet::of(one.raster, &frames.one, finest, frames.scale);
        let sheets = Rc::new((first, Sheet::of(other.raster, &frames.other, finest, frames.scale), frames));
        let ways = pair::in_colors(&sheets.0, &sheets.1, turns(swaps));
        for (way, _) in ways.into_iter().filter(|(_, differ)| *differ <= NEAR_IN_COLORS).take(TRIED) {
            let (laid, colors) = pair::settled(&sheets.0, &sheets.1, &way, frames.cut);
            let way_found = Found { laid, colors, frames, equal: None };
            let equal = way_found.equal(one, other);
            let plainly = plain && !frames.of_wholes();
            let same = || colors.within(frames.same()) && !plainly && !recolored(&sheets, &laid, colors);
            if equal.is_some() || (same() && way_found.holds_closely(one, other, SAME) && way_found.agrees(one, other))
            {
                let enough = equal.is_some() || (frames.scale != 1000 && colors.within(SURE));
                found.push(Found { equal, ..way_found });
                // A drawing may hold one that is almost its copy: only where every pixel is equal is there no better way.
                if enough {
                    break;
                }
            }
        }
        viewed.push((sheets, swaps));
        if found.iter().any(|found| found.equal.is_some() || found.colors.within(SURE)) {
            break;
        }
    }
    if let Some(best) = plainest(&found) {
        return Some(best.relation(one, other, Colors::Same, best.colors.worst * 1000 / SAME.worst));
    }
    // Edges are looked at only where colors do not say it.
    let mut doubtful: Vec<(Sheets, Laid)> = Vec::new();
    for (sheets, swaps) in viewed {
        let ways = pair::in_drawing(&sheets.0, &sheets.1, turns(swaps));
        doubtful.extend(ways.into_iter().filter(|way| way.edges >= SAME_WAY).map(|way| (sheets.clone(), way)));
    }
    doubtful.sort_by(|a, b| b.1.edges.total_cmp(&a.1.edges));
    let likeliest = doubtful.first().map_or(0.0, |doubt| doubt.1.edges);
    let likely = doubtful.iter().filter(|doubt| doubt.1.edges >= likeliest - LESS_LIKELY);
    let mut best: Option<(Found, i64)> = None;
    for (sheets, way) in likely.take(TRIED) {
        let (laid, colors) = pair::settled(&sheets.0, &sheets.1, way, sheets.2.cut);
        let found = Found { laid, colors, frames: sheets.2, equal: None };
        let Some(ways) = pair::exchanged(&sheets.0, &sheets.1, &laid, EXPLAINED, sheets.2.cut) else { continue };
        let worst = ways.iter().map(|way| way.worst).max().unwrap_or(0).min(EXCHANGED.worst);
        let within = ways.iter().all(|way| way.within(EXCHANGED));
        let proven = || colors.means > SAME_MEANS && found.follows(one, other, Following::is_proof);
        let holds = (within && found.holds_closely(one, other, EXCHANGED)) || proven();
        if !holds {
            continue;
        }
        if best.as_ref().is_none_or(|(_, least)| worst < *least) {
            best = Some((found, worst));
        }
        if worst <= SURE.worst {
            break;
        }
    }
    let (best, worst) = best?;
    let same = best.colors.same_colors() && best.colors.whole <= SAME.whole;
    let kind = if same { Colors::Same } else { Colors::Exchanged };
    if same && !best.agrees(one, other) {
        return None;
    }
    // Small units at another scale, in other colors besides, are too little to go by.
    if kind == Colors::Exchanged && !best.frames.of_wholes() {
        return None;
    }
    if plain && !(kind == Colors::Same && best.frames.of_wholes()) && !best.follows(one, other, Following::is_of_plain)
    {
        return None;
    }
    Some(best.relation(one, other, kind, worst * 1000 / EXCHANGED.worst))
}

/// Whether what differs is better told as an exchange of colors.
fn recolored(sheets: &Sheets, laid: &Laid, colors: Difference) -> bool {
    !colors.same_colors()
        && pair::exchanged(&sheets.0, &sheets.1, laid, EXCHANGED, sheets.2.cut).is_some_and(|ways| {
            ways.iter().all(|way| way.whole * BETTER_EXPLAINED <= colors.whole && way.worst * 2 <= colors.worst)
        })
}

type Sheets = Rc<(Sheet, Sheet, Frames)>;

/// What of both cloths is compared.
#[derive(Clone, Copy, PartialEq)]
struct Frames {
    one: Extent,
    other: Extent,
    scale: u32,
    /// Into what places it is cut to be judged.
    cut: Cut,
}

impl Frames {
    /// Most that colors of one repeat may differ here.
    fn same(&self) -> Limit {
        let least = [self.one, self.other].iter().flat_map(Extent::size).fold(f64::MAX, f64::min);
        if least < SMALL.0 { Limit { place: SMALL.1, ..SAME } } else { SAME }
    }

    /// Whether both are looked at as they are: pixel for pixel, or each as a whole.
    fn of_wholes(&self) -> bool {
        self.scale == 1000
            || [self.one, self.other].iter().all(|extent| extent.times == [1; 2] && extent.parts == [1; 2])
    }

    fn new(one: (&Side<'_>, Extent), other: (&Side<'_>, Extent), scale: u32, swaps: bool) -> Self {
        let tiles = |(side, extent): (&Side<'_>, Extent)| {
            let sides = [side.raster.width(), side.raster.height()];
            [0, 1].map(|i| extent.size()[i] / f64::from(sides[i]))
        };
        let (own, its) = (tiles(one), tiles(other));
        let its = if swaps { [its[1], its[0]] } else { its };
        Self { one: one.1, other: other.1, scale, cut: Cut::of([0, 1].map(|i| own[i].max(its[i]))) }
    }
}

/// The parts of both cloths that should show the same: by how often the smallest repeat lies in each, and pixel for pixel. None
/// where their proportions say that nothing does.
fn frames(one: &Side<'_>, other: &Side<'_>, swaps: bool) -> impl Iterator<Item = Frames> + use<> {
    let pixels = pixel_for_pixel(one, other, swaps);
    let copies = by_copies(one, other, swaps).filter(|frames| Some(*frames) != pixels);
    // Where both are one size there is but one way to look at it.
    let one_size = pixels.is_some_and(|frames| frames.one.times == [1; 2] && frames.other.times == [1; 2]);
    copies.filter(|_| !one_size).into_iter().chain(pixels)
}

fn extents(one: &Side<'_>, other: &Side<'_>, swaps: bool) -> ([Extent; 2], [[u32; 2]; 2]) {
    let extents = [Extent::of(one.raster, one.repeat), Extent::of(other.raster, other.repeat)];
    (extents, [extents[0].block, turned(extents[1].block, swaps)])
}

fn turned(sides: [u32; 2], swaps: bool) -> [u32; 2] {
    if swaps { [sides[1], sides[0]] } else { sides }
}

/// As many of both as make the same number of pixels: one cloth laid in two ways.
fn pixel_for_pixel(one: &Side<'_>, other: &Side<'_>, swaps: bool) -> Option<Frames> {
    let ([first, second], blocks) = extents(one, other, swaps);
    let both = [0, 1].map(|i| u64::from(blocks[0][i]) / gcd(blocks[0][i].into(), blocks[1][i].into()) as u64);
    let times = [0, 1].map(|k| {
        [0, 1].map(|i| {
            let common = both[i] * u64::from(blocks[1][i]);
            u32::try_from(common / u64::from(blocks[k][i])).unwrap_or(u32::MAX)
        })
    });
    times.as_flattened().iter().all(|&times| times <= MOST_TIMES).then(|| {
        let extents = [Extent { times: times[0], ..first }, Extent { times: turned(times[1], swaps), ..second }];
        Frames::new((one, extents[0]), (other, extents[1]), 1000, swaps)
    })
}

fn by_copies(one: &Side<'_>, other: &Side<'_>, swaps: bool) -> Option<Frames> {
    let ([first, second], _) = extents(one, other, swaps);
    let copies = [one.copies, turned(other.copies, swaps)];
    let common = [0, 1].map(|i| copies[0][i] / gcd(copies[0][i].into(), copies[1][i].into()) as u32 * copies[1][i]);
    let times = copies.map(|copies| [0, 1].map(|i| common[i] / copies[i]));
    let (first, second) = if times.as_flattened().iter().all(|&times| times <= MOST_TIMES) {
        (Extent { times: times[0], ..first }, Extent { times: turned(times[1], swaps), ..second })
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
    even.then(|| Frames::new((one, first), (other, second), scale, swaps))
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

    /// Whether what holds for several tiles side by side also holds for one of them as large as the grid.
    fn holds_closely(&self, one: Side<'_>, other: Side<'_>, limit: Limit) -> bool {
        let Frames { one: first, other: second, .. } = self.frames;
        let swaps = self.laid.turn.swaps();
        let its = turned(second.times, swaps);
        let parts = [0, 1].map(|i| first.times[i].max(its[i]));
        if parts == [1; 2] || first.parts != [1; 2] || second.parts != [1; 2] {
            return true;
        }
        let (first, second) = (Extent { parts, ..first }, Extent { parts: turned(parts, swaps), ..second });
        let finest = pair::finest([&first, &second]);
        let sheet = |side: Side<'_>, extent| Sheet::of(side.raster, extent, finest, self.frames.scale);
        let sheets = (sheet(one, &first), sheet(other, &second));
        let shift = [0, 1].map(|i| self.laid.shift[i] * parts[i] as f32);
        let cut = Cut::of([1.0; 2]);
        let (laid, colors) = pair::settled(&sheets.0, &sheets.1, &Laid { shift, ..self.laid }, cut);
        if limit == SAME {
            colors.within(SAME)
        } else {
            pair::exchanged(&sheets.0, &sheets.1, &laid, limit, cut).is_some()
        }
    }

    /// Whether what is too fine for the grid goes the same way too, where both are of one scale: threads of a twill moved by half
    /// of one are another cloth.
    fn agrees(&self, one: Side<'_>, other: Side<'_>) -> bool {
        let whole = self.frames.one.parts == [1; 2] && self.frames.other.parts == [1; 2];
        self.frames.scale != 1000 || !whole || self.cloths(one, other).agreement(self.shift()) >= SAME_WAY_FINE
    }

    /// Whether the colors of both follow each other as far as that, pixel for pixel.
    fn follows(&self, one: Side<'_>, other: Side<'_>, enough: fn(Following) -> bool) -> bool {
        self.frames.scale == 1000 && enough(self.cloths(one, other).following(self.shift()))
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
