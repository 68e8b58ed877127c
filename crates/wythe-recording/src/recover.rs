//! What came through, pulled out of the noise of several receiving channels at once, from one or
//! several microphones near the source.
//!
//! Per frequency the receiving spectrum is explained by the source spectra together,
//!
//!   COP = G_xyᴴ G_xx⁻¹ G_xy,  noise = (G_yy − COP) n_d/(n_d − q),  COP_bc = COP − q noise/n_d,
//!
//! with q source microphones (one: the ordinary coherent output of [`crate::coherence`]). A source
//! microphone that the ones before it explain to 95 % and more is left out at that frequency.
//!
//! Four things are added to the statistics of `coherence`:
//! - q noise/n_d is right for steady sound only. Strokes that fall into two overlapping segments, or into
//!   few of them, moved it by −2 to +30 % in published drum samples, which is 1 dB and more of a coherent
//!   part 25 dB under the noise. It is therefore taken from the recording itself: the cross spectra of ten
//!   parts, less what the whole explains of them, e_p = G_xy,p − G_xx,p h, are noise, and the bias is
//!   Σ e_pᴴ G_xx⁻¹ e_p · q/(q − Σ tr(G_xx⁻¹ G_xx,p)²), the cluster-robust form of regression, as in any
//!   textbook of statistics; the factor puts back what each part explained of its own noise;
//! - the standard deviation is the larger of the formula for steady noise and of a jackknife over ten
//!   interleaved parts of the recording, because music is not steady;
//! - everything is done with half the segment as well. What arrives after a segment's end counts as
//!   noise, so a difference that still shrinks by more than half a decibel when the segment doubles is no
//!   value, only an upper limit: a microphone in the reverberant field of the source room does this. A
//!   smaller movement is put back by two thirds: as much is missing of a long tail, a third of a short one;
//! - two limits belong to every band: the difference is at least and at most so much. They are those
//!   coherent parts from whose own scatter the found one lies just 1.645 (by the parts: Student's 1.833)
//!   standard deviations away, and the upper one holds the doubt of what was put back.
//!
//! Sources: J. S. Bendat and A. G. Piersol (multiple and partial coherence, from memory); jackknife as
//! in any textbook; limits and thresholds are this program's own, judged by made signals in
//! `tests/laws/recovered.rs`.

use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::{Complex32, Complex64};
use realfft::{RealFftPlanner, RealToComplex};
use wythe_bands::{BAND_COUNT, Band, LevelDifference, Seconds, Spectrum};

use crate::RecordingError;
use crate::coherence::{Delay, each_block, peak_of};
use crate::sound_file::Samples;
use crate::timeline::Mask;

/// Parts of the jackknife and of the bias; each is about a tenth of the segments, taken in turns.
const PARTS: usize = 10;
/// Segments in a row that belong to one part, so that overlapping neighbours mostly share a part: two
/// turns each if the recording is as long as expected, within these limits.
const TURN: (u64, u64) = (6, 24);
/// Segments begin a third of their length apart: the squares of the windows then add up to the same at
/// every moment. At a half they do not, and a few strokes weigh up to twice as much or as little as the
/// steady noise beside them, which put all bands of an outburst 0.3 dB off together.
const OVERLAP: usize = 3;
/// Room for the spectra of all parts, bytes; what needs more is read several times.
const SPECTRA: usize = 48_000_000;
/// Blocks are handed over by a quarter of a segment: whole ones of many channels are the larger part of
/// the memory.
const HANDED: usize = 8;
/// A source microphone whose own remainder is below this share is explained by the others.
const EXPLAINED: f64 = 0.01;
/// Most source microphones that are taken together.
pub const MOST_REFERENCES: usize = 8;
/// Share of the source in single parts beyond which the parts cannot tell the bias.
const MOST_OF_IT: f64 = 0.7;
/// Movement with the segment length beyond which a difference is no value, dB.
const UNSETTLED: f64 = 0.5;
/// A band this sure can tell by itself whether it moved, dB.
const CLEAR: f64 = 0.5;
/// Standard deviations from which a coherent part is taken for real.
const SIGNIFICANT: f64 = 3.0;
/// Two-sided 90 % of the normal distribution.
const NINETY: f64 = 1.645;
/// The same of Student's distribution with the nine degrees of freedom that ten parts have: a deviation
/// read off ten parts is itself uncertain by a quarter.
const NINETY_OF_PARTS: f64 = 1.833;

/// What of one receiving channel came from the source, in one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recovered {
    /// Coherent part over the whole level, dB, 0 or below; absent where it does not stand three
    /// standard deviations above nothing, or has not settled (see [`Recovered::settled`]).
    pub share: Option<LevelDifference>,
    /// Standard deviation of the level difference that follows from `share`.
    pub deviation: Option<LevelDifference>,
    /// The coherent part is at most this (upper end of the 90 % interval).
    pub at_most: LevelDifference,
    /// The coherent part is at least this, where there is one (lower end of the 90 % interval). This
    /// holds even if the segment was too short.
    pub at_least: Option<LevelDifference>,
    /// Smallest share that could have been seen.
    pub limit: LevelDifference,
    /// How much the difference shrank when the segment was doubled, dB, where both could tell.
    pub moved: Option<LevelDifference>,
    /// Whether the segment was long enough for the rooms.
    pub settled: bool,
    /// Estimated coherence, power-weighted, bias included.
    pub coherence: f64,
}

