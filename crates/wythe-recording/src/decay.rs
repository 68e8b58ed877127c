//! Decay times: how long a room keeps a sound.
//!
//! A decay is squared, noise is estimated and taken off, and the curve L(t) is the energy still to
//! come (backward integration), which for an impulse response at one position equals the mean of
//! infinitely many interrupted-noise decays. Straight lines are fitted from 0 to −10 dB (EDT), −5 to
//! −25 dB (T20) and −5 to −35 dB (T30).
//!
//! Band filters ring longer than a short low-frequency decay. Run on the time-reversed signal their
//! own tail lies before the decay, so a quarter of the bandwidth–time product is enough.
//!
//! Sources: ISO 3382-1:2009 and ISO 3382-2:2008 (definitions, limits; clauses from memory or public
//! manuals), M. R. Schroeder 1965 (backward integration), A. Lundeby et al. 1995 (knee search, method
//! from memory with constants of this project's own recipe), F. Jacobsen & J. H. Rindel 1987
//! (time-reversed filtering, from memory; the limits are confirmed by a simulation in the tests).

use wythe_bands::{Band, LevelDifference, Remark, Seconds, Spectrum};

use crate::RecordingError;
use crate::bank::Plan;
use crate::section::{Bandwidth, Cascade, band_pass};

/// A straight line through a part of a decay curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Time in which it would fall by 60 dB.
    pub time: Seconds,
    /// Coefficient of correlation r of level and time, −1 to 1.
    pub correlation: f64,
}

impl Line {
    /// Departure from a straight line, ξ = 1000 (1 − r²) ‰. Usual 0 to 5; above 10 the decay is far
    /// from straight (ISO 3382-2:2008, Annex B, as in public manuals).
    pub fn non_linearity(self) -> f64 {
        1000.0 * (1.0 - self.correlation * self.correlation)
    }
}

/// Curvature C = 100 (T30/T20 − 1) %. Usual 0 to 5 %; above 10 % or below 0 is suspicious: two rooms
/// coupled through a leak look like this. Source: ISO 3382-2:2008, Annex B (public manuals).
pub fn curvature(t20: Seconds, t30: Seconds) -> f64 {
    100.0 * (t30.0 / t20.0 - 1.0)
}

/// Decay times of one signal. What the decay does not reach down to is absent.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Decay {
    /// 0 to −10 dB.
    pub edt: Option<Line>,
    /// −5 to −25 dB.
    pub t20: Option<Line>,
    /// −5 to −35 dB.
    pub t30: Option<Line>,
    /// How far the decay can be followed before noise bends it, dB.
    pub range: Option<LevelDifference>,
    /// Where the decay meets the noise, from its start.
    pub knee: Option<Seconds>,
}

impl Decay {
    /// Curvature in per cent, where both T20 and T30 exist.
    pub fn curvature(&self) -> Option<f64> {
        Some(curvature(self.t20?.time, self.t30?.time))
    }
}

/// Decay times of squared samples without any noise handling: the reverse cumulative sum, 0 dB at
/// the first sample, least-squares lines from the first sample at or below the upper limit to the
/// first at or below the lower one.
pub fn of_noiseless(squares: &[f64], rate: f64) -> Decay {
    lines(&backward_sum(squares, 0.0), rate)
}

fn backward_sum(squares: &[f64], tail: f64) -> Vec<f64> {
    let mut sum = tail;
    let mut curve: Vec<f64> = squares
        .iter()
        .rev()
        .map(|e| {
            sum += e;
            sum
        })
        .collect();
    curve.reverse();
    curve
}

