//! Surveys measured from recordings whose truth is known, through the command line.

#[path = "../cli/run.rs"]
#[allow(dead_code)]
mod run;

use std::path::{Path, PathBuf};

use serde_json::Value;
use wythe_recording::test_signal::SplitMix64;
use wythe_recording::wav::{Depth, to_bytes};

use crate::run::{Folder, on};

const RATE: u32 = 16_000;
/// The source plays in this time, s.
const PLAYED: (f64, f64) = (20.0, 80.0);
const LENGTH: f64 = 95.0;

/// A project with two rooms and an outside.
fn project(folder: &Folder) -> PathBuf {
    let path = folder.file("project");
    let said = on("new", &path, &[]);
    assert_eq!(said.code, 0, "{}", said.err);
    path
}

fn survey(project: &Path, text: &str) {
    std::fs::write(project.join("survey.toml"), format!("wythe = 1\n{text}")).unwrap();
}

fn put(project: &Path, name: &str, channels: &[Vec<f64>]) {
    let n = channels[0].len();
    let x: Vec<f64> = (0..n).flat_map(|k| channels.iter().map(move |c| c[k])).collect();
    std::fs::create_dir_all(project.join("recordings")).unwrap();
    let bytes = to_bytes(RATE, channels.len(), Depth::Int24, &x).unwrap();
    std::fs::write(project.join("recordings").join(name), bytes).unwrap();
}

fn samples() -> usize {
    (LENGTH * f64::from(RATE)) as usize
}

/// Strokes with louder and softer passages, at full scale 1 Pa: about 80 dB while they sound.
fn played(seed: u64) -> Vec<f64> {
    let mut r = SplitMix64::new(seed);
    let (mut envelope, mut next) = (0.0f64, 0usize);
    (0..samples())
        .map(|n| {
            let t = n as f64 / f64::from(RATE);
            if n >= next && (PLAYED.0..PLAYED.1).contains(&t) {
                let passage = 10f64.powf(0.4 * (0.7 * t).sin());
                envelope += passage * (0.3 + 0.7 * r.uniform());
                next = n + (f64::from(RATE) * (0.1 + 0.3 * r.uniform())) as usize;
            }
            envelope *= (-1.0 / (0.1 * f64::from(RATE))).exp();
            0.1 * envelope * r.gauss()
        })
        .collect()
}

fn noise(seed: u64, rms: f64) -> Vec<f64> {
    wythe_recording::test_signal::white(seed, rms, samples())
}

/// Late by some milliseconds, softer by so many decibels.
fn through(x: &[f64], decibels: f64) -> Vec<f64> {
    let gain = 10f64.powf(-decibels / 20.0);
    let late = 200;
    (0..x.len()).map(|n| if n >= late { gain * x[n - late] } else { 0.0 }).collect()
}

fn plus(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

const CHANNELS: &str = r#"
[[recording.channel]]
number = 1
room = "music-room"
[[recording.channel]]
number = 2
room = "bedroom"
"#;

fn measured(project: &Path, options: &[&str]) -> Value {
    let mut all = vec!["--json"];
    all.extend(options);
    let said = on("measure", project, &all);
    assert_eq!(said.code, 0, "{}", said.err);
    said.json()
}

fn has_remark<'a>(m: &'a Value, code: &str) -> Option<&'a str> {
    m["remarks"].as_array().unwrap().iter().find(|r| r["code"] == code)?["text"].as_str()
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("{v} is no number"))
}

const BANDS: [&str; 5] = ["250", "500", "1000", "2000", "4000"];

