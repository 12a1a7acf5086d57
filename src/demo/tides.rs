//! Tide lines: contours of a slow swell, inked like a chart of the shore in sand, with every fifth line gilded.

use super::brush::oval;
use super::dice::{Dice, Swell, scatter};
use super::torus::{Ink, Torus, ink, mix};

/// The ground of the drawing.
pub const GROUND: Ink = SHALLOW;
const DRY: Ink = ink(0xF6_EA_D2);
const WET: Ink = ink(0xE2_C9_9E);
const SHALLOW: Ink = ink(0xB4_D6_CF);
const REEF: Ink = ink(0x74_AE_B1);
const DEEP: Ink = ink(0x2F_6E_7F);
const LINE: Ink = ink(0x1F_40_4E);
const GILT: Ink = ink(0xC8_8A_2E);

/// Lines between the mean level and a place as high as two in three are.
const LINES: f32 = 6.0;

/// Draws the shore at any size.
pub fn draw(torus: &mut Torus) {
    let size = (torus.width(), torus.height());
    let swell = Swell::new(42, size, 18, (1.6, 11.0));
    let level = |x: i64, y: i64| swell.at(x, y) * LINES;
    let (width, height) = (size.0 as i64, size.1 as i64);
    let levels: Vec<f32> =
        (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| level(x, y)).collect();
    let kept = |x: i64, y: i64| levels[(y.rem_euclid(height) * width + x.rem_euclid(width)) as usize];
    torus.wash(|x, y| {
        let here = kept(x, y);
        // How many levels one pixel climbs, so that lines keep their width on flats and on slopes.
        let climb = (kept(x + 1, y) - here).hypot(kept(x, y + 1) - here).max(1e-4);
        let ground = shore(here);
        let nearest = here.round();
        let gilded = (nearest as i64).rem_euclid(5) == 0;
        let half = if gilded { 2.7 } else { 1.25 };
        let cover = (half + 0.5 - (here - nearest).abs() / climb).clamp(0.0, 1.0);
        mix(ground, if gilded { GILT } else { mix(LINE, ground, 0.3) }, cover)
    });
    let mut dice = Dice::new(3);
    for (x, y) in scatter(&mut dice, size, 44.0, 5000) {
        let here = level(x as i64, y as i64);
        if here > 1.0 && dice.unit() < (here - 1.0) * 0.2 {
            let stone = oval((x, y), (dice.between(4.0, 12.0), dice.between(3.0, 7.0)), dice.angle());
            torus.fill(stone, mix(WET, LINE, dice.between(0.1, 0.8)));
        }
    }
}

/// The color of the ground at a level, in flat steps from gilded line to gilded line.
fn shore(level: f32) -> Ink {
    match (level / 5.0).floor() as i64 {
        ..=-2 => DEEP,
        -1 => REEF,
        0 => SHALLOW,
        1 => WET,
        _ => DRY,
    }
}
