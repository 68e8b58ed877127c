//! Playing earlier, playing quieter, and a second door: changes of another kind than boards.

use wythe_bands::{Level, LevelDifference, Metre};
use wythe_building::{Action, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, Hours};
use wythe_remedy::{
    Wish, apply, cheapest, cheapest_for, frontier, headline, outcome, remedies, single_changes,
};
use wythe_transmission::Cache;

use crate::rooms::*;

const NIGHT: Hours = Hours { from: 22 * 60, to: 7 * 60 };
const EVENING: Hours = Hours { from: 20 * 60, to: 23 * 60 };
const AFTERNOON: Hours = Hours { from: 15 * 60, to: 19 * 60 };

/// [`pair`] that plays in the evening beside a room that is asked for quiet at night; thicker
/// boards and playing in the afternoon are on offer.
fn evening() -> Building {
    let mut b = pair();
    b.sources[0].hours = Some(EVENING);
    b.targets[0].hours = Some(NIGHT);
    b.build_ups.push(stud_wall("more", 3, 3));
    let boards = Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(1) };
    let room = b.sources[0].room;
    let earlier = Action::Earlier { room, hours: AFTERNOON };
    b.changes = vec![
        change("boards", "wall", Some(900.0), vec![boards]),
        change("afternoon", "hours", Some(40.0), vec![earlier]),
    ];
    b
}

fn play(b: &Building, set: &[usize]) -> wythe_remedy::Outcome {
    outcome(&apply(b, set), &mut Cache::default(), true).unwrap()
}

#[test]
fn a_target_of_the_night_holds_nobody_who_plays_in_the_afternoon() {
    let b = evening();
    let then = play(&b, &[1]);
    assert!(then.judged.is_empty() && then.at_other_hours == 1 && then.met());
    for probability in [None, Some(0.95)] {
        let wish = Wish { probability, ..Wish::default() };
        let plan = cheapest_for(&b, &mut Cache::default(), &wish).unwrap();
        assert_eq!(plan.changes, [1], "{probability:?}");
        assert!(plan.proven_optimal && plan.outcome.met());
    }
    let all = remedies(&b, None).unwrap();
    let said = headline(&b, &all);
    assert!(said.contains("to play in loud only from 15:00 to 19:00"), "{said}");
    assert!(all.order[0].worst_margin.is_infinite(), "{:?}", all.order);
    let edge = frontier(&b, &mut Cache::default(), None).unwrap();
    assert!(edge.complete && edge.points.last().unwrap().plan.changes == [1], "{edge:?}");
    assert_eq!(single_changes(&b, &mut Cache::default()).unwrap()[0].change, 1);
}

#[test]
fn nothing_to_buy_where_nobody_plays_in_the_hours_of_a_target() {
    let mut b = evening();
    b.sources[0].hours = Some(AFTERNOON);
    let all = remedies(&b, None).unwrap();
    assert!(all.plan.changes.is_empty() && all.plan.outcome.met());
    let said = headline(&b, &all);
    assert!(said.starts_with("Nothing is played in the hours of any target"), "{said}");
}

#[test]
fn hours_that_free_one_room_leave_the_other_to_be_met() {
    let mut b = evening();
    b.rooms.push(room("other", 0));
    b.boundaries.push(boundary("other wall", [0, 2], BoundaryKind::Wall, 0, vec![]));
    let level = play(&b, &[]).judged[0].level_a.unwrap();
    assert!(level.0 > 45.0);
    b.targets.push(target(2, 20.0));
    let bare = play(&b, &[]).judged[1].level_a.unwrap();
    b.targets[1] = target(2, bare.0 - 2.0);
    let boards = Action::Rebuild { boundary: BoundaryIndex(1), build_up: BuildUpIndex(1) };
    b.changes.push(change("other boards", "other wall", Some(300.0), vec![boards]));
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert_eq!(plan.changes, [1, 2], "{plan:?}");
    assert!(plan.outcome.met() && plan.outcome.at_other_hours == 1);
}

#[test]
fn hours_in_which_somebody_else_is_asked_are_no_way_out() {
    let mut b = evening();
    // A school next door, by day; the level can never be met there.
    b.rooms.push(room("school", 0));
    b.boundaries.push(boundary("thin wall", [0, 2], BoundaryKind::Wall, 0, vec![]));
    let mut day = target(2, 10.0);
    day.hours = Some(Hours { from: 8 * 60, to: 16 * 60 });
    b.targets.push(day);
    let plan = cheapest(&b, &mut Cache::default(), None).unwrap();
    assert!(!plan.changes.contains(&1) || !plan.outcome.met(), "{plan:?}");
    assert!(!play(&b, &[1]).met(), "what was freed at night is asked by day");
}

