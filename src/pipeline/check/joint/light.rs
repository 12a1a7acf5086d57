//! Light: the mean of every line, and how far it steps between blocks of several lines beyond its own trend.
//!
//! Grain hides an even step from any single pair of lines; over blocks it averages out. Takes lines, knows no limits.

use super::line::Line;

/// How many channels a line may have.
const CHANNELS: usize = 4;

/// Lines in a block.
pub(super) const BLOCKS: [usize; 2] = [4, 8];

/// The mean of a line in every channel, in levels.
pub(super) type Light = [f64; CHANNELS];

/// The mean of a line.
pub(super) fn of(line: &Line) -> Light {
    let mut light = [0.0; CHANNELS];
    for (light, channel) in light.iter_mut().zip(&line.channels) {
        let sum: u64 = channel.iter().map(|value| u64::from(*value)).sum();
        *light = sum as f64 / channel.len().max(1) as f64;
    }
    light
}

/// How far light steps between two blocks of `block` lines beyond the mean of the steps before and after, in the channel
/// where it steps furthest; `lines` are four blocks.
pub(super) fn step(lines: &[Light], block: usize) -> f64 {
    let mut largest: f64 = 0.0;
    for channel in 0..CHANNELS {
        let mean = |number: usize| {
            let block_lines = lines.iter().skip(number * block).take(block);
            block_lines.map(|light| light[channel]).sum::<f64>() / block as f64
        };
        let [before, near, far, after] = [0, 1, 2, 3].map(mean);
        largest = largest.max((3.0 * (far - near) + before - after).abs() / 2.0);
    }
    largest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trend_is_no_step() {
        let lines = |step: f64| -> Vec<Light> {
            (0..16).map(|line| [100.0 + f64::from(line) + if line < 8 { 0.0 } else { step }, 5.0, 0.0, 0.0]).collect()
        };
        assert!(step(&lines(0.0), 4).abs() < 1e-9);
        assert!((step(&lines(3.0), 4) - 3.0).abs() < 1e-9);
        assert_eq!(of(&Line { channels: vec![vec![1, 2], vec![7, 7]] }), [1.5, 7.0, 0.0, 0.0]);
    }
}
