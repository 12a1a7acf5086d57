//! The best guess at a picture from another that lies under it: which color each color was exchanged for.
//!
//! Takes two aligned pictures, yields the guess. A smooth curve first (what a painter does to soft art), then for each color the
//! mean of what is left (what is done to flat colors); each place is guessed from all others, so that a color that occurs once
//! explains nothing. How much such a guess explains is the correlation ratio (Roche, Malandain, Pennec, Ayache, MICCAI 1998).

use super::wave::SIDE;

/// Four channels of a picture on the grid.
pub type Channels = [Vec<f32>; 4];

/// Levels of each channel that are told apart.
const LEVELS: usize = 12;

/// What the curve is made of: 1, four values, their ten products, and four cubes.
const TERMS: usize = 19;

/// The second picture guessed from the first.
#[must_use]
pub fn guess(one: &Channels, other: &Channels) -> Channels {
    let scaled = scaled(one);
    let mut guess = curve(&scaled, other);
    let bins: Vec<usize> = (0..SIDE * SIDE)
        .map(|at| {
            scaled.iter().fold(0, |bin, channel| {
                bin * LEVELS + (((channel[at] + 1.0) * 0.5 * LEVELS as f32) as usize).min(LEVELS - 1)
            })
        })
        .collect();
    let mut counts = vec![0_u32; LEVELS.pow(4)];
    bins.iter().for_each(|&bin| counts[bin] += 1);
    for (guess, other) in guess.iter_mut().zip(other) {
        let mut left = vec![0.0_f64; counts.len()];
        for (at, &bin) in bins.iter().enumerate() {
            left[bin] += f64::from(other[at] - guess[at]);
        }
        for (at, &bin) in bins.iter().enumerate() {
            let own = f64::from(other[at] - guess[at]);
            if counts[bin] > 1 {
                guess[at] += ((left[bin] - own) / f64::from(counts[bin] - 1)) as f32;
            }
        }
    }
    guess
}

/// Channels stretched to -1 to 1; one that does not change is 0.
fn scaled(one: &Channels) -> Channels {
    one.each_ref().map(|channel| {
        let (low, high) = channel.iter().fold((f32::MAX, f32::MIN), |(low, high), &v| (low.min(v), high.max(v)));
        let half = (high - low) * 0.5;
        channel.iter().map(|v| if half > 0.25 { ((v - low) / half - 1.0).clamp(-1.0, 1.0) } else { 0.0 }).collect()
    })
}

fn terms(scaled: &Channels, at: usize) -> [f64; TERMS] {
    let v = [0, 1, 2, 3].map(|c| f64::from(scaled[c][at]));
    let [r, g, b, a] = v;
    [
        1.0,
        r,
        g,
        b,
        a,
        r * r,
        g * g,
        b * b,
        a * a,
        r * g,
        r * b,
        r * a,
        g * b,
        g * a,
        b * a,
        r * r * r,
        g * g * g,
        b * b * b,
        a * a * a,
    ]
}

/// Which of the terms hold channels that change, and the first, which holds none.
fn told(scaled: &Channels) -> Vec<usize> {
    const OF: [&[usize]; TERMS] = [
        &[],
        &[0],
        &[1],
        &[2],
        &[3],
        &[0],
        &[1],
        &[2],
        &[3],
        &[0, 1],
        &[0, 2],
        &[0, 3],
        &[1, 2],
        &[1, 3],
        &[2, 3],
        &[0],
        &[1],
        &[2],
        &[3],
    ];
    let changes = scaled.each_ref().map(|channel| channel.iter().any(|value| *value != 0.0));
    (0..TERMS).filter(|term| OF[*term].iter().all(|channel| changes[*channel])).collect()
}

/// The least squares curve from the first picture's values to each channel of the second, by the normal equations over every
/// third place; a little weight on small coefficients keeps unused ones at 0.
fn curve(scaled: &Channels, other: &Channels) -> Channels {
    // What holds a channel that does not change is 0 everywhere, and so is all that it is multiplied with.
    let told = told(scaled);
    let mut sums = [[0.0_f64; TERMS + 4]; TERMS];
    for at in (0..SIDE * SIDE).step_by(3) {
        let all = terms(scaled, at);
        let mut terms = [0.0; TERMS];
        terms.iter_mut().zip(&told).for_each(|(term, which)| *term = all[*which]);
        let others = [0, 1, 2, 3].map(|c| f64::from(other[c][at]));
        for (i, row) in sums.iter_mut().enumerate().take(told.len()) {
            let own = terms[i];
            for (sum, term) in row[i..told.len()].iter_mut().zip(&terms[i..]) {
                *sum += own * term;
            }
            for (sum, other) in row[TERMS..].iter_mut().zip(others) {
                *sum += own * other;
            }
        }
    }
    let mut matrix = [[0.0_f64; TERMS + 4]; TERMS];
    for (i, row) in told.iter().zip(&sums) {
        matrix[*i][TERMS..].copy_from_slice(&row[TERMS..]);
    }
    for (at, i) in told.iter().enumerate() {
        // A product is the same either way.
        for (with, j) in told.iter().enumerate().skip(at) {
            (matrix[*i][*j], matrix[*j][*i]) = (sums[at][with], sums[at][with]);
        }
    }
    for (i, row) in matrix.iter_mut().enumerate() {
        row[i] += 1.0;
    }
    let solved = solve(matrix);
    let mut out: Channels = [0; 4].map(|_| vec![0.0; SIDE * SIDE]);
    for at in 0..SIDE * SIDE {
        // The four channels side by side: each sum waits for its own last step only.
        let mut sums = [0.0; 4];
        let terms = terms(scaled, at);
        for which in &told {
            let (term, row) = (terms[*which], solved[*which]);
            sums = std::array::from_fn(|c| sums[c] + term * row[c]);
        }
        for (out, sum) in out.iter_mut().zip(sums) {
            out[at] = sum as f32;
        }
    }
    out
}

/// Gauss and Jordan with the largest pivot; a matrix with weight on its diagonal always has one.
fn solve(mut matrix: [[f64; TERMS + 4]; TERMS]) -> [[f64; 4]; TERMS] {
    for column in 0..TERMS {
        let pivot = (column..TERMS).max_by(|&a, &b| matrix[a][column].abs().total_cmp(&matrix[b][column].abs()));
        matrix.swap(column, pivot.unwrap_or(column));
        let row = matrix[column].map(|value| value / matrix[column][column]);
        for (i, other) in matrix.iter_mut().enumerate() {
            let times = other[column];
            if i == column {
                *other = row;
            } else {
                other.iter_mut().zip(row).for_each(|(value, own)| *value -= times * own);
            }
        }
    }
    matrix.map(|row| [0, 1, 2, 3].map(|c| row[TERMS + c]))
}
