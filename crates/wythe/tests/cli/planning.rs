//! Plans made from a project file: prices, limits, what is struck out, what excludes each other, and
//! the questions `wythe remedy` answers.

use crate::run::{Folder, Said, on};

/// A loud room with a bedroom beside and a study above it; boards, a lining, seals and a lower
/// ceiling are on offer.
const HOUSE: &str = r#"wythe = 1
[[room]]
id = "loud"
title = "Loud room"
storey = 0
outline = [["0 m", "0 m"], ["5 m", "0 m"], ["5 m", "4 m"], ["0 m", "4 m"]]
height = "2.7 m"
decay_time = "0.6 s"
[[room]]
id = "bedroom"
title = "Bedroom"
storey = 0
outline = [["5.15 m", "0 m"], ["8 m", "0 m"], ["8 m", "4 m"], ["5.15 m", "4 m"]]
height = "2.7 m"
decay_time = "0.5 s"
background = "NR 15"
[[room]]
id = "study"
title = "Study"
storey = 1
outline = [["0 m", "0 m"], ["5 m", "0 m"], ["5 m", "4 m"], ["0 m", "4 m"]]
height = "2.5 m"
decay_time = "0.5 s"
[[build_up]]
id = "wall"
layers = [
  { board = "gypsum board", thickness = "15.9 mm" },
  { cavity = "95 mm", fill = "mineral wool", fill_depth = "90 mm", frame = "timber studs", spacing = "600 mm" },
  { board = "gypsum board", thickness = "15.9 mm" },
]
[[build_up]]
id = "wall-boarded"
layers = [
  { board = "gypsum board", thickness = "15.9 mm", count = 3 },
  { cavity = "95 mm", fill = "mineral wool", fill_depth = "90 mm", frame = "timber studs", spacing = "600 mm" },
  { board = "gypsum board", thickness = "15.9 mm" },
]
[[build_up]]
id = "floor"
layers = [
  { board = "gypsum board", thickness = "15.9 mm" },
  { cavity = "220 mm", fill = "mineral wool", fill_depth = "100 mm", frame = "timber studs", spacing = "400 mm" },
  { board = "particleboard", thickness = "22 mm" },
]
[[build_up]]
id = "floor-boarded"
layers = [
  { board = "gypsum board", thickness = "15.9 mm", count = 3 },
  { cavity = "220 mm", fill = "mineral wool", fill_depth = "100 mm", frame = "timber studs", spacing = "400 mm" },
  { board = "particleboard", thickness = "22 mm" },
]
[[boundary]]
id = "wall"
title = "bedroom wall"
between = ["loud", "bedroom"]
build_up = "wall"
[[boundary.opening]]
id = "door"
kind = "door"
leaf = "solid timber door 44 mm"
width = "0.9 m"
height = "2.05 m"
seals = { head = "compression", jambs = "compression", sill = "none", gap = "6 mm" }
[[boundary]]
id = "ceiling"
title = "ceiling of the loud room"
between = ["loud", "study"]
build_up = "floor"
[[source]]
room = "loud"
spectrum = "pink noise"
level = "90 dB Leq"
hours = "20:00-23:00"
[[target]]
room = "bedroom"
criterion = "50 dBA"
hours = "22:00-07:00"
[[target]]
room = "study"
criterion = "47 dBA"
[[change]]
id = "boards"
title = "two more boards on the bedroom wall"
element = "bedroom wall"
skill = "trade"
hours = 9
action = [{ do = "rebuild", boundary = "wall", build_up = "wall-boarded" }]
[[change]]
id = "seals"
title = "seals round the door"
element = "door seals"
cost = 140
skill = "anyone"
reversible = true
action = [{ do = "seal", opening = "door", head = "compression", jambs = "compression", sill = "drop seal", gap = "1 mm" }]
[[change]]
id = "ceiling"
title = "two more boards under the ceiling"
element = "ceiling"
cost = 800
hours = 16
action = [{ do = "rebuild", boundary = "ceiling", build_up = "floor-boarded" }]
[[change]]
id = "softer"
title = "play 3 dB softer"
element = "playing"
cost = 0
reversible = true
action = [{ do = "quieter", room = "loud", by = "3 dB" }]
[[price]]
item = "gypsum board 15.9 mm"
unit = "sheets"
price = 20
[[price]]
item = "screws"
unit = "screws"
price = 0.1
[[price]]
item = "acoustic sealant"
unit = "tubes"
price = 15
[[price]]
item = "labour"
unit = "h"
price = 30
source = "the carpenter, in May"
[limits]
added_mass = "40 kg/m2"
height = "2.4 m"
currency = "EUR"
"#;

