//! The held picture: what is wrong, where, and what to do, to be understood on a tablet at a glance.
//!
//! Takes a tile and its findings, yields a PNG. Knows no files and judges nothing.

mod focus;
mod marks;
mod panel;
mod prose;

use crate::codec::picture;
use crate::finding::{Finding, Grade, Kind, Verdict};
use crate::pipeline::check::words;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, LIGHT, LINE, WHITE};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::{Font, Style};
use crate::spec::{Length, MM_PER_INCH, Repeat, Spec};
use crate::tile::{Raster, Tile};
use marks::Place;
use panel::Zoom;
use prose::{Prose, sentence};

/// The picture's width, in pixels, and its columns.
const WIDTH: i64 = 1600;
const MARGIN: i64 = 56;
const COLUMN: i64 = 728;
const GUTTER: i64 = WIDTH - 2 * MARGIN - 2 * COLUMN;

/// How high the tile is shown at most, and how high the panels of a place are.
const MAP_HEIGHT: i64 = 760;
const PANEL_HEIGHT: i64 = 400;

/// Pixels per inch at which the picture is true: it is then 8 in wide, a sheet of paper or a large tablet.
const PER_INCH: f64 = 200.0;

/// The smallest frame on the map, so that a speck is found.
const LEAST_FRAME: i64 = 36;

/// Most places that are enlarged, most of them for one finding, and most findings that are written out.
const MOST_PLACES: usize = 6;
const MOST_PLACES_EACH: usize = 2;
const MOST_WRITTEN: usize = 12;

const BADGE: f32 = 24.0;
const SMALL: f32 = 29.0;
const BODY: f32 = 33.0;

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
    Ok(picture::encode_opaque_png(&drawn(view)?, known.then_some(PER_INCH))?)
}

/// The held picture of a file without readable pixels: its name and the sentences alone, as PNG.
///
/// # Errors
/// As for [`picture`].
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

fn drawn(view: &HeldView<'_>) -> Result<Raster, MockupError> {
    let plane = Plane::new(&view.tile.raster, view.repeat);
    let counted = || view.findings.iter().filter(|finding| !finding.silenced);
    let gravest = counted().map(|finding| finding.grade).max().unwrap_or(Grade::Advice);
    let joints = counted().any(|finding| finding.grade == gravest && marks::is_joint(finding));
    let shown = marks::view(plane, joints);
    let numbered: Vec<Numbered<'_>> = counted()
        .filter(|finding| finding.grade == gravest)
        .take(MOST_WRITTEN)
        .map(|finding| Numbered { finding, places: marks::places(finding, plane, shown) })
        .collect();

    let font = Font::bundled()?;
    let head = headline(view, font, gravest);
    let told = told(view, font, &numbered, gravest);
    let map_size = map_size(shown);
    let legend = legend(font, view.repeat, joints);
    let demanded = demanded(view).filter(|_| numbered.iter().any(|one| is_size(one.finding)));
    let chosen = chosen(&numbered);
    let foot = foot(view, font);

    let top = MARGIN + head.height() as i64 + 40;
    let map_area = Box4::new(MARGIN + COLUMN + GUTTER, top + 16, i64::from(map_size[0]), i64::from(map_size[1]));
    let sizes_at = top + told.height() as i64 + 56;
    let left_end = if demanded.is_some() { sizes_at + SIZES_HEIGHT } else { top + told.height() as i64 };
    let right_end = map_area.bottom + 20 + legend.height() as i64;
    let mut at = left_end.max(right_end) + 48;
    let places_at = at;
    at += chosen.len() as i64 * PLACE_HEIGHT;
    let foot_at = at;
    at += foot.height() as i64 + MARGIN;

    let mut canvas = Canvas::new(WIDTH as u32, at as u32)?;
    head.draw(&mut canvas, MARGIN as f32, MARGIN as f32);
    canvas.fill(Box4::new(MARGIN, top - 22, WIDTH - 2 * MARGIN, 2), LIGHT);
    told.draw(&mut canvas, MARGIN as f32, (top + 4) as f32);
    draw_map(&mut canvas, plane, shown, map_area, &numbered)?;
    legend.draw(&mut canvas, map_area.left as f32, (map_area.bottom + 20) as f32);
    if let Some(demanded) = demanded {
        draw_sizes(&mut canvas, plane, demanded, sizes_at)?;
    }
    for (row, (number, place)) in (0..).zip(&chosen) {
        let finding = numbered[number - 1].finding;
        draw_place(&mut canvas, view, plane, finding, *number, place, places_at + row * PLACE_HEIGHT)?;
    }
    foot.draw(&mut canvas, MARGIN as f32, foot_at as f32);
    canvas.finish()
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
        prose.space(8.0);
        prose.add(&sentence(&one.finding.remedy), Style::regular(BODY), BLACK, 6);
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
        prose.add("Is it meant to be so? Move this picture into the folder let-pass.", Style::regular(BODY), BLACK, 2);
    }
    prose
}

