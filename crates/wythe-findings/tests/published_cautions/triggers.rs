//! What sets a caution off, with the published figures it must then carry.

use wythe_bands::{Level, Metre, SurfaceMass};
use wythe_building::*;
use wythe_findings::caution::air::{LitresPerSecond, Ppm};
use wythe_findings::caution::*;
use wythe_partition::*;

use crate::buildings::*;

fn all(building: &Building) -> Vec<Caution> {
    cautions(building, &Settings::default())
}

pub fn with<'a>(all: &'a [Caution], code: &str) -> Vec<&'a Caution> {
    all.iter().filter(|c| c.code == code).collect()
}

fn only<'a>(all: &'a [Caution], code: &str) -> &'a Caution {
    let found = with(all, code);
    assert_eq!(found.len(), 1, "{code}: {found:#?}");
    found[0]
}

fn figure(caution: &Caution, name: &str) -> f64 {
    let found = caution.figures.iter().find(|f| f.name == name);
    found.unwrap_or_else(|| panic!("no {name} in {:#?}", caution.figures)).value
}

/// NIOSH 98-126, Table 1-1 (public reprint): minutes a day at a level.
#[test]
fn hearing_by_niosh() {
    for (level, minutes, tolerance) in
        [(88.0, 240.0, 1.0), (94.0, 60.0, 0.02), (100.0, 15.0, 0.02), (106.0, 3.75, 0.02)]
    {
        let mut house = house();
        house.sources = vec![source(PRACTICE, at_1_khz(level))];
        let all = all(&house);
        let found = with(&all, "caution::hearing-dose");
        let caution = found.iter().find(|c| c.place == "practice").unwrap();
        let (value, unit) = caution.number.unwrap();
        assert_eq!(unit, "min");
        assert!((value - minutes).abs() <= tolerance, "{level}: {value}");
        assert!(!caution.stop);
    }
}

/// 115 dBA is the end of unprotected exposure however brief (NIOSH 98-126).
#[test]
fn nobody_stays_above_115() {
    for (level, stop) in [(115.0, false), (115.2, true)] {
        let mut house = house();
        house.sources = vec![source(PRACTICE, at_1_khz(level))];
        let all = all(&house);
        let here = with(&all, "caution::hearing-dose").into_iter().find(|c| c.place == "practice");
        assert_eq!(here.unwrap().stop, stop, "{level}");
    }
}

/// Other rules only when asked for, and the shortest time first: at 100 dBA NIOSH 15 min, the EU
/// upper value 15.2 min, its limit 24.1 min, OSHA 2 h (29 CFR 1910.95, Table G-16a).
#[test]
fn other_rules_on_request() {
    let names = |settings: &Settings| -> Vec<(String, f64)> {
        let all = cautions(&house(), settings);
        let caution = with(&all, "caution::hearing-dose")[0].clone();
        caution
            .figures
            .into_iter()
            .filter(|f| f.unit == "min")
            .map(|f| (f.name.trim_start_matches("minutes a day by ").to_owned(), f.value))
            .collect()
    };
    let bare = names(&Settings::default());
    assert_eq!(bare.len(), 1);
    assert_eq!(bare[0].0, "NIOSH");
    let every = names(&Settings { osha: true, eu: true, ..Settings::default() });
    let rules: Vec<&str> = every.iter().map(|(n, _)| n.as_str()).collect();
    assert_eq!(
        rules,
        [
            "NIOSH",
            "EU upper action value",
            "EU limit value, protectors counted",
            "OSHA permissible exposure"
        ]
    );
    assert!(every.windows(2).all(|w| w[0].1 <= w[1].1), "{every:?}");
    assert!((every[3].1 - 120.0).abs() < 0.05);
}

/// A room next door at 80 dBA or more is named too; below it is not.
#[test]
fn loud_receivers_are_named() {
    for named in [false, true] {
        let mut house = house();
        house.sources = vec![source(PRACTICE, at_1_khz(105.0))];
        if named {
            house.boundaries[DOOR_WALL].openings[0].state = OpeningState::Open;
        }
        let all = all(&house);
        let found = with(&all, "caution::hearing-dose").into_iter().any(|c| c.place == "hall");
        assert_eq!(found, named);
    }
}

