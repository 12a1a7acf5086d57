//! The proof of a mend: what was written, read back and decoded is the original but for what the mend promised.
//!
//! Takes both tiles and both judgments, yields the first doubt or none. Knows nothing of how the mend was made or of files.

use super::fill::is_shown;
use super::mended::Mended;
use crate::codec::Overlay;
use crate::finding::{Finding, Grade, Kind};
use crate::pixel::mask::Run;
use crate::pixel::over::Sample;
use crate::pixel::stored::{Rgba, View, held_multiplied, within};
use crate::tile::{Meta, Resolution, Tile};
use thiserror::Error;

/// What a file says of itself and what the checks said about it.
#[derive(Clone, Copy)]
pub struct Judged<'a> {
    /// What its container says.
    pub meta: &'a Meta,
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
    /// A pixel of the mask is none of the above and still not what the mend meant.
    #[error("the mended pixel {x}, {y} (column, row) is {is}, and the mend meant it to be {meant}")]
    Unmeant {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
        /// Its samples in the copy.
        is: String,
        /// What they were to be.
        meant: String,
    },
    /// A filled pixel has a color that other units do not show.
    #[error("the filled pixel {x}, {y} (column, row) is {is}, which no two other units of the design show there")]
    Unshown {
        /// Column.
        x: u32,
        /// Row.
        y: u32,
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

/// Proves the pixels of a copy that is at hand as a whole. `mended` is `None` where only the tag changed, and then every
/// pixel must be the same.
///
/// # Errors
/// The first doubt found.
pub fn pixels(was: &Tile, mended: Option<&Mended>, is: &Tile) -> Result<(), Doubt> {
    let mut rows = Rows::of(was, mended);
    let stride = is.raster.width() as usize * 4;
    for y in 0..is.raster.height() {
        let deep = is.deep.as_ref().and_then(|deep| deep.0.get(y as usize * stride..(y as usize + 1) * stride));
        rows.row(y, is.raster.row(y), deep)?;
    }
    rows.end()
}

/// The rest of a proof once every pixel has passed: depth, tag and findings. `again` is the written copy, read back and
/// judged anew; `per_inch` is the tag that was to be written, `None` to keep it.
///
/// # Errors
/// The first doubt found.
pub fn rest(original: Judged<'_>, per_inch: Option<f64>, again: Judged<'_>) -> Result<(), Doubt> {
    let (was, is) = (original.meta, again.meta);
    if is.bit_depth < was.bit_depth {
        return Err(Doubt::Depth(was.bit_depth, is.bit_depth));
    }
    resolution(was.resolution, is.resolution, per_inch)?;
    findings(original.findings, again.findings)
}

/// The rows of a copy, proven one by one as they are read back, in the file's own depth: outside the mask equal, inside
/// opaque, of the stored color or one it allows, and exactly what the mend meant.
pub struct Rows<'a> {
    was: &'a Tile,
    mended: Option<&'a Mended>,
    /// Whether the file held color multiplied by alpha, so that the mend may have estimated some.
    multiplied: bool,
    /// Rows seen, and mended pixels of another color.
    seen: u32,
    changed: u64,
    meant: Vec<u8>,
    meant_deep: Vec<u16>,
}

impl<'a> Rows<'a> {
    /// The proof of a copy of `was` in which only `mended` may have changed anything.
    #[must_use]
    pub fn of(was: &'a Tile, mended: Option<&'a Mended>) -> Self {
        let (width, height) = (was.raster.width(), was.raster.height());
        let multiplied = mended.map(Mended::kept).is_some_and(|mask| match &was.deep {
            Some(deep) => View::new(&deep.0, width, height).is_some_and(|view| held_multiplied(&view, &mask)),
            None => View::new(was.raster.samples(), width, height).is_some_and(|view| held_multiplied(&view, &mask)),
        });
        Self { was, mended, multiplied, seen: 0, changed: 0, meant: Vec::new(), meant_deep: Vec::new() }
    }

    /// Takes row `y` of the copy, straight RGBA; rows come in order from the top.
    ///
    /// # Errors
    /// The first doubt found.
    pub fn row(&mut self, y: u32, is: &[u8], is_deep: Option<&[u16]>) -> Result<(), Doubt> {
        let raster = &self.was.raster;
        let stride = raster.width() as usize * 4;
        if y >= raster.height() || is.len() != stride {
            return Err(Doubt::Size((raster.width(), raster.height()), (is.len() as u32 / 4, y + 1)));
        }
        let touched = self.mended.filter(|mended| mended.touches(y));
        let mask = touched.map_or(&[][..], |mended| mended.mask.row(y));
        self.changed += match (&self.was.deep, is_deep) {
            (Some(deep), Some(is)) => {
                let was = &deep.0[y as usize * stride..][..stride];
                let meant = touched.map(|mended| {
                    self.meant_deep.clear();
                    self.meant_deep.extend_from_slice(was);
                    mended.lay_deep(y, &mut self.meant_deep);
                    self.meant_deep.as_slice()
                });
                let shown = |x, is| filled(touched, &deep.0, (x, y), is, [raster.width(), raster.height()]);
                samples(Both { was, is, meant }, y, mask, self.multiplied, shown)?
            }
            (None, None) => {
                let was = raster.row(y);
                let meant = touched.map(|mended| {
                    self.meant.clear();
                    self.meant.extend_from_slice(was);
                    mended.lay(y, &mut self.meant);
                    self.meant.as_slice()
                });
                let shown = |x, is| filled(touched, raster.samples(), (x, y), is, [raster.width(), raster.height()]);
                samples(Both { was, is, meant }, y, mask, self.multiplied, shown)?
            }
            (was, _) => return Err(if was.is_some() { Doubt::Depth(16, 8) } else { Doubt::Depth(8, 16) }),
        };
        self.seen += 1;
        Ok(())
    }