#[test]
fn an_unmarked_recording_with_talking_is_measured_and_saved() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(1);
    let mut heard = plus(&through(&x, 30.0), &noise(3, 2e-4));
    // Somebody talks beside the quiet microphone for four seconds.
    let mut r = SplitMix64::new(9);
    let talk = 40.0 * f64::from(RATE);
    for (n, v) in heard.iter_mut().enumerate().skip(talk as usize).take(4 * RATE as usize) {
        let t = n as f64 / f64::from(RATE);
        *v += 0.05 * (std::f64::consts::TAU * 4.0 * t).sin().max(0.0) * r.gauss();
    }
    put(&project, "evening.wav", &[plus(&x, &noise(2, 1e-4)), heard]);
    survey(
        &project,
        &format!(
            "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ full_scale = \"1 Pa\" \
             }}\n{CHANNELS}"
        ),
    );
    let m = measured(&project, &["--save"]);
    let pair = &m["pairs"][0];
    for band in BANDS {
        assert_eq!(pair["background_corrected"][band], "valid", "{pair}");
        let d = number(&pair["difference_db"][band]);
        assert!((d - 30.0).abs() < 0.6, "{band} {d}");
    }
    assert!(has_remark(&m, "measure::found-stretches").is_some());
    let stretches = m["files"][0]["stretches"].as_array().unwrap();
    let source: Vec<_> = stretches.iter().filter(|s| s["kind"] == "source").collect();
    assert!(source.iter().all(|s| s["found_by"] == "program"));
    assert!((number(&source[0]["from_s"]) - PLAYED.0).abs() < 1.5);
    assert!(stretches.iter().any(|s| s["kind"] == "background"));
    let quiet = &m["positions"][1]["excluded"];
    let talk = quiet.as_array().unwrap().iter().find(|e| {
        e["why"] == "sound in the receiving room only"
            && number(&e["from_s"]) < 41.0
            && number(&e["to_s"]) > 43.0
    });
    let talk = talk.unwrap_or_else(|| panic!("{quiet}"));
    assert_eq!(talk["found_by"], "program");
    assert!(number(&talk["effect_db"]) > 0.5, "{talk}");
    // What was saved is what was printed, and the history is a table of the right length.
    let saved = std::fs::read_to_string(project.join("results/measured.json")).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&saved).unwrap(), m);
    let table = std::fs::read(project.join("results/history/evening.wav.parquet")).unwrap();
    assert!(table.starts_with(b"PAR1") && table.ends_with(b"PAR1"));
    assert!(table.len() > 4 * 37 * 2 * 949, "{}", table.len());
    let left: Vec<_> = std::fs::read_dir(project.join("results/history")).unwrap().collect();
    assert_eq!(left.len(), 1, "no half-written file is left");
}

#[test]
fn what_the_background_hides_is_recovered() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(11);
    // The strokes arrive some ten decibels below the noise.
    let heard = plus(&through(&x, 40.0), &noise(13, 2.2e-3));
    put(&project, "evening.wav", &[x, heard]);
    survey(
        &project,
        &format!(
            "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ full_scale = \"1 Pa\" \
             }}\n{CHANNELS}[[recording.stretch]]\nfrom = \"21 s\"\nto = \"79 s\"\nkind = \"source\"\n\
             room = \"music-room\"\n[[recording.stretch]]\nfrom = \"2 s\"\nto = \"18 s\"\nkind = \
             \"background\"\n"
        ),
    );
    let m = measured(&project, &[]);
    let pair = &m["pairs"][0];
    for band in BANDS {
        assert_eq!(pair["background_corrected"][band], "coherent", "{pair:#}");
        let d = number(&pair["difference_db"][band]);
        let found = &pair["recovered"][band];
        assert!((d - 40.0).abs() < 1.5, "{band} {d}");
        assert_eq!(found["by"], "coherence");
        assert!(number(&found["at_least_db"]) < 41.0 && number(&found["at_most_db"]) > 39.0);
    }
    assert!((number(&m["positions"][1]["delay_s"]) - 200.0 / 16_000.0).abs() < 1e-4);
}

