//! The proof of a mend: what was written, read back and decoded is the original but for what the mend promised.
//!
//! Takes both tiles and both judgments, yields the first doubt or none. Knows nothing of how the mend was made or of files.

use super::mended::Mended;
use crate::finding::{Finding, Grade, Kind};
use crate::pixel::mask::{Mask, Run};
use crate::pixel::over::Sample;
use crate::pixel::stored::{Rgba, View, held_multiplied, within};
use crate::tile::{Resolution, Tile};
use thiserror::Error;

/// A tile and what the checks said about it.
#[derive(Clone, Copy)]
pub struct Judged<'a> {
    /// The decoded tile.
    pub tile: &'a Tile,
    /// Its findings under the spec.
    pub findings: &'a [Finding],
}

/// Why a mended copy is not to be trusted.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum Doubt {
    /// Another size.
    #[error("the mended copy is {1:?} px and the original {0:?} px (width, height)")]
    Size((u32, u32), (u32, u32)),
    /// Fewer bits, or another kind of depth.
    #[error("the mended copy keeps {1} bits a sample and the original {0}")]
    Depth(u8, u8),
    /// A pixel outside the mask is not what it was.
    #[error("the pixel {x}, {y} (column, row) was not to be touched and changed from {was} to {is}")]
    Outside {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
        /// Its samples in the original.
        was: String,
        /// Its samples in the copy.
        is: String,
    },
    /// A pixel of the mask is still see-through.
    #[error("the mended pixel {x}, {y} (column, row) is still see-through, {alpha} of {full}")]
    SeeThrough {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
        /// Its alpha in the copy.
        alpha: u32,
        /// Full alpha in the file's depth.
        full: u32,
    },
    /// A pixel of the mask has a color that the stored one does not allow.
    #[error(
        "the mended pixel {x}, {y} (column, row) changed its color from {was} to {is}, more than low alpha can have hidden"
    )]
    Color {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
        /// Its samples in the original.
        was: String,
        /// Its samples in the copy.
        is: String,
    },
    /// More or fewer colors changed than the mend said.
    #[error("{1} mended pixels have another color, and the mend estimated {0}")]
    Estimated(u64, u64),
    /// The resolution is not what it should be.
    #[error("the mended copy says {1} and should say {0}")]
    Resolution(String, String),
    /// What was to be mended is still found.
    #[error("the checks still find {0} in the mended copy: {1}")]
    Left(Kind, String),
    /// The checks find a fault that the original did not have.
    #[error("the checks find {0} in the mended copy, which the original did not have: {1}")]
    NewFault(Kind, String),
}

/// Proves a mend: `again` is the written copy, read back, decoded and judged anew. `mended` is `None` where only the tag
/// changed, and then every pixel must be the same; `per_inch` is the tag that was to be written, `None` to keep it.
///
/// # Errors
/// The first doubt found: size and depth, then every sample in the file's own depth, then the tag, then the findings.
pub fn prove(
    original: Judged<'_>,
    mended: Option<&Mended>,
    per_inch: Option<f64>,
    again: Judged<'_>,
) -> Result<(), Doubt> {
    let (was, is) = (original.tile, again.tile);
    let (width, height) = (was.raster.width(), was.raster.height());
    if (width, height) != (is.raster.width(), is.raster.height()) {
        return Err(Doubt::Size((width, height), (is.raster.width(), is.raster.height())));
    }
    if was.deep.is_some() != is.deep.is_some() || is.meta.bit_depth < was.meta.bit_depth {
        return Err(Doubt::Depth(was.meta.bit_depth, is.meta.bit_depth));
    }
    let none = Mask::default();
    let (mask, estimated) = mended.map_or((&none, 0), |mended| (&mended.mask, mended.estimated));
    match (&was.deep, &is.deep) {
        (Some(was), Some(is)) => samples(&was.0, &is.0, (width, height), mask, estimated)?,
        _ => samples(was.raster.samples(), is.raster.samples(), (width, height), mask, estimated)?,
    }
    resolution(was.meta.resolution, is.meta.resolution, per_inch)?;
    findings(original.findings, again.findings)
}