/// How large the map is: as large as its column allows, and in whole multiples when it is enlarged.
fn map_size(shown: Box4) -> [u32; 2] {
    let (width, height) = (shown.width() as f64, shown.height() as f64);
    let scale = (COLUMN as f64 / width).min(MAP_HEIGHT as f64 / height);
    let scale = if scale >= 1.0 { scale.floor() } else { scale };
    [width, height].map(|side| (side * scale).round().max(1.0) as u32)
}

fn draw_map(
    canvas: &mut Canvas,
    plane: Plane<'_>,
    shown: Box4,
    area: Box4,
    numbered: &[Numbered<'_>],
) -> Result<(), MockupError> {
    let size = [area.width(), area.height()];
    let picture = panel::map(plane, shown, size.map(|side| side as u32))?;
    canvas.fill(area.grown(1), LIGHT);
    canvas.set_down(&picture, area.left, area.top, area);
    // A box on the plane as the frame around it on the canvas.
    let onto = |seen: &Box4| {
        let low = |at: i64, axis: usize, whole: i64| (at * size[axis]).div_euclid(whole);
        let high = |at: i64, axis: usize, whole: i64| -(-at * size[axis]).div_euclid(whole);
        let mut frame = Box4 {
            left: low(seen.left - shown.left, 0, shown.width()),
            top: low(seen.top - shown.top, 1, shown.height()),
            right: high(seen.right - shown.left, 0, shown.width()),
            bottom: high(seen.bottom - shown.top, 1, shown.height()),
        };
        let wider = (LEAST_FRAME - frame.width()).max(0);
        let higher = (LEAST_FRAME - frame.height()).max(0);
        frame.left += area.left - wider / 2;
        frame.right += area.left + wider - wider / 2;
        frame.top += area.top - higher / 2;
        frame.bottom += area.top + higher - higher / 2;
        frame
    };
    let frames: Vec<Box4> =
        numbered.iter().flat_map(|one| &one.places).flat_map(|place| &place.boxes).map(onto).collect();
    let inside: Vec<Box4> = frames.iter().filter_map(|frame| frame.within(area)).collect();
    canvas.frame(&inside, &picture, area.left, area.top, area.grown(2 * LINE));
    for (number, one) in (1..).zip(numbered) {
        for place in one.places.iter().take(MOST_PLACES) {
            let Some(first) = place.boxes.iter().map(onto).min_by_key(|frame| (frame.top + frame.left, frame.top)) else {
                continue;
            };
            // Beside the frame's corner, but on the paper.
            let room = area.grown(BADGE as i64);
            let x = (first.left - 14).clamp(room.left, room.right);
            let y = (first.top - 14).clamp(room.top + 14, room.bottom);
            canvas.badge(number, x as f32, y as f32, BADGE);
        }
    }
    Ok(())
}

/// The places to enlarge with their finding's number: one of each finding, then a second, six in all.
fn chosen<'a>(numbered: &'a [Numbered<'_>]) -> Vec<(usize, &'a Place)> {
    let rounds = 0..MOST_PLACES_EACH;
    let all = rounds.flat_map(|round| (1..).zip(numbered).filter_map(move |(n, one)| Some((n, one.places.get(round)?))));
    let mut chosen: Vec<(usize, &Place)> = all.take(MOST_PLACES).collect();
    chosen.sort_by_key(|&(number, _)| number);
    chosen
}

/// A caption, the panels, and white below.
const PLACE_HEIGHT: i64 = 56 + PANEL_HEIGHT + 36;

fn draw_place(
    canvas: &mut Canvas,
    view: &HeldView<'_>,
    plane: Plane<'_>,
    finding: &Finding,
    number: usize,
    place: &Place,
    top: i64,
) -> Result<(), MockupError> {
    let size = [COLUMN as u32, PANEL_HEIGHT as u32];
    let center = focus::point(plane, finding.kind, place.spot);
    let left = Box4::new(MARGIN, top + 56, COLUMN, PANEL_HEIGHT);
    let right = Box4::new(MARGIN + COLUMN + GUTTER, top + 56, COLUMN, PANEL_HEIGHT);

    let zoom = if focus::is_thin(finding.kind) { Zoom::MOST } else { Zoom::onto(place.spot, [COLUMN, PANEL_HEIGHT]) };
    let covered = [zoom.covers(COLUMN), zoom.covers(PANEL_HEIGHT)];
    let start = [center[0] - covered[0] / 2, center[1] - covered[1] / 2];
    let enlarged = panel::enlarged(plane, start, zoom, size)?;
    canvas.fill(left.grown(1), LIGHT);
    canvas.set_down(&enlarged, left.left, left.top, left);
    // Two pixels of the surroundings stay in sight inside the frame.
    let frames: Vec<Box4> = place
        .boxes
        .iter()
        .map(|seen| {
            let seen = seen.grown(if matches!(zoom, Zoom::Part(_)) { 0 } else { 2 });
            Box4 {
                left: left.left + zoom.onto_panel(seen.left - start[0]),
                top: left.top + zoom.onto_panel(seen.top - start[1]),
                right: left.left + zoom.onto_panel(seen.right - start[0]),
                bottom: left.top + zoom.onto_panel(seen.bottom - start[1]),
            }
        })
        .collect();
    canvas.frame(&frames, &enlarged, left.left, left.top, left);
    canvas.badge(number, (MARGIN + BADGE as i64) as f32, (top + 28) as f32, BADGE - 2.0);
    let resolution = view.tile.meta.resolution.map(|resolution| [resolution.x, resolution.y]);
    let step = resolution.map_or([(1, 1); 2], |per_inch| {
        per_inch.map(|per_inch| ((per_inch.clamp(1.0, 10_000.0) * 1000.0).round() as u32, (PER_INCH * 1000.0) as u32))
    });
    let tile_pixels = [0, 1].map(|i| f64::from(size[i]) * f64::from(step[i].0) / f64::from(step[i].1));
    let from = [0, 1].map(|i| center[i] - (tile_pixels[i] / 2.0) as i64);
    let printed = panel::printed(plane, from, step, size)?;
    canvas.fill(right.grown(1), LIGHT);
    canvas.set_down(&printed, right.left, right.top, right);
    // The part that is enlarged on the left.
    let onto = |at: i64, i: usize| ((at - from[i]) as f64 * f64::from(step[i].1) / f64::from(step[i].0)).round() as i64;
    let same = Box4 {
        left: right.left + onto(start[0], 0),
        top: right.top + onto(start[1], 1),
        right: right.left + onto(start[0] + covered[0], 0),
        bottom: right.top + onto(start[1] + covered[1], 1),
    };
    canvas.frame(&[same], &printed, right.left, right.top, right);
    let beside = if resolution.is_some() { "at print size on white" } else { "pixel for pixel on white" };
    let caption = format!("{}: {}, and {beside}", whereabouts(view.tile, plane, finding, place, center), zoom.says());
    canvas.text(&caption, Style::regular(SMALL), (MARGIN + 62) as f32, (top + 38) as f32, BLACK);
    Ok(())
}

/// Where a place is, in the designer's words; of a joint the point looked at, on the edge of the tile left of it or above it.
fn whereabouts(tile: &Tile, plane: Plane<'_>, finding: &Finding, place: &Place, [x, y]: [i64; 2]) -> String {
    if !marks::is_joint(finding) {
        return words::place(place.area, tile);
    }
    let resolution = tile.meta.resolution;
    let [width, height] = plane.period();
    if place.spot.height() >= place.spot.width() {
        let lowered = plane.moved((x - 1).div_euclid(width), 0)[1];
        let down = (y - lowered).rem_euclid(height) as f64;
        format!("left meets right, {} from the top", words::length(down, resolution.map(|r| r.y)))
    } else {
        let slid = plane.moved(0, (y - 1).div_euclid(height))[0];
        let right = (x - slid).rem_euclid(width) as f64;
        format!("top meets bottom, {} from the left", words::length(right, resolution.map(|r| r.x)))
    }
}

fn is_size(finding: &Finding) -> bool {
    matches!(finding.kind, Kind::SizePixels | Kind::SizePrint)
}

/// The demanded sides in pixels; a side that is not demanded is the tile's own.
fn demanded(view: &HeldView<'_>) -> Option<[f64; 2]> {
    let own = view.tile.meta.resolution;
    let side = |length: Option<Length>, pixels: u32, per_inch: Option<f64>| match length? {
        Length::Pixels(n) => Some(f64::from(n)),
        Length::Millimeters(mm) => view.spec.resolution.or(per_inch).map(|per_inch| mm / MM_PER_INCH * per_inch),
    }
    .filter(|side| *side >= 1.0)
    .or(Some(f64::from(pixels)));
    let raster = &view.tile.raster;
    let width = side(view.spec.width, raster.width(), own.map(|r| r.x));
    let height = side(view.spec.height, raster.height(), own.map(|r| r.y));
    width.or(height)?;
    Some([width.unwrap_or(raster.width().into()), height.unwrap_or(raster.height().into())])
}

/// Two outlines and two lines of text below each.
const SIZES_HEIGHT: i64 = SIZES_MOST + 96;
const SIZES_MOST: i64 = 240;

/// The tile beside an outline of the demanded size, to one scale.
fn draw_sizes(canvas: &mut Canvas, plane: Plane<'_>, demanded: [f64; 2], top: i64) -> Result<(), MockupError> {
    let own = plane.period().map(|side| side as f64);
    let half = COLUMN / 2;
    let room = (half - 48) as f64;
    let scale = (room / own[0].max(demanded[0])).min(SIZES_MOST as f64 / own[1].max(demanded[1]));
    for (left, size, word) in [(MARGIN, own, "this tile"), (MARGIN + half, demanded, "wanted")] {
        let [width, height] = size.map(|side| ((side * scale).round() as i64).max(4));
        let outline = Box4::new(left, top + SIZES_MOST - height, width, height);
        canvas.fill(outline.grown(3), BLACK);
        canvas.fill(outline, WHITE);
        if size == own {
            let whole = marks::view(plane, false);
            let picture = panel::map(plane, whole, [width as u32, height as u32])?;
            canvas.set_down(&picture, outline.left, outline.top, outline);
        }
        let [width, height] = size.map(|side| words::count(side.round() as u64, ""));
        canvas.text(word, Style::regular(SMALL), left as f32, (top + SIZES_MOST + 44) as f32, GRAY);
        let text = format!("{width} x {height} px");
        canvas.text(&text, Style::regular(SMALL), left as f32, (top + SIZES_MOST + 84) as f32, BLACK);
    }
    Ok(())
}
