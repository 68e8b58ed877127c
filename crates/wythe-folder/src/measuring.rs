//! The recordings of a survey, read and turned into measured positions.

mod aligning;
mod calibrating;
mod comparing;
mod contradicting;
mod decaying;
mod listening;
mod reading;
mod recovering;
mod saving;

use std::collections::HashMap;
use std::path::Path;
use std::rc::Rc;

use wythe_bands::{Level, LevelDifference, Remark, Seconds, Spectrum};
use wythe_building::RoomIndex;
use wythe_findings::{
    Excitation, Measured, MeasuredPosition, NearSurface, PositionLevels, ReadFile, UseAs, pairs,
};
use wythe_project::survey::{self, Gain, PositionKind, Recording, StretchKind, Survey};
use wythe_project::{Project, SURVEY_FILE};
use wythe_recording::{Kind, Statistics, Timeline};

use crate::failure::Failure;
use crate::load::DiskFiles;
use crate::progress;

pub use saving::save;

/// What is to be done beside measuring.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wish {
    /// Write the histories of all channels into `results/`.
    pub save: bool,
}

/// Writes the levels of every channel of a recording, tenth of a second by tenth, as a table into
/// `results/history/`; says where.
///
/// # Errors
/// [`Failure`] where the recording cannot be read or the table not written.
pub fn history(folder: &Path, file: &str) -> Result<std::path::PathBuf, Failure> {
    let refuse = |what: String| Failure::file(&folder.join(file), what, "");
    let path = DiskFiles::new(folder)
        .path(file)
        .map_err(|e| Failure::unreadable(&folder.join(file), &e))?;
    let mut samples = reading::samples(&path).map_err(|e| refuse(e.to_string()))?;
    let mut progress = progress::Progress::new("reading", file);
    saving::with_history(folder, file, |sink| {
        let mut tell = |share| progress.tell(share);
        wythe_recording::analyse_with_sink(
            &mut *samples,
            &wythe_recording::Analysis::default(),
            &mut tell,
            sink,
        )
    })
    .map_err(|e| refuse(e.to_string()))?;
    progress.done();
    Ok(saving::place(folder, file))
}

/// Measures every recording of the project's survey.
pub fn measure(folder: &Path, project: &Project) -> Result<Measured, Failure> {
    measure_with(folder, project, Wish::default())
}

/// Measures every recording of the project's survey, as wished.
pub fn measure_with(folder: &Path, project: &Project, wish: Wish) -> Result<Measured, Failure> {
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
    let mut session = Session {
        files: DiskFiles::new(folder),
        folder,
        project,
        survey,
        wish,
        tones: HashMap::new(),
        decays: Vec::new(),
        kept: HashMap::new(),
        heard_notes: vec![false; survey.log.len()],
        remarks: Vec::new(),
    };
    let (mut positions, mut files, mut failures) = (Vec::new(), Vec::new(), Vec::new());
    for (number, recording) in survey.recordings.iter().enumerate() {
        if progress::stopped() {
            return Err(Failure::Stopped);
        }
        if recording.planned && not_there(&session.folder.join(&recording.file)) {
            session.remarks.push(
                Remark::new(
                    "measure::planned",
                    "is planned and not there yet; bring the file under this name once it is recorded",
                )
                .at(recording.file.clone()),
            );
            continue;
        }
        match session.one(recording, number) {
            Ok((found, file)) => {
                positions.extend(found);
                files.push(file);
            }
            Err(Failure::Messages(all)) => failures.extend(all),
            Err(other) => return Err(other),
        }
    }
    if !failures.is_empty() {
        return Err(Failure::Messages(failures));
    }
    if files.is_empty() {
        return Err(Failure::file(
            &folder.join(SURVEY_FILE),
            "every recording is only planned",
            "record, and bring the files under the names the survey gives them",
        ));
    }
    listening::unheard_notes(&mut session);
    let Session { decays, mut remarks, .. } = session;
    let decays = decaying::per_room(project, survey, decays, &mut remarks);
    comparing::no_room_level(project, &positions, &mut remarks);
    contradicting::plan(project, &positions, &mut remarks);
    let mut measured = pairs(&project.building, positions, decays);
    remarks.append(&mut measured.remarks);
    measured.remarks = grouped(remarks);
    measured.files = files;
    Ok(measured)
}

