//! The recordings of a survey, read and turned into measured positions.

use std::fs::File;
use std::io::{BufReader, IsTerminal, Write};
use std::path::Path;

use wythe_bands::{Level, LevelDifference, Remark, Seconds, Spectrum};
use wythe_building::RoomIndex;
use wythe_fieldtest::Decay;
use wythe_findings::{Excluded, Measured, MeasuredPosition, PositionLevels, UseAs, pairs};
use wythe_project::survey::{Calibration, Gain, LogEntry, PositionKind, Recording, StretchKind};
use wythe_project::{Project, SURVEY_FILE};
use wythe_recording::calibration::CalibrationChoice;

use wythe_recording::{
    Analysis, Author, ChannelResults, Heard, Kind, Sensitivity, Statistics, Timeline, analyse, open,
};

use crate::failure::{Failure, message};
use crate::load::DiskFiles;

/// Measures every recording of the project's survey.
pub fn measure(folder: &Path, project: &Project) -> Result<Measured, Failure> {
    let Some(survey) = &project.survey else {
        return Err(Failure::file(
            &folder.join(SURVEY_FILE),
            "there is no survey, so there is nothing to measure",
            "write down which file and channel is which position, for example:\n      \
             [[recording]]\n      file = \"recordings/hall.wav\"\n      \
             calibration = { tone = \"94 dB\" }\n      [[recording.channel]]\n      \
             number = 1\n      room = \"drum-hall\"",
        ));
    };
    if survey.recordings.is_empty() {
        return Err(Failure::file(
            &folder.join(SURVEY_FILE),
            "names no recording",
            "add a [[recording]] with its channels and stretches",
        ));
    }
    let files = DiskFiles::new(folder);
    let mut positions = Vec::new();
    let mut remarks = Vec::new();
    let mut failures = Vec::new();
    for (number, recording) in survey.recordings.iter().enumerate() {
        match one(&files, folder, project, recording, number, &survey.log) {
            Ok((mut found, mut said)) => {
                positions.append(&mut found);
                remarks.append(&mut said);
            }
            Err(Failure::Messages(all)) => failures.extend(all),
            Err(other) => return Err(other),
        }
    }
    if !failures.is_empty() {
        return Err(Failure::Messages(failures));
    }
    let decays: Vec<(RoomIndex, Decay)> = survey
        .decay_times
        .iter()
        .map(|d| (d.room, Decay { times: d.times.map(|_, t| (t, None)), octave_63: None }))
        .collect();
    let mut measured = pairs(&project.building, positions, decays);
    remarks.append(&mut measured.remarks);
    measured.remarks = remarks;
    Ok(measured)
}

type Found = (Vec<MeasuredPosition>, Vec<Remark>);