fn lines(curve: &[f64], rate: f64) -> Decay {
    let Some(&top) = curve.first() else { return Decay::default() };
    if !(top > 0.0 && top.is_finite() && rate > 0.0) {
        return Decay::default();
    }
    let level = |e: f64| 10.0 * (e / top).max(1e-40).log10();
    let line = |upper: f64, lower: f64| -> Option<Line> {
        // The curve never rises, so both ends are found by halving.
        let below = |db: f64| curve.partition_point(|e| level(*e) > db);
        let (from, to) = (below(upper), below(lower));
        if to >= curve.len() || to < from + 2 {
            return None;
        }
        let n = (to - from + 1) as f64;
        let (mut st, mut sl, mut stt, mut stl, mut sll) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (k, e) in curve[from..=to].iter().enumerate() {
            let (t, l) = (k as f64, level(*e) + 20.0);
            st += t;
            sl += l;
            stt += t * t;
            stl += t * l;
            sll += l * l;
        }
        let (vt, vl, c) = (stt - st * st / n, sll - sl * sl / n, stl - st * sl / n);
        let slope = c / vt * rate;
        (slope < 0.0).then(|| Line {
            time: Seconds(-60.0 / slope),
            correlation: if vl > 0.0 { c / (vt * vl).sqrt() } else { -1.0 },
        })
    };
    Decay {
        edt: line(0.0, -10.0),
        t20: line(-5.0, -25.0),
        t30: line(-5.0, -35.0),
        range: None,
        knee: None,
    }
}

/// Decay of squared samples that begin at or before the sound's end (or an impulse) and run on into
/// noise: start found, knee searched, noise taken off, the missing tail added.
///
/// # Errors
/// Refuses less than 50 ms.
pub fn of_squares(squares: &[f64], rate: f64) -> Result<Decay, RecordingError> {
    with_curve(squares, rate).map(|(decay, _)| decay)
}

/// The same with the curve the lines were fitted to: energy still to come, sample by sample.
fn with_curve(squares: &[f64], rate: f64) -> Result<(Decay, Vec<f64>), RecordingError> {
    let length = squares.len() as f64 / rate;
    if !(length >= 0.05) {
        return Err(RecordingError::TooShort { what: "a decay", needed: 0.05, present: length });
    }
    let start = start_of(squares, rate);
    let x = &squares[start..];
    let Some(found) = knee(x, rate) else { return Ok((Decay::default(), Vec::new())) };
    let cut = ((found.knee * rate) as usize).clamp(1, x.len());
    // The tail that noise hides: C = P_knee/α with α = 6 ln 10 / T, in samples.
    let alpha = found.slope / (10.0 / std::f64::consts::LN_10) / rate;
    let tail = found.noise_free_knee / alpha.max(1e-12);
    let clean: Vec<f64> = x[..cut].iter().map(|e| e - found.noise).collect();
    // Noise less its mean may sum to something negative close to the knee: keep the curve falling.
    let mut curve = backward_sum(&clean, tail);
    let mut least = f64::INFINITY;
    for e in &mut curve {
        least = least.min(*e);
        *e = least;
    }
    let mut decay = lines(&curve, rate);
    let range = found.peak - found.noise_level;
    decay.range = Some(LevelDifference(range));
    decay.knee = Some(Seconds(found.knee));
    // The lower limit of a fit must stay 10 dB over the noise (ISO 3382-2:2008, from memory).
    if range < 35.0 {
        decay.t20 = None;
    }
    if range < 45.0 {
        decay.t30 = None;
    }
    if range < 20.0 {
        decay.edt = None;
    }
    Ok((decay, curve))
}

/// A decay of one band to be looked at: its curve in steps of 10 ms and the lines through it.
#[derive(Clone, Debug, PartialEq)]
pub struct DecayCurve {
    /// The lines.
    pub decay: Decay,
    /// Distance of the levels.
    pub step: Seconds,
    /// Energy still to come, dB re its beginning.
    pub levels: Vec<f64>,
    /// Where the curve has fallen by 5 and by 25 dB, where it does.
    pub evaluated: Option<(Seconds, Seconds)>,
    /// The point every least-squares line through that part passes: its mean time and level.
    pub centre: Option<(Seconds, f64)>,
}

