//! Mains hum in a background.
//!
//! Lines at 50 or 60 Hz and their multiples that stand 10 dB and more above what lies beside them.
//! Thresholds are this program's own (common practice, no source).

use realfft::RealFftPlanner;
use wythe_bands::{Band, Hertz, LevelDifference, Spectrum};

/// Multiples looked at.
const MULTIPLES: usize = 8;
/// A line stands this far above its neighbourhood, as a ratio of powers of one bin.
const STANDS_OUT: f64 = 10.0;
/// A mains frequency keeps within this share of its nominal value.
const STEADY: f64 = 0.003;

/// Hum that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Hum {
    /// 50 or 60 Hz.
    pub mains: Hertz,
    /// Multiples that stand out, from 1.
    pub multiples: Vec<usize>,
    /// How much the lines raise each band, dB; bands raised by less than half a decibel are absent.
    pub raises: Spectrum<LevelDifference>,
}

/// Looks for hum in a stretch without a source; `None` where there is none or the stretch is shorter
/// than six seconds.
pub fn mains_hum(signal: &[f64], rate: f64) -> Option<Hum> {
    if !(2_000.0..=768_000.0).contains(&rate) {
        return None;
    }
    // Bins of a third of a hertz and finer tell 50 from 60 and a line from a rumble.
    let size = ((3.0 * rate) as usize).next_power_of_two() / 2;
    if signal.len() < 2 * size {
        return None;
    }
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut power = vec![0.0; size / 2 + 1];
    let mut spectrum = forward.make_output_vec();
    let mut line = forward.make_input_vec();
    let mut segments = 0.0;
    for piece in signal.windows(size).step_by(size / 2) {
        for (n, (l, v)) in line.iter_mut().zip(piece).enumerate() {
            *l = v * (0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / size as f64).cos());
        }
        forward.process(&mut line, &mut spectrum).ok()?;
        for (p, s) in power.iter_mut().zip(&spectrum) {
            *p += s.norm_sqr();
        }
        segments += 1.0;
    }
    if segments < 3.0 {
        return None;
    }
    let step = rate / size as f64;
    [50.0, 60.0]
        .into_iter()
        .filter_map(|mains| lines(&power, step, mains))
        .max_by(|a, b| a.multiples.len().cmp(&b.multiples.len()))
}

fn lines(power: &[f64], step: f64, mains: f64) -> Option<Hum> {
    let mut multiples = Vec::new();
    let mut extra = vec![0.0; power.len()];
    for k in 1..=MULTIPLES {
        let f = mains * k as f64;
        let slack = (STEADY * f).max(step);
        let (from, to) = (((f - slack) / step) as usize, ((f + slack) / step).ceil() as usize);
        let wide = (mains / 4.0 / step) as usize;
        if from <= wide || to + wide >= power.len() {
            break;
        }
        let Some(top) = (from..=to).max_by(|a, b| power[*a].total_cmp(&power[*b])) else {
            continue;
        };
        // What lies beside the line; a window spreads it over three bins.
        let mut beside: Vec<f64> = power[top - wide..top - 3]
            .iter()
            .chain(&power[top + 4..=top + wide])
            .copied()
            .collect();
        beside.sort_by(f64::total_cmp);
        let middle = beside.get(beside.len() / 2).copied().unwrap_or(0.0);
        if middle > 0.0 && power[top] > STANDS_OUT * middle {
            multiples.push(k);
            for bin in top - 2..=top + 2 {
                extra[bin] = (power[bin] - middle).max(0.0);
            }
        }
    }
    // One line is a machine; three with the first or second among them are the mains.
    if multiples.len() < 3 || !multiples.iter().any(|k| *k <= 2) {
        return None;
    }
    let raises = Band::all()
        .filter_map(|band| {
            let from = (band.lower_edge().0 / step).round() as usize;
            let to = ((band.upper_edge().0 / step).round() as usize).min(power.len());
            if to <= from + 2 {
                return None;
            }
            let whole: f64 = power[from..to].iter().sum();
            let lines: f64 = extra[from..to].iter().sum();
            let raise = 10.0 * (whole / (whole - lines).max(1e-3 * whole)).log10();
            (raise >= 0.5).then_some((band, LevelDifference(raise)))
        })
        .collect();
    Some(Hum { mains: Hertz(mains), multiples, raises })
}