fn house(text: &str) -> Folder {
    let folder = Folder::new();
    folder.write("wythe.toml", text);
    folder
}

fn remedy(text: &str, more: &[&str]) -> Said {
    on("remedy", house(text).path(), more)
}

/// With a line for another; it must stand in the house exactly once.
fn with(old: &str, new: &str) -> String {
    assert_eq!(HOUSE.matches(old).count(), 1, "{old}");
    HOUSE.replace(old, new)
}

#[test]
fn what_is_wrong_in_a_plan_is_said_with_its_place_and_what_to_write() {
    let boards = "skill = \"trade\"";
    let cases = [
        (
            with(boards, "skill = \"expert\""),
            "wythe.toml:",
            "`anyone`, `handy`, `trade`, `licensed`",
        ),
        (
            with(boards, "not_with = [\"seels\"]"),
            "there is no change `seels`",
            "did you mean `seals`?",
        ),
        (with(boards, "not_with = [\"boards\"]"), "it excludes itself", "strike this one out"),
        (with("cost = 140", "cost = -140"), "`cost` cannot be -140", "cost = 95"),
        (with("hours = 9", "hours = \"9\""), "`hours` is a number", "hours = 2"),
        (with("height = \"2.4 m\"", "height = 2.4"), "needs a unit", "2.4 m"),
        (
            with("height = \"2.4 m\"", "thickness = \"-1 mm\""),
            "`thickness` cannot be -1 mm",
            "120 mm",
        ),
        (
            with("added_mass = \"40 kg/m2\"", "added_mass = \"40 kg\""),
            "no unit of mass per area",
            "45 kg/m2",
        ),
        (
            with("currency = \"EUR\"", "reversible_only = 1"),
            "`true` or `false`",
            "reversible_only = true",
        ),
        (
            with("unit = \"tubes\"", "unit = \"tube\""),
            "no line of a buying list is in `tube`",
            "did you mean `tubes`?",
        ),
        (with("price = 0.1", "price = \"0.1\""), "`price` is a number", "price = 21.5"),
        (format!("{HOUSE}[[strike]]\nwhy = \"no\"\n"), "it strikes out nothing", "name a `change`"),
        (with("by = \"3 dB\"", "by = \"-3 dB\""), "`by` cannot be -3 dB", "6 dB"),
        (
            with("boundary = \"ceiling\", build_up", "boundary = \"cieling\", build_up"),
            "no boundary `cieling`",
            "did you mean `ceiling`?",
        ),
    ];
    for (text, what, help) in cases {
        let said = remedy(&text, &[]);
        assert_eq!(said.code, 2, "{what}: {}", said.out);
        // Messages are wrapped to the width of the page.
        let err = said.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            err.contains("[wythe.toml:") && err.contains(what.trim_start_matches("wythe.toml:")),
            "{what}: {err}"
        );
        assert!(err.contains(help), "{what}: {err}");
    }
}

