//! What was recorded: files, channels, positions, calibration, and what happened when.

use wythe_bands::{Hertz, Level, Metre, Pascal, Seconds, Spectrum, Standpoint};
use wythe_building::{Building, RoomIndex};

use crate::clock::Moment;
use crate::files::refused_path;
use crate::problem::{Notes, Place};
use crate::quantity::{Quantity, parse};
use crate::record::{Record, Value, short};
use crate::suggest::hint;

/// A survey.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Survey {
    /// Title for people.
    pub title: Option<String>,
    /// The user's notes.
    pub notes: Option<String>,
    /// Recordings.
    pub recordings: Vec<Recording>,
    /// Decay times measured otherwise.
    pub decay_times: Vec<MeasuredDecay>,
    /// What happened when.
    pub log: Vec<LogEntry>,
    /// What was noted by the clock; what of it falls into a recording stands in `log` too.
    pub noted: Vec<ClockNote>,
    /// What a report of a field test has to state, in the user's words: key of `[test]` and text,
    /// in the order of the keys.
    pub test: Vec<(&'static str, String)>,
    /// Instruments, as stated.
    pub instruments: Vec<Instrument>,
}

/// An instrument as the user states it; empty where nothing is said.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Instrument {
    /// What it is.
    pub kind: String,
    /// Who made it.
    pub make: String,
    /// Which model.
    pub model: String,
    /// Its number.
    pub serial: String,
    /// Its class by its own standard.
    pub class: String,
    /// When a laboratory calibrated it last.
    pub calibrated: String,
    /// What it was used for.
    pub used_for: String,
}

/// One sound file.
#[derive(Clone, Debug, PartialEq)]
pub struct Recording {
    /// Path relative to the project folder.
    pub file: String,
    /// Title for people.
    pub title: Option<String>,
    /// When it was taken, as the user wrote it.
    pub taken: Option<String>,
    /// When its first sample was taken, by the clock notes are taken by.
    pub begun: Option<Moment>,
    /// Whether it is only planned: as long as there is no such file, it is passed over.
    pub planned: bool,
    /// Time of day at which it begins, if `begun`, or else `taken`, says one.
    pub begins: Option<TimeOfDay>,
    /// Named state of the building; `None` for as described.
    pub state: Option<String>,
    /// Whether the recorder's gain stood still.
    pub gain: Gain,
    /// Whether all channels have the same gain and kind of microphone.
    pub equal_gains: bool,
    /// Which recorder.
    pub recorder: Option<String>,
    /// Where the source stood; recordings that say the same belong together.
    pub source_position: Option<String>,
    /// A recording that ran at the same time on another recorder.
    pub same_time_as: Option<String>,
    /// What made the sound.
    pub excitation: Excitation,
    /// Calibration of every channel that has none of its own.
    pub calibration: Option<Calibration>,
    /// Channels that mean something.
    pub channels: Vec<Channel>,
    /// Stretches that mean something.
    pub stretches: Vec<Stretch>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// Whether a gain stood still.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Gain {
    /// It did.
    Fixed,
    /// Nobody knows.
    #[default]
    Unknown,
    /// The recorder changed it by itself: levels cannot be claimed.
    Automatic,
}

/// What made the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Excitation {
    /// A loudspeaker or music in the source room.
    #[default]
    Airborne,
    /// The standard tapping machine on the floor of the source room.
    TappingMachine,
    /// The standard rubber ball dropped on the floor of the source room.
    RubberBall,
    /// A loudspeaker outside at 45°.
    LoudspeakerOutside,
    /// Traffic outside.
    Traffic,
}

/// How samples become pressure.
#[derive(Clone, Debug, PartialEq)]
pub enum Calibration {
    /// Peak pressure of digital full scale.
    FullScale(Pascal),
    /// A tone of known level.
    Tone {
        /// Its level.
        level: Level,
        /// Its frequency.
        frequency: Hertz,
        /// Where it is in the file, if stated.
        stretch: Option<(Seconds, Seconds)>,
        /// Another file that holds it, if it is not in the recording itself.
        file: Option<String>,
    },
    /// The microphone stood beside a calibrated one for a while.
    Beside {
        /// The calibrated channel, counted from 1.
        channel: u16,
        /// When they stood side by side.
        stretch: (Seconds, Seconds),
    },
}

