//! `wythe listen`: what a recording made in one room sounds like in another, now and after
//! changes, with the background of that room, and never louder than a stated peak.

mod filter;
mod limiter;

use std::fs::File;
use std::io::BufReader;
use std::path::PathBuf;

use serde_json::{Value, json};
use wythe_bands::{Level, LevelDifference, Remark, Spectrum, weighting::Weighting};
use wythe_building::{Building, RoomIndex};
use wythe_recording::test_signal::SplitMix64;
use wythe_recording::wav::{Depth, WavWriter};
use wythe_recording::{RecordingError, Samples, open};
use wythe_remedy::{apply, cheapest, in_order};
use wythe_transmission::{Cache, assemble};

use crate::args::{self, Common};
use crate::commands::predict::no_room;
use crate::commands::remedy::changes_named;
use crate::failure::Failure;
use crate::found::Found;
use crate::load;
use crate::output::{Done, Table, levels, one, print, print_json, remarks, remarks_text, rounded};
use crate::write;

use filter::{Convolver, density_filter, gain_filter};
use limiter::Limiter;

/// Reference pressure, Pa.
const P0: f64 = 20e-6;
/// Peak nobody may set higher, dB.
const HIGHEST_PEAK: f64 = 100.0;
/// Peak of the file where no playback level is stated, re full scale: well below ordinary music,
/// so that a playback set for music stays moderate (common practice, no source).
const RELATIVE_PEAK: f64 = 0.1;
/// Fade at both ends, s.
const FADE: f64 = 0.25;
/// Crossing from one state to the next, s. The states carry the same sound, so weights that add
/// up to one leave no dip and no click.
const CROSS: f64 = 0.03;
/// Beats per second of the noise that stands for a source.
const BEATS: f64 = 2.0;

/// One state of the building to listen to.
struct State {
    name: String,
    difference: Spectrum<LevelDifference>,
}

/// Runs the command.
pub fn run(args: &args::Listen, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let base = Found::new(&args.folder, &project, args.as_described);
    let building = &base.building;
    let room = building.room(&args.room).ok_or_else(|| no_room(building, &args.room))?;
    let from = source_room(building, args)?;
    if from == room {
        return Err(Failure::new(
            "the source plays in that very room",
            "choose another room with --room",
        ));
    }
    if !(args.peak > 0.0 && args.peak <= HIGHEST_PEAK) {
        return Err(Failure::new(
            format!("a peak of {} dB is not allowed", args.peak),
            "give more than 0 and at most 100 dB; 85 dB is taken if you leave it out",
        ));
    }
    if args.playback.is_some_and(|p| !(40.0..=140.0).contains(&p)) {
        return Err(Failure::new(
            "a playback level for full scale is usually 80 to 120 dB",
            "play a sine at digital full scale far below that volume, measure, and add the \
             difference; give 40 to 140",
        ));
    }
    if !(args.switch_every >= 0.5 && args.switch_every <= 600.0) {
        return Err(Failure::new("the time to switch must be 0.5 to 600 s", "4 s is usual"));
    }
    if !(args.seconds >= 1.0 && args.seconds <= 3600.0) {
        return Err(Failure::new("the length must be 1 to 3600 s", "60 s is usual"));
    }
    let mut said = base.said.clone();
    if base.by_recordings {
        said.push(Remark::new("listen::as-found", base.sentence()));
    }
    let states = states(building, args, from, room, &mut said)?;
    let source = building.sources.iter().find(|s| s.room == from);
    let input = Input::new(args, source.map(|s| s.levels))?;
    let pascal = input.pascal(args, source.map(|s| s.levels), &mut said)?;
    let background = match (&building.rooms[room.0].background, args.no_background) {
        (Some(b), false) => Some(*b),
        (None, false) => {
            said.push(Remark::new(
                "listen::no-background",
                format!(
                    "no background is on file for {}; in truth something hides the rest",
                    args.room
                ),
            ));
            None
        }
        (_, true) => None,
    };
    let mut chain = Chain { input: &input, pascal, states: &states, background, args };
    let scale = match args.playback {
        Some(p) => 1.0 / (std::f64::consts::SQRT_2 * P0 * 10f64.powf(p / 20.0)),
        None => {
            said.push(Remark::new(
                "listen::relative-only",
                "no playback level is stated, so only the differences between the states are true; \
                 start with the volume down, and give --playback to hear it at its level",
            ));
            let peak = chain.peak()?;
            if peak > 0.0 { RELATIVE_PEAK / peak } else { 0.0 }
        }
    };
    let ceiling = match args.playback {
        Some(_) => (P0 * 10f64.powf(args.peak / 20.0) * scale).min(0.99),
        // A hair above the peak it was scaled to, or the limiter would turn that peak down.
        None => 1.01 * RELATIVE_PEAK,
    };
    let made = chain.write(scale, ceiling)?;
    if made.limited > 0.0 {
        said.push(Remark::new(
            "listen::limited",
            format!(
                "peaks above {} were turned down for {:.1} s; all states alike",
                match args.playback {
                    Some(_) => format!("{:.0} dB or full scale", args.peak),
                    None => "the limit".into(),
                },
                made.limited
            ),
        ));
    }
    said.push(Remark::new(
        "listen::what-it-is",
        "a prediction made audible: band levels as calculated, without the reverberation of the \
         room, without impacts through the structure, as uncertain as the prediction; a volume is \
         never known from a file, so begin quietly",
    ));
    if common.json {
        print_json(&record(args, &input, source.map(|s| s.levels), &states, &made, &said))?;
    } else {
        print(&text(building, args, room, source.map(|s| s.levels), &states, &made, &said))?;
    }
    Ok(Done { attention: false })
}

