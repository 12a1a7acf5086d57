//! One tile: bytes in, outcome out. Pure and synchronous.
//!
//! Takes the bytes of a file and an order; yields the ticket, and as bytes whatever was wanted: the mended file, proven,
//! and the pictures. Knows nothing of files, time, processes or mail.

pub mod lattice;
pub mod check;
pub mod cloth;
pub mod mend;
pub mod lay;
pub mod turn;
pub mod companion;
pub mod mockup;
pub mod likeness;
pub mod sketch;
pub mod draft;
pub mod back;
pub mod proven;
pub mod offer;

use crate::codec::{self, Limits};
use crate::finding::{Finding, Grade, Verdict};
use crate::spec::Spec;
use crate::spec::wish::Wish;
use crate::ticket::Ticket;
use crate::ticket::word::{Mark, Word};
use crate::tile::{Content, Format, Tile};
use check::Judgment;
use likeness::Likeness;
use proven::{Proven, Terms};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// The keyword under which a held picture carries the word that letting it pass would speak.
pub const WORD: &str = "burler-let-pass";

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
    /// Keep what is needed to know its drawing again.
    pub likeness: bool,
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
    /// What the artist let pass of this content; `None` where there is no folder let-pass, which a held picture then does
    /// not speak of.
    pub let_pass: Option<&'a BTreeSet<Mark>>,
}

impl<'a> Order<'a> {
    fn terms(&self) -> Terms<'a> {
        Terms { spec: self.spec, limits: self.limits, let_pass: self.let_pass }
    }
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
    /// A held tile with its holes filled from other units of the design: offered, never given as ready.
    Filled,
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
    /// What is needed to find its twins, where that is wanted: of the tile as it came.
    pub likeness: Option<Likeness>,
    /// What is needed to know whether another file under its name shows its drawing.
    pub sketch: Option<sketch::Sketch>,
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
    let kept = || (Likeness::judged(&tile, &judgment, order.spec), sketch::Sketch::of(&tile.raster));
    let (likeness, sketch) = order.wants.likeness.then(kept).unzip();
    let mut ticket = draft::ticket(&tile, &judgment, order.name, order.spec);
    if order.wants.explain {
        ticket.readings.clone_from(&judgment.readings);
    }
    set_aside(&mut ticket, order);
    let (mut tile, mut made) = (tile, Vec::new());
    if ticket.verdict == Verdict::Mendable && order.wants.mend {
        let before = order.wants.mockups.then(|| {
            mockup::before_after::Before::of(&tile, order.name, &judgment.findings, judgment.layout(order.spec))
        });
        match proven::mended(bytes, &mut tile, &judgment, None, order.terms()) {
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
                ticket.take_back();
                ticket.findings.insert(0, *doubt);
                ticket.verdict = Verdict::Held;
                set_aside(&mut ticket, order);
            }
        }
    } else if ticket.verdict == Verdict::Held && order.wants.mend {
        let held = offer::Held { bytes, name: order.name, judgment: &judgment, terms: order.terms() };
        let partly = held.partly_mended(&mut tile, &mut ticket).map(|file| (Product::PartlyMended, file));
        let filled = held.filled(&mut tile, &mut ticket).map(|file| (Product::Filled, file));
        made.extend(partly.into_iter().chain(filled));
    }
    companions(bytes, &tile, &judgment, &mut ticket, order, &mut made);
    pictures(&tile, &judgment, &mut ticket, order, &mut made);
    Outcome { ticket, made, likeness, sketch, reuse: tile.raster.into_samples() }
}

fn set_aside(ticket: &mut Ticket, order: &Order<'_>) {
    if let Some(marks) = order.let_pass {
        ticket.set_aside(marks);
    }
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
    Outcome { ticket, made, likeness: None, sketch: None, reuse: Vec::new() }
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
    // What the artist let pass of the tile is meant in what is made of it as well.
    let let_pass = ticket.let_pass.iter().filter_map(|at| Some(ticket.findings.get(*at)?.kind));
    let silence = order.spec.silence.iter().copied().chain(let_pass).collect();
    let spec = Spec { silence, ..order.spec.clone() };
    let source = companion::Source { bytes: mended.unwrap_or(bytes), tile, judgment, spec: &spec };
    let (entries, files) = companion::all(source, order.limits);
    ticket.companions = entries;
    made.extend(files.into_iter().map(|(wish, file)| (Product::Companion(wish), file)));
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
                let_pass: order.let_pass.is_some(),
            };
            keep(Product::Held, mockup::held::picture(&view).map(|picture| with_word(picture, ticket, order)));
        }
        Verdict::Sound | Verdict::Mended | Verdict::Held | Verdict::Mendable | Verdict::Unreadable => {}
    }
}