/// One channel of a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    /// Channel of the file, counted from 1.
    pub number: u16,
    /// Name of the position, unique in the recording.
    pub position: String,
    /// The room.
    pub room: RoomIndex,
    /// Where in the room, in words.
    pub place: Option<String>,
    /// To the right and upward on the plan from the lower left corner of the room, and above the
    /// floor.
    pub spot: Option<[Metre; 3]>,
    /// What the position is good for.
    pub kind: PositionKind,
    /// The opening or boundary a microphone close to a surface was at.
    pub at: Option<Surface>,
    /// Correction curve of the microphone: path of a CSV file.
    pub correction: Option<String>,
    /// Its own calibration, if any.
    pub calibration: Option<Calibration>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// A surface a microphone was close to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Surface {
    /// The boundary.
    pub boundary: wythe_building::BoundaryIndex,
    /// The opening in it by id; `None` for the wall or floor itself.
    pub opening: Option<String>,
}

/// Kinds of position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum PositionKind {
    /// In the room, away from walls and source.
    #[default]
    Position,
    /// In a corner, for the low-frequency procedure.
    Corner,
    /// Near the source: what it plays, not the level of the room.
    NearSource,
    /// On the outer face of the tested element.
    OnFacade,
    /// Outside, 2 m before the facade.
    BeforeFacade,
    /// A hand's breadth from a surface, which [`Channel::at`] names.
    NearSurface,
}

/// A stretch of a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins.
    pub from: Seconds,
    /// Where it ends.
    pub to: Seconds,
    /// What it holds.
    pub kind: StretchKind,
    /// The room the source played in, if stated.
    pub room: Option<RoomIndex>,
    /// The reason, for excluded ones.
    pub why: Option<String>,
    /// Channels it is about, counted from 1; empty for all.
    pub channels: Vec<u16>,
}

/// Kinds of stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StretchKind {
    /// The source sounds.
    Source,
    /// The room by itself.
    Background,
    /// A calibration tone.
    Calibration,
    /// A decay: bursts, claps, interrupted noise.
    Decay,
    /// Not to be used.
    Excluded,
    /// To be used in spite of what the program finds wrong with it.
    Keep,
}

/// A decay time measured otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredDecay {
    /// The room.
    pub room: RoomIndex,
    /// Decay time per band.
    pub times: Spectrum<Seconds>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// A time by the clock, and how long it may be meant: a minute where no seconds were written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeOfDay {
    /// Time since midnight, below 24 h.
    pub since_midnight: Seconds,
    /// 60 s for `18:30`, 0 for `18:30:15`.
    pub within: Seconds,
}

impl TimeOfDay {
    /// `18:30` or `18:30:15`, with decimals of the second if need be.
    fn read(text: &str) -> Option<TimeOfDay> {
        let parts: Vec<&str> = text.split(':').collect();
        let whole = |t: &str, most: u32| {
            let plain = (1..=2).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
            t.parse::<u32>().ok().filter(|v| plain && *v < most).map(f64::from)
        };
        let (hours, minutes, seconds) = match parts[..] {
            [h, m] => (h, m, None),
            [h, m, s] => (h, m, Some(s)),
            _ => return None,
        };
        let minutes = whole(hours, 24)? * 60.0 + whole(minutes, 60)?;
        let seconds = match seconds {
            Some(s) if s.bytes().all(|b| b.is_ascii_digit() || b == b'.') => {
                Some(s.parse::<f64>().ok().filter(|s| (0.0..60.0).contains(s))?)
            }
            Some(_) => return None,
            None => None,
        };
        Some(TimeOfDay {
            since_midnight: Seconds(minutes * 60.0 + seconds.unwrap_or(0.0)),
            within: Seconds(if seconds.is_some() { 0.0 } else { 60.0 }),
        })
    }

    /// The first time of day in words such as `2031-04-02 18:30` or `2031-04-02T18:30:15`.
    fn within(text: &str) -> Option<TimeOfDay> {
        text.split(|c: char| c.is_whitespace() || matches!(c, 'T' | ',' | ';' | 'Z' | '+' | '-'))
            .find_map(TimeOfDay::read)
    }
}

/// How the times of a note were told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Told {
    /// From the start of the file.
    FromStart,
    /// As times of day, which are since midnight still: the file may say when it begins.
    OfDay,
    /// As moments of a day, counted from `begun` already.
    Moment,
}

