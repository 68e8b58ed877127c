//! The part of a receiving level that follows the source, frame by frame.
//!
//! No phase is needed, so this works where coherence does not: with the source microphone in the
//! reverberant field, and with recorders that share no clock. Over frames i of half a second and more
//!
//!   R_i = h S_i + N,
//!
//! S_i the mean square at the source microphones run through the decay of the receiving room, R_i
//! that in the receiving room, N what is there anyway. Weighted least squares with weights
//! 1/(h S_i + N)², h and N not negative, frames far off given less weight (Huber). The decay time is
//! the one of a few that fits best. Uncertainty by a jackknife over ten interleaved parts, never below
//! half a decibel. It needs a source that goes up and down by 10 dB, and background that does not go
//! up and down with it: people clapping along are taken for the source.
//!
//! Source: common practice, no source; derived and judged here (`tests/laws/recovered.rs`).

use wythe_bands::{Band, LevelDifference, Seconds, Spectrum};

use crate::bank::Signal;
use crate::history::History;
use crate::timeline::Mask;

/// Frames are at least this long, s, and hold at least [`DEGREES`] independent values: a source level
/// that is itself uncertain makes the slope too small, by 3 % here.
const SHORTEST: f64 = 0.5;
const DEGREES: f64 = 30.0;
/// Fewest frames a fit rests on.
const FEWEST: usize = 30;
/// The source must go up and down by this much, dB.
const LEAST_RANGE: f64 = 10.0;
/// Decay times tried, s.
const DECAYS: [f64; 6] = [0.0, 0.2, 0.4, 0.8, 1.6, 3.2];
/// Standard deviations from which the following part is taken for real.
const SIGNIFICANT: f64 = 3.0;
/// Two-sided 90 % of Student's t with nine degrees, one less than there are parts.
const NINETY: f64 = 1.833;
/// Deviations above nothing from which a lower limit of the following part is stated at all.
const LIMITED: f64 = 2.5;
/// The model itself is not better than this, dB.
const MODEL: f64 = 0.5;
const PARTS: usize = 10;

/// What of a receiving level follows the source, in one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Followed {
    /// Following part over the level while the source was on, dB, 0 or below; absent where it does not
    /// stand three standard deviations above nothing.
    pub share: Option<LevelDifference>,
    /// Its standard deviation.
    pub deviation: Option<LevelDifference>,
    /// The following part is at most this (90 %).
    pub at_most: LevelDifference,
    /// The following part is at least this (90 %), where there is one.
    pub at_least: Option<LevelDifference>,
    /// Steady part: mean square re full scale squared.
    pub steady: f64,
    /// Decay time that fitted best.
    pub decay: Seconds,
    /// Frames used.
    pub frames: usize,
}

/// Fits every band of `receiver` by the mean of `sources` over `usable` time; the share is that of the
/// time in `on`. Bands that allow no fit are absent. Histories need rows of the same length.
pub fn follow(
    sources: &[&History],
    receiver: &History,
    on: &Mask,
    usable: &Mask,
) -> Spectrum<Followed> {
    let step = receiver.row_length().0;
    let rows = sources.iter().map(|s| s.rows()).min().unwrap_or(0).min(receiver.rows());
    if rows < FEWEST || sources.iter().any(|s| (s.row_length().0 - step).abs() > 1e-9) {
        return Spectrum::empty();
    }
    let inside = |mask: &Mask| -> Vec<bool> {
        (0..rows)
            .map(|row| {
                let (from, to) = receiver.row_time(row);
                mask.holds(from, to)
            })
            .collect()
    };
    let (used, on) = (inside(usable), inside(on));
    receiver
        .held()
        .iter()
        .filter(|b| sources.iter().all(|s| s.held().contains(b)))
        .filter_map(|band| Some((*band, one_band(sources, receiver, *band, &used, &on, step)?)))
        .collect()
}

