//! Signatures: what of a repeat does not depend on where it starts, how it is turned or mirrored, and how large it is.
//!
//! Takes waves, yields small whole numbers. A cyclic shift changes only phases of the Fourier transform, so powers do not
//! change under it; equal powers do not prove equal pictures (Patterson, Phys. Rev. 65:195-201, 1944), so a signature only
//! proposes.

use serde::{Deserialize, Serialize};

/// Waves with up to this many periods along each side are looked at: those that survive any reduction.
pub const REACH: i32 = 8;

/// How many numbers a signature has: the waves within [`REACH`], of which each and its opposite are one.
pub const LENGTH: usize = ((2 * REACH as usize + 1).pow(2) - 1) / 2;

/// Amplitudes as shares of all, times 255; those that are alike under turns and mirrors are sorted, largest first.
/// Stored as hexadecimal digits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Sign(pub Vec<u8>);

impl From<Sign> for String {
    fn from(sign: Sign) -> Self {
        sign.0.iter().map(|number| format!("{number:02x}")).collect()
    }
}

impl TryFrom<String> for Sign {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        let digits = text.as_bytes().chunks_exact(2);
        let number = |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
        let numbers: Option<Vec<u8>> = digits.map(number).collect();
        let whole = numbers.filter(|numbers| numbers.len() == LENGTH);
        whole.map(Self).ok_or_else(|| "no signature of this version".into())
    }
}

/// The waves that turning by 90 degrees and mirroring exchange with `k`, `l`, where `k >= l >= 0`. A wave and its opposite
/// have one power, so that four of the eight remain.
fn alike(k: i32, l: i32) -> Vec<[i32; 2]> {
    match (k, l) {
        (_, 0) => vec![[k, 0], [0, k]],
        _ if k == l => vec![[k, l], [k, -l]],
        _ => vec![[k, l], [k, -l], [l, k], [l, -k]],
    }
}

/// Every group of exchanged waves, the lowest first.
#[must_use]
pub fn groups() -> Vec<Vec<[i32; 2]>> {
    let mut all: Vec<[i32; 2]> = (1..=REACH).flat_map(|k| (0..=k).map(move |l| [k, l])).collect();
    all.sort_by_key(|&[k, l]| (k * k + l * l, k));
    all.into_iter().map(|[k, l]| alike(k, l)).collect()
}

impl Sign {
    /// The signature of powers.
    ///
    /// Sorting within a group makes it blind to turns and mirrors without a choice that noise could tip: sorted lists are
    /// never farther apart than the lists were.
    #[must_use]
    pub fn of(power: impl Fn(i32, i32) -> f32) -> Self {
        let mut numbers = Vec::with_capacity(LENGTH);
        let mut total = 0.0_f64;
        let groups: Vec<Vec<f32>> = groups()
            .iter()
            .map(|group| {
                let mut powers: Vec<f32> = group.iter().map(|&[k, l]| power(k, l).max(0.0)).collect();
                powers.sort_by(|a, b| b.total_cmp(a));
                total += powers.iter().map(|power| f64::from(*power)).sum::<f64>();
                powers
            })
            .collect();
        for power in groups.into_iter().flatten() {
            let share = if total > 0.0 { (f64::from(power) / total).sqrt() } else { 0.0 };
            numbers.push((share * 255.0).round() as u8);
        }
        Self(numbers)
    }

    /// How many waves there are, counted by their weight: 1 when one has all the power, [`LENGTH`] when all have the same
    /// (the participation ratio).
    #[must_use]
    pub fn waves(&self) -> u32 {
        let powers: Vec<u64> = self.0.iter().map(|&v| u64::from(v) * u64::from(v)).collect();
        let (sum, squares) = powers.iter().fold((0, 0), |(sum, squares), p| (sum + p, squares + p * p));
        (sum * sum).checked_div(squares).unwrap_or(0) as u32
    }

    /// The squared distance; 65025 is that of two with nothing in common, halved.
    #[must_use]
    pub fn apart(&self, other: &Self) -> u32 {
        self.0.iter().zip(&other.0).map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Powers that no turn or mirror leaves as they are.
    fn power(k: i32, l: i32) -> f32 {
        let (k, l) = if k < 0 || (k == 0 && l < 0) { (-k, -l) } else { (k, l) };
        ((k * 31 + l * 17 + k * l * 5).rem_euclid(97)) as f32
    }

    #[test]
    fn turns_and_mirrors_change_nothing() {
        let base = Sign::of(power);
        assert_eq!(base.0.len(), LENGTH);
        assert_eq!(base, Sign::of(|k, l| power(-l, k)), "a quarter turn");
        assert_eq!(base, Sign::of(|k, l| power(-k, l)), "a mirror");
        assert_eq!(base, Sign::of(|k, l| power(l, k)), "both");
        assert_ne!(base, Sign::of(|k, l| power(k + 1, l)));
    }

    #[test]
    fn it_is_stored_and_read_back() {
        let base = Sign::of(power);
        let text = String::from(base.clone());
        assert_eq!(Sign::try_from(text.clone()), Ok(base));
        assert!(Sign::try_from(text[2..].to_string()).is_err());
        assert!(Sign::try_from(text.replace('0', "x")).is_err());
    }

    #[test]
    fn waves_are_counted_by_their_weight() {
        assert_eq!(Sign::of(|k, l| if (k, l) == (3, 0) { 1.0 } else { 0.0 }).waves(), 1);
        assert!(Sign::of(|_, _| 1.0).waves() > LENGTH as u32 - 10);
    }
}
