//! Readers are total: any bytes give a project or messages with places inside the text.

use proptest::prelude::*;
use wythe_project::{Document, MemoryFiles, Reading, read, read_build_ups, template};

const SURVEY: &str = r#"
[[recording]]
file = "a.wav"
calibration = { tone = "94 dB", from = "0:02", to = "0:12" }
log = ["12:04-12:06 talking"]
[[recording.channel]]
number = 1
room = "bedroom"
[[recording.stretch]]
from = "0:20"
to = "2:40"
kind = "source"
channels = [1]
[[decay_time]]
room = "bedroom"
time = { unit = "s", 500 = 0.45 }
"#;

fn check(reading: &Reading) -> Result<(), TestCaseError> {
    prop_assert!(reading.project.is_some() || !reading.errors.is_empty());
    for problem in &reading.errors {
        prop_assert!(!problem.text.is_empty() && problem.code.starts_with("project::"));
        prop_assert!(problem.line >= 1 && problem.column >= 1);
        if let Some(text) = reading.text(&problem.file) {
            prop_assert!(problem.span.start <= problem.span.end);
            prop_assert!(problem.span.end <= text.len());
        }
    }
    if let Some(project) = &reading.project {
        let building = &project.building;
        for boundary in &building.boundaries {
            prop_assert!(boundary.area.0.is_finite() && boundary.area.0 > 0.0);
            prop_assert!(boundary.build_up.0 < building.build_ups.len());
            prop_assert!(boundary.rooms.iter().all(|r| r.0 < building.rooms.len()));
        }
        for room in &building.rooms {
            prop_assert!(room.volume.0.is_finite() && (room.outdoors || room.volume.0 > 0.0));
            prop_assert!(room.absorption_area(building.air).0.iter().all(|(_, a)| a.0 > 0.0));
        }
        for source in &building.sources {
            prop_assert!(source.levels.iter().all(|(_, l)| l.0.is_finite()));
        }
    }
    Ok(())
}

/// Pieces that are likely to hurt when they land in the wrong place.
const PIECES: &[&str] = &[
    "\"",
    "'",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "=",
    ",",
    "\n",
    "#",
    ".",
    "-",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "0",
    "-1",
    "99999999999999999999",
    "\"\"",
    "\"1e308 m\"",
    "\"-0 m\"",
    "\"1/0 in\"",
    "é",
    "\u{feff}",
    "\0",
    "true",
    "{ value = 1 }",
    "{ standing = \"unknown\" }",
    "[[room]]",
    "[room]",
    "room = 3",
    "[[boundary.opening]]",
    "31.5 = 3",
    "1979-05-27",
    "\"NR 1e9\"",
    "[[]]",
    "[[[[[[[[",
    "a.b.c.d = 1",
    "\"ajar -1 m\"",
    "\"double glazing 4/\"",
    "\"DnT,w >= \"",
];

