//! Lines, units, colors and stripes as cases for the scoreboard: their makers stand in files of their own.

use super::fault::{Case, Faulty, runs};
use super::{colors, flattened, stray};
use burler::finding::{Area, Kind, Verdict};
use burler::spec::{Ground, Spec};
use burler::tile::Raster;

fn told(raster: Raster, kind: Kind, truth: Vec<Area>) -> Faulty {
    Faulty { verdicts: vec![Verdict::Sound], ..Faulty::held(raster, kind, truth) }
}

/// A see-through line merged onto a paper; a fault with proof, else told. Only what is visible at full size.
pub fn merged_line(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.ground != Ground::Opaque {
        return None;
    }
    let made = flattened::flattened(case.sound, case.chance(0xF1).next(), strength);
    if !made.visible() {
        return None;
    }
    let (width, height) = (made.raster.width(), made.raster.height());
    let truth = runs(width, height, |x, y| made.mask[(y * width + x) as usize] > 0);
    let verdicts = vec![Verdict::Held, Verdict::Sound];
    Some(Faulty { verdicts, ..Faulty::held(made.raster, Kind::LineFlattened, truth) })
}

/// One unit of a field set aside.
pub fn stray_unit(case: &Case, strength: usize) -> Option<Faulty> {
    let (raster, area) = stray::stray(case.sound, case.chance(0xF2).next(), strength as u32)?;
    Some(Faulty::held(raster, Kind::UnitStray, vec![area]))
}

/// One flat color more than the order allows.
pub fn one_color_more(case: &Case, strength: usize) -> Option<Faulty> {
    let (raster, area) = colors::extra(case.sound, case.chance(0xF3).next(), strength as u32)?;
    let limit = colors::flat_colors(case.sound).len() as u32;
    let spec = Spec { colors: Some(limit), ..Spec::default() };
    Some(Faulty { spec, ..Faulty::held(raster, Kind::ColorCount, vec![area]) })
}

/// A flat color in two shades that can hardly be told apart.
pub fn twins(case: &Case, strength: usize) -> Option<Faulty> {
    let (raster, area) = colors::twins(case.sound, case.chance(0xF4).next(), strength as u32)?;
    Some(told(raster, Kind::ColorTwins, vec![area]))
}

/// Pixels in between two colors, left over on clean edges.
pub fn stray_colors(case: &Case, strength: usize) -> Option<Faulty> {
    let (raster, area) = colors::stray(case.sound, case.chance(0xF5).next(), strength as u32)?;
    Some(told(raster, Kind::ColorStray, vec![area]))
}

/// Strong even stripes of 3 cycles per degree or so, at 300 pixels per inch and 1 m: once over the whole tile.
pub fn glare(case: &Case, strength: usize) -> Option<Faulty> {
    if case.style.name != "stripes" {
        return None;
    }
    let mut chance = case.chance(0xF6);
    let (width, height) = (case.sound.width(), case.sound.height());
    let along = chance.odds(2);
    let side = if along { height } else { width };
    // 206 px are 1 cycle per degree, 26 px are 8: from 1.3 to 7.
    let count = (side / chance.whole(30, 150)).max(2);
    let dark = [110, 80, 50, 10][strength];
    let samples = (0..height)
        .flat_map(|y| (0..width).map(move |x| if along { y } else { x }))
        .flat_map(|at| {
            if (at * 2 * count / side).is_multiple_of(2) { [250, 248, 240, 255] } else { [dark, dark, dark, 255] }
        })
        .collect();
    Some(told(Raster::new(width, height, samples)?, Kind::GlareStripes, Vec::new()))
}