/// A note of what happened when.
#[derive(Clone, Debug, PartialEq)]
pub struct LogEntry {
    /// The recording it is about; `None` for all.
    pub file: Option<String>,
    /// Start, from the beginning of the file, or since midnight.
    pub from: Seconds,
    /// End; `None` for a moment. By the clock it lies before the start when midnight lies between.
    pub to: Option<Seconds>,
    /// How its times were told.
    pub told: Told,
    /// What happened.
    pub text: String,
}

/// A note taken by the clock, before anybody knew where in a recording that would be.
#[derive(Clone, Debug, PartialEq)]
pub struct ClockNote {
    /// When, as it was written.
    pub at: String,
    /// When it ended, as it was written; `None` for a moment.
    pub until: Option<String>,
    /// What happened.
    pub text: String,
    /// Recordings it falls into, as far as their beginnings are known.
    pub files: Vec<String>,
}

/// A recording whose end nobody has looked at yet is taken to be no longer than a day.
const LONGEST_RECORDING: f64 = 86_400.0;

pub(crate) fn read(notes: &mut Notes, record: &Record, building: &Building) -> Survey {
    let mut survey = Survey {
        title: record.text("title").map(str::to_owned),
        notes: record.text("notes").map(str::to_owned),
        ..Survey::default()
    };
    if let Some(test) = record.record("test") {
        let said = crate::keys::TEST.keys.iter().map(|k| (k.name, test.text(k.name)));
        survey.test = said.filter_map(|(k, t)| Some((k, t?.to_owned()))).collect();
    }
    for (key, most) in
        [("recording", 2000), ("decay_time", 2000), ("log", 20_000), ("instrument", 200)]
    {
        if let Some(extra) = record.records(key).get(most) {
            let text = format!("more than {most} of `{key}`");
            notes.problem("project::count", &extra.place, text, "split the survey");
            return survey;
        }
    }
    for record in record.records("recording") {
        recording(notes, record, building, &mut survey);
    }
    for record in record.records("instrument") {
        let said = |key: &str| record.text(key).unwrap_or_default().to_owned();
        survey.instruments.push(Instrument {
            kind: said("kind"),
            make: said("make"),
            model: said("model"),
            serial: said("serial"),
            class: said("class"),
            calibrated: said("calibrated"),
            used_for: said("used_for"),
        });
    }
    for record in record.records("decay_time") {
        let room = room(notes, record, "room", building);
        let times = decay_times(record, "time");
        if let (Some(room), Some(times)) = (room, times) {
            survey.decay_times.push(MeasuredDecay { room, times, standpoint: record.standpoint() });
        }
    }
    for record in record.records("log") {
        let file = record.text("file").map(str::to_owned);
        if let Some(file) = &file
            && !survey.recordings.iter().any(|r| &r.file == file)
        {
            let known: Vec<&str> = survey.recordings.iter().map(|r| r.file.as_str()).collect();
            let text = format!("{}: no recording `{}` is described", record.label, short(file));
            notes.problem(
                "project::unknown-recording",
                record.at("file"),
                text,
                hint(file, &known),
            );
        }
        if record.has("at") || record.has("until") {
            clock_note(notes, record, file, &mut survey);
        } else if let Some(entry) = record.text("entry") {
            log_entry(notes, entry, record.at("entry"), file, of_day(record), &mut survey);
        }
    }
    if !survey.noted.is_empty()
        && let Some(first) = survey.recordings.iter().position(|r| r.begun.is_none())
    {
        let place = record.records("recording").get(first).map_or(&record.place, |r| &r.place);
        let text = format!(
            "{}: notes were taken by the clock, and nobody says when this recording began; state \
             `begun` to the second, or they stay out of it",
            survey.recordings[first].file
        );
        notes.remark("project::begun", place, text);
    }
    survey
}