/// How much of one receiving channel each source microphone explains in one band, dB re the channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Attribution {
    /// Taken alone (its share if asked first).
    pub alone: LevelDifference,
    /// What only it explains (its share if asked last).
    pub only: LevelDifference,
}

/// What was recovered from one receiving channel.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelRecovery {
    /// Channel, from 1.
    pub channel: usize,
    /// Delay behind the first source microphone.
    pub delay: Delay,
    /// Per band.
    pub bands: Spectrum<Recovered>,
    /// Per source microphone and band; empty with a single one.
    pub by_reference: Vec<Spectrum<Attribution>>,
    /// Effective number of averages.
    pub averages: f64,
}

/// Settings of [`recover`].
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Channels of the source microphones, from 1; the first one gives the delays.
    pub references: Vec<usize>,
    /// Receiving channels, from 1.
    pub receivers: Vec<usize>,
    /// Time to use.
    pub mask: Mask,
    /// Length of a segment: about the longest decay time of the rooms, 0.02 to 30 s.
    pub segment: Seconds,
    /// Longest delay looked for; 0.15 s is 50 m.
    pub largest_delay: Seconds,
}

/// Recovers what came from the source in every receiving channel. `open` is called once to find
/// the delays (over the first two minutes of the mask), and once for everything else or, where the spectra
/// of many channels need more than 48 MB, once for every part of the frequencies.
///
/// # Errors
/// Channels that do not exist, none or more than eight source microphones, impossible lengths, less
/// sound than four and two thirds segments, bytes that cannot be read.
pub fn recover<'a>(
    open: &mut dyn FnMut() -> Result<Box<dyn Samples + 'a>, RecordingError>,
    wish: &Wish,
    progress: impl FnMut(f64),
) -> Result<Vec<ChannelRecovery>, RecordingError> {
    recover_within(open, wish, SPECTRA, progress)
}

/// As [`recover`], with so many bytes for the spectra of all parts.
fn recover_within<'a>(
    open: &mut dyn FnMut() -> Result<Box<dyn Samples + 'a>, RecordingError>,
    wish: &Wish,
    room: usize,
    mut progress: impl FnMut(f64),
) -> Result<Vec<ChannelRecovery>, RecordingError> {
    let (q, m) = (wish.references.len(), wish.receivers.len());
    if q == 0 || q > MOST_REFERENCES || m == 0 {
        return Err(RecordingError::Setting {
            what: "a number of source microphones",
            value: q as f64,
            remedy: "1 to 8 can be taken together, with at least one receiving channel",
        });
    }
    if !(0.02..=30.0).contains(&wish.segment.0) {
        return Err(RecordingError::Setting {
            what: "a segment length in seconds",
            value: wish.segment.0,
            remedy: "0.02 to 30 are possible",
        });
    }
    let channels: Vec<usize> = wish.references.iter().chain(&wish.receivers).copied().collect();

    let mut samples = open()?;
    let rate = f64::from(samples.format().rate);
    let total = samples.format().duration().map_or(f64::INFINITY, |d| d.0);
    let reach = wish.largest_delay.0.clamp(0.001, 2.0) * rate;
    let size = ((8.0 * reach) as usize).next_power_of_two().clamp(4096, 1 << 20);
    let begin = first_part(&wish.mask, 120.0);
    let first = [wish.references[0]];
    let some: Vec<usize> = first.iter().chain(&wish.receivers).copied().collect();
    let mut rough = Ensemble::new(rate, size, 1, vec![0; m], None, 0..size / 2 + 1)?;
    each_block(&mut *samples, &some, &begin, size / HANDED, |lines, ends| {
        rough.push(lines);
        if ends {
            rough.interrupt();
        }
    })?;
    drop(samples);
    progress(0.2);
    let delays: Vec<Delay> =
        (0..m).map(|j| rough.delay(j, reach)).collect::<Result<_, RecordingError>>()?;
    let shifts: Vec<i64> = delays
        .iter()
        // A peak that may be chance moves nothing.
        .map(|d| if d.clarity > 6.0 { d.samples.round() as i64 } else { 0 })
        .collect();
    drop(rough);

    let size = ((wish.segment.0 * rate) as usize).next_power_of_two().clamp(256, 1 << 21);
    let long: f64 = wish
        .mask
        .as_spans()
        .iter()
        .map(|(a, b)| b.min(total) - a.max(0.0))
        .filter(|s| *s > 0.0)
        .sum();
    // An endless stream makes an infinite number, which is as many as there can be.
    let expected = (OVERLAP as f64 * long * rate / size as f64) as u64;
    // Bins do not know of each other, so what would take too much room is done in several readings.
    let bins = bins_needed(rate, size);
    let in_a_bin = PARTS * (8 * q * (q + 1) / 2 + 8 * q * m + 4 * m);
    let most = (room / in_a_bin / 2 * 2).max(1024);
    let readings = bins.div_ceil(most);
    let mut sums: Vec<[Table; 2]> = vec![[Table::default(), Table::default()]; m];
    let mut explained: Vec<Vec<[Explained; MOST_REFERENCES]>> = vec![Vec::new(); m];
    let mut nd = [0.0; 2];
    for reading in 0..readings {
        let range = reading * most..((reading + 1) * most).min(bins);
        let halves =
            range.start / 2..if reading + 1 == readings { size / 4 + 1 } else { range.end / 2 };
        let mut whole = Ensemble::new(rate, size, q, shifts.clone(), Some(expected), range)?;
        let mut half = Ensemble::new(rate, size / 2, q, shifts.clone(), None, halves)?;
        half.hop = size / 2 / OVERLAP;
        let mut samples = open()?;
        let mut done = 0.0;
        each_block(&mut *samples, &channels, &wish.mask, size / HANDED, |lines, ends| {
            whole.push(lines);
            half.push(lines);
            if ends {
                whole.interrupt();
                half.interrupt();
            }
            done += lines[0].len() as f64 / rate;
            let share = (reading as f64 + (done / total).min(1.0)) / readings as f64;
            progress(0.2 + 0.8 * share);
        })?;
        if whole.segments < 12 {
            return Err(RecordingError::TooShort {
                what: "recovering what came through",
                needed: 14.0 / 3.0 * size as f64 / rate,
                present: (whole.segments + 2) as f64 / 3.0 * size as f64 / rate,
            });
        }
        for j in 0..m {
            let [all, halved] = &mut sums[j];
            whole.sum_up(j, all);
            half.sum_up(j, halved);
            if q > 1 {
                whole.attribute(j, &mut explained[j]);
            }
        }
        nd = [whole.nd(), half.nd()];
    }
    Ok(wish
        .receivers
        .iter()
        .zip(delays)
        .enumerate()
        .map(|(j, (channel, delay))| ChannelRecovery {
            channel: *channel,
            delay,
            bands: judge(&sums[j], rate, q, nd[0]),
            by_reference: attribution(&explained[j], rate, q),
            averages: nd[0],
        })
        .collect())
}

