//! One tile: bytes in, outcome out. Pure and synchronous.
//!
//! Takes the bytes of a file and an order; yields the ticket, and as bytes whatever was wanted: the mended file, proven,
//! and the pictures. Knows nothing of files, time, processes or mail.

pub mod check;
pub mod mend;
pub mod mockup;
pub mod draft;
pub mod back;

use crate::codec::{self, Limits};
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::spec::{Ground, Spec};
use crate::ticket::Ticket;
use crate::tile::{Channels, Content, Format, Tile};
use back::Back;
use check::Judgment;
use mend::proof::Judged;
use serde::{Deserialize, Serialize};

/// What is wanted of a tile beyond its judgment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Wants {
    /// Mend what can be mended, and prove it.
    pub mend: bool,
    /// Draw the repeat picture and the strike-off of a sound or mended tile.
    pub mockups: bool,
    /// Draw the held picture of a held one.
    pub held: bool,
    /// Keep in the ticket what was measured, passed or not.
    pub explain: bool,
}

/// Everything the pipeline needs beside the bytes.
#[derive(Clone, Debug)]
pub struct Order<'a> {
    /// The tile's name as people read it.
    pub name: &'a str,
    /// What it is judged against.
    pub spec: &'a Spec,
    /// What is wanted.
    pub wants: Wants,
    /// How mock-ups are drawn.
    pub mockup: &'a mockup::Settings,
    /// What a file may be at most.
    pub limits: &'a Limits,
}

/// What a file made by the pipeline is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Product {
    /// The mended tile as PNG.
    Mended,
    /// The repeat picture.
    Repeat,
    /// The strike-off.
    StrikeOff,
    /// The held picture.
    Held,
    /// The mended places of a mended tile, before and after.
    BeforeAfter,
    /// A held tile with everything mended that can be: not ready, offered to go on with.
    PartlyMended,
}

/// What became of a tile.
#[derive(Debug)]
pub struct Outcome {
    /// The record; its verdict is what holds after mending.
    pub ticket: Ticket,
    /// What was made, each at most once.
    pub made: Vec<(Product, Vec<u8>)>,
    /// Memory for the next tile's samples.
    pub reuse: Vec<u8>,
}

/// Judges the bytes of a file and makes what is wanted. `reuse` is the memory of an earlier tile.
#[must_use]
pub fn run(bytes: &[u8], order: &Order<'_>, reuse: Vec<u8>) -> Outcome {
    let tile = match codec::decode(bytes, order.limits, reuse) {
        Ok(tile) => tile,
        Err(refusal) => {
            let finding = Finding {
                kind: refusal.kind(),
                grade: Grade::Fault,
                silenced: false,
                boxes: Vec::new(),
                measure: None,
                says: refusal.says(),
                remedy: refusal.remedy(),
            };
            let format = codec::format_of(bytes).map_or("", Format::name);
            return unreadable(Content::of(bytes), format, order, finding);
        }
    };
    let judgment = check::judge(&tile, order.spec);
    let mut ticket = draft::ticket(&tile, &judgment, order.name, order.spec);
    if order.wants.explain {
        ticket.readings.clone_from(&judgment.readings);
    }
    let mut made = Vec::new();
    let mut tile = tile;
    if judgment.verdict == Verdict::Mendable && order.wants.mend {
        let before = order.wants.mockups.then(|| {
            mockup::before_after::Before::of(&tile, order.name, &judgment.findings, judgment.layout(order.spec))
        });
        match mended(bytes, &mut tile, &judgment, order) {
            Ok(Proven { file, back }) => {
                ticket.verdict = Verdict::Mended;
                made.push((Product::Mended, file));
                back.told(&mut ticket, &tile);
                let drawn = before.transpose().and_then(|before| {
                    let beside =
                        before.flatten().map(|before| before.beside(&tile.raster, back.count(), back.estimated()));
                    beside.transpose()
                });
                match drawn {
                    Ok(picture) => made.extend(picture.map(|picture| (Product::BeforeAfter, picture))),
                    Err(error) => tracing::warn!(tile = order.name, %error, "a picture could not be drawn"),
                }
            }
            Err(doubt) => {
                ticket.findings.insert(0, *doubt);
                ticket.verdict = Verdict::Held;
            }
        }
    }
    if judgment.verdict == Verdict::Held && order.wants.mend {
        made.extend(partly_mended(bytes, &mut tile, &judgment, &mut ticket, order));
    }
    pictures(&tile, &judgment, &mut ticket, order, &mut made);
    Outcome { ticket, made, reuse: tile.raster.into_samples() }
}