#[test]
fn gains_stated_equal_give_differences_and_no_levels() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(21);
    put(&project, "evening.wav", &[x.clone(), plus(&through(&x, 25.0), &noise(23, 1e-4))]);
    let text = |more: &str| {
        format!("[[recording]]\nfile = \"recordings/evening.wav\"\n{more}\n{CHANNELS}")
    };
    survey(&project, &text(""));
    let without = measured(&project, &[]);
    assert_eq!(without["pairs"].as_array().unwrap().len(), 0);
    assert!(has_remark(&without, "measure::relative-only").is_some());
    survey(&project, &text("equal_gains = true"));
    let with = measured(&project, &[]);
    let pair = &with["pairs"][0];
    assert!(pair.is_object(), "{with:#}");
    assert!((number(&pair["difference_db"]["1000"]) - 25.0).abs() < 0.5, "{pair}");
    assert!(pair["source_level_db"].is_null() && pair["compared_by"].is_string());
    assert!(with["positions"][0].get("laeq_db").is_none());
}

#[test]
fn a_recorder_carried_from_room_to_room_needs_no_calibration() {
    let folder = Folder::new();
    let project = project(&folder);
    // Steady noise, the same while the recorder stood in both rooms.
    let x: Vec<f64> = noise(31, 0.1)
        .iter()
        .enumerate()
        .map(|(n, v)| {
            let t = n as f64 / f64::from(RATE);
            if (PLAYED.0..PLAYED.1).contains(&t) { *v } else { 1e-4 * v }
        })
        .collect();
    put(&project, "hall.wav", std::slice::from_ref(&x));
    put(&project, "bed.wav", &[plus(&through(&x, 35.0), &noise(33, 1e-5))]);
    let one = |file: &str, room: &str| {
        format!(
            "[[recording]]\nfile = \"recordings/{file}\"\ngain = \"fixed\"\nrecorder = \"hand recorder\"\n\
             source_position = \"left\"\n[[recording.channel]]\nnumber = 1\nroom = \"{room}\"\n\
             [[recording.stretch]]\nfrom = \"21 s\"\nto = \"79 s\"\nkind = \"source\"\nroom = \
             \"music-room\"\n[[recording.stretch]]\nfrom = \"2 s\"\nto = \"18 s\"\nkind = \
             \"background\"\n"
        )
    };
    survey(&project, &(one("hall.wav", "music-room") + &one("bed.wav", "bedroom")));
    let m = measured(&project, &[]);
    let pair = &m["pairs"][0];
    assert!((number(&pair["difference_db"]["1000"]) - 35.0).abs() < 0.3, "{m:#}");
    assert!(pair["compared_by"].as_str().unwrap().contains("hand recorder"));
}

#[test]
fn a_gain_step_leaves_out_what_has_another_gain() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = noise(41, 0.1);
    let mut heard = through(&x, 20.0);
    for v in &mut heard[60 * RATE as usize..] {
        *v *= 2.0;
    }
    put(&project, "evening.wav", &[x, heard]);
    survey(
        &project,
        &format!(
            "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ full_scale = \"1 Pa\" \
             }}\n{CHANNELS}[[recording.stretch]]\nfrom = \"1 s\"\nto = \"94 s\"\nkind = \"source\"\n\
             room = \"music-room\"\n"
        ),
    );
    let m = measured(&project, &[]);
    let text = has_remark(&m, "measure::gain-step").unwrap_or_else(|| panic!("{m:#}"));
    assert!(text.contains("by +6.") || text.contains("by +5.9"), "{text}");
    let d = number(&m["pairs"][0]["difference_db"]["1000"]);
    assert!((d - 20.0).abs() < 0.2, "{d}");
    let excluded = &m["positions"][1]["excluded"][0];
    assert!((number(&excluded["from_s"]) - 60.0).abs() < 2.5, "{excluded}");
}