fn single(z: Complex64) -> Complex32 {
    Complex32::new(z.re as f32, z.im as f32)
}

fn double(z: Complex32) -> Complex64 {
    Complex64::new(f64::from(z.re), f64::from(z.im))
}

/// Independent averages that so many segments are worth, a third apart: the squared correlations of
/// Hann windows shifted by one and two thirds, 0.2220 and 0.0008 (closed form of their overlap).
fn effective_averages(segments: u64) -> f64 {
    let n = segments as f64;
    let hidden: f64 =
        [(1.0, 0.2220), (2.0, 0.0008)].iter().map(|(k, c)| (n - k).max(0.0) * c).sum();
    if n > 0.0 { n * n / (n + 2.0 * hidden) } else { 0.0 }
}

/// The first `seconds` of a mask.
fn first_part(mask: &Mask, seconds: f64) -> Mask {
    let mut left = seconds;
    let mut spans = Vec::new();
    for &(a, b) in mask.as_spans() {
        let a = a.max(0.0);
        if left <= 0.0 || b <= a {
            continue;
        }
        let end = b.min(a + left);
        left -= end - a;
        spans.push((a, end));
    }
    Mask::spans(spans)
}

/// Averaged spectra of `q` references and some receivers over one part of the recording. Single
/// precision, as are the samples that wait and the spectra of a segment (24 bits of sound fit exactly): four by four channels over ten parts are the largest thing in memory, and its rounding
/// of 10⁻⁵ after ten thousand segments is a thousandth of the scatter that so many leave.
#[derive(Clone)]
struct Part {
    /// Upper triangle by rows, reference i to reference k ≥ i: mean of X_i* X_k.
    xx: Vec<Vec<Complex32>>,
    /// Reference i to receiver j at i·m + j: mean of X_i* Y_j.
    xy: Vec<Vec<Complex32>>,
    yy: Vec<Vec<f32>>,
    segments: u64,
}

struct Ensemble {
    rate: f64,
    q: usize,
    m: usize,
    /// Samples by which each receiver is late.
    shifts: Vec<i64>,
    size: usize,
    hop: usize,
    window: Vec<f64>,
    forward: Arc<dyn RealToComplex<f64>>,
    line: Vec<f64>,
    scratch: Vec<Complex64>,
    spectrum: Vec<Complex64>,
    /// Bins that are kept here, per channel: the references, then the receivers.
    spectra: Vec<Vec<Complex32>>,
    held: Vec<Vec<f32>>,
    /// What remains to be cut from each channel so that they belong together.
    cut: Vec<usize>,
    /// Bins that bands need.
    bins: usize,
    /// Those of them that are kept here.
    range: Range<usize>,
    /// Segments in a row that belong to one part.
    turn: u64,
    parts: Vec<Part>,
    segments: u64,
}

