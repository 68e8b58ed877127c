//! The part of a receiving signal that comes from the source, pulled out of the noise.
//!
//! Source and receiver recorded together: what is coherent with the source came from it, everything
//! else did not. Welch's method with a Hann window and half overlap:
//!
//!   H₁ = G_xy/G_xx,  γ² = |G_xy|²/(G_xx G_yy),  coherent output power COP = γ² G_yy,
//!   D = 10 lg(Σ_band G_xx / Σ_band COP).
//!
//! COP of nothing is not nothing: each bin keeps 1/n_d of the noise. This is taken off, negative bins
//! kept, and only the band sum is judged: COP_bc = Σ (γ² − (1 − γ²)/(n_d − 1)) G_yy.
//!
//! It needs: the delay taken out (see [`find_delay`]), one clock, a reference close to the source, and
//! segments about as long as the reverberation, for what arrives after the segment counts as noise and
//! makes D too large. Rattles and buzzing are not coherent and are not seen.
//!
//! Sources: P. D. Welch 1967; G. C. Carter, C. H. Knapp, A. H. Nuttall 1973 and J. S. Bendat & A. G.
//! Piersol for the statistics (forms from memory, confirmed by Monte Carlo in `meas_23`). The variance
//! of a band sum is derived here: neighbouring Hann bins are correlated by 2/3 in amplitude, which
//! multiplies the noise's own variance by 1 + 2(4/9)² = 1.40 and the mixed term by 1 + 2·4/9 = 1.89.

use std::sync::Arc;

use realfft::num_complex::Complex64;
use realfft::{RealFftPlanner, RealToComplex};
use wythe_bands::{Band, LevelDifference, Seconds, Spectrum};

use crate::RecordingError;
use crate::sound_file::Samples;
use crate::timeline::Mask;

/// Correlation of the power estimates of two Hann segments that overlap by half.
const OVERLAP_CORRELATION: f64 = 1.0 / 36.0;

/// Independent averages that `segments` half-overlapping Hann segments are worth.
///
/// n_d = n/(1 + 2 ρ (n − 1)/n), ρ = 1/36.
pub fn effective_averages(segments: u64) -> f64 {
    let n = segments as f64;
    if segments == 0 { 0.0 } else { n / (1.0 + 2.0 * OVERLAP_CORRELATION * (n - 1.0) / n) }
}

/// Mean of the estimate of γ² from `nd` averages: 1/n_d at γ² = 0, else
/// γ² + (1 − γ²)² (1 + 2γ²/n_d)/n_d.
pub fn mean_of_estimate(g2: f64, nd: f64) -> f64 {
    if g2 == 0.0 { 1.0 / nd } else { g2 + (1.0 - g2).powi(2) * (1.0 + 2.0 * g2 / nd) / nd }
}

/// Standard deviation of the estimate: √((n_d − 1)/(n_d²(n_d + 1))) at γ² = 0, else √(2γ²/n_d)(1 − γ²).
/// Where n_d γ² < 3 the second form is poor; the larger of the two is right there.
pub fn deviation_of_estimate(g2: f64, nd: f64) -> f64 {
    if g2 == 0.0 {
        ((nd - 1.0) / (nd * nd * (nd + 1.0))).sqrt()
    } else {
        (2.0 * g2 / nd).sqrt() * (1.0 - g2)
    }
}

/// Estimate of γ² that zero coherence exceeds with probability `p`: 1 − p^(1/(n_d − 1)).
pub fn zero_threshold(p: f64, nd: f64) -> f64 {
    1.0 - p.powf(1.0 / (nd - 1.0))
}

/// Averaged spectra of one pair, fed with samples that belong together.
pub struct CrossSpectrum {
    rate: f64,
    window: Vec<f64>,
    forward: Arc<dyn RealToComplex<f64>>,
    x: Vec<f64>,
    y: Vec<f64>,
    line: Vec<f64>,
    scratch: Vec<Complex64>,
    spectra: [Vec<Complex64>; 2],
    gxx: Vec<f64>,
    gyy: Vec<f64>,
    gxy: Vec<Complex64>,
    segments: u64,
}

