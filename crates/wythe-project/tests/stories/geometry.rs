//! What outlines say about walls and floors.

use crate::{messages, project, remarks};
use wythe_building::BoundaryKind;

const BUILD_UPS: &str = r#"
wythe = 1

[[build_up]]
id = "brick"
layers = [{ board = "brick", thickness = "215 mm" }]
"#;

fn room(id: &str, storey: i32, [x0, y0, x1, y1]: [f64; 4]) -> String {
    format!(
        "\n[[room]]\nid = \"{id}\"\nstorey = {storey}\nheight = \"2.5 m\"\ndecay_time = \"0.5 s\"\n\
         outline = [[\"{x0} m\", \"{y0} m\"], [\"{x1} m\", \"{y0} m\"], [\"{x1} m\", \"{y1} m\"], [\"{x0} m\", \"{y1} m\"]]\n"
    )
}

fn wall(a: &str, b: &str) -> String {
    format!("\n[[boundary]]\nbetween = [\"{a}\", \"{b}\"]\nbuild_up = \"brick\"\n")
}

#[test]
fn overlapping_rooms_are_an_error_with_both_names_and_the_area() {
    let text = BUILD_UPS.to_owned()
        + &room("hall", 0, [0.0, 0.0, 5.0, 4.0])
        + &room("lobby", 0, [4.0, 1.0, 7.0, 3.0])
        + &wall("hall", "lobby");
    insta::assert_snapshot!(messages(&project(&text)), @r"
    wythe.toml:16:6: rooms `hall` and `lobby` overlap by 2.00 m2
      = outlines are the inner faces of walls, so neighbours lie a wall's thickness apart; check the corners and the storey
      = project::overlap
    ");
}

#[test]
fn a_room_nobody_can_stand_in_is_called_a_sliver() {
    let of = |width: f64| {
        let text = BUILD_UPS.to_owned() + &room("hall", 0, [0.0, 0.0, 5.0, width]);
        remarks(&project(&text))
    };
    assert!(of(0.1).contains("room `hall` is about 0.10 m wide, a sliver"), "{}", of(0.1));
    assert!(!of(0.4).contains("sliver"), "{}", of(0.4));
}

#[test]
fn a_wall_between_rooms_far_apart_needs_an_area() {
    let text = BUILD_UPS.to_owned()
        + &room("hall", 0, [0.0, 0.0, 5.0, 4.0])
        + &room("lobby", 0, [7.0, 0.0, 9.0, 4.0])
        + &wall("hall", "lobby");
    insta::assert_snapshot!(messages(&project(&text)), @r"
    wythe.toml:23:11: boundary `hall`/`lobby`: rooms `hall` and `lobby` share no wall on the plan, and no area is stated; they lie 2.00 m apart
      = correct the outlines or storeys, raise `thickest_wall` in `[defaults]`, or state `area`
      = project::area
    ");
    let stated = text + "area = \"6 m2\"\n";
    assert_eq!(messages(&project(&stated)), "");
}

#[test]
fn walls_nobody_described_are_remarked_and_filled_in_on_request() {
    let rooms = room("hall", 0, [0.0, 0.0, 5.0, 4.0])
        + &room("lobby", 0, [5.2, 0.0, 8.0, 4.0])
        + &room("flat", 1, [0.0, 0.0, 8.0, 4.0])
        + "\n[[room]]\nid = \"yard\"\noutdoors = true\ndistance = \"5 m\"\n";
    let text = BUILD_UPS.to_owned() + &rooms;
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    insta::assert_snapshot!(remarks(&reading), @r"
    wythe.toml:16: rooms `hall` and `lobby` share 10.00 m2 of wall on the plan, and no boundary describes it; no sound is taken to pass there [project::no-boundary]
    wythe.toml:23: rooms `hall` and `flat` share 20.00 m2 of floor on the plan, and no boundary describes it; no sound is taken to pass there [project::no-boundary]
    wythe.toml:23: rooms `lobby` and `flat` share 11.20 m2 of floor on the plan, and no boundary describes it; no sound is taken to pass there [project::no-boundary]
    wythe.toml:9: no boundary reaches room `hall`; no level can be predicted there [project::unreached]
    wythe.toml:16: no boundary reaches room `lobby`; no level can be predicted there [project::unreached]
    wythe.toml:23: no boundary reaches room `flat`; no level can be predicted there [project::unreached]
    wythe.toml:30: no boundary reaches room `yard`; no level can be predicted there [project::unreached]
    ");
    let text = text
        + "\n[defaults]\nwall = \"brick\"\nfloor = \"brick\"\nouter_wall = \"brick\"\nroof = \"brick\"\n";
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    assert_eq!(remarks(&reading), "");
    let building = reading.project.unwrap().building;
    let found: Vec<String> = building
        .boundaries
        .iter()
        .map(|b| {
            let [a, c] = b.rooms.map(|r| building.rooms[r.0].id.as_str());
            format!("{a} {c} {:?} {:.2}", b.kind, b.area.0)
        })
        .collect();
    insta::assert_snapshot!(found.join("\n"), @r"
    hall lobby Wall 10.00
    hall flat Floor 20.00
    lobby flat Floor 11.20
    hall yard Wall 35.00
    lobby yard Wall 24.00
    flat yard Wall 60.00
    flat yard Roof 32.00
    ");
}

#[test]
fn an_l_shaped_room_over_two_rooms_gets_its_parts() {
    let l_shape = "\n[[room]]\nid = \"flat\"\nstorey = 1\nheight = \"2.5 m\"\ndecay_time = \"0.5 s\"\n\
        outline = [[\"0 m\", \"0 m\"], [\"8 m\", \"0 m\"], [\"8 m\", \"2 m\"], [\"3 m\", \"2 m\"], [\"3 m\", \"4 m\"], [\"0 m\", \"4 m\"]]\n";
    let text = BUILD_UPS.to_owned()
        + &room("hall", 0, [0.0, 0.0, 5.0, 4.0])
        + &room("lobby", 0, [5.2, 0.0, 8.0, 4.0])
        + l_shape
        + &wall("hall", "lobby")
        + &wall("hall", "flat")
        + &wall("lobby", "flat");
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    let building = reading.project.unwrap().building;
    // Hall: 3 × 4 of the upright, 2 × 2 of the foot; lobby: 2.8 × 2.
    assert!((building.boundaries[1].area.0 - 16.0).abs() < 1e-9);
    assert!((building.boundaries[2].area.0 - 5.6).abs() < 1e-9);
    assert_eq!(building.boundaries[1].kind, BoundaryKind::Floor);
}

#[test]
fn a_booth_in_a_hall_is_walled_all_round() {
    let text = BUILD_UPS.to_owned()
        + &room("hall", 0, [0.0, 0.0, 8.0, 6.0])
        + &room("booth", 0, [0.1, 0.1, 2.1, 3.1])
        + &wall("hall", "booth");
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    insta::assert_snapshot!(remarks(&reading), @"wythe.toml:16: room `booth` stands inside room `hall`; its floor of 6.00 m2 is taken off, the thickness of its walls is not [project::room-inside]");
    let building = reading.project.unwrap().building;
    // Two sides stand against the hall's own walls; 2 m + 3 m look into the hall.
    assert!(
        (building.boundaries[0].area.0 - 12.5).abs() < 1e-9,
        "{:?}",
        building.boundaries[0].area
    );
    assert!((building.rooms[0].floor_area.0 - 42.0).abs() < 1e-9);
    assert!((building.rooms[0].volume.0 - 105.0).abs() < 1e-9);
}

#[test]
fn two_walls_to_the_yard_share_what_the_outline_gives() {
    let text = BUILD_UPS.to_owned()
        + &room("hall", 0, [0.0, 0.0, 5.0, 4.0])
        + "\n[[room]]\nid = \"yard\"\noutdoors = true\ndistance = \"5 m\"\n"
        + &wall("hall", "yard")
        + "area = \"10 m2\"\n"
        + &wall("hall", "yard");
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    let building = reading.project.unwrap().building;
    // 18 m of wall, 2.5 m high, less the 10 m² stated.
    assert!((building.boundaries[1].area.0 - 35.0).abs() < 1e-9);
    let neither = text.replace("area = \"10 m2\"\n", "");
    insta::assert_snapshot!(messages(&project(&neither)), @r#"
    wythe.toml:25:11: boundary `hall`/`yard`: another boundary of the same rooms has no area either, so neither can be found
      = state the area of one of them, for example `area = "4.5 m2"`
      = project::area
    "#);
}
