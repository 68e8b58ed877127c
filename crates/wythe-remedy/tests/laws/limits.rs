//! Plans keep what was stated, and say why something is not offered.

use wythe_bands::{Metre, SurfaceMass};
use wythe_building::{Action, BoundaryIndex, BoundaryKind, BuildUpIndex, Building};
use wythe_partition::FrameKind;
use wythe_remedy::{
    PriceError, PriceList, RemedyError, SubstituteError, Wish, apply, cheapest, cheapest_for,
    clash, frontier, limit_checks, on_offer, outcome, remedies, sequence, substitute,
};
use wythe_transmission::Cache;

use crate::rooms::*;

/// A room under another; the ceiling can get one board or three.
fn under_a_floor() -> Building {
    let mut b = pair();
    b.rooms = vec![room("loud", 0), room("above", 1)];
    let floor = |id: &str, boards: u32| {
        build_up(
            id,
            vec![
                gypsum(boards),
                cavity(220.0, 100.0, Some(FrameKind::TimberStuds)),
                board("particleboard", 22.0, 1, wythe_partition::Joint::Screwed),
            ],
        )
    };
    b.build_ups = vec![floor("as it is", 1), floor("one more", 2), floor("three more", 4)];
    b.boundaries = vec![boundary("ceiling", [0, 1], BoundaryKind::Floor, 0, vec![])];
    let rebuild = |to: usize| {
        vec![Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(to) }]
    };
    b.changes = vec![
        change("one board", "ceiling", Some(100.0), rebuild(1)),
        change("three boards", "ceiling", Some(250.0), rebuild(2)),
    ];
    let before = outcome(&b, &mut Cache::default(), false).unwrap();
    let with_three = outcome(&apply(&b, &[1]), &mut Cache::default(), false).unwrap();
    let level = |o: &wythe_remedy::Outcome| o.judged[0].level_a.unwrap().0;
    // A target that only three boards meet.
    b.targets = vec![target(1, 0.1 + level(&with_three))];
    assert!(level(&before) > level(&with_three) + 1.0);
    b
}

#[test]
fn a_set_heavier_than_stated_is_not_offered_and_the_reason_is_said() {
    let mut b = under_a_floor();
    let free = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert_eq!(free.changes, [1]);
    assert!(free.outcome.met());
    // Three boards of 15.9 mm at the weight engineers plan with are 40.3 kg/m² (ASCE 7-05 Table
    // C3-1: 0.55 psf per 1/8 in).
    let checks = limit_checks(&b, &[1], 250.0);
    let load = checks.iter().find(|c| c.kind == "dead load").unwrap();
    assert!(load.value.starts_with("40.3 kg/m²") && load.stop, "{load:?}");
    b.limits.added_mass = Some(SurfaceMass(20.0));
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert!(!plan.outcome.met() && !plan.changes.contains(&1), "{plan:?}");
    let (offered, why) = on_offer(&b);
    assert_eq!(offered, [0]);
    assert!(why[0].text.contains("40 kg/m²") && why[0].text.contains("engineer"), "{why:?}");
    let all = remedies(&b, None).unwrap();
    assert!(all.remarks.iter().any(|r| r.code == "remedy::too-heavy"));
    // One board is under the figure; even so the word is to ask.
    let below = limit_checks(&b, &[0], 100.0);
    let load = below.iter().find(|c| c.kind == "dead load").unwrap();
    assert!(!load.stop && load.flag.contains("ask an engineer"), "{load:?}");
}