impl CrossSpectrum {
    /// For segments of `size` samples, an even number of at least 16.
    ///
    /// # Errors
    /// Refuses impossible sizes and rates.
    pub fn new(rate: f64, size: usize) -> Result<CrossSpectrum, RecordingError> {
        if !(2_000.0..=768_000.0).contains(&rate) {
            return Err(RecordingError::Rate(rate));
        }
        if !size.is_multiple_of(2) || !(16..=1 << 24).contains(&size) {
            return Err(RecordingError::Setting {
                what: "a segment length in samples",
                value: size as f64,
                remedy: "an even number from 16 to 16 777 216 is possible",
            });
        }
        let forward = RealFftPlanner::<f64>::new().plan_fft_forward(size);
        let bins = size / 2 + 1;
        let zero = Complex64::new(0.0, 0.0);
        Ok(CrossSpectrum {
            rate,
            window: (0..size)
                .map(|n| 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / size as f64).cos())
                .collect(),
            line: vec![0.0; size],
            scratch: forward.make_scratch_vec(),
            forward,
            x: Vec::with_capacity(2 * size),
            y: Vec::with_capacity(2 * size),
            spectra: [vec![zero; bins], vec![zero; bins]],
            gxx: vec![0.0; bins],
            gyy: vec![0.0; bins],
            gxy: vec![zero; bins],
            segments: 0,
        })
    }

    /// Takes samples of source `x` and receiver `y` that belong together; as many of each.
    pub fn push(&mut self, x: &[f64], y: &[f64]) {
        let n = x.len().min(y.len());
        self.x.extend_from_slice(&x[..n]);
        self.y.extend_from_slice(&y[..n]);
        let size = self.window.len();
        let mut at = 0;
        while self.x.len() - at >= size {
            for (source, which) in [(&self.x, 0), (&self.y, 1)] {
                for ((l, v), w) in
                    self.line.iter_mut().zip(&source[at..at + size]).zip(&self.window)
                {
                    *l = v * w;
                }
                // The lengths are those the plan was made for, so this cannot fail.
                let done = self.forward.process_with_scratch(
                    &mut self.line,
                    &mut self.spectra[which],
                    &mut self.scratch,
                );
                debug_assert!(done.is_ok());
            }
            let [xs, ys] = &self.spectra;
            for k in 0..xs.len() {
                self.gxx[k] += xs[k].norm_sqr();
                self.gyy[k] += ys[k].norm_sqr();
                self.gxy[k] += xs[k].conj() * ys[k];
            }
            self.segments += 1;
            at += size / 2;
        }
        self.x.drain(..at);
        self.y.drain(..at);
    }

    /// What comes next does not continue what came before.
    pub fn interrupt(&mut self) {
        self.x.clear();
        self.y.clear();
    }

    /// Segments averaged so far.
    pub fn segments(&self) -> u64 {
        self.segments
    }

    /// The coherent part per band. Empty where fewer than eight averages were made.
    pub fn coherent(&self) -> Spectrum<Coherent> {
        let nd = effective_averages(self.segments);
        if self.segments < 8 {
            return Spectrum::empty();
        }
        let size = self.window.len() as f64;
        let step = self.rate / size;
        // Density: 2/(rate · Σw² · segments); Σw² = 3/8 of the size for a periodic Hann.
        let scale = 2.0 / (self.rate * 0.375 * size * self.segments as f64) * step;
        Band::all()
            .filter(|b| b.upper_edge().0 < self.rate / 2.0)
            .filter_map(|band| {
                let (from, to) = (band.lower_edge().0 / step, band.upper_edge().0 / step);
                let mut s = Sums::default();
                let first = (from - 0.5).floor().max(1.0) as usize;
                let last = ((to + 0.5).ceil() as usize).min(self.gxx.len() - 2);
                for k in first..=last {
                    let share = (to.min(k as f64 + 0.5) - from.max(k as f64 - 0.5)).max(0.0);
                    if share == 0.0 {
                        continue;
                    }
                    let (xx, yy) = (self.gxx[k] * scale, self.gyy[k] * scale);
                    let raw = if xx > 0.0 { (self.gxy[k] * scale).norm_sqr() / xx } else { 0.0 };
                    let noise = ((yy - raw) * nd / (nd - 1.0)).max(0.0);
                    let clean = raw - (yy - raw) / (nd - 1.0);
                    s.bins += share;
                    s.xx += share * xx;
                    s.yy += share * yy;
                    s.raw += share * raw;
                    s.clean += share * clean;
                    s.mixed += share * share * 2.0 * clean.max(0.0) * noise / nd;
                    s.own += share * share * (noise / nd).powi(2);
                }
                // A band narrower than three bins cannot be judged.
                (s.bins >= 3.0 && s.xx > 0.0 && s.yy > 0.0).then(|| (band, s.judge(nd)))
            })
            .collect()
    }
}

