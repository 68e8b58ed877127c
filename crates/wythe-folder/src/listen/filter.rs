//! Minimum-phase filters from band values, and their convolution block by block.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;
use wythe_bands::{Band, Level, LevelDifference, Spectrum};

/// Reference pressure, Pa.
const P0: f64 = 20e-6;
/// Rounds of putting right the mean over each band; five leave hundredths of a decibel.
const ROUNDS: usize = 8;

/// A filter whose mean gain over each band, for noise with equal energy per third, is less by the
/// level difference.
pub fn gain_filter(difference: &Spectrum<LevelDifference>, rate: f64) -> Vec<f64> {
    design(&difference.iter().map(|(b, d)| (b, -d.0)).collect::<Vec<_>>(), false, rate)
}

/// A filter that turns white noise of variance one into pressures with these band levels.
pub fn density_filter(levels: &Spectrum<Level>, rate: f64) -> Vec<f64> {
    let gains: Vec<(Band, f64)> = levels
        .iter()
        .map(|(b, l)| {
            let width = b.upper_edge().0 - b.lower_edge().0;
            // White noise has 1/(rate/2) per hertz.
            let density = 10.0 * (P0 * P0 / width * rate / 2.0).log10();
            (b, l.0 + density)
        })
        .collect();
    design(&gains, true, rate)
}

/// Length of a filter: long enough for the narrowest band, a power of two.
fn length(rate: f64) -> usize {
    ((0.3 * rate) as usize).next_power_of_two().clamp(2_048, 65_536)
}

/// Taps of minimum phase for mean gains in dB over bands; `flat` for noise of equal density
/// inside the band, else of equal energy per octave.
fn design(gains: &[(Band, f64)], flat: bool, rate: f64) -> Vec<f64> {
    let taps = length(rate);
    let n = 8 * taps;
    let usable: Vec<(Band, f64)> =
        gains.iter().copied().filter(|(b, _)| b.upper_edge().0 < rate / 2.0).collect();
    if usable.is_empty() {
        return vec![0.0; taps];
    }
    let frequency = |k: usize| k as f64 * rate / n as f64;
    let mut nodes: Vec<(f64, f64)> = usable.iter().map(|(b, g)| (b.centre().0.ln(), *g)).collect();
    let bins: Vec<(usize, usize)> = usable
        .iter()
        .map(|(b, _)| {
            let bin = |f: f64| (f * n as f64 / rate).round() as usize;
            let low = bin(b.lower_edge().0);
            (low, bin(b.upper_edge().0).max(low + 1))
        })
        .collect();
    for _ in 0..ROUNDS {
        for (i, (low, high)) in bins.iter().enumerate() {
            let (mut sum, mut weight) = (0.0, 0.0);
            for k in *low..*high {
                let w = if flat { 1.0 } else { 1.0 / k.max(1) as f64 };
                sum += w * 10f64.powf(interpolated(&nodes, frequency(k).max(1.0).ln()) / 10.0);
                weight += w;
            }
            let mean = 10.0 * (sum / weight).log10();
            nodes[i].1 += 0.8 * (usable[i].1 - mean);
        }
    }
    // ln|H| at every bin; nothing that is heard lies 200 dB down.
    let floor = nodes.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max) - 200.0;
    let log: Vec<f64> = (0..=n / 2)
        .map(|k| {
            let f = frequency(k).max(1.0);
            interpolated(&nodes, f.ln()).max(floor) / 20.0 * std::f64::consts::LN_10
        })
        .collect();
    let mut h = minimum_phase(&log, n);
    h.truncate(taps);
    // What is cut off is small; a soft end keeps it from ringing.
    let soft = taps / 4;
    for k in 0..soft {
        let x = (k as f64 + 1.0) / soft as f64;
        h[taps - soft + k] *= 0.5 + 0.5 * (std::f64::consts::PI * x).cos();
    }
    h
}

/// Straight lines over the logarithm of frequency; level beyond the ends.
fn interpolated(nodes: &[(f64, f64)], x: f64) -> f64 {
    let i = nodes.partition_point(|p| p.0 <= x);
    match (i.checked_sub(1).and_then(|k| nodes.get(k)), nodes.get(i)) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0),
        (Some(a), None) => a.1,
        (None, Some(b)) => b.1,
        (None, None) => 0.0,
    }
}

/// Impulse response of minimum phase from ln|H|, by folding the cepstrum (Oppenheim and Schafer,
/// from memory; checked here by the gains that come out).
fn minimum_phase(log: &[f64], n: usize) -> Vec<f64> {
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let mut spectrum: Vec<Complex<f64>> = log.iter().map(|&l| Complex::new(l, 0.0)).collect();
    let mut cepstrum = inverse.make_output_vec();
    // The buffers come from the plans themselves, so the lengths agree.
    let _ = inverse.process(&mut spectrum, &mut cepstrum);
    for (k, c) in cepstrum.iter_mut().enumerate() {
        let fold = match k {
            0 => 1.0,
            k if k < n / 2 => 2.0,
            k if k == n / 2 => 1.0,
            _ => 0.0,
        };
        *c *= fold / n as f64;
    }
    let mut folded = forward.make_output_vec();
    let _ = forward.process(&mut cepstrum, &mut folded);
    folded.iter_mut().for_each(|z| *z = z.exp());
    if let Some(first) = folded.first_mut() {
        first.im = 0.0;
    }
    if let Some(last) = folded.last_mut() {
        last.im = 0.0;
    }
    let mut h = inverse.make_output_vec();
    let _ = inverse.process(&mut folded, &mut h);
    h.iter_mut().for_each(|x| *x /= n as f64);
    h
}