/// The worked case: 78 m³, 30 m², a drummer and three players at 25 °C. 29 L/s by people and area,
/// 1927 ppm with that, 75 L/s to hold 1000 ppm, sealed 5000 ppm after 136 min (PCO2007, PCO2010,
/// PCO2013, PCO2019 of the table of carbon dioxide).
#[test]
fn air_of_the_worked_room() {
    let all = all(&house());
    let caution =
        *with(&all, "caution::tight-room").iter().find(|c| c.place == "practice").unwrap();
    for (name, value, tolerance) in [
        ("outdoor air by people and area", 29.0, 0.01),
        // The case rounds the breath to 0.0437 L/s, 0.1 % above the table's own figures.
        ("carbon dioxide it settles at", 1926.9, 1.6),
        ("outdoor air to hold 1000 ppm", 75.34, 0.1),
        ("minutes to 5000 ppm, no fan", 136.25, 0.2),
        // 580 ppm and 1080 ppm of 78 m³ at 0.04366 L/s.
        ("minutes to 1000 ppm, no fan", 17.27, 0.02),
        ("minutes to 1500 ppm, no fan", 32.15, 0.03),
    ] {
        let computed = figure(caution, name);
        assert!((computed - value).abs() <= tolerance, "{name}: {computed}");
    }
    assert!(caution.stop && !caution.assumed.is_empty());
    assert_eq!(caution.number.unwrap().0, figure(caution, "minutes to 1500 ppm, no fan"));
}

#[test]
fn a_stated_fan_lifts_the_stop_but_not_the_caution() {
    for (flow, stop) in [(28.9, true), (29.0, false), (80.0, false)] {
        let rooms = vec![RoomUse {
            room: "practice".into(),
            occupancy: None,
            fan: Some(LitresPerSecond(flow)),
        }];
        let all = cautions(&house(), &Settings { rooms, ..Settings::default() });
        let found = with(&all, "caution::tight-room");
        let caution = found.iter().find(|c| c.place == "practice").unwrap();
        assert_eq!(caution.stop, stop, "{flow}");
        // The figure for a failed fan does not depend on the fan.
        assert!((figure(caution, "minutes to 1500 ppm, no fan") - 32.15).abs() < 0.03);
    }
}

#[test]
fn a_room_open_to_the_air_is_not_tight_but_still_unplanned() {
    let mut house = house();
    let mut hole = house.boundaries[OUTER_WALL].openings[0].clone();
    hole.id = "missing pane".into();
    hole.kind = OpeningKind::Hole;
    hole.leaf = None;
    house.boundaries[OUTER_WALL].openings.push(hole);
    let all = all(&house);
    assert!(with(&all, "caution::tight-room").iter().all(|c| c.place != "practice"));
    assert!(only(&all, "caution::air-by-chance").not_known);
}

#[test]
fn rooms_without_any_opening_are_not_passed_over() {
    let all = all(&house());
    assert_eq!(only(&all, "caution::air-not-described").place, "flat");
    let out = only(&all, "caution::no-way-outdoors");
    assert!(out.not_known);
    assert_eq!(out.place, "flat");
}

/// Two more boards of 15.9 mm: 2 · 13.43 kg/m² by ASCE 7-05, Table C3-1 (5.5 psf).
#[test]
fn two_more_boards_under_the_joists() {
    for (stated, stop) in [
        (Some(30.0), false),
        (Some(26.86), false),
        (Some(26.84), true),
        (Some(0.0), true),
        (Some(f64::NAN), true),
        (Some(f64::INFINITY), true),
        (Some(-5.0), true),
        (None, true),
    ] {
        let mut house = house();
        house.limits.added_mass = stated.map(SurfaceMass);
        let all = all(&house);
        let caution = only(&all, "caution::dead-load");
        assert!((caution.number.unwrap().0 - 26.85).abs() < 0.01, "{:?}", caution.number);
        assert!((figure(caution, "added mass in all") - 30.0 * 26.85).abs() < 0.2);
        assert_eq!(caution.stop, stop, "{stated:?}");
        assert!(caution.what_to_do.ends_with("ask an engineer."), "{}", caution.what_to_do);
    }
}

#[test]
fn what_cannot_be_weighed_stops() {
    let mut house = house();
    house.build_ups[FLOOR_AND_TWO].construction = Construction::Measured(DataSheet::default());
    let all = all(&house);
    let caution = only(&all, "caution::dead-load");
    assert!(caution.stop && caution.not_known);
    assert!(caution.what_to_do.ends_with("ask an engineer."));
}

#[test]
fn a_lighter_ceiling_asks_nothing() {
    let mut house = house();
    house.boundaries[CEILING].build_up = BuildUpIndex(FLOOR_AND_TWO);
    house.changes = vec![change("strip", vec![rebuild(CEILING, FLOOR)])];
    let all = all(&house);
    assert!(with(&all, "caution::dead-load").is_empty());
    // What hangs there now is still named: three boards, 40.3 kg/m².
    assert!((only(&all, "caution::hung-mass").number.unwrap().0 - 40.28).abs() < 0.02);
}

