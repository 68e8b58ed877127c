//! Two recorders read as one: the second is brought onto the clock of the first while it is read.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;
use wythe_bands::weighting::Weighting;
use wythe_bands::{Band, Remark, Seconds};

use crate::RecordingError;
use crate::alignment::{Alignment, LARGEST_SCATTER, robust_line};
use crate::bank::Signal;
use crate::history::History;
use crate::sound_file::{Format, Samples};

/// Length of the blocks compared, s.
const BLOCK: f64 = 8.0;
/// Blocks compared over a recording, evenly spread.
const BLOCKS: usize = 60;
/// Lags looked at around the coarse one, s: the histories are steps of a tenth of a second.
const REACH: f64 = 0.25;

/// Aligns the second of two recordings of any length with the first: roughly by their level
/// histories (offsets of hours are found), then by up to sixty blocks of eight seconds and a robust
/// line through their lags. Channels count from 1. `progress` hears the share done, 0 to 1.
///
/// # Errors
/// Different sample rates, less than a minute in common, sounds that do not belong together, and a
/// clock that jumps: it is said where and by how much.
pub fn align_recordings<'a>(
    histories: [&History; 2],
    first: &mut (dyn Samples + 'a),
    second: &mut (dyn Samples + 'a),
    channels: [usize; 2],
    mut progress: impl FnMut(f64),
) -> Result<Alignment, RecordingError> {
    let rates = [first.format().rate, second.format().rate];
    if rates[0] != rates[1] {
        return Err(RecordingError::RatesDiffer { first: rates[0], second: rates[1] });
    }
    let rate = f64::from(rates[0]);
    let coarse = coarse_offset(histories)?;
    // Time of the first recording during which both run.
    let from = (-coarse).max(0.0) + REACH;
    let to = histories[0].length().0.min(histories[1].length().0 - coarse) - REACH - BLOCK;
    if to - from < 3.0 * BLOCK {
        return Err(RecordingError::TooShort {
            what: "aligning two recorders",
            needed: 5.0 * BLOCK,
            present: (to - from + BLOCK).max(0.0),
        });
    }
    let count = (((to - from) / BLOCK) as usize + 1).clamp(4, BLOCKS);
    let size = (BLOCK * rate) as usize;
    let margin = (REACH * rate) as usize;
    let begins: Vec<f64> =
        (0..count).map(|k| from + (to - from) * k as f64 / (count - 1) as f64).collect();
    let mut a = Cutter::new(first, channels[0])?;
    let mut b = Cutter::new(second, channels[1])?;
    let mut lags = Vec::new();
    let mut finder = Finder::new(size, margin);
    for (k, begin) in begins.into_iter().enumerate() {
        // Nearly all of the time goes into reading up to the block.
        progress(k as f64 / count as f64);
        let at = (begin * rate).round() as u64;
        let there = ((begin + coarse) * rate).round() as i64 - margin as i64;
        let x = a.cut(at, size)?;
        let y = b.cut(there.max(0) as u64, size + 2 * margin)?;
        if x.len() < size || y.len() < size + 2 * margin {
            break;
        }
        if let Some(lag) = finder.lag(x, y)? {
            // y[there + lag] belongs to x[at].
            let lag = there.max(0) as f64 + lag - at as f64;
            lags.push((begin + BLOCK / 2.0, lag / rate));
        }
    }
    progress(1.0);
    let (slope, at_0, scatter, blocks) = robust_line(&lags)
        .ok_or_else(|| RecordingError::NotAligned("no block shows a common sound".into()))?;
    let scatter = scatter * rate;
    if scatter > LARGEST_SCATTER || blocks * 2 < lags.len() {
        return Err(RecordingError::NotAligned(match jump(&lags, rate) {
            Some((at, by)) => format!(
                "the clock of one of them jumps by {:.1} ms at about {at:.0} s: samples were lost; \
                 cut the recording there",
                1e3 * by
            ),
            None => format!(
                "the lag jumps about by {scatter:.0} samples; they may not have heard the same sound"
            ),
        }));
    }
    // In the first's time u: v = τ + u/(1 + e), so lag(u) = τ − u e/(1 + e).
    let e = -slope / (1.0 + slope);
    Ok(Alignment { offset: Seconds(at_0), ppm: e * 1e6, scatter, blocks })
}

/// Signals whose levels are compared: what comes through a wall is mostly bass, and a weighted level is
/// that of the room's own noise.
const COMPARED: [Signal; 5] = [
    Signal::Weighted(Weighting::A),
    Signal::Band(Band::HZ_63),
    Signal::Band(Band::HZ_100),
    Signal::Band(Band::HZ_500),
    Signal::Band(Band::HZ_1000),
];

/// Seconds by which the second recording shows an event later than the first.
fn coarse_offset(histories: [&History; 2]) -> Result<f64, RecordingError> {
    let step = histories[0].row_length().0.max(histories[1].row_length().0);
    let levels = |h: &History, signal: Signal| -> Vec<f64> {
        let energy = h.energy(signal);
        let merge = (step / h.row_length().0).round().max(1.0) as usize;
        let levels: Vec<f64> = energy
            .chunks(merge)
            .map(|c| c.iter().map(|e| f64::from(*e)).sum::<f64>() / c.len() as f64)
            .map(|e| 10.0 * e.max(1e-15).log10())
            .collect();
        // What changes matters, not what stands: a running mean of five seconds is taken off.
        let half = (2.5 / step).round().max(1.0) as usize;
        let mut sums = vec![0.0];
        for l in &levels {
            sums.push(sums[sums.len() - 1] + l);
        }
        (0..levels.len())
            .map(|k| {
                let (a, b) = (k.saturating_sub(half), (k + half + 1).min(levels.len()));
                (levels[k] - (sums[b] - sums[a]) / (b - a) as f64).clamp(-10.0, 10.0)
            })
            .collect()
    };
    // Every signal counts by its own spread, so that none drowns the others.
    let mut sum: Vec<f64> = Vec::new();
    let (mut rows, mut count) = ([0usize; 2], 0.0);
    for signal in COMPARED {
        let (x, y) = (levels(histories[0], signal), levels(histories[1], signal));
        let norm = |v: &[f64]| v.iter().map(|v| v * v).sum::<f64>().sqrt();
        let whole = norm(&x) * norm(&y);
        if !(whole > 0.0) {
            continue;
        }
        rows = [x.len(), y.len()];
        let size = (x.len() + y.len()).next_power_of_two().max(64);
        let correlation = correlate(&x, &y, size, 0.0)?;
        sum.resize(size, 0.0);
        // The inverse transform is not divided by its size.
        for (s, c) in sum.iter_mut().zip(&correlation) {
            *s += c / (whole * size as f64);
        }
        count += 1.0;
    }
    let size = sum.len();
    let lag = |k: usize| if k > size / 2 { k as i64 - size as i64 } else { k as i64 };
    // Rows that both have at a lag; a match of a few seconds at an end is chance.
    let common = |k: usize| {
        let [a, b] = rows.map(|r| r as i64);
        a.min(b - lag(k)) - (-lag(k)).max(0)
    };
    let enough = (5.0 * BLOCK / step) as i64;
    let best = (0..size)
        .filter(|k| common(*k) >= enough)
        .max_by(|a, b| sum[*a].total_cmp(&sum[*b]))
        .ok_or(RecordingError::TooShort {
            what: "aligning two recorders",
            needed: 5.0 * BLOCK,
            present: rows[0].min(rows[1]) as f64 * step,
        })?;
    let rms = (sum.iter().map(|v| v * v).sum::<f64>() / size as f64).sqrt();
    if !(sum[best] > 6.0 * rms || sum[best] > 0.4 * count) {
        return Err(RecordingError::NotAligned(
            "their levels do not go up and down together".into(),
        ));
    }
    Ok(lag(best) as f64 * step)
}

/// Correlation of y against x; `white` between 0 and 1 flattens the spectrum that far.
fn correlate(x: &[f64], y: &[f64], size: usize, white: f64) -> Result<Vec<f64>, RecordingError> {
    let failed = |e: realfft::FftError| RecordingError::NotAligned(e.to_string());
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, backward) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let transform = |signal: &[f64]| {
        let mut line = vec![0.0; size];
        line[..signal.len()].copy_from_slice(signal);
        let mut out = forward.make_output_vec();
        forward.process(&mut line, &mut out).map(|()| out)
    };
    let (a, b) = (transform(x).map_err(failed)?, transform(y).map_err(failed)?);
    let mut cross: Vec<Complex64> = a
        .iter()
        .zip(&b)
        .map(|(a, b)| {
            let g = a.conj() * b;
            let size = g.norm();
            if white > 0.0 && size > 0.0 { g / size.powf(white) } else { g }
        })
        .collect();
    let last = cross.len() - 1;
    // A constant says nothing about time.
    cross[0] = Complex64::new(0.0, 0.0);
    cross[last] = Complex64::new(cross[last].re, 0.0);
    let mut out = backward.make_output_vec();
    backward.process(&mut cross, &mut out).map_err(failed)?;
    Ok(out)
}

