//! What is offered beside a held picture: the tile with everything mended that can be, and the tile with its holes filled
//! from other units of the design.
//!
//! Takes a held tile and what was said of it, yields files that passed the proof of any mend, and says so in the ticket.
//! The tile itself stays as it is. Knows nothing of where files go.

use super::check::Judgment;
use super::mend::fill;
use super::proven::{Proven, Terms, mended};
use crate::finding::{Finding, Grade, Kind};
use crate::pixel::mask::Mask;
use crate::spec::Ground;
use crate::ticket::Ticket;
use crate::tile::{Channels, Tile};

/// What is wanted beside a held picture, and what for.
#[derive(Clone, Copy)]
pub struct Held<'a> {
    /// The file of the tile.
    pub bytes: &'a [u8],
    /// Its name as people read it.
    pub name: &'a str,
    /// What was said of it.
    pub judgment: &'a Judgment,
    /// What a mend is held to.
    pub terms: Terms<'a>,
}

impl Held<'_> {
    /// Whether nothing of a tile may be changed: animated, several pages, printing inks, or a ground that is not opaque.
    fn never(&self, tile: &Tile) -> bool {
        let many = tile.meta.frames > 1 || tile.meta.pages > 1;
        many || tile.meta.channels == Channels::Cmyk || self.judgment.ground != Ground::Opaque
    }

    /// The copy in which everything is mended that can be, proven like any other. What mends is told in the ticket. `None`
    /// where no pixel can be mended, where nothing may be, and where mending one part would call for another.
    #[must_use]
    pub fn partly_mended(&self, tile: &mut Tile, ticket: &mut Ticket) -> Option<Vec<u8>> {
        if self.never(tile) || self.judgment.survey.mask.is_empty() {
            return None;
        }
        match mended(self.bytes, tile, self.judgment, None, self.terms) {
            Ok(Proven { file, back }) => {
                back.restore(tile);
                let mends = |finding: &&mut Finding| finding.grade == Grade::Mend && !finding.silenced;
                for finding in ticket.findings.iter_mut().filter(mends) {
                    finding.remedy = "nothing: it is mended in the partly mended copy, which you can go on with".into();
                }
                Some(file)
            }
            Err(doubt) => {
                tracing::info!(tile = self.name, why = doubt.says, "no partly mended copy is offered");
                None
            }
        }
    }

    /// The copy in which every hole and speck that holds the tile is filled with what other units of the design show there,
    /// and all else is mended; told in the ticket. `None` where they do not prove every pixel, and where the copy would not
    /// be ready.
    #[must_use]
    pub fn filled(&self, tile: &mut Tile, ticket: &mut Ticket) -> Option<Vec<u8>> {
        let unit = self.judgment.lattice.unit?;
        let open = self.open(ticket);
        if self.never(tile) || open.is_empty() {
            return None;
        }
        let fill = fill::fill(tile, &open, unit)?;
        match mended(self.bytes, tile, self.judgment, Some(fill), self.terms) {
            Ok(Proven { file, back }) => {
                back.restore(tile);
                for finding in ticket.findings.iter_mut().filter(|finding| holds(finding)) {
                    finding.remedy = format!("{}, {OFFER}", finding.remedy);
                }
                Some(file)
            }
            Err(doubt) => {
                tracing::info!(tile = self.name, why = doubt.says, "no filled copy is offered");
                None
            }
        }
    }

    /// The pixels that a fill would be for: a kind of which the artist means some is left alone.
    fn open(&self, ticket: &Ticket) -> Mask {
        let survey = &self.judgment.survey;
        let asked = |kind: Kind| {
            let mut of_kind = ticket.findings.iter().filter(|finding| finding.kind == kind).peekable();
            of_kind.peek().is_some() && of_kind.all(holds)
        };
        let mut open = Mask::default();
        if asked(Kind::AlphaGap) {
            open = survey.gap.union(&survey.lost);
        }
        if asked(Kind::AlphaSpeck) { open.union(&survey.speck) } else { open }
    }
}

/// What the ticket adds to what there is to do about a hole.
const OFFER: &str = "or take the filled copy beside the held picture if it is right: it shows there what the other units of \
                     the design show, and would be ready";

/// Whether a finding is a hole or a speck that holds the tile.
fn holds(finding: &Finding) -> bool {
    let is_hole = matches!(finding.kind, Kind::AlphaGap | Kind::AlphaSpeck);
    is_hole && finding.grade == Grade::Fault && !finding.silenced
}
