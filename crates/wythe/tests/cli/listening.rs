//! A recording as heard next door: level-true, below the stated peak, the recording untouched.

use wythe_bands::{Band, Level, Spectrum};
use wythe_recording::{Analysis, Mask, Sensitivity, analyse, open};

use crate::run::{Folder, on};

const HOUSE: &str = r#"wythe = 1
[[room]]
id = "loud"
volume = "60 m3"
decay_time = "0.6 s"
[[room]]
id = "quiet"
volume = "40 m3"
decay_time = "0.5 s"
[[build_up]]
id = "wall"
layers = [{ board = "brick", thickness = "105 mm" }]
[[build_up]]
id = "thicker"
layers = [{ board = "brick", thickness = "215 mm" }]
[[boundary]]
id = "wall"
between = ["loud", "quiet"]
area = "10 m2"
build_up = "wall"
[[source]]
room = "loud"
spectrum = "pink noise"
level = "95 dB Leq"
[[target]]
room = "quiet"
criterion = "45 dBA"
[[change]]
id = "thick"
title = "a thick wall"
element = "wall"
action = [{ do = "rebuild", boundary = "wall", build_up = "thicker" }]
"#;

const RATE: u32 = 48_000;

/// Six seconds of a sine of 1 kHz at half of full scale, 16 bit.
fn tone() -> Vec<u8> {
    let data: Vec<u8> = (0..6 * RATE)
        .flat_map(|n| {
            let phase = 2.0 * std::f64::consts::PI * 1000.0 * f64::from(n) / f64::from(RATE);
            ((16_384.0 * phase.sin()) as i16).to_le_bytes()
        })
        .collect();
    let mut out = Vec::new();
    out.extend(b"RIFF");
    out.extend((36 + data.len() as u32).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16u32.to_le_bytes());
    out.extend([1u16, 1].into_iter().flat_map(u16::to_le_bytes));
    out.extend(RATE.to_le_bytes());
    out.extend((2 * RATE).to_le_bytes());
    out.extend([2u16, 16].into_iter().flat_map(u16::to_le_bytes));
    out.extend(b"data");
    out.extend((data.len() as u32).to_le_bytes());
    out.extend(data);
    out
}

/// Samples of a 24-bit file with one channel, full scale one.
fn samples(path: &std::path::Path) -> Vec<f64> {
    let bytes = std::fs::read(path).unwrap();
    let head = bytes.windows(4).position(|w| w == b"data").unwrap() + 8;
    bytes[head..]
        .chunks_exact(3)
        .map(|b| f64::from(i32::from_le_bytes([0, b[0], b[1], b[2]]) >> 8) / 8_388_608.0)
        .collect()
}

fn project() -> Folder {
    let folder = Folder::new();
    folder.write("wythe.toml", HOUSE);
    folder.write("tone.wav", tone());
    folder
}

const CALIBRATED: [&str; 6] = ["--from", "tone.wav", "--room", "quiet", "--full-scale", "20 Pa"];

#[test]
fn a_tone_arrives_at_the_predicted_level() {
    let folder = project();
    let out = folder.file("out.wav");
    let mut args = CALIBRATED.to_vec();
    args.extend(["--after", "thick", "--switch-every", "2", "--playback", "100"]);
    args.extend(["--peak", "100", "-o", out.to_str().unwrap(), "--json"]);
    let said = on("listen", folder.path(), &args);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let predicted = on("predict", folder.path(), &["--json"]).json();
    let difference =
        predicted["sources"][0]["receivers"][0]["difference_db"]["1000"].as_f64().unwrap();
    let now = record["states"][0]["difference_db"]["1000"].as_f64().unwrap();
    assert!((difference - now).abs() < 0.02);
    let x = samples(&out);
    assert_eq!(x.len(), 6 * RATE as usize);
    // Half of 20 Pa, as a sine, re 20 µPa; full scale of the file is a sine of 100 dB.
    let played = 20.0 * (10.0 / std::f64::consts::SQRT_2 / 20e-6f64).log10();
    let level = |from: f64, to: f64| {
        let part = &x[(from * f64::from(RATE)) as usize..(to * f64::from(RATE)) as usize];
        let square = part.iter().map(|x| x * x).sum::<f64>() / part.len() as f64;
        100.0 + 10.0 * (2.0 * square).log10()
    };
    // A tone at the centre of a band, where the gain is the band's within a decibel.
    let first = level(0.5, 1.9);
    assert!((first - (played - now)).abs() < 1.0, "{first} not {}", played - now);
    let then = record["states"][1]["difference_db"]["1000"].as_f64().unwrap();
    assert!(then > now + 3.0);
    let second = level(2.2, 3.9);
    assert!((second - (played - then)).abs() < 1.0, "{second} not {}", played - then);
    assert!((level(4.2, 5.5) - first).abs() < 0.1, "and back to how it is now");
    // No click: nowhere does the sound move faster than the louder tone itself does.
    let fastest = |part: &[f64]| part.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max);
    let tone = fastest(&x[RATE as usize..RATE as usize + 4800]);
    assert!(fastest(&x) < 1.05 * tone, "{} beside {tone}", fastest(&x));
    assert_eq!(std::fs::read(folder.file("tone.wav")).unwrap(), self::tone());
}