/// Finds the lag of a block inside a longer one.
struct Finder {
    padded: usize,
    reach: usize,
}

impl Finder {
    fn new(size: usize, margin: usize) -> Finder {
        Finder { padded: (2 * size + 2 * margin).next_power_of_two(), reach: 2 * margin }
    }

    /// Index in `y` at which `x` begins, to a fraction of a sample; `None` where nothing stands out.
    fn lag(&mut self, x: &[f64], y: &[f64]) -> Result<Option<f64>, RecordingError> {
        let n = x.len() as f64;
        let x: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(k, v)| v * (0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / n).cos()))
            .collect();
        // Partly flattened: a sharp peak, without listening to noise alone.
        let c = correlate(&x, y, self.padded, 0.5)?;
        let range = 0..=self.reach;
        let Some(best) = range.max_by(|a, b| c[*a].total_cmp(&c[*b])) else { return Ok(None) };
        let rms = (c.iter().map(|v| v * v).sum::<f64>() / c.len() as f64).sqrt();
        if !(c[best] > 6.0 * rms) || best == 0 {
            return Ok(None);
        }
        let (l, m, r) = (c[best - 1], c[best], c[best + 1]);
        let bend = l - 2.0 * m + r;
        let shift = if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        Ok(Some(best as f64 + shift))
    }
}

