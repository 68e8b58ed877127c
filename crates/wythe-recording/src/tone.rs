//! Calibrator tones in a recording.

use wythe_bands::{Hertz, LevelDifference, Seconds};

use crate::half_band::solve;
use crate::lanes::{against, coarse};
use crate::level::RelativeLevel;

/// Length of the blocks a tone is looked for in, s.
const BLOCK: f64 = 0.25;
/// Blocks join while their level stays within this, dB.
const SAME_LEVEL: f64 = 0.1;
/// A tone shorter than this is no calibration, s.
const SHORTEST: f64 = 3.0;
/// Blocks dropped at each end of a tone, where the calibrator was put on and taken off.
const DROPPED: usize = 2;

/// Frequencies of calibrators.
const PROBED: [f64; 2] = [250.0, 1000.0];

/// A steady tone found in a channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Tone {
    /// Begin of the part used, s.
    pub from: Seconds,
    /// End of the part used, s.
    pub to: Seconds,
    /// Its frequency.
    pub frequency: Hertz,
    /// Its rms level re full scale.
    pub level: RelativeLevel,
    /// Everything that is not the tone, relative to it, dB (negative).
    pub residual: LevelDifference,
    /// Second harmonic relative to the tone, dB.
    pub second_harmonic: LevelDifference,
    /// Third harmonic relative to the tone, dB.
    pub third_harmonic: LevelDifference,
    /// Largest less smallest level of the blocks.
    pub span: LevelDifference,
    /// Whether a sample lay at full scale.
    pub clipped: bool,
}

/// Why a tone that was found is no calibration.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// More than −30 dB of other sound.
    Noisy(LevelDifference),
    /// The level moved by more than 0.2 dB.
    Unsteady(LevelDifference),
    /// More than 1 % away from 250 Hz and 1 kHz.
    Frequency(Hertz),
    /// It reached full scale.
    Clipped,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Fault::Noisy(r) => write!(f, "other sound is only {:.0} dB below the tone", -r.0),
            Fault::Unsteady(s) => write!(f, "its level moves by {:.2} dB", s.0),
            Fault::Frequency(h) => write!(f, "its frequency of {:.1} Hz is no calibrator's", h.0),
            Fault::Clipped => write!(f, "it reaches full scale"),
        }
    }
}

impl Tone {
    /// What speaks against it; empty for a usable calibration.
    ///
    /// The limits are this program's own (common practice, no source): residual −30 dB, span
    /// 0.2 dB, frequency 1 %, no clipping.
    pub fn faults(&self) -> Vec<Fault> {
        let mut out = Vec::new();
        if !(self.residual.0 <= -30.0) {
            out.push(Fault::Noisy(self.residual));
        }
        if !(self.span.0 <= 0.2) {
            out.push(Fault::Unsteady(self.span));
        }
        if !PROBED.iter().any(|f| (self.frequency.0 / f - 1.0).abs() <= 0.01) {
            out.push(Fault::Frequency(self.frequency));
        }
        if self.clipped {
            out.push(Fault::Clipped);
        }
        out
    }
}

/// One block fitted by a sine.
#[derive(Clone, Copy, Debug)]
struct Fitted {
    block: u64,
    frequency: f64,
    /// Mean square of the tone.
    power: f64,
    /// Mean square of the rest.
    rest: f64,
    harmonics: [f64; 2],
    clipped: bool,
}

/// Looks for calibrator tones in one channel, block by block.
pub struct ToneFinder {
    rate: f64,
    /// Single precision: half the memory that every channel walks through, and its 10⁻⁷ is far below
    /// what a calibrator holds.
    block: Vec<f32>,
    coarse: Vec<f64>,
    caught: Vec<[f64; 2]>,
    length: usize,
    index: u64,
    run: Vec<Fitted>,
    found: Vec<Tone>,
    /// Cosine and sine of 250 Hz and 1 kHz over one short piece.
    probes: [[Vec<f64>; 2]; 2],
    /// Samples summed before the cheap look.
    skip: usize,
}

