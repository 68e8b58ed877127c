//! Junctions, ducts, vents and contacts in a project.

use crate::{messages, project};
use wythe_bands::{Band, Hertz};
use wythe_building::{Absorption, ContactTransfer, JunctionKind, Section};

const HOUSE: &str = r#"
wythe = 1

[[build_up]]
id = "slab"
layers = [{ board = "concrete", thickness = "160 mm" }]

[[room]]
id = "studio"
storey = 1
height = "2.5 m"
outline = [["0 m", "0 m"], ["4 m", "0 m"], ["4 m", "5 m"], ["0 m", "5 m"]]
finishes = { floor = "parquet", walls = "gypsum on studs", ceiling = "gypsum on studs" }

[[room]]
id = "flat"
storey = 0
height = "2.5 m"
outline = [["0 m", "0 m"], ["4 m", "0 m"], ["4 m", "5 m"], ["0 m", "5 m"]]
absorption = { unit = "m2", 125 = 10, 1000 = 10 }

[[room]]
id = "yard"
outdoors = true
distance = "5 m"

[[boundary]]
id = "floor"
between = ["flat", "studio"]
build_up = "slab"

[[boundary]]
id = "front-up"
between = ["studio", "yard"]
build_up = "slab"
angle_degrees = 60
[[boundary.opening]]
kind = "window"
leaf = "double glazing 4/16/4 mm"
width = "1.2 m"
height = "1 m"

[[boundary]]
id = "front"
between = ["flat", "yard"]
build_up = "slab"

[[source]]
id = "kit"
room = "studio"
spectrum = { unit = "dB", 63 = 90, 125 = 92, 250 = 95 }
"#;

#[test]
fn edges_are_found_and_stated_ones_take_their_place() {
    let reading = project(HOUSE);
    assert_eq!(messages(&reading), "");
    let found = reading.project.expect("no errors").building.fabric;
    assert_eq!(found.junctions.len(), 1);
    assert!(found.junctions[0].found);
    // Four walls of the floor's edge, found on the outer faces of the lower and upper room.
    assert!((found.junctions[0].length.0 - 18.0).abs() < 1e-9, "{}", found.junctions[0].length.0);
    assert_eq!(found.facings[0].angle_degrees, 60.0);

    let stated = HOUSE.to_owned()
        + r#"
[[junction]]
through = ["front", "front-up"]
across = ["floor"]
kind = "flexible layer"
helps_from = "80 Hz"
status = "known"
"#;
    let reading = project(&stated);
    assert_eq!(messages(&reading), "");
    let junctions = reading.project.expect("no errors").building.fabric.junctions;
    assert_eq!(junctions.len(), 1);
    assert_eq!(junctions[0].kind, JunctionKind::FlexibleLayer { from: Hertz(80.0) });
    assert!((junctions[0].length.0 - 18.0).abs() < 1e-9, "the length of the edge found");

    let without = HOUSE.replace(
        "[[room]]\nid = \"studio\"",
        "[defaults]\nflanking = \"left out\"\n\n[[room]]\nid = \"studio\"",
    );
    let reading = project(&without);
    assert!(reading.project.expect("no errors").building.fabric.junctions.is_empty());
}

#[test]
fn windows_are_taken_off_the_walls_they_stand_in() {
    let building = project(HOUSE).project.expect("no errors").building;
    let Absorption::Finishes(surfaces) = &building.rooms[0].absorption else {
        panic!("finishes are stated")
    };
    let area = |name: &str| -> f64 {
        surfaces.iter().filter(|s| s.finish == name).map(|s| s.area.0).sum()
    };
    assert!((area("glass") - 1.2).abs() < 1e-12);
    // 18 m by 2.5 m of wall and 20 m2 of ceiling.
    assert!((area("gypsum on studs") - (45.0 + 20.0 - 1.2)).abs() < 1e-9);
}

#[test]
fn a_duct_with_everything() {
    let text = HOUSE.to_owned()
        + r#"
[[duct]]
id = "supply"
between = ["studio", "yard"]
diameter = "160 mm"
length = "6 m"
lining = "25 mm"
lined_length = "2 m"
elbows = ["lined square", "round"]
splits = ["50 %"]
silencer = { unit = "dB", 125 = 8, 250 = 15, 500 = 22 }
noise = { unit = "dB", 63 = 50, 125 = 45, 250 = 40 }
through = [{ room = "flat", length = "3 m" }]

[[vent]]
between = ["flat", "yard"]
level_difference = { unit = "dB", 125 = 31, 250 = 33, 500 = 36 }
"#;
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    let fabric = reading.project.expect("no errors").building.fabric;
    let duct = &fabric.ducts[0];
    assert!(matches!(duct.section, Section::Round { .. }));
    assert_eq!((duct.elbows.len(), duct.elbows[0].lined, duct.elbows[1].lined), (2, true, false));
    assert_eq!(duct.splits, [0.5]);
    assert_eq!(duct.wall.map(|w| w.0), Some(5.5), "assumed and listed");
    assert!(reading.assumed.iter().any(|a| a.what.ends_with("wall_mass")));
    // Octave levels become thirds of equal energy.
    let noise = duct.noise[0].expect("stated");
    assert!(
        (noise.get(Band::HZ_125).expect("there").0 - (45.0 - 10.0 * 3f64.log10())).abs() < 1e-9
    );
    assert_eq!(fabric.small_elements.len(), 1);
}