fn source_room(building: &Building, args: &args::Listen) -> Result<RoomIndex, Failure> {
    if let Some(word) = &args.in_room {
        return building.room(word).ok_or_else(|| no_room(building, word));
    }
    let mut rooms: Vec<RoomIndex> = building.sources.iter().map(|s| s.room).collect();
    rooms.sort_unstable();
    rooms.dedup();
    match rooms.as_slice() {
        [only] => Ok(*only),
        [] => Err(Failure::new(
            "no source says which room the recording was made in",
            "name it with --in-room",
        )),
        _ => Err(Failure::new("there are sources in several rooms", "name one with --in-room")),
    }
}

fn states(
    building: &Building,
    args: &args::Listen,
    from: RoomIndex,
    room: RoomIndex,
    said: &mut Vec<Remark>,
) -> Result<Vec<State>, Failure> {
    let mut cache = Cache::default();
    let mut sets: Vec<(String, Vec<usize>)> = vec![("now".into(), Vec::new())];
    for word in &args.after {
        let set = if word == "plan" || word == "steps" {
            let plan = cheapest(building, &mut cache, building.limits.budget)
                .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
            if !plan.outcome.met() {
                said.push(Remark::new(
                    "listen::plan-misses",
                    "the plan does not meet every target; it is the nearest that was found",
                ));
            }
            if word == "steps" {
                let row = in_order(building, &plan.changes, &mut cache)
                    .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
                let mut made = Vec::new();
                for (i, step) in row.iter().enumerate() {
                    made.push(step.change);
                    let title = &building.changes[step.change].title;
                    sets.push((format!("step {}: {title}", i + 1), made.clone()));
                }
                continue;
            }
            plan.changes
        } else {
            changes_named(building, word)?
        };
        sets.push((word.clone(), set));
    }
    let played = |b: &Building| b.sources.iter().find(|s| s.room == from).map(|s| s.levels);
    let before = played(building);
    sets.into_iter()
        .map(|(name, set)| {
            let changed = apply(building, &set);
            let model = assemble(&changed, &mut cache)
                .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
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
                    format!("no way is described from there to `{}`", args.room),
                    "describe the boundaries between the rooms",
                ));
            }
            Ok(State { name, difference })
        })
        .collect()
}