fn mutated(text: String) -> impl Strategy<Value = String> {
    let change = (any::<prop::sample::Index>(), 0..40usize, 0..PIECES.len());
    prop::collection::vec(change, 1..6).prop_map(move |changes| {
        let mut out = text.clone();
        for (at, cut, piece) in changes {
            let starts: Vec<usize> = out.char_indices().map(|(i, _)| i).collect();
            let from = starts[at.index(starts.len())];
            let to = starts.get(at.index(starts.len()) + cut).copied().unwrap_or(out.len());
            out.replace_range(from..to, PIECES[piece]);
            if out.is_empty() {
                out.push('\n');
            }
        }
        out
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        check(&read(&MemoryFiles::new().with("wythe.toml", bytes.clone())))?;
        let files = MemoryFiles::new().with("wythe.toml", template()).with("survey.toml", bytes.clone());
        check(&read(&files))?;
        let sheet = "wythe = 1\n[[build_up]]\nid = \"a\"\nsource = \"x\"\ntable = \"t.csv\"\n";
        check(&read(&MemoryFiles::new().with("wythe.toml", sheet).with("t.csv", bytes.clone())))?;
        let mut with_header = b"frequency_hz,reduction_db\n".to_vec();
        with_header.extend(bytes);
        check(&read(&MemoryFiles::new().with("wythe.toml", sheet).with("t.csv", with_header)))?;
    }

    #[test]
    fn a_mutated_project(text in mutated(template())) {
        check(&read(&MemoryFiles::new().with("wythe.toml", text.clone())))?;
        let _ = read_build_ups(&MemoryFiles::new().with("a.toml", text.clone()), "a.toml");
        if let Ok(mut document) = Document::parse(&text) {
            let _ = document.set("room[bedroom].height", "\"2.6 m\"");
            let _ = document.remove("boundary[wall].opening[door]");
            prop_assert!(Document::parse(&document.text()).is_ok());
        }
    }

    #[test]
    fn a_mutated_survey(text in mutated(SURVEY.to_owned())) {
        let files = MemoryFiles::new().with("wythe.toml", template()).with("survey.toml", text);
        let reading = read(&files);
        check(&reading)?;
        prop_assert!(reading.project.is_some(), "a broken survey leaves the building");
    }

    #[test]
    fn values_of_any_kind_anywhere(which in any::<prop::sample::Index>(), piece in 0..PIECES.len()) {
        let text = template();
        let lines: Vec<&str> = text.lines().collect();
        let valued: Vec<usize> =
            (0..lines.len()).filter(|i| lines[*i].contains(" = ") && !lines[*i].starts_with('#')).collect();
        let target = valued[which.index(valued.len())];
        let mut out = String::new();
        for (i, line) in lines.iter().enumerate() {
            match line.split_once(" = ") {
                Some((key, _)) if i == target => out.push_str(&format!("{key} = {}\n", PIECES[piece])),
                _ => { out.push_str(line); out.push('\n'); }
            }
        }
        check(&read(&MemoryFiles::new().with("wythe.toml", out)))?;
    }
}

#[test]
fn deep_nesting_is_refused() {
    for text in [
        format!("wythe = 1\nx = {}{}", "[".repeat(100_000), "]".repeat(100_000)),
        format!("wythe = 1\nx = {}1{}", "{ a = ".repeat(50_000), " }".repeat(50_000)),
        format!("wythe = 1\n{}a = 1", "a.".repeat(200_000)),
        format!("wythe = 1\n[{}a]", "a.".repeat(200_000)),
    ] {
        let reading = read(&MemoryFiles::new().with("wythe.toml", text));
        assert!(reading.project.is_none() && !reading.errors.is_empty());
    }
}

#[test]
fn a_thousand_equal_mistakes_stay_readable() {
    let text = "wythe = 1\n".to_owned() + &"[[room]]\nid = \"a\"\nvolme = 3\n".repeat(900);
    let reading = read(&MemoryFiles::new().with("wythe.toml", text));
    assert_eq!(reading.errors.len(), 200);
    assert!(reading.remarks.iter().any(|r| r.code == "project::more-errors"));
}

#[test]
fn a_building_of_200_rooms_is_read_in_good_time() {
    let mut text = String::from(
        "wythe = 1\n[defaults]\nwall = \"w\"\nfloor = \"w\"\n[[build_up]]\nid = \"w\"\nlayers = [{ board = \"brick\", thickness = \"100 mm\" }]\n",
    );
    for i in 0..200 {
        let (storey, x, y) = (i / 50, (i % 10) as f64 * 4.2, (i % 50 / 10) as f64 * 5.2);
        text += &format!(
            "[[room]]\nid = \"r{i}\"\nstorey = {storey}\nheight = \"2.5 m\"\ndecay_time = \"0.5 s\"\n\
             outline = [[\"{x} m\", \"{y} m\"], [\"{} m\", \"{y} m\"], [\"{} m\", \"{} m\"], [\"{x} m\", \"{} m\"]]\n",
            x + 4.0,
            x + 4.0,
            y + 5.0,
            y + 5.0
        );
    }
    let begin = std::time::Instant::now();
    let reading = read(&MemoryFiles::new().with("wythe.toml", text));
    let took = begin.elapsed();
    assert_eq!(reading.errors, []);
    // 4 storeys of 5 × 10: 45 + 40 walls each, and 50 floors three times.
    let boundaries = reading.project.unwrap().building.boundaries.len();
    assert_eq!(boundaries, 4 * 85 + 150);
    assert!(took.as_secs_f64() < 5.0, "{took:?}");
}
