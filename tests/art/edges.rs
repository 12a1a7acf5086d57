//! Makers of joints that do not meet: breaks, shifts, lines too many or too few, drift, windows of a larger picture.

use super::broken::{self, Stretch, change};
use super::chance::Chance;
use super::fault::{Case, Faulty, transposed, transposed_area};
use super::{Kind as Art, canvas_for};
use burler::finding::{Area, Kind, Verdict};
use burler::pixel::difference::ciede2000;
use burler::spec::Repeat;
use burler::tile::Raster;

/// How many lines on each side of the border belong to the fault.
const DEEP: u32 = 2;

/// A difference in levels that can be seen.
const SEEN: u32 = 2;

/// The difference of two pixels in levels of the channel that differs most, as they lie on a ground of nothing.
fn apart(a: [u8; 4], b: [u8; 4]) -> u32 {
    let over = |p: [u8; 4], c: usize| if c == 3 { u32::from(p[3]) } else { u32::from(p[c]) * u32::from(p[3]) / 255 };
    (0..4).map(|c| over(a, c).abs_diff(over(b, c))).max().unwrap_or(0)
}

/// The share of a row's pixels that visibly differ from another's.
fn share_apart(a: &[u8], b: &[u8]) -> f32 {
    let pixel = |p: &[u8]| [p[0], p[1], p[2], p[3]];
    let differ = a.chunks_exact(4).zip(b.chunks_exact(4)).filter(|(a, b)| apart(pixel(a), pixel(b)) > SEEN).count();
    differ as f32 / (a.len() / 4) as f32
}

/// Whether every row has one color: stripes along the joint, of which a crop is again stripes.
fn stripes_along(tile: &Raster) -> bool {
    (0..tile.height()).all(|y| tile.row(y).chunks_exact(4).all(|pixel| *pixel == tile.row(y)[..4]))
}

/// Whether every row is like the next: no line more or less changes the endless cloth.
fn rows_alike(tile: &Raster) -> bool {
    (1..tile.height()).all(|y| tile.row(y) == tile.row(0))
}

/// Whether patches, lanes or threads end on the border by intent, so that everything steps there.
fn ends_on_border(tile: &Raster) -> bool {
    share_apart(tile.row(tile.height() - 1), tile.row(0)) > 0.5
}

/// The rows after which the drawn edges come again, when the tile holds two periods or more; colors may differ.
fn period(tile: &Raster) -> Option<usize> {
    let (width, height) = (tile.width(), tile.height() as usize);
    let edges: Vec<Vec<u8>> = (0..height as i64)
        .map(|y| {
            (0..i64::from(width))
                .map(|x| {
                    let (own, right, down) = (tile.wrapped(x, y), tile.wrapped(x + 1, y), tile.wrapped(x, y + 1));
                    u8::from(apart(own, right) > SEEN) | u8::from(apart(own, down) > SEEN) << 1
                })
                .collect()
        })
        .collect();
    let count = |row: &Vec<u8>| row.iter().filter(|bits| **bits > 0).count();
    let drawn: usize = edges.iter().map(count).sum();
    // In noise everything is an edge, and says nothing.
    if drawn == 0 || drawn * 2 > height * width as usize {
        return None;
    }
    (3..=height / 2).filter(|p| height.is_multiple_of(*p)).find(|p| {
        let differ: usize =
            (0..height).map(|y| edges[y].iter().zip(&edges[(y + p) % height]).filter(|(a, b)| a != b).count()).sum();
        differ * 50 <= drawn
    })
}

/// How much the step from a tile's last row to its first stands out from the steps beside it, at a column.
fn excess(tile: &Raster, x: u32) -> u32 {
    let (x, end) = (i64::from(x), i64::from(tile.height()));
    let step = |y: i64| apart(tile.wrapped(x, y), tile.wrapped(x, y + 1));
    step(end - 1).saturating_sub(step(end - 2).max(step(0)))
}

/// Whether a cut can be seen on a stretch of the joint where there was none: where art of other colors ends on the border
/// by intent, another color there is no cut.
fn cut_shows(sound: &Raster, broken: &Raster, stretch: Stretch) -> bool {
    let width = sound.width();
    let inside: Vec<u32> = (0..width).filter(|x| stretch.weight(*x as usize, width as usize) > 0.0).collect();
    let cut = inside.iter().filter(|x| excess(broken, **x) > excess(sound, **x) + SEEN).count();
    cut >= 4 && cut * 50 >= inside.len()
}

