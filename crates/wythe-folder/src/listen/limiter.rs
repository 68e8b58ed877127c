//! A limiter that looks ahead: no sample leaves it above the ceiling, and its gain never jumps.

use std::collections::VecDeque;

/// Limits interleaved frames; all channels get one gain, so that their difference stays true.
pub struct Limiter {
    channels: usize,
    window: usize,
    ceiling: f64,
    /// Frames not yet given out.
    waiting: VecDeque<f64>,
    /// Gains the last frames need, with their positions, rising: the least is in front.
    least: VecDeque<(u64, f64)>,
    /// The last least gains, whose mean is the gain.
    smooth: VecDeque<f64>,
    sum: f64,
    at: u64,
    limited: u64,
}

impl Limiter {
    /// A limiter that looks `window` frames ahead.
    pub fn new(channels: usize, window: usize, ceiling: f64) -> Limiter {
        let window = window.max(1);
        Limiter {
            channels,
            window,
            // Half a step of 24 bits must not round up through the ceiling.
            ceiling: (ceiling - 1.0 / 8_388_608.0).max(0.0),
            waiting: VecDeque::new(),
            least: VecDeque::new(),
            smooth: std::iter::repeat_n(1.0, window).collect(),
            sum: window as f64,
            at: 0,
            limited: 0,
        }
    }

    /// Takes frames in and gives out those that are ready; the last `window − 1` come with
    /// [`Limiter::rest`].
    ///
    /// The gain of a frame is the mean over a window of the least gain over a window, and all
    /// those least gains have seen the frame: so it is never above what the frame needs.
    pub fn run(&mut self, frames: &[f64]) -> Vec<f64> {
        let mut out = Vec::with_capacity(frames.len());
        for frame in frames.chunks_exact(self.channels) {
            let peak = frame.iter().fold(0.0f64, |m, x| m.max(x.abs()));
            self.waiting.extend(frame.iter().map(|x| if x.is_finite() { *x } else { 0.0 }));
            let needed = if peak > self.ceiling { self.ceiling / peak } else { 1.0 };
            self.step(if needed.is_finite() { needed } else { 0.0 }, &mut out);
        }
        out
    }

    fn step(&mut self, needed: f64, out: &mut Vec<f64>) {
        while self.least.back().is_some_and(|(_, g)| *g >= needed) {
            self.least.pop_back();
        }
        self.least.push_back((self.at, needed));
        while self.least.front().is_some_and(|(t, _)| t + self.window as u64 <= self.at) {
            self.least.pop_front();
        }
        let least = self.least.front().map_or(1.0, |(_, g)| *g);
        self.sum += least - self.smooth.pop_front().unwrap_or(1.0);
        self.smooth.push_back(least);
        self.at += 1;
        if self.at >= self.window as u64 {
            let gain = (self.sum / self.window as f64).min(1.0);
            self.limited += u64::from(gain < 1.0 - 1e-6);
            for _ in 0..self.channels {
                let x = self.waiting.pop_front().unwrap_or(0.0);
                // The running sum drifts by rounding; the ceiling holds all the same.
                out.push((x * gain).clamp(-self.ceiling, self.ceiling));
            }
        }
    }

    /// What was still waiting.
    pub fn rest(&mut self) -> Vec<f64> {
        let mut out = Vec::new();
        while !self.waiting.is_empty() {
            self.step(1.0, &mut out);
        }
        out
    }

    /// Frames that were turned down.
    pub fn limited(&self) -> u64 {
        self.limited
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sample_passes_the_ceiling_and_quiet_ones_pass_untouched() {
        let mut limiter = Limiter::new(2, 64, 0.5);
        let mut x = Vec::new();
        for n in 0..4000 {
            let loud = if (1000..1100).contains(&n) { 3.0 } else { 0.2 };
            let s = loud * (n as f64 * 0.3).sin();
            x.extend([s, 0.5 * s]);
        }
        let mut out = Vec::new();
        for part in x.chunks(128) {
            out.extend(limiter.run(part));
        }
        out.extend(limiter.rest());
        assert_eq!(out.len(), x.len());
        assert!(out.iter().all(|y| y.abs() <= 0.5));
        for n in (0..800).chain(1300..4000) {
            assert!((out[2 * n] - x[2 * n]).abs() < 1e-9, "{n}");
        }
        // Both channels keep their ratio, so a comparison stays true.
        for n in 0..4000 {
            assert!((out[2 * n + 1] - 0.5 * out[2 * n]).abs() < 1e-9, "{n}");
        }
        // The gain moves by no more than a window allows.
        assert!(limiter.limited() > 100);
    }

    #[test]
    fn what_is_no_number_becomes_silence() {
        let mut limiter = Limiter::new(1, 4, 0.5);
        let mut out = limiter.run(&[f64::NAN, f64::INFINITY, 0.1, 0.1, 0.1]);
        out.extend(limiter.rest());
        assert_eq!(out.len(), 5);
        assert!(out.iter().all(|y| y.is_finite() && y.abs() <= 0.5));
    }
}