/// Whether nothing at all stands there; what cannot be read is not nothing.
fn not_there(path: &Path) -> bool {
    matches!(std::fs::symlink_metadata(path), Err(e) if e.kind() == std::io::ErrorKind::NotFound)
}

/// The same sentence about several places is said once, with the places behind it.
fn grouped(all: Vec<Remark>) -> Vec<Remark> {
    let mut out: Vec<(Remark, Vec<String>)> = Vec::new();
    for remark in all {
        let place = remark.place.clone();
        match out.iter_mut().find(|(r, _)| r.code == remark.code && r.text == remark.text) {
            Some((_, places)) => {
                places.extend(place.filter(|p| !places.contains(p)));
            }
            None => out.push((remark, place.into_iter().collect())),
        }
    }
    out.into_iter()
        .map(
            |(remark, places)| {
                if places.is_empty() { remark } else { remark.at(together(&places)) }
            },
        )
        .collect()
}

/// Places in a row, channels that follow one another as `hall.wav:1 to 16`.
fn together(places: &[String]) -> String {
    let channel = |p: &String| {
        let (file, number) = p.rsplit_once(':')?;
        Some((file.to_owned(), number.parse::<u32>().ok()?))
    };
    let mut out: Vec<String> = Vec::new();
    let mut at = 0;
    while at < places.len() {
        let first = channel(&places[at]);
        let mut end = at + 1;
        if let Some((file, number)) = &first {
            let follows = |p: &String, by: usize| {
                channel(p).is_some_and(|(f, n)| f == *file && n as usize == *number as usize + by)
            };
            while end < places.len() && follows(&places[end], end - at) {
                end += 1;
            }
        }
        match (&first, end - at) {
            (Some((file, number)), many @ 3..) => {
                out.push(format!("{file}:{number} to {}", *number as usize + many - 1));
            }
            _ => out.extend(places[at..end].iter().cloned()),
        }
        at = end;
    }
    out.join("; ")
}

/// One run over a survey.
struct Session<'a> {
    files: DiskFiles,
    folder: &'a Path,
    project: &'a Project,
    survey: &'a Survey,
    wish: Wish,
    /// Tones found in files that only hold a calibration, by path.
    tones: HashMap<String, Vec<Vec<wythe_recording::tone::Tone>>>,
    /// Decays found on the way.
    decays: Vec<(RoomIndex, Spectrum<wythe_recording::decay::DecayTimes>)>,
    /// Recordings that a later one ran beside, by path.
    kept: HashMap<String, Rc<aligning::Kept>>,
    /// Which notes of the log fell into a recording.
    heard_notes: Vec<bool>,
    remarks: Vec<Remark>,
}