#[test]
fn prices_of_the_project_price_a_change_that_states_none() {
    let record = remedy(HOUSE, &["--json"]).json();
    let boards = record["single_changes"]
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["id"] == "boards")
        .unwrap()
        .clone();
    // 4.0 × 2.7 m less a door of 1.845 m² is 8.955 m², 15 % waste: 3.18 sheets a layer, 7 in all;
    // 21 screws a sheet and layer, 67 of 50 and 67 of 65 mm; edges 13.4 + 5.9 m, two layers, 10 %:
    // 42.5 m of bead, 1.85 tubes, so 2; 9 hours of 30.
    assert_eq!(boards["cost"], 7.0 * 20.0 + 134.0 * 0.1 + 2.0 * 15.0 + 9.0 * 30.0);
    assert_eq!(boards["takes"]["skill"], "trade");
    assert_eq!(boards["takes"]["cost_invented"], false);
    // A table of one's own goes before that of the project.
    let folder = house(HOUSE);
    let csv = folder.write("mine.csv", "item,unit,price\ngypsum board 15.9 mm,sheets,30\n");
    let own = on("remedy", folder.path(), &["--json", "--prices", csv.to_str().unwrap()]).json();
    let dearer = own["single_changes"].as_array().unwrap();
    let dearer = dearer.iter().find(|c| c["id"] == "boards").unwrap();
    assert_eq!(dearer["cost"].as_f64().unwrap() - boards["cost"].as_f64().unwrap(), 70.0);
    let wrong = folder.write("wrong.csv", "item,unit,price\ngypsum board,sheet,30\n");
    let said = on("remedy", folder.path(), &["--prices", wrong.to_str().unwrap()]);
    assert!(said.code == 2 && said.err.contains("line 2: `sheet` is no unit"), "{}", said.err);
    // Without the price of a screw nobody knows what it costs, and that is said.
    let none = with("item = \"screws\"", "item = \"nails\"");
    let said = remedy(&none, &[]);
    assert!(
        said.out.contains("no price is on file for two more boards on the bedroom wall"),
        "{}",
        said.out
    );
}

#[test]
fn limits_of_the_project_and_of_the_command_are_kept() {
    let free = remedy(HOUSE, &["--json"]).json();
    assert_eq!(free["cheapest"]["met"], true);
    let ids = |record: &serde_json::Value| -> Vec<String> {
        let all = record["cheapest"]["choices"].as_array().unwrap();
        all.iter().map(|c| c["id"].as_str().unwrap().to_owned()).collect()
    };
    assert!(ids(&free).contains(&"ceiling".to_owned()), "{}", free["cheapest"]);
    let codes = |record: &serde_json::Value| -> Vec<String> {
        let all = record["remarks"].as_array().unwrap();
        all.iter().map(|r| r["code"].as_str().unwrap().to_owned()).collect()
    };
    // Two boards of 15.9 mm at their planning weight are 26.9 kg/m².
    let cases: [(&[&str], &str); 4] = [
        (&["--added-mass", "20 kg/m2"], "remedy::too-heavy"),
        (&["--thickness", "20 mm"], "remedy::too-thick"),
        (&["--height", "2.69 m"], "remedy::too-low"),
        (&["--reversible"], "remedy::not-reversible"),
    ];
    for (limit, code) in cases {
        let mut args = limit.to_vec();
        args.push("--json");
        let record = remedy(HOUSE, &args).json();
        assert!(codes(&record).iter().any(|c| c == code), "{limit:?}: {:?}", codes(&record));
        assert!(!ids(&record).contains(&"ceiling".to_owned()), "{limit:?}");
        assert_eq!(record["cheapest"]["met"], false, "{limit:?}");
    }
    let said = remedy(HOUSE, &["--reversible"]);
    assert!(said.out.contains("What the nearest set reaches"), "{}", said.out);
    // Where nothing is enough, the pair and the way in between are named.
    assert!(said.out.contains("in Study, from Loud room, stays"), "{}", said.out);
    // By octaves also the way.
    let by_octaves = HOUSE.replace("criterion = \"47 dBA\"", "criterion = \"NR 10\"");
    let flat = remedy(&by_octaves, &[]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("comes through ceiling of the loud room"), "{flat}");
}

