//! What a sound in one room sounds like in another, in several states of a building: made safe for
//! ears and loudspeakers, since a volume is never known from a file.

pub mod filter;
pub mod limiter;

use std::fs::File;
use std::io::{BufReader, Seek, Write};
use std::path::PathBuf;

use wythe_bands::{Level, LevelDifference, Remark, Spectrum};
use wythe_building::{Building, RoomIndex};
use wythe_recording::test_signal::SplitMix64;
use wythe_recording::wav::{Depth, WavWriter};
use wythe_recording::{RecordingError, Samples, open};
use wythe_remedy::apply;
use wythe_transmission::{Cache, assemble};

use crate::failure::Failure;

use filter::{Convolver, density_filter, gain_filter};
use limiter::Limiter;

/// Reference pressure, Pa.
pub const P0: f64 = 20e-6;
/// Peak nobody may set higher, dB.
pub const HIGHEST_PEAK: f64 = 100.0;
/// Peak of the file where no playback level is stated, re full scale: well below ordinary music,
/// so that a playback set for music stays moderate (common practice, no source).
pub const RELATIVE_PEAK: f64 = 0.1;
/// Fade at both ends, s.
const FADE: f64 = 0.25;
/// Crossing from one state to the next, s. The states carry the same sound, so weights that add
/// up to one leave no dip and no click.
const CROSS: f64 = 0.03;
/// Beats per second of the noise that stands for a source.
const BEATS: f64 = 2.0;

/// One state of the building to listen to.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// What it is called.
    pub name: String,
    /// How much quieter it is in the room, per band.
    pub difference: Spectrum<LevelDifference>,
}

/// The states that come of sets of changes, heard in a room while something sounds in another.
///
/// # Errors
/// [`Failure`] where the building cannot be calculated, or no way leads there.
pub fn states(
    building: &Building,
    from: RoomIndex,
    room: RoomIndex,
    sets: Vec<(String, Vec<usize>)>,
) -> Result<Vec<State>, Failure> {
    let mut cache = Cache::default();
    let played = |b: &Building| b.sources.iter().find(|s| s.room == from).map(|s| s.levels);
    let before = played(building);
    sets.into_iter()
        .map(|(name, set)| {
            let changed = apply(building, &set);
            let model =
                assemble(&changed, &mut cache).map_err(|e| Failure::new(e.to_string(), ""))?;
            let field = model.from_source(from);
            let mut difference = field.at(room).map(|r| r.difference).unwrap_or(Spectrum::empty());
            // Playing more quietly is heard as well, though the building is the same.
            if let (Some(a), Some(b)) = (before, played(&changed)) {
                let quieter = a.zip_with(&b, |a, b| a - b);
                difference = difference
                    .map(|band, d| LevelDifference(d.0 + quieter.get(band).map_or(0.0, |q| q.0)));
            }
            if difference.is_empty() {
                return Err(Failure::new(
                    format!("no way is described from there to {}", building.rooms[room.0].name()),
                    "describe the boundaries between the rooms",
                ));
            }
            Ok(State { name, difference })
        })
        .collect()
}

/// Where the sound comes from.
pub enum Input {
    /// A file, one channel of it.
    File {
        /// Where it is.
        path: PathBuf,
        /// Channel, counted from 1.
        channel: usize,
        /// Samples per second.
        rate: u32,
    },
    /// Noise with the levels of the project's source, beaten.
    Noise {
        /// Its levels.
        levels: Spectrum<Level>,
        /// Samples per second.
        rate: u32,
    },
}

impl Input {
    /// One channel, counted from 1, of a recording.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read or has no such channel.
    pub fn file(path: PathBuf, channel: usize) -> Result<Input, Failure> {
        let samples = samples(&path)?;
        let format = samples.format();
        if channel == 0 || channel > format.channels {
            return Err(Failure::file(
                &path,
                format!("has {} channels, not a channel {channel}", format.channels),
                "choose one with --channel",
            ));
        }
        if !(8_000..=192_000).contains(&format.rate) {
            return Err(Failure::file(&path, "has a sample rate outside 8 to 192 kHz", ""));
        }
        let rate = format.rate;
        Ok(Input::File { path, channel, rate })
    }

    /// Beaten noise with the levels of a source.
    ///
    /// # Errors
    /// [`Failure`] where it has none.
    pub fn noise(levels: Option<Spectrum<Level>>) -> Result<Input, Failure> {
        let levels = levels.filter(|l| !l.is_empty()).ok_or_else(|| {
            Failure::new("the project has no source in that room", "add a [[source]]")
        })?;
        Ok(Input::Noise { levels, rate: 48_000 })
    }

    /// Samples per second.
    pub fn rate(&self) -> u32 {
        match self {
            Input::File { rate, .. } | Input::Noise { rate, .. } => *rate,
        }
    }

