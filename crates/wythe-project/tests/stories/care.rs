//! What is stated for the cautions.

use crate::{messages, project};
use wythe_bands::{Level, Metre, Seconds, SurfaceMass};
use wythe_building::RoomIndex;
use wythe_building::care::Purpose;

const HOUSE: &str = r#"
wythe = 1
[[build_up]]
id = "brick"
layers = [{ board = "brick", thickness = "215 mm" }]
[[room]]
id = "hall"
volume = "60 m3"
decay_time = "0.5 s"
use = "practice"
people = [{ count = 1, met = 4 }, { count = 3, age = 15 }]
fan = "216 m3/h"
[[room]]
id = "yard"
outdoors = true
distance = "5 m"
[[boundary]]
id = "front"
between = ["hall", "yard"]
area = "10 m2"
build_up = "brick"
load_allowance = "5 psf"
[[boundary.opening]]
id = "window"
kind = "window"
leaf = "single glazing 4 mm"
width = "0.9 m"
height = "1.2 m"
sill_height = "0.9 m"
"#;

#[test]
fn what_is_stated_is_kept() {
    let text = HOUSE.to_owned()
        + r#"
[caution]
session = "90 min"
eu = true
bedrooms = 3
built = 1931
alarm = "90 dBA"
alarm_tone = "520 Hz"
appliance = [{ name = "gas boiler", room = "hall", power = "80000 Btu/h" }]
"#;
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    let care = reading.project.unwrap().building.care;
    assert_eq!(care.session, Some(Seconds(5400.0)));
    assert_eq!((care.osha, care.eu, care.bedrooms, care.built), (false, true, Some(3), Some(1931)));
    assert_eq!(care.alarm, Some(Level(90.0)));
    assert_eq!(care.alarm_tone.map(|b| b.nominal()), Some("500"));
    let fuel = care.fuel.unwrap();
    // 80 000 Btu/h is 23.45 kW by the definition of the Btu (International Table).
    assert!((fuel[0].kilowatts - 23.445_7).abs() < 1e-3, "{}", fuel[0].kilowatts);
    assert_eq!((fuel[0].room, fuel[0].direct_vent), (RoomIndex(0), false));
    assert_eq!(care.rooms.len(), 1);
    assert_eq!(care.rooms[0].purpose, Some(Purpose::Practice));
    assert_eq!(care.rooms[0].people.len(), 2);
    assert_eq!((care.rooms[0].people[1].met, care.rooms[0].people[1].age), (2.0, Some(15.0)));
    assert!((care.rooms[0].fan.unwrap() - 60.0).abs() < 1e-9);
    assert_eq!(care.sills, [("window".to_owned(), Metre(0.9))]);
    let (at, SurfaceMass(mass)) = &care.allowances[0];
    assert_eq!(at, "front");
    // 5 lb/ft² by the international pound and foot.
    assert!((mass - 24.412).abs() < 1e-3, "{mass}");
}

#[test]
fn nothing_said_is_nothing_known() {
    let care = project(HOUSE).project.unwrap().building.care;
    assert_eq!((care.session, care.fuel, care.built), (None, None, None));
    let none = HOUSE.to_owned() + "[caution]\nno_fuel = true\n";
    assert_eq!(project(&none).project.unwrap().building.care.fuel, Some(Vec::new()));
}

#[test]
fn what_contradicts_itself_is_an_error() {
    let text = HOUSE.replace("use = \"practice\"", "use = \"bedrom\"")
        + r#"
[caution]
no_fuel = true
alarm = "85 dB"
appliance = [{ name = "stove", room = "hull", power = "5 kW" }, { name = "boiler", room = "hall", power = "24" }]
"#;
    insta::assert_snapshot!(messages(&project(&text)), @r#"
    wythe.toml:10:7: room `hall`: `use` cannot be `bedrom`
      = did you mean `bedroom`?
      = project::word
    wythe.toml:32:11: caution: `no_fuel` says that nothing burns fuel, `appliance` lists what does
      = take one of them out
      = project::misplaced
    wythe.toml:33:9: caution: `alarm` is not A-weighted
      = for example `alarm = "85 dBA"`
      = project::weighting
    wythe.toml:34:39: caution, appliance `stove`: there is no room `hull`
      = did you mean `hall`?
      = project::unknown-room
    wythe.toml:34:107: caution, appliance `boiler`: `power` `24` has no unit
      = for example `power = "24 kW"`; power is written as `"24 kW"`, `"80000 Btu/h"`
      = project::unit
    "#);
}