#[test]
fn no_sample_is_above_the_stated_peak() {
    let folder = project();
    let out = folder.file("out.wav");
    let mut args = CALIBRATED.to_vec();
    args.extend(["--playback", "100", "--peak", "50", "-o", out.to_str().unwrap()]);
    let said = on("listen", folder.path(), &args);
    assert_eq!(said.code, 0, "{}", said.err);
    // 50 dB beside a full scale of 100 dB as a sine, whose peak is √2 above.
    let ceiling = 10f64.powf(-50.0 / 20.0) / std::f64::consts::SQRT_2;
    let most = samples(&out).iter().fold(0.0f64, |m, x| m.max(x.abs()));
    assert!(most <= ceiling && most > 0.8 * ceiling, "{most} beside {ceiling}");
    assert!(said.out.contains("turned down"), "{}", said.out);
}

#[test]
fn what_cannot_be_listened_to_is_said() {
    let folder = project();
    let out = folder.file("out.wav");
    let place = out.to_str().unwrap();
    let cases: [(&[&str], &str); 7] = [
        (&["--from", "nowhere.wav", "--room", "quiet"], "nowhere.wav"),
        (&["--from", "wythe.toml", "--room", "quiet"], "WAV"),
        (&["--from", "source", "--room", "attic"], "attic"),
        (&["--from", "source", "--room", "loud"], "that very room"),
        (&["--from", "source", "--room", "quiet", "--peak", "120"], "100 dB"),
        (&["--from", "source", "--room", "quiet", "--after", "magic"], "magic"),
        (&["--from", "tone.wav", "--room", "quiet", "--channel", "7"], "channel 7"),
    ];
    for (case, word) in cases {
        let mut args = case.to_vec();
        args.extend(["-o", place]);
        let said = on("listen", folder.path(), &args);
        assert_eq!(said.code, 2, "{case:?}: {}", said.out);
        assert!(said.err.contains(word), "{case:?}: {}", said.err);
        assert!(!out.exists(), "{case:?}: nothing is written");
    }
}

/// Band levels of the channels of a file played so that a sine at full scale has 100 dB, by the
/// filters that recordings are measured with.
fn played(path: &std::path::Path) -> Vec<Spectrum<Level>> {
    let file = std::fs::File::open(path).unwrap();
    let mut samples = open(std::io::BufReader::new(file)).unwrap();
    let heard = analyse(samples.as_mut(), &Analysis::default(), |_| {}).unwrap();
    let full_scale = Sensitivity::new(std::f64::consts::SQRT_2 * 20e-6 * 1e5).unwrap();
    let whole = Mask::everything();
    heard.channels.iter().map(|c| c.levels(&whole, full_scale).leq).collect()
}

const BANDS: [&str; 20] = [
    "63", "80", "100", "125", "160", "200", "250", "315", "400", "500", "630", "800", "1000",
    "1250", "1600", "2000", "2500", "3150", "4000", "5000",
];

