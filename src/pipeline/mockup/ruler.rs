//! Rulers around an area at true scale: centimeters above and to the left, inches below and to the right.
//!
//! Takes an area and its pixels per inch, draws on a canvas. Knows no tiles.

use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, WHITE};
use crate::pipeline::mockup::text::Style;
use crate::spec::MM_PER_INCH;

/// How wide a ruler is, in millimeters.
pub const BAND_MM: f64 = 8.0;

/// How thick a tick is, in millimeters, and how long the ones with numbers are.
const TICK_MM: f64 = 0.18;
const LONG_MM: f64 = 3.0;

/// One side of an area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Above.
    Top,
    /// To the left.
    Left,
    /// Below.
    Bottom,
    /// To the right.
    Right,
}

impl Side {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Top, Self::Left, Self::Bottom, Self::Right];

    /// Whether positions run from left to right.
    #[must_use]
    pub fn is_level(self) -> bool {
        matches!(self, Self::Top | Self::Bottom)
    }

    /// The rectangle that covers `along` from..until along the side of `area`, and `out` from..until away from it.
    fn rect(self, area: Box4, along: [f32; 2], out: [f32; 2]) -> [f32; 4] {
        let [left, top, right, bottom] = [area.left, area.top, area.right, area.bottom].map(|edge| edge as f32);
        match self {
            Self::Top => [left + along[0], top - out[1], along[1] - along[0], out[1] - out[0]],
            Self::Bottom => [left + along[0], bottom + out[0], along[1] - along[0], out[1] - out[0]],
            Self::Left => [left - out[1], top + along[0], out[1] - out[0], along[1] - along[0]],
            Self::Right => [right + out[0], top + along[0], out[1] - out[0], along[1] - along[0]],
        }
    }
}

/// A unit of length, the parts it is divided into, and how long their ticks are in parts of the longest: the first that
/// divides a tick's number holds.
struct Unit {
    mm: f64,
    parts: u32,
    ticks: &'static [(u32, f64)],
}

const CENTIMETER: Unit = Unit { mm: 10.0, parts: 10, ticks: &[(10, 1.0), (5, 0.7), (1, 0.4)] };
const INCH: Unit = Unit { mm: MM_PER_INCH, parts: 16, ticks: &[(16, 1.0), (8, 0.75), (4, 0.55), (2, 0.4), (1, 0.25)] };

/// Draws the four rulers around `area`, their zero at its top left corner, and a wedge at each of `joints`: a side and how
/// far along it, in pixels, the repeat begins anew.
pub fn draw(canvas: &mut Canvas, area: Box4, per_inch: f64, joints: &[(Side, f64)]) {
    let mm = per_inch / MM_PER_INCH;
    for side in Side::ALL {
        let length = if side.is_level() { area.width() } else { area.height() } as f64;
        let line = side.rect(area, [-1.0, length as f32 + 1.0], [0.0, 1.0]);
        canvas.rule(line[0], line[1], line[2], line[3], BLACK);
        match side {
            Side::Top | Side::Left => ticks(canvas, area, side, mm, &CENTIMETER),
            Side::Bottom | Side::Right => ticks(canvas, area, side, mm, &INCH),
        }
        for (_, at) in joints.iter().filter(|(of, _)| *of == side) {
            wedge(canvas, area, side, *at, mm);
        }
    }
    let style = Style::regular((2.9 * mm) as f32);
    let corner = (BAND_MM / 2.0 * mm) as f32;
    let drop = style.size * 0.35;
    canvas.text_centered("cm", style, area.left as f32 - corner, area.top as f32 - corner + drop, GRAY);
    canvas.text_centered("in", style, area.right as f32 + corner, area.bottom as f32 + corner + drop, GRAY);
}

/// Ticks at every part of a unit, exactly placed and therefore antialiased, with a number at each whole unit. `mm` is a
/// millimeter in pixels.
fn ticks(canvas: &mut Canvas, area: Box4, side: Side, mm: f64, unit: &Unit) {
    let length = if side.is_level() { area.width() } else { area.height() } as f64;
    let thick = (TICK_MM * mm).max(1.0);
    let style = Style::regular((2.9 * mm) as f32);
    let part = unit.mm * mm / f64::from(unit.parts);
    for step in 0..=(length / part + 1e-6) as u32 {
        let at = f64::from(step) * part;
        let Some(&(_, long)) = unit.ticks.iter().find(|(parts, _)| step % parts == 0) else { continue };
        // Ticks closer than three pixels would run into a gray band.
        if part < 3.0 && long < 0.5 {
            continue;
        }
        let along = [(at - thick / 2.0) as f32, (at + thick / 2.0) as f32];
        let tick = side.rect(area, along, [1.0, (long * LONG_MM * mm) as f32]);
        canvas.rule(tick[0], tick[1], tick[2], tick[3], BLACK);
        // Zero stands in the corner of two rulers and is plain without a number.
        if step > 0 && step % unit.parts == 0 {
            let out = ((LONG_MM + 2.3) * mm) as f32;
            let spot = side.rect(area, [at as f32, at as f32], [out, out]);
            let number = (step / unit.parts).to_string();
            canvas.text_centered(&number, style, spot[0], spot[1] + style.size * 0.35, BLACK);
        }
    }
}

/// A black wedge with a white rim whose point touches the area.
fn wedge(canvas: &mut Canvas, area: Box4, side: Side, at: f64, mm: f64) {
    for (grow, ink) in [(0.45, WHITE), (0.0, BLACK)] {
        let (half, long) = ((1.2 + grow) * mm, (2.7 + grow) * mm);
        let ends = [(0.0, 0.0), (-half, long), (half, long)].map(|(beside, out)| {
            let along = (at + beside) as f32;
            let [x, y, ..] = side.rect(area, [along, along], [out as f32, out as f32]);
            (x, y)
        });
        canvas.triangle(ends, ink);
    }
}