fn recording(notes: &mut Notes, record: &Record, building: &Building, survey: &mut Survey) {
    let file = record.text("file").unwrap_or_default().to_owned();
    if let Some(why) = refused_path(&file).filter(|_| record.has("file")) {
        let text = format!("{}: `file` {why}", record.label);
        notes.problem(
            "project::file",
            record.at("file"),
            text,
            "for example `file = \"recordings/hall.wav\"`",
        );
    }
    if survey.recordings.iter().any(|r| r.file == file) && !file.is_empty() {
        let text = format!("{}: the file is described twice", record.label);
        notes.problem(
            "project::twice",
            record.at("file"),
            text,
            "keep one `[[recording]]` per file",
        );
    }
    let state = record.text("state").map(str::to_owned);
    if let Some(state) = &state
        && !building.states.iter().any(|s| &s.name == state)
    {
        let known: Vec<&str> = building.states.iter().map(|s| s.name.as_str()).collect();
        let text = format!("{}: there is no state `{}`", record.label, short(state));
        notes.problem("project::unknown-state", record.at("state"), text, hint(state, &known));
    }
    let gain = match record.text("gain") {
        Some("fixed") => Gain::Fixed,
        Some("automatic") => Gain::Automatic,
        _ => Gain::Unknown,
    };
    let calibration = record.record("calibration").and_then(|c| calibration(notes, c));
    let mut channels: Vec<Channel> = Vec::new();
    for key in ["channel", "stretch"] {
        if record.records(key).len() > 1024 {
            let text = format!("{}: more than 1024 of `{key}`", record.label);
            notes.problem("project::count", record.at(key), text, "a file has fewer");
            return;
        }
    }
    for channel in record.records("channel") {
        let number = channel.whole("number").unwrap_or(0) as u16;
        if number > 0 && channels.iter().any(|c| c.number == number) {
            let text = format!("{}: channel {number} stands twice", record.label);
            notes.problem(
                "project::twice",
                channel.at("number"),
                text,
                "each channel is described once",
            );
        }
        let Some(room) = room(notes, channel, "room", building) else { continue };
        let position = match channel.text("position") {
            Some(id) => id.to_owned(),
            None => format!("{}-{number}", building.rooms[room.0].id),
        };
        channels.push(Channel {
            number,
            position,
            room,
            place: channel.text("place").map(str::to_owned),
            spot: channel.record("spot").and_then(|s| {
                let up = s.number("up").unwrap_or(1.2);
                Some([Metre(s.number("x")?), Metre(s.number("y")?), Metre(up)])
            }),
            kind: match channel.text("kind") {
                Some("corner") => PositionKind::Corner,
                Some("near source") => PositionKind::NearSource,
                Some("on facade") => PositionKind::OnFacade,
                Some("before facade") => PositionKind::BeforeFacade,
                Some("near surface") => PositionKind::NearSurface,
                _ => PositionKind::Position,
            },
            at: surface(notes, channel, building, room),
            correction: inside(notes, channel, "correction", "microphones/seven.csv"),
            calibration: channel.record("calibration").and_then(|c| self::calibration(notes, c)),
            standpoint: channel.standpoint(),
        });
    }
    if channels.is_empty() && record.records("channel").is_empty() {
        let text =
            format!("{}: no channel is described, so the recording says nothing", record.label);
        notes.remark("project::no-channel", &record.place, text);
    }
    if calibration.is_none() && channels.iter().any(|c| c.calibration.is_none()) {
        let text = format!(
            "{}: no calibration is stated; levels will be relative only unless a tone is found",
            record.label
        );
        notes.remark("project::no-calibration", &record.place, text);
    }
    let mut stretches = Vec::new();
    for stretch in record.records("stretch") {
        let (Some(from), Some(to)) = (stretch.number("from"), stretch.number("to")) else {
            continue;
        };
        if !(to > from) {
            let text = format!(
                "{}: the stretch ends at {to} s, before it begins at {from} s",
                record.label
            );
            notes.problem(
                "project::stretch",
                stretch.at("to"),
                text,
                "for example `from = \"0:20\"`, `to = \"2:40\"`",
            );
            continue;
        }
        let kind = match stretch.text("kind") {
            Some("source") => StretchKind::Source,
            Some("background") => StretchKind::Background,
            Some("calibration") => StretchKind::Calibration,
            Some("decay") => StretchKind::Decay,
            Some("excluded") => StretchKind::Excluded,
            Some("keep") => StretchKind::Keep,
            _ => continue,
        };
        let source_room = stretch.text("room").and_then(|_| room(notes, stretch, "room", building));
        let listed: Vec<u16> = match stretch.given("channels").map(|g| &g.value) {
            Some(Value::Wholes(numbers)) => {
                for (n, place) in numbers {
                    if !record.records("channel").is_empty()
                        && !channels.iter().any(|c| i64::from(c.number) == *n)
                    {
                        let text =
                            format!("{}: channel {n} of a stretch is not described", record.label);
                        notes.problem(
                            "project::unknown-channel",
                            place,
                            text,
                            "describe it with `[[recording.channel]]`, or take it out",
                        );
                    }
                }
                numbers.iter().map(|(n, _)| *n as u16).collect()
            }
            _ => Vec::new(),
        };
        stretches.push(Stretch {
            from: Seconds(from),
            to: Seconds(to),
            kind,
            room: source_room,
            why: stretch.text("why").map(str::to_owned),
            channels: listed,
        });
    }
    for (entry, place) in record.texts("log") {
        log_entry(notes, entry, place, Some(file.clone()), of_day(record), survey);
    }
    let same_time_as = record.text("same_time_as").map(str::to_owned);
    if let Some(other) = &same_time_as
        && !survey.recordings.iter().any(|r| &r.file == other)
    {
        let known: Vec<&str> = survey.recordings.iter().map(|r| r.file.as_str()).collect();
        let text = format!(
            "{}: no recording `{}` is described before this one",
            record.label,
            short(other)
        );
        let place = record.at("same_time_as");
        notes.problem("project::unknown-recording", place, text, hint(other, &known));
    }
    survey.recordings.push(Recording {
        equal_gains: record.flag("equal_gains").unwrap_or(false),
        recorder: record.text("recorder").map(str::to_owned),
        source_position: record.text("source_position").map(str::to_owned),
        same_time_as,
        excitation: match record.text("excitation") {
            Some("tapping machine") => Excitation::TappingMachine,
            Some("rubber ball") => Excitation::RubberBall,
            Some("loudspeaker outside") => Excitation::LoudspeakerOutside,
            Some("traffic") => Excitation::Traffic,
            _ => Excitation::Airborne,
        },
        file,
        title: record.text("title").map(str::to_owned),
        taken: record.text("taken").map(str::to_owned),
        begun: moment(notes, record, "begun"),
        planned: record.flag("planned").unwrap_or(false),
        begins: record.text("begun").or_else(|| record.text("taken")).and_then(TimeOfDay::within),
        state,
        gain,
        calibration,
        channels,
        stretches,
        standpoint: record.standpoint(),
    });
}