impl Ensemble {
    /// With parts for a jackknife and overlapping segments, of which so many are expected; or
    /// plainly without both.
    fn new(
        rate: f64,
        size: usize,
        q: usize,
        shifts: Vec<i64>,
        expected: Option<u64>,
        range: Range<usize>,
    ) -> Result<Ensemble, RecordingError> {
        if !(2_000.0..=768_000.0).contains(&rate) {
            return Err(RecordingError::Rate(rate));
        }
        let m = shifts.len();
        let parts = expected.is_some();
        let forward = RealFftPlanner::<f64>::new().plan_fft_forward(size);
        let all = size / 2 + 1;
        let bins = if parts { bins_needed(rate, size) } else { all };
        let kept = range.len();
        let zero = Complex64::new(0.0, 0.0);
        let none = Complex32::new(0.0, 0.0);
        let part = Part {
            xx: vec![vec![none; kept]; q * (q + 1) / 2],
            xy: vec![vec![none; kept]; q * m],
            yy: vec![vec![0.0; kept]; m],
            segments: 0,
        };
        let mut out = Ensemble {
            rate,
            q,
            m,
            shifts,
            size,
            hop: if parts { size / OVERLAP } else { size },
            window: (0..size)
                .map(|n| 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / size as f64).cos())
                .collect(),
            line: vec![0.0; size],
            scratch: forward.make_scratch_vec(),
            forward,
            spectrum: vec![zero; all],
            spectra: vec![vec![none; kept]; q + m],
            // A segment that waits, and what is handed over at once on top of it.
            held: (0..q + m).map(|_| Vec::with_capacity(size + size / 2)).collect(),
            cut: Vec::new(),
            bins,
            range,
            turn: (expected.unwrap_or(0) / (2 * PARTS as u64)).clamp(TURN.0, TURN.1),
            parts: vec![part; if parts { PARTS } else { 1 }],
            segments: 0,
        };
        out.interrupt();
        Ok(out)
    }

    /// What comes next does not continue what came before.
    fn interrupt(&mut self) {
        self.held.iter_mut().for_each(Vec::clear);
        // A late receiver loses its beginning; one that hears earlier makes all others lose theirs.
        let early = self.shifts.iter().copied().min().unwrap_or(0).min(0);
        self.cut = (0..self.q)
            .map(|_| (-early) as usize)
            .chain(self.shifts.iter().map(|s| (s - early) as usize))
            .collect();
    }

    fn push(&mut self, lines: &[Vec<f64>]) {
        for ((held, cut), line) in self.held.iter_mut().zip(&mut self.cut).zip(lines) {
            let skip = (*cut).min(line.len());
            *cut -= skip;
            held.extend(line[skip..].iter().map(|v| *v as f32));
        }
        let there = self.held.iter().map(Vec::len).min().unwrap_or(0);
        let mut at = 0;
        while there - at >= self.size {
            for (channel, spectrum) in self.held.iter().zip(&mut self.spectra) {
                let piece = &channel[at..at + self.size];
                for ((l, v), w) in self.line.iter_mut().zip(piece).zip(&self.window) {
                    *l = f64::from(*v) * w;
                }
                // The lengths are those the plan was made for, so this cannot fail.
                let done = self.forward.process_with_scratch(
                    &mut self.line,
                    &mut self.spectrum,
                    &mut self.scratch,
                );
                debug_assert!(done.is_ok());
                for (kept, z) in spectrum.iter_mut().zip(&self.spectrum[self.range.clone()]) {
                    *kept = single(*z);
                }
            }
            self.add();
            at += self.hop;
        }
        for held in &mut self.held {
            held.drain(..at);
        }
    }

    fn add(&mut self) {
        let (xs, ys) = self.spectra.split_at(self.q);
        let which = ((self.segments / self.turn) % self.parts.len() as u64) as usize;
        let part = &mut self.parts[which];
        let mut pair = 0;
        for i in 0..self.q {
            for k in i..self.q {
                let kept = &mut part.xx[pair];
                for ((g, a), b) in kept.iter_mut().zip(&xs[i]).zip(&xs[k]) {
                    *g += a.conj() * b;
                }
                pair += 1;
            }
            for (j, y) in ys.iter().enumerate() {
                let xy = &mut part.xy[i * self.m + j];
                for ((g, a), b) in xy.iter_mut().zip(&xs[i]).zip(y) {
                    *g += a.conj() * b;
                }
            }
        }
        for (j, y) in ys.iter().enumerate() {
            for (g, b) in part.yy[j].iter_mut().zip(y) {
                *g += b.norm_sqr();
            }
        }
        part.segments += 1;
        self.segments += 1;
    }

    /// Independent averages that the segments are worth.
    fn nd(&self) -> f64 {
        if self.hop == self.size { self.segments as f64 } else { effective_averages(self.segments) }
    }

    fn delay(&self, receiver: usize, reach: f64) -> Result<Delay, RecordingError> {
        if self.segments < 2 {
            return Err(RecordingError::TooShort {
                what: "finding a delay",
                needed: 2.5 * self.size as f64 / self.rate,
                present: self.segments as f64 * self.size as f64 / self.rate,
            });
        }
        let part = &self.parts[0];
        let xx: Vec<f64> = part.xx[0].iter().map(|g| f64::from(g.re)).collect();
        let yy: Vec<f64> = part.yy[receiver].iter().map(|g| f64::from(*g)).collect();
        let xy: Vec<Complex64> = part.xy[receiver].iter().copied().map(double).collect();
        peak_of(&xx, &yy, &xy, self.nd(), self.size, reach)
    }

    /// Power of band sums: references, receiver, coherent part raw, coherent part without bias, and
    /// the two variances of the latter; `without` leaves one part out.
    fn sums(&self, receiver: usize, band: Band, nd: f64, without: Option<usize>) -> Sums {
        let step = self.rate / self.size as f64;
        let (first, last) = self.reach(band);
        let mut s = Sums::default();
        let used: Vec<&Part> = self
            .parts
            .iter()
            .enumerate()
            .filter(|(k, _)| Some(*k) != without)
            .map(|p| p.1)
            .collect();
        let segments: u64 = used.iter().map(|p| p.segments).sum();
        if segments == 0 {
            return s;
        }
        let scale = 1.0 / segments as f64;
        let filled: Vec<&Part> = used.iter().copied().filter(|p| p.segments > 0).collect();
        // As good as the independence of the parts: with few of them the steady formula is better.
        let by_parts = filled.len() >= PARTS - 1;
        // The bias is then an estimate itself, of (P − 1) q degrees of freedom.
        let doubt = if by_parts { 1.0 + 1.0 / (filled.len() as f64 - 1.0) } else { 1.0 };
        let mut system = System::default();
        let mut part = System::default();
        for bin in first..last {
            let share = weight(band, bin as f64 * step);
            let k = bin - self.range.start;
            let yy = scale * used.iter().map(|p| f64::from(p.yy[receiver][k])).sum::<f64>();
            self.fill(&mut system, &used, receiver, k, scale);
            let factor = system.factor(self.q, usize::MAX);
            let raw = factor.power(&system.xy).min(yy);
            let rank = factor.rank as f64;
            let noise = ((yy - raw) * nd / (nd - rank).max(1.0)).max(0.0);
            let bias = if by_parts {
                let h = factor.solution(&system.xy);
                let (mut sum, mut own) = (0.0, 0.0);
                for p in &filled {
                    self.fill(&mut part, std::slice::from_ref(p), receiver, k, scale);
                    sum += factor.power(&part.remainder(self.q, &h));
                    own += factor.weight(&part);
                }
                // Sound that is in one part only says nothing about noise between parts.
                if own < MOST_OF_IT * rank { sum * rank / (rank - own) } else { rank * noise / nd }
            } else {
                rank * noise / nd
            };
            let clean = raw - bias;
            let xx = (0..self.q).map(|i| system.xx[i][i].re).sum::<f64>() / self.q as f64;
            s.bins += share;
            s.xx += share * xx;
            s.yy += share * yy;
            s.raw += share * raw;
            s.clean += share * clean;
            s.noisy += share * share * 2.0 * (1.0 + 8.0 / 9.0) * yy * noise / nd;
            s.mixed += share * share * 2.0 * clean.max(0.0) * noise / nd;
            s.own += share * share * doubt * rank * (noise / nd).powi(2);
        }
        s
    }

    fn fill(&self, system: &mut System, used: &[&Part], receiver: usize, k: usize, scale: f64) {
        let mut pair = 0;
        for i in 0..self.q {
            for l in i..self.q {
                let g = used.iter().map(|p| double(p.xx[pair][k])).sum::<Complex64>() * scale;
                system.xx[i][l] = g;
                system.xx[l][i] = g.conj();
                pair += 1;
            }
            system.xy[i] =
                used.iter().map(|p| double(p.xy[i * self.m + receiver][k])).sum::<Complex64>()
                    * scale;
        }
    }

    /// First bin of a band that is kept here, and one past the last.
    fn reach(&self, band: Band) -> (usize, usize) {
        let (first, last) = reach_of(band, self.rate / self.size as f64, self.bins);
        let first = first.max(self.range.start);
        (first, (last + 1).min(self.range.end).max(first))
    }

    /// Adds the bins kept here to the sums of a receiver.
    fn sum_up(&self, receiver: usize, table: &mut Table) {
        // Leaving out needs parts that all hold some segments.
        let enough = self.parts.len() == PARTS
            && self.parts.iter().all(|p| p.segments > 0)
            && self.segments >= 6 * PARTS as u64;
        if enough && table.without.is_none() {
            table.without = Some(vec![[Sums::default(); PARTS]; BAND_COUNT]);
        }
        for band in Band::all().filter(|b| b.upper_edge().0 < self.rate / 2.0) {
            let sums = self.sums(receiver, band, self.nd(), None);
            table.all[band.index()].add(sums);
            // A band without a coherent part needs no deviation of it.
            let (first, last) = self.reach(band);
            let nothing = self.range.len() >= self.bins && !(sums.clean > 0.0);
            if let Some(without) = table.without.as_mut().filter(|_| last > first && !nothing) {
                for (k, sums) in without[band.index()].iter_mut().enumerate() {
                    let left = self.segments - self.parts[k].segments;
                    sums.add(self.sums(receiver, band, effective_averages(left), Some(k)));
                }
            }
        }
    }

    /// Adds what the bins kept here say of the single microphones.
    fn attribute(&self, receiver: usize, out: &mut Vec<[Explained; MOST_REFERENCES]>) {
        out.resize(BAND_COUNT, [Explained::default(); MOST_REFERENCES]);
        let used: Vec<&Part> = self.parts.iter().collect();
        let scale = 1.0 / self.segments.max(1) as f64;
        let nd = self.nd();
        let step = self.rate / self.size as f64;
        let mut system = System::default();
        for band in Band::all().filter(|b| b.upper_edge().0 < self.rate / 2.0) {
            let (first, last) = self.reach(band);
            let sums = &mut out[band.index()];
            for bin in first..last {
                let k = bin - self.range.start;
                self.fill(&mut system, &used, receiver, k, scale);
                let w = weight(band, bin as f64 * step);
                let yy = scale * used.iter().map(|p| f64::from(p.yy[receiver][k])).sum::<f64>();
                let (all, rank) = system.explained(self.q, usize::MAX);
                let noise = ((yy - all) * nd / (nd - rank as f64).max(1.0)).max(0.0) / nd;
                for (i, sum) in sums[..self.q].iter_mut().enumerate() {
                    sum.whole += w * yy;
                    let xx = system.xx[i][i].re;
                    if xx > 0.0 {
                        // Explained by this microphone alone; the rest is noise to it.
                        let raw = system.xy[i].norm_sqr() / xx;
                        sum.alone += w * (raw - (yy - raw).max(0.0) / (nd - 1.0).max(1.0));
                    }
                    let (others, fewer) = system.explained(self.q, i);
                    sum.only += w * (all - others - (rank - fewer.min(rank)) as f64 * noise);
                }
            }
        }
    }
}