/// Compares all samples: outside the mask equal, inside opaque and of the stored color or one it allows.
fn samples<T: Sample>(
    was: &[T],
    is: &[T],
    (width, height): (u32, u32),
    mask: &Mask,
    estimated: u64,
) -> Result<(), Doubt> {
    let size = Doubt::Size((width, height), (width, height));
    let (was, is) = View::new(was, width, height).zip(View::new(is, width, height)).ok_or(size)?;
    let mut runs = mask.runs().iter().peekable();
    for y in 0..height {
        let mut from = 0;
        while let Some(Run { start, end, .. }) = runs.next_if(|run| run.y == y).copied() {
            unchanged(&was, &is, y, from, start)?;
            from = end;
        }
        unchanged(&was, &is, y, from, width)?;
    }
    let multiplied = held_multiplied(&was, mask);
    let mut changed = 0;
    for (x, y) in mask.pixels() {
        let (before, now) = (was.at(x.into(), y.into()), is.at(x.into(), y.into()));
        if now[3] != T::FULL {
            return Err(Doubt::SeeThrough { x, y, alpha: now[3].into(), full: T::MOST });
        }
        let kept = before[..3] == now[..3];
        let allowed = multiplied && (0..3).all(|i| within(now[i], before[i], before[3]));
        if !kept && !allowed {
            return Err(Doubt::Color { x, y, was: spelled(before), is: spelled(now) });
        }
        changed += u64::from(!kept);
    }
    if changed == estimated { Ok(()) } else { Err(Doubt::Estimated(estimated, changed)) }
}

fn unchanged<T: Sample>(was: &View<'_, T>, is: &View<'_, T>, y: u32, from: u32, to: u32) -> Result<(), Doubt> {
    let (before, now) = (was.span(y, from, to), is.span(y, from, to));
    if before == now {
        return Ok(());
    }
    let at = before.iter().zip(now).position(|(before, now)| before != now).unwrap_or(0);
    Err(Doubt::Outside { x: from + at as u32, y, was: spelled(before[at]), is: spelled(now[at]) })
}

fn spelled<T: Sample>([r, g, b, a]: Rgba<T>) -> String {
    format!("red {r:?}, green {g:?}, blue {b:?}, alpha {a:?}")
}

/// One stored unit of a PNG's resolution, per inch, rounded up: a pixel per meter is 0.0254.
const QUANTUM: f64 = 0.03;

fn resolution(was: Option<Resolution>, is: Option<Resolution>, per_inch: Option<f64>) -> Result<(), Doubt> {
    let wanted = per_inch.map(|per_inch| (per_inch, per_inch, QUANTUM)).or(was.map(|was| (was.x, was.y, was.quantum)));
    let right = match (wanted, is) {
        (None, None) => true,
        (Some((x, y, quantum)), Some(is)) => {
            let slack = quantum.max(is.quantum);
            (x - is.x).abs() <= slack && (y - is.y).abs() <= slack
        }
        _ => false,
    };
    let say = |per_inch: Option<(f64, f64)>| {
        per_inch.map_or_else(|| "no resolution".into(), |(x, y)| format!("{x:.2} x {y:.2} pixels per inch"))
    };
    if right {
        return Ok(());
    }
    Err(Doubt::Resolution(say(wanted.map(|(x, y, _)| (x, y))), say(is.map(|is| (is.x, is.y)))))
}

/// Nothing that a mend is for is left, and no kind of fault is new.
fn findings(before: &[Finding], now: &[Finding]) -> Result<(), Doubt> {
    let counts = |finding: &&Finding| !finding.silenced && finding.grade > Grade::Advice;
    let had = |kind: Kind| before.iter().filter(counts).any(|other| other.kind == kind && other.grade == Grade::Fault);
    for finding in now.iter().filter(counts) {
        let of_alpha = finding.kind.name().starts_with("alpha.");
        if of_alpha || finding.grade == Grade::Mend {
            return Err(Doubt::Left(finding.kind, finding.says.clone()));
        }
        if !had(finding.kind) {
            return Err(Doubt::NewFault(finding.kind, finding.says.clone()));
        }
    }
    Ok(())
}
