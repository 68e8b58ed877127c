//! `wythe sweep`: a signal to measure rooms with, at a level that hurts nobody by default.

use std::fs::File;
use std::io::{BufReader, BufWriter};
use std::path::{Path, PathBuf};

use serde_json::json;
use wythe_bands::{Hertz, Seconds};
use wythe_recording::sweep::Sweep;
use wythe_recording::{LONGEST_STRETCH, RecordingError, open, read_stretches, wav};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::output::{Done, print, print_json, rounded, wrap};
use crate::write;

/// Silence in front of the sweep and behind it, s: the room has to ring out.
const BEFORE: f64 = 1.0;
const BEHIND: f64 = 4.0;
/// No louder than this; what comes behind the converter needs room as well.
const LOUDEST: f64 = -3.0;
/// Length of a folded response that is kept, s.
const KEPT: f64 = 5.0;

const CAUTION: &str = "A sweep is loud for long, and it ends in the highest tones: it can harm hearing \
    and loudspeakers, tweeters first. Begin with the amplifier turned down, raise it step by step, stay \
    out of the room or wear protection, and keep others out. The level here says nothing about the level \
    in the room.";

/// Runs the command.
pub fn run(args: &args::Sweep, common: &Common) -> Result<Done, Failure> {
    let refuse = |e: RecordingError| Failure::new(e.to_string(), "see `wythe sweep --help`");
    if !(args.level <= LOUDEST && args.level >= -80.0) {
        return Err(Failure::new(
            format!("a level of {} dB re full scale is not written", args.level),
            format!("−80 to {LOUDEST} dB are possible; raise the amplifier instead"),
        ));
    }
    let mut sweep =
        Sweep::new(Hertz(args.from), Hertz(args.to), Seconds(args.length), f64::from(args.rate))
            .map_err(refuse)?;
    sweep.amplitude = 10f64.powf(args.level / 20.0);
    if let Some(recording) = &args.fold {
        return fold(&sweep, recording, &args.out, common);
    }
    let rate = f64::from(args.rate);
    let mut signal = vec![0.0; (BEFORE * rate) as usize];
    signal.extend(sweep.signal());
    signal.resize(signal.len() + (BEHIND * rate) as usize, 0.0);
    let inverse = beside(&args.out, "inverse");
    for path in [&args.out, &inverse] {
        if path.exists() {
            return Err(Failure::file(
                path,
                "is there already, and nothing is written over",
                "choose another name",
            ));
        }
    }
    sound(&args.out, args.rate, 1, wav::Depth::Int24, &signal)?;
    sound(&inverse, args.rate, 1, wav::Depth::Float32, &sweep.inverse())?;
    if common.json {
        print_json(&json!({
            "file": args.out.display().to_string(),
            "inverse": inverse.display().to_string(),
            "from_hz": args.from, "to_hz": args.to, "length_s": args.length, "rate_hz": args.rate,
            "peak_dbfs": rounded(args.level, 2),
            "silence_before_s": BEFORE, "silence_behind_s": BEHIND,
            "remarks": [{ "code": "sweep::caution", "text": CAUTION }],
        }))?;
    } else {
        let mut out = format!(
            "{}: {:.0} Hz to {:.0} Hz in {:.0} s, {:.0} dB re full scale, faded in and out\n{}: its \
             inverse\n\n",
            args.out.display(),
            args.from,
            args.to,
            args.length,
            args.level,
            inverse.display()
        );
        for line in wrap(CAUTION, 92) {
            out.push_str(&format!("  {line}\n"));
        }
        out.push_str(&format!(
            "\nRecord it with its silence behind, then fold the recording:\n  wythe sweep answer.wav \
             --fold RECORDING --from {} --to {} --length {} --rate {} --level {}\nand name answer.wav in \
             survey.toml with a stretch of kind \"decay\".\n",
            args.from, args.to, args.length, args.rate, args.level
        ));
        print(&out)?;
    }
    Ok(Done::default())
}

/// `out.wav` to `out-inverse.wav`.
fn beside(path: &Path, word: &str) -> PathBuf {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    path.with_file_name(format!("{stem}-{word}.wav"))
}

fn sound(
    path: &Path,
    rate: u32,
    channels: usize,
    depth: wav::Depth,
    samples: &[f64],
) -> Result<(), Failure> {
    write::atomically(path, |file| {
        let failed = |e: RecordingError| std::io::Error::other(e.to_string());
        let mut writer =
            wav::WavWriter::new(BufWriter::new(file), rate, channels, depth).map_err(failed)?;
        for block in samples.chunks(65_536 * channels) {
            writer.write(block).map_err(failed)?;
        }
        writer.finish().map_err(failed).map(|_| ())
    })
}

fn fold(sweep: &Sweep, recording: &Path, out: &Path, common: &Common) -> Result<Done, Failure> {
    let refuse = |e: RecordingError| Failure::file(recording, e.to_string(), "");
    if out.exists() {
        return Err(Failure::file(
            out,
            "is there already, and nothing is written over",
            "choose another name",
        ));
    }
    let file = File::open(recording).map_err(|e| Failure::unreadable(recording, &e))?;
    let mut samples = open(BufReader::with_capacity(1 << 20, file)).map_err(refuse)?;
    let format = samples.format().clone();
    if f64::from(format.rate) != sweep.rate {
        return Err(Failure::file(
            recording,
            format!("runs at {} Hz and the sweep at {:.0} Hz", format.rate, sweep.rate),
            "give the rate of the recording with --rate; the sweep must have been played at it",
        ));
    }
    let channels: Vec<usize> = (1..=format.channels).collect();
    let lines = read_stretches(&mut *samples, &channels, Seconds(0.0), Seconds(LONGEST_STRETCH))
        .map_err(refuse)?;
    let mut answers = Vec::new();
    for line in &lines {
        // The whole answer, then five seconds from shortly before its highest point.
        let whole = sweep.response(line, Seconds(LONGEST_STRETCH)).map_err(refuse)?;
        let top = (0..whole.len())
            .max_by(|a, b| whole[*a].abs().total_cmp(&whole[*b].abs()))
            .unwrap_or(0);
        answers.push((top, whole));
    }
    // One beginning for all channels, so that their delays stay.
    let first = answers.iter().map(|a| a.0).min().unwrap_or(0);
    let begin = first.saturating_sub((0.05 * sweep.rate) as usize);
    let length = (KEPT * sweep.rate) as usize;
    let largest = answers
        .iter()
        .flat_map(|a| a.1.iter().skip(begin).take(length))
        .fold(0.0f64, |m, v| m.max(v.abs()))
        .max(1e-30);
    let mut interleaved = Vec::with_capacity(length * answers.len());
    for n in begin..begin + length {
        for (_, answer) in &answers {
            interleaved.push(0.5 / largest * answer.get(n).copied().unwrap_or(0.0));
        }
    }
    sound(out, format.rate, format.channels, wav::Depth::Float32, &interleaved)?;
    if common.json {
        print_json(&json!({
            "file": out.display().to_string(), "channels": format.channels, "rate_hz": format.rate,
            "length_s": KEPT, "remarks": [],
        }))?;
    } else {
        print(&format!(
            "{}: impulse responses of {} channels, {KEPT:.0} s each; only their decays and differences \
             mean something\n",
            out.display(),
            format.channels
        ))?;
    }
    Ok(Done::default())
}