#[test]
fn a_contact_is_measured_or_estimated() {
    let measured = HOUSE.to_owned()
        + r#"
[[contact]]
of = "kit"
into = "flat"
heard = { unit = "dB", 63 = 50, 125 = 44 }
mount = { deflection = "4 mm", air_gap = "50 mm", load = "100 kg/m2" }
"#;
    let reading = project(&measured);
    assert_eq!(messages(&reading), "");
    let contact = &reading.project.expect("no errors").building.fabric.contacts[0];
    let ContactTransfer::Measured(difference) = &contact.transfer else { panic!("measured") };
    // 90 dB here, 50 dB there, 10 m² of absorption and a little air: 40 dB.
    assert!((difference.get(Band::HZ_63).expect("there").0 - 40.0).abs() < 0.05);
    // 7.88 Hz of the springs and 26.8 Hz of the trapped air: 27.9 Hz.
    let f0 = contact.mount.expect("stated").natural_frequency.0;
    assert!((f0 - 27.95).abs() < 0.1, "{f0}");

    let estimated =
        HOUSE.to_owned() + "\n[[contact]]\nof = \"kit\"\ninto = \"flat\"\nfloor = \"floor\"\n";
    let reading = project(&estimated);
    assert_eq!(messages(&reading), "");
    assert!(reading.assumed.iter().any(|a| a.what.ends_with("force")));
    let contact = &reading.project.expect("no errors").building.fabric.contacts[0];
    assert!(matches!(contact.transfer, ContactTransfer::Estimated { .. }));
}

#[test]
fn what_cannot_be_used_is_said_with_its_place() {
    let text = HOUSE.to_owned()
        + r#"
[[junction]]
across = ["floor", "flor"]

[[junction]]
across = ["floor"]

[[junction]]
across = ["floor"]
through = ["floor"]

[[duct]]
between = ["studio", "flat"]
width = "100 mm"
length = "2 m"
elbows = ["bent"]
splits = ["200 %"]

[[duct]]
between = ["studio", "studio"]
diameter = "100 mm"
length = "2 m"

[[contact]]
of = "drums"
into = "flat"

[[contact]]
of = "kit"
into = "flat"
floor = "front"

[[contact]]
of = "kit"
into = "flat"
"#;
    let said = messages(&project(&text));
    for part in [
        "there is no boundary `flor`",
        "one boundary makes no junction",
        "a boundary stands in it twice",
        "its cross-section is not clear",
        "`bent` is no elbow",
        "`200 %` is no share",
        "both ends are in the same place",
        "there is no source `drums`",
        "is not the floor of the source's room",
        "nothing says how it is heard",
    ] {
        assert!(said.contains(part), "{part} is missing in\n{said}");
    }
}

#[test]
fn two_leaves_a_flow_a_thick_screen_and_soft_ground_are_read() {
    let text = HOUSE
        .replace(
            "width = \"1.2 m\"\n",
            "width = \"1.2 m\"\nsecond_leaf = { leaf = \"single glazing 6 mm\", gap = \"80 mm\", frames = \"separate\", reveal = \"lined\", seals = { head = \"compression\", jambs = \"compression\", sill = \"compression\" } }\n",
        )
        .replace(
            "angle_degrees = 60\n",
            "angle_degrees = 60\nscreen_detour = \"0.4 m\"\nscreen_beside = [\"2 m\"]\nscreen_thickness = \"6 m\"\nsoft_ground = \"80 %\"\nground_heights = [\"4 m\", \"1.5 m\"]\n",
        )
        + "\n[[duct]]\nid = \"duct\"\nbetween = [\"studio\", \"flat\"]\ndiameter = \"160 mm\"\nlength = \"4 m\"\nflow = \"216 m3/h\"\ngrille_loss = 4.0\ndamper = 6.0\n\n[[junction]]\nid = \"joists\"\nacross = [\"floor\"]\nkind = \"framed\"\nimpact_level = { unit = \"dB\", 125 = 60, 500 = 50 }\n";
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    let building = reading.project.expect("no errors").building;
    let second = building.boundaries[1].openings[0].second.as_deref().expect("two leaves");
    assert!((second.gap.0 - 0.08).abs() < 1e-12 && second.separate_frames && second.lined);
    let facing = &building.fabric.facings[0];
    assert_eq!(facing.screen_beside.map(|z| z.map(|z| z.0)), [Some(2.0), None]);
    assert_eq!(facing.screen_thickness.map(|e| e.0), Some(6.0));
    let ground = facing.ground.expect("soft ground");
    assert!((ground.soft - 0.8).abs() < 1e-12 && (ground.heights[0].0 - 4.0).abs() < 1e-12);
    // 216 m3/h are 60 L/s.
    let stream = building.fabric.ducts[0].stream.expect("it streams");
    assert!((stream.flow - 0.06).abs() < 1e-9 && stream.damper == Some(6.0));
    let framed = building.fabric.junctions.iter().find(|j| j.id == "joists").expect("stated");
    assert!(framed.impact.is_some());
}

#[test]
fn what_lacks_its_other_half_is_said_with_its_place() {
    let of = |from: &str, to: &str| messages(&project(&HOUSE.replace(from, to)));
    let screen = of("angle_degrees = 60", "screen_beside = [\"2 m\"]");
    assert!(screen.contains("screen_detour"), "{screen}");
    let heights = of("angle_degrees = 60", "ground_heights = [\"2 m\", \"1 m\"]");
    assert!(heights.contains("soft_ground"), "{heights}");
    let duct =
        "[[duct]]\nbetween = [\"studio\", \"flat\"]\ndiameter = \"160 mm\"\nlength = \"4 m\"\n";
    let damper = messages(&project(&format!("{HOUSE}\n{duct}damper = 4.0\n")));
    assert!(damper.contains("makes noise only by a `flow`"), "{damper}");
    let gap = of(
        "width = \"1.2 m\"",
        "width = \"1.2 m\"\nsecond_leaf = { leaf = \"single glazing 6 mm\" }",
    );
    assert!(gap.contains("gap"), "{gap}");
}
