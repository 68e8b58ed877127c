//! Every message as people read it, written down. With WYTHE_WRITE_SNAPSHOTS set the files are
//! written anew; read them before they are kept.

use std::path::PathBuf;

use wythe_building::care::{People, Purpose, RoomCare};
use wythe_building::*;
use wythe_findings::caution::requirements::{GUIDANCE, NOT_LAW};
use wythe_findings::caution::*;
use wythe_partition::*;

use crate::buildings::*;
use crate::laws::promises_nothing;

fn written(all: &[Caution]) -> String {
    let mut out = String::new();
    for c in all {
        promises_nothing(&c.text());
        let number = c.number.map_or_else(String::new, |(v, u)| format!(" [{v:.2} {u}]"));
        out.push_str(&format!("{} | {}{number}\n{}\n\n", c.code, c.place, c.text()));
    }
    out
}

fn snapshot(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name);
    if std::env::var_os("WYTHE_WRITE_SNAPSHOTS").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
    for (line, (now, then)) in text.lines().zip(kept.lines()).enumerate() {
        assert_eq!(now, then, "{name}, line {}", line + 1);
    }
    assert_eq!(text.lines().count(), kept.lines().count(), "{name}");
}

#[test]
fn of_the_house() {
    let house = house();
    let all = cautions_in(&house, &Settings::default(), &fixed_model(&house));
    snapshot("cautions_house.txt", &written(&all));
}

#[test]
fn of_the_worst_house() {
    let mut house = house();
    house.limits.added_mass = None;
    house.rooms[HALL].storey = 1;
    house.boundaries[DOOR_WALL].openings[0].state = OpeningState::Open;
    let plug = build_up("window plug", vec![board("plywood", 18.0, 1)]);
    house.boundaries[OUTER_WALL].openings[0].leaf = Some(plug.clone());
    house.boundaries[OUTER_WALL].leaks.push(Leak {
        id: "pipe".into(),
        title: None,
        shape: LeakShape::Hole { diameter: wythe_bands::Metre(0.02) },
        depth: wythe_bands::Metre(0.2),
        standpoint: Default::default(),
    });
    house
        .build_ups
        .push(build_up("lead", vec![board("lead sheet", 2.0, 1), board("brick", 215.0, 1)]));
    house.build_ups.push(build_up(
        "own ceiling",
        vec![
            board("gypsum board", 15.9, 3),
            cavity(400.0, true, FrameKind::SeparateTimberStuds),
            board("particleboard", 22.0, 1),
        ],
    ));
    house.build_ups.push(BuildUp {
        construction: Construction::Measured(DataSheet::default()),
        ..build_up("sheet without mass", Vec::new())
    });
    house.changes.extend([
        change("heavy wall", vec![rebuild(DOOR_WALL, 4)]),
        change("line the outer wall", vec![rebuild(OUTER_WALL, 0)]),
        change("own ceiling", vec![rebuild(CEILING, 5)]),
        change("bought ceiling", vec![rebuild(CEILING, 6)]),
        change("plug", vec![Action::Leaf { opening: "practice window".into(), leaf: plug }]),
        change(
            "foam",
            vec![Action::Absorb {
                room: RoomIndex(PRACTICE),
                finish: "foam 50 mm".into(),
                area: wythe_bands::SquareMetre(6.0),
            }],
        ),
    ]);
    house.sources[0].levels = at_1_khz(118.0);
    let settings = Settings {
        osha: true,
        eu: true,
        appliances: Appliances::Listed(vec![
            Appliance {
                name: "boiler".into(),
                room: "hall".into(),
                kilowatts: 24.0,
                direct_vent: false,
            },
            Appliance {
                name: "stove".into(),
                room: "flat".into(),
                kilowatts: 5.0,
                direct_vent: true,
            },
            Appliance {
                name: "dryer".into(),
                room: "loft".into(),
                kilowatts: 5.0,
                direct_vent: false,
            },
        ]),
        ..Settings::default()
    };
    let all = cautions_in(&house, &settings, &fixed_model(&house));
    snapshot("cautions_worst_house.txt", &written(&all));
}

/// What somebody looked at and wrote down takes the place of what was assumed.
#[test]
fn of_the_house_as_stated() {
    let mut house = house();
    let opening = house.boundaries[OUTER_WALL].openings[0].id.clone();
    let ceiling = house.boundaries[CEILING].id.clone();
    house.care = Care {
        session: Some(wythe_bands::Seconds(5400.0)),
        eu: true,
        bedrooms: Some(2),
        outdoor_co2: Some(430.0),
        alarm: Some(wythe_bands::Level(90.0)),
        alarm_tone: Some(wythe_bands::Band::HZ_500),
        built: Some(1931),
        fuel: Some(Vec::new()),
        rooms: vec![RoomCare {
            room: RoomIndex(PRACTICE),
            purpose: Some(Purpose::Practice),
            people: vec![People { count: 5, met: 3.0, age: Some(15.0) }],
            fan: Some(40.0),
        }],
        sills: vec![(opening, wythe_bands::Metre(1.4))],
        allowances: vec![(ceiling, wythe_bands::SurfaceMass(12.0))],
        ..Care::default()
    };
    let settings = Settings::stated(&house);
    let all = cautions_in(&house, &settings, &fixed_model(&house));
    assert!(all.iter().all(|c| c.code != "caution::fuel-not-said"));
    snapshot("cautions_stated_house.txt", &written(&all));
}

#[test]
fn of_build_ups_by_themselves() {
    let all = cautions_of_build_ups(&house().build_ups);
    snapshot("cautions_build_ups.txt", &written(&all));
}

#[test]
fn of_what_is_not_known() {
    let mut house = house();
    house.boundaries[DOOR_WALL].build_up = BuildUpIndex(99);
    house.sources[0].levels = Default::default();
    house.boundaries[OUTER_WALL].openings[0].width = wythe_bands::Metre(-1.0);
    house.rooms[HALL].floor_area = wythe_bands::SquareMetre(f64::NAN);
    let all = cautions(&house, &Settings::default());
    let unknown: Vec<Caution> = all.into_iter().filter(|c| c.not_known).collect();
    let mut text = written(&unknown);
    text.push_str(&written(&cautions(&Building::default(), &Settings::default())));
    snapshot("cautions_not_known.txt", &text);
}

#[test]
fn of_the_guidance_and_the_notice() {
    let mut text = format!("{STANDING_NOTICE}\n\n{NOT_LAW}\n\n");
    for row in GUIDANCE {
        text.push_str(&format!("{} | {}\n  {}\n", row.receiver.words(), row.text(), row.note));
    }
    snapshot("cautions_guidance.txt", &text);
}
