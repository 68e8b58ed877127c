//! The swept sine: a test signal whose answer, folded back, is the impulse response of a room.
//!
//! Source: A. Farina 2000 (formula as in public library notes); ISO 18233:2006, Annex B (linear
//! deconvolution, from memory). Loud sweeps can hurt ears and loudspeakers: the level is the caller's,
//! and the default amplitude of [`Sweep::new`] stays 20 dB below full scale.

use realfft::RealFftPlanner;
use wythe_bands::{Hertz, Seconds};

use crate::RecordingError;

/// An exponential sweep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Begins here.
    pub from: Hertz,
    /// Ends here.
    pub to: Hertz,
    /// Lasts this long.
    pub length: Seconds,
    /// Samples per second.
    pub rate: f64,
    /// Largest sample, 0 to 1.
    pub amplitude: f64,
}

impl Sweep {
    /// A sweep 20 dB below full scale.
    ///
    /// # Errors
    /// Refuses 0 < from < to ≤ rate/2 not kept, a length outside of 0.1 to 120 s, and rates the
    /// filters do not hold.
    pub fn new(
        from: Hertz,
        to: Hertz,
        length: Seconds,
        rate: f64,
    ) -> Result<Sweep, RecordingError> {
        if !(2_000.0..=768_000.0).contains(&rate) {
            return Err(RecordingError::Rate(rate));
        }
        if !(from.0 > 0.0 && to.0 > from.0 && to.0 <= rate / 2.0) {
            return Err(RecordingError::Setting {
                what: "an upper sweep frequency",
                value: to.0,
                remedy: "it must lie above the lower one and below half the sample rate",
            });
        }
        if !(0.1..=120.0).contains(&length.0) {
            return Err(RecordingError::Setting {
                what: "a sweep length in seconds",
                value: length.0,
                remedy: "0.1 to 120 are possible",
            });
        }
        Ok(Sweep { from, to, length, rate, amplitude: 0.1 })
    }

    /// x(t) = sin[K (e^(t/L) − 1)], L = T/ln(f₂/f₁), K = 2π f₁ L, faded in and out over 20 ms.
    pub fn signal(&self) -> Vec<f64> {
        let n = (self.length.0 * self.rate) as usize;
        let l = self.length.0 / (self.to.0 / self.from.0).ln();
        let k = std::f64::consts::TAU * self.from.0 * l;
        let fade = (0.02 * self.rate).min(n as f64 / 4.0);
        (0..n)
            .map(|i| {
                let t = i as f64 / self.rate;
                let edge = (i as f64).min((n - 1 - i) as f64) / fade;
                let gain = 0.5 - 0.5 * (std::f64::consts::PI * edge.min(1.0)).cos();
                self.amplitude * gain * (k * ((t / l).exp() - 1.0)).sin()
            })
            .collect()
    }

    /// The inverse: the sweep backwards, its early (high) end lowered by 6 dB per octave, scaled so that
    /// the sweep convolved with it has the height of a unit impulse. For programs that fold by
    /// themselves; [`Sweep::response`] needs none.
    ///
    /// Source: A. Farina 2000 (as in public library notes).
    pub fn inverse(&self) -> Vec<f64> {
        let x = self.signal();
        let l = self.length.0 / (self.to.0 / self.from.0).ln();
        let mut out: Vec<f64> = x
            .iter()
            .rev()
            .enumerate()
            .map(|(i, v)| v * (-(i as f64) / self.rate / l).exp())
            .collect();
        // The value of the convolution at the end of the sweep.
        let height: f64 = x.iter().rev().zip(&out).map(|(a, b)| a * b).sum();
        if height > 0.0 {
            out.iter_mut().for_each(|v| *v /= height);
        }
        out
    }

    /// Impulse response out of a recording of the sweep: H = Y·X*/(|X|² + ε), linear, so that what
    /// distortion made lands before the direct sound, at the end of the returned signal, and is cut
    /// off there. Keeps `keep` seconds.
    ///
    /// # Errors
    /// Refuses a recording shorter than the sweep.
    pub fn response(&self, recorded: &[f64], keep: Seconds) -> Result<Vec<f64>, RecordingError> {
        let x = self.signal();
        if recorded.len() < x.len() {
            return Err(RecordingError::TooShort {
                what: "the recording of a sweep",
                needed: self.length.0,
                present: recorded.len() as f64 / self.rate,
            });
        }
        let size = (recorded.len() + x.len()).next_power_of_two();
        let mut planner = RealFftPlanner::<f64>::new();
        let (forward, backward) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
        let transform = |signal: &[f64]| {
            let mut line = vec![0.0; size];
            line[..signal.len()].copy_from_slice(signal);
            let mut out = forward.make_output_vec();
            // Lengths are those the plan was made for.
            forward.process(&mut line, &mut out).ok().map(|()| out)
        };
        let failed = || RecordingError::Damaged("the transform of the sweep failed".into());
        let (xs, mut ys) =
            (transform(&x).ok_or_else(failed)?, transform(recorded).ok_or_else(failed)?);
        // Regularised by what lies outside of the sweep's own range.
        let largest = xs.iter().map(|v| v.norm_sqr()).fold(0.0, f64::max);
        for (y, x) in ys.iter_mut().zip(&xs) {
            *y = *y * x.conj() / (x.norm_sqr() + 1e-6 * largest);
        }
        if let Some(first) = ys.first_mut() {
            first.im = 0.0;
        }
        if let Some(last) = ys.last_mut() {
            last.im = 0.0;
        }
        let mut h = backward.make_output_vec();
        backward.process(&mut ys, &mut h).map_err(|_| failed())?;
        let length =
            ((keep.0.max(0.0) * self.rate) as usize).clamp(1, size - x.len().min(size / 2));
        h.truncate(length);
        for v in &mut h {
            *v /= size as f64;
        }
        Ok(h)
    }
}