fn one(
    files: &DiskFiles,
    folder: &Path,
    project: &Project,
    recording: &Recording,
    number: usize,
    log: &[LogEntry],
) -> Result<Found, Failure> {
    let path = folder.join(&recording.file);
    let refuse = |what: String, remedy: &str| {
        Failure::Messages(vec![message(&what, Some(&path.display().to_string()), remedy)])
    };
    let real = files.path(&recording.file).map_err(|e| match e.kind() {
        std::io::ErrorKind::PermissionDenied => refuse(
            "leads outside the project folder".into(),
            "put the recording into the project folder; it is never altered",
        ),
        _ => Failure::unreadable(&path, &e),
    })?;
    let fingerprint =
        File::open(&real).map_err(|e| Failure::unreadable(&path, &e)).and_then(|f| {
            wythe_recording::fingerprint::of(BufReader::with_capacity(1 << 20, f))
                .map_err(|e| refuse(e.to_string(), ""))
        })?;
    let file = File::open(&real).map_err(|e| Failure::unreadable(&path, &e))?;
    let mut samples =
        open(BufReader::with_capacity(1 << 20, file)).map_err(|e| refuse(e.to_string(), ""))?;
    let wish = Analysis {
        channels: recording.channels.iter().map(|c| usize::from(c.number)).collect(),
        ..Analysis::default()
    };
    let mut progress = Progress::new(&recording.file);
    let heard = analyse(&mut *samples, &wish, |share| progress.tell(share))
        .map_err(|e| refuse(e.to_string(), "see the channels in survey.toml"))?;
    progress.done();
    let mut remarks: Vec<Remark> =
        heard.remarks.iter().cloned().map(|r| r.at(recording.file.clone())).collect();
    if recording.gain == Gain::Automatic {
        remarks.push(
            Remark::new(
                "measure::automatic-gain",
                "the recorder changed its gain by itself: its levels are worth nothing and are left \
                 out; record again with a fixed gain",
            )
            .at(recording.file.clone()),
        );
        return Ok((Vec::new(), remarks));
    }
    let source = source_room(project, recording);
    if source.is_none() {
        remarks.push(
            Remark::new(
                "measure::no-source",
                "no stretch says where the source played: mark it with [[recording.stretch]] kind = \
                 \"source\" and room, or nothing can be compared",
            )
            .at(recording.file.clone()),
        );
    }
    let mut found = Vec::new();
    for (channel, results) in recording.channels.iter().zip(&heard.channels) {
        let label = format!("{}:{}", file_name(&recording.file), channel.number);
        for remark in &results.remarks {
            remarks.push(remark.clone().at(label.clone()));
        }
        let choice = channel.calibration.as_ref().or(recording.calibration.as_ref());
        let known = calibrated(results, choice, &label, &mut remarks)
            .map_err(|e| refuse(format!("channel {}: {e}", channel.number), ""))?;
        let timeline = timeline(recording, channel.number, results, log);
        let usable = timeline.usable();
        let source_mask = timeline.mask(&Kind::Source).and(&usable);
        let background_mask = timeline.mask(&Kind::Background).and(&usable);
        let heard_levels = results.history.statistics(&source_mask);
        let silence = results.history.statistics(&background_mask);
        let (levels, background) = match known.sensitivity {
            Some(s) => (position_levels(&heard_levels.calibrated(s)), silence.calibrated(s).leq),
            None => (
                position_levels(&heard_levels.map(|l| Level(l.0))),
                silence.leq.map(|_, l| Level(l.0)),
            ),
        };
        if background.is_empty() && source.is_some_and(|s| s != channel.room) {
            remarks.push(
                Remark::new(
                    "measure::no-background",
                    "no background was marked for this position: differences are only bounds",
                )
                .at(label.clone()),
            );
        }
        found.push(MeasuredPosition {
            id: channel.position.clone(),
            room: channel.room,
            place: channel.place.clone(),
            use_as: match channel.kind {
                PositionKind::Position => UseAs::Room,
                PositionKind::Corner => UseAs::Corner,
                PositionKind::NearSource | PositionKind::OnFacade | PositionKind::BeforeFacade => {
                    UseAs::NearSource
                }
            },
            channel: label,
            recording: number,
            state: recording.state.clone(),
            source,
            calibrated: known.sensitivity.is_some(),
            calibration: known.words,
            calibration_deviation: known.deviation,
            levels,
            background,
            used: heard_levels.used,
            excluded: excluded(&timeline, &heard),
            fingerprint: fingerprint.to_string(),
        });
    }
    Ok((found, remarks))
}

