//! Two recorders on one time axis.
//!
//! Two crystals differ by some ten millionths, 12 to 60 ms in ten minutes (common practice, no
//! source): enough to break coherence, not enough to matter for levels. The lag between the two is
//! found block by block and a line laid through it:
//!
//!   y(t) = x((t − τ)(1 + e)),  lag(t) = τ − e (t − τ).
//!
//! Derived here; judged by closed-form signals (`meas_27`).

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;
use wythe_bands::Seconds;

use crate::RecordingError;

/// How the second recorder lies against the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alignment {
    /// Offset τ: the second recorder shows an event of time 0 at τ of its own.
    pub offset: Seconds,
    /// Relative clock error e of the second, in millionths.
    pub ppm: f64,
    /// Scatter of the block lags about the line, samples (robust).
    pub scatter: f64,
    /// Blocks that agreed with the line.
    pub blocks: usize,
}

/// Scatter beyond which two recordings are taken for not belonging together, samples.
pub(crate) const LARGEST_SCATTER: f64 = 8.0;

/// Aligns `y` with `x`: lags of 4 s blocks with half overlap within ±`largest`, interpolated eight
/// times and by a parabola, and a robust line.
///
/// # Errors
/// Less than four blocks, or lags that do not lie on a line.
pub fn align(
    x: &[f64],
    y: &[f64],
    rate: f64,
    largest: Seconds,
) -> Result<Alignment, RecordingError> {
    if !(2_000.0..=768_000.0).contains(&rate) {
        return Err(RecordingError::Rate(rate));
    }
    let size = (4.0 * rate) as usize;
    let n = x.len().min(y.len());
    if n < size * 5 / 2 {
        return Err(RecordingError::TooShort {
            what: "aligning two recorders",
            needed: 10.0,
            present: n as f64 / rate,
        });
    }
    let reach = (largest.0.clamp(0.0, 1.5) * rate).ceil() as i64;
    let padded = (2 * size).next_power_of_two();
    const FINE: usize = 8;
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, backward) =
        (planner.plan_fft_forward(padded), planner.plan_fft_inverse(padded * FINE));
    let window: Vec<f64> = (0..size)
        .map(|k| 0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / size as f64).cos())
        .collect();
    let failed = |e: realfft::FftError| RecordingError::NotAligned(e.to_string());
    let mut lags: Vec<(f64, f64)> = Vec::new();
    let mut correlation = backward.make_output_vec();
    for from in (0..=n - size).step_by(size / 2) {
        let spectrum = |signal: &[f64]| {
            let mut line = vec![0.0; padded];
            for ((l, v), w) in line.iter_mut().zip(&signal[from..from + size]).zip(&window) {
                *l = v * w;
            }
            let mut out = forward.make_output_vec();
            forward.process(&mut line, &mut out).map(|()| out)
        };
        let (a, b) = (spectrum(x).map_err(failed)?, spectrum(y).map_err(failed)?);
        // Between samples: the same spectrum with room for eight times the rate.
        let mut cross = backward.make_input_vec();
        for ((c, a), b) in cross.iter_mut().zip(&a).zip(&b) {
            *c = a.conj() * b;
        }
        cross[0] = Complex64::new(cross[0].re, 0.0);
        backward.process(&mut cross, &mut correlation).map_err(failed)?;
        let total = correlation.len() as i64;
        let at = |lag: i64| correlation[lag.rem_euclid(total) as usize];
        let wide = reach * FINE as i64;
        let Some(best) = (-wide..=wide).max_by(|p, q| at(*p).total_cmp(&at(*q))) else { continue };
        if !(at(best) > 0.0) {
            continue;
        }
        let (l, c, r) = (at(best - 1), at(best), at(best + 1));
        let bend = l - 2.0 * c + r;
        let shift = if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        // A block shows its lag where its window and the envelope of both have their weight.
        let middle = (from as f64 + size as f64 / 2.0) / rate;
        lags.push((middle, (best as f64 + shift) / (FINE as f64 * rate)));
    }
    let (slope, at_0, scatter, blocks) = robust_line(&lags)
        .ok_or_else(|| RecordingError::NotAligned("no block shows a common sound".into()))?;
    let scatter = scatter * rate;
    if scatter > LARGEST_SCATTER || blocks * 2 < lags.len() {
        return Err(RecordingError::NotAligned(format!(
            "the lag jumps about by {scatter:.0} samples; they may not have heard the same sound"
        )));
    }
    // lag(t) = τ − e(t − τ): slope −e, value at zero τ(1 + e).
    let e = -slope;
    Ok(Alignment { offset: Seconds(at_0 / (1.0 + e)), ppm: e * 1e6, scatter, blocks })
}

/// Median of the slopes between points, then least squares over what lies near that line: slope,
/// value at zero, robust scatter, points used.
pub(crate) fn robust_line(points: &[(f64, f64)]) -> Option<(f64, f64, f64, usize)> {
    if points.len() < 4 {
        return None;
    }
    let median = |mut v: Vec<f64>| {
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    // Points half the record apart: enough of them, and not every pair of a long recording.
    let half = points.len() / 2;
    let slopes: Vec<f64> = (0..points.len() - half)
        .map(|i| {
            let (a, b) = (points[i], points[i + half]);
            (b.1 - a.1) / (b.0 - a.0)
        })
        .collect();
    let slope = median(slopes);
    let at_0 = median(points.iter().map(|p| p.1 - slope * p.0).collect());
    let off = |p: &(f64, f64)| (p.1 - slope * p.0 - at_0).abs();
    let scatter = median(points.iter().map(off).collect()) / 0.6745;
    let near: Vec<(f64, f64)> =
        points.iter().copied().filter(|p| off(p) <= 3.5 * scatter + 1e-9).collect();
    let n = near.len() as f64;
    let (mt, ml) =
        (near.iter().map(|p| p.0).sum::<f64>() / n, near.iter().map(|p| p.1).sum::<f64>() / n);
    let (mut c, mut v) = (0.0, 0.0);
    for (t, l) in &near {
        c += (t - mt) * (l - ml);
        v += (t - mt) * (t - mt);
    }
    let slope = if v > 0.0 { c / v } else { slope };
    Some((slope, ml - slope * mt, scatter, near.len()))
}

/// Brings samples of the second recorder onto the clock of the first: a windowed sinc of 64 taps.
/// Where the second has nothing, silence.
pub fn onto_first_clock(y: &[f64], rate: f64, alignment: Alignment, length: usize) -> Vec<f64> {
    const HALF: i64 = 32;
    let e = alignment.ppm * 1e-6;
    (0..length)
        .map(|n| {
            // x(u) = y(τ + u/(1 + e)).
            let position = (alignment.offset.0 + n as f64 / rate / (1.0 + e)) * rate;
            let whole = position.floor();
            let part = position - whole;
            let mut sum = 0.0;
            for k in -HALF + 1..=HALF {
                let index = whole as i64 + k;
                if index < 0 || index >= y.len() as i64 {
                    continue;
                }
                let t = k as f64 - part;
                let sinc = if t.abs() < 1e-12 {
                    1.0
                } else {
                    let p = std::f64::consts::PI * t;
                    p.sin() / p
                };
                let window = 0.5 + 0.5 * (std::f64::consts::PI * t / (HALF as f64 + 0.5)).cos();
                sum += y[index as usize] * sinc * window;
            }
            sum
        })
        .collect()
}