impl Session<'_> {
    fn one(
        &mut self,
        recording: &Recording,
        number: usize,
    ) -> Result<(Vec<MeasuredPosition>, ReadFile), Failure> {
        let taken = reading::read(self, recording)?;
        let name = file_name(&recording.file).to_owned();
        for remark in &taken.heard.remarks {
            self.remarks.push(remark.clone().at(recording.file.clone()));
        }
        let file = |stretches| ReadFile {
            file: recording.file.clone(),
            fingerprint: taken.fingerprint.clone(),
            rate: taken.heard.format.rate,
            channels: taken.heard.format.channels,
            length: taken.heard.channels.first().map_or(Seconds(0.0), |c| c.history.length()),
            stretches,
        };
        if recording.gain == Gain::Automatic {
            self.remarks.push(
                Remark::new(
                    "measure::automatic-gain",
                    "the recorder changed its gain by itself: its levels are worth nothing and are \
                     left out; record again with a fixed gain",
                )
                .at(recording.file.clone()),
            );
            return Ok((Vec::new(), file(Vec::new())));
        }
        let known = calibrating::sensitivities(self, recording, &taken.heard)?;
        let partner = aligning::partner(self, recording, &taken);
        let partner = partner.as_ref();
        let listened = listening::listen(self, recording, &taken, &known, partner);
        decaying::measure(self, recording, &taken, &listened)?;
        let anchor = comparing::anchor(recording, &taken, &listened, partner);
        let recovered =
            recovering::recover(self, recording, &taken, &listened, anchor.as_ref(), partner)?;
        let source = listened.source;
        let run = self.run(recording, number);
        let only_decays = listening::only_decays(recording);
        let mut found = Vec::new();
        for (index, channel) in recording.channels.iter().enumerate() {
            let results = &taken.heard.channels[index];
            let label = format!("{name}:{}", channel.number);
            for remark in &results.remarks {
                self.remarks.push(remark.clone().at(label.clone()));
            }
            if listened.worthless[index] || only_decays {
                continue;
            }
            let timeline = &listened.timelines[index];
            let known = &known[index];
            let source_mask = timeline.mask(&Kind::Source);
            let background_mask = timeline.mask(&Kind::Background);
            let absolute = |s: Statistics<wythe_recording::RelativeLevel>| {
                let levels = match known.sensitivity {
                    Some(k) => s.calibrated(k),
                    None => s.map(|l| Level(l.0)),
                };
                match &known.correction {
                    Some(curve) => curve.apply(&levels),
                    None => levels,
                }
            };
            let heard = absolute(results.history.statistics(&source_mask));
            let silence = absolute(results.history.statistics(&background_mask));
            let receiving = source.is_some_and(|s| s != channel.room);
            if silence.leq.is_empty() && receiving {
                self.remarks.push(
                    Remark::new(
                        "measure::no-background",
                        "no stretch without the source was marked or found: differences are only \
                         bounds where nothing else tells; record a quiet minute",
                    )
                    .at(label.clone()),
                );
            }
            let in_common = anchor
                .as_ref()
                .filter(|a| a.own != Some(index))
                .and_then(|a| a.in_common(&source_mask, &results.history, &absolute));
            self.remarks.extend(in_common.as_ref().and_then(|c| comparing::remark(c, &label)));
            let levels_recovered = match &recovered[index].time {
                Some(time) => {
                    let heard = absolute(results.history.statistics(time)).leq;
                    // Levels over another time of the music, put on the footing of the others.
                    let louder = anchor.as_ref().map(|a| a.louder(time));
                    let before = in_common.as_ref().map(|c| c.louder);
                    let more = |of: Option<Spectrum<LevelDifference>>, band| {
                        of.and_then(|s| s.get(band)).map_or(0.0, |d| d.0)
                    };
                    let heard = heard.map(|b, l| Level(l.0 + more(louder, b) - more(before, b)));
                    recovered[index].levels(&heard)
                }
                None => Spectrum::empty(),
            };
            let same_gain = recording.gain == Gain::Fixed;
            let carried = recording
                .recorder
                .as_ref()
                .filter(|_| same_gain)
                .map(|r| format!("{r}, channel {}", channel.number));
            let scale = if recording.equal_gains {
                Some(match &recording.recorder {
                    Some(r) if same_gain => format!("equal gains of {r}, as stated"),
                    _ => format!("equal gains in {}, as stated", recording.file),
                })
            } else {
                carried.as_ref().map(|c| format!("one recorder at a fixed gain ({c})"))
            };
            found.push(MeasuredPosition {
                id: channel.position.clone(),
                room: channel.room,
                place: channel.place.clone(),
                use_as: match channel.kind {
                    PositionKind::Position => UseAs::Room,
                    PositionKind::Corner => UseAs::Corner,
                    PositionKind::NearSource => UseAs::NearSource,
                    PositionKind::OnFacade => UseAs::OnFacade,
                    PositionKind::BeforeFacade => UseAs::BeforeFacade,
                    PositionKind::NearSurface => UseAs::NearSurface,
                },
                at: channel
                    .at
                    .as_ref()
                    .map(|s| NearSurface { boundary: s.boundary, opening: s.opening.clone() }),
                channel: label,
                recording: number,
                run,
                excitation: match recording.excitation {
                    survey::Excitation::Airborne => Excitation::Airborne,
                    survey::Excitation::TappingMachine => Excitation::TappingMachine,
                    survey::Excitation::RubberBall => Excitation::RubberBall,
                    survey::Excitation::LoudspeakerOutside => Excitation::LoudspeakerOutside,
                    survey::Excitation::Traffic => Excitation::Traffic,
                },
                state: recording.state.clone(),
                source,
                calibrated: known.sensitivity.is_some(),
                scale: scale.filter(|_| known.sensitivity.is_none()),
                carried,
                calibration: known.words.clone(),
                calibration_deviation: known.deviation,
                in_common,
                recovered: levels_recovered,
                delay: recovered[index].delay,
                maximum: heard.fast_max,
                used: heard.used,
                levels: position_levels(&heard),
                background: silence.leq,
                excluded: listening::excluded(timeline, &results.history),
                fingerprint: taken.fingerprint.clone(),
            });
        }
        contradicting::swapped(self.project, &found, &mut self.remarks);
        contradicting::calibrators(self.project, recording, &found, &mut self.remarks);
        let file = file(listened.stretches());
        if aligning::wanted(self, recording) {
            let kept = aligning::Kept { recording: recording.clone(), taken, listened };
            self.kept.insert(recording.file.clone(), Rc::new(kept));
        }
        Ok((found, file))
    }

    /// The recording that stands for all of the same source position and state: what ran at the same
    /// time had the same source.
    fn run(&self, recording: &Recording, number: usize) -> usize {
        let all = &self.survey.recordings;
        if let Some(name) = &recording.source_position {
            let same = |r: &Recording| {
                r.source_position.as_ref() == Some(name) && r.state == recording.state
            };
            return all.iter().position(same).unwrap_or(number);
        }
        let beside = recording.same_time_as.as_ref().filter(|f| **f != recording.file);
        let beside = beside.and_then(|f| all[..number].iter().position(|r| r.file == *f));
        beside.map_or(number, |n| self.run(&all[n], n))
    }

    /// The room a recording's source played in: as a stretch says, or the project's only source room, or
    /// the only source room among the channels.
    fn source_room(&self, recording: &Recording) -> Option<RoomIndex> {
        let stated = recording
            .stretches
            .iter()
            .find(|s| s.kind == StretchKind::Source && s.room.is_some())
            .and_then(|s| s.room);
        let mut rooms: Vec<RoomIndex> =
            self.project.building.sources.iter().map(|s| s.room).collect();
        rooms.sort_by_key(|r| r.0);
        rooms.dedup();
        let mut near: Vec<RoomIndex> = recording
            .channels
            .iter()
            .filter(|c| match recording.excitation {
                survey::Excitation::LoudspeakerOutside | survey::Excitation::Traffic => {
                    matches!(c.kind, PositionKind::OnFacade | PositionKind::BeforeFacade)
                }
                _ => c.kind == PositionKind::NearSource,
            })
            .map(|c| c.room)
            .collect();
        near.dedup();
        let only = |rooms: &[RoomIndex]| match rooms {
            [only] => Some(*only),
            _ => None,
        };
        let mut here: Vec<RoomIndex> =
            recording.channels.iter().map(|c| c.room).filter(|r| rooms.contains(r)).collect();
        here.sort_by_key(|r| r.0);
        here.dedup();
        stated.or_else(|| only(&near)).or_else(|| only(&rooms)).or_else(|| only(&here))
    }
}

