//! Herringbone planks of a quay in weathered paint, with grain along every plank; deep color, 16 bits a sample.

use super::dice::Dice;

/// Plank length and width in pixels; the length is four widths, so the herringbone closes after eight widths each way.
const WIDTH: u32 = 60;
const LENGTH: u32 = 240;

/// The paints, as linear steps of the stored code from 0 to 1.
const PAINTS: [[f32; 3]; 6] = [
    [0.83, 0.80, 0.74],
    [0.36, 0.49, 0.55],
    [0.62, 0.69, 0.66],
    [0.73, 0.45, 0.36],
    [0.24, 0.33, 0.40],
    [0.79, 0.66, 0.47],
];

/// One plank: how it lies and how it was painted.
#[derive(Clone, Copy)]
struct Plank {
    upright: bool,
    column: u32,
    row: u32,
    along: u32,
    across: u32,
}

/// The straight 16-bit RGBA samples of a tile; both sides must be whole numbers of eight plank widths.
#[must_use]
pub fn samples(width: u32, height: u32) -> Vec<u16> {
    let mut samples = Vec::with_capacity(width as usize * height as usize * 4);
    for y in 0..height {
        for x in 0..width {
            let color = paint(plank((x, y), (width, height)));
            samples.extend(color.map(|part| (part.clamp(0.0, 1.0) * 65535.0).round() as u16));
            samples.push(u16::MAX);
        }
    }
    samples
}

/// Which plank lies at a pixel, named by the cell of its first end on the torus.
fn plank((x, y): (u32, u32), (width, height): (u32, u32)) -> Plank {
    let (columns, rows) = (width / WIDTH, height / WIDTH);
    let (column, row) = (x / WIDTH, y / WIDTH);
    let ratio = LENGTH / WIDTH;
    // On the diagonal stairs of a herringbone, cells 0 to 3 belong to a level plank, cells 4 to 7 to an upright one.
    let stair = (column + 2 * ratio * rows - row % (2 * ratio)) % (2 * ratio);
    if stair < ratio {
        let first = (column + columns - stair) % columns;
        Plank { upright: false, column: first, row, along: x % WIDTH + stair * WIDTH, across: y % WIDTH }
    } else {
        let down = 2 * ratio - 1 - stair;
        let first = (row + rows - down) % rows;
        Plank { upright: true, column, row: first, along: y % WIDTH + down * WIDTH, across: x % WIDTH }
    }
}

fn paint(plank: Plank) -> [f32; 3] {
    let mut dice =
        Dice::new(u64::from(plank.column) * 7919 + u64::from(plank.row) * 104_729 + u64::from(plank.upright));
    let paint = PAINTS[(dice.bits() % 6) as usize];
    let (shade, phase, wave) = (dice.between(-0.07, 0.07), dice.angle(), dice.between(0.010, 0.022));
    let (along, across) = (plank.along as f32 + 0.5, plank.across as f32 + 0.5);
    let bow = 5.0 * (along * wave + phase).sin() + 2.2 * (along * wave * 2.7 - phase).sin();
    let grain = ((across + bow) * 0.62 + phase).sin() * 0.5 + ((across + bow * 1.4) * 1.55 - phase).sin() * 0.3;
    let fleck = {
        let mut dice = Dice::new(dice.bits() ^ (u64::from(plank.across / 2) << 32 | u64::from(plank.along / 14)));
        dice.unit() - 0.5
    };
    let worn = if fleck > 0.44 { 0.13 } else { 0.0 };
    let edge = |at: f32, length: f32| (at.min(length - at) / 4.0).min(1.0);
    let rim = edge(across, WIDTH as f32).min(edge(along, LENGTH as f32));
    let nail = [12.0, LENGTH as f32 - 12.0].into_iter().any(|at| (along - at).hypot(across - WIDTH as f32 / 2.0) < 3.4);
    paint.map(|part| {
        let wood = part + shade + grain * 0.038 + fleck * 0.03 + worn * (0.72 - part) * 2.0;
        if nail { 0.2 } else { 0.13 + (wood - 0.13) * (0.25 + 0.75 * rim) }
    })
}