/// The curve behind what [`decays`] gives for one band; `None` where the rate or the filter's own
/// ringing does not allow it.
///
/// # Errors
/// As [`decays`].
pub fn curve(
    signal: &[f64],
    rate: f64,
    band: Band,
    excitation: Excitation,
) -> Result<Option<DecayCurve>, RecordingError> {
    let plan = Plan::new(rate, Bandwidth::AtEdges)?;
    let Some(squares) = band_squares(signal, rate, band, excitation, &plan)? else {
        return Ok(None);
    };
    let (mut decay, curve) = with_curve(&squares, rate)?;
    let width = band.upper_edge().0 - band.lower_edge().0;
    let slow = |line: Option<Line>| line.filter(|t| width * t.time.0 > 4.0);
    (decay.edt, decay.t20, decay.t30) = (slow(decay.edt), slow(decay.t20), slow(decay.t30));
    let Some(&top) = curve.first().filter(|e| **e > 0.0) else { return Ok(None) };
    let level = |e: f64| 10.0 * (e / top).max(1e-12).log10();
    let each = ((0.01 * rate) as usize).max(1);
    let reached = |db: f64| {
        let at = curve.partition_point(|e| level(*e) > db);
        (at < curve.len()).then_some(at)
    };
    let part = reached(-5.0).zip(reached(-25.0)).filter(|(from, to)| from <= to);
    let centre = part.map(|(from, to)| {
        let mean = curve[from..=to].iter().map(|e| level(*e)).sum::<f64>() / (to - from + 1) as f64;
        (Seconds((from + to) as f64 / 2.0 / rate), mean)
    });
    let time = |at: usize| Seconds(at as f64 / rate);
    Ok(Some(DecayCurve {
        decay,
        step: Seconds(each as f64 / rate),
        levels: curve.iter().step_by(each).map(|e| level(*e)).collect(),
        evaluated: part.map(|(from, to)| (time(from), time(to))),
        centre,
    }))
}

/// Squares of one band, filtered backwards in time, from where the sound ends; `None` where the
/// rate does not hold the band.
fn band_squares(
    signal: &[f64],
    rate: f64,
    band: Band,
    excitation: Excitation,
    plan: &Plan,
) -> Result<Option<Vec<f64>>, RecordingError> {
    let length = signal.len() as f64 / rate;
    if !(length >= 0.1) {
        return Err(RecordingError::TooShort { what: "a decay", needed: 0.1, present: length });
    }
    if signal.iter().any(|x| !x.is_finite()) {
        return Err(RecordingError::Damaged("a decay holds samples that are no numbers".into()));
    }
    let Some(place) = plan.place(band) else { return Ok(None) };
    let Some(sections) = band_pass(band, rate, place.order, Bandwidth::AtEdges) else {
        return Ok(None);
    };
    let width = band.upper_edge().0 - band.lower_edge().0;
    // Backwards, with silence for the ringing to end in before the decay's start.
    let pad = ((3.0 / width * rate) as usize).min(signal.len().max(rate as usize));
    let mut cascade = Cascade::new(&sections);
    let mut squares = vec![0.0; signal.len() + pad];
    for (k, slot) in squares.iter_mut().enumerate().rev() {
        let x = if k >= pad { signal[k - pad] } else { 0.0 };
        *slot = cascade.step(x).powi(2);
    }
    if excitation == Excitation::InterruptedNoise {
        // The end of the steady part: where the smoothed level last lies within 3 dB of its own
        // median over the loud part.
        let stop = stop_of(&squares[pad..], rate, width);
        squares.drain(..pad + stop);
    }
    Ok(Some(squares))
}

/// The last moment before the maximum at which the sound was still 20 dB below it (ISO 3382-1).
fn start_of(squares: &[f64], rate: f64) -> usize {
    let window = ((rate * 0.002) as usize).max(1);
    let smooth: Vec<f64> =
        squares.chunks(window).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect();
    let top = (0..smooth.len()).max_by(|a, b| smooth[*a].total_cmp(&smooth[*b])).unwrap_or(0);
    let quiet = smooth[..top].iter().rposition(|e| *e < smooth[top] / 100.0);
    quiet.map_or(0, |k| (k + 1) * window)
}

struct Knee {
    /// s from the start.
    knee: f64,
    /// Mean square of the noise.
    noise: f64,
    noise_level: f64,
    peak: f64,
    /// Fall, dB/s.
    slope: f64,
    /// Mean square of the decay's line at the knee.
    noise_free_knee: f64,
}

