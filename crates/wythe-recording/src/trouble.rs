//! What is wrong with a recording: clipping, dropouts, offsets.

use wythe_bands::{LevelDifference, Remark, Seconds};

use crate::lanes::{Scan, scan};
use crate::sound_file::Encoding;

/// One thing that is wrong, with its time.
#[derive(Clone, Debug, PartialEq)]
pub struct Trouble {
    /// Begin, s.
    pub from: Seconds,
    /// End, s.
    pub to: Seconds,
    /// What it is.
    pub what: What,
}

/// Kinds of trouble.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Runs of samples at full scale; how many.
    Clipped {
        /// Number of runs.
        runs: u64,
    },
    /// Tops cut flat below full scale: something before the converter was overloaded.
    FlatTops {
        /// Number of runs.
        runs: u64,
        /// Where the sound was cut, re full scale.
        at: LevelDifference,
    },
    /// Digital silence in the middle of sound.
    Dropout,
    /// Samples that were no numbers.
    NotANumber,
    /// The gain changed by this much.
    GainStep(LevelDifference),
    /// The gain follows the sound: ten decibels more at the source read as this many.
    AutomaticGain(LevelDifference),
    /// The gain crept up by this much after the sound had stopped.
    RecoveringGain(LevelDifference),
}

impl What {
    /// Whether the time has to be left out of levels.
    pub fn spoils_levels(&self) -> bool {
        !matches!(self, What::GainStep(_) | What::AutomaticGain(_) | What::RecoveringGain(_))
    }
}

impl std::fmt::Display for What {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            What::Clipped { runs } => write!(f, "clipped ({runs} runs at full scale)"),
            What::FlatTops { runs, at } => {
                write!(f, "flat tops at {:.1} dB re full scale ({runs})", at.0)
            }
            What::Dropout => write!(f, "dropout (digital silence)"),
            What::NotANumber => write!(f, "samples that are no numbers"),
            What::GainStep(by) => write!(f, "gain step of {:+.1} dB", by.0),
            What::AutomaticGain(of) => {
                write!(
                    f,
                    "automatic gain: ten decibels more at the source read {:.1} dB more",
                    of.0
                )
            }
            What::RecoveringGain(by) => {
                write!(
                    f,
                    "automatic gain: all bands rise by {:.1} dB after the sound stopped",
                    by.0
                )
            }
        }
    }
}

impl Trouble {
    /// The trouble as a remark about a channel (from 1).
    pub fn remark(&self, channel: usize) -> Remark {
        let code = match self.what {
            What::Clipped { .. } => "recording::clipped",
            What::FlatTops { .. } => "recording::flat-tops",
            What::Dropout => "recording::dropout",
            What::NotANumber => "recording::not-a-number",
            What::GainStep(_) => "recording::gain-step",
            What::AutomaticGain(_) | What::RecoveringGain(_) => "recording::automatic-gain",
        };
        Remark::new(code, self.what.to_string())
            .at(format!("channel {channel}, {:.2} s to {:.2} s", self.from.0, self.to.0))
    }
}

/// Troubles of one kind closer than this are one, s.
const JOIN: f64 = 0.5;
/// Silence shorter than this is no dropout, s. A missed buffer of the smallest usual size is 1.3 ms.
const SHORTEST_DROPOUT: f64 = 0.001;
/// Troubles listed for a channel; more are joined into the last of their kind.
const MOST: usize = 500;

/// Watches the samples of one channel.
pub struct Watch {
    rate: f64,
    step: f64,
    ceiling: Option<f64>,
    at: u64,
    before: f64,
    before_run: f64,
    run: u64,
    recent: f64,
    largest: f64,
    sum: f64,
    energy: f64,
    clipped: Vec<(u64, u64, u64)>,
    flat: Vec<(u64, u64, u64, f64)>,
    flat_last: Option<(u64, u64, f64)>,
    dropouts: Vec<(u64, u64)>,
    silent_since: Option<(u64, bool)>,
}