fn file_name(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

/// The room the source played in: as a stretch says, or the project's only source room.
fn source_room(project: &Project, recording: &Recording) -> Option<RoomIndex> {
    let source = recording.stretches.iter().find(|s| s.kind == StretchKind::Source)?;
    source.room.or_else(|| {
        let mut rooms: Vec<RoomIndex> = project.building.sources.iter().map(|s| s.room).collect();
        rooms.dedup();
        match rooms.as_slice() {
            [only] => Some(*only),
            _ => None,
        }
    })
}

struct Known {
    sensitivity: Option<Sensitivity>,
    words: String,
    deviation: LevelDifference,
}

/// Standard uncertainty of a level found from a calibrator tone, and of a stated full scale (dB).
/// A class 1 calibrator holds its level within a few tenths (IEC 60942, limits from memory); a
/// stated figure is somebody's word.
const TONE_DEVIATION: f64 = 0.2;
const STATED_DEVIATION: f64 = 0.5;

fn calibrated(
    results: &ChannelResults,
    choice: Option<&Calibration>,
    label: &str,
    remarks: &mut Vec<Remark>,
) -> Result<Known, wythe_recording::RecordingError> {
    match choice {
        None | Some(Calibration::Beside { .. }) => Ok(Known {
            sensitivity: None,
            words: "none: relative to full scale".into(),
            deviation: LevelDifference(0.0),
        }),
        Some(Calibration::FullScale(p)) => Ok(Known {
            sensitivity: Some(Sensitivity::new(p.0)?),
            words: format!("stated: full scale is {:.3} Pa", p.0),
            deviation: LevelDifference(STATED_DEVIATION),
        }),
        Some(Calibration::Tone { level, frequency, stretch, file }) => {
            if let Some(file) = file {
                remarks.push(
                    Remark::new(
                        "measure::tone-elsewhere",
                        format!(
                            "the tone in {file} is not read yet: put it into the same file, or state \
                             full scale"
                        ),
                    )
                    .at(label),
                );
            }
            let inside = |tone: &&wythe_recording::tone::Tone| {
                let near = (tone.frequency.0 / frequency.0 - 1.0).abs() < 0.05;
                let there = stretch
                    .is_none_or(|(from, to)| tone.to.0 > from.0 - 0.5 && tone.from.0 < to.0 + 0.5);
                near && there
            };
            let tones: Vec<_> = results.tones.iter().filter(inside).cloned().collect();
            let found = wythe_recording::calibration::calibrate(
                &tones,
                CalibrationChoice::Tone { stated: *level },
                results.channel,
            )?;
            remarks.extend(found.remarks.iter().cloned().map(|r| r.at(label)));
            let drift = found.drift_uncertainty.0;
            let words = match (found.sensitivity, tones.first()) {
                (Some(s), Some(tone)) => format!(
                    "{:.0} dB at {:.0} Hz found at {:.1} s: full scale is {:.2} Pa",
                    level.0,
                    tone.frequency.0,
                    tone.from.0,
                    s.pascal_per_full_scale()
                ),
                _ => "no usable tone: relative to full scale".into(),
            };
            Ok(Known {
                sensitivity: found.sensitivity,
                words,
                deviation: LevelDifference(TONE_DEVIATION.hypot(drift)),
            })
        }
    }
}

fn timeline(
    recording: &Recording,
    channel: u16,
    results: &ChannelResults,
    log: &[LogEntry],
) -> Timeline {
    let mut timeline = Timeline::new();
    let about = |list: &[u16]| list.is_empty() || list.contains(&channel);
    for s in recording.stretches.iter().filter(|s| about(&s.channels)) {
        let kind = match s.kind {
            StretchKind::Source => Kind::Source,
            StretchKind::Background => Kind::Background,
            StretchKind::Calibration => Kind::Calibration,
            StretchKind::Decay => Kind::Decay,
            StretchKind::Excluded => {
                Kind::Excluded(s.why.clone().unwrap_or_else(|| "excluded by you".into()))
            }
        };
        timeline.add(s.from, s.to, kind, Author::User);
    }
    for entry in log.iter().filter(|e| e.file.as_ref().is_none_or(|f| *f == recording.file)) {
        // A note about a moment says nothing about how long it lasted: five seconds.
        let to = entry.to.unwrap_or(Seconds(entry.from.0 + 5.0));
        timeline.add(entry.from, to, Kind::Excluded(entry.text.clone()), Author::User);
    }
    results.mark(&mut timeline);
    timeline
}

fn excluded(timeline: &Timeline, _heard: &Heard) -> Vec<Excluded> {
    timeline
        .stretches()
        .iter()
        .filter_map(|s| match &s.kind {
            Kind::Excluded(why) => Some(Excluded {
                from: s.from,
                to: s.to,
                why: why.clone(),
                found: s.author == Author::Found,
            }),
            _ => None,
        })
        .collect()
}

fn position_levels(s: &Statistics<Level>) -> PositionLevels {
    let leq: Spectrum<Level> = s.leq;
    PositionLevels {
        leq,
        a: s.laeq,
        c: s.lceq,
        z: s.lzeq,
        a_fast_max: s.lafmax,
        a_percentiles: s.a.as_ref().map(|p| [p.l10, p.l50, p.l90]),
    }
}

/// A line on a terminal that says how far a long reading is.
struct Progress {
    name: String,
    shown: bool,
    last: f64,
}

impl Progress {
    fn new(name: &str) -> Progress {
        Progress { name: name.to_owned(), shown: std::io::stderr().is_terminal(), last: -1.0 }
    }

    fn tell(&mut self, share: f64) {
        if self.shown && share - self.last >= 0.01 {
            self.last = share;
            let mut err = std::io::stderr();
            // Nothing depends on whether the line could be shown.
            let _ = write!(err, "\r  reading {} {:>3.0} %", self.name, 100.0 * share);
            let _ = err.flush();
        }
    }

    fn done(&mut self) {
        if self.shown {
            eprint!("\r{}\r", " ".repeat(self.name.chars().count() + 20));
        }
    }
}