/// Where the decay meets the noise: blocks of 30 ms, noise from the last tenth, a line from the peak
/// to noise + 10 dB, their crossing; then repeated with blocks of which five lie in 10 dB of decay,
/// noise from 10 dB of decay behind the knee, slope from noise + 8 to noise + 25 dB, until the knee
/// stands still (0.1 ms) or six times.
fn knee(x: &[f64], rate: f64) -> Option<Knee> {
    let total = x.len() as f64 / rate;
    let mean = |from: f64, to: f64| {
        let (a, b) = ((from * rate) as usize, ((to * rate) as usize).min(x.len()));
        (b > a).then(|| x[a..b].iter().sum::<f64>() / (b - a) as f64)
    };
    let last_tenth = || mean(0.9 * total, total);
    let mut noise = last_tenth()?;
    let mut block = 0.03f64.min(total / 10.0);
    let mut found: Option<(f64, f64, f64)> = None;
    let mut peak_level = f64::NEG_INFINITY;
    for round in 0..7 {
        let size = ((block * rate) as usize).max(1);
        let points: Vec<(f64, f64)> = x
            .chunks_exact(size)
            .enumerate()
            .map(|(k, c)| {
                let t = (k as f64 + 0.5) * size as f64 / rate;
                (t, 10.0 * (c.iter().sum::<f64>() / size as f64).max(1e-300).log10())
            })
            .collect();
        let top = (0..points.len()).max_by(|a, b| points[*a].1.total_cmp(&points[*b].1))?;
        if round == 0 {
            peak_level = points[top].1;
        }
        // A noiseless end has a floor all the same.
        let floor = 10.0 * noise.max(1e-300).log10();
        let (high, low) = if round == 0 { (f64::INFINITY, 10.0) } else { (25.0, 8.0) };
        let mut used: Vec<(f64, f64)> = points[top..]
            .iter()
            .copied()
            .take_while(|(_, l)| *l > floor + low)
            .filter(|(_, l)| *l < floor + high)
            .collect();
        if used.len() < 3 {
            used = points[top..].iter().copied().take_while(|(_, l)| *l > floor + low).collect();
        }
        let (slope, at_0) = straight(&used)?;
        if slope >= -1.0 {
            break;
        }
        let knee = ((floor - at_0) / slope).clamp(0.0, total);
        let still = found.is_some_and(|(k, _, _)| (k - knee).abs() < 1e-4);
        found = Some((knee, slope, at_0));
        if still {
            break;
        }
        block = (10.0 / -slope / 5.0).clamp(2.0 / rate, total / 10.0);
        let behind = (knee + 10.0 / -slope).min(0.9 * total);
        noise = mean(behind, total).or_else(last_tenth)?;
    }
    let (knee, slope, at_0) = found?;
    Some(Knee {
        knee,
        noise,
        noise_level: 10.0 * noise.max(1e-300).log10(),
        peak: peak_level,
        slope: -slope,
        noise_free_knee: 10f64.powf((at_0 + slope * knee) / 10.0),
    })
}

/// Slope and value at zero of a least-squares line.
fn straight(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    if points.len() < 2 {
        return None;
    }
    let (mt, ml) =
        (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let (mut c, mut v) = (0.0, 0.0);
    for (t, l) in points {
        c += (t - mt) * (l - ml);
        v += (t - mt) * (t - mt);
    }
    (v > 0.0).then(|| (c / v, ml - c / v * mt))
}

/// How a decay was excited.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Excitation {
    /// An impulse (balloon, clap) or an impulse response from a sweep.
    Impulse,
    /// Steady noise switched off; the recording holds the end of it.
    InterruptedNoise,
}

/// Decay times per band of one recorded decay.
#[derive(Clone, Debug)]
pub struct BandDecays {
    /// Per band; the bands the rate holds.
    pub bands: Spectrum<DecayTimes>,
    /// What had to be said.
    pub remarks: Vec<Remark>,
}

/// Decay times of one band, s. What could not be had is absent.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct DecayTimes {
    /// Early decay.
    pub edt: Option<Seconds>,
    /// T20.
    pub t20: Option<Seconds>,
    /// T30.
    pub t30: Option<Seconds>,
    /// Curvature, %.
    pub curvature: Option<f64>,
    /// Non-linearity of the T20 line, ‰.
    pub non_linearity: Option<f64>,
    /// Decibels between the start and the noise.
    pub range: Option<LevelDifference>,
    /// Relative standard deviation of T20 from the randomness of interrupted noise; none for
    /// impulses, whose one decay stands for infinitely many.
    pub random_error: Option<f64>,
}