/// The record and the picture of a file that could not be looked at.
#[must_use]
pub fn unreadable(content: Content, format: &str, order: &Order<'_>, finding: Finding) -> Outcome {
    let ticket = draft::unreadable(content, format, order.name, order.spec, finding);
    let mut made = Vec::new();
    if order.wants.held
        && let Ok(picture) = mockup::held::without_pixels(order.name, &ticket.findings)
    {
        made.push((Product::Held, picture));
    }
    Outcome { ticket, made, reuse: Vec::new() }
}

/// The copy of a held tile in which everything is mended that can be, proven like any other; the tile itself stays as it
/// is. What mends is told in the ticket. `None` where no pixel can be mended, where nothing may be (animated, several
/// pages, printing inks), and where mending one part would call for another.
fn partly_mended(
    bytes: &[u8],
    tile: &mut Tile,
    judgment: &Judgment,
    ticket: &mut Ticket,
    order: &Order<'_>,
) -> Option<(Product, Vec<u8>)> {
    let never = tile.meta.frames > 1 || tile.meta.pages > 1 || tile.meta.channels == Channels::Cmyk;
    if never || judgment.ground != Ground::Opaque || judgment.survey.mask.is_empty() {
        return None;
    }
    match mended(bytes, tile, judgment, order) {
        Ok(Proven { file, back }) => {
            back.restore(tile);
            let mends = |finding: &&mut Finding| finding.grade == Grade::Mend && !finding.silenced;
            for finding in ticket.findings.iter_mut().filter(mends) {
                finding.remedy = "nothing: it is mended in the partly mended copy, which you can go on with".into();
            }
            Some((Product::PartlyMended, file))
        }
        Err(doubt) => {
            tracing::info!(tile = order.name, why = doubt.says, "no partly mended copy is offered");
            None
        }
    }
}

/// A mended file that has passed its proof.
struct Proven {
    file: Vec<u8>,
    back: Back,
}

/// The mended file, proven; `tile` becomes what it holds, and stays as it was when there is a doubt.
fn mended(bytes: &[u8], tile: &mut Tile, judgment: &Judgment, order: &Order<'_>) -> Result<Proven, Box<Finding>> {
    let doubt = |why: String| {
        Box::new(Finding {
            kind: Kind::MendUnproven,
            grade: Grade::Fault,
            silenced: false,
            boxes: Vec::new(),
            measure: None,
            says: format!("the mended copy did not pass its proof, so nothing was given back: {why}"),
            remedy: "mend this tile by hand, and please report the file: it should not happen".into(),
        })
    };
    let resolution = mend::tag::wanted(&judgment.findings, order.spec);
    let mended = if judgment.ground == Ground::Opaque { mend::mend(tile, &judgment.survey) } else { None };
    let file = match (&mended, resolution) {
        (None, Some(per_inch)) if tile.meta.format == Format::Png => {
            codec::retag(bytes, per_inch).ok_or_else(|| doubt("the resolution could not be written".into()))?
        }
        (None, None) => return Err(doubt("nothing to mend was found again".into())),
        (mended, per_inch) => {
            let overlay = mended.as_ref().map(|mended| mended as &dyn codec::Overlay);
            codec::encode_laid(bytes, tile, overlay, per_inch).map_err(|error| doubt(error.to_string()))?
        }
    };
    let back = prove(bytes, tile, &judgment.findings, mended, &file, resolution, order).map_err(doubt)?;
    Ok(Proven { file, back })
}

