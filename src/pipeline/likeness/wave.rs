//! Two-dimensional Fourier transforms of square real fields on the torus.
//!
//! Takes and yields fields of [`SIDE`] by [`SIDE`] values, rows from the top. What is found here only proposes: the last bits
//! differ between machines.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::{Arc, LazyLock};

/// Values along a side of a field.
pub const SIDE: usize = 256;

/// Waves to the right that are kept: the others are their mirror images, since fields are real.
const HALF: usize = SIDE / 2 + 1;

static PLAN: LazyLock<Plan> = LazyLock::new(|| {
    let mut planner = RealFftPlanner::<f32>::new();
    Plan { forward: planner.plan_fft_forward(SIDE), inverse: planner.plan_fft_inverse(SIDE) }
});

struct Plan {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

/// Rows that are brought into columns, or columns into rows, at once: so many values fill one line of a processor's cache.
const ROWS: usize = 16;

/// Memory that transforms work in.
struct Bench {
    scratch: Vec<Complex<f32>>,
    waves: [[Complex<f32>; HALF]; 2],
}

impl Plan {
    fn bench(&self) -> Bench {
        let least = self.forward.get_scratch_len().max(self.inverse.get_scratch_len());
        Bench { scratch: vec![Complex::default(); least], waves: [[Complex::default(); HALF]; 2] }
    }

    /// A real line to its waves. The lengths are the plan's own, which is all that could be refused.
    fn line(&self, line: &mut [f32], out: &mut [Complex<f32>], scratch: &mut [Complex<f32>]) {
        if self.forward.process_with_scratch(line, out, scratch).is_err() {
            out.fill(Complex::default());
        }
    }

    /// A complex line to its waves, of which as many are made as `out` holds: its real and imaginary parts are transformed
    /// as two real lines.
    fn complex(&self, parts: [&mut [f32]; 2], out: &mut [Complex<f32>], bench: &mut Bench) {
        let Bench { scratch, waves } = bench;
        for (part, waves) in parts.into_iter().zip(waves.iter_mut()) {
            self.line(part, waves, scratch);
        }
        let i = Complex::new(0.0, 1.0);
        let [real, imaginary] = &*waves;
        for ((value, a), b) in out.iter_mut().zip(real).zip(imaginary) {
            *value = a + i * b;
        }
        let mirrored = real[1..HALF - 1].iter().rev().zip(imaginary[1..HALF - 1].iter().rev());
        for (value, (a, b)) in out.iter_mut().skip(HALF).zip(mirrored) {
            *value = a.conj() + i * b.conj();
        }
    }
}

/// The waves of a real field.
#[derive(Clone)]
pub struct Spectrum(Vec<Complex<f32>>);

impl Spectrum {
    /// The waves of a field of [`SIDE`] x [`SIDE`] values.
    #[must_use]
    pub fn of(field: &[f32]) -> Self {
        Self::up_to(field, HALF - 1)
    }

    /// Of those waves only the ones with up to `most` periods to the right; the others are left at nothing.
    #[must_use]
    pub fn up_to(field: &[f32], most: usize) -> Self {
        let wanted = (most + 1).min(HALF);
        let mut bench = PLAN.bench();
        // The real parts of what comes of the rows, column by column, and the imaginary ones.
        let mut parts = [vec![0.0; wanted * SIDE], vec![0.0; wanted * SIDE]];
        let mut line = [0.0; SIDE];
        let mut waves = [[Complex::default(); HALF]; ROWS];
        for (block, rows) in field.chunks_exact(SIDE * ROWS).enumerate() {
            for (row, waves) in rows.chunks_exact(SIDE).zip(&mut waves) {
                line.copy_from_slice(row);
                PLAN.line(&mut line, waves, &mut bench.scratch);
            }
            let [real, imaginary] = &mut parts;
            for (x, (real, imaginary)) in real.chunks_exact_mut(SIDE).zip(imaginary.chunks_exact_mut(SIDE)).enumerate()
            {
                let here = block * ROWS..(block + 1) * ROWS;
                let out = real[here.clone()].iter_mut().zip(&mut imaginary[here]);
                for ((real, imaginary), waves) in out.zip(&waves) {
                    [*real, *imaginary] = [waves[x].re, waves[x].im];
                }
            }
        }
        let mut columns = vec![Complex::default(); HALF * SIDE];
        let [real, imaginary] = &mut parts;
        let parts = real.chunks_exact_mut(SIDE).zip(imaginary.chunks_exact_mut(SIDE));
        for (column, (real, imaginary)) in columns.chunks_exact_mut(SIDE).zip(parts) {
            PLAN.complex([real, imaginary], column, &mut bench);
        }
        Self(columns)
    }

