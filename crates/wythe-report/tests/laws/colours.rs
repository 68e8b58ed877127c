//! Colour by role from one file, and never colour alone.

use std::path::Path;
use wythe_bands::{LevelDifference, Spectrum};
use wythe_report::chart::*;

/// Places where a `#` is followed by three or more hexadecimal digits and nothing more.
fn hex_colours(text: &str) -> Vec<String> {
    text.match_indices('#')
        .filter_map(|(at, _)| {
            let word: String =
                text[at + 1..].chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
            let hex =
                matches!(word.len(), 3 | 4 | 6 | 8) && word.chars().all(|c| c.is_ascii_hexdigit());
            hex.then(|| format!("#{word}"))
        })
        .collect()
}

fn files_below(folder: &Path, out: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("the folder can be read") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files_below(&path, out);
        } else {
            out.push(path);
        }
    }
}

#[test]
fn no_colour_stands_outside_the_design_file() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    files_below(&here.join("src"), &mut files);
    files_below(&here.join("examples"), &mut files);
    assert!(files.len() > 20);
    let mut in_design = 0;
    for file in files {
        let text = std::fs::read_to_string(&file).expect("text");
        let found = hex_colours(&text);
        if file.ends_with("design.json") {
            in_design = found.len();
        } else {
            assert!(found.is_empty(), "{}: {found:?}", file.display());
        }
        assert!(!text.contains("rgb("), "{}", file.display());
    }
    assert_eq!(in_design, 27, "nine roles on three grounds; the search works");
}

#[test]
fn pictures_in_a_page_carry_no_colour_and_alone_they_carry_all() {
    for drawing in super::drawings() {
        assert!(hex_colours(&drawing.inline()).is_empty());
        let alone = drawing.standalone();
        assert!(!hex_colours(&alone).is_empty() && !alone.contains("var(--"));
    }
}

#[test]
fn a_photocopy_still_tells_the_roles_apart() {
    let flat = |v: f64| Spectrum::from_fn(move |_| LevelDifference(v));
    let of = |role, v| {
        let words = Words::new("grey", "Grey", "");
        let mut chart = BandChart::new(words, Quantity::new("Level difference", "D", ""));
        chart.wrong = Some(WrongSide::Below);
        chart.traces.push(Trace::differences(role, "x", &flat(v)));
        if role == Role::Measured {
            chart.traces.push(Trace::differences(Role::Required, "y", &flat(v + 5.0)));
        }
        chart.draw(Format::Report).inline()
    };
    let measured = of(Role::Measured, 40.0);
    assert!(!measured.contains("stroke-dasharray"));
    assert!(measured.contains("fill=\"url(#grey-report-wrong)\""), "hatch where it falls short");
    assert!(of(Role::Predicted, 40.0).contains("stroke-dasharray=\"6 3\""));
    assert!(of(Role::Background, 40.0).contains("fill=\"url(#grey-report-noise)\""));
    // Steps: two corners in each of 21 bands.
    let required = of(Role::Required, 40.0);
    let d = required.split("class=\"l-required\" d=\"").nth(1).expect("steps");
    assert_eq!(d.split('"').next().unwrap_or("").matches(['M', 'L']).count(), 42);
}

#[test]
fn at_most_one_thing_is_pointed_at() {
    let words = Words::new("one", "One", "");
    let mut chart = BandChart::new(words, Quantity::new("Level", "L", ""));
    for letter in ['A', 'B', 'C'] {
        let values = Spectrum::from_fn(|_| LevelDifference(40.0));
        chart
            .traces
            .push(Trace::differences(Role::Path, "p", &values).lettered(letter).looked_at());
    }
    let svg = chart.draw(Format::Screen).inline();
    assert_eq!(svg.matches("<path class=\"l-look-here\"").count(), 1);
    assert_eq!(svg.matches("<text class=\"look-here\"").count(), 1);
}
