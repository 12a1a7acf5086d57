//! The strike-off: the design at its true print size with rulers, as a mill prints one before an order.
//!
//! Takes a raster, its repeat and its resolution, yields a JPEG that fits on one A4 or letter sheet. Without a known
//! resolution there is no true size: callers then make none.

use crate::codec::picture;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::reduce::{Axis, reduce};
use crate::pipeline::mockup::ruler::{self, BAND_MM, Side};
use crate::pipeline::mockup::settings::{MockupError, Settings};
use crate::pipeline::mockup::text::{Font, Style};
use crate::pixel::light;
use crate::spec::{MM_PER_INCH, Repeat};
use crate::tile::Raster;

/// What fits on A4 (210 x 297 mm, ISO 216) and on letter (216 x 279 mm) with a margin of 10 mm, short side first.
const SHEET_MM: [f64; 2] = [190.0, 259.0];

/// White around everything, and what the caption needs, in millimeters.
const MARGIN_MM: f64 = 4.0;
const CAPTION_MM: f64 = 30.0;

/// Art that repeats is shown at least this wide and high, in millimeters, so that small repeats are seen many times.
const LEAST_ART_MM: f64 = 120.0;

/// Most tile pixels shown along a side: bounds the work for resolutions that no printer has.
const MOST_SOURCE: f64 = 12_000.0;

/// Resolutions a printer can have, per inch.
const PRINTABLE: std::ops::RangeInclusive<f64> = 10.0..=10_000.0;

/// The lowest resolution drawn at, per inch: below it the rulers cannot be read.
const LEAST_PER_INCH: u32 = 75;

/// What part of the plane is shown, at which resolution.
struct Window {
    /// Where it starts on the plane, in tile pixels.
    start: [i64; 2],
    /// Output pixels across and down.
    size: [u32; 2],
    /// Output pixels per inch.
    per_inch: u32,
    /// Tile pixels per output pixel, as a fraction.
    step: [(u32, u32); 2],
}

/// The strike-off as JPEG, tagged with its resolution.
///
/// At least one whole repeat and a part of the next where they fit on the sheet; of a larger tile the part around the
/// corner where four copies meet. Drawn at the tile's own resolution, at most `strike_off_per_inch`; quality and then
/// resolution (100, 75) are lowered until the file is within `strike_off_bytes`. `per_inch` is the tile's resolution,
/// across and down.
///
/// # Errors
/// [`MockupError::NoScale`] for a resolution that is not between 10 and 10,000 per inch; [`MockupError::TooManyBytes`].
pub fn picture(
    raster: &Raster,
    repeat: Repeat,
    per_inch: [f64; 2],
    name: &str,
    settings: &Settings,
) -> Result<Vec<u8>, MockupError> {
    if let Some(&wrong) = per_inch.iter().find(|per_inch| !PRINTABLE.contains(per_inch)) {
        return Err(MockupError::NoScale { name: name.into(), per_inch: wrong });
    }
    let own = per_inch[0].min(per_inch[1]);
    let first = ((own + 0.01) as u32).min(settings.strike_off_per_inch).max(LEAST_PER_INCH);
    let mut smallest = u64::MAX;
    for drawn in [first, 100, LEAST_PER_INCH] {
        if drawn > first {
            continue;
        }
        let sheet = draw(raster, repeat, per_inch, name, drawn)?;
        for quality in [90, 80, 65, 50].map(|quality| settings.quality.min(quality)) {
            let bytes = picture::encode_jpeg(&sheet, quality, Some(f64::from(drawn)))?;
            smallest = smallest.min(bytes.len() as u64);
            if bytes.len() as u64 <= settings.strike_off_bytes {
                return Ok(bytes);
            }
        }
    }
    Err(MockupError::TooManyBytes { name: name.into(), limit: settings.strike_off_bytes, smallest })
}

fn draw(raster: &Raster, repeat: Repeat, per_inch: [f64; 2], name: &str, drawn: u32) -> Result<Raster, MockupError> {
    let plane = Plane::new(raster, repeat);
    let window = window(plane, per_inch, drawn);
    let px = |mm: f64| mm * f64::from(drawn) / MM_PER_INCH;
    let edge = px(MARGIN_MM + BAND_MM).ceil() as i64;
    let art = Box4::new(edge, edge, i64::from(window.size[0]), i64::from(window.size[1]));
    let width = (art.right + edge).max(px(SHEET_MM[0] * 0.6) as i64);

    let (title, body) = (Style::bold(px(4.6) as f32), Style::regular(px(3.5) as f32));
    let font = Font::bundled()?;
    let room = width as f32 - 2.0 * px(MARGIN_MM) as f32;
    let mut lines: Vec<(Style, String)> = Vec::new();
    lines.extend(font.wrap(name, title, room, 2).into_iter().map(|line| (title, line)));
    for text in caption(raster, repeat, per_inch) {
        lines.extend(font.wrap(&text, body, room, 3).into_iter().map(|line| (body, line)));
    }
    let leading = |style: Style| style.size * 1.4;
    let text_height: f32 = lines.iter().map(|(style, _)| leading(*style)).sum();
    let text_top = art.bottom as f32 + px(BAND_MM + 1.0) as f32;
    let height = (text_top + text_height + px(MARGIN_MM) as f32).ceil() as u32;

    let mut canvas = Canvas::new(width as u32, height)?;
    canvas.set_down(&art_pixels(plane, &window)?, art.left, art.top, art);
    ruler::draw(&mut canvas, art, f64::from(drawn), &joints(plane, &window));
    let mut baseline = text_top;
    for (style, line) in lines {
        baseline += leading(style);
        let ink = if style == title { BLACK } else { GRAY };
        canvas.text(&line, style, px(MARGIN_MM) as f32, baseline, ink);
    }
    canvas.finish()
}

