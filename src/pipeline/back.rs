//! The way back from a mended tile to what it was, and what the ticket must tell of the way there.
//!
//! Takes what a mend has changed; knows nothing of files and of how the mend was proven.

use super::check::words;
use super::mend::{Mended, Undo};
use crate::finding::{Finding, Grade, Kind};
use crate::ticket::Ticket;
use crate::tile::{Channels, Content, Meta, Tile};

/// The way back from a mended tile to what it was.
pub struct Back {
    mended: Option<(Mended, Undo)>,
    meta: Meta,
    content: Content,
}

impl Back {
    /// What a tile said of itself before, its hash, and what its mend has changed; `None` where only the tag changed.
    #[must_use]
    pub fn new(mended: Option<(Mended, Undo)>, meta: Meta, content: Content) -> Self {
        Self { mended, meta, content }
    }

    /// What the tile's container said before.
    #[must_use]
    pub fn meta(&self) -> &Meta {
        &self.meta
    }

    /// Makes the tile what it was.
    pub fn restore(self, tile: &mut Tile) {
        if let Some((mended, undo)) = &self.mended {
            mended.undo(tile, undo);
        }
        (tile.meta, tile.content) = (self.meta, self.content);
    }

    /// Tells in the ticket what a designer who goes on with the copy must know: color that had to be told from beside,
    /// and a palette that the copy no longer has.
    pub fn told(&self, ticket: &mut Ticket, copy: &Tile) {
        let mut notes = Vec::new();
        if self.estimated() > 0 {
            let all = words::count(self.estimated(), "px");
            notes.push(format!("the color of {all} was lost in it and is told from what lies beside"));
        }
        let from_palette = |meta: &Meta| matches!(meta.channels, Channels::Palette | Channels::PaletteAlpha);
        if from_palette(&self.meta) && !from_palette(&copy.meta) {
            notes.push("the mended copy is stored in full color, since its palette has no room for more".into());
        }
        let mends = |finding: &&mut Finding| {
            finding.grade == Grade::Mend && !finding.silenced && finding.kind != Kind::SizeResolution
        };
        if let Some(finding) = ticket.findings.iter_mut().find(mends) {
            for note in notes {
                finding.remedy = format!("{}; {note}", finding.remedy);
            }
        }
    }

    /// How many pixels the mend has made opaque.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.mended.as_ref().map_or(0, |(mended, _)| mended.mask.count())
    }

    /// How many of them have a color that was told from their neighbors.
    #[must_use]
    pub fn estimated(&self) -> u64 {
        self.mended.as_ref().map_or(0, |(mended, _)| mended.estimated)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::{Limits, decode, picture};
    use crate::pipeline::{Order, Wants, mockup, run};
    use crate::spec::{Repeat, Spec};
    use crate::tile::Raster;

    #[test]
    fn a_copy_that_no_longer_has_a_palette_says_so() {
        let samples = (0..1600_u32).flat_map(|i| [9, 90, 70, if i / 40 == 20 { 99 } else { 255 }]).collect();
        let bytes = picture::encode_png(&Raster::new(40, 40, samples).unwrap(), None).unwrap();
        let (mockup, limits) = (mockup::Settings::default(), Limits::default());
        let spec = Spec { repeat: Some(Repeat::None), ..Spec::default() };
        let order = Order {
            name: "kelp",
            spec: &spec,
            wants: Wants::default(),
            mockup: &mockup,
            limits: &limits,
            let_pass: None,
        };
        let mut ticket = run(&bytes, &order, Vec::new()).ticket;
        let copy = decode(&bytes, &limits, Vec::new()).unwrap();
        let back = |channels| Back::new(None, Meta { channels, ..copy.meta.clone() }, copy.content);
        back(Channels::Rgba).told(&mut ticket, &copy);
        assert_eq!(ticket.findings[0].remedy, "nothing: the line is mended");
        back(Channels::PaletteAlpha).told(&mut ticket, &copy);
        let wanted = "nothing: the line is mended; the mended copy is stored in full color, since its palette has no room for more";
        assert_eq!(ticket.findings[0].remedy, wanted);
    }
}
