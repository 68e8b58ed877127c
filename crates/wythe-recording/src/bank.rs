//! Third-octave bands and weightings of several channels at once, by halving the sample rate.
//!
//! The upper bands are filtered at the full rate; then the rate is halved before each lower octave
//! of three bands, so that every band sits where a sixth-order Butterworth band-pass is class 1
//! (upper edge at or below 0.256 of its rate). The bands above that, at the top of a rate, get
//! eighth order: the usual sixth-order bank is **not** class 1 there. Energies are summed over runs
//! of at most 0.77 ms, F and S follow from those runs (error below 10⁻⁵ dB against every sample; the
//! largest F value can be missed by 34.7 dB/s · 0.77 ms = 0.03 dB at most), and all bands report on one time axis: the delay of the halving
//! filters is taken out; the delay of the band filters themselves is not (0.64/B at mid-band).
//!
//! Sources: IEC 61260-1:2014 (bands, masks), IEC 61672-1:2013 (F, S); the multirate structure and
//! its margins are derived here, see `class` and `tests/published/iec_61260_1_2014.rs`.

use std::collections::VecDeque;

use wythe_bands::weighting::Weighting;
use wythe_bands::{BAND_COUNT, Band};

use crate::RecordingError;
use crate::half_band::{DELAY, HalfBand, Halver};
use crate::lanes::{BandLanes, Detector, LANES, Run, WeightingLanes};
pub use crate::section::Bandwidth;
use crate::section::{self, Section};
use crate::weighting_filter::WeightingFilter;

/// Time constant of F, s (IEC 61672-1:2013, 5.8).
pub const FAST: f64 = 0.125;
/// Time constant of S, s.
pub const SLOW: f64 = 1.0;
/// Rise of I, s; its peak then falls with [`IMPULSE_FALL`].
/// Source: IEC 60651 as kept in IEC 61672-1:2013, Annex C (from memory).
pub const IMPULSE: f64 = 0.035;
/// Fall of the I peak detector, s.
pub const IMPULSE_FALL: f64 = 1.5;

/// Signals kept for a channel: 31 bands, A, C, Z.
pub const SIGNALS: usize = BAND_COUNT + 3;

/// One of the 34 signals of a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Signal {
    /// A third-octave band.
    Band(Band),
    /// A frequency weighting.
    Weighted(Weighting),
}

impl Signal {
    /// All of them: bands rising, then A, C, Z.
    pub fn all() -> impl Iterator<Item = Signal> {
        Band::all()
            .map(Signal::Band)
            .chain([Weighting::A, Weighting::C, Weighting::Z].map(Signal::Weighted))
    }

    /// Column of this signal, 0 to 33.
    pub fn column(self) -> usize {
        match self {
            Signal::Band(band) => band.index(),
            Signal::Weighted(Weighting::A) => BAND_COUNT,
            Signal::Weighted(Weighting::C) => BAND_COUNT + 1,
            Signal::Weighted(Weighting::Z) => BAND_COUNT + 2,
        }
    }
}

/// Share of a stage's rate that the upper edge of its highest sixth-order band may reach: it keeps
/// the same three bands per halving at 44.1 kHz (0.2550) as at 48 kHz (0.2338), with margin 0.1 dB.
pub const HIGHEST_EDGE: f64 = 0.256;
/// Share of the rate up to which a band of eighth order is still class 1.
pub const TOP_EDGE: f64 = 0.47;

/// Where one band is filtered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// Number of halvings before it.
    pub stage: usize,
    /// 6 or 8.
    pub order: usize,
}

/// Which bands a rate holds and where each is filtered.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Sample rate, Hz.
    pub rate: f64,
    /// The halving filter of every stage.
    pub half_band: HalfBand,
    /// How wide the filters are.
    pub bandwidth: Bandwidth,
    places: [Option<Place>; BAND_COUNT],
}