/// Whether the art goes on over the joint at a tenth of it or more, so that a step of light can be seen.
fn goes_on(tile: &Raster) -> bool {
    let last = tile.height() - 1;
    let on = (0..tile.width()).filter(|x| apart(tile.pixel(*x, last), tile.pixel(*x, 0)) <= 8).count();
    on * 10 >= tile.width() as usize
}

/// Spoils the bottom edge, or by turning the tile over its diagonal the right one.
fn at_an_edge(
    case: &Case,
    chance: &mut Chance,
    spoil: impl Fn(&Raster, &mut Chance) -> Option<Faulty>,
) -> Option<Faulty> {
    // Nothing can be told where somebody drew a line along the border.
    if case.style.name == "frame" {
        return None;
    }
    if chance.odds(2) {
        return spoil(case.sound, chance);
    }
    let mut faulty = spoil(&transposed(case.sound), chance)?;
    faulty.raster = transposed(&faulty.raster);
    faulty.truth = faulty.truth.into_iter().map(transposed_area).collect();
    Some(faulty)
}

/// A stretch of the joint between bottom and top.
fn places(width: u32, height: u32, stretch: Stretch) -> Vec<Area> {
    let mut places: Vec<Area> = Vec::new();
    for x in (0..width).filter(|x| stretch.weight(*x as usize, width as usize) > 0.0) {
        match places.last_mut() {
            Some(last) if last.x + last.width == x => last.width += 1,
            _ => places.push(Area { x, y: 0, width: 1, height: DEEP }),
        }
    }
    let below: Vec<Area> = places.iter().map(|place| Area { y: height - DEEP, ..*place }).collect();
    places.extend(below);
    places
}

fn whole(width: u32, height: u32) -> Vec<Area> {
    places(width, height, Stretch { from: 0.0, part: 1.0 })
}

/// What else a break may be called in this art: in regular units it is also an advance, in soft art also a drift.
fn also(art: Art) -> Vec<Kind> {
    match art {
        Art::Regular => vec![Kind::JointShift, Kind::JointDoubled, Kind::JointMissing],
        Art::Soft => vec![Kind::JointDrift],
        Art::Bold | Art::Empty => Vec::new(),
    }
}

fn displaced(case: &Case, strength: usize, part: f32, maker: u64) -> Option<Faulty> {
    at_an_edge(case, &mut case.chance(maker), |tile, chance| {
        let stretch = Stretch { from: chance.unit(), part };
        let by = (i64::from(chance.whole(20, 120)), i64::from(chance.whole(20, 120)));
        let raster = broken::blended(tile, stretch, by, [0.25, 0.5, 0.75, 1.0][strength]);
        let faint = broken::strength(tile, &raster, stretch) < 2.0 || !cut_shows(tile, &raster, stretch);
        if faint || stripes_along(&raster) {
            return None;
        }
        let truth = places(tile.width(), tile.height(), stretch);
        Some(Faulty { or: also(case.style.kind), ..Faulty::held(raster, Kind::JointBreak, truth) })
    })
}

/// Another place of the art mixed in toward the whole edge.
pub fn break_whole(case: &Case, strength: usize) -> Option<Faulty> {
    displaced(case, strength, 1.0, 0xE1)
}

/// The same over a third of it.
pub fn break_third(case: &Case, strength: usize) -> Option<Faulty> {
    displaced(case, strength, 0.334, 0xE2)
}

/// The same over a tenth, in art with clear edges.
pub fn break_tenth(case: &Case, strength: usize) -> Option<Faulty> {
    if !matches!(case.style.kind, Art::Bold) {
        return None;
    }
    displaced(case, strength, 0.1, 0xE3)
}

/// The verdicts that are right for a step of a color difference at the joint.
fn verdicts_of(difference: f64) -> Vec<Verdict> {
    match difference {
        d if d < 1.7 => vec![Verdict::Sound],
        d if d < 2.4 => vec![Verdict::Sound, Verdict::Held],
        _ => vec![Verdict::Held],
    }
}

/// The mean color difference of the last rows of two tiles.
fn difference_at_end(a: &Raster, b: &Raster) -> f64 {
    let y = a.height() - 1;
    let rgb = |p: [u8; 4]| [p[0], p[1], p[2]];
    let sum: f64 = (0..a.width()).map(|x| ciede2000(rgb(a.pixel(x, y)), rgb(b.pixel(x, y)))).sum();
    sum / f64::from(a.width())
}

