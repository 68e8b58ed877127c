//! What was recorded.

use crate::messages;
use wythe_project::survey::{Calibration, Gain, PositionKind, StretchKind};
use wythe_project::{MemoryFiles, read, template};

const SURVEY: &str = r#"
title = "First survey"

[[recording]]
file = "recordings/evening.wav"
taken = "2031-04-02 18:30"
gain = "fixed"
calibration = { tone = "94 dB", frequency = "1 kHz", from = "0:02", to = "0:12" }
log = ["12:04-12:06 talking"]

[[recording.channel]]
number = 1
position = "near-kit"
room = "music-room"
kind = "near source"

[[recording.channel]]
number = 2
room = "bedroom"
place = "over the pillow"
calibration = { full_scale = "120 dB" }

[[recording.stretch]]
from = "0:20"
to = "2:40"
kind = "source"
room = "music-room"

[[recording.stretch]]
from = "170 s"
to = "4 min"
kind = "background"
channels = [2]

[[decay_time]]
room = "bedroom"
time = { unit = "s", 500 = 0.45, 1000 = 0.42, 2000 = 0.4, 630 = 0.41 }

[[log]]
entry = "1:02:10 door slammed"
file = "recordings/evening.wav"
"#;

#[test]
fn what_a_report_of_a_field_test_states_is_kept_as_it_is_written() {
    let more = r#"
[test]
operator = "the owner"
weather = "dry, 14 degrees"

[[instrument]]
kind = "recorder"
serial = "0417"
calibrated = "2030-11"
"#;
    let survey = SURVEY.replace(
        "place = \"over the pillow\"\n",
        "place = \"over the pillow\"\nspot = { x = \"1.4 m\", y = \"7 ft\" }\n",
    );
    let files = MemoryFiles::new()
        .with("wythe.toml", template())
        .with("survey.toml", format!("{survey}{more}"));
    let reading = read(&files);
    assert_eq!(messages(&reading), "");
    let survey = reading.project.unwrap().survey.unwrap();
    let said = [("operator", "the owner".to_owned()), ("weather", "dry, 14 degrees".to_owned())];
    assert_eq!(survey.test, said);
    assert_eq!(survey.instruments.len(), 1);
    let instrument = &survey.instruments[0];
    assert_eq!((instrument.serial.as_str(), instrument.make.as_str()), ("0417", ""));
    let [x, y, up] = survey.recordings[0].channels[1].spot.unwrap();
    assert_eq!((x.0, up.0), (1.4, 1.2));
    assert!((y.0 - 2.1336).abs() < 1e-9);
    assert_eq!(survey.recordings[0].channels[0].spot, None);
    // An instrument has to say what it is.
    let files = MemoryFiles::new()
        .with("wythe.toml", template())
        .with("survey.toml", format!("{SURVEY}\n[[instrument]]\nmake = \"x\"\n"));
    assert!(messages(&read(&files)).contains("kind"));
}

#[test]
fn a_survey_is_read() {
    let files = MemoryFiles::new().with("wythe.toml", template()).with("survey.toml", SURVEY);
    let reading = read(&files);
    assert_eq!(messages(&reading), "");
    let project = reading.project.unwrap();
    let survey = project.survey.unwrap();
    let recording = &survey.recordings[0];
    assert_eq!(recording.gain, Gain::Fixed);
    assert!(matches!(
        &recording.calibration,
        Some(Calibration::Tone { level, stretch: Some((from, to)), .. })
            if level.0 == 94.0 && from.0 == 2.0 && to.0 == 12.0
    ));
    assert_eq!(recording.channels[0].kind, PositionKind::NearSource);
    assert_eq!(recording.channels[1].position, "bedroom-2");
    // A sine of 120 dB: 20 Pa effective, 28.28 Pa peak.
    let Some(Calibration::FullScale(peak)) = recording.channels[1].calibration else { panic!() };
    assert!((peak.0 - 20.0 * 2f64.sqrt()).abs() < 1e-9);
    assert_eq!(recording.stretches[1].kind, StretchKind::Background);
    assert_eq!(recording.stretches[1].from.0, 170.0);
    assert_eq!(recording.stretches[1].channels, [2]);
    assert_eq!(survey.decay_times[0].times.len(), 4);
    assert_eq!(survey.log.len(), 2);
    assert_eq!(survey.log[0].text, "talking");
    assert_eq!(survey.log[0].to.map(|t| t.0), Some(726.0));
    assert_eq!(survey.log[1].from.0, 3730.0);
}

