//! One tile: bytes in, outcome out. Pure and synchronous.
//!
//! Takes the bytes of a file and an order; yields the ticket, and as bytes whatever was wanted: the mended file, proven,
//! and the pictures. Knows nothing of files, time, processes or mail.

pub mod check;
pub mod mend;
pub mod cloth;
pub mod lay;
pub mod turn;
pub mod companion;
pub mod mockup;
pub mod draft;

use crate::codec::{self, Limits};
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::spec::wish::Wish;
use crate::spec::{Ground, Spec};
use crate::ticket::Ticket;
use crate::tile::{Content, Format, Tile};
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
    /// Make the spec's companions of a sound or mended tile.
    pub companions: bool,
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
    /// The tile turned or laid anew, as PNG.
    Companion(Wish),
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
        match mended(bytes, &tile, &judgment, order) {
            Ok((file, fresh)) => {
                ticket.verdict = Verdict::Mended;
                made.push((Product::Mended, file));
                tile = fresh;
            }
            Err(doubt) => {
                ticket.findings.insert(0, *doubt);
                ticket.verdict = Verdict::Held;
            }
        }
    }
    companions(bytes, &tile, &judgment, &mut ticket, order, &mut made);
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

/// The mended file, proven, and the tile decoded from it.
fn mended(bytes: &[u8], tile: &Tile, judgment: &Judgment, order: &Order<'_>) -> Result<(Vec<u8>, Tile), Box<Finding>> {
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
            let changed = mended.as_ref().map(|mended| Tile {
                raster: mended.raster(tile),
                deep: mended.deep(tile),
                meta: tile.meta.clone(),
                content: tile.content,
            });
            codec::encode_mended(bytes, changed.as_ref().unwrap_or(tile), per_inch)
                .map_err(|error| doubt(error.to_string()))?
        }
    };
    let original = Judged { tile, findings: &judgment.findings };
    let fresh = prove(bytes, original, mended.as_ref(), &file, resolution, order).map_err(doubt)?;
    Ok((file, fresh))
}

/// Proves a mended file: decodes it anew, compares samples and metadata, runs all checks again.
///
/// # Errors
/// In plain words, what is not as it must be.
pub fn prove(
    bytes: &[u8],
    original: Judged<'_>,
    mended: Option<&mend::Mended>,
    file: &[u8],
    resolution: Option<f64>,
    order: &Order<'_>,
) -> Result<Tile, String> {
    let fresh = codec::decode(file, order.limits, Vec::new()).map_err(|refusal| refusal.says())?;
    let again = check::judge(&fresh, order.spec);
    let copy = Judged { tile: &fresh, findings: &again.findings };
    mend::proof::prove(original, mended, resolution, copy).map_err(|doubt| doubt.to_string())?;
    if original.tile.meta.format == Format::Png {
        let changed: &[[u8; 4]] = if resolution.is_some() { &[*b"pHYs"] } else { &[] };
        codec::metadata_kept(bytes, file, changed)?;
    }
    Ok(fresh)
}

/// Adds the companions that are wanted, made of the mended file where there is one; the ticket says of each what it is, or
/// why there is none.
fn companions(
    bytes: &[u8],
    tile: &Tile,
    judgment: &Judgment,
    ticket: &mut Ticket,
    order: &Order<'_>,
    made: &mut Vec<(Product, Vec<u8>)>,
) {
    if !order.wants.companions || !matches!(ticket.verdict, Verdict::Sound | Verdict::Mended) {
        return;
    }
    let mended = made.iter().find(|(product, _)| *product == Product::Mended).map(|(_, file)| file.as_slice());
    let source = companion::Source { bytes: mended.unwrap_or(bytes), tile, judgment, spec: order.spec };
    // A companion lies in memory beside its tile, twice when it is read back: the limits leave room for that.
    let own = u64::from(tile.raster.width()) * u64::from(tile.raster.height());
    let room = order.limits.max_pixels.saturating_sub(own);
    let limits = Limits { max_pixels: if tile.deep.is_some() { room / 2 } else { room }, ..*order.limits };
    let mut files = Vec::new();
    for wish in &order.spec.companions {
        ticket.companions.push(match companion::make(source, wish, &limits) {
            Ok((file, entry)) => {
                files.push((Product::Companion(*wish), file));
                entry
            }
            Err(error) => companion::refused(tile, wish, &error),
        });
    }
    made.extend(files);
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