/// A path that must stay inside the project folder.
fn inside(notes: &mut Notes, record: &Record, key: &str, example: &str) -> Option<String> {
    let path = record.text(key)?;
    if let Some(why) = refused_path(path) {
        let text = format!("{}: `{key}` {why}", record.label);
        let help = format!("for example `{key} = \"{example}\"`");
        notes.problem("project::file", record.at(key), text, help);
        return None;
    }
    Some(path.to_owned())
}

fn calibration(notes: &mut Notes, record: &Record) -> Option<Calibration> {
    let example = "either `full_scale = \"20 Pa\"`, or `tone = \"94 dB\"` with where it is";
    if let Some(channel) = record.whole("beside_channel") {
        let alone = !record.has("full_scale") && !record.has("tone");
        return match (record.number("from"), record.number("to")) {
            (Some(from), Some(to)) if alone && to > from => Some(Calibration::Beside {
                channel: channel as u16,
                stretch: (Seconds(from), Seconds(to)),
            }),
            _ => {
                let text = format!(
                    "{}: `beside_channel` stands without a tone and needs `from` and `to`, the \
                     later one last",
                    record.label
                );
                let help = "for example `{ beside_channel = 1, from = \"0:30\", to = \"1:30\" }`";
                notes.problem("project::calibration", record.at("beside_channel"), text, help);
                None
            }
        };
    }
    let full_scale = record.given("full_scale").map(|g| &g.value);
    match (full_scale, record.number("tone")) {
        (Some(_), Some(_)) => {
            let text = format!("{}: both a full scale and a tone are stated", record.label);
            notes.problem("project::calibration", &record.place, text, example);
            None
        }
        (Some(Value::Quantity(Quantity::Pressure, pascal)), None) => {
            Some(Calibration::FullScale(Pascal(*pascal)))
        }
        // A sine of that level has a peak of √2 times its effective pressure.
        (Some(Value::Quantity(_, level)), None) => Some(Calibration::FullScale(Pascal(
            2f64.sqrt() * Level::REFERENCE_PASCAL * 10f64.powf(level / 20.0),
        ))),
        (_, Some(level)) => {
            let (from, to) = (record.number("from"), record.number("to"));
            let stretch = match (from, to) {
                (Some(from), Some(to)) if to > from => Some((Seconds(from), Seconds(to))),
                (None, None) => None,
                _ => {
                    let text = format!(
                        "{}: a tone needs both `from` and `to`, the later one last",
                        record.label
                    );
                    notes.problem("project::calibration", &record.place, text, "for example `from = \"0:02\"`, `to = \"0:12\"`; leave both out to have it searched");
                    None
                }
            };
            let file = record.text("file").map(str::to_owned);
            if let Some(why) = file.as_deref().and_then(refused_path) {
                let text = format!("{}: `file` {why}", record.label);
                notes.problem(
                    "project::file",
                    record.at("file"),
                    text,
                    "for example `file = \"recordings/cal.wav\"`",
                );
            }
            Some(Calibration::Tone {
                level: Level(level),
                frequency: Hertz(record.number("frequency").unwrap_or(1000.0)),
                stretch,
                file,
            })
        }
        (_, None) => {
            if !record.is_bad("full_scale") && !record.is_bad("tone") {
                let text = format!("{}: neither a full scale nor a tone is stated", record.label);
                notes.problem("project::calibration", &record.place, text, example);
            }
            None
        }
    }
}