/// Proves a mended file: unpacks it anew, compares every row and the metadata, and runs all checks again on what it holds,
/// which `tile` becomes; when there is a doubt it stays as it was.
///
/// # Errors
/// In plain words, what is not as it must be.
pub fn prove(
    bytes: &[u8],
    tile: &mut Tile,
    findings: &[Finding],
    mended: Option<mend::Mended>,
    file: &[u8],
    resolution: Option<f64>,
    order: &Order<'_>,
) -> Result<Back, String> {
    let is_png = tile.meta.format == Format::Png;
    let header = if is_png && mended.is_none() {
        // Only the tag has changed: the pixels may be stored in passes, so that there are no rows to read one by one.
        let fresh = codec::decode(file, order.limits, Vec::new()).map_err(|refusal| refusal.says())?;
        mend::proof::pixels(tile, None, &fresh).map_err(|doubt| doubt.to_string())?;
        codec::Header { width: fresh.raster.width(), height: fresh.raster.height(), meta: fresh.meta }
    } else {
        let mut rows = mend::proof::Rows::of(tile, mended.as_ref());
        let header = codec::each_row(file, order.limits, |y, row, deep| rows.row(y, row, deep).map_err(Why::from))
            .map_err(|why| why.0)?;
        rows.end().map_err(|doubt| doubt.to_string())?;
        header
    };
    if is_png {
        let changed: &[[u8; 4]] = if resolution.is_some() { &[*b"pHYs"] } else { &[] };
        codec::metadata_kept(bytes, file, changed)?;
    }
    // Every sample of the file is known to be this: no second picture is needed.
    let mended = mended.map(|mended| {
        let undo = mended.apply(tile);
        (mended, undo)
    });
    let meta = std::mem::replace(&mut tile.meta, header.meta);
    let back = Back::new(mended, meta, std::mem::replace(&mut tile.content, Content::of(file)));
    let again = check::judge(tile, order.spec);
    let original = Judged { meta: back.meta(), findings };
    let rest = mend::proof::rest(original, resolution, Judged { meta: &tile.meta, findings: &again.findings });
    match rest {
        Ok(()) => Ok(back),
        Err(doubt) => {
            back.restore(tile);
            Err(doubt.to_string())
        }
    }
}

/// Why a file that was read back is not to be trusted, in plain words.
struct Why(String);

impl From<codec::Refusal> for Why {
    fn from(refusal: codec::Refusal) -> Self {
        Self(refusal.says())
    }
}

impl From<mend::proof::Doubt> for Why {
    fn from(doubt: mend::proof::Doubt) -> Self {
        Self(doubt.to_string())
    }
}

/// Adds the pictures that are wanted. One that cannot be drawn is left out and said, since it is no fault of the tile.
fn pictures(
    tile: &Tile,
    judgment: &Judgment,
    ticket: &mut Ticket,
    order: &Order<'_>,
    made: &mut Vec<(Product, Vec<u8>)>,
) {
    let layout = judgment.layout(order.spec);
    let per_inch = tile.meta.resolution;
    let mut keep = |product, picture: Result<Vec<u8>, mockup::MockupError>| match picture {
        Ok(bytes) => made.push((product, bytes)),
        Err(error) => tracing::warn!(tile = order.name, %error, "a picture could not be drawn"),
    };
    match ticket.verdict {
        Verdict::Sound | Verdict::Mended if order.wants.mockups => {
            keep(
                Product::Repeat,
                mockup::repeat::picture(&tile.raster, layout, per_inch.map(|found| found.x), order.mockup),
            );
            if let Some(found) = per_inch {
                keep(
                    Product::StrikeOff,
                    mockup::strike_off::picture(&tile.raster, layout, [found.x, found.y], order.name, order.mockup),
                );
            }
        }
        Verdict::Held if order.wants.held => {
            let view = mockup::held::HeldView {
                tile,
                name: order.name,
                findings: &ticket.findings,
                repeat: layout,
                spec: order.spec,
                let_pass: false,
            };
            keep(Product::Held, mockup::held::picture(&view));
        }
        Verdict::Sound | Verdict::Mended | Verdict::Held | Verdict::Mendable | Verdict::Unreadable => {}
    }
}