/// Where lags fall into two level parts: the time between them and the step, s.
fn jump(lags: &[(f64, f64)], rate: f64) -> Option<(f64, f64)> {
    let median = |v: &[(f64, f64)]| {
        let mut v: Vec<f64> = v.iter().map(|p| p.1).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    let mut best: Option<(f64, usize)> = None;
    for k in 2..lags.len().saturating_sub(1) {
        let (a, b) = lags.split_at(k);
        let (ma, mb) = (median(a), median(b));
        let off = a.iter().map(|p| (p.1 - ma).abs()).sum::<f64>()
            + b.iter().map(|p| (p.1 - mb).abs()).sum::<f64>();
        if best.is_none_or(|(o, _)| off < o) {
            best = Some((off, k));
        }
    }
    let (off, k) = best?;
    let (a, b) = lags.split_at(k);
    let step = median(b) - median(a);
    // Both parts stand still to a millisecond on average, and the step is larger than that.
    (off / (lags.len() as f64) < 1e-3 && (step * rate).abs() > 8.0 && step.abs() > 2e-3)
        .then(|| ((a[k - 1].0 + b[0].0) / 2.0, step))
}

/// Cuts rising pieces out of one channel of a stream.
struct Cutter<'s, 'a> {
    samples: &'s mut (dyn Samples + 'a),
    channel: usize,
    channels: usize,
    buffer: Vec<f64>,
    held: Vec<f64>,
    /// Index of the first held sample.
    at: u64,
    piece: Vec<f64>,
}

impl<'s, 'a> Cutter<'s, 'a> {
    fn new(
        samples: &'s mut (dyn Samples + 'a),
        channel: usize,
    ) -> Result<Cutter<'s, 'a>, RecordingError> {
        let channels = samples.format().channels;
        if channel == 0 || channel > channels {
            return Err(RecordingError::NoSuchChannel { wanted: channel, present: channels });
        }
        Ok(Cutter {
            samples,
            channel: channel - 1,
            channels,
            buffer: vec![0.0; 4096 * channels],
            held: Vec::new(),
            at: 0,
            piece: Vec::new(),
        })
    }

    fn cut(&mut self, from: u64, length: usize) -> Result<&[f64], RecordingError> {
        // What lies before is not asked for again: pieces begin later and later.
        let drop = from.saturating_sub(self.at).min(self.held.len() as u64);
        self.held.drain(..drop as usize);
        self.at += drop;
        while self.at + (self.held.len() as u64) < from + length as u64 {
            let frames = self.samples.read(&mut self.buffer)?;
            if frames == 0 {
                break;
            }
            let read = &self.buffer[..frames * self.channels];
            let line = read.chunks_exact(self.channels).map(|f| f[self.channel]);
            let end = self.at + self.held.len() as u64;
            if end + frames as u64 <= from {
                self.held.clear();
                self.at = end + frames as u64;
            } else {
                self.held.extend(line);
            }
        }
        self.piece.clear();
        if self.at <= from {
            let skip = ((from - self.at) as usize).min(self.held.len());
            let end = (skip + length).min(self.held.len());
            self.piece.extend_from_slice(&self.held[skip..end]);
        }
        Ok(&self.piece)
    }
}

/// Taps to each side of the interpolation, and how finely its phases are tabled.
const HALF: usize = 32;
const PHASES: usize = 512;

/// Two recordings as one with the channels of both: those of the first, then those of the second
/// brought onto the first's clock by a windowed sinc of 64 taps. Where the second has nothing, silence.
pub struct Joined<'a> {
    first: Box<dyn Samples + 'a>,
    second: Box<dyn Samples + 'a>,
    alignment: Alignment,
    format: Format,
    table: Vec<f64>,
    buffer: Vec<f64>,
    /// Frames of the second, interleaved, and the index of the first of them.
    held: Vec<f64>,
    from: i64,
    ended: bool,
    done: u64,
}

