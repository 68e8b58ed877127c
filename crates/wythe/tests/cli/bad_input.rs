//! What broken input gets: a message with the place and the remedy, exit 2, nothing written over.

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
layers = [{ board = "brick", thickness = "215 mm" }]
[[boundary]]
between = ["loud", "quiet"]
area = "10 m2"
build_up = "wall"
[[source]]
room = "loud"
spectrum = "pink noise"
level = "95 dB Leq"
"#;

fn survey(file: &str, calibration: &str, number: u32) -> String {
    format!(
        r#"wythe = 1
[[recording]]
file = "{file}"
gain = "fixed"
{calibration}
[[recording.channel]]
number = 1
room = "loud"
[[recording.channel]]
number = {number}
room = "quiet"
[[recording.stretch]]
from = "0 s"
to = "3 s"
kind = "background"
[[recording.stretch]]
from = "4 s"
to = "9 s"
kind = "source"
room = "loud"
"#
    )
}

/// Ten seconds, two channels, 16 bit: quiet, then noise in the first and its hundredth in the
/// second.
fn recording(samples: impl Fn(usize) -> [i16; 2]) -> Vec<u8> {
    let rate = 48_000u32;
    let frames = 10 * rate as usize;
    let data: Vec<u8> = (0..frames).flat_map(&samples).flat_map(i16::to_le_bytes).collect();
    let mut out = Vec::with_capacity(data.len() + 44);
    out.extend(b"RIFF");
    out.extend((36 + data.len() as u32).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16u32.to_le_bytes());
    out.extend(1u16.to_le_bytes());
    out.extend(2u16.to_le_bytes());
    out.extend(rate.to_le_bytes());
    out.extend((rate * 4).to_le_bytes());
    out.extend(4u16.to_le_bytes());
    out.extend(16u16.to_le_bytes());
    out.extend(b"data");
    out.extend((data.len() as u32).to_le_bytes());
    out.extend(data);
    out
}

fn noise(n: usize) -> f64 {
    let mut z = (n as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-52) - 1.0
}

fn plain(n: usize) -> [i16; 2] {
    let loud = if n > 4 * 48_000 { 20_000.0 } else { 20.0 };
    let x = noise(n);
    [(loud * x) as i16, (0.02 * loud * x + 3.0 * noise(n + 7_000_000)) as i16]
}

const FULL_SCALE: &str = r#"calibration = { full_scale = "20 Pa" }"#;