impl Table {
    /// Relative standard deviation of source over coherent part, from leaving each part out in turn.
    fn jackknife(&self, band: Band) -> Option<f64> {
        let mut logs = Vec::with_capacity(PARTS);
        for s in &self.without.as_ref()?[band.index()] {
            if !(s.clean > 0.0 && s.xx > 0.0) {
                return None;
            }
            logs.push((s.xx / s.clean).ln());
        }
        let n = logs.len() as f64;
        let mean = logs.iter().sum::<f64>() / n;
        Some(((n - 1.0) / n * logs.iter().map(|l| (l - mean).powi(2)).sum::<f64>()).sqrt())
    }
}

/// The single microphones' shares; empty with one of them.
fn attribution(
    explained: &[[Explained; MOST_REFERENCES]],
    rate: f64,
    q: usize,
) -> Vec<Spectrum<Attribution>> {
    if explained.is_empty() {
        return Vec::new();
    }
    let db = |x: f64| LevelDifference(10.0 * x.max(1e-6).log10());
    let bands = || Band::all().filter(|b| b.upper_edge().0 < rate / 2.0);
    (0..q)
        .map(|i| {
            bands()
                .filter_map(|band| {
                    let e = explained[band.index()][i];
                    let whole = e.whole;
                    (whole > 0.0).then(|| {
                        (band, Attribution { alone: db(e.alone / whole), only: db(e.only / whole) })
                    })
                })
                .collect()
        })
        .collect()
}

