//! Seeded chance: the same numbers from the same seed on every machine.

/// A small generator (splitmix64: Steele, Lea, Flood, OOPSLA 2014).
#[derive(Clone)]
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed ^ 0x6A09_E667_F3BC_C909)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// From 0 up to but not including 1.
    pub fn unit(&mut self) -> f32 {
        (self.next() >> 40) as f32 / (1u64 << 24) as f32
    }

    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.unit()
    }

    /// From `low` to `high`, both possible.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        low + (self.next() % u64::from(high - low + 1)) as u32
    }

    pub fn odds(&mut self, one_in: u32) -> bool {
        self.whole(1, one_in) == 1
    }

    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.whole(0, from.len() as u32 - 1) as usize]
    }

    /// About normal, mean 0, deviation 1 (sum of twelve).
    pub fn normal(&mut self) -> f32 {
        (0..12).map(|_| self.unit()).sum::<f32>() - 6.0
    }

    /// Any color.
    pub fn color(&mut self) -> [f32; 3] {
        [0; 3].map(|_| self.between(8.0, 247.0).round())
    }

    /// A color that differs from another by at least `apart` levels in some channel.
    pub fn color_apart(&mut self, from: [f32; 3], apart: f32) -> [f32; 3] {
        loop {
            let color = self.color();
            if color.iter().zip(from).any(|(a, b)| (a - b).abs() >= apart) {
                return color;
            }
        }
    }

    /// A few colors that go with a ground.
    pub fn palette(&mut self, ground: [f32; 3], count: usize) -> Vec<[f32; 3]> {
        (0..count).map(|_| self.color_apart(ground, 40.0)).collect()
    }
}