#[test]
fn all_errors_of_a_project_come_at_once_with_their_lines() {
    let folder = Folder::new();
    let text = HOUSE
        .replace("volume = \"60 m3\"", "volume = \"-60 m3\"")
        .replace("thickness = \"215 mm\"", "thickness = 215")
        .replace("[\"loud\", \"quiet\"]", "[\"loud\", \"quite\"]")
        .replace("area =", "aera =");
    folder.write("wythe.toml", &text);
    let said = on("check", folder.path(), &["--json"]);
    assert_eq!(said.code, 2);
    let record = said.json();
    let errors = record["errors"].as_array().unwrap();
    assert!(errors.len() >= 4, "{errors:#?}");
    assert!(errors.iter().all(|e| e["line"].as_u64().unwrap() > 0));
    let all = said.out.clone();
    assert!(all.contains("quiet"), "the nearest room is offered: {all}");
    assert!(all.contains("area"), "the nearest key is offered: {all}");
    let said = on("check", folder.path(), &[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("wythe.toml"), "{}", said.err);
}

#[test]
fn nothing_there_is_said_with_a_remedy() {
    let folder = Folder::new();
    for command in ["check", "predict", "measure", "explain", "remedy"] {
        let said = on(command, &folder.file("nowhere"), &[]);
        assert_eq!(said.code, 2, "{command}");
        assert!(said.err.contains("no such folder"), "{command}: {}", said.err);
        let said = on(command, folder.path(), &[]);
        assert_eq!(said.code, 2, "{command}");
        assert!(said.err.contains("wythe.toml"), "{command}: {}", said.err);
    }
}

#[test]
fn recordings_that_are_none() {
    let whole = recording(plain);
    let cases: [(&str, Vec<u8>, &str); 4] = [
        ("zero length", Vec::new(), "no samples"),
        ("not audio", b"PK\x03\x04 this is a zip file, whatever its name says".to_vec(), "WAV"),
        (
            "lossy",
            [b"ID3\x04\x00\x00".to_vec(), vec![0x55; 4000]].concat(),
            "throws part of the sound away",
        ),
        ("header only", whole[..44].to_vec(), "no samples"),
    ];
    for (name, bytes, word) in cases {
        let folder = Folder::new();
        folder.write("wythe.toml", HOUSE);
        folder.write("survey.toml", survey("a.wav", FULL_SCALE, 2));
        folder.write("a.wav", &bytes);
        let said = on("measure", folder.path(), &["--json"]);
        assert_eq!(said.code, 2, "{name}: {}", said.out);
        assert!(said.err.contains("a.wav"), "{name}: {}", said.err);
        assert!(said.err.to_lowercase().contains(&word.to_lowercase()), "{name}: {}", said.err);
        assert_eq!(std::fs::read(folder.file("a.wav")).unwrap(), bytes, "{name}");
    }
}

#[test]
fn a_truncated_recording_is_used_as_far_as_it_goes_and_said() {
    let folder = Folder::new();
    folder.write("wythe.toml", HOUSE);
    folder.write("survey.toml", survey("a.wav", FULL_SCALE, 2));
    let whole = recording(plain);
    folder.write("a.wav", &whole[..whole.len() * 3 / 4]);
    let said = on("measure", folder.path(), &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let used = record["positions"][0]["used_seconds"].as_f64().unwrap();
    assert!((3.0..3.7).contains(&used), "{used}");
    assert!(said.out.contains("truncated") || said.out.contains("ends"), "{}", said.out);
}

#[test]
fn a_channel_that_is_not_there() {
    let folder = Folder::new();
    folder.write("wythe.toml", HOUSE);
    folder.write("survey.toml", survey("a.wav", FULL_SCALE, 7));
    folder.write("a.wav", recording(plain));
    let said = on("measure", folder.path(), &[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains('7') && said.err.contains('2'), "{}", said.err);
}

#[test]
fn without_calibration_there_is_no_sound_pressure() {
    let folder = Folder::new();
    folder.write("wythe.toml", HOUSE);
    folder.write("survey.toml", survey("a.wav", "", 2));
    folder.write("a.wav", recording(plain));
    let said = on("measure", folder.path(), &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    for position in record["positions"].as_array().unwrap() {
        assert!(position.get("leq_db").is_none() && position.get("laeq_db").is_none());
        assert!(position["relative_leq_dbfs"]["500"].as_f64().unwrap() < 0.0);
    }
    assert_eq!(record["pairs"].as_array().unwrap().len(), 0);
    assert!(said.out.contains("relative"), "{}", said.out);
}

#[test]
fn clipping_is_flagged_with_its_time_and_left_out() {
    let folder = Folder::new();
    folder.write("wythe.toml", HOUSE);
    folder.write("survey.toml", survey("a.wav", FULL_SCALE, 2));
    folder.write(
        "a.wav",
        recording(|n| {
            let [a, b] = plain(n);
            let second = n / 48_000;
            if second == 6 { [if a > 0 { 32_767 } else { -32_768 }, b] } else { [a, b] }
        }),
    );
    let said = on("measure", folder.path(), &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let excluded = record["positions"][0]["excluded"].as_array().unwrap();
    let clipped = excluded
        .iter()
        .find(|e| e["why"].as_str().unwrap().contains("clip"))
        .unwrap_or_else(|| panic!("{excluded:?}"));
    assert!((clipped["from_s"].as_f64().unwrap() - 6.0).abs() < 0.2, "{clipped}");
    assert!(record["positions"][0]["used_seconds"].as_f64().unwrap() < 4.1);
}

#[test]
fn overlapping_rooms_and_rooms_nothing_reaches() {
    let folder = Folder::new();
    let room = |id: &str, x: f64| {
        format!(
            "[[room]]\nid = \"{id}\"\nheight = \"2.5 m\"\noutline = [[\"{x} m\", \"0 m\"], [\"{} m\", \"0 m\"], [\"{} m\", \"4 m\"], [\"{x} m\", \"4 m\"]]\n",
            x + 4.0,
            x + 4.0
        )
    };
    folder.write("wythe.toml", format!("wythe = 1\n{}{}", room("a", 0.0), room("b", 2.0)));
    let said = on("check", folder.path(), &[]);
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(said.err.contains("overlap"), "{}", said.err);
    folder.write("wythe.toml", format!("wythe = 1\n{}{}", room("a", 0.0), room("b", 20.0)));
    let said = on("check", folder.path(), &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(!said.json()["remarks"].as_array().unwrap().is_empty(), "{}", said.out);
}

#[test]
fn a_cycle_of_includes_and_a_huge_file_end() {
    let folder = Folder::new();
    folder.write("wythe.toml", "wythe = 1\ninclude = [\"a.toml\"]\n");
    folder.write("a.toml", "include = [\"wythe.toml\"]\n");
    let said = on("check", folder.path(), &[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("include"), "{}", said.err);
    folder.write("wythe.toml", vec![b'a'; 100 << 20]);
    let said = on("check", folder.path(), &[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("MiB") || said.err.contains("MB"), "{}", said.err);
    let said = on("rate", &folder.file("wythe.toml"), &["--by", "nr"]);
    assert_eq!(said.code, 2);
}