#[test]
fn near_the_source_alone_is_no_room_level_and_that_is_said() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(97);
    let heard = plus(&through(&x, 30.0), &noise(98, 2e-4));
    put(&project, "evening.wav", &[plus(&x, &noise(99, 1e-4)), heard]);
    let near = CHANNELS.replacen(
        "room = \"music-room\"",
        "room = \"music-room\"\nkind = \"near source\"",
        1,
    );
    for (channels, said) in [(near.as_str(), true), (CHANNELS, false)] {
        survey(
            &project,
            &format!(
                "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ full_scale = \"1 \
                 Pa\" }}\n{channels}"
            ),
        );
        let m = measured(&project, &[]);
        assert_eq!(m["pairs"].as_array().unwrap().is_empty(), said);
        assert_eq!(has_remark(&m, "measure::no-room-level").is_some(), said);
    }
}

#[test]
fn swapped_channels_contradict_the_plan() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(51);
    put(&project, "evening.wav", &[plus(&through(&x, 30.0), &noise(53, 1e-4)), x]);
    survey(
        &project,
        &format!(
            "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ full_scale = \"1 Pa\" \
             }}\n{CHANNELS}[[recording.stretch]]\nfrom = \"21 s\"\nto = \"79 s\"\nkind = \"source\"\n\
             room = \"music-room\"\n"
        ),
    );
    let m = measured(&project, &[]);
    let text = has_remark(&m, "measure::swapped-channels").unwrap_or_else(|| panic!("{m:#}"));
    assert!(text.contains("30 dB more"), "{text}");
}

#[test]
fn a_calibrator_of_another_level_is_doubted_by_what_follows_from_it() {
    let folder = Folder::new();
    let project = project(&folder);
    let tone: Vec<f64> = (0..8 * RATE as usize)
        .map(|n| {
            let t = n as f64 / f64::from(RATE);
            0.200_47 * 2f64.sqrt() * (std::f64::consts::TAU * 1000.0 * t).sin()
        })
        .collect();
    put(&project, "cal.wav", &[tone.clone(), tone]);
    let x = played(91);
    // The bedroom holds 25 dB where full scale is 50 Pa (114 dB), and 45 dB where it is 5 Pa (94 dB).
    for (rms, truth, wrong, word) in
        [(7e-6, "114 dB", "94 dB", "higher"), (7e-4, "94 dB", "114 dB", "lower")]
    {
        let bedroom = plus(&through(&x, 40.0), &noise(93, rms));
        put(&project, "evening.wav", &[plus(&x, &noise(94, 3.0 * rms)), bedroom]);
        let remark = |stated: &str| {
            survey(
                &project,
                &format!(
                    "[[recording]]\nfile = \"recordings/evening.wav\"\ncalibration = {{ tone = \
                     \"{stated}\", file = \"recordings/cal.wav\" }}\n{CHANNELS}\
                     [[recording.stretch]]\nfrom = \"21 s\"\nto = \"79 s\"\nkind = \"source\"\n\
                     room = \"music-room\"\n[[recording.stretch]]\nfrom = \"1 s\"\nto = \"18 s\"\n\
                     kind = \"background\"\n"
                ),
            );
            let m = measured(&project, &[]);
            has_remark(&m, "measure::calibrator-level").map(String::from)
        };
        let text = remark(wrong).unwrap_or_else(|| panic!("{wrong} is believed"));
        let right = truth.replace(" dB", "");
        assert!(text.contains(&format!("a tone of {right} dB")), "{text}");
        assert!(text.contains(&format!("20 dB {word}")), "{text}");
        assert_eq!(remark(truth), None);
    }
}