/// Where the sound comes from.
enum Input {
    /// A file, one channel of it.
    File { path: PathBuf, channel: usize, rate: u32 },
    /// Noise with the levels of the project's source, beaten.
    Noise { levels: Spectrum<Level>, rate: u32 },
}

impl Input {
    fn new(args: &args::Listen, levels: Option<Spectrum<Level>>) -> Result<Input, Failure> {
        if args.from == "source" {
            let levels = levels.filter(|l| !l.is_empty()).ok_or_else(|| {
                Failure::new("the project has no source in that room", "add a [[source]]")
            })?;
            return Ok(Input::Noise { levels, rate: 48_000 });
        }
        let direct = PathBuf::from(&args.from);
        let path = if direct.exists() { direct } else { args.folder.join(&args.from) };
        let samples = samples(&path)?;
        let format = samples.format();
        if args.channel == 0 || args.channel > format.channels {
            return Err(Failure::file(
                &path,
                format!("has {} channels, not a channel {}", format.channels, args.channel),
                "choose one with --channel",
            ));
        }
        if !(8_000..=192_000).contains(&format.rate) {
            return Err(Failure::file(&path, "has a sample rate outside 8 to 192 kHz", ""));
        }
        Ok(Input::File { path, channel: args.channel, rate: format.rate })
    }

    fn rate(&self) -> u32 {
        match self {
            Input::File { rate, .. } | Input::Noise { rate, .. } => *rate,
        }
    }

