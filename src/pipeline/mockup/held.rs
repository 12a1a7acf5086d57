//! The held picture: what is wrong, where, and what to do, to be understood on a tablet at a glance.
//!
//! Takes a tile and its findings, yields a PNG. Knows no files and judges nothing.

pub(super) mod page;
pub(super) mod prose;
pub(super) mod focus;
pub(super) mod marks;
pub(super) mod panel;
mod map;
mod detail;
mod sizes;

use crate::codec::picture;
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::pipeline::check::words;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, LIGHT};
use crate::pipeline::mockup::look::Look;
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::{Font, Style};
use crate::spec::{Repeat, Spec};
use crate::tile::{Raster, Tile};
use detail::Detail;
use marks::Place;
use page::{BADGE, BODY, COLUMN, MARGIN, PER_INCH, RIGHT, SMALL, WIDTH};
use prose::{Prose, sentence};

/// Most places that are enlarged, most of them for one finding, and most findings that are written out.
const MOST_PLACES: usize = 6;
const MOST_PLACES_EACH: usize = 2;
const MOST_WRITTEN: usize = 12;

/// What the held picture shows.
#[derive(Clone, Copy, Debug)]
pub struct HeldView<'a> {
    /// The tile.
    pub tile: &'a Tile,
    /// Its name as the designer knows it: any Unicode.
    pub name: &'a str,
    /// What was found, gravest first.
    pub findings: &'a [Finding],
    /// The repeat it was judged as.
    pub repeat: Repeat,
    /// What was demanded; the default when nothing was.
    pub spec: &'a Spec,
    /// Whether moving this picture into `let-pass` accepts the tile, which the picture then says.
    pub let_pass: bool,
}

/// The held picture as PNG, 1600 pixels wide.
///
/// Faults are numbered; what Burler mends itself and advice are told below them without a number. The tile's edges are
/// moved to the middle when a joint is in question. Up to six places are enlarged.
///
/// # Errors
/// [`MockupError::Font`], or when the encoder refuses; nothing a valid tile provokes.
pub fn picture(view: &HeldView<'_>) -> Result<Vec<u8>, MockupError> {
    let known = view.tile.meta.resolution.is_some();
    let (drawn, look) = drawn(view)?;
    Ok(look.written_into(picture::encode_opaque_png(&drawn, known.then_some(PER_INCH))?))
}

/// The held picture of a file without readable pixels: its name and the sentences alone, as PNG.
///
/// # Errors
/// As for [`picture()`].
pub fn without_pixels(name: &str, findings: &[Finding]) -> Result<Vec<u8>, MockupError> {
    let font = Font::bundled()?;
    let width = (WIDTH - 2 * MARGIN) as f32;
    let mut prose = Prose::new(font, width);
    prose.add(name, Style::bold(44.0), BLACK, 2);
    prose.add(Verdict::Unreadable.plain(), Style::regular(BODY), GRAY, 1);
    for finding in findings.iter().filter(|finding| !finding.silenced).take(MOST_WRITTEN) {
        prose.space(34.0);
        prose.add(&sentence(&finding.says), Style::bold(40.0), BLACK, 6);
        prose.space(8.0);
        prose.add(&sentence(&finding.remedy), Style::regular(36.0), BLACK, 6);
    }
    let height = (prose.height() + 2.0 * MARGIN as f32).ceil() as u32;
    let mut canvas = Canvas::new(WIDTH as u32, height)?;
    prose.draw(&mut canvas, MARGIN as f32, MARGIN as f32);
    Ok(picture::encode_opaque_png(&canvas.finish()?, None)?)
}

/// A numbered finding and where it shows.
struct Numbered<'a> {
    finding: &'a Finding,
    places: Vec<Place>,
}