/// Decays of one stretch of a channel, band by band with filters run backwards in time.
///
/// A band is given where B·T > 4, the limit for time-reversed filtering.
///
/// # Errors
/// Refuses impossible rates and less than a tenth of a second.
pub fn decays(
    signal: &[f64],
    rate: f64,
    bands: impl IntoIterator<Item = Band>,
    excitation: Excitation,
) -> Result<BandDecays, RecordingError> {
    let plan = Plan::new(rate, Bandwidth::AtEdges)?;
    let mut remarks = Vec::new();
    let mut out = Spectrum::empty();
    for band in bands {
        let Some(squares) = band_squares(signal, rate, band, excitation, &plan)? else { continue };
        let width = band.upper_edge().0 - band.lower_edge().0;
        let decay = match of_squares(&squares, rate) {
            Ok(decay) => decay,
            Err(RecordingError::TooShort { .. }) => continue,
            Err(e) => return Err(e),
        };
        let product = |t: &Line| width * t.time.0;
        let too_fast = |line: Option<Line>| line.filter(|t| product(t) > 4.0);
        if let Some(t) = decay.t20.as_ref().filter(|t| product(t) <= 4.0) {
            remarks.push(
                Remark::new(
                    "recording::filter-limit",
                    format!(
                        "the decay of {:.2} s is faster than the {} Hz filter can show (B·T = {:.1})",
                        t.time.0,
                        band.nominal(),
                        product(t)
                    ),
                )
                .at(format!("{} Hz", band.nominal())),
            );
        }
        let (edt, t20, t30) = (too_fast(decay.edt), too_fast(decay.t20), too_fast(decay.t30));
        let curvature = decay.curvature().filter(|_| t20.is_some() && t30.is_some());
        out.set(
            band,
            DecayTimes {
                edt: edt.map(|l| l.time),
                t20: t20.map(|l| l.time),
                t30: t30.map(|l| l.time),
                curvature,
                non_linearity: t20.map(Line::non_linearity),
                range: decay.range,
                random_error: t20
                    .filter(|_| excitation == Excitation::InterruptedNoise)
                    .map(|l| random_error_t20(width, l.time, 1, 1)),
            },
        );
    }
    Ok(BandDecays { bands: out, remarks })
}

/// Decays in a stretch: where each begins and ends in samples, and how it was excited. Claps, balloons
/// and sweeps folded back are impulses; steady noise that stops is interrupted noise.
///
/// Levels of 10 ms: a time within 6 dB of the loudest that lasts a third of a second and more is steady;
/// its end begins a decay. Otherwise every rise to within 15 dB of the loudest out of 15 dB less is an
/// impulse. A decay lasts to the next begin, at most ten seconds (common practice, no source).
pub fn events(signal: &[f64], rate: f64) -> Vec<(usize, usize, Excitation)> {
    let size = ((0.01 * rate) as usize).max(1);
    let level: Vec<f64> = signal
        .chunks(size)
        .map(|c| c.iter().map(|v| v * v).sum::<f64>() / c.len() as f64)
        .map(|e| 10.0 * e.max(1e-30).log10())
        .collect();
    // Noise itself goes up and down: a mean over 70 ms tells what is steady.
    let smooth: Vec<f64> = (0..level.len())
        .map(|k| {
            let part = &level[k.saturating_sub(3)..(k + 4).min(level.len())];
            part.iter().sum::<f64>() / part.len() as f64
        })
        .collect();
    let top = smooth.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() || top < -290.0 {
        return Vec::new();
    }
    let mut begins: Vec<(usize, Excitation)> = Vec::new();
    let mut since: Option<usize> = None;
    for k in 0..=smooth.len() {
        let loud = k < smooth.len() && smooth[k] > top - 8.0;
        match (loud, since) {
            (true, None) => since = Some(k),
            (false, Some(from)) => {
                since = None;
                if k - from >= 33 && k < smooth.len() {
                    // The last half second of the steady part goes with it: the search for the stop
                    // needs something steady.
                    let begin = k.saturating_sub(50).max(from);
                    begins.push((begin, Excitation::InterruptedNoise));
                }
            }
            _ => {}
        }
    }
    if begins.is_empty() {
        let top = level.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut armed = true;
        let mut quiet: f64 = f64::INFINITY;
        for k in 0..level.len() {
            quiet = quiet.min(smooth[k]);
            if armed && level[k] > top - 15.0 && level[k] > quiet + 15.0 {
                begins.push((k.saturating_sub(2), Excitation::Impulse));
                armed = false;
                quiet = f64::INFINITY;
            } else if !armed && smooth[k] < top - 30.0 {
                armed = true;
            }
        }
    }
    let longest = (10.0 / 0.01) as usize;
    (0..begins.len())
        .map(|i| {
            let (from, excitation) = begins[i];
            let next = begins.get(i + 1).map_or(level.len(), |b| b.0);
            // Before the next one somebody may be getting ready; noise comes up steadily.
            let to = match excitation {
                Excitation::Impulse => next.saturating_sub(5),
                Excitation::InterruptedNoise => before_rise(&smooth, from, next, top),
            };
            let to = to.min(from + longest);
            (from * size, (to * size).min(signal.len()), excitation)
        })
        .filter(|(from, to, _)| *to > from + (0.1 * rate) as usize)
        .collect()
}