    /// The field with these waves.
    #[must_use]
    pub fn field(&self) -> Vec<f32> {
        let mut bench = PLAN.bench();
        let mut columns = vec![Complex::default(); HALF * SIDE];
        // The inverse is the conjugate of the transform of the conjugate.
        let [mut real, mut imaginary] = [[0.0; SIDE]; 2];
        for (column, own) in columns.chunks_exact_mut(SIDE).zip(self.0.chunks_exact(SIDE)) {
            for ((real, imaginary), value) in real.iter_mut().zip(&mut imaginary).zip(own) {
                [*real, *imaginary] = [value.re, -value.im];
            }
            PLAN.complex([&mut real, &mut imaginary], column, &mut bench);
        }
        let mut out = vec![0.0; SIDE * SIDE];
        let mut waves = [[Complex::default(); HALF]; ROWS];
        let scale = 1.0 / (SIDE * SIDE) as f32;
        for (block, rows) in out.chunks_exact_mut(SIDE * ROWS).enumerate() {
            for (x, column) in columns.chunks_exact(SIDE).enumerate() {
                for (waves, value) in waves.iter_mut().zip(&column[block * ROWS..]) {
                    waves[x] = value.conj();
                }
            }
            for (row, waves) in rows.chunks_exact_mut(SIDE).zip(&mut waves) {
                // Both ends of a real line's waves are real; what rounding left beside is dropped.
                waves[0].im = 0.0;
                waves[HALF - 1].im = 0.0;
                if PLAN.inverse.process_with_scratch(waves, row, &mut bench.scratch).is_err() {
                    row.fill(0.0);
                }
                row.iter_mut().for_each(|value| *value *= scale);
            }
        }
        out
    }

    /// The wave with `k` periods to the right and `l` down, each between `-SIDE / 2` and `SIDE / 2`.
    #[must_use]
    #[inline]
    pub fn at(&self, k: i32, l: i32) -> Complex<f32> {
        let (side, back) = (SIDE as i32, k < 0);
        let (k, l) = if back { (-k, -l) } else { (k, l) };
        let wave = self.0[(k.rem_euclid(side) as usize).min(HALF - 1) * SIDE + l.rem_euclid(side) as usize];
        if back { wave.conj() } else { wave }
    }

    /// The waves with `k` periods to the right, 0 to `SIDE / 2`, by their periods down: those upward from the middle on.
    #[must_use]
    pub fn column(&self, k: usize) -> &[Complex<f32>] {
        &self.0[k.min(HALF - 1) * SIDE..][..SIDE]
    }

    /// The same, to be changed.
    pub fn column_mut(&mut self, k: usize) -> &mut [Complex<f32>] {
        &mut self.0[k.min(HALF - 1) * SIDE..][..SIDE]
    }

    /// The power of a wave.
    #[must_use]
    pub fn power(&self, k: i32, l: i32) -> f32 {
        self.at(k, l).norm_sqr()
    }

    /// Changes every wave, given its periods to the right and down.
    pub fn change(&mut self, mut change: impl FnMut(i32, i32, &mut Complex<f32>)) {
        for (k, column) in self.0.chunks_exact_mut(SIDE).enumerate() {
            for (y, wave) in column.iter_mut().enumerate() {
                let l = if y > SIDE / 2 { y as i32 - SIDE as i32 } else { y as i32 };
                change(k as i32, l, wave);
            }
        }
    }

    /// Adds another spectrum's waves, each times the conjugate of a third's: what correlates two fields.
    pub fn add_product(&mut self, one: &Self, other: &Self) {
        for ((sum, one), other) in self.0.iter_mut().zip(&one.0).zip(&other.0) {
            *sum += one * other.conj();
        }
    }

    /// The summed power of all waves but the mean, as the sum of squares of the field about it.
    #[must_use]
    pub fn energy(&self) -> f64 {
        let side = SIDE as i32;
        let mut sum = 0.0;
        for (k, column) in (0..).zip(self.0.chunks_exact(SIDE)) {
            let twice = if k == 0 || k == side / 2 { 1.0 } else { 2.0 };
            sum += twice * column.iter().map(|wave| f64::from(wave.norm_sqr())).sum::<f64>();
        }
        (sum - f64::from(self.0[0].norm_sqr())) / (SIDE * SIDE) as f64
    }

    /// The waves that come again in each of so many equal parts, as those of one part.
    #[must_use]
    pub fn folded(&self, [across, down]: [i32; 2]) -> Self {
        let mut out = Self::none();
        let half = SIDE as i32 / 2;
        if [across, down] == [1; 2] {
            for (to, from) in out.0.chunks_exact_mut(SIDE).zip(self.0.chunks_exact(SIDE)).take(HALF - 1) {
                to.copy_from_slice(from);
                to[SIDE / 2] = Complex::default();
            }
            return out;
        }
        out.change(|k, l, wave| {
            let (k, l) = (k * across, l * down);
            if k < half && l.abs() < half {
                *wave = self.at(k, l);
            }
        });
        out
    }

    /// No waves at all.
    #[must_use]
    pub fn none() -> Self {
        Self(vec![Complex::default(); HALF * SIDE])
    }

    /// Damps fine waves by a Gaussian whose deviation is `width` periods.
    pub fn soften(&mut self, width: f32) {
        let fall: Vec<f32> = (0..=SIDE / 2).map(|k| (-0.5 * (k as f32 / width).powi(2)).exp()).collect();
        self.change(|k, l, wave| *wave *= fall[k as usize] * fall[l.unsigned_abs() as usize]);
    }