#[test]
fn decays_and_a_tone_in_another_file_and_a_neighbour_and_footsteps() {
    let folder = Folder::new();
    let project = project(&folder);
    let rate = f64::from(RATE);
    // Full scale is 5 Pa: 94 dB is 0.2005 of full scale, rms.
    let tone: Vec<f64> = (0..8 * RATE as usize)
        .map(|n| {
            let t = n as f64 / rate;
            0.200_47 * 2f64.sqrt() * (std::f64::consts::TAU * 1000.0 * t).sin()
        })
        .collect();
    put(&project, "cal.wav", &[tone]);
    // The second microphone is twice as sensitive; both hear the machine, then claps.
    let machine = noise(61, 0.02);
    let mut r = SplitMix64::new(62);
    let t60 = 0.6;
    let signal: Vec<f64> = machine
        .iter()
        .enumerate()
        .map(|(n, v)| {
            let t = n as f64 / rate;
            let clap = |at: f64| {
                if t < at { 0.0 } else { 10f64.powf(-3.0 * (t - at) / t60) }
            };
            let quiet = 1e-5 * r.gauss();
            match t {
                t if t < 40.0 => *v,
                t if t < 60.0 => quiet,
                _ => quiet + 0.3 * r.gauss() * (clap(62.0) + clap(68.0) + clap(74.0)),
            }
        })
        .collect();
    let second: Vec<f64> = signal.iter().map(|v| 2.0 * v).collect();
    put(&project, "steps.wav", &[signal, second]);
    survey(
        &project,
        r#"
[[recording]]
file = "recordings/steps.wav"
excitation = "tapping machine"
[[recording.channel]]
number = 1
room = "bedroom"
calibration = { tone = "94 dB", file = "recordings/cal.wav" }
[[recording.channel]]
number = 2
room = "bedroom"
calibration = { beside_channel = 1, from = "5 s", to = "35 s" }
[[recording.stretch]]
from = "1 s"
to = "39 s"
kind = "source"
room = "music-room"
[[recording.stretch]]
from = "42 s"
to = "58 s"
kind = "background"
[[recording.stretch]]
from = "61 s"
to = "82 s"
kind = "decay"
room = "bedroom"
"#,
    );
    let m = measured(&project, &[]);
    // 0.02 of 5 Pa: 100 mPa, 74 dB, at both.
    for p in m["positions"].as_array().unwrap() {
        assert!((number(&p["lzeq_db"]) - 73.98).abs() < 0.1, "{p}");
        assert_eq!(p["calibrated"], true);
    }
    let decay = &m["decays"][0];
    assert_eq!(decay["room"], "bedroom");
    for band in ["500", "1000", "2000"] {
        assert!((number(&decay["t20_s"][band]) / t60 - 1.0).abs() < 0.12, "{decay}");
    }
    let impact = &m["impacts"][0];
    let (li, lnt) =
        (number(&impact["level_db"]["1000"]), number(&impact["standardized_level_db"]["1000"]));
    let t = number(&impact["decay_time_s"]["1000"]);
    assert!((li - lnt - 10.0 * (t / 0.5).log10()).abs() < 0.02, "{impact:#}");
    assert_eq!(impact["decay_time_assumed"], false);
    assert!(impact["ratings"]["L'nTw"].is_number(), "{impact:#}");
}

#[test]
fn a_second_recorder_is_brought_onto_the_clock_of_the_first() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(71);
    let late = 5 * RATE as usize;
    // The second was switched on five seconds later; what it hears lies under its noise.
    let heard = plus(&through(&x, 38.0), &noise(73, 1.2e-3));
    put(&project, "hall.wav", &[x]);
    put(&project, "bed.wav", &[heard[late..].to_vec()]);
    survey(
        &project,
        r#"
[[recording]]
file = "recordings/hall.wav"
source_position = "left"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "music-room"
[[recording.stretch]]
from = "21 s"
to = "79 s"
kind = "source"
room = "music-room"
[[recording]]
file = "recordings/bed.wav"
source_position = "left"
same_time_as = "recordings/hall.wav"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "bedroom"
[[recording.stretch]]
from = "16 s"
to = "74 s"
kind = "source"
room = "music-room"
[[recording.stretch]]
from = "1 s"
to = "13 s"
kind = "background"
"#,
    );
    let m = measured(&project, &[]);
    let text = has_remark(&m, "measure::aligned").unwrap_or_else(|| panic!("{m:#}"));
    assert!(text.contains("4.988 s later") || text.contains("5.0"), "{text}");
    let pair = &m["pairs"][0];
    assert!(pair.is_object(), "{m:#}");
    for band in ["500", "1000", "2000"] {
        assert_eq!(pair["background_corrected"][band], "coherent", "{pair:#}");
        assert!((number(&pair["difference_db"][band]) - 38.0).abs() < 1.5, "{pair:#}");
    }
}