#[derive(Default)]
struct Sums {
    bins: f64,
    xx: f64,
    yy: f64,
    raw: f64,
    clean: f64,
    mixed: f64,
    own: f64,
}

/// Correlation of neighbouring Hann bins squared once and twice, see the top of this file.
const MIXED_SPREAD: f64 = 1.0 + 2.0 * 4.0 / 9.0;
const OWN_SPREAD: f64 = 1.0 + 2.0 * 16.0 / 81.0;
/// Standard deviations above zero from which a coherent part is taken for real: one false alarm in
/// seven hundred bands.
const SIGNIFICANT: f64 = 3.0;

impl Sums {
    fn judge(&self, nd: f64) -> Coherent {
        let sd = (MIXED_SPREAD * self.mixed + OWN_SPREAD * self.own).sqrt();
        // Without any coherent part only the noise's own scatter remains: this is what can be seen.
        let floor = OWN_SPREAD.sqrt() * self.own.sqrt();
        let db = |ratio: f64| LevelDifference(10.0 * ratio.log10());
        let difference = |power: f64| db(self.xx / power);
        let (low, high) = (self.clean - 1.645 * sd, self.clean + 1.645 * sd);
        Coherent {
            averages: nd,
            source: 10.0 * self.xx.log10(),
            receiver: 10.0 * self.yy.log10(),
            level_difference: difference(self.yy),
            raw_difference: difference(self.raw.max(1e-300)),
            difference: (self.clean >= SIGNIFICANT * sd).then(|| difference(self.clean)),
            deviation: (self.clean > 0.0)
                .then(|| LevelDifference(10.0 / std::f64::consts::LN_10 * sd / self.clean)),
            at_least: difference(high.max(floor)),
            at_most: (low > 0.0).then(|| difference(low)),
            limit: difference(SIGNIFICANT * floor.max(1e-300)),
            coherence: self.raw / self.yy,
        }
    }
}

/// What one band of one pair came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coherent {
    /// Effective number of averages n_d.
    pub averages: f64,
    /// Mean square of the source in the band, dB re the square of the input's unit.
    pub source: f64,
    /// Mean square of the receiver in the band, dB re the square of the input's unit.
    pub receiver: f64,
    /// Source less receiver as heard, noise included.
    pub level_difference: LevelDifference,
    /// Source less coherent power before the bias is taken off.
    pub raw_difference: LevelDifference,
    /// Source less coherent power: the transmitted part. Absent where it does not stand three
    /// standard deviations above nothing.
    pub difference: Option<LevelDifference>,
    /// Standard deviation of `difference`.
    pub deviation: Option<LevelDifference>,
    /// Lower end of the 90 % interval: the difference is at least this.
    pub at_least: LevelDifference,
    /// Upper end of the 90 % interval, where there is one.
    pub at_most: Option<LevelDifference>,
    /// Largest difference that could have been seen.
    pub limit: LevelDifference,
    /// Mean estimated coherence, power-weighted, bias included.
    pub coherence: f64,
}