/// What the sums of the whole segment and of half of it say of every band.
fn judge([whole, half]: &[Table; 2], rate: f64, q: usize, nd: f64) -> Spectrum<Recovered> {
    let q = q as f64;
    let db = |ratio: f64| LevelDifference(10.0 * ratio.max(1e-30).log10());
    let mut out: Spectrum<Recovered> = Band::all()
        .filter(|b| b.upper_edge().0 < rate / 2.0)
        .filter_map(|band| {
            let s = whole.all[band.index()];
            // A band narrower than three bins cannot be judged.
            if !(s.bins >= 3.0 && s.xx > 0.0 && s.yy > 0.0) || nd <= q + 2.0 {
                return None;
            }
            // Neighbouring bins of a Hann window hang together, see `coherence`.
            let floor = ((1.0 + 2.0 * 16.0 / 81.0) * s.own).sqrt();
            let formula = ((1.0 + 8.0 / 9.0) * s.mixed + floor * floor).sqrt();
            let jack = (s.clean > 0.0).then(|| whole.jackknife(band)).flatten();
            let by_parts = jack.map(|j| j * s.clean).filter(|j| *j > formula);
            let sd = by_parts.unwrap_or(formula);
            let there = s.clean >= SIGNIFICANT * sd;
            let relative = 10.0 / std::f64::consts::LN_10 * sd / s.clean.max(1e-300);
            // The same with half the segment: how much the difference shrank since.
            let h = half.all[band.index()];
            let moved = (there && h.clean > 0.0 && h.xx > 0.0 && h.bins >= 2.0)
                .then(|| 10.0 * ((h.xx / h.clean) / (s.xx / s.clean)).log10());
            let settled = moved.is_none_or(|m| m <= UNSETTLED + 1.5 * relative);
            // What scatters grows with the coherent part, so the variance belongs to the part that
            // is asked about and not to the one that was found: the limits are the C with
            // (Ĉ − C)² = z² (a C + floor²). Taken at Ĉ it makes the upper one too low, since too
            // small an Ĉ also claims too small a variance. The parts scale both terms alike.
            let z = if by_parts.is_some() { NINETY_OF_PARTS } else { NINETY };
            let grown = if formula > 0.0 { sd / formula } else { 1.0 };
            let scale = (z * grown).powi(2);
            let slope = if there { (1.0 + 8.0 / 9.0) * s.mixed / s.clean } else { s.noisy / s.yy };
            let shift = scale * slope / 2.0;
            let reach = (scale * (slope * s.clean + floor * floor).max(0.0) + shift * shift).sqrt();
            let (low, high) = (s.clean + shift - reach, s.clean + shift + reach);
            Some((
                band,
                Recovered {
                    share: there.then(|| db((s.clean / s.yy).min(1.0))),
                    deviation: there.then_some(LevelDifference(relative)),
                    at_most: LevelDifference(
                        db((high.max(NINETY * floor) / s.yy).min(1.0)).0.min(0.0),
                    ),
                    at_least: (low > 0.0).then(|| db((low / s.yy).min(1.0))),
                    limit: db(SIGNIFICANT * floor / s.yy),
                    moved: moved.map(LevelDifference),
                    settled,
                    coherence: s.raw / s.yy,
                },
            ))
        })
        .collect();
    // A band that is too faint to tell goes by what the clear ones say: how long the rooms ring is
    // much the same in all.
    let mut clear: Vec<f64> = out
        .iter()
        .filter(|(_, r)| r.deviation.is_some_and(|d| d.0 < CLEAR))
        .filter_map(|(_, r)| Some(r.moved?.0))
        .collect();
    clear.sort_by(f64::total_cmp);
    let others = clear.get(clear.len() / 2).copied().unwrap_or(0.0);
    let bands: Vec<Band> = out.iter().map(|(b, _)| b).collect();
    for band in bands {
        let Some(mut r) = out.get(band) else { continue };
        let faint = r.deviation.is_none_or(|d| d.0 >= CLEAR);
        r.settled &= !(faint && others > UNSETTLED);
        // Of a tail longer than the segment as much is still missing as the last doubling brought (what
        // ends after it falls off as one over its length), of a short one a third of that (the window
        // loses the square of its delay). What lies between is put back, and half of it is doubt.
        let own = r.moved.filter(|_| !faint).map_or(others, |m| (m.0 + others) / 2.0);
        let missing = 2.0 / 3.0 * own.max(0.0);
        let back = |d: LevelDifference| LevelDifference((d.0 + missing).min(0.0));
        // The doubt of what is put back belongs to the upper limit as well; the lower one puts
        // nothing back.
        r.at_most = match r.share {
            Some(found) => {
                let up = (r.at_most.0 - found.0).max(0.0);
                let doubt = NINETY * missing / 2.0;
                back(LevelDifference(found.0 + up.hypot(doubt)))
            }
            None => back(r.at_most),
        };
        r.share = r.share.filter(|_| r.settled).map(back);
        r.deviation = r.deviation.map(|d| LevelDifference(d.0.hypot(missing / 2.0)));
        out.set(band, r);
    }
    out
}