fn drawn(view: &HeldView<'_>) -> Result<(Raster, Look), MockupError> {
    let plane = Plane::new(&view.tile.raster, view.repeat);
    let counted = || view.findings.iter().filter(|finding| !finding.silenced);
    let gravest = counted().map(|finding| finding.grade).max().unwrap_or(Grade::Advice);
    let joints = counted().any(|finding| finding.grade == gravest && finding.kind.at_joint());
    let shown = marks::view(plane, joints);
    let numbered: Vec<Numbered<'_>> = counted()
        .filter(|finding| finding.grade == gravest)
        .take(MOST_WRITTEN)
        .map(|finding| Numbered { finding, places: marks::places(finding, plane, shown) })
        .collect();

    let font = Font::bundled()?;
    let head = headline(view, font, gravest);
    let told = told(view, font, &numbered, gravest);
    let legend = legend(font, view.repeat, joints);
    let asked = sizes::demanded(view.tile, view.spec).filter(|_| numbered.iter().any(|one| is_size(one.finding)));
    let details = details(&numbered);
    let foot = foot(view, font);

    let top = MARGIN + head.height() as i64 + 54;
    let [width, height] = map::size(shown).map(i64::from);
    let map_area = Box4::new(RIGHT, top + 16, width, height);
    let sizes_at = top + told.height() as i64 + 56;
    let left_end = if asked.is_some() { sizes_at + sizes::HEIGHT } else { top + told.height() as i64 };
    let right_end = map_area.bottom + 20 + legend.height() as i64;
    let details_at = left_end.max(right_end) + 48;
    let foot_at = details_at + details.len() as i64 * detail::HEIGHT;
    let end = foot_at + foot.height() as i64 + MARGIN;

    let mut canvas = Canvas::new(WIDTH as u32, end as u32)?;
    head.draw(&mut canvas, MARGIN as f32, MARGIN as f32);
    canvas.fill(Box4::new(MARGIN, top - 36, WIDTH - 2 * MARGIN, 2), LIGHT);
    told.draw(&mut canvas, MARGIN as f32, (top + 4) as f32);
    let places: Vec<&[Place]> = numbered.iter().map(|one| one.places.as_slice()).collect();
    map::draw(&mut canvas, plane, shown, map_area, &places)?;
    legend.draw(&mut canvas, map_area.left as f32, (map_area.bottom + 20) as f32);
    if let Some(asked) = asked {
        sizes::draw(&mut canvas, plane, asked, sizes_at)?;
    }
    for (row, detail) in (0..).zip(&details) {
        detail::draw(&mut canvas, view.tile, plane, detail, details_at + row * detail::HEIGHT)?;
    }
    foot.draw(&mut canvas, MARGIN as f32, foot_at as f32);

    let drawn = canvas.finish()?;
    let parts: Vec<Box4> = match (asked, details.first()) {
        (Some(_), _) if numbered.first().is_some_and(|one| is_size(one.finding)) => {
            vec![Box4::new(MARGIN, sizes_at, COLUMN, sizes::HEIGHT).grown(16)]
        }
        (_, first) => {
            // Badges stand out over the map's edges; the rule above and the legend below it are left out.
            let map = Box4 { bottom: map_area.bottom + 12, ..map_area.grown(BADGE as i64 + map::AWAY + 3) };
            let panel = first.map(|first| detail::telling(first, details_at));
            std::iter::once(map).chain(panel).collect()
        }
    };
    let look = Look::at(false, &parts, [drawn.width(), drawn.height()]);
    Ok((drawn, look))
}

/// Name, verdict and what the tile is.
fn headline(view: &HeldView<'_>, font: Font, gravest: Grade) -> Prose {
    let raster = &view.tile.raster;
    let mut facts = vec![
        if gravest == Grade::Fault { Verdict::Held.plain() } else { "found" }.to_string(),
        format!("{} x {} px", words::count(raster.width().into(), ""), words::count(raster.height().into(), "")),
    ];
    if let Some(resolution) = view.tile.meta.resolution.filter(|resolution| resolution.x > 0.0 && resolution.y > 0.0) {
        let inches = [f64::from(raster.width()) / resolution.x, f64::from(raster.height()) / resolution.y];
        facts.push(format!("{:.1} x {:.1} in", inches[0], inches[1]));
    }
    facts.push(match view.repeat {
        Repeat::None => "not a repeat".into(),
        Repeat::Across | Repeat::Down => format!("repeats {}", view.repeat),
        _ => format!("{} repeat", view.repeat),
    });
    let mut prose = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
    prose.add(view.name, Style::bold(44.0), BLACK, 2);
    prose.space(4.0);
    prose.add(&facts.join(" · "), Style::regular(BODY), GRAY, 2);
    prose
}