impl Plan {
    /// The plan for a rate.
    ///
    /// # Errors
    /// Refuses rates outside of 2 to 768 kHz.
    pub fn new(rate: f64, bandwidth: Bandwidth) -> Result<Plan, RecordingError> {
        if !(2_000.0..=768_000.0).contains(&rate) {
            return Err(RecordingError::Rate(rate));
        }
        let mut places = [None; BAND_COUNT];
        let mut edge = 0.0f64;
        for band in Band::all() {
            let share = band.upper_edge().0 / rate;
            places[band.index()] = if share > TOP_EDGE {
                None
            } else if share > HIGHEST_EDGE {
                Some(Place { stage: 0, order: 8 })
            } else {
                let mut stage = 0;
                while share * 2f64.powi(stage as i32 + 1) <= HIGHEST_EDGE {
                    stage += 1;
                }
                if stage > 0 {
                    edge = edge.max(share * 2f64.powi(stage as i32 - 1));
                }
                Some(Place { stage, order: 6 })
            };
        }
        Ok(Plan { rate, half_band: HalfBand::design(edge.max(0.1)), bandwidth, places })
    }

    /// Where a band is filtered; `None` when the rate cannot hold it.
    pub fn place(&self, band: Band) -> Option<Place> {
        self.places[band.index()]
    }

    /// The bands this rate holds, rising.
    pub fn bands(&self) -> impl Iterator<Item = Band> + '_ {
        Band::all().filter(|b| self.place(*b).is_some())
    }

    /// Sections of a band at its own stage rate.
    pub fn sections(&self, band: Band) -> Option<Vec<Section>> {
        let place = self.place(band)?;
        section::band_pass(band, self.stage_rate(place.stage), place.order, self.bandwidth)
    }

    /// Rate after a number of halvings.
    pub fn stage_rate(&self, stage: usize) -> f64 {
        self.rate / 2f64.powi(stage as i32)
    }

    /// Number of halvings before the lowest band.
    pub fn halvings(&self) -> usize {
        self.places.iter().flatten().map(|p| p.stage).max().unwrap_or(0)
    }
}

/// Samples of a rate in one run of summed energies: a power of two, 0.4 to 0.77 ms.
fn run_length(rate: f64) -> usize {
    let mut run = 1;
    while 2.0 * run as f64 <= rate / 1300.0 {
        run *= 2;
    }
    run
}

/// What one channel did in one frame, re full scale squared. Bands the rate does not hold are 0.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameEnergies {
    /// Mean square.
    pub energy: [f64; SIGNALS],
    /// F-weighted mean square at the end of the frame.
    pub fast: [f64; SIGNALS],
    /// S-weighted mean square at the end of the frame.
    pub slow: [f64; SIGNALS],
    /// Largest F-weighted mean square inside the frame.
    pub fast_max: [f64; SIGNALS],
    /// Largest squared sample.
    pub peak2: [f64; SIGNALS],
    /// Largest I-weighted mean square of A, C, Z.
    pub impulse_max: [f64; 3],
}

impl Default for FrameEnergies {
    fn default() -> Self {
        FrameEnergies {
            energy: [0.0; SIGNALS],
            fast: [0.0; SIGNALS],
            slow: [0.0; SIGNALS],
            fast_max: [0.0; SIGNALS],
            peak2: [0.0; SIGNALS],
            impulse_max: [0.0; 3],
        }
    }
}

/// Frames of [`FRAMES_PER_SECOND`] a second that come out of a bank, in order.
pub(crate) struct FrameOut {
    /// One per channel.
    pub(crate) channels: Vec<FrameEnergies>,
    /// Length, s: a tenth of a second but for the last.
    pub(crate) seconds: f64,
}

/// Frames a second.
pub const FRAMES_PER_SECOND: u64 = 10;

/// First sample of a frame.
fn boundary(frame: u64, rate: u64, end: u64) -> u64 {
    (u128::from(frame) * u128::from(rate))
        .div_ceil(u128::from(FRAMES_PER_SECOND))
        .min(u128::from(end)) as u64
}

/// Some bands of a stage, `N` lanes wide.
struct BandGroup<const N: usize> {
    lanes: BandLanes<N>,
    bands: Vec<Band>,
    detector: Detector<N>,
    runs: Vec<Run<[f64; N]>>,
}

impl<const N: usize> BandGroup<N> {
    fn new(plan: &Plan, bands: &[Band], channels: usize) -> Self {
        let cascades: Vec<_> = bands.iter().map(|b| plan.sections(*b)).collect();
        BandGroup {
            lanes: BandLanes::new(&cascades, channels),
            bands: bands.to_vec(),
            detector: Detector::new(),
            runs: Vec::new(),
        }
    }

