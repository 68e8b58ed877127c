//! Signals known to the last digit, for tests and for the demonstration.

/// The SplitMix64 generator: 64 bits a draw, the same sequence everywhere.
///
/// Source: G. L. Steele, D. Lea, C. H. Flood, *Fast Splittable Pseudorandom Number Generators*,
/// OOPSLA 2014 (constants from memory, confirmed by the check numbers of `meas_15_prng.csv`).
///
/// ```
/// let mut r = wythe_recording::test_signal::SplitMix64::new(0);
/// assert_eq!(r.next_u64(), 0xe220_a839_7b1d_cdaf);
/// ```
#[derive(Clone, Debug)]
pub struct SplitMix64(u64);

impl SplitMix64 {
    /// A generator whose state starts at `seed`.
    pub fn new(seed: u64) -> SplitMix64 {
        SplitMix64(seed)
    }

    /// The next 64 bits.
    pub fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly distributed, 0 ≤ u < 1.
    pub fn uniform(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    /// Nearly normal, mean 0, variance 1: the sum of twelve uniforms less six. Bounded by ±6, so
    /// no sample of a test signal surprises.
    pub fn gauss(&mut self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..12 {
            sum += self.uniform();
        }
        sum - 6.0
    }
}

/// A sine of an amplitude and frequency, starting at phase zero.
pub fn sine(rate: f64, frequency: f64, amplitude: f64, samples: usize) -> Vec<f64> {
    (0..samples)
        .map(|n| amplitude * (std::f64::consts::TAU * frequency * n as f64 / rate).sin())
        .collect()
}

/// White noise of standard deviation `rms`.
pub fn white(seed: u64, rms: f64, samples: usize) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    (0..samples).map(|_| rms * r.gauss()).collect()
}