    /// Pressure of a sample of one, Pa.
    fn pascal(
        &self,
        args: &args::Listen,
        levels: Option<Spectrum<Level>>,
        said: &mut Vec<Remark>,
    ) -> Result<f64, Failure> {
        if matches!(self, Input::Noise { .. }) {
            return Ok(1.0);
        }
        if let Some(word) = &args.full_scale {
            return word
                .trim()
                .strip_suffix("Pa")
                .and_then(|n| n.trim().parse::<f64>().ok())
                .filter(|p| *p > 0.0 && *p < 1e6)
                .ok_or_else(|| {
                    Failure::new(
                        format!("`{word}` is no pressure of full scale"),
                        "write it like \"20 Pa\"",
                    )
                });
        }
        let wanted = levels.and_then(|l| l.total()).ok_or_else(|| {
            Failure::new(
                "nobody says how loud the recording was",
                "give --full-scale, or describe a source in that room",
            )
        })?;
        let (mut sum, mut count) = (0.0, 0u64);
        self.each_block(args.seconds, 65_536, &mut |block| {
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

struct Chain<'a> {
    input: &'a Input,
    pascal: f64,
    states: &'a [State],
    background: Option<Spectrum<Level>>,
    args: &'a args::Listen,
}

struct Made {
    seconds: f64,
    limited: f64,
    /// Peak of the file, re full scale.
    peak: f64,
}

impl Chain<'_> {
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
        self.input.each_block(self.args.seconds, size, &mut |block| {
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
    fn peak(&mut self) -> Result<f64, Failure> {
        let mut most = 0.0f64;
        self.each(&mut |states| {
            most = states.iter().flatten().fold(most, |m, x| m.max(x.abs()));
            Ok(())
        })?;
        Ok(most)
    }

    fn write(&mut self, scale: f64, ceiling: f64) -> Result<Made, Failure> {
        let rate = self.input.rate();
        let count = self.states.len();
        let channels = if self.args.channels { count } else { 1 };
        let every = self.args.switch_every * f64::from(rate);
        let split = self.args.channels;
        // Two passes over the input, so that the fade at the end is known: counting is cheap
        // beside filtering, and memory stays constant.
        let total = self.input.each_block(self.args.seconds, 65_536, &mut |_| Ok(()))?;
        if total == 0 {
            return Err(Failure::new("the recording holds no samples", "choose another"));
        }
        let fade = (FADE * f64::from(rate)).min(total as f64 / 2.0);
        let cross = CROSS * f64::from(rate);
        let path = self.args.output.clone();
        let mut made = Made { seconds: total as f64 / f64::from(rate), limited: 0.0, peak: 0.0 };
        let mut failed = None;
        let written = write::atomically(&path, |file| {
            let other = |e: RecordingError| std::io::Error::other(e.to_string());
            let mut writer = WavWriter::new(file, rate, channels, Depth::Int24).map_err(other)?;
            let mut limiter = Limiter::new(channels, (0.02 * f64::from(rate)) as usize, ceiling);
            let mut at = 0u64;
            let mut put = |frames: &[f64], made: &mut Made| {
                made.peak = frames.iter().fold(made.peak, |m, x| m.max(x.abs()));
                writer.write(frames).map_err(other)
            };
            let done = self.each(&mut |states| {
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
                put(&out, &mut made).map_err(Failure::from)
            });
            if let Err(e) = done {
                failed = Some(e);
                return Err(std::io::Error::other("stopped"));
            }
            let rest = limiter.rest();
            put(&rest, &mut made)?;
            made.limited = limiter.limited() as f64 / f64::from(rate);
            writer.finish().map_err(other)?;
            Ok(())
        });
        if let Some(e) = failed {
            return Err(e);
        }
        written?;
        Ok(made)
    }
}

/// From 0 to 1 as half a cosine.
fn ramp(x: f64) -> f64 {
    0.5 - 0.5 * (std::f64::consts::PI * x.clamp(0.0, 1.0)).cos()
}

fn arriving(source: Option<Spectrum<Level>>, state: &State) -> Option<Spectrum<Level>> {
    source.map(|s| s.zip_with(&state.difference, |l, d| l - d))
}

fn record(
    args: &args::Listen,
    input: &Input,
    source: Option<Spectrum<Level>>,
    states: &[State],
    made: &Made,
    said: &[Remark],
) -> Value {
    let all: Vec<Value> = states
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let there = arriving(source, s);
            json!({
                "state": s.name,
                "channel": args.channels.then_some(i + 1),
                "difference_db": crate::output::differences(&s.difference),
                "level_db": there.map(|l| levels(&l)),
                "level_dba": there
                    .and_then(|l| l.weighted_total(Weighting::A))
                    .map(|l| rounded(l.0, 1)),
            })
        })
        .collect();
    json!({
        "file": args.output.display().to_string(), "sample_rate_hz": input.rate(),
        "seconds": rounded(made.seconds, 3), "states": all,
        "switch_every_s": (!args.channels).then_some(args.switch_every),
        "playback_full_scale_db": args.playback,
        "peak_limit_db": args.playback.map(|_| args.peak),
        "peak_of_file_dbfs": rounded(20.0 * made.peak.max(1e-12).log10(), 2),
        "limited_s": rounded(made.limited, 3), "remarks": remarks(said),
    })
}

fn text(
    building: &Building,
    args: &args::Listen,
    room: RoomIndex,
    source: Option<Spectrum<Level>>,
    states: &[State],
    made: &Made,
    said: &[Remark],
) -> String {
    let mut out = format!(
        "{}: {:.0} s as heard in {}.\n\n",
        args.output.display(),
        made.seconds,
        building.rooms[room.0].name()
    );
    let mut table = Table::new(1, &["State", "where in the file", "level of the project's source"]);
    for (i, s) in states.iter().enumerate() {
        let place = if args.channels {
            format!("channel {}", i + 1)
        } else if states.len() == 1 {
            "all of it".into()
        } else {
            format!(
                "{:.1} s each time, from {:.1} s",
                args.switch_every,
                i as f64 * args.switch_every
            )
        };
        let level = arriving(source, s)
            .and_then(|l| l.weighted_total(Weighting::A))
            .map(|l| format!("{} dBA", one(l.0)))
            .unwrap_or_default();
        table.row(vec![s.name.clone(), place, level]);
    }
    out.push_str(&table.text());
    out.push_str(&match args.playback {
        Some(p) => format!(
            "  true to level where a sine at full scale plays at {p:.0} dB; peaks held below {:.0} dB\n",
            args.peak
        ),
        None => "  relative only: peaks 20 dB below full scale\n".to_owned(),
    });
    out.push_str(&remarks_text(said));
    out
}
