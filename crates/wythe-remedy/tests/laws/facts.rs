//! Facts of the trade, common practice, no source.

use wythe_bands::{Band, SquareMetre};
use wythe_building::{Action, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, RoomIndex};
use wythe_partition::{FrameKind, OpeningState};
use wythe_remedy::{apply, outcome, third_leaf};
use wythe_transmission::{Cache, LinkKind, assemble};

use crate::rooms::*;

/// Share of a receiver's energy over ways that use a link for which `picks` holds.
fn share(b: &Building, to: usize, band: Band, picks: impl Fn(LinkKind, &str) -> bool) -> f64 {
    let model = assemble(b, &mut Cache::default()).unwrap();
    let field = model.from_source(RoomIndex(0));
    field
        .at(RoomIndex(to))
        .unwrap()
        .ways
        .iter()
        .filter(|w| {
            w.links.iter().any(|&l| {
                let link = &model.links[l];
                picks(link.kind, &b.boundaries[link.boundary.0].id)
            })
        })
        .map(|w| w.share[band.index()])
        .sum()
}

fn difference(b: &Building, to: usize, band: Band) -> f64 {
    let model = assemble(b, &mut Cache::default()).unwrap();
    model.from_source(RoomIndex(0)).at(RoomIndex(to)).unwrap().difference.get(band).unwrap().0
}

#[test]
fn high_bands_come_through_the_gaps_of_a_door_and_low_bands_through_the_wall() {
    let b = pair();
    let leak = |band| share(&b, 1, band, |kind, _| kind == LinkKind::Leak);
    let wall = |band| share(&b, 1, band, |kind, _| kind == LinkKind::Direct);
    assert!(leak(Band::HZ_3150) > 0.8, "{}", leak(Band::HZ_3150));
    assert!(wall(Band::HZ_63) > 0.5, "{}", wall(Band::HZ_63));
    assert!(wall(Band::HZ_63) > wall(Band::HZ_3150) + 0.3);
    // With the gaps shut the high bands come another way.
    let mut shut = b.clone();
    let door = &mut shut.boundaries[0].openings[0];
    for edge in [&mut door.head, &mut door.jambs, &mut door.sill] {
        edge.gap = wythe_bands::Metre(1e-5);
        edge.kind = wythe_partition::SealKind::Compression;
    }
    let left = share(&shut, 1, Band::HZ_3150, |kind, _| kind == LinkKind::Leak);
    assert!(left < 0.5, "{left}");
}

#[test]
fn more_board_on_the_wall_gains_nothing_while_the_door_decides() {
    let mut b = pair();
    b.build_ups.push(stud_wall("more", 2, 2));
    let action = Action::Rebuild { boundary: BoundaryIndex(0), build_up: BuildUpIndex(1) };
    b.changes.push(change("boards", "wall", Some(500.0), vec![action]));
    let level = |set: &[usize]| {
        outcome(&apply(&b, set), &mut Cache::default(), false).unwrap().judged[0].level_a.unwrap().0
    };
    assert!(level(&[]) - level(&[0]) < 1.0, "{} then {}", level(&[]), level(&[0]));
    // Without the gap the same boards are heard, so it is the door and nothing else.
    b.boundaries[0].openings.clear();
    let level = |set: &[usize]| {
        outcome(&apply(&b, set), &mut Cache::default(), false).unwrap().judged[0].level_a.unwrap().0
    };
    assert!(level(&[]) - level(&[0]) > 3.0, "{} then {}", level(&[]), level(&[0]));
}

#[test]
fn each_further_closed_door_of_a_lock_adds() {
    let mut b = pair();
    b.rooms.insert(1, room("lock", 0));
    b.boundaries = vec![
        boundary("first wall", [0, 1], BoundaryKind::Wall, 0, vec![door("first", 2.0)]),
        boundary("second wall", [1, 2], BoundaryKind::Wall, 0, vec![door("second", 2.0)]),
    ];
    b.sources = vec![source(0)];
    let with = |first: OpeningState, second: OpeningState| {
        let mut b = b.clone();
        b.boundaries[0].openings[0].state = first;
        b.boundaries[1].openings[0].state = second;
        b
    };
    use OpeningState::{Closed, Open};
    for band in [Band::HZ_125, Band::HZ_500, Band::HZ_1000, Band::HZ_3150] {
        let none = difference(&with(Open, Open), 2, band);
        let one = difference(&with(Open, Closed), 2, band);
        let other = difference(&with(Closed, Open), 2, band);
        let both = difference(&with(Closed, Closed), 2, band);
        assert!(one > none + 6.0 && other > none + 6.0, "{band:?}: {none} {one} {other}");
        assert!(both > one.max(other) + 6.0, "{band:?}: {one} {other} {both}");
    }
}