    fn run<const C: usize>(
        &mut self,
        input: &[[f64; C]],
        ends: &[usize],
        parts: &[Part],
        rises: &[[f64; 2]],
        mut row: impl FnMut(u64, &mut dyn FnMut(&mut [FrameEnergies; C])),
    ) {
        self.lanes.run(input, ends, &mut self.runs);
        let gain2 = self.lanes.gain2;
        for part in parts {
            let runs = &self.runs[part.first..part.last];
            self.detector.take(runs, &gain2, part.samples, rises[part.samples]);
            if let Some((frame, count)) = part.closes {
                row(frame, &mut |channels| {
                    for (slot, band) in self.bands.iter().enumerate() {
                        for (channel, out) in channels.iter_mut().enumerate() {
                            close(out, band.index(), &self.detector, slot * C + channel, count);
                        }
                    }
                });
                self.detector.next_frame();
            }
        }
    }
}

/// Runs of equal length, none of which crosses the end of a frame.
struct Part {
    first: usize,
    last: usize,
    /// Samples in each run.
    samples: usize,
    /// The frame that ends with the last of them, and how many samples it held.
    closes: Option<(u64, u64)>,
}

struct Stage<const C: usize> {
    /// Rate is the full one over 2^halvings.
    halvings: u32,
    wide: Vec<BandGroup<LANES>>,
    narrow: Vec<BandGroup<4>>,
    halver: Option<Halver<C>>,
    /// 1 − exp(−m/(rate τ)) of F and S for a run of m samples.
    rises: Vec<[f64; 2]>,
    /// The same for the rise and fall of I.
    impulse_rises: Vec<[f64; 2]>,
    run: usize,
    /// Index of the next sample of this stage, and of the frame it belongs to.
    next: u64,
    frame: u64,
    /// Samples of the frame so far.
    count: u64,
    ends: Vec<usize>,
    parts: Vec<Part>,
}

struct Weighted<const C: usize> {
    lanes: WeightingLanes<C>,
    detectors: [Detector<C>; 3],
    impulse: [[f64; C]; 3],
    impulse_hold: [[f64; C]; 3],
    impulse_max: [[f64; C]; 3],
    runs: [Vec<Run<[f64; C]>>; 3],
}

struct Row<const C: usize> {
    channels: [FrameEnergies; C],
    /// Stages that have not closed this frame yet.
    open: usize,
}

/// All bands and weightings of `C` channels.
struct Bundle<const C: usize> {
    rate: u64,
    /// Length of the recording; known at its end.
    end: u64,
    stages: Vec<Stage<C>>,
    weighted: Weighted<C>,
    first_row: u64,
    rows: VecDeque<Row<C>>,
    ready: Vec<FrameOut>,
    scratch: [Vec<[f64; C]>; 2],
    used: usize,
}

/// A bank for some channels; hides how many lie side by side.
pub(crate) trait Bank: Send {
    /// Takes interleaved samples of the bundle's channels, padded to its width.
    fn push(&mut self, interleaved: &[f64]);
    /// No more samples will come; what is still on its way is brought out.
    fn finish(&mut self);
    /// Finished frames, in order.
    fn frames(&mut self) -> Vec<FrameOut>;
    /// Channels side by side, 1, 2, 4 or 8.
    fn width(&self) -> usize;
}

/// A bank for up to eight channels.
pub(crate) fn bank(plan: &Plan, channels: usize) -> Box<dyn Bank> {
    match channels {
        0 | 1 => Box::new(Bundle::<1>::new(plan, 1)),
        2 => Box::new(Bundle::<2>::new(plan, 2)),
        3 | 4 => Box::new(Bundle::<4>::new(plan, channels)),
        _ => Box::new(Bundle::<8>::new(plan, channels.min(8))),
    }
}