fn one_band(
    sources: &[&History],
    receiver: &History,
    band: Band,
    used: &[bool],
    on: &[bool],
    step: f64,
) -> Option<Followed> {
    let signal = Signal::Band(band);
    let r = receiver.energy(signal);
    let s: Vec<f64> = (0..used.len())
        .map(|k| sources.iter().map(|h| f64::from(h.energy(signal)[k])).sum::<f64>())
        .map(|e| e / sources.len() as f64)
        .collect();
    let width = band.upper_edge().0 - band.lower_edge().0;
    let length = ((SHORTEST.max(DEGREES / width) / step).round() as usize).max(1);
    let mut best: Option<(f64, f64, Vec<[f64; 2]>, Fit)> = None;
    for decay in DECAYS {
        let points = frames(&s, r, used, length, decay, step);
        if points.len() < FEWEST {
            return None;
        }
        let Some(fit) = fit(points.iter()) else { continue };
        if best.as_ref().is_none_or(|b| fit.misfit < b.0) {
            best = Some((fit.misfit, decay, points, fit));
        }
    }
    let (_, decay, points, fit) = best?;
    let mut levels: Vec<f64> = points.iter().map(|p| 10.0 * p[0].max(1e-30).log10()).collect();
    levels.sort_by(f64::total_cmp);
    let at = |q: f64| crate::statistics::percentile(&levels, q);
    if at(0.95)? - at(0.05)? < LEAST_RANGE {
        return None;
    }
    // Each part left out in turn.
    let mut slopes = Vec::with_capacity(PARTS);
    for part in 0..PARTS {
        let kept = points.iter().enumerate().filter(|(k, _)| (k / 4) % PARTS != part).map(|p| p.1);
        slopes.push(self::fit(kept)?.free);
    }
    let n = slopes.len() as f64;
    let mean = slopes.iter().sum::<f64>() / n;
    let sd = ((n - 1.0) / n * slopes.iter().map(|h| (h - mean).powi(2)).sum::<f64>()).sqrt();
    // Ten parts can agree by luck; the scatter about the line cannot.
    let sd = sd.max(fit.deviation);
    // Over the time the source was on: what follows, and everything.
    let held = decayed(&s, decay, step);
    let (mut following, mut whole) = (0.0, 0.0);
    for k in (0..used.len()).filter(|k| used[*k] && on[*k]) {
        following += held[k];
        whole += f64::from(r[k]);
    }
    if !(following > 0.0 && whole > 0.0) {
        return None;
    }
    let db = |h: f64| LevelDifference((10.0 * (h * following / whole).max(1e-12).log10()).min(0.0));
    let there = fit.slope >= SIGNIFICANT * sd && fit.slope > 0.0;
    let relative = 10.0 / std::f64::consts::LN_10 * sd / fit.slope.max(1e-300);
    let widened = 10f64.powf(NINETY * MODEL / 10.0);
    let low = fit.slope - NINETY * sd;
    Some(Followed {
        share: there.then(|| db(fit.slope)),
        deviation: there.then(|| LevelDifference(relative.hypot(MODEL))),
        at_most: db((fit.slope + NINETY * sd) * widened),
        at_least: (low > 0.0 && fit.slope >= LIMITED * sd).then(|| db(low / widened)),
        steady: fit.steady,
        decay: Seconds(decay),
        frames: points.len(),
    })
}

/// A mean square with the decay of the receiving room: what the room still holds of the frames before,
/// excluded ones among them, for they were played all the same.
fn decayed(s: &[f64], decay: f64, step: f64) -> Vec<f64> {
    if decay <= 0.0 {
        return s.to_vec();
    }
    // Energy falls by 60 dB in the decay time; the row's own energy enters at once, on average half of
    // it has begun to decay.
    let keep = (-13.815 * step / decay).exp();
    let mut held = 0.0;
    s.iter()
        .map(|e| {
            held = keep * held + (1.0 - keep) * e;
            held
        })
        .collect()
}