/// Chooses what is shown.
fn window(plane: Plane<'_>, per_inch: [f64; 2], drawn: u32) -> Window {
    let period = plane.period();
    let repeats = plane.repeats();
    let tile_mm = [0, 1].map(|i| period[i] as f64 / per_inch[i] * MM_PER_INCH);
    let lying = tile_mm[0] > tile_mm[1];
    let sheet = if lying { [SHEET_MM[1], SHEET_MM[0]] } else { SHEET_MM };
    let around = 2.0 * (MARGIN_MM + BAND_MM);
    let room = [sheet[0] - around, sheet[1] - around - CAPTION_MM];
    let mut window = Window { start: [0; 2], size: [1; 2], per_inch: drawn, step: [(1, 1); 2] };
    for i in 0..2 {
        let wanted = if repeats[i] { (1.5 * tile_mm[i]).max(LEAST_ART_MM) } else { tile_mm[i] };
        let art_mm = wanted.min(room[i]).min(MOST_SOURCE / per_inch[i] * MM_PER_INCH);
        window.size[i] = ((art_mm / MM_PER_INCH * f64::from(drawn)) as u32).max(1);
        // Thousandths of a pixel per inch are exact enough for any tag, and whole numbers keep every machine alike.
        window.step[i] = ((per_inch[i] * 1000.0).round() as u32, drawn * 1000);
        if art_mm < tile_mm[i] {
            let shown = art_mm / MM_PER_INCH * per_inch[i];
            let spare = period[i] as f64 - shown / 2.0;
            // Where it repeats, the edges meet in the middle; else the middle of the tile is shown.
            window.start[i] = if repeats[i] { spare as i64 } else { (period[i] as f64 / 2.0 - shown / 2.0) as i64 };
        }
    }
    window
}

fn art_pixels(plane: Plane<'_>, window: &Window) -> Result<Raster, MockupError> {
    let [across, down] = [0, 1].map(|i| Axis::new(window.step[i].0, window.step[i].1, window.size[i]));
    let mut rgba = vec![0; across.source() as usize * 4];
    let samples = reduce(&across, &down, |y, row| {
        plane.row(window.start[0], window.start[1] + i64::from(y), &mut rgba);
        light::row_over(&rgba, light::FULL, row);
    });
    let [width, height] = window.size;
    Raster::new(width, height, samples).ok_or(MockupError::NoCanvas(width, height))
}

/// Where copies meet along the window's sides, in output pixels.
fn joints(plane: Plane<'_>, window: &Window) -> Vec<(Side, f64)> {
    let (period, repeats) = (plane.period(), plane.repeats());
    let step = window.step.map(|(p, q)| f64::from(p) / f64::from(q));
    let shown = [0, 1].map(|i| f64::from(window.size[i]) * step[i]);
    let last = [0, 1].map(|i| window.start[i] + shown[i] as i64);
    let mut found = Vec::new();
    for side in Side::ALL {
        let along = usize::from(!side.is_level());
        let across = 1 - along;
        if !repeats[along] {
            continue;
        }
        // Copies beside the window's far side may be moved against those at its near side.
        let at = if matches!(side, Side::Top | Side::Left) { window.start[across] } else { last[across] };
        let lane = at.div_euclid(period[across]);
        let moved = if along == 1 { plane.moved(lane, 0)[1] } else { plane.moved(0, lane)[0] };
        let mut joint = moved + (window.start[along] - moved).div_euclid(period[along]) * period[along];
        // Wedges closer than a fingertip would hide the ruler.
        let apart = f64::from(window.per_inch) * 0.4 * step[along];
        let stride = period[along] * (apart / period[along] as f64).ceil().max(1.0) as i64;
        while joint as f64 - window.start[along] as f64 <= shown[along] {
            if joint >= window.start[along] {
                found.push((side, (joint - window.start[along]) as f64 / step[along]));
            }
            joint += stride;
        }
    }
    found
}

fn caption(raster: &Raster, repeat: Repeat, per_inch: [f64; 2]) -> [String; 2] {
    let inches = [f64::from(raster.width()) / per_inch[0], f64::from(raster.height()) / per_inch[1]];
    let resolution = if (per_inch[0] - per_inch[1]).abs() < 0.05 {
        trimmed(per_inch[0], 1)
    } else {
        format!("{} x {}", trimmed(per_inch[0], 1), trimmed(per_inch[1], 1))
    };
    let is_repeat = repeat != Repeat::None;
    let said = match repeat {
        Repeat::None => "not a repeat".to_string(),
        Repeat::Across | Repeat::Down => format!("repeats {repeat}"),
        _ => format!("{repeat} repeat"),
    };
    let centimeters = inches.map(|side| trimmed(side * MM_PER_INCH / 10.0, 2));
    let inches = inches.map(|side| trimmed(side, 2));
    let size = format!("{} x {} in ({} x {} cm)", inches[0], inches[1], centimeters[0], centimeters[1]);
    let joints = if is_repeat { " Black wedges show where the tile begins anew." } else { "" };
    [
        format!("{said} · one tile prints {size} at {resolution} pixels per inch"),
        format!("True size: print it at 100 %.{joints}"),
    ]
}

/// A number with at most so many decimals and no needless zeros.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text }
}