    /// Moves the field by a part of a value to the right and down.
    pub fn shift(&mut self, by: [f32; 2]) {
        let [right, down] = phases(by.map(|by| -by));
        let half = SIDE as i32 / 2;
        self.change(|k, l, wave| {
            // The finest waves have no direction: moved by parts they would not stay real.
            if k == half || l.abs() == half {
                *wave = Complex::default();
            } else {
                *wave *= right[k as usize] * down[l.rem_euclid(SIDE as i32) as usize];
            }
        });
    }

    /// The value at a place between those of the field, from all but its finest waves; times the number of places. Of the
    /// product of two fields' waves it is how far they correlate when the second is moved so.
    #[must_use]
    pub fn value(&self, at: [f32; 2]) -> f64 {
        let [right, down] = phases(at);
        let half = SIDE / 2;
        let mut sum = 0.0;
        for (k, column) in self.0.chunks_exact(SIDE).enumerate().take(half) {
            let along: Complex<f32> = column
                .iter()
                .zip(&down)
                .enumerate()
                .filter(|(l, _)| *l != half)
                .map(|(_, (wave, phase))| wave * phase)
                .sum();
            sum += f64::from((along * right[k]).re) * if k == 0 { 1.0 } else { 2.0 };
        }
        sum
    }
}

/// By what waves of 0, 1, … periods are multiplied so that the field is that seen from a place so far to the right and down;
/// periods from half of them on count back from all.
fn phases(by: [f32; 2]) -> [Vec<Complex<f32>>; 2] {
    let turn = std::f32::consts::TAU / SIDE as f32;
    by.map(|by| {
        (0..SIDE)
            .map(|at| {
                let periods = if at > SIDE / 2 { at as f32 - SIDE as f32 } else { at as f32 };
                Complex::from_polar(1.0, turn * periods * by)
            })
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(mut seed: u32) -> Vec<f32> {
        (0..SIDE * SIDE)
            .map(|_| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (seed >> 8) as f32 / 65536.0 - 128.0
            })
            .collect()
    }

    #[test]
    fn a_field_comes_back_from_its_waves() {
        let field = noise(3);
        let back = Spectrum::of(&field).field();
        let off = field.iter().zip(&back).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        assert!(off < 1e-3, "{off}");
    }

    #[test]
    fn energy_is_the_sum_of_squares_about_the_mean() {
        let field = noise(9);
        let mean = field.iter().sum::<f32>() / field.len() as f32;
        let squares: f64 = field.iter().map(|v| f64::from(v - mean).powi(2)).sum();
        let energy = Spectrum::of(&field).energy();
        assert!((energy / squares - 1.0).abs() < 1e-4, "{energy} {squares}");
    }

    #[test]
    fn one_wave_has_its_power_in_one_place() {
        let turn = std::f32::consts::TAU / SIDE as f32;
        let field: Vec<f32> =
            (0..SIDE * SIDE).map(|at| (turn * (3.0 * (at % SIDE) as f32 - 5.0 * (at / SIDE) as f32)).cos()).collect();
        let waves = Spectrum::of(&field);
        let half = (SIDE * SIDE) as f32 / 2.0;
        assert!((waves.at(3, -5).re - half).abs() < 1.0 && (waves.at(-3, 5).re - half).abs() < 1.0);
        assert!(waves.power(3, 5) < 1.0);
    }

    #[test]
    fn values_between_those_of_a_field_follow_from_its_waves() {
        let turn = std::f32::consts::TAU / SIDE as f32;
        let wave = |x: f32, y: f32| (turn * (3.0 * x - 5.0 * y)).cos() + 0.5 * (turn * 40.0 * x).sin();
        let field: Vec<f32> = (0..SIDE * SIDE).map(|at| wave((at % SIDE) as f32, (at / SIDE) as f32)).collect();
        let waves = Spectrum::of(&field);
        for [x, y] in [[0.0, 0.0], [17.0, 200.0], [3.25, 7.5], [-1.5, 100.125]] {
            let value = waves.value([x, y]) / (SIDE * SIDE) as f64;
            assert!((value - f64::from(wave(x, y))).abs() < 1e-3, "{x} {y}: {value}");
        }
    }

    #[test]
    fn a_moved_field_has_the_same_powers_and_moves_back() {
        let field = noise(5);
        let moved: Vec<f32> = (0..SIDE * SIDE)
            .map(|at| {
                let (x, y) = (at % SIDE, at / SIDE);
                field[(y + SIDE - 7) % SIDE * SIDE + (x + SIDE - 11) % SIDE]
            })
            .collect();
        let (one, mut other) = (Spectrum::of(&field), Spectrum::of(&moved));
        for (k, l) in [(1, 0), (3, -7), (60, 61), (0, 100)] {
            assert!((one.power(k, l) / other.power(k, l) - 1.0).abs() < 1e-3);
        }
        other.shift([-11.0, -7.0]);
        let (one, other) = (one.at(9, -13), other.at(9, -13));
        assert!((one - other).norm() < 1e-3 * one.norm());
    }
}