/// One decay time for all bands or per band.
pub(crate) fn decay_times(record: &Record, key: &str) -> Option<Spectrum<Seconds>> {
    match &record.given(key)?.value {
        Value::Bands(table) => Some(table.to_thirds(|t| t).map(|_, t| Seconds(t))),
        Value::Quantity(_, t) => Some(Spectrum::from_fn(|_| Seconds(*t))),
        _ => None,
    }
}

/// What a microphone close to a surface was at; a message where that cannot be told.
fn surface(
    notes: &mut Notes,
    record: &Record,
    building: &Building,
    room: RoomIndex,
) -> Option<Surface> {
    let near = record.text("kind") == Some("near surface");
    match (near, record.text("at")) {
        (false, None) => None,
        (false, Some(_)) => {
            let text = format!("{}: `at` belongs to `kind = \"near surface\"`", record.label);
            notes.problem("project::misplaced", record.at("at"), text, "take it out");
            None
        }
        (true, None) => {
            let text = format!("{}: nobody says which surface it was at", record.label);
            let help = "for example `at = \"lobby-door\"`, an opening or a boundary by id";
            notes.problem("project::missing", record.at("kind"), text, help);
            None
        }
        (true, Some(id)) => {
            let found = building.boundaries.iter().enumerate().find_map(|(i, b)| {
                let boundary = wythe_building::BoundaryIndex(i);
                if b.id == id {
                    return Some((b, Surface { boundary, opening: None }));
                }
                let opening = b.openings.iter().find(|o| o.id == id)?;
                Some((b, Surface { boundary, opening: Some(opening.id.clone()) }))
            });
            match found {
                Some((b, surface)) if b.rooms.contains(&room) => Some(surface),
                Some((b, _)) => {
                    let text = format!(
                        "{}: `{}` is not a surface of its room",
                        record.label,
                        short(b.name())
                    );
                    let help = "name an opening or a boundary of the room the microphone stood in";
                    notes.problem("project::misplaced", record.at("at"), text, help);
                    None
                }
                None => {
                    let known: Vec<&str> = building
                        .boundaries
                        .iter()
                        .flat_map(|b| {
                            b.openings.iter().map(|o| o.id.as_str()).chain([b.id.as_str()])
                        })
                        .collect();
                    let help = hint(id, &known);
                    let text = format!(
                        "{}: there is no opening or boundary `{}`",
                        record.label,
                        short(id)
                    );
                    notes.problem("project::unknown-boundary", record.at("at"), text, help);
                    None
                }
            }
        }
    }
}

fn room(notes: &mut Notes, record: &Record, key: &str, building: &Building) -> Option<RoomIndex> {
    let id = record.text(key)?;
    let found = building.room(id);
    if found.is_none() {
        let known: Vec<&str> = building.rooms.iter().map(|r| r.id.as_str()).collect();
        let text = format!("{}: there is no room `{}`", record.label, short(id));
        notes.problem("project::unknown-room", record.at(key), text, hint(id, &known));
    }
    found
}