#[test]
fn a_broken_survey_leaves_the_building() {
    let broken = SURVEY
        .replace("room = \"bedroom\"\nplace", "room = \"bedrom\"\nplace")
        .replace("to = \"2:40\"", "to = \"0:10\"")
        .replace("channels = [2]", "channels = [3]")
        .replace("gain = \"fixed\"", "gain = \"steady\"")
        .replace("1:02:10 door", "noonish door");
    let files = MemoryFiles::new().with("wythe.toml", template()).with("survey.toml", broken);
    let reading = read(&files);
    insta::assert_snapshot!(messages(&reading), @r#"
    survey.toml:7:8: recording `recordings/evening.wav`: `gain` cannot be `steady`
      = known here: `fixed`, `unknown`, `automatic`
      = project::word
    survey.toml:19:8: recording `recordings/evening.wav`, channel `2`: there is no room `bedrom`
      = did you mean `bedroom`?
      = project::unknown-room
    survey.toml:25:6: recording `recordings/evening.wav`: the stretch ends at 10 s, before it begins at 20 s
      = for example `from = "0:20"`, `to = "2:40"`
      = project::stretch
    survey.toml:33:13: recording `recordings/evening.wav`: channel 3 of a stretch is not described
      = describe it with `[[recording.channel]]`, or take it out
      = project::unknown-channel
    survey.toml:40:9: `noonish door slammed` does not begin with a time or a stretch of time
      = for example `"12:04-12:06 talking"` or `"1:02:10 door slammed"`
      = project::log
    "#);
    let project = reading.project.expect("the building is fine");
    assert!(project.survey.is_none());
}

#[test]
fn notes_by_the_clock_find_their_place_in_every_recording_that_ran() {
    let survey = |begun: &str| {
        format!(
            r#"
[[recording]]
file = "recordings/evening.wav"
gain = "fixed"
{begun}

[[recording.channel]]
number = 1
room = "bedroom"

[[log]]
at = "2031-04-02 18:30:05+02:00"
entry = "recorder started"

[[log]]
at = "2031-04-02 18:42:10+02:00"
until = "2031-04-02 18:42:40+02:00"
entry = "talking"

[[log]]
at = "2031-04-02 17:00:00+02:00"
entry = "before it"

[[log]]
at = "2031-04-05 17:00:00+02:00"
entry = "days later"
"#
        )
    };
    let read = |text: String| {
        read(&MemoryFiles::new().with("wythe.toml", template()).with("survey.toml", text))
    };
    let reading = read(survey("begun = \"2031-04-02 18:30:05\""));
    assert_eq!(messages(&reading), "");
    let found = reading.project.unwrap().survey.unwrap();
    assert_eq!(found.noted.len(), 4);
    let [entry] = &found.log[..] else { panic!("{:?}", found.log) };
    assert_eq!(entry.from.0, 725.0);
    assert_eq!(entry.to.map(|t| t.0), Some(755.0));
    assert_eq!(found.noted[1].files, ["recordings/evening.wav"]);
    // Where nobody says when the recording began, that is said, and nothing is left out.
    let reading = read(survey(""));
    assert!(reading.remarks.iter().any(|r| r.code == "project::begun"));
    assert!(reading.project.unwrap().survey.unwrap().log.is_empty());
    let reading = read(survey("begun = \"2031-04-02 18:30\""));
    assert!(messages(&reading).contains("no date with a time"), "{}", messages(&reading));
    let backwards = survey("").replace("18:42:40", "18:42:00");
    assert!(messages(&read(backwards)).contains("ends before it begins"));
}