    /// Ends the proof of the pixels.
    ///
    /// # Errors
    /// When rows are missing, or more or fewer colors changed than the mend said.
    pub fn end(self) -> Result<(), Doubt> {
        let (width, height) = (self.was.raster.width(), self.was.raster.height());
        if self.seen != height {
            return Err(Doubt::Size((width, height), (width, self.seen)));
        }
        let estimated = self.mended.map_or(0, |mended| mended.estimated);
        if self.changed == estimated { Ok(()) } else { Err(Doubt::Estimated(estimated, self.changed)) }
    }
}

/// Whether a pixel was filled, and then whether other units show the color it has now.
fn filled<T: Sample>(
    mended: Option<&Mended>,
    was: &[T],
    (x, y): (u32, u32),
    is: Rgba<T>,
    sides: [u32; 2],
) -> Option<bool> {
    let (mask, unit) = mended?.filled.as_ref()?;
    let shown = || View::new(was, sides[0], sides[1]).is_some_and(|view| is_shown(&view, *unit, (x, y), is, sides));
    mask.contains(x, y).then(shown)
}

/// One row of the original, of the copy, and as the mend meant it where it changes anything.
struct Both<'a, T> {
    was: &'a [T],
    is: &'a [T],
    meant: Option<&'a [T]>,
}

/// Compares row `y`; yields how many mended pixels have another color. `shown` tells of a filled pixel whether other units
/// show its color, and of any other nothing.
fn samples<T: Sample>(
    Both { was, is, meant }: Both<'_, T>,
    y: u32,
    mask: &[Run],
    multiplied: bool,
    shown: impl Fn(u32, Rgba<T>) -> Option<bool>,
) -> Result<u64, Doubt> {
    if mask.is_empty() && was == is {
        return Ok(0);
    }
    let (was, is) = (was.as_chunks::<4>().0, is.as_chunks::<4>().0);
    let (mut from, mut changed) = (0, 0);
    for run in mask {
        unchanged(was, is, y, from, run.start as usize)?;
        for x in run.start..run.end {
            let (before, now) = (was[x as usize], is[x as usize]);
            if now[3] != T::FULL {
                return Err(Doubt::SeeThrough { x, y, alpha: now[3].into(), full: T::MOST });
            }
            let kept = before[..3] == now[..3];
            let near = || (0..3).all(|i| within(now[i], before[i], before[3]));
            match shown(x, now) {
                _ if before[3] == T::FULL => return Err(outside(x, y, before, now)),
                Some(false) => return Err(Doubt::Unshown { x, y, is: spelled(now) }),
                Some(true) if before[3] == T::clamped(0) || near() => {}
                None if kept || (multiplied && near()) => changed += u64::from(!kept),
                _ => return Err(Doubt::Color { x, y, was: spelled(before), is: spelled(now) }),
            }
        }
        from = run.end as usize;
    }
    unchanged(was, is, y, from, was.len())?;
    let meant = meant.map_or(was, |meant| meant.as_chunks::<4>().0);
    match meant.iter().zip(is).position(|(meant, is)| meant != is) {
        Some(at) => Err(Doubt::Unmeant { x: at as u32, y, is: spelled(is[at]), meant: spelled(meant[at]) }),
        None => Ok(changed),
    }
}

fn unchanged<T: Sample>(was: &[Rgba<T>], is: &[Rgba<T>], y: u32, from: usize, to: usize) -> Result<(), Doubt> {
    let (before, now) = (&was[from..to], &is[from..to]);
    if before == now {
        return Ok(());
    }
    let at = before.iter().zip(now).position(|(before, now)| before != now).unwrap_or(0);
    Err(outside((from + at) as u32, y, before[at], now[at]))
}

fn outside<T: Sample>(x: u32, y: u32, was: Rgba<T>, is: Rgba<T>) -> Doubt {
    Doubt::Outside { x, y, was: spelled(was), is: spelled(is) }
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

/// Nothing that a mend is for is left, and no kind of fault is new: what the artist must mend may stay, and holds the tile.
fn findings(before: &[Finding], now: &[Finding]) -> Result<(), Doubt> {
    let counts = |finding: &&Finding| !finding.silenced && finding.grade > Grade::Advice;
    let had = |kind: Kind| before.iter().filter(counts).any(|other| other.kind == kind && other.grade == Grade::Fault);
    let wrong = |finding: &&Finding| finding.grade == Grade::Mend || !had(finding.kind);
    let Some(finding) = now.iter().filter(counts).find(wrong) else { return Ok(()) };
    let left = finding.grade == Grade::Mend || finding.kind.name().starts_with("alpha.");
    let doubt = if left { Doubt::Left } else { Doubt::NewFault };
    Err(doubt(finding.kind, finding.says.clone()))
}