#[test]
fn every_band_of_the_source_arrives_at_its_predicted_level_in_every_state() {
    let folder = project();
    let out = folder.file("out.wav");
    let args = [
        "--from",
        "source",
        "--room",
        "quiet",
        "--after",
        "thick",
        "--channels",
        "--playback",
        "100",
        "--peak",
        "100",
        "--seconds",
        "30",
        "--json",
        "-o",
        out.to_str().unwrap(),
    ];
    let said = on("listen", folder.path(), &args);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let channels = played(&out);
    assert_eq!(channels.len(), 2);
    for (state, measured) in channels.iter().enumerate() {
        let (mut sum, mut most) = (0.0, 0.0f64);
        for band in BANDS {
            let wanted = record["states"][state]["level_db"][band].as_f64().unwrap();
            let off = measured.get(Band::from_nominal(band).unwrap()).unwrap().0 - wanted;
            sum += off;
            most = most.max(off.abs());
        }
        // Half a minute of noise in a third at 63 Hz stands within half a decibel by itself.
        assert!(most < 1.5, "state {state}: {most}");
        assert!((sum / BANDS.len() as f64).abs() < 0.4, "state {state}: {sum}");
    }
}

#[test]
fn the_background_of_the_room_is_in_every_state_and_left_out_when_asked() {
    let folder = project();
    let noisy =
        HOUSE.replace("decay_time = \"0.5 s\"", "decay_time = \"0.5 s\"\nbackground = \"NR 40\"");
    folder.write("wythe.toml", &noisy);
    let heard = |more: &[&str]| {
        let out = folder.file("out.wav");
        let mut args =
            vec!["--from", "source", "--room", "quiet", "--after", "thick", "--channels"];
        args.extend(["--playback", "100", "--peak", "100", "--seconds", "20", "-o"]);
        args.push(out.to_str().unwrap());
        args.extend(more);
        let said = on("listen", folder.path(), &args);
        assert_eq!(said.code, 0, "{}", said.err);
        played(&out)
    };
    let (with, without) = (heard(&[]), heard(&["--no-background"]));
    for state in 0..2 {
        let mut decides = 0;
        for band in BANDS {
            let band = Band::from_nominal(band).unwrap();
            let level = |all: &[Spectrum<Level>]| all[state].get(band).unwrap();
            // NR 40 in thirds: the octave of the curve, shared out.
            let more = level(&with).0 - level(&without).0;
            assert!(more > -0.5, "state {state}, {band:?}: {more}");
            decides += usize::from(more > 3.0);
        }
        assert!(decides > 3, "state {state}: the background is heard in {decides} bands");
    }
    // The same noise in all of them: where it decides, both states sound alike.
    let top = Band::from_nominal("5000").unwrap();
    let [now, then] = [0, 1].map(|s: usize| with[s].get(top).unwrap().0);
    assert!((now - then).abs() < 0.5, "{now} {then}");
}

#[test]
fn the_steps_of_the_plan_follow_each_other() {
    let folder = project();
    let more = format!(
        "{}\n[[change]]\nid = \"softer\"\ntitle = \"play softer\"\ncost = 0\naction = [{{ do = \"quieter\", room = \"loud\", by = \"4 dB\" }}]\n",
        HOUSE.replace("45 dBA", "33 dBA")
    );
    folder.write("wythe.toml", &more);
    let out = folder.file("out.wav");
    let mut args = CALIBRATED.to_vec();
    args.extend(["--after", "steps", "--playback", "100", "--switch-every", "1", "--json", "-o"]);
    args.push(out.to_str().unwrap());
    let said = on("listen", folder.path(), &args);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let states = record["states"].as_array().unwrap();
    let plan = on("remedy", folder.path(), &["--json"]).json();
    let steps = plan["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 2, "{steps:?}");
    assert_eq!(states.len(), 1 + steps.len());
    let level = |i: usize| states[i]["level_dba"].as_f64().unwrap();
    for i in 1..states.len() {
        let name = states[i]["state"].as_str().unwrap();
        assert!(name.starts_with(&format!("step {i}: ")), "{name}");
        assert!(level(i) < level(i - 1) - 3.0, "{name}");
    }
}
