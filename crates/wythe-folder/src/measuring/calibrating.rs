//! What full scale is in each channel.

use wythe_bands::{LevelDifference, Remark, Seconds};
use wythe_project::survey::{Calibration, Recording};
use wythe_recording::calibration::{CalibrationChoice, calibrate};
use wythe_recording::microphone::{CorrectionCurve, beside};
use wythe_recording::tone::Tone;
use wythe_recording::{Analysis, Heard, RelativeLevel, Sensitivity, analyse};

use super::{Known, Session, file_name, reading};
use crate::failure::Failure;
use crate::progress::Progress;

/// Standard uncertainty of a level found from a calibrator tone, and of a stated full scale (dB).
/// A class 1 calibrator holds its level within a few tenths (IEC 60942, limits from memory); a
/// stated figure is somebody's word.
const TONE_DEVIATION: f64 = 0.2;
const STATED_DEVIATION: f64 = 0.5;
/// Bands of two neighbours may differ by this much, standard deviation in dB, before it is said.
const NEIGHBOURS: f64 = 1.0;

/// The sensitivity of every channel of a recording, in the order of the survey.
pub fn sensitivities(
    session: &mut Session<'_>,
    recording: &Recording,
    heard: &Heard,
) -> Result<Vec<Known>, Failure> {
    let mut out = Vec::with_capacity(recording.channels.len());
    // Neighbours lend theirs, so they come in a second round.
    for (channel, results) in recording.channels.iter().zip(&heard.channels) {
        let label = format!("{}:{}", file_name(&recording.file), channel.number);
        let choice = channel.calibration.as_ref().or(recording.calibration.as_ref());
        let mut known = match choice {
            None => relative("none: relative to full scale"),
            Some(Calibration::Beside { .. }) => relative("beside another channel"),
            Some(Calibration::FullScale(p)) => {
                let sensitivity = Sensitivity::new(p.0)
                    .map_err(|e| reading::refused(session, &recording.file, &e.to_string(), ""))?;
                Known {
                    sensitivity: Some(sensitivity),
                    words: format!("stated: full scale is {:.3} Pa", p.0),
                    deviation: LevelDifference(STATED_DEVIATION),
                    correction: None,
                }
            }
            Some(Calibration::Tone { level, frequency, stretch, file }) => {
                let tones = match file {
                    Some(file) => elsewhere(session, file, usize::from(channel.number))?,
                    None => results.tones.clone(),
                };
                let fitting: Vec<Tone> = tones
                    .iter()
                    .filter(|t| (t.frequency.0 / frequency.0 - 1.0).abs() < 0.05)
                    .filter(|t| near(t, *stretch))
                    .cloned()
                    .collect();
                let choice = CalibrationChoice::Tone { stated: *level };
                session
                    .remarks
                    .extend(other_tone(&tones, &fitting, *frequency).map(|r| r.at(label.clone())));
                let found = calibrate(&fitting, choice, results.channel)
                    .map_err(|e| reading::refused(session, &recording.file, &e.to_string(), ""))?;
                session.remarks.extend(found.remarks.iter().cloned().map(|r| r.at(label.clone())));
                let place = file.as_ref().map(|f| format!(" in {f}")).unwrap_or_default();
                let words = match (found.sensitivity, fitting.first()) {
                    (Some(s), Some(tone)) => format!(
                        "{:.0} dB at {:.0} Hz found at {:.1} s{place}: full scale is {:.2} Pa",
                        level.0,
                        tone.frequency.0,
                        tone.from.0,
                        s.pascal_per_full_scale()
                    ),
                    _ => "no usable tone: relative to full scale".into(),
                };
                Known {
                    sensitivity: found.sensitivity,
                    words,
                    deviation: LevelDifference(TONE_DEVIATION.hypot(found.drift_uncertainty.0)),
                    correction: None,
                }
            }
        };
        known.correction = match &channel.correction {
            Some(path) => Some(curve(session, path, &label)?),
            None => None,
        };
        out.push(known);
    }
    for (index, channel) in recording.channels.iter().enumerate() {
        let Some(Calibration::Beside { channel: other, stretch }) = &channel.calibration else {
            continue;
        };
        let label = format!("{}:{}", file_name(&recording.file), channel.number);
        let lender = recording.channels.iter().position(|c| c.number == *other);
        let (text, known) = match lender {
            Some(l) if out[l].sensitivity.is_some() && l != index => {
                lend(heard, &out[l], l, index, *other, *stretch)
            }
            _ => (
                Some(format!("channel {other} has no calibration that could be taken over")),
                relative("no usable neighbour: relative to full scale"),
            ),
        };
        if let Some(text) = text {
            session.remarks.push(Remark::new("measure::beside", text).at(label));
        }
        out[index] = Known { correction: out[index].correction.take(), ..known };
    }
    Ok(out)
}