impl<'a> Joined<'a> {
    /// Joins two freshly opened recordings.
    ///
    /// # Errors
    /// Different sample rates.
    pub fn new(
        first: Box<dyn Samples + 'a>,
        second: Box<dyn Samples + 'a>,
        alignment: Alignment,
    ) -> Result<Joined<'a>, RecordingError> {
        let (a, b) = (first.format().clone(), second.format().clone());
        if a.rate != b.rate {
            return Err(RecordingError::RatesDiffer { first: a.rate, second: b.rate });
        }
        let width = 2 * HALF;
        let mut table = vec![0.0; (PHASES + 1) * width];
        for phase in 0..=PHASES {
            let part = phase as f64 / PHASES as f64;
            for k in 0..width {
                // Tap k belongs to the sample at whole + k − 31.
                let t = k as f64 - (HALF as f64 - 1.0) - part;
                let sinc = if t.abs() < 1e-12 {
                    1.0
                } else {
                    let p = std::f64::consts::PI * t;
                    p.sin() / p
                };
                let window = 0.5 + 0.5 * (std::f64::consts::PI * t / (HALF as f64 + 0.5)).cos();
                table[phase * width + k] = sinc * window;
            }
        }
        Ok(Joined {
            format: Format { channels: a.channels + b.channels, ..a },
            first,
            second,
            alignment,
            table,
            buffer: Vec::new(),
            held: Vec::new(),
            from: 0,
            ended: false,
            done: 0,
        })
    }

    /// Time of the first recording during which the second runs as well, where its length is known.
    pub fn common(&self) -> (f64, f64) {
        let e = self.alignment.ppm * 1e-6;
        let at = |t: f64| (t - self.alignment.offset.0) * (1.0 + e);
        let end = self.second.format().duration().map_or(f64::INFINITY, |d| d.0);
        (at(0.0).max(0.0), at(end))
    }

    fn fetch(&mut self, to: i64) -> Result<(), RecordingError> {
        let channels = self.second.format().channels;
        self.buffer.resize(4096 * channels, 0.0);
        while !self.ended && self.from + ((self.held.len() / channels) as i64) < to {
            let frames = self.second.read(&mut self.buffer)?;
            self.ended = frames == 0;
            self.held.extend_from_slice(&self.buffer[..frames * channels]);
        }
        Ok(())
    }
}

impl Samples for Joined<'_> {
    fn format(&self) -> &Format {
        &self.format
    }

    fn read(&mut self, into: &mut [f64]) -> Result<usize, RecordingError> {
        let (a, b) = (self.first.format().channels, self.second.format().channels);
        let wide = a + b;
        let room = into.len() / wide;
        let mut lines = vec![0.0; room * a];
        let frames = self.first.read(&mut lines)?;
        let rate = f64::from(self.format.rate);
        let e = self.alignment.ppm * 1e-6;
        let place = |n: u64| self.alignment.offset.0 * rate + n as f64 / (1.0 + e);
        let last = place(self.done + frames as u64).ceil() as i64 + HALF as i64 + 1;
        let first = place(self.done).floor() as i64 - HALF as i64;
        let begin = self.done;
        self.fetch(last)?;
        let held = (self.held.len() / b) as i64;
        let width = 2 * HALF;
        for n in 0..frames {
            into[n * wide..n * wide + a].copy_from_slice(&lines[n * a..(n + 1) * a]);
            let out = &mut into[n * wide + a..(n + 1) * wide];
            out.fill(0.0);
            let position = self.alignment.offset.0 * rate + (begin + n as u64) as f64 / (1.0 + e);
            let whole = position.floor();
            let fine = (position - whole) * PHASES as f64;
            let phase = (fine as usize).min(PHASES - 1);
            let mix = fine - phase as f64;
            let low = &self.table[phase * width..(phase + 1) * width];
            let high = &self.table[(phase + 1) * width..(phase + 2) * width];
            let start = whole as i64 - (HALF as i64 - 1) - self.from;
            for k in 0..width {
                let index = start + k as i64;
                if index < 0 || index >= held {
                    continue;
                }
                let tap = low[k] + mix * (high[k] - low[k]);
                let frame = &self.held[index as usize * b..(index as usize + 1) * b];
                for (o, v) in out.iter_mut().zip(frame) {
                    *o += tap * v;
                }
            }
        }
        self.done += frames as u64;
        let drop = (first - self.from).clamp(0, held);
        self.held.drain(..drop as usize * b);
        self.from += drop;
        Ok(frames)
    }

    fn remarks(&self) -> &[Remark] {
        self.first.remarks()
    }
}