/// Bins up to the highest band.
fn bins_needed(rate: f64, size: usize) -> usize {
    let top = Band::all().last().map_or(rate, |b| b.upper_edge().0).min(rate / 2.0);
    ((top / rate * size as f64) as usize + 3).min(size / 2 + 1)
}

/// What a third-octave filter of sixth order lets through of a frequency, as power: the same as the
/// filters that measure levels, so that a share of a level is a share of that level. A rectangle would
/// differ by tenths of a decibel where a room's answer is rugged.
fn weight(band: Band, frequency: f64) -> f64 {
    let (low, centre, high) = (band.lower_edge().0, band.centre().0, band.upper_edge().0);
    let x = centre / (high - low) * (frequency / centre - centre / frequency);
    1.0 / (1.0 + x.powi(6))
}

/// First and last bin that matter to a band: down to a few thousandths of its power.
fn reach_of(band: Band, step: f64, bins: usize) -> (usize, usize) {
    let (low, high) = (band.lower_edge().0 / 1.35, band.upper_edge().0 * 1.35);
    let first = ((low / step).ceil() as usize).max(1);
    (first, ((high / step) as usize).min(bins.saturating_sub(2)))
}

#[derive(Clone, Copy, Default)]
struct Sums {
    bins: f64,
    xx: f64,
    yy: f64,
    raw: f64,
    clean: f64,
    mixed: f64,
    own: f64,
    /// As `mixed`, if the coherent part had the spectrum of the receiving channel, neighbouring bins
    /// counted.
    noisy: f64,
}

impl Sums {
    fn add(&mut self, o: Sums) {
        self.bins += o.bins;
        self.xx += o.xx;
        self.yy += o.yy;
        self.raw += o.raw;
        self.clean += o.clean;
        self.mixed += o.mixed;
        self.own += o.own;
        self.noisy += o.noisy;
    }
}

/// Sums of all bands of one receiver over all parts, and with each part left out in turn where there are
/// enough of them.
#[derive(Clone)]
struct Table {
    all: [Sums; BAND_COUNT],
    without: Option<Vec<[Sums; PARTS]>>,
}

impl Default for Table {
    fn default() -> Table {
        Table { all: [Sums::default(); BAND_COUNT], without: None }
    }
}

/// Energies of a receiver: explained by one microphone alone, by it only, and the whole.
#[derive(Clone, Copy, Default)]
struct Explained {
    alone: f64,
    only: f64,
    whole: f64,
}

/// The normal equations of one bin.
struct System {
    xx: [[Complex64; MOST_REFERENCES]; MOST_REFERENCES],
    xy: [Complex64; MOST_REFERENCES],
}

impl Default for System {
    fn default() -> System {
        let zero = Complex64::new(0.0, 0.0);
        System { xx: [[zero; MOST_REFERENCES]; MOST_REFERENCES], xy: [zero; MOST_REFERENCES] }
    }
}

impl System {
    /// G_xyᴴ G_xx⁻¹ G_xy, and how many inputs entered; input `but` is left out.
    fn explained(&self, q: usize, but: usize) -> (f64, usize) {
        let factor = self.factor(q, but);
        (factor.power(&self.xy), factor.rank)
    }

    /// Cholesky factor of G_xx that leaves out input `but` and what is explained already.
    fn factor(&self, q: usize, but: usize) -> Factor {
        let zero = Complex64::new(0.0, 0.0);
        let mut f = Factor {
            rows: [[zero; MOST_REFERENCES]; MOST_REFERENCES],
            used: [0; MOST_REFERENCES],
            rank: 0,
        };
        for i in (0..q).filter(|i| *i != but) {
            let own = self.xx[i][i].re;
            if !(own > 0.0) {
                continue;
            }
            // Row of the factor for input i against those taken already.
            let mut row = [zero; MOST_REFERENCES];
            let mut rest = own;
            for r in 0..f.rank {
                let mut sum = self.xx[i][f.used[r]];
                for t in 0..r {
                    sum -= row[t] * f.rows[r][t].conj();
                }
                row[r] = sum / f.rows[r][r].re;
                rest -= row[r].norm_sqr();
            }
            if rest < EXPLAINED * own {
                continue;
            }
            row[f.rank] = Complex64::new(rest.sqrt(), 0.0);
            f.rows[f.rank] = row;
            f.used[f.rank] = i;
            f.rank += 1;
        }
        f
    }