impl<const C: usize> Bundle<C> {
    fn new(plan: &Plan, used: usize) -> Self {
        let stages = (0..=plan.halvings())
            .map(|stage| {
                let bands: Vec<Band> = plan
                    .bands()
                    .filter(|b| plan.place(*b).is_some_and(|p| p.stage == stage))
                    .collect();
                // Highest order first, so that a group is as short as its own bands need. Four
                // lanes do where a stage has no more to offer.
                let (mut wide, mut narrow) = (Vec::new(), Vec::new());
                for bands in bands.rchunks(LANES / C) {
                    if bands.len() * C <= 4 {
                        narrow.push(BandGroup::new(plan, bands, C));
                    } else {
                        wide.push(BandGroup::new(plan, bands, C));
                    }
                }
                let rate = plan.stage_rate(stage);
                let run = run_length(rate);
                let rises = |taus: [f64; 2]| -> Vec<[f64; 2]> {
                    (0..=run)
                        .map(|m| taus.map(|tau| -(-(m as f64) / (rate * tau)).exp_m1()))
                        .collect()
                };
                Stage {
                    halvings: stage as u32,
                    wide,
                    narrow,
                    halver: (stage < plan.halvings()).then(|| Halver::new(plan.half_band)),
                    rises: rises([FAST, SLOW]),
                    impulse_rises: rises([IMPULSE, IMPULSE_FALL]),
                    run,
                    next: 0,
                    frame: 0,
                    count: 0,
                    ends: Vec::new(),
                    parts: Vec::new(),
                }
            })
            .collect();
        let filter = WeightingFilter::new(plan.rate);
        let [f1, low] = filter.c;
        Bundle {
            rate: plan.rate as u64,
            end: u64::MAX,
            stages,
            weighted: Weighted {
                lanes: WeightingLanes::new([f1, low, filter.c_to_a]),
                detectors: std::array::from_fn(|_| Detector::new()),
                impulse: [[0.0; C]; 3],
                impulse_hold: [[0.0; C]; 3],
                impulse_max: [[0.0; C]; 3],
                runs: std::array::from_fn(|_| Vec::new()),
            },
            first_row: 0,
            rows: VecDeque::new(),
            ready: Vec::new(),
            scratch: [Vec::new(), Vec::new()],
            used,
        }
    }

    fn process(&mut self, frames: &[[f64; C]]) {
        let [mut input, mut output] = std::mem::take(&mut self.scratch);
        for stage in 0..self.stages.len() {
            let now = if stage == 0 { frames } else { &input };
            self.run_stage(stage, now);
            if let Some(halver) = &mut self.stages[stage].halver {
                halver.run(now, &mut output);
                std::mem::swap(&mut input, &mut output);
            }
        }
        self.scratch = [input, output];
        while self.rows.front().is_some_and(|r| r.open == 0) {
            if let Some(row) = self.rows.pop_front() {
                let from = boundary(self.first_row, self.rate, self.end);
                let to = boundary(self.first_row + 1, self.rate, self.end);
                self.first_row += 1;
                let mut channels = Vec::from(row.channels);
                channels.truncate(self.used);
                self.ready
                    .push(FrameOut { channels, seconds: (to - from) as f64 / self.rate as f64 });
            }
        }
    }