fn of_day(record: &Record) -> bool {
    record.text("log_times") == Some("of day")
}

/// A moment by the clock; a message where it cannot be read.
fn moment(notes: &mut Notes, record: &Record, key: &str) -> Option<Moment> {
    let text = record.text(key)?;
    let found = Moment::parse(text);
    if found.is_none() {
        let said = format!("{}: `{key}` is no date with a time: `{}`", record.label, short(text));
        let help = format!("write it to the second: `{key} = \"2031-04-02 18:30:05\"`");
        notes.problem("project::moment", record.at(key), said, help);
    }
    found
}

/// A note by the clock, put into every recording that ran then.
fn clock_note(notes: &mut Notes, record: &Record, file: Option<String>, survey: &mut Survey) {
    let text = record.text("entry").unwrap_or_default().trim().to_owned();
    let Some(at) = moment(notes, record, "at") else {
        if !record.has("at") {
            let said = format!("{}: `until` stands without `at`", record.label);
            notes.problem("project::log", record.at("until"), said, "say when it began");
        }
        return;
    };
    let until = moment(notes, record, "until");
    if let Some(until) = until
        && !(until.since(at) > 0.0)
    {
        let said = format!("{}: it ends before it begins", record.label);
        notes.problem("project::log", record.at("until"), said, "the later one is `until`");
        return;
    }
    let mut files = Vec::new();
    for recording in survey.recordings.iter().filter(|r| file.as_ref().is_none_or(|f| *f == r.file))
    {
        let Some(begun) = recording.begun else { continue };
        let from = at.since(begun);
        let to = until.map(|u| u.since(begun));
        // What is noted at the very beginning, such as that the recorder runs, troubles nothing.
        if from.abs() < 0.5 || to.unwrap_or(from) <= 0.0 || from > LONGEST_RECORDING {
            continue;
        }
        files.push(recording.file.clone());
        survey.log.push(LogEntry {
            file: Some(recording.file.clone()),
            from: Seconds(from.max(0.0)),
            to: to.map(Seconds),
            told: Told::Moment,
            text: text.clone(),
        });
    }
    survey.noted.push(ClockNote {
        at: record.text("at").unwrap_or_default().to_owned(),
        until: record.text("until").map(str::to_owned),
        text,
        files,
    });
}

/// `from-to words` or `at words`.
fn log_entry(
    notes: &mut Notes,
    entry: &str,
    place: &Place,
    file: Option<String>,
    of_day: bool,
    survey: &mut Survey,
) {
    let (when, text) = entry.trim().split_once(char::is_whitespace).unwrap_or((entry.trim(), ""));
    if of_day {
        let (from, to) = when.split_once(['-', '–']).unwrap_or((when, when));
        match (TimeOfDay::read(from), TimeOfDay::read(to)) {
            (Some(from), Some(to)) => survey.log.push(LogEntry {
                file,
                from: from.since_midnight,
                // A moment to the second has no length yet: who reads it gives it one.
                to: (to.within.0 > 0.0 || to != from)
                    .then_some(Seconds(to.since_midnight.0 + to.within.0)),
                told: Told::OfDay,
                text: text.trim().to_owned(),
            }),
            _ => notes.problem(
                "project::log",
                place,
                format!("`{}` does not begin with a time of day", short(entry)),
                "for example `\"20:31-20:33 talking\"` or `\"20:31:10 door slammed\"`",
            ),
        }
        return;
    }
    let time = |t: &str| t.contains(':').then(|| parse(Quantity::Time, t).ok()).flatten();
    let (from, to) = match when.split_once(['-', '–']) {
        Some((a, b)) => (time(a), time(b).map(Some)),
        None => (time(when), Some(None)),
    };
    match (from, to) {
        (Some(from), Some(to)) if to.is_none_or(|t| t > from) => survey.log.push(LogEntry {
            file,
            from: Seconds(from),
            to: to.map(Seconds),
            told: Told::FromStart,
            text: text.trim().to_owned(),
        }),
        _ => notes.problem(
            "project::log",
            place,
            format!("`{}` does not begin with a time or a stretch of time", short(entry)),
            "for example `\"12:04-12:06 talking\"` or `\"1:02:10 door slammed\"`",
        ),
    }
}