    /// G_xy − G_xx h.
    fn remainder(
        &self,
        q: usize,
        h: &[Complex64; MOST_REFERENCES],
    ) -> [Complex64; MOST_REFERENCES] {
        let mut rest = self.xy;
        for i in 0..q {
            for k in 0..q {
                rest[i] -= self.xx[i][k] * h[k];
            }
        }
        rest
    }
}

/// Lower triangle L of G_xx = L Lᴴ over the inputs used.
struct Factor {
    rows: [[Complex64; MOST_REFERENCES]; MOST_REFERENCES],
    used: [usize; MOST_REFERENCES],
    rank: usize,
}

impl Factor {
    /// L⁻¹ v.
    fn whitened(&self, v: &[Complex64; MOST_REFERENCES]) -> [Complex64; MOST_REFERENCES] {
        let mut z = [Complex64::new(0.0, 0.0); MOST_REFERENCES];
        for r in 0..self.rank {
            let mut sum = v[self.used[r]];
            for t in 0..r {
                sum -= self.rows[r][t] * z[t];
            }
            z[r] = sum / self.rows[r][r].re;
        }
        z
    }

    /// tr (G_xx⁻¹ G_xx,p)²: how much of the whole is in a part, squared.
    fn weight(&self, part: &System) -> f64 {
        let zero = Complex64::new(0.0, 0.0);
        let mut half = [[zero; MOST_REFERENCES]; MOST_REFERENCES];
        for &i in &self.used[..self.rank] {
            let column = std::array::from_fn(|k| part.xx[k][i]);
            for (r, z) in self.whitened(&column)[..self.rank].iter().enumerate() {
                half[r][i] = z.conj();
            }
        }
        half[..self.rank]
            .iter()
            .flat_map(|row| self.whitened(row)[..self.rank].to_vec())
            .map(|a| a.norm_sqr())
            .sum()
    }

    /// vᴴ G_xx⁻¹ v.
    fn power(&self, v: &[Complex64; MOST_REFERENCES]) -> f64 {
        self.whitened(v)[..self.rank].iter().map(Complex64::norm_sqr).sum()
    }

    /// G_xx⁻¹ v, zero for inputs that were left out.
    fn solution(&self, v: &[Complex64; MOST_REFERENCES]) -> [Complex64; MOST_REFERENCES] {
        let mut z = self.whitened(v);
        let mut out = [Complex64::new(0.0, 0.0); MOST_REFERENCES];
        for r in (0..self.rank).rev() {
            for t in r + 1..self.rank {
                let below = self.rows[t][r].conj() * z[t];
                z[r] -= below;
            }
            z[r] /= self.rows[r][r].re;
            out[self.used[r]] = z[r];
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_signal::white;
    use crate::wav::{Depth, to_bytes};

    #[test]
    fn several_readings_say_what_one_says() {
        let n = 16_000 * 20;
        let (a, b, noise) = (white(1, 0.1, n), white(2, 0.1, n), white(3, 0.2, n));
        let x: Vec<f64> = (0..n)
            .flat_map(|k| [a[k], 0.3 * a[k] + b[k], 0.2 * a[k] + 0.1 * b[k] + noise[k]])
            .collect();
        let bytes = to_bytes(16_000, 3, Depth::Float32, &x).unwrap();
        let wish = Wish {
            references: vec![1, 2],
            receivers: vec![3],
            mask: Mask::everything(),
            segment: Seconds(0.25),
            largest_delay: Seconds(0.02),
        };
        let mut readings = [0; 2];
        let mut found = Vec::new();
        for (count, room) in readings.iter_mut().zip([usize::MAX, 0]) {
            let mut open = || {
                *count += 1;
                crate::open(std::io::Cursor::new(bytes.as_slice()))
            };
            found.push(recover_within(&mut open, &wish, room, |_| {}).unwrap().remove(0));
        }
        // One for the delays; 2049 bins by 1024.
        assert_eq!(readings, [2, 4]);
        let [one, many] = [&found[0], &found[1]];
        assert!(one.bands.iter().filter(|(_, r)| r.share.is_some()).count() > 10);
        assert_eq!(one.bands.len(), many.bands.len());
        let close = |a: LevelDifference, b: LevelDifference| (a.0 - b.0).abs() < 1e-9;
        for (band, r) in one.bands.iter() {
            let m = many.bands.get(band).unwrap();
            assert_eq!((r.settled, r.share.is_some()), (m.settled, m.share.is_some()), "{band:?}");
            assert!(close(r.at_most, m.at_most), "{band:?} {r:?} {m:?}");
            assert!(r.share.zip(m.share).is_none_or(|(a, b)| close(a, b)), "{band:?}");
            assert!(r.deviation.zip(m.deviation).is_none_or(|(a, b)| close(a, b)), "{band:?}");
        }
        for (a, b) in one.by_reference.iter().zip(&many.by_reference) {
            for (band, x) in a.iter() {
                assert!(close(x.only, b.get(band).unwrap().only), "{band:?}");
            }
        }
    }
}