impl ToneFinder {
    /// For a channel of a sample rate.
    pub fn new(rate: f64) -> ToneFinder {
        let skip = (rate / 8_000.0).max(1.0) as usize;
        let coarse = rate / skip as f64;
        let piece = (coarse * 0.008).round().max(8.0) as usize;
        let probe = |f: f64| {
            let wave = |phase: f64| -> Vec<f64> {
                (0..piece)
                    .map(|n| (std::f64::consts::TAU * f * n as f64 / coarse + phase).cos())
                    .collect()
            };
            [wave(0.0), wave(-std::f64::consts::FRAC_PI_2)]
        };
        let length = (rate * BLOCK).round().max(32.0) as usize;
        ToneFinder {
            rate,
            block: Vec::with_capacity(length),
            coarse: Vec::new(),
            caught: Vec::new(),
            length,
            index: 0,
            run: Vec::new(),
            found: Vec::new(),
            probes: PROBED.map(probe),
            skip,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, mut samples: &[f64]) {
        while !samples.is_empty() {
            let take = (self.length - self.block.len()).min(samples.len());
            self.block.extend(samples[..take].iter().map(|v| *v as f32));
            samples = &samples[take..];
            if self.block.len() == self.length {
                self.judge_block();
                self.block.clear();
                self.index += 1;
            }
        }
    }

    /// All tones, in order of time.
    pub fn finish(mut self) -> Vec<Tone> {
        self.close_run();
        self.found
    }

    fn judge_block(&mut self) {
        let fitted = self.fit_block();
        let continues = match (&fitted, self.run.first()) {
            (Some(new), Some(first)) => {
                (10.0 * (new.power / first.power).log10()).abs() <= SAME_LEVEL
                    && (new.frequency / first.frequency - 1.0).abs() < 0.01
            }
            _ => true,
        };
        if fitted.is_none() || !continues {
            self.close_run();
        }
        self.run.extend(fitted);
    }

    /// Cheap look at a block: the frequency of a tone that carries a good part of it.
    fn glance(&mut self) -> Option<f64> {
        let n = self.block.len() as f64;
        // Sums of a few samples are enough to see 1 kHz.
        let [sum, energy] = coarse(&self.block, self.skip, &mut self.coarse);
        let mean = sum / n;
        let power = energy / n - mean * mean;
        if !(power > 1e-14) {
            return None;
        }
        let rate = self.rate / self.skip as f64;
        let scale = (self.skip * self.skip) as f64;
        // Short pieces against both frequencies: wide enough for a tone that is off.
        let piece = self.probes[0][0].len();
        let mut start = None;
        for (which, probe) in self.probes.iter().enumerate() {
            against(&self.coarse, probe, &mut self.caught);
            let phases = &self.caught;
            let caught: f64 = phases.iter().map(|[re, im]| re * re + im * im).sum();
            let share =
                2.0 * caught / (phases.len() as f64 * (piece * piece) as f64 * scale) / power;
            if share > 0.3 {
                // Mean turn from piece to piece gives the frequency.
                let f0 = PROBED[which];
                let expected = std::f64::consts::TAU * f0 * piece as f64 / rate;
                let (mut re, mut im) = (0.0, 0.0);
                for pair in phases.windows(2) {
                    // The pieces see x = cos(ωn + φ) as phase −φ.
                    let turn =
                        pair[0][1].atan2(pair[0][0]) - pair[1][1].atan2(pair[1][0]) - expected;
                    re += turn.cos();
                    im += turn.sin();
                }
                let off = f64::atan2(im, re) * rate / (std::f64::consts::TAU * piece as f64);
                start = Some(f0 + off);
            }
        }
        start
    }

    fn fit_block(&mut self) -> Option<Fitted> {
        let mut f = self.glance()?;
        let x: Vec<f64> = self.block.iter().map(|v| f64::from(*v)).collect();
        let x = x.as_slice();
        let n = x.len() as f64;
        let mut last = None;
        for _ in 0..6 {
            let (amplitudes, step) = sine_fit(x, std::f64::consts::TAU * f / self.rate)?;
            f += step * self.rate / std::f64::consts::TAU;
            if !(f > 100.0 && f < 0.4 * self.rate) {
                return None;
            }
            last = Some(amplitudes);
            if step.abs() * n < 1e-7 {
                break;
            }
        }
        let [a, b, dc] = last?;
        let w = std::f64::consts::TAU * f / self.rate;
        let mut rest = 0.0;
        let mut largest = 0.0f64;
        for (k, v) in x.iter().enumerate() {
            let (s, c) = (w * k as f64).sin_cos();
            rest += (v - a * c - b * s - dc).powi(2);
            largest = largest.max(v.abs());
        }
        let tone = (a * a + b * b) / 2.0;
        let harmonic = |order: f64| {
            let (mut re, mut im) = (0.0, 0.0);
            for (k, v) in x.iter().enumerate() {
                let (s, c) = (order * w * k as f64).sin_cos();
                let v = v - dc - a * (w * k as f64).cos() - b * (w * k as f64).sin();
                re += v * c;
                im += v * s;
            }
            2.0 * (re * re + im * im) / (n * n)
        };
        let fitted = Fitted {
            block: self.index,
            frequency: f,
            power: tone,
            rest: rest / n,
            harmonics: [harmonic(2.0), harmonic(3.0)],
            clipped: largest >= 1.0 - 2f64.powi(-14)
                && x.iter().filter(|v| v.abs() >= largest).count() > 2,
        };
        // A tone stands 15 dB over everything else and near one of the two frequencies.
        let near = (240.0..=260.0).contains(&f) || (900.0..=1100.0).contains(&f);
        (near && fitted.rest < tone * 10f64.powf(-1.5)).then_some(fitted)
    }

    fn close_run(&mut self) {
        let run = std::mem::take(&mut self.run);
        if (run.len() as f64) * BLOCK < SHORTEST || run.len() <= 2 * DROPPED {
            return;
        }
        let used = &run[DROPPED..run.len() - DROPPED];
        let n = used.len() as f64;
        let mean = |f: &dyn Fn(&Fitted) -> f64| used.iter().map(f).sum::<f64>() / n;
        let power = mean(&|b| b.power);
        let db = |x: f64| LevelDifference(10.0 * (x / power).max(1e-30).log10());
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for b in used {
            let l = 10.0 * b.power.log10();
            low = low.min(l);
            high = high.max(l);
        }
        let Some(level) = RelativeLevel::from_energy(power) else { return };
        let (Some(first), Some(last)) = (used.first(), used.last()) else { return };
        let block = self.length as f64 / self.rate;
        self.found.push(Tone {
            from: Seconds(first.block as f64 * block),
            to: Seconds((last.block + 1) as f64 * block),
            frequency: Hertz(mean(&|b| b.frequency)),
            level,
            residual: db(mean(&|b| b.rest)),
            second_harmonic: db(mean(&|b| b.harmonics[0])),
            third_harmonic: db(mean(&|b| b.harmonics[1])),
            span: LevelDifference(high - low),
            clipped: used.iter().any(|b| b.clipped),
        });
    }
}

/// One step of a sine fit: x ≈ a cos ωn + b sin ωn + d, and the change of ω that would fit better
/// (linearised least squares, the four-parameter fit used for testing converters).
fn sine_fit(x: &[f64], w: f64) -> Option<([f64; 3], f64)> {
    let fit = |with_step: Option<(f64, f64)>| {
        let mut rows = [[0.0; 5]; 4];
        for (n, v) in x.iter().enumerate() {
            let t = n as f64;
            let (s, c) = (w * t).sin_cos();
            let slope = with_step.map_or(0.0, |(a, b)| t * (b * c - a * s));
            let basis = [c, s, 1.0, slope];
            for i in 0..4 {
                for j in 0..4 {
                    rows[i][j] += basis[i] * basis[j];
                }
                rows[i][4] += basis[i] * v;
            }
        }
        if with_step.is_none() {
            rows[3][3] = 1.0;
        }
        solve(rows)
    };
    let [a, b, _, _] = fit(None)?;
    let [a, b, d, step] = fit(Some((a, b)))?;
    Some(([a, b, d], step))
}
