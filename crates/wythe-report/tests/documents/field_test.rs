//! What a report of a field test states, what is missing of it, and footsteps and façades.

use super::*;
use wythe_findings::Excitation;

/// A tapping machine in the first room, and a loudspeaker outside nobody described.
fn with_footsteps() -> House {
    let mut house = House::recorded(HOUSE, 18.0, -20.0);
    let building = house.building.clone();
    let mut all = house.measured.take().unwrap().positions;
    let mut below = all[1].clone();
    below.id = "below".into();
    below.excitation = Excitation::TappingMachine;
    below.levels.leq = Spectrum::from_fn(|_| Level(60.0));
    below.background = Spectrum::from_fn(|_| Level(20.0));
    all.push(below);
    house.measured = Some(pairs(&building, all, Vec::new()));
    house
}

fn text(document: &Document) -> String {
    document.html().split('<').filter_map(|p| p.split_once('>')).map(|p| p.1).collect()
}

#[test]
fn what_is_not_stated_is_asked_for() {
    let house = House::recorded(HOUSE, 18.0, -20.0);
    let said = text(&file(&house.results()));
    for key in ["operator", "organisation", "client", "address", "weather", "deviations"] {
        assert!(said.contains(&format!("not stated: write it as {key} under [test]")), "{key}");
    }
    assert!(said.contains("write an [[instrument]] for each"));
    // One position in each room: too few for the standard.
    assert!(said.contains("fewer than the 5 microphone positions"), "{said}");
}

#[test]
fn what_is_stated_stands_there() {
    let mut house = House::recorded(HOUSE, 18.0, -20.0);
    house.papers = Some(Papers {
        said: vec![("operator", "somebody <with> signs".into())],
        instruments: vec![["recorder", "", "", "0417", "", "2030-11", ""].map(str::to_owned)],
        spots: vec![
            ("one.wav:2".into(), [1.4, 2.2, 1.3].map(wythe_bands::Metre)),
            ("lost.wav:1".into(), [0.0, 0.0, 1.2].map(wythe_bands::Metre)),
        ],
        taken: vec![["one.wav", "2031-04-02", ""].map(str::to_owned)],
    });
    let document = file(&house.results());
    well_formed(&document).unwrap();
    let said = text(&document);
    assert!(said.contains("somebody &lt;with&gt; signs") && said.contains("0417"));
    assert!(said.contains("1 instrument, below"));
    assert!(said.contains("position 1") && said.contains("1400\u{202F}mm"), "{said}");
    assert!(said.contains("not used"));
}

#[test]
fn footsteps_are_in_the_documents() {
    let house = with_footsteps();
    let measured = house.measured.as_ref().unwrap();
    assert_eq!(measured.impacts.len(), 1);
    let [_, builder, file] = house.documents();
    for document in [&builder, &file] {
        well_formed(document).unwrap();
        let said = text(document);
        assert!(said.contains("tapping machine"), "{}", document.title);
        for rating in &measured.impacts[0].ratings {
            assert!(said.contains(&rating.statement), "{}: {}", document.title, rating.statement);
        }
        assert!(!measured.impacts[0].ratings.is_empty() || said.contains("not given"));
    }
    // 60 dB with the background 40 dB below stay 60.0.
    let bands = text(&file);
    assert!(bands.contains("levels by ISO 16283-2") && bands.contains("60.0"));
}
