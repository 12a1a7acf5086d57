//! A mended file and its proof: written, unpacked anew, compared row by row, judged again.
//!
//! Takes a tile, what was said of it and what is meant, yields the file or the doubt about it. Knows nothing of where
//! files go and of what else is made of a tile.

use super::back::Back;
use super::check::{self, Judgment};
use super::mend::fill::Fill;
use super::mend::proof::{self, Judged};
use super::mend::{self, Mended};
use crate::codec::{self, Limits};
use crate::finding::{Finding, Grade, Kind};
use crate::spec::{Ground, Spec};
use crate::ticket::word::Mark;
use crate::tile::{Content, Format, Tile};
use std::collections::BTreeSet;

/// What a mend is held to.
#[derive(Clone, Copy, Debug)]
pub struct Terms<'a> {
    /// What the tile is judged against.
    pub spec: &'a Spec,
    /// What a file may be at most.
    pub limits: &'a Limits,
    /// What the artist let pass of this content.
    pub let_pass: Option<&'a BTreeSet<Mark>>,
}

/// A mended file that has passed its proof.
pub struct Proven {
    /// The file.
    pub file: Vec<u8>,
    /// The way back to the tile as it was.
    pub back: Back,
}

/// The mended file, proven; `tile` becomes what it holds, and stays as it was when there is a doubt. With a `fill` holes are
/// filled too, and then nothing but advice may be left: the copy must be one that would be ready.
///
/// # Errors
/// The doubt, as a finding.
pub fn mended(
    bytes: &[u8],
    tile: &mut Tile,
    judgment: &Judgment,
    fill: Option<Fill>,
    terms: Terms<'_>,
) -> Result<Proven, Box<Finding>> {
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
    let resolution = mend::tag::wanted(&judgment.findings, terms.spec);
    let mended = if judgment.ground == Ground::Opaque { mend::mend(tile, &judgment.survey) } else { None };
    let filled = fill.is_some();
    let mended = match fill {
        Some(fill) => Some(Mended::filling(mended, fill)),
        None => mended,
    };
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
    let is_meant = |finding: &Finding| terms.let_pass.is_some_and(|marks| marks.contains(&Mark::of(finding)));
    let mut meant = meant(&judgment.findings, is_meant);
    if filled {
        // No fault of the original is taken for granted.
        meant.retain(|finding| finding.silenced);
    }
    let back = prove(bytes, tile, &meant, mended, &file, resolution, terms).map_err(doubt)?;
    Ok(Proven { file, back })
}

/// Proves a mended file: unpacks it anew, compares every row and the metadata, and runs all checks again on what it holds,
/// which `tile` becomes; when there is a doubt it stays as it was. `findings` are the original's; faults silenced among them
/// are meant, and may be found in the copy too.
///
/// # Errors
/// In plain words, what is not as it must be.
pub fn prove(
    bytes: &[u8],
    tile: &mut Tile,
    findings: &[Finding],
    mended: Option<Mended>,
    file: &[u8],
    resolution: Option<f64>,
    terms: Terms<'_>,
) -> Result<Back, String> {
    let is_png = tile.meta.format == Format::Png;
    let header = if is_png && mended.is_none() {
        // Only the tag has changed: the pixels may be stored in passes, so that there are no rows to read one by one.
        let fresh = codec::decode(file, terms.limits, Vec::new()).map_err(|refusal| refusal.says())?;
        proof::pixels(tile, None, &fresh).map_err(|doubt| doubt.to_string())?;
        codec::Header { width: fresh.raster.width(), height: fresh.raster.height(), meta: fresh.meta }
    } else {
        let mut rows = proof::Rows::of(tile, mended.as_ref());
        let header = codec::each_row(file, terms.limits, |y, row, deep| rows.row(y, row, deep).map_err(Why::from))
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
    let again = check::judge(tile, terms.spec);
    // By kind, as the proof asks: mending one line may change what is measured at another place.
    let is_meant = |kind| findings.iter().any(|one| one.silenced && one.grade == Grade::Fault && one.kind == kind);
    let meant = meant(&again.findings, |finding| is_meant(finding.kind));
    let original = Judged { meta: back.meta(), findings };
    match proof::rest(original, resolution, Judged { meta: &tile.meta, findings: &meant }) {
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

impl From<proof::Doubt> for Why {
    fn from(doubt: proof::Doubt) -> Self {
        Self(doubt.to_string())
    }
}

/// The findings with those silenced that the artist let pass: a proof must not ask for what is meant to be gone.
fn meant(findings: &[Finding], is_meant: impl Fn(&Finding) -> bool) -> Vec<Finding> {
    let silenced = |finding: &Finding| finding.silenced || (finding.grade == Grade::Fault && is_meant(finding));
    findings.iter().map(|finding| Finding { silenced: silenced(finding), ..finding.clone() }).collect()
}
