//! Chance that comes out alike on every run: a seeded generator, scattering on the torus, and soft fields that repeat.
//!
//! Takes seeds and sizes, yields numbers, places and fields. Knows nothing of pictures.

use std::f32::consts::TAU;

/// A place on the drawing, in pixels.
pub type Place = (f32, f32);

/// `SplitMix64` (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// A generator of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 up to but not including 1.
    pub fn unit(&mut self) -> f32 {
        (self.bits() >> 40) as f32 / (1u32 << 24) as f32
    }

    /// A number between two bounds.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.unit()
    }

    /// An angle, all directions alike.
    pub fn angle(&mut self) -> f32 {
        self.unit() * TAU
    }

    /// One of the values of an array that has at least one.
    pub fn pick<T: Copy, const N: usize>(&mut self, values: [T; N]) -> T {
        values[(self.bits() % N as u64) as usize]
    }
}

/// Places on a `width` x `height` torus, no two closer than `apart`: as many as `tries` throws find.
#[must_use]
pub fn scatter(dice: &mut Dice, (width, height): Place, apart: f32, tries: usize) -> Vec<Place> {
    let mut found: Vec<Place> = Vec::new();
    for _ in 0..tries {
        let (x, y) = (dice.between(0.0, width), dice.between(0.0, height));
        if found.iter().all(|&(a, b)| wrapped_distance((x - a, y - b), (width, height)) >= apart) {
            found.push((x, y));
        }
    }
    found
}

/// The length of a move on the torus, the short way round.
#[must_use]
pub fn wrapped_distance((dx, dy): Place, (width, height): Place) -> f32 {
    let dx = dx - (dx / width).round() * width;
    let dy = dy - (dy / height).round() * height;
    dx.hypot(dy)
}

/// A soft random field that repeats with the tile: plane waves of whole numbers of periods, longer ones stronger.
///
/// The wave `cos(a x + b y)` is split into products of tables over columns and rows, so a pixel costs two products a wave.
#[derive(Clone, Debug)]
pub struct Swell {
    waves: usize,
    columns: Vec<[f32; 2]>,
    rows: Vec<[f32; 2]>,
    size: (i64, i64),
}

impl Swell {
    /// A field over a tile of a size in pixels, of `waves` waves with about `coarse` to `fine` periods over a square as
    /// wide as the tile; values are spread around 0, two in three of them between -1 and 1.
    #[must_use]
    pub fn new(seed: u64, (width, height): Place, waves: usize, (coarse, fine): (f32, f32)) -> Self {
        let mut dice = Dice::new(seed);
        let (mut columns, mut rows, mut power) = (Vec::new(), Vec::new(), 0.0);
        for wave in 0..waves {
            let frequency = coarse * (fine / coarse).powf((wave as f32 + dice.unit()) / waves as f32);
            let (angle, phase) = (dice.angle(), dice.angle());
            let across = (frequency * angle.cos()).round();
            let down = (frequency * angle.sin() * height / width).round();
            let strength = if (across, down) == (0.0, 0.0) { 0.0 } else { (coarse / frequency).powf(1.3) };
            power += strength * strength / 2.0;
            let turn = |periods: f32, at: u32, side: f32, phase: f32, strength: f32| {
                let (sin, cos) = (TAU * (periods * at as f32 / side).fract() + phase).sin_cos();
                [cos * strength, sin * strength]
            };
            columns.push((0..width as u32).map(|x| turn(across, x, width, phase, strength)).collect::<Vec<_>>());
            rows.push((0..height as u32).map(|y| turn(down, y, height, 0.0, 1.0)).collect::<Vec<_>>());
        }
        let scale = power.max(1e-6).sqrt().recip();
        let columns = transposed(&columns, scale);
        Self { waves, columns, rows: transposed(&rows, 1.0), size: (width as i64, height as i64) }
    }

    /// The value at a pixel of the endless repeat.
    #[must_use]
    pub fn at(&self, x: i64, y: i64) -> f32 {
        let (x, y) = (x.rem_euclid(self.size.0) as usize, y.rem_euclid(self.size.1) as usize);
        let column = &self.columns[x * self.waves..][..self.waves];
        let row = &self.rows[y * self.waves..][..self.waves];
        column.iter().zip(row).map(|(a, b)| a[0] * b[0] - a[1] * b[1]).sum()
    }
}

/// From one list per wave to one list per pixel, multiplied.
fn transposed(waves: &[Vec<[f32; 2]>], scale: f32) -> Vec<[f32; 2]> {
    let pixels = waves.first().map_or(0, Vec::len);
    (0..pixels).flat_map(|at| waves.iter().map(move |wave| wave[at].map(|value| value * scale))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_yields_the_published_first_numbers() {
        // The check values of Rosetta Code, "Pseudo-random numbers/Splitmix64", for the seed 1234567.
        let mut dice = Dice::new(1_234_567);
        let got: Vec<u64> = (0..3).map(|_| dice.bits()).collect();
        assert_eq!(got, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn scattered_places_keep_apart_across_the_edges() {
        let size = (300.0, 200.0);
        let places = scatter(&mut Dice::new(4), size, 40.0, 500);
        assert!(places.len() > 15, "only {} places found room", places.len());
        for (i, a) in places.iter().enumerate() {
            for b in &places[..i] {
                assert!(wrapped_distance((a.0 - b.0, a.1 - b.1), size) >= 40.0);
            }
        }
    }

    #[test]
    fn a_swell_returns_after_one_tile_and_is_spread_as_told() {
        let (width, height) = (300i64, 200i64);
        let swell = Swell::new(9, (300.0, 200.0), 12, (1.5, 9.0));
        let wrapped: f32 = (0..height).map(|y| (swell.at(0, y) - swell.at(width - 1, y)).abs()).sum();
        let inside: f32 = (0..height).map(|y| (swell.at(1, y) - swell.at(0, y)).abs()).sum();
        assert!(wrapped < inside * 2.0, "a joint of {wrapped} among steps of {inside}");
        assert_eq!(swell.at(17, 190), swell.at(17 + width, 190 - height));
        let all = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let power: f32 = all.map(|(x, y)| swell.at(x, y).powi(2)).sum::<f32>() / (width * height) as f32;
        assert!((0.6..1.6).contains(&power), "power {power}");
    }
}