#[test]
fn a_heavier_wall_upstairs_stops_and_downstairs_asks() {
    for (storey, stop) in [(1, true), (0, false)] {
        let mut house = house();
        house.rooms[PRACTICE].storey = storey;
        house.rooms[HALL].storey = storey;
        house.build_ups.push(build_up("lined brick", vec![board("brick", 215.0, 2)]));
        house.changes = vec![change("line it", vec![rebuild(DOOR_WALL, 4)])];
        let all = all(&house);
        let caution = only(&all, "caution::wall-load");
        assert_eq!(caution.stop, stop);
        assert!(caution.what_to_do.ends_with("ask an engineer."), "{}", caution.what_to_do);
    }
}

#[test]
fn a_plug_is_named_where_it_is_and_where_it_is_offered() {
    let wood = || build_up("window plug", vec![board("plywood", 18.0, 1)]);
    let mut there = house();
    there.boundaries[OUTER_WALL].openings[0].leaf = Some(wood());
    assert!(only(&all(&there), "caution::way-out-plugged").stop);

    let mut taped = house();
    taped.boundaries[OUTER_WALL].openings[0].state = OpeningState::Taped;
    assert_eq!(only(&all(&taped), "caution::way-out-plugged").place, "practice window");

    let mut offered = house();
    offered.changes = vec![change(
        "close it",
        vec![Action::Leaf { opening: "practice window".into(), leaf: wood() }],
    )];
    let all = all(&offered);
    let caution = only(&all, "caution::change-plugs-window");
    assert!(caution.stop);
    assert!(caution.concerns.contains(&Concern::Change("close it".into())));
    // Glass for glass closes nothing.
    let mut glass = house();
    let pane = build_up("pane", vec![board("glass", 10.0, 1)]);
    glass.changes = vec![change(
        "new pane",
        vec![Action::Leaf { opening: "practice window".into(), leaf: pane }],
    )];
    assert!(
        with(&cautions(&glass, &Settings::default()), "caution::change-plugs-window").is_empty()
    );
}

#[test]
fn a_lining_before_a_window_is_asked_about() {
    let mut house = house();
    house.changes = vec![change("line the outer wall", vec![rebuild(OUTER_WALL, 0)])];
    let all = all(&house);
    let caution = only(&all, "caution::change-beside-window");
    assert!(
        caution.not_known
            && caution.concerns.contains(&Concern::Boundary(BoundaryIndex(OUTER_WALL)))
    );
}

/// IRC R310 (restated): 5.7 ft², 24 in high, 20 in wide.
#[test]
fn a_window_too_small_to_climb_out_of() {
    for ([w, h], unknown) in [([0.9, 1.1], true), ([0.5, 1.5], false), ([0.6, 0.6], false)] {
        let mut house = house();
        house.boundaries[OUTER_WALL].openings[0].width = Metre(w);
        house.boundaries[OUTER_WALL].openings[0].height = Metre(h);
        assert_eq!(only(&all(&house), "caution::escape-window").not_known, unknown, "{w} {h}");
    }
}

#[test]
fn two_heavy_doors_in_series() {
    let all = all(&house());
    let caution = only(&all, "caution::doors-in-series");
    assert_eq!(caution.place, "practice door and front door");
    // 44 mm of particleboard, 680 kg/m³, 0.9 m by 2.0 m.
    assert!((caution.number.unwrap().0 - 53.9).abs() < 0.1);
    let mut light = house();
    let leaf = build_up("hollow", vec![board("plywood", 4.0, 2)]);
    light.boundaries[DOOR_WALL].openings[0].leaf = Some(leaf);
    light.boundaries[DOOR_WALL].openings[0].head.kind = SealKind::None;
    let found = cautions(&light, &Settings::default());
    assert!(with(&found, "caution::doors-in-series").is_empty());
}

/// An alarm of 85 dBA in the hall arrives with the predicted level difference of its band.
#[test]
fn the_alarm_inside_is_the_level_less_the_difference() {
    use wythe_bands::Band;
    use wythe_transmission::{Cache, assemble};
    let house = house();
    let model = assemble(&house, &mut Cache::default()).unwrap();
    let from = |room: usize| {
        let field = model.from_source(RoomIndex(room));
        field.at(RoomIndex(PRACTICE)).and_then(|r| r.difference.get(Band::HZ_3150)).unwrap().0
    };
    let expected = 85.0 - from(HALL).min(from(FLAT));
    let all = all(&house);
    let caution = only(&all, "caution::alarm-not-heard");
    assert!((caution.number.unwrap().0 - expected).abs() < 1e-9);
    assert!(caution.stop);
    // A door that stands open and quiet playing: it is 15 dB above, and nothing is said.
    let mut open = house.clone();
    open.boundaries[DOOR_WALL].openings[0].state = OpeningState::Open;
    open.sources = vec![source(PRACTICE, at_1_khz(50.0))];
    assert!(with(&cautions(&open, &Settings::default()), "caution::alarm-not-heard").is_empty());
}

