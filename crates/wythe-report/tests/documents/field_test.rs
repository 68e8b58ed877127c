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

#[test]
fn a_facade_is_in_the_documents_with_its_figures() {
    // The third room of the house becomes the outside.
    let toml = HOUSE.replace(
        "[[source]]",
        "[[room]]\nid = \"yard\"\ntitle = \"Yard\"\noutdoors = true\ndistance = \"5 m\"\n\n\
         [[boundary]]\nid = \"front\"\nbetween = [\"quiet\", \"yard\"]\narea = \"8 m2\"\n\
         build_up = \"stud-wall\"\n\n[[source]]",
    );
    let mut house = House::recorded(&toml, 18.0, -20.0);
    let building = house.building.clone();
    let yard = building.room("yard").unwrap();
    let mut all = house.measured.take().unwrap().positions;
    let (mut outside, mut inside) = (all[0].clone(), all[1].clone());
    for (p, room, level) in
        [(&mut outside, yard, 80.0), (&mut inside, inside_room(&building), 47.5)]
    {
        p.room = room;
        p.source = Some(yard);
        p.excitation = Excitation::LoudspeakerOutside;
        p.levels.leq = Spectrum::from_fn(|_| Level(level));
        p.background = Spectrum::from_fn(|b| Level(if b == Band::HZ_50 { 45.0 } else { 10.0 }));
    }
    outside.use_as = UseAs::BeforeFacade;
    all.extend([outside, inside]);
    house.measured = Some(pairs(&building, all, Vec::new()));
    let measured = house.measured.as_ref().unwrap();
    assert_eq!(measured.facades.len(), 1, "{:?}", measured.remarks);
    let f = &measured.facades[0];
    let [_, builder, file] = house.documents();
    for document in [&builder, &file] {
        well_formed(document).unwrap();
        let said = text(document);
        assert!(said.contains("Yard to Quiet room, façade"), "{}", document.title);
        for rating in &f.ratings {
            assert!(said.contains(&rating.statement), "{}: {}", document.title, rating.statement);
        }
        for (_, why) in &f.refused {
            assert!(
                said.contains(&why.replace('\'', "&#39;")) || said.contains(why.as_str()),
                "{why}"
            );
        }
    }
    // 80 outside and 47.5 inside are 32.5 apart; at 50 Hz the background is near.
    let Some(Block::Table(table)) =
        file.blocks.iter().find(|b| matches!(b, Block::Table(t) if t.id == "facade-0"))
    else {
        panic!("no table of the façade")
    };
    let row = |band: &str| -> Vec<String> {
        let found = table.rows.iter().find(|r| r[0].plain() == band).unwrap();
        found.iter().map(|c| c.plain()).collect()
    };
    assert_eq!(row("1000")[1..4], ["80.0", "47.5", "32.5"]);
    assert_ne!(row("50")[3], "32.5");
    assert_eq!(row("1000").last().unwrap(), "valid");
    assert_ne!(row("50").last().unwrap(), "valid");
    // The chart stands beside it.
    let title = |b: &Block| matches!(b, Block::Figure(f) if f.wide.title().starts_with("Façade, Yard to Quiet room"));
    assert!(file.blocks.iter().any(title));
}

fn inside_room(building: &Building) -> wythe_building::RoomIndex {
    building.room("quiet").unwrap()
}

#[test]
fn every_recorded_pair_has_its_contour_and_its_table() {
    let house = House::recorded(HOUSE, 18.0, -20.0);
    let document = file(&house.results());
    let figures: Vec<&str> = document
        .blocks
        .iter()
        .filter_map(|b| match b {
            Block::Figure(f) => Some(f.wide.title()),
            _ => None,
        })
        .collect();
    let rated = house.measured.as_ref().unwrap().pairs[0]
        .ratings
        .iter()
        .find(|r| r.symbol == "DnT,w")
        .unwrap();
    let wanted = format!("Loud room to Quiet room: {}", rated.statement);
    assert!(figures.contains(&wanted.as_str()), "{figures:?}");
    let drawing = document.html();
    assert!(drawing.contains("reference"), "no contour");
}

#[test]
fn decays_are_drawn_with_their_fit() {
    let mut house = House::recorded(HOUSE, 18.0, -20.0);
    let decay = |band: Band, t: f64| DecayDrawn {
        room: wythe_building::RoomIndex(1),
        label: "claps.wav:1, at 5.0 s".into(),
        band,
        excitation: "an impulse",
        step: Seconds(0.001),
        levels: (0..600).map(|k| -60.0 / t * f64::from(k) * 0.001).collect(),
        fit: Some(DecayFit {
            t20: Seconds(t),
            from: Seconds(5.0 / 60.0 * t),
            to: Seconds(25.0 / 60.0 * t),
            middle: Seconds(15.0 / 60.0 * t),
            level: -15.0,
        }),
        edt: Some(Seconds(t)),
        t30: None,
        range: Some(LevelDifference(48.0)),
        non_linearity: Some(1.25),
    };
    house.decays = vec![decay(Band::HZ_500, 0.61), decay(Band::HZ_1000, 0.47)];
    // One that never falls far enough, and one that is no number at all.
    house.decays.push(DecayDrawn { fit: None, levels: vec![0.0; 4], ..decay(Band::HZ_125, 1.0) });
    house.decays.push(DecayDrawn {
        levels: vec![f64::NAN; 9],
        step: Seconds(f64::NAN),
        ..decay(Band::HZ_4000, 0.4)
    });
    let document = file(&house.results());
    well_formed(&document).unwrap();
    let said = text(&document);
    assert!(said.contains("Decays of Quiet room"));
    let html = document.html();
    for t in ["0.61", "0.47"] {
        assert!(html.contains(&format!("T20 {t} s")), "no fitted line of {t} s");
    }
    let table = document.blocks.iter().find_map(|b| match b {
        Block::Table(t) if t.id == "decay-lines-1" => Some(t),
        _ => None,
    });
    let rows: Vec<Vec<String>> =
        table.unwrap().rows.iter().map(|r| r.iter().map(|c| c.plain()).collect()).collect();
    assert_eq!(rows.len(), 4);
    assert_eq!(rows[0][3], "–", "a decay that reaches nowhere has no T20: {rows:?}");
    assert_eq!(rows[1][2..6], ["0.61", "0.61", "–", "48"]);
}