/// A ramp of a few levels that is cut off at the edge, in soft and flat art.
pub fn even_step(case: &Case, strength: usize) -> Option<Faulty> {
    if !matches!(case.style.kind, Art::Soft | Art::Empty) || case.style.ground != burler::spec::Ground::Opaque {
        return None;
    }
    let levels = [2.0, 4.0, 8.0, 16.0][strength];
    at_an_edge(case, &mut case.chance(0xE4), |tile, _| {
        let raster = broken::ramp(tile, levels);
        if broken::strength(tile, &raster, Stretch { from: 0.0, part: 1.0 }) < levels * 0.9 {
            return None;
        }
        let verdicts = verdicts_of(difference_at_end(tile, &raster));
        let truth = whole(tile.width(), tile.height());
        Some(Faulty { or: vec![Kind::JointBreak], verdicts, ..Faulty::held(raster, Kind::JointDrift, truth) })
    })
}

/// Light or tint that falls from the first line to the last, by a mean color difference of 1, 2, 4 or 8 at the joint.
pub fn drift(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != burler::spec::Ground::Opaque {
        return None;
    }
    let target = [1.0, 2.0, 4.0, 8.0][strength];
    at_an_edge(case, &mut case.chance(0xE5), |tile, chance| {
        if !goes_on(tile) || (stripes_along(tile) && case.style.name != "plain") {
            return None;
        }
        let fall = *chance.pick(&[[1.0, 1.0, 1.0], [1.0, 1.0, 1.0], [0.2, 0.6, 1.0], [1.0, 0.5, 0.2]]);
        let last = (tile.height() - 1) as f32;
        let fallen = |own: [u8; 4], part: f32| -> [u8; 4] {
            std::array::from_fn(|c| {
                if c == 3 { own[3] } else { (f32::from(own[c]) * (1.0 - part * fall[c])).round() as u8 }
            })
        };
        let at_end = |part: f32| -> f64 {
            let rgb = |p: [u8; 4]| [p[0], p[1], p[2]];
            let step = (tile.width() / 120).max(1);
            let ends: Vec<[u8; 4]> =
                (0..tile.width()).step_by(step as usize).map(|x| tile.pixel(x, tile.height() - 1)).collect();
            ends.iter().map(|own| ciede2000(rgb(*own), rgb(fallen(*own, part)))).sum::<f64>() / ends.len() as f64
        };
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..14 {
            let middle = (low + high) / 2.0;
            if at_end(middle) < target { low = middle } else { high = middle }
        }
        let raster = change(tile, |_, y, own| fallen(own, high * y as f32 / last));
        let difference = difference_at_end(tile, &raster);
        // In the dark, eight bits have no step of this size.
        if (difference - target).abs() > 0.3 * target {
            return None;
        }
        let truth = whole(tile.width(), tile.height());
        Some(Faulty { verdicts: verdicts_of(difference), ..Faulty::held(raster, Kind::JointDrift, truth) })
    })
}

/// A window cut out of a larger drawing.
pub fn crop(case: &Case, strength: usize) -> Option<Faulty> {
    if strength < 3 || case.style.name == "frame" {
        return None;
    }
    let mut chance = case.chance(0xE6);
    let (width, height) = (case.sound.width() as usize, case.sound.height() as usize);
    let mut canvas = canvas_for(Repeat::Block, width * 7 / 5, height * 7 / 5);
    canvas.unit = case.unit;
    (case.style.draw)(&mut chance, &mut canvas);
    let (left, top) = (chance.whole(0, canvas.width as u32 - 1), chance.whole(0, canvas.height as u32 - 1));
    // A line more each way, to see whether the window happens to close.
    let wider = canvas.cut(left as usize, top as usize, width + 1, height + 1);
    let raster = canvas.cut(left as usize, top as usize, width, height);
    let closes = |raster: &Raster, wider: &Raster| {
        stripes_along(raster)
            || share_apart(&wider.row(raster.height())[..raster.width() as usize * 4], raster.row(0)) < 0.02
    };
    let mut truth = Vec::new();
    if !closes(&raster, &wider) {
        truth.extend(whole(raster.width(), raster.height()));
    }
    let (across, wider_across) = (transposed(&raster), transposed(&wider));
    if !closes(&across, &wider_across) {
        truth.extend(whole(across.width(), across.height()).into_iter().map(transposed_area));
    }
    if truth.is_empty() {
        return None;
    }
    Some(Faulty { or: also(case.style.kind), ..Faulty::held(raster, Kind::JointBreak, truth) })
}

