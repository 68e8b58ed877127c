//! Whatever is missing or odd, the documents are made and say so.

use super::*;
use wythe_report::page::Verdict;

fn verdict(document: &Document) -> Verdict {
    match document.blocks.first() {
        Some(Block::Answer(a)) => a.verdict,
        other => panic!("the answer does not come first: {other:?}"),
    }
}

/// Drops all tables of a kind from the project file.
fn without(toml: &str, table: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for line in toml.lines() {
        if line.starts_with('[') {
            inside = line == format!("[[{table}]]");
        }
        if !inside {
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

#[test]
fn no_recordings_no_targets_no_changes_no_sources() {
    let cases = [
        HOUSE.to_owned(),
        without(HOUSE, "target"),
        without(HOUSE, "change"),
        without(&without(HOUSE, "target"), "change"),
        without(&without(&without(HOUSE, "target"), "change"), "source"),
    ];
    for (n, toml) in cases.iter().enumerate() {
        for document in House::new(toml).documents() {
            well_formed(&document).unwrap_or_else(|e| panic!("case {n}, {}: {e}", document.title));
            let open = n != 0 && n != 2;
            assert_eq!(verdict(&document) == Verdict::NotKnown, open, "case {n}");
        }
    }
}

#[test]
fn an_empty_building() {
    let house = House::of(Building::default(), None);
    for document in house.documents() {
        assert_eq!(verdict(&document), Verdict::NotKnown);
        well_formed(&document).unwrap();
    }
}

#[test]
fn what_is_missing_is_said_with_the_remedy() {
    let mut house = House::new(HOUSE);
    house.gaps = vec![Gap {
        part: "recordings".into(),
        key: "",
        why: "hall.wav: is not a sound file".into(),
        to_do: "export it as WAV".into(),
    }];
    for document in house.documents() {
        let html = document.html();
        let said = html.contains("No recordings.") || html.contains("Missing: recordings.");
        assert!(said && html.contains("is not a sound file"), "{}", document.title);
        assert!(html.to_lowercase().contains("export it as wav."), "{}", document.title);
    }
}

#[test]
fn rooms_without_outlines() {
    let toml: String = HOUSE
        .lines()
        .map(|l| {
            if l.starts_with("outline") { "volume = \"50 m3\"\nfloor_area = \"20 m2\"" } else { l }
        })
        .map(|l| if l == "height = \"2.5 m\"" { "" } else { l })
        .map(|l| {
            if l.starts_with("finishes") {
                "decay_time = \"0.6 s\"".to_owned()
            } else {
                l.to_owned()
            }
        })
        .collect::<Vec<_>>()
        .join("\n");
    for document in House::new(&toml).documents() {
        well_formed(&document).unwrap();
        assert!(!document.html().contains("from above, playing"), "{}", document.title);
    }
}

#[test]
fn names_that_are_code_or_run_from_right_to_left() {
    let toml = HOUSE
        .replace(
            "title = \"Quiet room\"",
            "title = \"<script>alert(1)</script> \\\"quoted\\\" & 'so'\"",
        )
        .replace("title = \"Room above\"", "title = \"غرفة النوم\"")
        .replace("title = \"Drums\"", "title = \"טוֹף </style> ]]>\"")
        .replace("title = \"two more boards\"", "title = \"-->` ${x}\"");
    for document in House::recorded(&toml, 18.0, -20.0).documents() {
        let html = document.html();
        assert!(!html.contains("<script"), "{}", document.title);
        assert!(html.contains("غرفة النوم"));
        assert_eq!(html.matches("</style>").count(), 1);
        well_formed(&document).unwrap();
    }
}

#[test]
fn three_hundred_rooms() {
    let mut toml = HOUSE.to_owned();
    for n in 0..300 {
        toml.push_str(&format!(
            "\n[[room]]\nid = \"r{n}\"\ntitle = \"Room {n}\"\nstorey = {}\nvolume = \"40 m3\"\n\
             floor_area = \"16 m2\"\ndecay_time = \"0.5 s\"\n\n[[boundary]]\nid = \"b{n}\"\n\
             between = [\"{}\", \"r{n}\"]\narea = \"9 m2\"\nkind = \"wall\"\nbuild_up = \"stud-wall\"\n\n\
             [[target]]\nroom = \"r{n}\"\ncriterion = \"30 dBA\"\n",
            n / 30,
            if n % 2 == 0 { "loud" } else { "quiet" },
        ));
    }
    let reading = read(&MemoryFiles::new().with("wythe.toml", toml.as_str()));
    let problems: Vec<String> = reading.errors.iter().map(|e| e.text.clone()).collect();
    assert!(problems.is_empty(), "{problems:?}");
    let building = reading.project.unwrap().building;
    let mut house = House::of(Building::default(), None);
    house.predicted = predict(&building, &mut Cache::default()).ok();
    house.building = building;
    for (n, document) in house.documents().into_iter().enumerate() {
        let html = document.html();
        assert!(html.len() < 40_000_000, "{}: {} bytes", document.title, html.len());
        // The owner gets the worst few and a count; the others get every room.
        let said = if n == 0 { "more rooms stand in the document" } else { "Room 299" };
        assert!(html.contains(said), "{}", document.title);
    }
}

#[test]
fn recordings_alone_give_an_answer_with_what_was_recorded() {
    let mut house = House::recorded(HOUSE, 18.0, -20.0);
    // The survey stands; the description has no source any more.
    (house.predicted, house.found, house.explained) = (None, None, None);
    (house.remedies, house.after) = (None, None);
    house.building.sources.clear();
    house.building.targets.clear();
    house.building.changes.clear();
    let pair = &house.measured.as_ref().unwrap().pairs[0];
    let statement = pair.ratings.iter().find(|r| r.symbol == "DnT,w").unwrap().statement.clone();
    for document in house.documents() {
        well_formed(&document).unwrap();
        assert_eq!(verdict(&document), Verdict::NotKnown);
        let Some(Block::Answer(a)) = document.blocks.first() else { panic!() };
        let said = a.more.plain();
        assert!(said.contains(&format!("Loud room to Quiet room: {statement}")), "{said}");
    }
    house.measured.as_mut().unwrap().pairs = vec![pair.clone(); 9];
    let sheet = owner(&house.results());
    assert!(sheet.html().contains("7 more pairs of rooms are in the document for the file"));
}