/// The last part of a path.
fn file_name(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

fn position_levels(s: &Statistics<Level>) -> PositionLevels {
    PositionLevels {
        leq: s.leq,
        a: s.laeq,
        c: s.lceq,
        z: s.lzeq,
        a_fast_max: s.lafmax,
        a_percentiles: s.a.as_ref().map(|p| [p.l10, p.l50, p.l90]),
    }
}

/// Standard uncertainty of a stated or found sensitivity, and everything else about a channel's scale.
struct Known {
    sensitivity: Option<wythe_recording::Sensitivity>,
    words: String,
    deviation: LevelDifference,
    correction: Option<wythe_recording::microphone::CorrectionCurve>,
}

/// What was heard on the timelines of one recording.
struct Listened {
    /// The room the source played in.
    source: Option<RoomIndex>,
    /// Index into the recording's channels of those that hear the source itself.
    references: Vec<usize>,
    /// One per channel.
    timelines: Vec<Timeline>,
    /// Channels whose levels are worth nothing.
    worthless: Vec<bool>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_that_follow_one_another_are_one_place() {
        let places: Vec<String> =
            ["a.wav:1", "a.wav:2", "a.wav:3", "a.wav:5", "b.wav:6", "b.wav, 50 Hz"]
                .map(str::to_owned)
                .to_vec();
        assert_eq!(together(&places), "a.wav:1 to 3; a.wav:5; b.wav:6; b.wav, 50 Hz");
        let whole: Vec<String> = (1..=1000).map(|k| format!("a.wav:{k}")).collect();
        assert_eq!(together(&whole), "a.wav:1 to 1000");
    }
}