fn relative(words: &str) -> Known {
    Known {
        sensitivity: None,
        words: words.into(),
        deviation: LevelDifference(0.0),
        correction: None,
    }
}

/// What is to be said where tones are there, and none of them is the one that was stated.
fn other_tone(tones: &[Tone], fitting: &[Tone], stated: wythe_bands::Hertz) -> Option<Remark> {
    let there = tones.first().filter(|_| fitting.is_empty())?;
    let far = (there.frequency.0 / stated.0 - 1.0).abs() >= 0.05;
    Some(Remark::new(
        "measure::other-tone",
        if far {
            format!(
                "a tone of {:.0} Hz was found at {:.1} s, and the calibration is stated at {:.0} Hz: if \
                 it is the calibrator, add frequency = \"{:.0} Hz\"",
                there.frequency.0, there.from.0, stated.0, there.frequency.0
            )
        } else {
            format!(
                "a tone was found at {:.1} to {:.1} s, outside the time that is stated for it",
                there.from.0, there.to.0
            )
        },
    ))
}

fn near(tone: &Tone, stretch: Option<(Seconds, Seconds)>) -> bool {
    stretch.is_none_or(|(from, to)| tone.to.0 > from.0 - 0.5 && tone.from.0 < to.0 + 0.5)
}

fn lend(
    heard: &Heard,
    lender: &Known,
    from: usize,
    to: usize,
    number: u16,
    when: (Seconds, Seconds),
) -> (Option<String>, Known) {
    let transfer = beside(&heard.channels[from].history, &heard.channels[to].history, when);
    let (Some(transfer), Some(s)) = (transfer, lender.sensitivity) else {
        let text = "the two microphones have less than two seconds or six bands in common there";
        return (Some(text.into()), relative("no usable neighbour: relative to full scale"));
    };
    // The neighbour reads `above` decibels more of full scale for the same sound.
    let level = s.level(RelativeLevel(transfer.above.0));
    let Ok(sensitivity) = Sensitivity::from_tone(RelativeLevel(0.0), level) else {
        return (Some("its level is no number".into()), relative("relative to full scale"));
    };
    let text = (transfer.spread.0 > NEIGHBOURS).then(|| {
        format!(
            "beside channel {number} the bands differ by {:.1} dB (standard deviation): were the \
             capsules really side by side, away from walls",
            transfer.spread.0
        )
    });
    let known = Known {
        sensitivity: Some(sensitivity),
        words: format!(
            "taken over from channel {number} beside it: {:+.2} dB, full scale is {:.2} Pa",
            transfer.above.0,
            sensitivity.pascal_per_full_scale()
        ),
        deviation: LevelDifference(lender.deviation.0.hypot(transfer.deviation.0)),
        correction: None,
    };
    (text, known)
}

/// Tones of one channel of a file that holds a calibration; every such file is read once.
fn elsewhere(session: &mut Session<'_>, file: &str, channel: usize) -> Result<Vec<Tone>, Failure> {
    if !session.tones.contains_key(file) {
        let path = reading::place(session, file)?;
        let mut progress = Progress::new("reading", file);
        let heard = reading::samples(&path)
            .and_then(|mut s| analyse(&mut *s, &Analysis::default(), |p| progress.tell(p)))
            .map_err(|e| reading::refused(session, file, &e.to_string(), ""))?;
        progress.done();
        let tones = heard.channels.into_iter().map(|c| c.tones).collect();
        session.tones.insert(file.to_owned(), tones);
    }
    let all = &session.tones[file];
    match all.get(channel - 1) {
        Some(tones) => Ok(tones.clone()),
        None => Err(reading::refused(
            session,
            file,
            &format!("has {} channels and no channel {channel}", all.len()),
            "the tone has to be on the same channel as the recording it belongs to",
        )),
    }
}

fn curve(session: &Session<'_>, path: &str, label: &str) -> Result<CorrectionCurve, Failure> {
    let place = reading::place(session, path)?;
    let text = std::fs::read_to_string(&place).map_err(|e| Failure::unreadable(&place, &e))?;
    CorrectionCurve::read(&text)
        .map_err(|e| reading::refused(session, path, &format!("correction of {label}: {e}"), ""))
}
