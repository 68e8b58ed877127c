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

/// Quantity of the one line whose name begins so.
fn quantity(list: &wythe_remedy::Buying, name: &str) -> f64 {
    let found: Vec<_> = list.items.iter().filter(|i| i.item.starts_with(name)).collect();
    assert_eq!(found.len(), 1, "{name}: {:#?}", list.items);
    found[0].quantity
}

/// A wall of 5.0 × 2.7 m with a door of 900 × 2050 mm gets two more boards of 15.9 mm on side a,
/// the second on a damping layer; counted by hand. Rules: common practice, no source.
#[test]
fn one_wall_counted_by_hand() {
    let mut b: Building = rooms::pair();
    b.boundaries[0].area = SquareMetre(13.5);
    let more = vec![
        rooms::gypsum(1),
        rooms::board("gypsum board", 15.9, 1, wythe_partition::Joint::DampingLayer),
        rooms::gypsum(1),
        rooms::cavity(90.0, 90.0, Some(wythe_partition::FrameKind::TimberStuds)),
        rooms::gypsum(1),
    ];
    b.build_ups.push(rooms::build_up("more", more));
    let door =
        wythe_partition::Seal { kind: wythe_partition::SealKind::Compression, gap: Metre(0.002) };
    let drop = wythe_partition::Seal { kind: wythe_partition::SealKind::DropSeal, ..door };
    let rebuild = Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(1) };
    let seal = Action::Seal {
        opening: "door".into(),
        head: Some(door),
        jambs: Some(door),
        sill: Some(drop),
    };
    b.changes.push(rooms::change("boards", "wall", None, vec![rebuild]));
    b.changes.push(rooms::change("seals", "door", None, vec![seal]));
    b.changes[0].hours = Some(9.0);
    b.changes[1].hours = Some(3.5);
    let list = buying(&b, &[0, 1], &Counting::default(), &PriceList::default());
    // Net face 13.5 − 0.9 · 2.05 = 11.655 m². With the door 15 % waste: 13.403 m² a layer, over
    // sheets of 1.2 · 2.7 = 3.24 m²: 4.137 sheets a layer, 8.274 together, so 9.
    assert_eq!(quantity(&list, "gypsum board 15.9 mm, 1200 × 2700 mm"), 9.0);
    // Screws of a sheet: studs at 600 mm make 3 columns of 1 + ⌊2.7/0.4⌋ = 7, so 21, and 86.9 a
    // layer. Old board 15.9 and new 15.9 and 16 mm of hold are 47.8: screws of 50 mm; with the
    // next board 63.7: 65 mm.
    assert_eq!(quantity(&list, "board screws 50 mm"), 87.0);
    assert_eq!(quantity(&list, "board screws 65 mm"), 87.0);
    assert!(list.items.iter().all(|i| i.item != "board screws 32 mm"));
    // One joint of the two is damped: 13.403 m², to the next tenth.
    assert_eq!(quantity(&list, "damping compound"), 13.5);
    // A bead of 6 × 6 mm out of 825 mL is 22.9 m. Edges 2 · (5.0 + 2.7) + 2 · (0.9 + 2.05) =
    // 21.3 m a layer, 10 % waste, two layers: 46.86 m, 2.045 tubes, so 3.
    assert_eq!(quantity(&list, "acoustic sealant, 825 mL"), 3.0);
    // Head 0.9 m and two jambs of 2.05 m.
    assert_eq!(quantity(&list, "compression seal"), 5.0);
    assert_eq!(quantity(&list, "automatic drop seal, 900 mm"), 1.0);
    assert_eq!(list.hours, 12.5);
    assert!(list.without_hours.is_empty() && list.remarks.is_empty(), "{:?}", list.remarks);
}

/// A ceiling of 5.0 × 4.0 m comes down and goes up again on clips: two boards of 15.9 mm, fill of
/// 150 mm. Counted by hand. Rules: common practice, no source.
#[test]
fn one_ceiling_on_clips_counted_by_hand() {
    let mut b: Building = rooms::pair();
    b.rooms = vec![rooms::room("below", 0), rooms::room("above", 1)];
    let sides = |x: f64, y: f64| {
        let p = |x, y| wythe_building::outline::Point { x: Metre(x), y: Metre(y) };
        vec![p(0.0, 0.0), p(x, 0.0), p(x, y), p(0.0, y)]
    };
    b.rooms[0].outline = Some(wythe_building::outline::Outline::new(sides(5.0, 4.0)));
    let floor = |id: &str, boards: u32, wool: f64, mount| {
        let mut cavity = rooms::cavity(220.0, wool, Some(wythe_partition::FrameKind::TimberStuds));
        if let wythe_partition::Layer::Cavity(c) = &mut cavity {
            c.frame.as_mut().unwrap().mount = mount;
        }
        let deck = rooms::board("particleboard", 22.0, 1, wythe_partition::Joint::Screwed);
        rooms::build_up(id, vec![rooms::gypsum(boards), cavity, deck])
    };
    let clips = wythe_partition::Mount {
        kind: wythe_partition::MountKind::IsolationClips,
        side: wythe_partition::Side::A,
    };
    b.build_ups = vec![floor("as it is", 1, 0.0, None), floor("on clips", 2, 150.0, Some(clips))];
    b.boundaries =
        vec![rooms::boundary("ceiling", [0, 1], wythe_building::BoundaryKind::Floor, 0, vec![])];
    b.boundaries[0].area = SquareMetre(20.0);
    let rebuild = Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(1) };
    b.changes.push(rooms::change("clips", "ceiling", None, vec![rebuild]));
    let list = buying(&b, &[0], &Counting::default(), &PriceList::default());
    // 20 m² · 1.1 = 22 m² a layer over sheets of 1.2 · 2.4 = 2.88 m²: 7.639, two layers 15.28.
    assert_eq!(quantity(&list, "gypsum board 15.9 mm, 1200 × 2400 mm"), 16.0);
    assert_eq!(quantity(&list, "mineral wool, 150 mm deep"), 22.0);
    // Channel at 400 mm: 20/0.4 = 50 m and 10 %.
    assert_eq!(quantity(&list, "furring channel"), 55.0);
    // By load: two boards at the planning weight of 0.55 psf per 1/8 in (ASCE 7-05 Table C3-1) are
    // 2 · 13.44 = 26.9 kg/m², 538 kg over clips of 12 kg: 45. By spacing, 50 m of channel at most
    // 1.2 m apart: 42. The greater counts.
    assert_eq!(quantity(&list, "isolation clips"), 45.0);
    // Into channel at 400 mm, every 300 mm: 4 columns of 9, so 36 in each of 7.639 sheets.
    assert_eq!(quantity(&list, "screws into channel for 15.9 mm"), 275.0);
    assert_eq!(quantity(&list, "screws into channel for 31.8 mm"), 275.0);
    // Edges 18 m, two layers, 10 %: 39.6 m of bead, 1.73 tubes.
    assert_eq!(quantity(&list, "acoustic sealant, 825 mL"), 2.0);
    assert!(list.remarks.iter().any(|r| r.code == "remedy::comes-out"), "{:?}", list.remarks);
    assert!(list.without_hours == [0], "nobody stated hours");
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