#[test]
fn a_second_recorder_without_marks_takes_those_of_the_first() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = played(71);
    let late = 5 * RATE as usize;
    let heard = plus(&through(&x, 38.0), &noise(73, 1.2e-3));
    put(&project, "hall.wav", &[x]);
    put(&project, "bed.wav", &[heard[late..].to_vec()]);
    survey(
        &project,
        r#"
[[recording]]
file = "recordings/hall.wav"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "music-room"
[[recording.stretch]]
from = "21 s"
to = "79 s"
kind = "source"
room = "music-room"
[[recording.stretch]]
from = "2 s"
to = "18 s"
kind = "background"
[[recording]]
file = "recordings/bed.wav"
same_time_as = "recordings/hall.wav"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "bedroom"
"#,
    );
    let m = measured(&project, &[]);
    let text = has_remark(&m, "measure::found-stretches").unwrap_or_else(|| panic!("{m:#}"));
    assert!(text.contains("taken over from recordings/hall.wav"), "{text}");
    let stretches = m["files"][1]["stretches"].as_array().unwrap();
    let source = stretches.iter().find(|s| s["kind"] == "source").unwrap();
    assert!((number(&source["from_s"]) - 16.0).abs() < 0.05, "{source}");
    assert!((number(&source["to_s"]) - 74.0).abs() < 0.05, "{source}");
    let pair = &m["pairs"][0];
    for band in ["500", "1000", "2000"] {
        assert_eq!(pair["background_corrected"][band], "coherent", "{pair:#}");
        assert!((number(&pair["difference_db"][band]) - 38.0).abs() < 1.5, "{pair:#}");
    }
}

#[test]
fn a_recording_of_decays_alone_is_no_position_and_one_tone_of_another_pitch_is_named() {
    let folder = Folder::new();
    let project = project(&folder);
    let rate = f64::from(RATE);
    let mut r = SplitMix64::new(62);
    // Seven claps that die away straight, T = 0.5 s, and a calibrator of 250 Hz.
    let claps: Vec<f64> = (0..40 * RATE as usize)
        .map(|n| {
            let t = (n as f64 / rate) % 5.0;
            let clap = if t < 1.0 { 0.0 } else { 10f64.powf(-3.0 * (t - 1.0) / 0.5) };
            0.3 * r.gauss() * clap + 1e-6 * r.gauss()
        })
        .collect();
    put(&project, "claps.wav", &[claps]);
    let tone: Vec<f64> = (0..20 * RATE as usize)
        .map(|n| 0.2 * (std::f64::consts::TAU * 250.0 * n as f64 / rate).sin())
        .collect();
    put(&project, "tone.wav", &[tone]);
    survey(
        &project,
        r#"
[[recording]]
file = "recordings/claps.wav"
[[recording.channel]]
number = 1
room = "bedroom"
[[recording.stretch]]
from = "0 s"
to = "40 s"
kind = "decay"
[[recording]]
file = "recordings/tone.wav"
calibration = { tone = "94 dB" }
[[recording.channel]]
number = 1
room = "bedroom"
"#,
    );
    let m = measured(&project, &[]);
    assert!((number(&m["decays"][0]["t20_s"]["1000"]) - 0.5).abs() < 0.03, "{m:#}");
    let positions = m["positions"].as_array().unwrap();
    assert!(positions.iter().all(|p| p["channel"] == "tone.wav:1"), "{m:#}");
    let text = has_remark(&m, "measure::other-tone").unwrap_or_else(|| panic!("{m:#}"));
    assert!(text.contains("250 Hz") && text.contains("1000 Hz"), "{text}");
    // One decay in a narrow band strays by chance; a straight room is not said to bend everywhere.
    let bent =
        m["remarks"].as_array().unwrap().iter().filter(|r| r["code"] == "recording::curved-decay");
    assert!(bent.count() <= 1, "{m:#}");
}