    /// Pressure of a sample of one, Pa: as stated, else such that the sound is as loud as the
    /// source, which is then said.
    ///
    /// # Errors
    /// [`Failure`] where nobody says how loud it was.
    pub fn pascal(
        &self,
        full_scale: Option<f64>,
        seconds: f64,
        levels: Option<Spectrum<Level>>,
        said: &mut Vec<Remark>,
    ) -> Result<f64, Failure> {
        if matches!(self, Input::Noise { .. }) {
            return Ok(1.0);
        }
        if let Some(pascal) = full_scale {
            return Ok(pascal);
        }
        let wanted = levels.and_then(|l| l.total()).ok_or_else(|| {
            Failure::new(
                "nobody says how loud the recording was",
                "give --full-scale, or describe a source in that room",
            )
        })?;
        let (mut sum, mut count) = (0.0, 0u64);
        self.each_block(seconds, 65_536, &mut |block| {
            sum += block.iter().map(|x| x * x).sum::<f64>();
            count += block.len() as u64;
            Ok(())
        })?;
        if sum <= 0.0 {
            return Err(Failure::new("the recording is silent", "choose another channel"));
        }
        said.push(Remark::new(
            "listen::level-of-the-source",
            format!(
                "the recording is taken to be as loud as the project's source, {:.0} dB; give \
                 --full-scale to use its own level",
                wanted.0
            ),
        ));
        Ok(P0 * 10f64.powf(wanted.0 / 20.0) / (sum / count as f64).sqrt())
    }

    /// Blocks of exactly `size` samples, the last filled up with silence.
    fn each_block(
        &self,
        seconds: f64,
        size: usize,
        each: &mut dyn FnMut(&[f64]) -> Result<(), Failure>,
    ) -> Result<u64, Failure> {
        let most = (seconds * f64::from(self.rate())) as u64;
        let mut done = 0u64;
        match self {
            Input::Noise { levels, rate } => {
                let taps = density_filter(levels, f64::from(*rate));
                let mut shape = Convolver::new(&[taps], size);
                let mut random = SplitMix64::new(0x00D2_0BEA);
                let rate = f64::from(*rate);
                // Mean square of e^(−t/τ) over one beat is made one.
                let (tau, beat) = (0.15, 1.0 / BEATS);
                let mean = tau / (2.0 * beat) * (1.0 - (-2.0 * beat / tau).exp());
                while done < most {
                    let white: Vec<f64> = (0..size).map(|_| random.gauss()).collect();
                    let mut block = shape.run(&white).swap_remove(0);
                    for (k, x) in block.iter_mut().enumerate() {
                        let t = (done as f64 + k as f64) / rate % beat;
                        // A rise of 2 ms, or every beat would click.
                        let rise = (t / 0.002).min(1.0);
                        *x *= rise * (-t / tau).exp() / mean.sqrt();
                    }
                    each(&block)?;
                    done += size as u64;
                }
            }
            Input::File { path, channel, .. } => {
                let mut reader = samples(path)?;
                let channels = reader.format().channels;
                let mut frames = vec![0.0; 4096 * channels];
                let mut block: Vec<f64> = Vec::with_capacity(size);
                let refuse = |e: RecordingError| Failure::file(path, e.to_string(), "");
                while done < most {
                    let got = reader.read(&mut frames).map_err(refuse)?;
                    if got == 0 {
                        break;
                    }
                    for frame in frames[..got * channels].chunks_exact(channels) {
                        block.push(frame[channel - 1]);
                        done += 1;
                        if block.len() == size {
                            each(&block)?;
                            block.clear();
                        }
                        if done >= most {
                            break;
                        }
                    }
                }
                if !block.is_empty() {
                    block.resize(size, 0.0);
                    each(&block)?;
                }
            }
        }
        Ok(done.min(most))
    }
}

fn samples(path: &std::path::Path) -> Result<Box<dyn Samples>, Failure> {
    let file = File::open(path).map_err(|e| Failure::unreadable(path, &e))?;
    open(BufReader::with_capacity(1 << 20, file))
        .map_err(|e| Failure::file(path, e.to_string(), "give a WAV or FLAC recording"))
}

/// One sound heard in several states of a building.
pub struct Chain<'a> {
    input: &'a Input,
    pascal: f64,
    states: &'a [State],
    background: Option<Spectrum<Level>>,
    seconds: f64,
}

/// What was made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Made {
    /// Length, s.
    pub seconds: f64,
    /// How long peaks were turned down, s.
    pub limited: f64,
    /// Peak of the file, re full scale.
    pub peak: f64,
}