impl Watch {
    /// For a channel of a rate and coding.
    pub fn new(rate: f64, encoding: Encoding) -> Watch {
        let step = encoding.step();
        Watch {
            rate,
            step,
            ceiling: encoding.has_ceiling().then_some(1.0 - 1.5 * step),
            at: 0,
            before: 0.0,
            before_run: 0.0,
            run: 0,
            recent: 0.0,
            largest: 0.0,
            sum: 0.0,
            energy: 0.0,
            clipped: Vec::new(),
            flat: Vec::new(),
            flat_last: None,
            dropouts: Vec::new(),
            silent_since: None,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f64]) {
        let Scan { sum, energy, largest, flat } = scan(samples);
        self.sum += sum;
        self.energy += energy;
        self.largest = self.largest.max(largest);
        // What is loud around here: this block and the one before.
        let recent = self.recent.max(largest);
        self.recent = largest;
        // Everything looked for below is a run of equal samples. Most blocks hold none.
        if !flat && self.run == 1 && samples.len() > 3 && samples[0] != self.before {
            let last = samples.len() - 1;
            self.at += samples.len() as u64;
            // A run of two at the end may go on in the next block.
            self.run = if samples[last] == samples[last - 1] { 2 } else { 1 };
            self.before = samples[last];
            self.before_run = samples[last - self.run as usize];
            self.note_silence(self.at - self.run, recent);
            return;
        }
        for (n, &x) in samples.iter().enumerate() {
            if x == self.before {
                self.run += 1;
                continue;
            }
            let now = self.at + n as u64;
            if self.run >= 3 {
                self.close_run(now, x);
            }
            if self.before == 0.0 {
                // Sound came back: was it gone in the middle of something?
                if let Some((since, loud)) = self.silent_since.take() {
                    let long = (now - since) as f64 >= SHORTEST_DROPOUT * self.rate;
                    if loud && long && x.abs() > 2.0 * self.step {
                        push_joined(&mut self.dropouts, (since, now), (JOIN * self.rate) as u64);
                    }
                }
            }
            self.before_run = self.before;
            self.before = x;
            self.run = 1;
            self.note_silence(now, recent);
        }
        self.at += samples.len() as u64;
    }

    /// Keeps the begin of a silence. A dropout begins out of full sound; a faint signal passes
    /// through zero anyway.
    fn note_silence(&mut self, since: u64, recent: f64) {
        if self.before == 0.0 {
            self.silent_since = Some((since, recent > 64.0 * self.step));
        } else {
            self.silent_since = None;
        }
    }

    fn close_run(&mut self, end: u64, after: f64) {
        let value = self.before;
        let size = value.abs();
        let from = end - self.run;
        if self.ceiling.is_some_and(|c| size >= c) {
            let gap = (JOIN * self.rate) as u64;
            let full = self.clipped.len() >= MOST;
            match self.clipped.last_mut() {
                Some(last) if from <= last.1 + gap || full => {
                    last.1 = end;
                    last.2 += 1;
                }
                _ => self.clipped.push((from, end, 1)),
            }
            return;
        }
        // A flat top below full scale: five equal samples, a real step down on one side (a slow
        // sine's own top rounds off by single steps), and high up in what the channel reaches.
        let inward = |other: f64| (size - other * value.signum()) / self.step.max(1e-5 * size);
        if self.run >= 5
            && size > 0.02
            && size >= 0.7 * self.largest
            && inward(after).max(inward(self.before_run)) >= 8.0
            && inward(after).min(inward(self.before_run)) > 0.0
        {
            // Cut tops come again at the same height; one alone proves nothing.
            if let Some((f, e, v)) = self.flat_last
                && (v - size).abs() <= 2e-3 * size
                && from - e < self.rate as u64
            {
                let gap = (JOIN * self.rate) as u64;
                let full = self.flat.len() >= MOST;
                match self.flat.last_mut() {
                    Some(last) if from <= last.1 + gap || full => {
                        last.1 = end;
                        last.2 += 1;
                    }
                    _ => self.flat.push((f, end, 2, size)),
                }
            }
            self.flat_last = Some((from, end, size));
        }
    }

    /// Mean of all samples re full scale.
    pub fn offset(&self) -> f64 {
        if self.at == 0 { 0.0 } else { self.sum / self.at as f64 }
    }

    /// Root mean square of all samples re full scale.
    pub fn rms(&self) -> f64 {
        if self.at == 0 { 0.0 } else { (self.energy / self.at as f64).sqrt() }
    }

    /// Largest sample re full scale.
    pub fn largest(&self) -> f64 {
        self.largest
    }

    /// What was wrong, in order of time.
    pub fn finish(mut self) -> Vec<Trouble> {
        if self.run >= 3 {
            self.close_run(self.at, 0.0);
        }
        let time = |n: u64| Seconds(n as f64 / self.rate);
        let mut out: Vec<Trouble> = Vec::new();
        for &(a, b, runs) in &self.clipped {
            out.push(Trouble { from: time(a), to: time(b), what: What::Clipped { runs } });
        }
        for &(a, b, runs, at) in &self.flat {
            // A single pair of equal tops happens in real sound; three do not.
            if runs >= 3 {
                let at = LevelDifference(20.0 * at.log10());
                out.push(Trouble { from: time(a), to: time(b), what: What::FlatTops { runs, at } });
            }
        }
        for &(a, b) in &self.dropouts {
            out.push(Trouble { from: time(a), to: time(b), what: What::Dropout });
        }
        out.sort_by(|a, b| a.from.0.total_cmp(&b.from.0));
        out
    }
}

fn push_joined(list: &mut Vec<(u64, u64)>, new: (u64, u64), gap: u64) {
    let full = list.len() >= MOST;
    match list.last_mut() {
        Some(last) if new.0 <= last.1 + gap || full => last.1 = new.1,
        _ => list.push(new),
    }
}
