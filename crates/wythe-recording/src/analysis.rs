//! One streaming pass over a recording.

use rayon::prelude::*;
use wythe_bands::{LevelDifference, Remark, Seconds};

use crate::RecordingError;
use crate::bank::{Bandwidth, Bank, FRAMES_PER_SECOND, Plan, bank};
use crate::calibration::{Calibration, CalibrationChoice, calibrate};
use crate::history::{Frame, FrameSink, History, NoSink};
use crate::level::Sensitivity;
use crate::sound_file::{Format, Samples};
use crate::statistics::Statistics;
use crate::timeline::{Author, Kind, Mask, Timeline};
use crate::tone::{Tone, ToneFinder};
use crate::trouble::{Trouble, Watch, What};

/// Frames filtered at once. They stay in the nearest cache at eight channels, and being the same
/// whatever the number of channels and cores they make results the same to the last bit: where a
/// block ends, a run of summed energies ends.
const PIECE: usize = 512;

/// What is wanted of a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysis {
    /// Channels to analyse, from 1 as on the recorder; empty means all of them.
    pub channels: Vec<usize>,
    /// Width of the band filters.
    pub bandwidth: Bandwidth,
    /// Memory for the histories of all channels together, bytes.
    pub memory: usize,
    /// Time left out behind a trouble until the filters have forgotten it, s.
    pub settle: Seconds,
}

impl Default for Analysis {
    /// All channels, band edges at 3 dB, 80 MB of histories, 1 s to settle.
    fn default() -> Analysis {
        Analysis {
            channels: Vec::new(),
            bandwidth: Bandwidth::AtEdges,
            memory: 80_000_000,
            settle: Seconds(1.0),
        }
    }
}

/// What was heard in one channel.
#[derive(Clone, Debug)]
pub struct ChannelResults {
    /// Number, from 1.
    pub channel: usize,
    /// Energies in frames, relative to full scale.
    pub history: History,
    /// Calibrator tones.
    pub tones: Vec<Tone>,
    /// What is wrong, with times.
    pub troubles: Vec<Trouble>,
    /// Mean of the samples re full scale.
    pub offset: f64,
    /// Largest sample re full scale.
    pub largest: f64,
    /// What had to be said.
    pub remarks: Vec<Remark>,
    settle: Seconds,
}

/// What was heard in a recording.
#[derive(Clone, Debug)]
pub struct Heard {
    /// The file.
    pub format: Format,
    /// The channels asked for, in that order.
    pub channels: Vec<ChannelResults>,
    /// Remarks about the file.
    pub remarks: Vec<Remark>,
}

impl ChannelResults {
    /// Sensitivity from the tones of this channel, or as stated.
    ///
    /// # Errors
    /// As [`calibrate`].
    pub fn calibrate(&self, choice: CalibrationChoice) -> Result<Calibration, RecordingError> {
        calibrate(&self.tones, choice, self.channel)
    }

    /// Puts what was found onto a timeline: tones as calibration, troubles as exclusions that last
    /// until the filters have settled again. What the user said stays.
    pub fn mark(&self, timeline: &mut Timeline) {
        for tone in &self.tones {
            timeline.add(tone.from, tone.to, Kind::Calibration, Author::Found);
        }
        for trouble in self.troubles.iter().filter(|t| t.what.spoils_levels()) {
            timeline.add(
                trouble.from,
                trouble.to + self.settle,
                Kind::Excluded(trouble.what.to_string()),
                Author::Found,
            );
        }
    }

    /// Sound pressure levels over the time of a mask.
    pub fn levels(&self, mask: &Mask, sensitivity: Sensitivity) -> Statistics<wythe_bands::Level> {
        self.history.statistics(mask).calibrated(sensitivity)
    }
}