/// The held picture with what letting it pass accepts, where it can be let pass.
fn with_word(picture: Vec<u8>, ticket: &Ticket, order: &Order<'_>) -> Vec<u8> {
    let word = order
        .let_pass
        .and_then(|_| Some(Word { content: Content::from_hex(&ticket.blake3)?, marks: ticket.faults() }.to_text()));
    word.and_then(|word| codec::noted(&picture, WORD, &word)).unwrap_or(picture)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::picture::encode_png;
    use crate::spec::GroundDemand;
    use crate::tile::Raster;

    /// Spots of a period that 96 does not hold, with a see-through line where there is one.
    fn broken(line: bool) -> Vec<u8> {
        let draw = |x: u32, y: u32| {
            let (u, v) = ((x % 41).abs_diff(20), (y % 37).abs_diff(18));
            let [r, g, b] = if u * u + v * v < 260 { [180, 60, 70] } else { [240, 235, 220] };
            [r, g, b, if line && y == 47 { 128 } else { 255 }]
        };
        let samples = (0..96).flat_map(|y| (0..96).flat_map(move |x| draw(x, y))).collect();
        encode_png(&Raster::new(96, 96, samples).unwrap(), Some(300.0)).unwrap()
    }

    fn outcome(bytes: &[u8], let_pass: Option<&BTreeSet<Mark>>) -> Outcome {
        under(bytes, &Spec::default(), let_pass)
    }

    fn under(bytes: &[u8], spec: &Spec, let_pass: Option<&BTreeSet<Mark>>) -> Outcome {
        let (mockup, limits) = (mockup::Settings::default(), Limits::default());
        let wants = Wants { mend: true, mockups: true, held: true, companions: true, ..Wants::default() };
        let order = Order { name: "kelp.png", spec, wants, mockup: &mockup, limits: &limits, let_pass };
        run(bytes, &order, Vec::new())
    }

    fn products(outcome: &Outcome) -> Vec<Product> {
        outcome.made.iter().map(|(product, _)| *product).collect()
    }

    fn word(outcome: &Outcome) -> Option<Word> {
        let (_, picture) = outcome.made.iter().find(|(product, _)| *product == Product::Held)?;
        Word::from_text(codec::note(picture, WORD)?)
    }

    #[test]
    fn what_is_let_pass_or_only_told_is_no_reason_against_a_companion() {
        let samples = (0..96 * 96).flat_map(|at| {
            let (x, y) = (at % 96, at / 96);
            let clear = (40..60).contains(&x) && (40..60).contains(&y);
            [if (x / 8 + y / 8) % 2 == 0 { 40 } else { 90 }, 90, 70, if clear { 0 } else { 255 }]
        });
        let bytes = encode_png(&Raster::new(96, 96, samples.collect()).unwrap(), Some(300.0)).unwrap();
        let spec =
            Spec { ground: GroundDemand::Opaque, companions: vec![Wish::parse("turn 45").unwrap()], ..Spec::default() };
        let held = under(&bytes, &spec, Some(&BTreeSet::new()));
        let marks = word(&held).unwrap().marks;
        let passed = under(&bytes, &spec, Some(&marks));
        let told = Spec { tell: held.ticket.findings.iter().map(|finding| finding.kind).collect(), ..spec.clone() };
        for outcome in [passed, under(&bytes, &told, None)] {
            let Ticket { verdict, companions, .. } = &outcome.ticket;
            assert_eq!((*verdict, companions.len()), (Verdict::Sound, 1), "{:?}", outcome.ticket.findings);
            assert_eq!(companions[0].refused, None);
            assert!(products(&outcome).contains(&Product::Companion(spec.companions[0])));
        }
    }

    #[test]
    fn a_held_picture_carries_its_word_only_where_there_is_a_folder_for_it() {
        let bytes = broken(false);
        let loose = outcome(&bytes, None);
        assert_eq!((loose.ticket.verdict, products(&loose)), (Verdict::Held, vec![Product::Held]));
        assert_eq!(word(&loose), None);
        let watched = outcome(&bytes, Some(&BTreeSet::new()));
        let word = word(&watched).unwrap();
        assert_eq!(word.content, Content::of(&bytes));
        assert_eq!(word.marks, loose.ticket.findings.iter().map(Mark::of).collect());
        assert_eq!(watched.made, outcome(&bytes, Some(&BTreeSet::new())).made, "the same bytes every time");
    }

    #[test]
    fn what_the_word_names_is_set_aside_and_the_rest_is_judged_and_mended() {
        for line in [false, true] {
            let bytes = broken(line);
            let held = outcome(&bytes, Some(&BTreeSet::new()));
            // What can be mended is offered beside the picture, whatever else must be asked.
            let still = if line { vec![Product::PartlyMended, Product::Held] } else { vec![Product::Held] };
            assert_eq!(products(&held), still);
            let all = word(&held).unwrap().marks;
            let passed = outcome(&bytes, Some(&all));
            let wanted = if line { Verdict::Mended } else { Verdict::Sound };
            assert_eq!((passed.ticket.verdict, passed.ticket.let_pass.len()), (wanted, all.len()));
            let pictures = [Product::Repeat, Product::StrikeOff];
            let mended = [Product::Mended, Product::BeforeAfter];
            assert_eq!(products(&passed), if line { [mended, pictures].concat() } else { pictures.to_vec() });
            // All but one: still held, and the new picture accepts all of them.
            let one = all.first().unwrap().clone();
            let rest: BTreeSet<Mark> = all.iter().filter(|mark| **mark != one).cloned().collect();
            let partly = outcome(&bytes, Some(&rest));
            assert_eq!((partly.ticket.verdict, partly.ticket.let_pass.len()), (Verdict::Held, rest.len()));
            assert_eq!(products(&partly), still);
            assert_eq!(word(&partly).unwrap().marks, all);
        }
    }
}
