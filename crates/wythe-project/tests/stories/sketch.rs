//! The first project a newcomer writes: rooms, one frame wall with a door, a source, a target.

use wythe_project::{MemoryFiles, read};

pub const ROPEWALK: &str = r#"
wythe = 1
title = "The Ropewalk"

[[room]]
id = "drum-hall"
title = "Drum hall"
storey = 0
outline = [["0 m", "0 m"], ["7.2 m", "0 m"], ["7.2 m", "5.4 m"], ["0 m", "5.4 m"]]
height = "2.7 m"
finishes = { floor = "timber on joists", walls = "gypsum on studs", ceiling = "gypsum on studs" }

[[room]]
id = "lobby"
outline = [["7.5 m", "1 m"], ["9.5 m", "1 m"], ["9.5 m", "4 m"], ["7.5 m", "4 m"]]
height = "2.5 m"
decay_time = "0.6 s"

[[room]]
id = "bedroom"
storey = 1
outline = [["2 m", "0 m"], ["6 m", "0 m"], ["6 m", "4 m"], ["2 m", "4 m"]]
height = "2.4 m"
decay_time = { unit = "s", 31.5 = 0.7, 63 = 0.6, 125 = 0.5, 250 = 0.45, 500 = 0.4 }

[[build_up]]
id = "split-frame"
layers = [
  { board = "gypsum board", thickness = "15.9 mm", count = 2, joined = "screwed" },
  { cavity = "240 mm", fill = "mineral wool", fill_depth = "180 mm", frame = "separate timber studs", spacing = "600 mm" },
  { board = "gypsum board", thickness = "15.9 mm", count = 2, joined = "damping layer" },
]

[[boundary]]
between = ["drum-hall", "lobby"]
build_up = "split-frame"          # area from the outlines, or given
status = "known"

[[boundary.opening]]
kind = "door"
leaf = "solid timber door 44 mm"
width = "0.9 m"
height = "2.05 m"
seals = { head = "compression", jambs = "compression", sill = "none", gap = "6 mm" }
state = "closed"

[[boundary]]
between = ["drum-hall", "bedroom"]
build_up = "split-frame"

[[source]]
room = "drum-hall"
spectrum = "drum kit, hard"
level = "108 dB Leq"

[[target]]
room = "bedroom"
criterion = "NR 20"
hours = "22:00-07:00"
"#;

#[test]
fn the_ropewalk_is_read_with_areas_from_its_outlines() {
    let reading = read(&MemoryFiles::new().with("wythe.toml", ROPEWALK));
    assert_eq!(reading.errors, []);
    let building = reading.project.expect("no errors").building;
    assert_eq!(building.rooms.len(), 3);
    let wall = &building.boundaries[0];
    // 3 m of wall, the lower room 2.5 m high.
    assert!((wall.area.0 - 7.5).abs() < 1e-9, "{:?}", wall.area);
    assert!(wall.area_found);
    assert_eq!(wall.openings[0].sill.gap.0, 0.006);
    let floor = &building.boundaries[1];
    assert_eq!(floor.kind, wythe_building::BoundaryKind::Floor);
    assert!((floor.area.0 - 16.0).abs() < 1e-9, "{:?}", floor.area);
    let source = &building.sources[0];
    assert!(source.invented);
    assert!((source.levels.total().expect("levels").0 - 108.0).abs() < 1e-9);
    assert_eq!(building.targets[0].hours.map(|h| (h.from, h.to)), Some((1320, 420)));
    assert_eq!(reading.remarks, []);
    let said: Vec<String> =
        reading.assumed.iter().map(|n| format!("{}: {}", n.what, n.text)).collect();
    insta::assert_snapshot!(said.join("\n"), @r"
    boundary `drum-hall`/`lobby`, opening (door), leaf `solid timber door 44 mm`: make-up taken from its name (common practice, no source)
    source in `drum-hall`, spectrum `drum kit, hard`: invented for the demonstration; record the real source
    ");
}

/// The same room in feet and inches, drawn the other way round, is the same room.
#[test]
fn metric_and_us_customary_agree() {
    let of = |outline: &str, height: &str, mass: &str| {
        let text = format!(
            "wythe = 1\n[[room]]\nid = \"a\"\ndecay_time = \"0.5 s\"\noutline = {outline}\nheight = \"{height}\"\n\
             [[build_up]]\nid = \"w\"\nlayers = [{{ board = \"gypsum board\", thickness = \"5/8 in\", surface_mass = \"{mass}\" }}]\n"
        );
        let reading = crate::project(&text);
        assert_eq!(crate::messages(&reading), "");
        reading.project.unwrap().building
    };
    let metric = of(
        r#"[["0 m", "0 m"], ["6.096 m", "0 m"], ["6.096 m", "3.8862 m"], ["0 m", "3.8862 m"]]"#,
        "2.4892 m",
        "10.7413408 kg/m2",
    );
    let customary = of(
        r#"[["0 ft", "0 in"], ["0 ft", "12 ft 9 in"], ["20 ft", "12' 9\""], ["20'", "0 m"]]"#,
        "8 ft 2 in",
        "2.2 lb/ft2",
    );
    let (a, b) = (&metric.rooms[0], &customary.rooms[0]);
    assert!((a.volume.0 - b.volume.0).abs() < 1e-9);
    assert!((a.floor_area.0 - b.floor_area.0).abs() < 1e-9);
    let mass = |b: &wythe_building::Building| match &b.build_ups[0].construction {
        wythe_partition::Construction::Layers(layers) => match &layers[0] {
            wythe_partition::Layer::Board(board) => board.surface_mass.unwrap().0,
            wythe_partition::Layer::Cavity(_) => panic!("a board was given"),
        },
        wythe_partition::Construction::Measured(_) => panic!("layers were given"),
    };
    assert!((mass(&metric) - mass(&customary)).abs() < 1e-6);
}