/// NFPA 54: 80 000 Btu/h, 23.4 kW, asks for 113 m³; the hall has 15.6 m³.
#[test]
fn a_boiler_in_the_hall() {
    let boiler = |room: &str, direct_vent| Settings {
        appliances: Appliances::Listed(vec![Appliance {
            name: "boiler".into(),
            room: room.into(),
            kilowatts: 23.445_7,
            direct_vent,
        }]),
        ..Settings::default()
    };
    let all = cautions(&house(), &boiler("hall", false));
    let caution = only(&all, "caution::fuel-appliance");
    assert!(caution.stop);
    assert!((caution.number.unwrap().0 - 113.27).abs() < 0.05);
    assert!(!only(&cautions(&house(), &boiler("hall", true)), "caution::fuel-appliance").stop);
    assert!(
        only(&cautions(&house(), &boiler("attic", false)), "caution::fuel-place-not-known").stop
    );
    // Nobody said: asked. Said that there is none: not asked.
    assert!(only(&cautions(&house(), &Settings::default()), "caution::fuel-not-said").not_known);
    let none = Settings { appliances: Appliances::Listed(Vec::new()), ..Settings::default() };
    assert!(cautions(&house(), &none).iter().all(|c| c.topic != Topic::Fuel));
}

#[test]
fn foam_dust_lead_and_lifting() {
    let mut house = house();
    house.rooms[PRACTICE].absorption = Absorption::Finishes(vec![
        Surface { finish: "Acoustic Foam 50 mm".into(), area: wythe_bands::SquareMetre(8.0) },
        Surface { finish: "brick".into(), area: wythe_bands::SquareMetre(60.0) },
    ]);
    house.build_ups[0] = build_up(
        "lead wall",
        vec![
            board("lead sheet", 2.0, 1),
            cavity(100.0, true, FrameKind::TimberStuds),
            board("gypsum board", 12.5, 1),
        ],
    );
    let all = all(&house);
    assert!(only(&all, "caution::exposed-foam").stop);
    assert_eq!(only(&all, "caution::silica").place, "outer wall and front wall");
    assert_eq!(only(&all, "caution::lead").place, "door wall");
    assert_eq!(only(&all, "caution::fibres").place, "door wall, ceiling and two more boards");
    // A sheet of 5/8 in: 13.4 kg/m² by design weight on 2.88 m²; particleboard of 22 mm 43.1 kg;
    // lead of 2 mm 65.3 kg.
    assert!((only(&all, "caution::heavy-sheets").number.unwrap().0 - 65.3).abs() < 0.1);
    assert!(!only(&all, "caution::old-materials").sources.is_empty());
}

#[test]
fn bad_descriptions_are_said_and_never_lost() {
    let mut broken = house();
    broken.sources[0].levels = at_1_khz(f64::NAN);
    assert!(only(&all(&broken), "caution::hearing-not-known").not_known);

    let mut loud = house();
    loud.sources[0].levels = at_1_khz(400.0);
    assert!(!with(&all(&loud), "caution::hearing-not-known").is_empty());

    let mut dangling = house();
    dangling.boundaries[0].build_up = BuildUpIndex(99);
    let found = all(&dangling);
    assert!(only(&found, "caution::levels-not-known").why.contains("door wall"));

    let mut flat = house();
    flat.rooms[PRACTICE].volume = wythe_bands::CubicMetre(f64::NAN);
    assert!(with(&all(&flat), "caution::air-not-known").iter().any(|c| c.place == "practice"));

    let lost = Settings {
        rooms: vec![RoomUse { room: "cellar".into(), ..RoomUse::default() }],
        outdoors: Ppm(420.0),
        ..Settings::default()
    };
    assert_eq!(only(&cautions(&house(), &lost), "caution::use-of-unknown-room").place, "cellar");

    let silent = Settings {
        alarm: Alarm { level: Level(f64::NAN), ..Alarm::default() },
        ..Settings::default()
    };
    assert!(only(&cautions(&house(), &silent), "caution::alarm-not-heard").not_known);

    let empty = all(&Building::default());
    assert_eq!(only(&empty, "caution::nothing-described").place, "building");
}
