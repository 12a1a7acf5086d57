//! Drafting tickets: a judgment and what the container says, written down.

use super::check::Judgment;
use crate::finding::{Finding, Verdict, rounded};
use crate::spec::Spec;
use crate::ticket::{RULES, RepeatFound, SCHEMA, Ticket, Unit, print_mm};
use crate::tile::{Content, Tile};

/// The ticket of a tile that was judged.
#[must_use]
pub fn ticket(tile: &Tile, judgment: &Judgment, name: &str, spec: &Spec) -> Ticket {
    let meta = &tile.meta;
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let dpi = meta.resolution.map(|found| [found.x, found.y]);
    Ticket {
        width,
        height,
        channels: meta.channels.name().into(),
        bit_depth: meta.bit_depth,
        resolution_dpi: dpi.map(|dpi| dpi.map(rounded)),
        print_mm: dpi.map(|dpi| print_mm(width, height, dpi)),
        color_profile: meta.profile.name().into(),
        ground: judgment.ground.name().into(),
        repeat: RepeatFound {
            joins_as: judgment.joins_as.iter().map(|repeat| repeat.name().into()).collect(),
            unit: unit(judgment, width, height),
        },
        flat_colors: judgment.flat_colors,
        verdict: judgment.verdict,
        findings: judgment.findings.clone(),
        ..blank(tile.content, meta.format.name(), name, spec)
    }
}

/// The smallest repeat, where the tile holds a whole number of them and more than one.
fn unit(judgment: &Judgment, width: u32, height: u32) -> Option<Unit> {
    let found = judgment.lattice.unit?;
    let per_tile = found.per_tile(width, height).filter(|count| *count > 1)?;
    Some(Unit { a: found.a, b: found.b, per_tile })
}

/// The ticket of a file that could not be looked at, for the reason that `finding` gives.
#[must_use]
pub fn unreadable(content: Content, format: &str, name: &str, spec: &Spec, finding: Finding) -> Ticket {
    Ticket { findings: vec![finding], ..blank(content, format, name, spec) }
}

fn blank(content: Content, format: &str, name: &str, spec: &Spec) -> Ticket {
    Ticket {
        schema: SCHEMA,
        rules: RULES,
        tile: name.into(),
        tile_hex: None,
        blake3: content.to_string(),
        format: format.into(),
        width: 0,
        height: 0,
        channels: String::new(),
        bit_depth: 0,
        resolution_dpi: None,
        print_mm: None,
        color_profile: String::new(),
        spec: spec.name.clone(),
        spec_digest: spec.digest(),
        ground: String::new(),
        repeat: RepeatFound::default(),
        flat_colors: None,
        verdict: Verdict::Unreadable,
        findings: Vec::new(),
        readings: Vec::new(),
        let_pass: Vec::new(),
        companions: Vec::new(),
        outputs: Vec::new(),
    }
}