#[test]
fn a_target_at_other_hours_keeps_its_row() {
    let text = with(
        "action = [{ do = \"quieter\", room = \"loud\", by = \"3 dB\" }]",
        "action = [{ do = \"earlier\", room = \"loud\", hours = \"15:00-19:00\" }]",
    )
    .replace("47 dBA", "51 dBA");
    let said = remedy(&text, &[]);
    assert_eq!(said.code, 0, "{}", said.err);
    let row =
        said.out.lines().find(|l| l.contains("not at these hours")).expect("the row is there");
    assert!(row.contains("Bedroom") && row.contains("50 dBA"), "{row}");
    let flat = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("to play in Loud room only from 15:00 to 19:00"), "{flat}");
    let record = remedy(&text, &["--json"]).json();
    assert_eq!(record["cheapest"]["not_at_these_hours"][0]["room"], "bedroom");
    assert_eq!(record["cheapest"]["met"], true);
}

#[test]
fn one_change_against_another_by_band_and_by_money() {
    let said = remedy(HOUSE, &["--compare", "boards", "seals"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let place = |word: &str| said.out.find(word).unwrap_or_else(|| panic!("{word}: {}", said.out));
    assert!(place("One against the other") < place("How much quieter than now"));
    assert!(place("1000 Hz") < place("The cheapest set"), "what was asked comes first");
    let record = remedy(HOUSE, &["--json", "--compare", "boards", "seals"]).json();
    let room = &record["compared"]["rooms"][0];
    for band in ["63", "500", "3150"] {
        let level = |s: &str| room[s]["level_db"][band].as_f64().unwrap();
        let by = room["a_quieter_by_db"][band].as_f64().unwrap();
        assert!((level("b") - level("a") - by).abs() < 0.02, "{band}");
    }
    // The door decides the high bands, so its seals do; the boards do in the bass if at all.
    assert!(room["a_quieter_by_db"]["3150"].as_f64().unwrap() < -3.0, "{room}");
    let none = remedy(HOUSE, &["--compare", "boards", "magic"]);
    assert!(none.code == 2 && none.err.contains("there is no change `magic`"), "{}", none.err);
}

#[test]
fn a_substitution_a_sequence_a_quote_and_a_frontier() {
    let said = remedy(HOUSE, &["--substitute", "gypsum board=6 kg/m2"]);
    assert!(said.out.starts_with("With gypsum board of 6.0 kg/m² a sheet"), "{}", said.out);
    assert!(said.out.contains("no longer meets every target") || said.out.contains("still meets"));
    for wrong in ["gypsum board", "gypsum board=6", "gypsum board=6 kg", "gypsum board=x kg/m2"] {
        let said = remedy(HOUSE, &["--substitute", wrong]);
        assert!(said.code == 2 && said.err.contains("8.5 kg/m2"), "{wrong}: {}", said.err);
    }
    let said = remedy(HOUSE, &["--substitute", "brick=6 kg/m2"]);
    assert!(said.code == 2 && said.err.contains("gypsum board"), "{}", said.err);
    let said = remedy(HOUSE, &["--sequence"]);
    assert!(said.out.contains("hold until:") && said.out.contains("photo:"), "{}", said.out);
    let said = remedy(HOUSE, &["--quote"]);
    assert!(said.out.starts_with("Quote sheet"), "{}", said.out);
    // The seals state no hours, so the sum is not the whole.
    assert!(said.out.contains("and more"), "{}", said.out);
    let said = remedy(HOUSE, &["--frontier", "--json"]).json();
    let points = said["frontier"]["points"].as_array().unwrap();
    assert!(points.len() >= 3, "{points:?}");
    for pair in points.windows(2) {
        for key in ["cost", "worst_margin_db"] {
            assert!(pair[0][key].as_f64() < pair[1][key].as_f64(), "{key}");
        }
    }
    let none = remedy(HOUSE, &["--probability", "40"]);
    assert!(none.code == 2 && none.err.contains("give 0.5 to 0.95"), "{}", none.err);
    let poor = remedy(HOUSE, &["--budget", "150", "--json"]).json();
    assert!(poor["cheapest"]["cost"].as_f64().unwrap() <= 150.0);
}
