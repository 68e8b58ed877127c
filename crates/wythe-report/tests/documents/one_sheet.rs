//! The owner's document holds what one sheet holds, and loses nothing: what it leaves out is counted
//! and stands in the other two.

use super::*;

/// A house of many rooms with long names, all of them to be quiet.
fn many(rooms: usize) -> String {
    let mut out = String::from("wythe = 1\ntitle = \"Many\"\n");
    for i in 0..rooms {
        let (x, y) = ((i % 20) * 5, (i / 20) * 5);
        out.push_str(&format!(
            "[[room]]\nid = \"r{i}\"\ntitle = \"Rehearsal room with a long name number {i} at the end of the corridor\"\n\
             storey = {}\noutline = [[\"{x} m\", \"{y} m\"], [\"{} m\", \"{y} m\"], [\"{} m\", \"{} m\"], [\"{x} m\", \"{} m\"]]\n\
             height = \"2.5 m\"\ndecay_time = \"0.6 s\"\n",
            i % 4, x + 4, x + 4, y + 4, y + 4
        ));
    }
    out.push_str(
        "[[build_up]]\nid = \"wall\"\nlayers = [{ board = \"brick\", thickness = \"215 mm\" }]\n",
    );
    for i in 1..rooms {
        out.push_str(&format!(
            "[[boundary]]\nid = \"b{i}\"\nbetween = [\"r{}\", \"r{i}\"]\narea = \"10 m2\"\nbuild_up = \"wall\"\n",
            (i - 1) / 3
        ));
        if i < 9 {
            out.push_str(&format!("[[target]]\nroom = \"r{i}\"\ncriterion = \"NR 15\"\n"));
        }
    }
    out.push_str("[[source]]\nroom = \"r0\"\nspectrum = \"pink noise\"\nlevel = \"110 dB Leq\"\n");
    out
}

#[test]
fn what_is_left_out_is_counted() {
    let mut all =
        vec![House::recorded(HOUSE, 18.0, -20.0), House::new(HOUSE), House::new(&many(40))];
    let notes = Note {
        standing: wythe_bands::Standing::Assumed,
        what: "x".into(),
        text: "y".into(),
        source: None,
        by_program: true,
        place: String::new(),
    };
    all[2].notes = vec![notes; 400];
    for _ in 0..30 {
        all[2].gaps.push(Gap {
            part: "recordings".into(),
            key: "",
            why: "the file is broken in a way that takes many words to say ".repeat(20),
            to_do: "bring another ".repeat(40),
        });
    }
    for house in &all {
        for language in wythe_report::Language::ALL {
            let mut about = house.about.clone();
            about.language = language;
            let document = owner(&Results { about: &about, ..house.results() });
            assert!(document.one_sheet);
            well_formed(&document).unwrap();
            for block in &document.blocks {
                let large =
                    matches!(block, Block::Rooms(_) | Block::Details(..) | Block::Figure(_));
                assert!(!large, "has no place on one sheet: {block:?}");
            }
        }
    }
    let many = owner(&all[2].results()).html();
    assert!(many.contains("29 more parts are missing"), "gaps were lost");
    assert!(many.contains("400 values are assumed"));
    assert!(many.contains("more rooms stand"), "requirements were lost");
}

#[test]
fn no_caution_is_lost() {
    let house = House::recorded(HOUSE, 18.0, -20.0);
    let [owner, _, file] = house.documents();
    let n = house.cautions.len();
    assert!(n > 3);
    assert!(owner.html().contains(&format!("{n} cautions are on file")));
    let whole = file.html();
    let mut seen = 0;
    for c in &house.cautions {
        // As the page escapes it.
        let why = c.why.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        assert!(whole.contains(&why.replace('"', "&quot;")), "{}: {}", c.code, c.why);
        seen += 1;
    }
    assert_eq!(seen, n);
}

#[test]
fn feet_and_inches_where_they_are_asked_for() {
    let mut house = House::recorded(HOUSE, 18.0, -20.0);
    house.about.units = wythe_report::report::Units::UsCustomary;
    for document in house.documents() {
        let html = document.html();
        let said: String = html.split('<').filter_map(|p| p.split_once('>')).map(|p| p.1).collect();
        for metric in ["\u{202F}mm", "\u{202F}m²", "kg/m²", "\u{202F}m³"] {
            assert!(!said.contains(metric), "{}: {metric}: {}", document.title, {
                let at = said.find(metric).unwrap();
                said[..at]
                    .chars()
                    .rev()
                    .take(60)
                    .collect::<Vec<_>>()
                    .into_iter()
                    .rev()
                    .collect::<String>()
            });
        }
        assert!(said.contains("\u{202F}ft") || said.contains("\u{202F}in"), "{}", document.title);
    }
}
