//! Signal bunting: pennants of our own invention on sagging lines, rows alternating in direction and rhythm.

use super::brush::{disc, polygon, star, stroke, thread};
use super::dice::{Dice, Place};
use super::torus::{Ink, Torus, ink};
use std::f32::consts::PI;

/// The ground of the drawing.
pub const GROUND: Ink = ink(0xFB_F4_E8);
const CORD: Ink = ink(0x45_3F_4D);
const INKS: [Ink; 6] =
    [ink(0xE4_57_3F), ink(0x1F_4E_79), ink(0xF2_B1_34), ink(0x3D_8F_86), ink(0xEE_8F_A3), ink(0x6A_4C_7D)];

/// Draws four lines of bunting, each with two sags to a tile; lines and flags run on over every edge.
pub fn draw(torus: &mut Torus) {
    let (width, height) = (torus.width(), torus.height());
    let unit = width / 1600.0;
    let mut dice = Dice::new(5);
    for row in 0..4 {
        let span = width / 2.0;
        let shift = width / 32.0 + if row % 2 == 0 { 0.0 } else { span / 2.0 };
        let top = height * (row as f32 + 0.45) / 4.0;
        let sag = |x: f32| {
            let t = (x / span).rem_euclid(1.0) * 2.0 - 1.0;
            top + 92.0 * unit * (1.0 - t * t)
        };
        for i in 0..16 {
            let x = width * (i as f32 + 0.5) / 16.0;
            let (left, right) = (x - 41.0 * unit, x + 41.0 * unit);
            let flag = Flag {
                hang: [(left + shift, sag(left)), (right + shift, sag(right))],
                drop: 188.0 * unit,
                ground: INKS[(i * 2 + row * 3 + i / 3) % 6],
                mark: INKS[(i * 2 + row * 3 + i / 3 + 1 + i % 4) % 6],
            };
            flag.draw(torus, (i * 5 + row * 2) % 7, row % 2 == 0);
        }
        let line: Vec<Place> = (0..=128).map(|i| width * i as f32 / 128.0).map(|x| (x + shift, sag(x))).collect();
        torus.fill(stroke(thread(&line), 7.0 * unit), CORD);
        for i in 0..2 {
            torus.fill(disc((shift + span * i as f32, top), 13.0 * unit), CORD);
            torus.fill(disc((shift + span * i as f32, top), 5.0 * unit), GROUND);
        }
        confetti(torus, &mut dice, top + 318.0 * unit, unit);
    }
}

/// One flag on its two corners.
struct Flag {
    hang: [Place; 2],
    drop: f32,
    ground: Ink,
    mark: Ink,
}

impl Flag {
    /// A place on the flag: `u` from -1 to 1 across, `v` from 0 to 1 down.
    fn at(&self, u: f32, v: f32) -> Place {
        let [left, right] = self.hang;
        let t = (u + 1.0) / 2.0;
        let lean = (right.1 - left.1) * 0.35;
        (left.0 + (right.0 - left.0) * t - lean * v, left.1 + (right.1 - left.1) * t + self.drop * v)
    }

    fn cut(&self, corners: &[Place]) -> Option<tiny_skia::Path> {
        let corners: Vec<Place> = corners.iter().map(|&(u, v)| self.at(u, v)).collect();
        polygon(&corners)
    }

    fn draw(&self, torus: &mut Torus, device: usize, swallowtail: bool) {
        let hem: &[Place] = if swallowtail { &[(1.0, 1.0), (0.0, 0.76), (-1.0, 1.0)] } else { &[(0.0, 1.12)] };
        let outline: Vec<Place> = [(-1.0, 0.0), (1.0, 0.0)].iter().chain(hem).copied().collect();
        torus.fill(self.cut(&outline), self.ground);
        let limit = |v: f32| if swallowtail { 1.0 } else { 1.0 - v / 1.12 };
        let band = |from: f32, to: f32| {
            self.cut(&[(-limit(from), from), (limit(from), from), (limit(to), to), (-limit(to), to)])
        };
        match device {
            0 => torus.fill(disc(self.at(0.0, 0.36), self.drop * 0.15), self.mark),
            1 => {
                torus.fill(band(0.14, 0.30), self.mark);
                torus.fill(band(0.46, 0.62), self.mark);
            }
            2 => torus.fill(self.cut(&[(0.0, 0.1), (0.5, 0.38), (0.0, 0.66), (-0.5, 0.38)]), self.mark),
            3 => {
                let points = star(self.at(0.0, 0.37), 5, (self.drop * 0.21, self.drop * 0.09), -PI / 2.0);
                torus.fill(polygon(&points), self.mark);
            }
            4 => {
                for (u, v) in [(-0.45_f32, 0.2), (0.45, 0.2), (0.0, 0.4), (-0.4, 0.58), (0.4, 0.58)] {
                    if u.abs() < limit(v) - 0.2 {
                        torus.fill(disc(self.at(u, v), self.drop * 0.062), self.mark);
                    }
                }
            }
            5 => torus.fill(
                self.cut(&[
                    (-1.0, 0.0),
                    (0.0, 0.0),
                    (0.0, if swallowtail { 0.76 } else { 1.12 }),
                    hem_left(swallowtail),
                ]),
                self.mark,
            ),
            _ => {
                torus.fill(self.cut(&[(-0.2, 0.0), (0.2, 0.0), (0.2, 0.72), (-0.2, 0.72)]), self.mark);
                torus.fill(band(0.26, 0.42), self.mark);
            }
        }
        torus.fill(band(0.0, 0.05), CORD);
    }
}

fn hem_left(swallowtail: bool) -> Place {
    if swallowtail { (-1.0, 1.0) } else { (0.0, 1.12) }
}

/// A few paper dots and stars under each line.
fn confetti(torus: &mut Torus, dice: &mut Dice, y: f32, unit: f32) {
    let width = torus.width();
    for i in 0..26 {
        let at = (width * (i as f32 + dice.between(0.2, 0.8)) / 26.0, y + dice.between(-30.0, 50.0) * unit);
        let ink = dice.pick(INKS);
        match i % 3 {
            0 => torus.fill(disc(at, 8.0 * unit), ink),
            1 => torus.fill(stroke(disc(at, 9.0 * unit), 4.0 * unit), ink),
            _ => torus.fill(polygon(&star(at, 4, (15.0 * unit, 5.0 * unit), dice.angle())), ink),
        }
    }
}