/// One input through several filters of one length, block by block (overlap and add).
pub struct Convolver {
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
    filters: Vec<Vec<Complex<f64>>>,
    tails: Vec<Vec<f64>>,
    block: usize,
}

impl Convolver {
    /// A convolver for blocks of `block` samples.
    pub fn new(filters: &[Vec<f64>], block: usize) -> Convolver {
        let taps = filters.iter().map(Vec::len).max().unwrap_or(1);
        let n = (block + taps).next_power_of_two();
        let mut planner = RealFftPlanner::<f64>::new();
        let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
        let transformed = filters
            .iter()
            .map(|h| {
                let mut padded = h.clone();
                padded.resize(n, 0.0);
                let mut out = forward.make_output_vec();
                let _ = forward.process(&mut padded, &mut out);
                out
            })
            .collect();
        let tails = vec![vec![0.0; n - block]; filters.len()];
        Convolver { forward, inverse, filters: transformed, tails, block }
    }

    /// The next block through every filter.
    pub fn run(&mut self, block: &[f64]) -> Vec<Vec<f64>> {
        let mut input = self.forward.make_input_vec();
        let n = input.len();
        input[..self.block.min(block.len())].copy_from_slice(&block[..self.block.min(block.len())]);
        let mut spectrum = self.forward.make_output_vec();
        let _ = self.forward.process(&mut input, &mut spectrum);
        let mut all = Vec::with_capacity(self.filters.len());
        for (filter, tail) in self.filters.iter().zip(&mut self.tails) {
            let mut product: Vec<Complex<f64>> =
                spectrum.iter().zip(filter).map(|(a, b)| a * b).collect();
            let mut out = self.inverse.make_output_vec();
            let _ = self.inverse.process(&mut product, &mut out);
            out.iter_mut().for_each(|x| *x /= n as f64);
            for (x, t) in out.iter_mut().zip(tail.iter()) {
                *x += t;
            }
            tail.clear();
            tail.extend_from_slice(&out[self.block..]);
            // The tail covers what the block does not.
            out.truncate(self.block);
            all.push(out);
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use wythe_recording::test_signal::SplitMix64;

    /// Mean of |H|² over a band, dB, from the taps themselves.
    fn mean_gain(h: &[f64], band: Band, rate: f64, flat: bool) -> f64 {
        let (low, high) = (band.lower_edge().0, band.upper_edge().0);
        let (mut sum, mut weight) = (0.0, 0.0);
        for i in 0..40 {
            let f = low + (high - low) * (i as f64 + 0.5) / 40.0;
            let step = 2.0 * std::f64::consts::PI * f / rate;
            let (mut re, mut im) = (0.0, 0.0);
            for (k, x) in h.iter().enumerate() {
                re += x * (step * k as f64).cos();
                im -= x * (step * k as f64).sin();
            }
            let w = if flat { 1.0 } else { 1.0 / f };
            sum += w * (re * re + im * im);
            weight += w;
        }
        10.0 * (sum / weight).log10()
    }

    #[test]
    fn band_gains_come_out_as_asked_even_where_they_rise_fast() {
        let rate = 48_000.0;
        // 20 dB at 20 Hz to 74 dB at 10 kHz, with a dip of 12 dB as at a resonance.
        let difference = Spectrum::from_fn(|b| {
            let dip = if b == Band::HZ_80 { 12.0 } else { 0.0 };
            LevelDifference(20.0 + 2.0 * b.index() as f64 - dip)
        });
        let h = gain_filter(&difference, rate);
        for band in [Band::HZ_50, Band::HZ_80, Band::HZ_100, Band::HZ_500, Band::HZ_3150] {
            let wanted = -difference.get(band).unwrap().0;
            let found = mean_gain(&h, band, rate, false);
            assert!((found - wanted).abs() < 0.3, "{band:?}: {found} not {wanted}");
        }
    }

    #[test]
    fn the_energy_of_minimum_phase_comes_first() {
        let difference = Spectrum::from_fn(|b| LevelDifference(20.0 + b.index() as f64));
        let h = gain_filter(&difference, 48_000.0);
        let energy = |part: &[f64]| part.iter().map(|x| x * x).sum::<f64>();
        assert!(energy(&h[..h.len() / 8]) > 0.99 * energy(&h));
    }

    #[test]
    fn blocks_give_what_direct_convolution_gives() {
        let mut random = SplitMix64::new(5);
        let h: Vec<f64> = (0..37).map(|_| random.gauss()).collect();
        let x: Vec<f64> = (0..400).map(|_| random.gauss()).collect();
        let mut convolver = Convolver::new(std::slice::from_ref(&h), 50);
        let fast: Vec<f64> =
            x.chunks(50).flat_map(|block| convolver.run(block).swap_remove(0)).collect();
        for (n, y) in fast.iter().enumerate() {
            let slow: f64 = (0..h.len().min(n + 1)).map(|k| h[k] * x[n - k]).sum();
            assert!((y - slow).abs() < 1e-9, "{n}: {y} not {slow}");
        }
    }
}