#[test]
fn weights_of_two_changes_on_one_floor_add_up() {
    let mut b = under_a_floor();
    // A wall upstairs stands on the same floor.
    b.rooms.push(room("next", 1));
    b.build_ups.push(stud_wall("light", 1, 1));
    b.build_ups.push(stud_wall("heavy", 3, 3));
    b.boundaries.push(boundary("upstairs wall", [1, 2], BoundaryKind::Wall, 3, vec![]));
    let heavy = Action::Rebuild { boundary: BoundaryIndex(1), build_up: BuildUpIndex(4) };
    b.changes.push(change("heavy wall", "upstairs wall", Some(10.0), vec![heavy]));
    let added = |set: &[usize]| -> f64 {
        let checks = limit_checks(&b, set, 0.0);
        let load = checks.iter().find(|c| c.kind == "dead load").unwrap();
        load.value.split(' ').next().unwrap().parse().unwrap()
    };
    assert!((added(&[0]) + added(&[2]) - added(&[0, 2])).abs() < 0.11);
    b.limits.added_mass = Some(SurfaceMass(60.0));
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    // 13.4 and 53.8 kg/m² are each below 60, together above.
    assert!(!(plan.changes.contains(&0) && plan.changes.contains(&2)), "{plan:?}");
}

#[test]
fn thickness_and_taking_back_are_kept() {
    let mut b = under_a_floor();
    b.limits.thickness = Some(Metre(0.030));
    assert_eq!(on_offer(&b).0, [0]);
    assert!(on_offer(&b).1[0].text.contains("48 mm"), "{:?}", on_offer(&b).1);
    b.limits.thickness = None;
    b.limits.reversible_only = true;
    assert!(on_offer(&b).0.is_empty());
    b.changes[0].reversible = true;
    assert_eq!(on_offer(&b).0, [0]);
}

#[test]
fn a_wish_that_is_none_is_refused() {
    let b = under_a_floor();
    let wish = |w| cheapest_for(&b, &mut Cache::default(), &w);
    for p in [0.0, 0.49, 0.96, f64::NAN, -1.0] {
        let found = wish(Wish { probability: Some(p), ..Wish::default() });
        assert!(matches!(found, Err(RemedyError::Probability(_))), "{p}");
    }
    for m in [f64::NAN, f64::INFINITY, -101.0] {
        let found = wish(Wish { margin: m, ..Wish::default() });
        assert!(matches!(found, Err(RemedyError::Margin(_))), "{m}");
    }
}

#[test]
fn lighter_boards_gain_less() {
    let b = under_a_floor();
    let margin = |b: &Building| {
        outcome(&apply(b, &[1]), &mut Cache::default(), false).unwrap().worst_margin().unwrap()
    };
    let ordered = margin(&b);
    let light = substitute(&b, &[1], "gypsum board", SurfaceMass(7.0)).unwrap();
    assert!(margin(&light) < ordered - 0.3, "{} then {}", ordered, margin(&light));
    // The board that hangs there keeps its weight: as it is, nothing has changed.
    let now = |b: &Building| outcome(b, &mut Cache::default(), false).unwrap().worst_margin();
    assert_eq!(now(&light), now(&b));
    let wrong = substitute(&b, &[1], "brick", SurfaceMass(7.0));
    assert!(matches!(wrong, Err(SubstituteError::NotUsed(..))));
    let wrong = substitute(&b, &[1], "gypsum board", SurfaceMass(f64::NAN));
    assert!(matches!(wrong, Err(SubstituteError::Mass(_))));
}

#[test]
fn a_frontier_rises_in_cost_and_in_margin() {
    let b = under_a_floor();
    let edge = frontier(&b, &mut Cache::default(), None).unwrap();
    assert!(edge.complete);
    assert_eq!(edge.points.len(), 3, "as it is, one board, three boards: {edge:?}");
    for pair in edge.points.windows(2) {
        assert!(pair[1].plan.cost > pair[0].plan.cost);
        assert!(pair[1].worst_margin > pair[0].worst_margin);
    }
    let poor = frontier(&b, &mut Cache::default(), Some(99.0)).unwrap();
    assert_eq!(poor.points.len(), 1);
}

