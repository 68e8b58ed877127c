//! Sheets counted from the geometry of a wall, against computed rows.
//! Source of the rule: common practice, no source; order = ⌈area · layers · (1 + waste)/sheet⌉.

use wythe_bands::{Metre, SquareMetre};
use wythe_building::{Action, BoundaryIndex, BuildUpIndex, Building};
use wythe_findings::caution::take_off::Waste;
use wythe_remedy::{Counting, PriceList, Trade, buying};

#[path = "../laws/rooms.rs"]
mod rooms;

const TABLE: &str = include_str!("../data/criteria_takeoff.csv");

/// Number after a word in a case such as `area 53.2 m2; layers 2`.
fn after(case: &str, word: &str) -> f64 {
    case.split(';')
        .find_map(|part| part.trim().strip_prefix(word))
        .and_then(|rest| rest.split_whitespace().next())
        .and_then(|n| n.parse().ok())
        .unwrap()
}

#[test]
fn sheets_of_a_plan_are_the_tabulated_ones() {
    let mut rows = 0;
    for row in TABLE.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        assert_eq!(cells[1], "sheets");
        let (case, expected): (&str, f64) = (cells[2], cells[3].parse().unwrap());
        let layers = after(case, "layers") as u32;
        let mut building: Building = rooms::pair();
        building.boundaries[0].area = SquareMetre(after(case, "area"));
        building.boundaries[0].openings.clear();
        building.build_ups.push(rooms::stud_wall("more", 1 + layers, 1));
        building.changes.push(rooms::change(
            "more",
            "wall",
            Some(1.0),
            vec![Action::Rebuild {
                boundary: BoundaryIndex(0),
                build_up: BuildUpIndex(building.build_ups.len() - 1),
            }],
        ));
        let counting = Counting {
            sheet: Some([Metre(1.2), Metre(after(case, "sheet") / 1.2)]),
            waste: Some(Waste(after(case, "waste"))),
            ..Counting::default()
        };
        let list = buying(&building, &[0], &counting, &PriceList::default());
        let sheets: f64 = list
            .items
            .iter()
            .filter(|i| i.trade == Trade::Boarding && i.unit == "sheets")
            .map(|i| i.quantity)
            .sum();
        assert_eq!(sheets, expected, "{case}");
        rows += 1;
    }
    assert_eq!(rows, 3);
}

#[test]
fn screws_are_as_long_as_the_layers_ask() {
    // 32 mm for one layer of 15.9, 50 mm for two, 65 mm for three (common practice, no source).
    let mut building = rooms::pair();
    building.boundaries[0].openings.clear();
    building.build_ups.push(rooms::stud_wall("three", 3, 1));
    building.changes.push(rooms::change(
        "three",
        "wall",
        None,
        vec![Action::Rebuild {
            boundary: BoundaryIndex(0),
            build_up: BuildUpIndex(building.build_ups.len() - 1),
        }],
    ));
    let list = buying(&building, &[0], &Counting::default(), &PriceList::default());
    let has = |name: &str| list.items.iter().any(|i| i.item == name);
    assert!(has("board screws 50 mm") && has("board screws 65 mm"), "{:#?}", list.items);
    assert!(!has("board screws 32 mm"), "the first layer hangs already");
    assert!(list.items.iter().all(|i| i.cost.is_none()), "nobody gave a price");
}