/// Pairs of source and receiving mean squares over `length` rows in a row that may all be used.
fn frames(
    s: &[f64],
    r: &[f32],
    used: &[bool],
    length: usize,
    decay: f64,
    step: f64,
) -> Vec<[f64; 2]> {
    let held = decayed(s, decay, step);
    let mut out = Vec::new();
    let (mut sum, mut count) = ([0.0; 2], 0);
    for k in 0..used.len() {
        if !used[k] {
            (sum, count) = ([0.0; 2], 0);
            continue;
        }
        sum[0] += held[k];
        sum[1] += f64::from(r[k]);
        count += 1;
        if count == length {
            out.push(sum.map(|v| v / length as f64));
            (sum, count) = ([0.0; 2], 0);
        }
    }
    out
}

#[derive(Clone, Copy, Debug)]
struct Fit {
    slope: f64,
    /// The slope if it were allowed to be negative: its scatter tells what noise can do.
    free: f64,
    /// Standard deviation of it from the scatter about the line.
    deviation: f64,
    steady: f64,
    misfit: f64,
}

/// Weighted, robust straight line with a slope and an intercept that are not negative.
fn fit<'a>(points: impl Iterator<Item = &'a [f64; 2]> + Clone) -> Option<Fit> {
    let n = points.clone().count() as f64;
    let mean_s = points.clone().map(|p| p[0]).sum::<f64>() / n;
    let mean_r = points.clone().map(|p| p[1]).sum::<f64>() / n;
    if !(mean_s > 0.0 && mean_r > 0.0 && n >= 8.0) {
        return None;
    }
    // In units of the means, so that nothing is too small to square. Begin in the middle.
    let (mut h, mut steady) = (0.5, 0.5);
    let mut misfit = f64::INFINITY;
    let (mut free, mut deviation) = (0.0, 0.0);
    for _ in 0..12 {
        let mut errors: Vec<f64> = points
            .clone()
            .map(|p| {
                let expected = h * p[0] / mean_s + steady;
                ((p[1] / mean_r - expected) / expected).abs()
            })
            .collect();
        errors.sort_by(f64::total_cmp);
        let limit = 2.5 * (errors[errors.len() / 2] / 0.6745).max(1e-6);
        let (mut w0, mut ws, mut wr, mut wss, mut wsr) = (0.0, 0.0, 0.0, 0.0, 0.0);
        misfit = 0.0;
        for p in points.clone() {
            let (s, r) = (p[0] / mean_s, p[1] / mean_r);
            let expected = (h * s + steady).max(1e-9);
            let error = ((r - expected) / expected).abs();
            let trust = if error > limit { limit / error } else { 1.0 };
            misfit += error.min(limit) / n;
            let w = trust / (expected * expected);
            w0 += w;
            ws += w * s;
            wr += w * r;
            wss += w * s * s;
            wsr += w * s * r;
        }
        let determinant = w0 * wss - ws * ws;
        let (mut next_h, mut next_n) = if determinant > 1e-12 * w0 * wss {
            // Errors are relative to what is expected, so the weighted scatter is that of the errors.
            deviation = limit / 2.5 * (w0 / determinant).sqrt();
            ((w0 * wsr - ws * wr) / determinant, (wss * wr - ws * wsr) / determinant)
        } else {
            (0.0, wr / w0)
        };
        free = next_h;
        if next_n < 0.0 {
            (next_h, next_n) = (wsr / wss, 0.0);
        } else if next_h < 0.0 {
            (next_h, next_n) = (0.0, wr / w0);
        }
        let still = (next_h - h).abs() + (next_n - steady).abs() < 1e-9;
        // A steady part of exactly nothing would make a silent frame infinitely weighty.
        (h, steady) = (next_h.max(0.0), next_n.max(1e-6));
        if still {
            break;
        }
    }
    let unit = mean_r / mean_s;
    Some(Fit {
        slope: h * unit,
        free: free * unit,
        deviation: deviation * unit,
        steady: steady * mean_r,
        misfit,
    })
}
