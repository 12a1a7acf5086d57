//! Motifs as signed distances from their edge, negative inside, in pixels (about: the sign is exact).

use super::chance::Chance;

/// A motif that can be stamped.
#[derive(Clone, Copy)]
pub struct Shape {
    kind: u32,
    size: f32,
    turn: f32,
    count: f32,
}

impl Shape {
    /// Any motif of about `size` pixels in radius.
    pub fn any(chance: &mut Chance, size: f32) -> Self {
        Self {
            kind: chance.whole(0, 5),
            size,
            turn: chance.between(0.0, std::f32::consts::TAU),
            count: chance.whole(4, 8) as f32,
        }
    }

    /// A bar along the axes, the trap of straight edges.
    pub fn bar(chance: &mut Chance, size: f32) -> Self {
        let quarter = if chance.odds(2) { 0.0 } else { std::f32::consts::FRAC_PI_2 };
        Self { kind: 5, size, turn: quarter, count: 0.0 }
    }

    pub fn reach(self) -> f32 {
        self.size * 1.3 + 2.0
    }

    pub fn distance(self, x: f32, y: f32) -> f32 {
        let (sin, cos) = self.turn.sin_cos();
        let (u, v) = (x * cos + y * sin, y * cos - x * sin);
        let radius = u.hypot(v);
        match self.kind {
            0 => radius - self.size,
            // A leaf: where two discs overlap.
            1 => u.hypot(v - self.size * 0.75).max(u.hypot(v + self.size * 0.75)) - self.size * 1.25,
            // A flower and a star.
            2 => radius - self.size * (0.75 + 0.25 * (v.atan2(u) * self.count).cos()),
            3 => {
                radius
                    - self.size * (0.65 + 0.3 * (2.0 / std::f32::consts::PI) * (v.atan2(u) * self.count).sin().asin())
            }
            // A ring.
            4 => (radius - self.size * 0.75).abs() - self.size * 0.2,
            _ => (u.abs() - self.size).max(v.abs() - self.size * 0.3),
        }
    }
}