#[test]
fn a_third_leaf_close_in_spoils_the_bass() {
    let old = split_wall("old", 2, 2);
    let lined = lined();
    let (band, loss, remark) = third_leaf(&old, &lined, SquareMetre(12.0), "wall").unwrap();
    // The small air space with its boards resounds at about 60 √((1/13 + 1/27)/0.025) = 130 Hz.
    assert!((80.0..220.0).contains(&band.centre().0) && loss > 3.0, "{band:?} {loss}");
    assert!(remark.text.contains(band.nominal()), "{}", remark.text);
    // There the new leaf brings nothing, and one more board on the wall itself does.
    let at = |b: &wythe_partition::BuildUp| {
        let conditions = wythe_partition::Conditions::default();
        wythe_partition::predict(b, &conditions).unwrap().reduction.get(band).unwrap().0
    };
    assert!(at(&lined) < at(&old) + 1.5, "{} then {}", at(&old), at(&lined));
    assert!(at(&split_wall("outside", 3, 2)) > at(&lined) + 2.0);
    // Two leaves stay two leaves, and nothing is said.
    assert!(third_leaf(&old, &stud_wall("more", 3, 2), SquareMetre(12.0), "wall").is_none());
}

#[test]
fn foam_in_the_loud_room_is_no_isolation() {
    let mut b = pair();
    let action = Action::Absorb {
        room: RoomIndex(0),
        finish: "mineral wool 50 mm".into(),
        area: SquareMetre(20.0),
    };
    b.changes.push(change("foam", "loud room", Some(300.0), vec![action]));
    let lined = apply(&b, &[0]);
    // The room does swallow more: what is not gained is not gained for want of absorption.
    let area = |b: &Building| b.rooms[0].absorption_area(b.air).0.get(Band::HZ_1000).unwrap().0;
    assert!(area(&lined) > area(&b) + 10.0);
    for band in [Band::HZ_63, Band::HZ_125, Band::HZ_500, Band::HZ_3150] {
        let gained = difference(&lined, 1, band) - difference(&b, 1, band);
        assert!(gained.abs() < 0.5, "{band:?}: {gained}");
    }
}

#[test]
fn the_ceiling_that_is_not_isolated_is_the_weak_one() {
    // Split walls of a good room under a plain joist floor.
    let mut b = pair();
    b.rooms.push(room("above", 1));
    b.rooms.push(room("beside", 0));
    b.build_ups = vec![
        split_wall("split", 2, 2),
        build_up(
            "plain floor",
            vec![
                gypsum(1),
                cavity(220.0, 100.0, Some(FrameKind::TimberStuds)),
                board("particleboard", 22.0, 1, wythe_partition::Joint::Screwed),
            ],
        ),
    ];
    b.boundaries = vec![
        boundary("split wall", [0, 1], BoundaryKind::Wall, 0, vec![]),
        boundary("ceiling", [0, 2], BoundaryKind::Floor, 1, vec![]),
        boundary("upstairs wall", [2, 3], BoundaryKind::Wall, 0, vec![]),
        boundary("other split wall", [0, 3], BoundaryKind::Wall, 0, vec![]),
    ];
    b.targets = vec![target(1, 45.0), target(2, 45.0)];
    let out = outcome(&b, &mut Cache::default(), false).unwrap();
    let margin =
        |t: usize| out.judged.iter().find(|j| j.target == t).unwrap().assessment.margin_db.unwrap();
    assert!(margin(1) < margin(0) - 6.0, "above {} beside {}", margin(1), margin(0));
    let through = share(&b, 2, Band::HZ_125, |_, id| id == "ceiling");
    assert!(through > 0.9, "{through}");
    // Hung free and boarded like the walls it is no weaker than they are.
    b.build_ups[1] = split_wall("free ceiling", 3, 3);
    let out = outcome(&b, &mut Cache::default(), false).unwrap();
    let margin =
        |t: usize| out.judged.iter().find(|j| j.target == t).unwrap().assessment.margin_db.unwrap();
    assert!(margin(1) > margin(0) - 3.0, "above {} beside {}", margin(1), margin(0));
}
