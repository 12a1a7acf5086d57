//! The table of Oddfathom's tiles, sound ones first.
//!
//! Knows nothing of how a piece is saved or judged.

use super::flaws::Flaw;
use super::piece::{Art, Piece, Saved, Sketch};
use super::torus::{Ink, Torus};
use super::{anchors, buoys, dulse, flags, floats, fog, kelp, knots, lace, limpets, pots, terrazzo, tides, urchins};
use crate::finding::{Kind, Verdict};
use crate::spec::Repeat;

const fn block(width: u32, height: u32, ground: Ink, draw: fn(&mut Torus)) -> Art {
    laid(Repeat::Block, [width, height], ground, draw)
}

const fn laid(lay: Repeat, size: [u32; 2], ground: Ink, draw: fn(&mut Torus)) -> Art {
    Art::Sketch(Sketch { size, lay, ground, draw })
}

/// All pieces.
#[must_use]
pub fn tiles() -> Vec<Piece> {
    let mut all = sound();
    all.extend(flawed());
    all
}

fn sound() -> Vec<Piece> {
    vec![
        Piece::sound(
            ("cloth-12in", "kelp-fronds.png"),
            block(3600, 3600, kelp::GROUND, kelp::draw),
            Saved::Png(300.0),
            "a sound tile of 12 in at 300 pixels per inch",
        ),
        Piece::sound(
            ("drop-9in", "dulse-block-print.png"),
            laid(Repeat::HalfDrop, [1800, 2400], dulse::GROUND, dulse::draw),
            Saved::Png(200.0),
            "one repeat that meets its copies only as a half-drop",
        ),
        Piece::sound(
            ("towel-brick", "paper-buoys.png"),
            laid(Repeat::Brick, [2000, 1500], buoys::GROUND, buoys::draw),
            Saved::Png(250.0),
            "one repeat that meets its copies only as a brick",
        ),
        Piece::sound(
            ("scarf-15cm", "fog-islands.png"),
            block(1500, 3000, fog::GROUND, fog::draw),
            Saved::Png(254.0),
            "soft washes and paper grain, twice as high as wide",
        ),
        Piece::sound(
            ("clear-10in", "sea-lace.png"),
            block(2000, 2000, lace::GROUND, lace::draw),
            Saved::Png(200.0),
            "soft art on a transparent ground, see-through on purpose",
        ),
        Piece::sound(
            ("", "urchin-beads.png"),
            block(1500, 1500, urchins::GROUND, urchins::draw),
            Saved::Png(150.0),
            "sound, with no order sheet",
        ),
        Piece::sound(
            ("", "herringbone-quay.png"),
            Art::Planks([1440, 960]),
            Saved::Png(120.0),
            "16 bits a sample, and planks that end on the edge by intent",
        ),
        Piece::sound(
            ("", "knot-sampler.jpg"),
            block(1600, 2000, knots::GROUND, knots::draw),
            Saved::Jpeg(200.0, 92),
            "a sound JPEG",
        ),
    ]
}

fn flawed() -> Vec<Piece> {
    vec![
        Piece::sound(
            ("cloth-10in", "sailcloth-45.png"),
            Art::TurnedWeave([20, 60, 3000]),
            Saved::Png(300.0),
            "a weave turned by 45 degrees, see-through lines where its copies meet",
        )
        .but(Flaw::None, Verdict::Mended, &[Kind::AlphaHairline]),
        Piece::sound(
            ("", "signal-bunting.png"),
            block(1600, 1600, flags::GROUND, flags::draw),
            Saved::Png(200.0),
            "the last column and the last row are half see-through",
        )
        .but(Flaw::Fringe, Verdict::Mended, &[Kind::AlphaFringe]),
        Piece::sound(
            ("paper-8in", "anchor-trellis.png"),
            block(2400, 2400, anchors::GROUND, anchors::draw),
            Saved::Png(72.0),
            "the right pixels, tagged with 72 per inch in place of 300",
        )
        .but(Flaw::None, Verdict::Mended, &[Kind::SizeResolution]),
        Piece::sound(
            ("", "tide-lines.png"),
            block(2400, 2400, tides::GROUND, tides::draw),
            Saved::Png(150.0),
            "cut out of a bigger picture, so its edges do not meet",
        )
        .but(Flaw::Crop([310, 170, 1500, 2100]), Verdict::Held, &[Kind::JointBreak]),
        Piece::sound(
            ("cloth-12in", "lobster-pots.png"),
            block(2250, 2250, pots::GROUND, pots::draw),
            Saved::Png(300.0),
            "2250 px where the order sheet says 3600",
        )
        .but(Flaw::None, Verdict::Held, &[Kind::SizePixels]),
        Piece::sound(
            ("", "limpets-on-slate.png"),
            block(1800, 1800, limpets::GROUND, limpets::draw),
            Saved::Png(150.0),
            "a hole where an eraser went through",
        )
        .but(Flaw::Hole(21), Verdict::Held, &[Kind::AlphaGap]),
        Piece::sound(
            ("", "shell-terrazzo.png"),
            block(1260, 1260, terrazzo::GROUND, terrazzo::draw),
            Saved::Png(180.0),
            "a few stray see-through pixels",
        )
        .but(Flaw::Specks, Verdict::Held, &[Kind::AlphaSpeck]),
        Piece::sound(
            ("", "glass-floats.png"),
            block(1400, 1400, floats::GROUND, floats::draw),
            Saved::CutShort(140.0, 60),
            "the upload stopped at six tenths of the file",
        )
        .but(Flaw::None, Verdict::Unreadable, &[Kind::FileTruncated]),
    ]
}