#[test]
fn the_work_begins_with_an_engineer_where_weight_is_added() {
    let b = under_a_floor();
    let stages = sequence(&b, &[1]);
    assert!(stages[0].tasks.iter().any(|t| t.contains("engineer")), "{stages:?}");
    assert!(stages.iter().any(|s| s.title.starts_with("boards") && !s.photograph.is_empty()));
    assert!(sequence(&b, &[]).is_empty());
    assert!(sequence(&b, &[77]).is_empty());
}

#[test]
fn prices_come_from_the_table_or_not_at_all() {
    let table = PriceList::read(
        "unit,item,price,invented\nsheets,gypsum board,20,yes\nsheets,gypsum board 15.9 mm,24,yes\n\
         m2,\"damping compound, between\",11,no\n",
    )
    .unwrap();
    let of = |item, unit| table.of(item, unit).map(|p| p.price);
    assert_eq!(of("gypsum board 15.9 mm, 1200 × 2400 mm", "sheets"), Some(24.0));
    assert_eq!(of("gypsum board 12.5 mm, 1200 × 2400 mm", "sheets"), Some(20.0));
    assert_eq!(of("gypsum board 12.5 mm", "m²"), None);
    assert_eq!(of("acoustic sealant", "tubes"), None);
    assert!(matches!(PriceList::read("what,ever\n"), Err(PriceError::Head(_))));
    assert!(matches!(PriceList::read(""), Err(PriceError::Head(_))));
    for bad in ["x,sheets,-1", "x,sheets,NaN", "x,,3", ",sheets,3", "x,sheets"] {
        let text = format!("item,unit,price\n{bad}\n");
        assert!(matches!(PriceList::read(&text), Err(PriceError::Row { line: 2, .. })), "{bad}");
    }
}

#[test]
fn a_room_keeps_the_height_that_was_stated() {
    let mut b = under_a_floor();
    // The loud room is 2.7 m high; one board takes 15.9 mm of it, three take 47.7 mm.
    b.limits.height = Some(Metre(2.67));
    let (offered, why) = on_offer(&b);
    assert_eq!(offered, [0]);
    assert!(why[0].code == "remedy::too-low" && why[0].text.contains("2.65 m"), "{why:?}");
    assert!(!cheapest(&b, &mut Cache::default(), None).unwrap().outcome.met());
    // Each alone keeps it, both together do not: a ceiling that comes down, a floor that comes up.
    b.rooms.push(room("below", -1));
    b.build_ups.push(build_up(
        "raised",
        vec![
            gypsum(1),
            cavity(220.0, 100.0, Some(FrameKind::TimberStuds)),
            board("particleboard", 22.0, 2, wythe_partition::Joint::Screwed),
        ],
    ));
    b.boundaries.push(boundary("floor", [2, 0], BoundaryKind::Floor, 0, vec![]));
    let raise = Action::Rebuild { boundary: BoundaryIndex(1), build_up: BuildUpIndex(3) };
    b.changes.push(change("raised floor", "floor", Some(90.0), vec![raise]));
    let level = |set: &[usize], room: usize| {
        let mut b = b.clone();
        b.targets = vec![target(room, 45.0)];
        let out = outcome(&apply(&b, set), &mut Cache::default(), false).unwrap();
        out.judged[0].level_a.unwrap().0
    };
    let asked = vec![target(1, level(&[0, 2], 1) + 0.1), target(2, level(&[0, 2], 2) + 0.1)];
    assert!(level(&[], 1) > asked_level(&asked[0]) && level(&[], 2) > asked_level(&asked[1]));
    b.targets = asked;
    let free = cheapest(
        &Building { limits: Default::default(), ..b.clone() },
        &mut Cache::default(),
        None,
    );
    assert_eq!(free.unwrap().changes, [0, 2]);
    assert_eq!(on_offer(&b).0, [0, 2]);
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert!(!plan.outcome.met() && plan.changes.len() < 2, "{plan:?}");
}