/// What is wrong and what to do, by number; then what needs nothing.
fn told(view: &HeldView<'_>, font: Font, numbered: &[Numbered<'_>], gravest: Grade) -> Prose {
    // The last stretch of the column is left to badges of the map.
    let mut prose = Prose::new(font, (COLUMN - 28) as f32);
    let size = if numbered.len() <= 2 { 40.0 } else { 35.0 };
    for (number, one) in (1..).zip(numbered) {
        prose.space(if number == 1 { 8.0 } else { 30.0 });
        prose.badge(number, size);
        prose.add(&sentence(&one.finding.says), Style::bold(size), BLACK, 6);
        // One thing to do about several places is said once, below the last of them.
        if numbered.get(number).is_none_or(|next| next.finding.remedy != one.finding.remedy) {
            prose.space(8.0);
            prose.add(&sentence(&one.finding.remedy), Style::regular(BODY), BLACK, 6);
        }
        prose.flush_left();
    }
    let rest: Vec<&Finding> =
        view.findings.iter().filter(|finding| !finding.silenced && finding.grade < gravest).collect();
    let graver = view.findings.iter().filter(|finding| !finding.silenced && finding.grade == gravest).count();
    if graver > numbered.len() {
        prose.space(30.0);
        prose.add(&format!("And {} more of this kind.", graver - numbered.len()), Style::regular(BODY), GRAY, 1);
    }
    for (i, finding) in rest.iter().take(3).enumerate() {
        prose.space(if i == 0 { 36.0 } else { 12.0 });
        let text = format!("Also: {}; {}", finding.says, finding.remedy);
        prose.add(&sentence(&text), Style::regular(SMALL), GRAY, 4);
    }
    if rest.len() > 3 {
        prose.space(12.0);
        prose.add(&format!("And {} more.", rest.len() - 3), Style::regular(SMALL), GRAY, 1);
    }
    prose
}

fn legend(font: Font, repeat: Repeat, joints: bool) -> Prose {
    let mut prose = Prose::new(font, COLUMN as f32);
    let text = match (joints, repeat) {
        (false, _) | (true, Repeat::None) => "the whole tile",
        (true, Repeat::Across) => "the tile moved by half, so that left and right edge meet in the middle",
        (true, Repeat::Down) => "the tile moved by half, so that top and bottom edge meet in the middle",
        (true, Repeat::Block) => "the tile moved by half, so that its edges meet in the middle",
        (true, _) => &format!("the tile moved on its {repeat} repeat, so that its edges meet inside"),
    };
    prose.add(text, Style::regular(SMALL), GRAY, 2);
    prose
}

fn foot(view: &HeldView<'_>, font: Font) -> Prose {
    let mut prose = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
    if view.let_pass {
        prose.space(8.0);
        let text = "Is it meant to be so? Move this picture from the folder held into the folder let-pass, and the tile \
                    counts as ready. Taking it out again undoes that.";
        prose.add(text, Style::regular(BODY), BLACK, 3);
    }
    prose
}

/// The places to enlarge: one of each finding, then a second, six in all, by number.
fn details<'a>(numbered: &'a [Numbered<'a>]) -> Vec<Detail<'a>> {
    let of = |round: usize| {
        (1..).zip(numbered).filter_map(move |(number, one)| {
            Some(Detail { number, finding: one.finding, place: one.places.get(round)? })
        })
    };
    let mut details: Vec<Detail<'_>> = (0..MOST_PLACES_EACH).flat_map(of).take(MOST_PLACES).collect();
    details.sort_by_key(|detail| detail.number);
    details
}

fn is_size(finding: &Finding) -> bool {
    matches!(finding.kind, Kind::SizePixels | Kind::SizePrint)
}