/// Noise that is 10 dB louder in the first half than in the second.
fn loud_then_soft(seed: u64) -> Vec<f64> {
    let x = noise(seed, 0.1);
    let at = |n: usize| n as f64 / f64::from(RATE);
    x.iter()
        .enumerate()
        .map(|(n, v)| match at(n) {
            t if !(PLAYED.0..PLAYED.1).contains(&t) => 1e-5 * v,
            t if t < 50.0 => *v,
            _ => v / 10f64.sqrt(),
        })
        .collect()
}

const TWO_IN_THE_BEDROOM: &str = r#"
[[recording]]
file = "recordings/evening.wav"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "music-room"
[[recording.channel]]
number = 2
room = "bedroom"
[[recording.channel]]
number = 3
room = "bedroom"
position = "other"
[[recording.stretch]]
from = "20 s"
to = "80 s"
kind = "source"
room = "music-room"
[[recording.stretch]]
from = "2 s"
to = "18 s"
kind = "background"
"#;

#[test]
fn what_one_channel_lost_of_the_music_costs_no_other_and_moves_no_difference() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = loud_then_soft(81);
    let bed = |seed| plus(&through(&x, 30.0), &noise(seed, 1e-5));
    put(&project, "evening.wav", &[x.clone(), bed(82), bed(83)]);
    // The whole loud half is left out of one receiving channel, or of the source channel.
    for lost in [2, 1] {
        let exclude = format!(
            "[[recording.stretch]]\nfrom = \"20 s\"\nto = \"50 s\"\nkind = \"excluded\"\n\
             channels = [{lost}]\n"
        );
        survey(&project, &format!("{TWO_IN_THE_BEDROOM}{exclude}"));
        let m = measured(&project, &[]);
        let pair = &m["pairs"][0];
        for band in BANDS {
            let d = number(&pair["difference_db"][band]);
            assert!((d - 30.0).abs() < 0.15, "channel {lost}, {band} Hz: {d}");
            assert_eq!(pair["background_corrected"][band], "valid");
        }
        let p = &m["positions"];
        let used = |k: usize| number(&p[k]["used_seconds"]);
        assert!((used(2) - 60.0).abs() < 0.5, "{p:#}");
        if lost == 2 {
            assert!((used(1) - 30.0).abs() < 0.5);
            let common = &p[1]["compared_over"];
            assert_eq!(common["with"], "evening.wav:1");
            // All of it: ten parts of the loud half and one of the soft, 5.5 in the mean, 7.4 dB.
            let louder = number(&common["source_louder_db"]["1000"]);
            assert!((louder - 7.4).abs() < 0.2, "{louder}");
            assert!(p[2].get("compared_over").is_none());
        }
    }
}