/// The last fifth of the tile sheared along the joint, level again near the edge.
pub fn shift(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.kind == Art::Soft {
        return None;
    }
    let by = [1.0_f32, 2.0, 4.0, 8.0][strength];
    at_an_edge(case, &mut case.chance(0xE7), |tile, chance| {
        let by = if chance.odds(2) { by } else { -by };
        let height = tile.height() as usize;
        let (deep, level) = (height / 5, height / 15);
        let raster = change(tile, |x, y, own| {
            if y + deep < height {
                return own;
            }
            let t = ((y + deep - height) as f32 / (deep - level) as f32).min(1.0);
            // Smooth at both ends.
            let move_by = by * t * t * (3.0 - 2.0 * t);
            let (whole, part) = (move_by.floor(), move_by - move_by.floor());
            let (near, far) =
                (tile.wrapped(x as i64 - whole as i64, y as i64), tile.wrapped(x as i64 - whole as i64 - 1, y as i64));
            std::array::from_fn(|c| (f32::from(near[c]) * (1.0 - part) + f32::from(far[c]) * part).round() as u8)
        });
        let last = tile.height() - 1;
        let share = share_apart(tile.row(last), raster.row(last));
        if share < 0.01 || share * (tile.width() as f32) < 4.0 {
            return None;
        }
        // Where everything slants one way, moving along the joint and lines too many or too few are the same.
        let slanted = ["slanted stripes", "hatching"].contains(&case.style.name);
        let or = if slanted { vec![Kind::JointMissing, Kind::JointDoubled] } else { Vec::new() };
        let truth = whole(tile.width(), tile.height());
        Some(Faulty { or, size: Some(f64::from(by.abs())), ..Faulty::held(raster, Kind::JointShift, truth) })
    })
}

const LINES: [usize; 4] = [1, 2, 3, 8];

/// What lines too many or too few are: nothing where nothing can be seen or a whole period is meant, and by which other
/// names they go.
fn advance(case: &Case, tile: &Raster, lines: usize, seen: bool, kind: Kind) -> Option<Vec<Kind>> {
    let other = if kind == Kind::JointDoubled { Kind::JointMissing } else { Kind::JointDoubled };
    let period = if case.style.kind == Art::Regular { period(tile) } else { None };
    if rows_alike(tile) {
        return None;
    }
    let slanted = ["slanted stripes", "hatching"].contains(&case.style.name);
    let mut or = if slanted { vec![other, Kind::JointShift] } else { Vec::new() };
    match period {
        Some(period) if lines.is_multiple_of(period) => return None,
        Some(period) if lines % period * 2 >= period => or.push(other),
        Some(_) => {}
        None if stripes_along(tile) || !seen => return None,
        None => {}
    }
    Some(or)
}

/// The first lines appended once more.
pub fn doubled(case: &Case, strength: usize) -> Option<Faulty> {
    let lines = LINES[strength];
    at_an_edge(case, &mut case.chance(0xE8), |tile, _| {
        let seen = share_apart(tile.row(0), tile.row(lines as u32)) >= 0.02;
        let or = advance(case, tile, lines, seen, Kind::JointDoubled)?;
        let stride = tile.width() as usize * 4;
        let mut rgba = tile.samples().to_vec();
        rgba.extend_from_slice(&tile.samples()[..lines * stride]);
        let raster = Raster::new(tile.width(), tile.height() + lines as u32, rgba)?;
        let truth = whole(raster.width(), raster.height());
        Some(Faulty { or, size: Some(lines as f64), ..Faulty::held(raster, Kind::JointDoubled, truth) })
    })
}

/// The last lines cut off.
pub fn missing(case: &Case, strength: usize) -> Option<Faulty> {
    let lines = LINES[strength];
    if case.style.kind == Art::Soft {
        return None;
    }
    at_an_edge(case, &mut case.chance(0xE9), |tile, _| {
        let height = tile.height() - lines as u32;
        let seen = share_apart(tile.row(0), tile.row(height)) >= 0.02;
        // Where patches end on the border, they are lower by a few lines and no edge is cut; a plaid without a period is
        // another plaid, of narrower threads.
        let no_cut = case.style.kind == Art::Regular && (ends_on_border(tile) || case.style.name == "plaid");
        if no_cut && period(tile).is_none() {
            return None;
        }
        let or = advance(case, tile, lines, seen, Kind::JointMissing)?;
        let stride = tile.width() as usize * 4;
        let raster = Raster::new(tile.width(), height, tile.samples()[..height as usize * stride].to_vec())?;
        let truth = whole(raster.width(), raster.height());
        Some(Faulty { or, size: Some(lines as f64), ..Faulty::held(raster, Kind::JointMissing, truth) })
    })
}