#[test]
fn playing_so_much_quieter_is_so_much_quieter_everywhere() {
    let mut b = pair();
    let room = b.sources[0].room;
    let quieter = |db| vec![Action::Quieter { room, by: LevelDifference(db) }];
    b.changes = vec![
        change("rods", "playing", Some(60.0), quieter(8.0)),
        change("pads", "playing", Some(180.0), quieter(12.0)),
    ];
    let level = |set: &[usize]| play(&b, set).judged[0].level_a.unwrap().0;
    assert!((level(&[]) - level(&[0]) - 8.0).abs() < 1e-9);
    assert!((level(&[]) - level(&[1]) - 12.0).abs() < 1e-9);
    // The cheaper one as long as it is enough, then the other.
    for (limit, wanted) in [(level(&[0]) + 0.1, 0), (level(&[1]) + 0.1, 1)] {
        let mut asked = b.clone();
        asked.targets = vec![target(1, limit)];
        let all = remedies(&asked, None).unwrap();
        assert_eq!(all.plan.changes, [wanted]);
        let by = if wanted == 0 { "to play 8 dB quieter in loud" } else { "12 dB quieter" };
        assert!(headline(&asked, &all).contains(by), "{}", headline(&asked, &all));
    }
}

/// A door in a wall better than it: its seals, another leaf, a second door behind it, or boards.
fn behind_a_door() -> Building {
    let mut b = pair();
    b.build_ups = vec![split_wall("wall", 2, 2), split_wall("more", 4, 4)];
    b.boundaries[0].openings[0].sill.gap = Metre(0.004);
    let leaf = b.boundaries[0].openings[0].leaf.clone().unwrap();
    let heavy = build_up("heavy", vec![board("MDF", 68.0, 1, wythe_partition::Joint::Screwed)]);
    let closed = |mm: f64| {
        Some(wythe_partition::Seal {
            kind: wythe_partition::SealKind::Compression,
            gap: Metre(mm / 1000.0),
        })
    };
    let second = |lined| Action::SecondDoor {
        opening: "door".into(),
        leaf: leaf.clone(),
        depth: Metre(0.25),
        lined,
    };
    let seal = Action::Seal {
        opening: "door".into(),
        head: closed(1.0),
        jambs: closed(1.0),
        sill: closed(1.0),
    };
    let boards = Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(1) };
    b.changes = vec![
        change("seals", "seals", Some(90.0), vec![seal]),
        change(
            "leaf",
            "leaf",
            Some(700.0),
            vec![Action::Leaf { opening: "door".into(), leaf: heavy }],
        ),
        change("second", "lock", Some(1100.0), vec![second(false)]),
        change("second lined", "lock", Some(1300.0), vec![second(true)]),
        change("boards", "wall", Some(400.0), vec![boards]),
    ];
    b
}

#[test]
fn a_second_door_adds_and_a_lined_reveal_adds_more() {
    let b = behind_a_door();
    let level = |set: &[usize]| play(&b, set).judged[0].level_a.unwrap().0;
    assert!(level(&[]) > level(&[2]) + 6.0, "{} then {}", level(&[]), level(&[2]));
    assert!(level(&[2]) > level(&[3]) + 1.0, "{} then {}", level(&[2]), level(&[3]));
    // More than the same leaf made heavier, and more with good seals than without.
    assert!(level(&[1]) > level(&[2]));
    assert!(level(&[2]) > level(&[0, 2]) + 1.0);
}

#[test]
fn the_plan_with_second_doors_on_offer_is_the_cheapest_of_all_sets() {
    let b = behind_a_door();
    let choices: [&[Option<usize>]; 4] =
        [&[None, Some(0)], &[None, Some(1)], &[None, Some(2), Some(3)], &[None, Some(4)]];
    let mut sets: Vec<Vec<usize>> = vec![Vec::new()];
    for options in choices {
        sets = sets
            .iter()
            .flat_map(|s| options.iter().map(move |o| s.iter().copied().chain(*o).collect()))
            .collect();
    }
    assert_eq!(sets.len(), 24);
    let mut cache = Cache::default();
    let cost = |s: &[usize]| s.iter().filter_map(|&c| b.changes[c].cost).sum::<f64>();
    let levels: Vec<(f64, f64)> = sets
        .iter()
        .map(|s| {
            let out = outcome(&apply(&b, s), &mut cache, false).unwrap();
            (cost(s), out.judged[0].level_a.unwrap().0)
        })
        .collect();
    let (least, most) = levels
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, z), (_, l)| (a.min(*l), z.max(*l)));
    let mut with_second = 0;
    for step in 0..=20 {
        let limit = least + 0.05 + (most - least) * f64::from(step) / 20.0;
        let mut asked = b.clone();
        asked.targets = vec![target(1, 0.0)];
        asked.targets[0].criterion = wythe_building::Criterion::LevelA(Level(limit));
        let best = levels
            .iter()
            .filter(|(_, l)| *l <= limit)
            .map(|(c, _)| *c)
            .fold(f64::INFINITY, f64::min);
        let plan = cheapest(&asked, &mut cache, None).unwrap();
        assert!(plan.outcome.met(), "{limit}");
        assert!((plan.cost - best).abs() < 1e-9, "at {limit} dBA: {} not {best}", plan.cost);
        with_second += usize::from(plan.changes.iter().any(|&c| c == 2 || c == 3));
    }
    assert!(with_second >= 3, "the second door is never needed: {with_second}");
}