/// Where the noise comes up again after its stop.
fn before_rise(smooth: &[f64], from: usize, next: usize, top: f64) -> usize {
    let stopped = (from..next).find(|k| smooth[*k] < top - 15.0).unwrap_or(next);
    (stopped..next).find(|k| smooth[*k] > top - 12.0).map_or(next, |k| k.saturating_sub(10))
}

fn stop_of(squares: &[f64], rate: f64, width: f64) -> usize {
    let size = ((rate * (2.0 / width).max(0.02)) as usize).clamp(1, squares.len().max(1));
    let means: Vec<f64> =
        squares.chunks(size).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect();
    let top = means.iter().copied().fold(0.0, f64::max);
    let mut loud: Vec<f64> = means.iter().copied().filter(|m| *m > top / 10.0).collect();
    loud.sort_by(f64::total_cmp);
    let Some(&median) = loud.get(loud.len() / 2) else { return 0 };
    means.iter().rposition(|m| *m > median / 2.0).map_or(0, |k| k * size)
}

/// Relative standard deviation of T20 by interrupted noise with `decays` decays at each of
/// `positions` combinations: 0.88 √((1 + 1.90/n)/(N B T)).
/// Source: ISO 3382-2:2008, Clause 7 (form from memory).
pub fn random_error_t20(bandwidth: f64, t: Seconds, positions: u32, decays: u32) -> f64 {
    let (n, big_n) = (f64::from(decays.max(1)), f64::from(positions.max(1)));
    0.88 * ((1.0 + 1.90 / n) / (big_n * bandwidth * t.0)).sqrt()
}

/// Bands in which decays of one room bend, with the mean curvature in per cent: above 10 % (ISO 3382-2:2008,
/// Annex B), and by more than the chance of so many decays explains (one-sided 95 %). A single decay of
/// noise in a narrow band strays by tens of per cent without any bend of the room.
pub fn bent<'a>(
    all: impl IntoIterator<Item = &'a Spectrum<DecayTimes>> + Clone,
) -> Vec<(Band, f64)> {
    Band::all()
        .filter_map(|band| {
            let values: Vec<f64> =
                all.clone().into_iter().filter_map(|s| s.get(band)?.curvature).collect();
            let n = values.len() as f64;
            if values.is_empty() {
                return None;
            }
            let mean = values.iter().sum::<f64>() / n;
            let chance = if values.len() > 1 {
                let s2 = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
                1.645 * (s2 / n).sqrt()
            } else {
                0.0
            };
            (mean > 10.0 && mean > chance).then_some((band, mean))
        })
        .collect()
}

/// Mean of the T20 (or, where missing, T30) of several decays per band, as decay times are averaged
/// over positions: arithmetically, with the standard uncertainty of the mean where there are two or
/// more. Source: ISO 3382-2:2008, 8.1 (arithmetic mean of the decay times, from memory).
pub fn mean_over<'a>(
    all: impl IntoIterator<Item = &'a Spectrum<DecayTimes>> + Clone,
) -> Spectrum<(Seconds, Option<Seconds>)> {
    Band::all()
        .filter_map(|band| {
            let values: Vec<f64> = all
                .clone()
                .into_iter()
                .filter_map(|s| s.get(band))
                .filter_map(|d| d.t20.or(d.t30))
                .map(|t| t.0)
                .collect();
            let n = values.len() as f64;
            if values.is_empty() {
                return None;
            }
            let mean = values.iter().sum::<f64>() / n;
            let u = (values.len() > 1).then(|| {
                let s2 = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
                Seconds((s2 / n).sqrt())
            });
            Some((band, (Seconds(mean), u)))
        })
        .collect()
}