impl<'a> Chain<'a> {
    /// A sound of so many seconds, a sample of one being so many pascals, in these states and with
    /// the background of the room.
    pub fn new(
        input: &'a Input,
        pascal: f64,
        states: &'a [State],
        background: Option<Spectrum<Level>>,
        seconds: f64,
    ) -> Chain<'a> {
        Chain { input, pascal, states, background, seconds }
    }

    /// Every state of every block, pascals.
    fn each(
        &mut self,
        each: &mut dyn FnMut(Vec<Vec<f64>>) -> Result<(), Failure>,
    ) -> Result<u64, Failure> {
        let rate = f64::from(self.input.rate());
        let filters: Vec<Vec<f64>> =
            self.states.iter().map(|s| gain_filter(&s.difference, rate)).collect();
        let size = filters.first().map_or(16_384, Vec::len);
        let mut convolver = Convolver::new(&filters, size);
        let mut hum = self
            .background
            .map(|b| (Convolver::new(&[density_filter(&b, rate)], size), SplitMix64::new(0xBAC6)));
        let pascal = self.pascal;
        self.input.each_block(self.seconds, size, &mut |block| {
            let loud: Vec<f64> = block.iter().map(|x| x * pascal).collect();
            let mut out = convolver.run(&loud);
            if let Some((shape, random)) = &mut hum {
                let white: Vec<f64> = (0..size).map(|_| random.gauss()).collect();
                let noise = shape.run(&white).swap_remove(0);
                for state in &mut out {
                    state.iter_mut().zip(&noise).for_each(|(x, n)| *x += n);
                }
            }
            each(out)
        })
    }

    /// Largest pressure of any state, Pa.
    ///
    /// # Errors
    /// [`Failure`] where the sound cannot be read.
    pub fn peak(&mut self) -> Result<f64, Failure> {
        let mut most = 0.0f64;
        self.each(&mut |states| {
            most = states.iter().flatten().fold(most, |m, x| m.max(x.abs()));
            Ok(())
        })?;
        Ok(most)
    }

    /// Writes the sound: pascals times `scale`, no sample above `ceiling`. The states follow each
    /// other in one channel, or have a channel each where `every`, the time of a turn in s, is
    /// `None`.
    ///
    /// # Errors
    /// [`Failure`] where the sound cannot be read or written.
    pub fn write(
        &mut self,
        out: impl Write + Seek,
        scale: f64,
        ceiling: f64,
        every: Option<f64>,
    ) -> Result<Made, Failure> {
        let rate = self.input.rate();
        let count = self.states.len();
        let split = every.is_none();
        let channels = if split { count } else { 1 };
        let every = every.unwrap_or(1.0) * f64::from(rate);
        // Two passes over the input, so that the fade at the end is known: counting is cheap
        // beside filtering, and memory stays constant.
        let total = self.input.each_block(self.seconds, 65_536, &mut |_| Ok(()))?;
        if total == 0 {
            return Err(Failure::new("the recording holds no samples", "choose another"));
        }
        let fade = (FADE * f64::from(rate)).min(total as f64 / 2.0);
        let cross = CROSS * f64::from(rate);
        let mut made = Made { seconds: total as f64 / f64::from(rate), limited: 0.0, peak: 0.0 };
        let other = |e: RecordingError| Failure::new(e.to_string(), "make room on the disk");
        let mut writer = WavWriter::new(out, rate, channels, Depth::Int24).map_err(other)?;
        let mut limiter = Limiter::new(channels, (0.02 * f64::from(rate)) as usize, ceiling);
        let mut at = 0u64;
        let mut put = |frames: &[f64], made: &mut Made| {
            made.peak = frames.iter().fold(made.peak, |m, x| m.max(x.abs()));
            writer.write(frames).map_err(other)
        };
        self.each(&mut |states| {
            let size = states.first().map_or(0, Vec::len);
            let mut frames = Vec::with_capacity(size * channels);
            let left = total.saturating_sub(at).min(size as u64) as usize;
            for n in 0..left {
                let t = at as f64 + n as f64;
                let ends = ramp(t / fade) * ramp((total as f64 - t) / fade);
                if split {
                    frames.extend(states.iter().map(|s| s[n] * scale * ends));
                } else {
                    // Weight of each state: one in its turn, crossing at its beginning.
                    let turn = (t / every).floor();
                    let into = ramp((t - turn * every) / cross);
                    let now = turn as usize % count;
                    let before = (now + count - 1) % count;
                    let share = if turn < 1.0 { 1.0 } else { into };
                    let x = share * states[now][n] + (1.0 - share) * states[before][n];
                    frames.push(x * scale * ends);
                }
            }
            at += left as u64;
            let out = limiter.run(&frames);
            put(&out, &mut made)
        })?;
        let rest = limiter.rest();
        put(&rest, &mut made)?;
        made.limited = limiter.limited() as f64 / f64::from(rate);
        writer.finish().map_err(other)?;
        Ok(made)
    }
}

/// From 0 to 1 as half a cosine.
fn ramp(x: f64) -> f64 {
    0.5 - 0.5 * (std::f64::consts::PI * x.clamp(0.0, 1.0)).cos()
}
