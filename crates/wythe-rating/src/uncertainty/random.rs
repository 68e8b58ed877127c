//! A small generator of random numbers, the same on every machine.

use std::f64::consts::PI;

/// SplitMix64. Source: Steele, Lea and Flood, *Fast splittable pseudorandom number generators*,
/// OOPSLA 2014 (constants from memory, checked against the sequence for seed 0).
#[derive(Clone, Debug)]
pub struct SplitMix64 {
    state: u64,
}

impl SplitMix64 {
    /// A generator with a seed; the same seed gives the same numbers.
    pub fn new(seed: u64) -> SplitMix64 {
        SplitMix64 { state: seed }
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform in [0, 1), 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal, by the polar form of Box and Muller.
    pub fn normal(&mut self) -> f64 {
        // 1 − u lies in (0, 1], so the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * PI * self.uniform()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_known_sequence_of_seed_zero() {
        // First outputs for seed 0, as widely printed with the algorithm.
        let mut random = SplitMix64::new(0);
        assert_eq!(random.next_u64(), 0xe220_a839_7b1d_cdaf);
        assert_eq!(random.next_u64(), 0x6e78_9e6a_a1b9_65f4);
    }

    #[test]
    fn normal_numbers_have_mean_zero_and_deviation_one() {
        let mut random = SplitMix64::new(7);
        let n = 100_000;
        let draws: Vec<f64> = (0..n).map(|_| random.normal()).collect();
        let mean = draws.iter().sum::<f64>() / f64::from(n);
        let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / f64::from(n);
        // Five standard errors.
        assert!(mean.abs() < 5.0 / f64::from(n).sqrt());
        assert!((variance - 1.0).abs() < 5.0 * (2.0 / f64::from(n)).sqrt());
    }
}
