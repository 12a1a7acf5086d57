//! Kelp fronds: layered strands that climb the whole tile, tone on tone behind, olive and gold in front.

use super::brush::{disc, leaf_half, oval, polar, polygon, ribbon, spine, stroke, thread};
use super::dice::{Dice, Place, scatter};
use super::torus::{Ink, Torus, ink, mix, veil};
use std::f32::consts::{PI, TAU};

const WATER: Ink = ink(0x10_33_40);
const SHADE: Ink = ink(0x18_45_52);
const DEEP: Ink = ink(0x1E_53_5F);
const FOAM: Ink = ink(0xD9_E8_DC);
const INKS: [Ink; 4] = [ink(0x8A_8B_3A), ink(0xC7_9A_3F), ink(0x4F_8A_78), ink(0xA9_B8_7A)];

/// The ground of the drawing.
pub const GROUND: Ink = WATER;

/// One strand: where it stands, how it sways, what it looks like.
struct Strand {
    x: f32,
    sway: f32,
    waves: f32,
    phase: f32,
    blade: f32,
    blades: usize,
    ink: Ink,
    veined: bool,
}

impl Strand {
    fn stem(&self, y: f32, height: f32) -> f32 {
        self.x + self.sway * (TAU * self.waves * y / height + self.phase).sin()
    }
}

/// Draws the fronds at any size; the proportions are those of a 3600 px square.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let unit = width / 3600.0;
    let mut dice = Dice::new(31);
    for i in 0..6 {
        let strand = Strand {
            x: width * (i as f32 + 0.15 + dice.between(-0.1, 0.1)) / 6.0,
            sway: dice.between(60.0, 130.0) * unit,
            waves: dice.pick([1.0, 2.0]),
            phase: dice.angle(),
            blade: 620.0 * unit,
            blades: 14,
            ink: if i % 2 == 0 { SHADE } else { DEEP },
            veined: false,
        };
        draw_strand(torus, &strand, &mut dice);
    }
    for (x, y) in scatter(&mut dice, (width, height), 120.0 * unit, 700) {
        let radius = dice.between(5.0, 17.0) * unit;
        let ring = stroke(disc((x, y), radius), 4.0 * unit);
        torus.fill(ring, veil(FOAM, 120));
        torus.fill(disc((x - radius * 0.3, y - radius * 0.35), radius * 0.25), veil(FOAM, 170));
    }
    for i in 0..4 {
        let strand = Strand {
            x: width * (i as f32 + 0.5 + dice.between(-0.06, 0.06)) / 4.0,
            sway: dice.between(90.0, 150.0) * unit,
            waves: dice.pick([1.0, 2.0, 2.0]),
            phase: dice.angle(),
            blade: dice.between(540.0, 620.0) * unit,
            blades: 16,
            ink: INKS[i % 4],
            veined: true,
        };
        draw_strand(torus, &strand, &mut dice);
    }
}

fn draw_strand(torus: &mut Torus, strand: &Strand, dice: &mut Dice) {
    let height = torus.height();
    let unit = height / 3600.0;
    let half = 11.0 * unit;
    let ys: Vec<f32> = (0..=72).map(|i| height * i as f32 / 72.0).collect();
    let edge = |side: f32| ys.iter().map(move |&y| (strand.stem(y, height) + side, y));
    let stem: Vec<Place> = edge(-half).chain(edge(half).rev()).collect();
    torus.fill(polygon(&stem), mix(strand.ink, WATER, 0.25));
    for i in 0..strand.blades {
        let y = height * (i as f32 + 0.5) / strand.blades as f32;
        let side = if i % 2 == 0 { 1.0 } else { -1.0 };
        let root = (strand.stem(y, height), y);
        let rise = dice.between(0.35, 0.75);
        let angle = if side > 0.0 { -rise } else { PI + rise };
        let length = strand.blade * dice.between(0.85, 1.15);
        draw_blade(torus, strand, root, (angle, length, side * dice.between(0.4, 1.0)), dice.angle());
    }
}

/// One blade with its float; `course` is angle, length and bend.
fn draw_blade(torus: &mut Torus, strand: &Strand, root: Place, course: (f32, f32, f32), ruffle: f32) {
    let (angle, length, bend) = course;
    let half = length * 0.115;
    let float = polar(root, angle, length * 0.13);
    let center = spine(polar(root, angle, length * 0.2), angle, length, bend, 22);
    let edge = |t: f32| leaf_half(t, half) * (1.0 + 0.13 * (t * 34.0 + ruffle).sin());
    let dark = mix(strand.ink, WATER, 0.3);
    torus.fill(stroke(thread(&[root, float]), length * 0.022), dark);
    torus.fill(ribbon(&center, edge), strand.ink);
    torus.fill(oval(float, (length * 0.075, length * 0.045), angle), strand.ink);
    if !strand.veined {
        return;
    }
    let lower = center.iter().zip(normals(&center)).enumerate();
    let lower: Vec<Place> = lower.map(|(i, (&p, n))| shifted(p, n, leaf_half(i as f32 / 22.0, half) * 0.46)).collect();
    torus.fill(ribbon(&lower, |t| leaf_half(t, half * 0.44)), veil(dark, 90));
    let light = mix(strand.ink, FOAM, 0.55);
    torus.fill(ribbon(&center, |t| length * 0.008 * (1.0 - t)), light);
    for (i, (&p, n)) in center.iter().zip(normals(&center)).enumerate().skip(2).step_by(2) {
        let t = i as f32 / 22.0;
        let reach = leaf_half(t, half) * 0.72;
        let ahead = (-n.1, n.0);
        for side in [1.0, -1.0] {
            let tip =
                (p.0 + n.0 * reach * side - ahead.0 * reach * 0.8, p.1 + n.1 * reach * side - ahead.1 * reach * 0.8);
            let middle = ((p.0 + tip.0) / 2.0 - ahead.0 * reach * 0.1, (p.1 + tip.1) / 2.0 - ahead.1 * reach * 0.1);
            torus.fill(ribbon(&[p, middle, tip], |t| length * 0.0042 * (1.0 - t * 0.8)), veil(light, 190));
        }
    }
    torus.fill(
        oval(polar(float, angle - 0.9, length * 0.018), (length * 0.03, length * 0.012), angle),
        veil(light, 200),
    );
}

fn shifted(p: Place, normal: Place, by: f32) -> Place {
    (p.0 + normal.0 * by, p.1 + normal.1 * by)
}

/// The directions across a line at each of its places, of length 1.
fn normals(line: &[Place]) -> Vec<Place> {
    let last = line.len().saturating_sub(1);
    (0..line.len())
        .map(|i| {
            let (from, to) = (line[i.saturating_sub(1)], line[(i + 1).min(last)]);
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let length = dx.hypot(dy).max(1e-6);
            (-dy / length, dx / length)
        })
        .collect()
}