/// Reads a recording once and returns what every channel held. Memory does not grow with the
/// length of the file beyond [`Analysis::memory`]. `progress` hears the share done, 0 to 1.
///
/// # Errors
/// A channel that does not exist, or bytes that cannot be read.
pub fn analyse(
    samples: &mut (dyn Samples + '_),
    wish: &Analysis,
    progress: impl FnMut(f64),
) -> Result<Heard, RecordingError> {
    analyse_with_sink(samples, wish, progress, &mut NoSink)
}

/// As [`analyse`]; every frame is also handed to `sink`.
///
/// # Errors
/// As [`analyse`].
pub fn analyse_with_sink(
    samples: &mut (dyn Samples + '_),
    wish: &Analysis,
    mut progress: impl FnMut(f64),
    sink: &mut dyn FrameSink,
) -> Result<Heard, RecordingError> {
    let format = samples.format().clone();
    let wanted: Vec<usize> = if wish.channels.is_empty() {
        (1..=format.channels).collect()
    } else {
        wish.channels.clone()
    };
    if let Some(&wanted) = wanted.iter().find(|c| **c == 0 || **c > format.channels) {
        return Err(RecordingError::NoSuchChannel { wanted, present: format.channels });
    }
    let rate = f64::from(format.rate);
    let plan = Plan::new(rate, wish.bandwidth)?;
    let held: Vec<_> = plan.bands().collect();
    let memory = wish.memory / wanted.len().max(1);
    // One more for a last, shorter frame. A header that lies about the length costs no result.
    let expected = format.duration().map(|d| (d.0 * FRAMES_PER_SECOND as f64) as u64 + 1);
    let width = side_by_side(wanted.len(), rayon::current_num_threads());
    let mut groups: Vec<Group> = wanted
        .chunks(width)
        .map(|channels| Group {
            bank: bank(&plan, channels.len()),
            channels: channels
                .iter()
                .map(|&number| Ear {
                    number,
                    tones: ToneFinder::new(rate),
                    watch: Watch::new(rate, format.encoding),
                    history: History::new(held.clone(), memory, expected),
                    frames: 0,
                    line: Vec::new(),
                })
                .collect(),
            interleaved: Vec::new(),
            out: Vec::new(),
        })
        .collect();

    // Frames read at once: half a megabyte over all channels, which stays in the second cache, and a
    // thousand channels need no more than four.
    let block = (65_536 / format.channels / PIECE).clamp(1, 64) * PIECE;
    let mut buffer = vec![0.0; block * format.channels];
    let mut done = 0u64;
    loop {
        let frames = samples.read(&mut buffer)?;
        if frames == 0 {
            break;
        }
        let read = &buffer[..frames * format.channels];
        groups.par_iter_mut().for_each(|g| g.take(read, format.channels));
        for group in &mut groups {
            group.hand_over(sink);
        }
        done += frames as u64;
        if let Some(total) = samples.format().frames.filter(|t| *t > 0) {
            progress((done as f64 / total as f64).min(1.0));
        }
    }
    if done == 0 {
        return Err(RecordingError::Empty);
    }
    groups.par_iter_mut().for_each(|g| g.bank.finish());
    for group in &mut groups {
        group.hand_over(sink);
    }

    let mut remarks = samples.remarks().to_vec();
    let missing: Vec<&str> = wythe_bands::Band::all()
        .filter(|b| plan.place(*b).is_none())
        .map(|b| b.nominal())
        .collect();
    if !missing.is_empty() {
        remarks.push(Remark::new(
            "recording::bands-not-held",
            format!("{} Hz do not fit into a sample rate of {rate} Hz", missing.join(", ")),
        ));
    }
    let weighting = crate::weighting_filter::WeightingFilter::new(rate);
    if weighting.largest_error.0 > 0.05 || weighting.valid_to.0 < 20_000.0 {
        remarks.push(Remark::new(
            "recording::weighting-limited",
            format!(
                "at {rate} Hz A and C follow their curves within {:.2} dB up to {:.0} Hz; what lies \
                 above is not in the recording",
                weighting.largest_error.0, weighting.valid_to.0
            ),
        ));
    }
    let bad = samples.bad_spans();
    let channels = groups
        .into_iter()
        .flat_map(|g| g.channels)
        .map(|ear| ear.results(bad, rate, wish.settle))
        .collect();
    progress(1.0);
    Ok(Heard { format: samples.format().clone(), channels, remarks })
}

/// Channels side by side in one group: as many as fill the lanes while every core has a group.
fn side_by_side(channels: usize, cores: usize) -> usize {
    [1, 2, 4, 8].into_iter().find(|w| channels.div_ceil(*w) <= cores.max(1)).unwrap_or(8)
}

struct Ear {
    number: usize,
    tones: ToneFinder,
    watch: Watch,
    history: History,
    frames: u64,
    line: Vec<f64>,
}

struct Group {
    bank: Box<dyn Bank>,
    channels: Vec<Ear>,
    interleaved: Vec<f64>,
    out: Vec<crate::bank::FrameOut>,
}

impl Group {
    fn take(&mut self, read: &[f64], stride: usize) {
        let width = self.bank.width();
        for piece in read.chunks(PIECE * stride) {
            let frames = piece.len() / stride;
            // The whole file in its own order needs no sorting.
            let as_it_is = width == stride
                && self.channels.len() == stride
                && self.channels.iter().enumerate().all(|(lane, ear)| ear.number == lane + 1);
            if !as_it_is {
                self.interleaved.resize(frames * width, 0.0);
            }
            for (lane, ear) in self.channels.iter_mut().enumerate() {
                let at = ear.number - 1;
                crate::lanes::pick(piece, stride, at, &mut ear.line);
                if !as_it_is {
                    for (to, x) in self.interleaved.chunks_exact_mut(width).zip(&ear.line) {
                        to[lane] = *x;
                    }
                }
                ear.tones.push(&ear.line);
                ear.watch.push(&ear.line);
            }
            self.bank.push(if as_it_is { piece } else { &self.interleaved });
        }
        self.keep();
    }

    /// Moves finished frames into the histories.
    fn keep(&mut self) {
        let frames = self.bank.frames();
        for frame in &frames {
            for (ear, energies) in self.channels.iter_mut().zip(&frame.channels) {
                ear.history.push(energies, frame.seconds);
            }
        }
        self.out.extend(frames);
    }

    fn hand_over(&mut self, sink: &mut dyn FrameSink) {
        self.keep();
        for frame in self.out.drain(..) {
            for (ear, energies) in self.channels.iter_mut().zip(&frame.channels) {
                sink.frame(Frame {
                    channel: ear.number,
                    index: ear.frames,
                    seconds: frame.seconds,
                    energies,
                });
                ear.frames += 1;
            }
        }
    }
}

impl Ear {
    fn results(
        mut self,
        bad: &[crate::sound_file::BadSpan],
        rate: f64,
        settle: Seconds,
    ) -> ChannelResults {
        self.history.finish();
        let (offset, rms, largest) = (self.watch.offset(), self.watch.rms(), self.watch.largest());
        let mut troubles = self.watch.finish();
        for span in bad.iter().filter(|s| s.channel + 1 == self.number) {
            troubles.push(Trouble {
                from: Seconds(span.from as f64 / rate),
                to: Seconds(span.to as f64 / rate),
                what: What::NotANumber,
            });
        }
        troubles.sort_by(|a, b| a.from.0.total_cmp(&b.from.0));
        let mut remarks: Vec<Remark> = troubles.iter().map(|t| t.remark(self.number)).collect();
        let place = format!("channel {}", self.number);
        if rms == 0.0 {
            remarks.push(
                Remark::new("recording::silent", "this channel is digital silence throughout")
                    .at(place.clone()),
            );
        }
        // An offset adds to Z alone; 10 lg(1 + o²/(rms² − o²)) above 0.1 dB is worth a word.
        let share = offset * offset / (rms * rms - offset * offset).max(1e-30);
        if rms > 0.0 && 10.0 * (1.0 + share).log10() > 0.1 {
            remarks.push(
                Remark::new(
                    "recording::offset",
                    format!(
                        "the samples have a constant part of {:.1} dB re full scale, which raises \
                         the unweighted level; bands, A and C are free of it",
                        20.0 * offset.abs().log10()
                    ),
                )
                .at(place),
            );
        }
        ChannelResults {
            channel: self.number,
            history: self.history,
            tones: self.tones.finish(),
            troubles,
            offset,
            largest,
            remarks,
            settle,
        }
    }
}

/// Systematic surplus of every band on broadband noise, dB, for the report: the filters of the
/// [`Bandwidth::AtEdges`] kind read this much above an ideal band.
///
/// # Errors
/// Refuses rates outside of 2 to 768 kHz.
pub fn bandwidth_surplus(
    rate: f64,
    bandwidth: Bandwidth,
) -> Result<wythe_bands::Spectrum<LevelDifference>, RecordingError> {
    let plan = Plan::new(rate, bandwidth)?;
    Ok(plan.bands().filter_map(|b| Some((b, crate::class::bandwidth_surplus(&plan, b)?))).collect())
}