fn asked_level(target: &wythe_building::Target) -> f64 {
    match &target.criterion {
        wythe_building::Criterion::LevelA(level) => level.0,
        _ => f64::NAN,
    }
}

#[test]
fn what_excludes_each_other_is_never_in_one_plan() {
    let mut b = under_a_floor();
    // Two elements, so that nothing but the statement keeps them apart.
    let quieter = |db| {
        let room = wythe_building::RoomIndex(0);
        vec![Action::Quieter { room, by: wythe_bands::LevelDifference(db) }]
    };
    b.changes = vec![
        change("rods", "sticks", Some(10.0), quieter(5.0)),
        change("pads", "heads", Some(10.0), quieter(5.0)),
        change("dear", "room", Some(500.0), quieter(9.0)),
    ];
    let now = outcome(&b, &mut Cache::default(), false).unwrap().judged[0].level_a.unwrap().0;
    b.targets = vec![target(1, now - 8.0)];
    assert_eq!(cheapest(&b, &mut Cache::default(), None).unwrap().changes, [0, 1]);
    b.changes[1].not_with = vec!["rods".into()];
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert_eq!(plan.changes, [2]);
    assert!(plan.proven_optimal);
}

#[test]
fn a_wall_is_rebuilt_once() {
    let mut b = under_a_floor();
    b.changes[1].element = "ceiling from above".into();
    let limit = asked_level(&b.targets[0]);
    // Both together would be taken for the last of them.
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert_eq!(plan.changes, [1], "{limit}: {plan:?}");
    let said = clash(&b, &[0, 1]).unwrap();
    assert!(said.contains("both rebuild `ceiling`"), "{said}");
    assert!(clash(&b, &[0]).is_none());
}

#[test]
fn a_strike_that_hits_nothing_is_said() {
    let mut b = under_a_floor();
    let strike = |words: &str| wythe_building::Strike {
        change: None,
        element: None,
        words: Some(words.into()),
        why: None,
    };
    // On offer; thought of by the program; neither.
    b.strikes =
        vec![strike("three boards"), strike("on isolation clips"), strike("on isolatoin clips")];
    let all = remedies(&b, None).unwrap();
    let idle: Vec<_> = all.remarks.iter().filter(|r| r.code == "remedy::strikes-nothing").collect();
    assert_eq!(idle.len(), 1, "{idle:?}");
    assert!(idle[0].text.contains("isolatoin"), "{idle:?}");
    assert!(all.remarks.iter().any(|r| r.code == "remedy::struck-out"));
}

#[test]
fn no_plan_makes_a_leaf_in_the_middle_without_a_word() {
    let mut b = pair();
    b.build_ups = vec![split_wall("as it is", 2, 2), lined(), split_wall("one more board", 3, 2)];
    b.boundaries[0].openings.clear();
    let rebuild = |to: usize| {
        vec![Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(to) }]
    };
    b.changes = vec![
        change("lining", "wall", Some(50.0), rebuild(1)),
        change("board", "wall", Some(200.0), rebuild(2)),
    ];
    let level = |set: &[usize]| {
        let out = outcome(&apply(&b, set), &mut Cache::default(), false).unwrap();
        out.judged[0].level_a.unwrap().0
    };
    let (limit, now) = (level(&[0]).max(level(&[1])) + 0.1, level(&[]));
    assert!(now > limit, "something has to be done");
    b.targets = vec![target(1, limit)];
    let all = remedies(&b, None).unwrap();
    // Cheap and enough by A: it may be the answer, and then what it costs in the bass is said.
    assert_eq!(all.plan.changes, [0]);
    let said = all.remarks.iter().find(|r| r.code == "remedy::third-leaf").unwrap();
    assert!(said.text.contains("leaf in the middle") && said.text.contains("Hz"), "{}", said.text);
    b.changes.remove(0);
    let without = remedies(&b, None).unwrap();
    assert!(without.remarks.iter().all(|r| r.code != "remedy::third-leaf"));
}