/// Delay of a receiver behind its source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// Samples, to a fraction; positive when the receiver hears later.
    pub samples: f64,
    /// Height of the correlation peak over the root mean square of the correlation; below about
    /// 6 it may be chance.
    pub clarity: f64,
}

/// Pairs of segments at a delay, cut out of a recording where a mask allows.
pub(crate) fn each_block(
    samples: &mut (dyn Samples + '_),
    channels: &[usize],
    mask: &Mask,
    size: usize,
    mut take: impl FnMut(&[Vec<f64>], bool),
) -> Result<(), RecordingError> {
    let format = samples.format().clone();
    if let Some(&wanted) = channels.iter().find(|c| **c == 0 || **c > format.channels) {
        return Err(RecordingError::NoSuchChannel { wanted, present: format.channels });
    }
    let rate = f64::from(format.rate);
    let block = (rate * 0.05) as usize;
    let mut buffer = vec![0.0; block.max(1) * format.channels];
    let mut lines: Vec<Vec<f64>> = vec![Vec::new(); channels.len()];
    let mut at = 0u64;
    loop {
        let frames = samples.read(&mut buffer)?;
        let (from, to) = (at as f64 / rate, (at + frames as u64) as f64 / rate);
        at += frames as u64;
        let usable = frames > 0 && mask.holds(from, to);
        if usable {
            for (line, channel) in lines.iter_mut().zip(channels) {
                let read = &buffer[..frames * format.channels];
                line.extend(read.chunks_exact(format.channels).map(|f| f[channel - 1]));
            }
        }
        let full = lines.first().is_some_and(|l| l.len() >= 2 * size);
        if full || !usable {
            if lines.first().is_some_and(|l| !l.is_empty()) {
                take(&lines, !usable);
            }
            lines.iter_mut().for_each(Vec::clear);
        }
        if frames == 0 {
            return Ok(());
        }
    }
}

/// Finds how much later a receiver hears than the source, up to `largest` seconds, by the whitened
/// cross-spectrum averaged over the whole recording (through a wall a single block shows no peak).
/// Channels count from 1.
///
/// # Errors
/// A channel that does not exist, less sound than four segments, bytes that cannot be read.
pub fn find_delay(
    samples: &mut (dyn Samples + '_),
    reference: usize,
    receiver: usize,
    mask: &Mask,
    largest: Seconds,
) -> Result<Delay, RecordingError> {
    let rate = f64::from(samples.format().rate);
    let reach = largest.0.clamp(0.001, 10.0) * rate;
    // The shift must stay small against the segment, or most of it is lost.
    let size = ((8.0 * reach) as usize).next_power_of_two().clamp(4096, 1 << 21);
    let mut spectrum = CrossSpectrum::new(rate, size)?;
    each_block(samples, &[reference, receiver], mask, size, |lines, ends| {
        spectrum.push(&lines[0], &lines[1]);
        if ends {
            spectrum.interrupt();
        }
    })?;
    spectrum.delay(reach)
}

impl CrossSpectrum {
    /// Delay of y behind x within ±`reach` samples, from the averaged cross-spectrum.
    ///
    /// # Errors
    /// Fewer than four segments.
    pub fn delay(&self, reach: f64) -> Result<Delay, RecordingError> {
        let size = self.window.len();
        if self.segments < 4 {
            return Err(RecordingError::TooShort {
                what: "finding a delay",
                needed: 2.5 * size as f64 / self.rate,
                present: (self.segments + 1) as f64 / 2.0 * size as f64 / self.rate,
            });
        }
        let nd = effective_averages(self.segments);
        peak_of(&self.gxx, &self.gyy, &self.gxy, nd, size, reach)
    }
}

/// The delay that averaged spectra show: the phase of the cross-spectrum, weighted by γ²/(1 − γ²).
pub(crate) fn peak_of(
    gxx: &[f64],
    gyy: &[f64],
    gxy: &[Complex64],
    nd: f64,
    size: usize,
    reach: f64,
) -> Result<Delay, RecordingError> {
    let threshold = zero_threshold(0.05, nd.max(2.0));
    let mut cross: Vec<Complex64> = (0..gxy.len())
        .map(|k| {
            let g2 = gxy[k].norm_sqr() / (gxx[k] * gyy[k]).max(1e-300);
            // Maximum-likelihood weight on the phase, only where there is coherence.
            if g2 < threshold || gxy[k].norm() == 0.0 {
                Complex64::new(0.0, 0.0)
            } else {
                gxy[k] / gxy[k].norm() * (g2 / (1.0 - g2).max(1e-6)).min(100.0)
            }
        })
        .collect();
    let bins = cross.len();
    cross[0] = Complex64::new(0.0, 0.0);
    cross[bins - 1] = Complex64::new(0.0, 0.0);
    let mut correlation = vec![0.0; size];
    RealFftPlanner::<f64>::new()
        .plan_fft_inverse(size)
        .process(&mut cross, &mut correlation)
        .map_err(|e| RecordingError::NotAligned(e.to_string()))?;
    Ok(peak(&correlation, reach))
}

/// Highest point of a circular correlation within ± `reach`, between samples by a parabola.
fn peak(correlation: &[f64], reach: f64) -> Delay {
    let size = correlation.len() as i64;
    let at = |lag: i64| correlation[lag.rem_euclid(size) as usize];
    let reach = (reach.ceil() as i64).clamp(1, size / 2 - 2);
    let best = (-reach..=reach).max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap_or(0);
    let (l, c, r) = (at(best - 1), at(best), at(best + 1));
    let bend = l - 2.0 * c + r;
    let shift = if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    let rms = (correlation.iter().map(|v| v * v).sum::<f64>() / size as f64).sqrt();
    Delay { samples: best as f64 + shift, clarity: if rms > 0.0 { c / rms } else { 0.0 } }
}

/// The coherent part of one receiver per band, the delay taken out to the nearest sample. `segment`
/// should be about the longest decay time of the two rooms. Channels count from 1.
///
/// # Errors
/// A channel that does not exist, impossible settings, bytes that cannot be read.
pub fn coherent_difference(
    samples: &mut (dyn Samples + '_),
    reference: usize,
    receiver: usize,
    delay: Delay,
    mask: &Mask,
    segment: Seconds,
) -> Result<Spectrum<Coherent>, RecordingError> {
    let rate = f64::from(samples.format().rate);
    if !(0.01..=60.0).contains(&segment.0) {
        return Err(RecordingError::Setting {
            what: "a segment length in seconds",
            value: segment.0,
            remedy: "0.01 to 60 are possible",
        });
    }
    let size = ((segment.0 * rate) as usize).next_power_of_two();
    let shift = delay.samples.round() as i64;
    let mut spectrum = CrossSpectrum::new(rate, size)?;
    // What is left of a stretch where one of the two signals was cut to bring them together.
    let mut rest: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
    let mut fresh = true;
    each_block(samples, &[reference, receiver], mask, size, |lines, ends| {
        let [x, y] = &mut rest;
        x.extend_from_slice(&lines[0]);
        y.extend_from_slice(&lines[1]);
        if fresh {
            // The late one loses its beginning.
            let late = if shift >= 0 { &mut *y } else { &mut *x };
            let cut = shift.unsigned_abs() as usize;
            if late.len() >= cut {
                late.drain(..cut);
                fresh = false;
            }
        }
        if !fresh {
            let n = x.len().min(y.len());
            spectrum.push(&x[..n], &y[..n]);
            x.drain(..n);
            y.drain(..n);
        }
        if ends {
            spectrum.interrupt();
            x.clear();
            y.clear();
            fresh = true;
        }
    })?;
    Ok(spectrum.coherent())
}
