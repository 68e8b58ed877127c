//! A recording as heard next door: level-true, below the stated peak, the recording untouched.

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