    fn run_stage(&mut self, index: usize, input: &[[f64; C]]) {
        let (rate, end) = (self.rate, self.end);
        let stages = self.stages.len();
        let stage = &mut self.stages[index];
        let step = 1u64 << stage.halvings;
        let delay = DELAY as u64 * (step - 1);
        // First sample of this stage that lies at or after the end of a frame.
        let limit = |frame: u64| {
            let to = boundary(frame + 1, rate, end);
            to.saturating_add(delay).div_ceil(step)
        };
        stage.ends.clear();
        stage.parts.clear();
        let mut at = 0usize;
        let mut frame = stage.frame;
        let mut next = stage.next;
        let mut count = stage.count;
        // Past the end of the recording the filters only run out; nothing is counted.
        while at < input.len() && boundary(frame, rate, end) < end {
            // Nothing is left of a last frame too short to hold one sample of a low stage.
            let left = limit(frame).saturating_sub(next);
            let take = left.min((input.len() - at) as u64) as usize;
            let closes = take as u64 == left;
            // Whole runs, then what remains of the frame or the block as a shorter one.
            let (whole, rest) = (take / stage.run, take % stage.run);
            let first = stage.ends.len();
            stage.ends.extend((1..=whole).map(|k| at + k * stage.run));
            at += take;
            next += take as u64;
            count += take as u64;
            if whole > 0 {
                let last = stage.ends.len();
                let closes = (closes && rest == 0).then_some((frame, count));
                stage.parts.push(Part { first, last, samples: stage.run, closes });
            }
            if rest > 0 || whole == 0 {
                stage.ends.extend((rest > 0).then_some(at));
                let first = first + whole;
                let last = stage.ends.len();
                let closes = closes.then_some((frame, count));
                stage.parts.push(Part { first, last, samples: rest.max(1), closes });
            }
            if closes {
                frame += 1;
                count = 0;
            }
        }
        let first_frame = stage.frame;
        stage.frame = frame;
        stage.next = next;
        stage.count = count;
        let rises = &stage.rises;
        let (rows, first_row) = (&mut self.rows, self.first_row);
        let mut row = |frame: u64, fill: &mut dyn FnMut(&mut [FrameEnergies; C])| {
            fill(&mut row_of(rows, first_row, frame, stages + 1).channels);
        };
        for group in &mut stage.wide {
            group.run(input, &stage.ends, &stage.parts, rises, &mut row);
        }
        for group in &mut stage.narrow {
            group.run(input, &stage.ends, &stage.parts, rises, &mut row);
        }
        if index == 0 {
            let w = &mut self.weighted;
            w.lanes.run(input, &stage.ends, &mut w.runs);
            for part in &stage.parts {
                let m = part.samples;
                let runs = part.first..part.last;
                for i in 0..3 {
                    let one = &w.runs[i][runs.clone()];
                    w.detectors[i].take(one, &[1.0; C], m, rises[m]);
                    let [rise, fall] = stage.impulse_rises[m];
                    let per_sample = 1.0 / m as f64;
                    for run in one {
                        for c in 0..C {
                            let value = &mut w.impulse[i][c];
                            *value += rise * (run.sum[c] * per_sample - *value);
                            let hold = &mut w.impulse_hold[i][c];
                            *hold = (*hold * (1.0 - fall)).max(*value);
                            w.impulse_max[i][c] = w.impulse_max[i][c].max(*hold);
                        }
                    }
                }
                if let Some((frame, count)) = part.closes {
                    let row = row_of(&mut self.rows, self.first_row, frame, stages + 1);
                    for i in 0..3 {
                        for c in 0..C {
                            let out = &mut row.channels[c];
                            close(out, BAND_COUNT + i, &w.detectors[i], c, count);
                            out.impulse_max[i] = w.impulse_max[i][c];
                        }
                        w.detectors[i].next_frame();
                        w.impulse_max[i] = [0.0; C];
                    }
                    row.open -= 1;
                }
            }
        }
        for frame in first_frame..stage.frame {
            row_of(&mut self.rows, self.first_row, frame, stages + 1).open -= 1;
        }
    }
}

fn close<const N: usize>(
    out: &mut FrameEnergies,
    column: usize,
    detector: &Detector<N>,
    lane: usize,
    count: u64,
) {
    out.fast[column] = detector.fast[lane];
    out.slow[column] = detector.slow[lane];
    // A sliver of a frame that holds no sample of a low stage reports what F remembers.
    out.energy[column] =
        if count > 0 { detector.sum[lane] / count as f64 } else { detector.fast[lane] };
    out.fast_max[column] = detector.fast_max[lane].max(detector.fast[lane]);
    out.peak2[column] = detector.largest[lane];
}

fn row_of<const C: usize>(
    rows: &mut VecDeque<Row<C>>,
    first: u64,
    frame: u64,
    parties: usize,
) -> &mut Row<C> {
    let at = frame.saturating_sub(first) as usize;
    while rows.len() <= at {
        rows.push_back(Row {
            channels: std::array::from_fn(|_| FrameEnergies::default()),
            open: parties,
        });
    }
    &mut rows[at]
}

impl<const C: usize> Bank for Bundle<C> {
    fn push(&mut self, interleaved: &[f64]) {
        let (frames, _) = interleaved.as_chunks::<C>();
        self.process(frames);
    }

    fn finish(&mut self) {
        let fed = self.stages[0].next;
        self.end = fed;
        // Frames that begin before the end.
        let last = if fed == 0 { 0 } else { (fed - 1) * FRAMES_PER_SECOND / self.rate + 1 };
        // Enough silence for the slowest stage to reach the end, plus a step of it.
        let deepest = self.stages.last().map_or(0, |s| s.halvings);
        let flush = (DELAY as usize + 2) << deepest;
        let silence = [[0.0; C]; 512];
        // A boundary may have moved under a frame that stage 0 had already filled.
        let mut left = flush;
        while left > 0 {
            let take = left.min(silence.len());
            self.process(&silence[..take]);
            left -= take;
        }
        debug_assert!(self.first_row == last, "{} of {last} frames", self.first_row);
    }

    fn frames(&mut self) -> Vec<FrameOut> {
        std::mem::take(&mut self.ready)
    }

    fn width(&self) -> usize {
        C
    }
}