#[test]
fn a_note_by_the_clock_falls_where_it_belongs() {
    let folder = Folder::new();
    let project = project(&folder);
    let x = loud_then_soft(91);
    put(&project, "evening.wav", &[x.clone(), through(&x, 30.0), through(&x, 30.0)]);
    let with = |more: &str| {
        TWO_IN_THE_BEDROOM.replacen(
            "[[recording.channel]]",
            &format!("{more}\n[[recording.channel]]"),
            1,
        )
    };
    let note = "log = [\"20:10:55-20:11:05 talking\"]\nlog_times = \"of day\"";
    let span = |m: &Value| {
        let e = &m["positions"][1]["excluded"][0];
        (e["why"].clone(), e["from_s"].as_f64(), e["to_s"].as_f64())
    };
    let wanted = (Value::from("talking"), Some(25.0), Some(35.0));
    survey(&project, &with(&format!("taken = \"2031-04-02 20:10:30\"\n{note}")));
    assert_eq!(span(&measured(&project, &[])), wanted);
    // Nobody says when it began: nothing is guessed.
    survey(&project, &with(note));
    let m = measured(&project, &[]);
    assert!(has_remark(&m, "measure::no-begin").is_some(), "{m:#}");
    assert!(m["positions"][1]["excluded"].as_array().unwrap().is_empty());
    // The file says so itself, in its broadcast chunk.
    let path = project.join("recordings/evening.wav");
    let mut bytes = std::fs::read(&path).unwrap();
    let mut chunk = b"bext".to_vec();
    chunk.extend(602u32.to_le_bytes());
    let mut body = [0u8; 602];
    let begin = (20 * 3600 + 10 * 60 + 30) * u64::from(RATE);
    body[338..346].copy_from_slice(&begin.to_le_bytes());
    chunk.extend(body);
    bytes.splice(12..12, chunk);
    let size = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    std::fs::write(&path, bytes).unwrap();
    assert_eq!(span(&measured(&project, &[])), wanted);
    // Another day's note is said to fall into nothing.
    survey(&project, &with(&note.replace("20:10:55-20:11:05", "9:10-9:12")));
    assert!(has_remark(&measured(&project, &[]), "measure::note-outside").is_some());
}

#[test]
fn a_sweep_is_written_softly_and_folded() {
    let folder = Folder::new();
    let out = folder.file("sweep.wav");
    let said = on("sweep", &out, &["--length", "3", "--rate", "16000", "--to", "7000", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let told = said.json();
    assert_eq!(number(&told["peak_dbfs"]), -20.0);
    assert!(told["remarks"][0]["text"].as_str().unwrap().contains("harm hearing"));
    let bytes = std::fs::read(&out).unwrap();
    assert!(folder.file("sweep-inverse.wav").is_file());
    // Nothing is written over, and nothing loud is written.
    assert_eq!(on("sweep", &out, &[]).code, 2);
    assert_eq!(std::fs::read(&out).unwrap(), bytes);
    assert_eq!(on("sweep", &folder.file("loud.wav"), &["--level", "0"]).code, 2);
    let answer = folder.file("answer.wav");
    let fold = ["--length", "3", "--rate", "16000", "--to", "7000", "--fold"];
    let said = on("sweep", &answer, &[&fold[..], &[out.to_str().unwrap()]].concat());
    assert_eq!(said.code, 0, "{}", said.err);
    let mut samples =
        wythe_recording::open(std::io::BufReader::new(std::fs::File::open(&answer).unwrap()))
            .unwrap();
    let x = wythe_recording::read_stretch(
        &mut *samples,
        1,
        wythe_bands::Seconds(0.0),
        wythe_bands::Seconds(1.0),
    )
    .unwrap();
    let top = (0..x.len()).max_by(|a, b| x[*a].abs().total_cmp(&x[*b].abs())).unwrap();
    let near: f64 = x[top - 40..top + 40].iter().map(|v| v * v).sum();
    let all: f64 = x.iter().map(|v| v * v).sum();
    assert!(near > 0.95 * all, "the answer of nothing but itself is an impulse");
}

#[test]
fn the_protocol_names_the_rooms_and_the_dose() {
    let folder = Folder::new();
    let project = project(&folder);
    let said = on("protocol", &project, &[]);
    assert_eq!(said.code, 0, "{}", said.err);
    for word in ["NIOSH", "quietest hour", "channel 1", "decay", "source_position", "protection"] {
        assert!(said.out.contains(word), "{word}\n{}", said.out);
    }
    assert!(!said.out.contains(" safe"), "nothing is called safe");
    let one = on("protocol", &project, &["--with", "one", "--json"]);
    assert!(
        one.json()["parts"].as_array().unwrap().iter().all(|p| p["title"] != "With eight channels")
    );
}
