//! Laws of edges and plans found from outlines.

use proptest::prelude::*;
use wythe_bands::{CubicMetre, Metre, SquareMetre, Standpoint};
use wythe_building::outline::{Outline, Point, WallSearch};
use wythe_building::{
    Absorption, Boundary, BoundaryIndex, BoundaryKind, BuildUpIndex, Building, Room, RoomIndex,
    Surface, edges, plan,
};

fn room(id: &str, storey: i32, corners: &[(f64, f64)], angle: f64) -> Room {
    let (s, c) = angle.sin_cos();
    let outline = Outline::new(
        corners.iter().map(|(x, y)| Point::at(x * c - y * s, x * s + y * c)).collect(),
    );
    Room {
        id: id.into(),
        title: None,
        storey,
        floor_area: outline.area(),
        volume: CubicMetre(outline.area().0 * 2.5),
        outline: Some(outline),
        height: Some(Metre(2.5)),
        outdoors: false,
        distance: None,
        absorption: Absorption::Finishes(vec![Surface {
            finish: "brick".into(),
            area: SquareMetre(60.0),
        }]),
        background: None,
        standpoint: Standpoint::default(),
    }
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> [(f64, f64); 4] {
    [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
}

fn boundary(id: &str, a: usize, b: usize, kind: BoundaryKind) -> Boundary {
    Boundary {
        id: id.into(),
        title: None,
        rooms: [RoomIndex(a), RoomIndex(b)],
        kind,
        build_up: BuildUpIndex(0),
        area: SquareMetre(10.0),
        area_found: true,
        openings: Vec::new(),
        leaks: Vec::new(),
        distance: None,
        standpoint: Standpoint::default(),
    }
}

/// A long room along two others, and one over all of them, turned by an angle.
fn tee(angle: f64, wall: f64) -> Building {
    let mut yard = room("yard", 0, &rectangle(0.0, 0.0, 1.0, 1.0), 0.0);
    yard.outdoors = true;
    yard.outline = None;
    Building {
        rooms: vec![
            room("long", 0, &rectangle(0.0, 0.0, 9.0, 3.0), angle),
            room("left", 0, &rectangle(0.0, 3.0 + wall, 4.0, 7.0), angle),
            room("right", 0, &rectangle(4.0 + wall, 3.0 + wall, 9.0, 7.0), angle),
            room("over", 1, &rectangle(0.0, 0.0, 9.0, 7.0), angle),
            yard,
        ],
        boundaries: vec![
            boundary("long-left", 0, 1, BoundaryKind::Wall),
            boundary("long-right", 0, 2, BoundaryKind::Wall),
            boundary("left-right", 1, 2, BoundaryKind::Wall),
            boundary("ceiling", 0, 3, BoundaryKind::Floor),
            boundary("left ceiling", 1, 3, BoundaryKind::Floor),
        ],
        ..Building::default()
    }
}

proptest! {
    #[test]
    fn edges_do_not_depend_on_how_the_plan_lies(angle in 0.0f64..6.3, wall in 0.05f64..0.5) {
        let building = tee(angle, wall);
        let found = edges::find(&building, &WallSearch::default());
        let with = |names: &[&str]| -> f64 {
            found
                .iter()
                .filter(|j| {
                    let held: Vec<&str> = j.plates.iter().flatten()
                        .map(|p| building.boundaries[p.0].id.as_str()).collect();
                    held.len() == names.len() && names.iter().all(|n| held.contains(n))
                })
                .map(|j| j.length.0)
                .sum()
        };
        // The wall between the two meets the long room's wall: a T of three plates, 2.5 m high.
        prop_assert!((with(&["long-left", "long-right", "left-right"]) - 2.5).abs() < 1e-9,
            "{:?}", found.iter().map(|j| &j.id).collect::<Vec<_>>());
        // Over the wall a slab runs on: wall, ceiling and the other ceiling.
        prop_assert!((with(&["long-left", "ceiling", "left ceiling"]) - 4.0).abs() < 1e-6);
        // In the T the two parts of the long wall are in line, the third stands square to them.
        let junction = found.iter().find(|j| j.id == "left-right + long-left + long-right")
            .expect("the T");
        let place = |name: &str| junction.plates.iter()
            .position(|p| p.is_some_and(|p| building.boundaries[p.0].id == name)).expect("a plate");
        prop_assert_eq!((place("long-left") + place("long-right")) % 2, 0);
        prop_assert_eq!((place("long-left") + place("left-right")) % 2, 1);
    }

    #[test]
    fn exposed_and_facing_stretches_add_up_to_the_perimeter(wall in 0.05f64..0.5) {
        let building = tee(0.0, wall);
        let outlines: Vec<&Outline> =
            building.rooms.iter().take(3).filter_map(|r| r.outline.as_ref()).collect();
        let search = WallSearch::default();
        let others: Vec<&Outline> = outlines[1..].to_vec();
        let length = |all: Vec<wythe_building::outline::Stretch>| -> f64 {
            all.iter().map(|s| (s.to.x.0 - s.from.x.0).hypot(s.to.y.0 - s.from.y.0)).sum()
        };
        let free = outlines[0].exposed_stretches(&others, &search);
        prop_assert!((length(free) - outlines[0].exposed_length(&others, &search).0).abs() < 1e-9);
        let facing: f64 = [1, 2].iter().map(|&k| {
            let rest: Vec<&Outline> = vec![outlines[3 - k]];
            length(outlines[0].facing_stretches(outlines[k], &rest, &search))
        }).sum();
        prop_assert!((facing + outlines[0].exposed_length(&others, &search).0
            - outlines[0].perimeter().0).abs() < 1e-6);
    }
}

#[test]
fn a_plan_says_areas_overlaps_slivers_and_what_nobody_described() {
    let mut building = tee(0.0, 0.2);
    building.rooms.push(room("stray", 0, &rectangle(8.0, 2.0, 10.0, 2.9), 0.0));
    building.rooms.push(room("close", 0, &rectangle(9.01, 4.0, 11.0, 6.0), 0.0));
    let plans = plan::storeys(&building, &WallSearch::default());
    assert_eq!(plans.iter().map(|p| p.storey).collect::<Vec<_>>(), [0, 1]);
    let ground = &plans[0];
    assert!((ground.rooms[0].area.0 - 27.0).abs() < 1e-9);
    for drawn in &ground.rooms {
        let outline = building.rooms[drawn.room.0].outline.as_ref().expect("drawn");
        assert!(outline.contains(drawn.label_at));
    }
    assert_eq!(ground.overlaps.len(), 1);
    assert!((ground.overlaps[0].area.0 - 0.9).abs() < 1e-9);
    assert!(!ground.overlaps[0].enclosed);
    assert_eq!(ground.slivers.len(), 1);
    assert!((ground.slivers[0].gap.0 - 0.01).abs() < 1e-9);
    let described = |a, b| {
        ground
            .walls
            .iter()
            .find(|w| w.rooms == (RoomIndex(a), Some(RoomIndex(b))))
            .and_then(|w| w.boundary)
    };
    assert_eq!(described(1, 2), Some(BoundaryIndex(2)));
    assert_eq!(described(2, 6), None);
    assert!(!ground.rooms[0].assumed.is_empty());
}

#[test]
fn odd_outlines_make_no_edges_and_no_panic() {
    let mut building = tee(0.0, 0.2);
    for corners in [
        vec![],
        vec![Point::at(0.0, 0.0)],
        vec![Point::at(0.0, 0.0); 4],
        vec![Point::at(f64::NAN, 0.0), Point::at(1.0, f64::INFINITY), Point::at(1.0, 1.0)],
    ] {
        building.rooms[0].outline = Some(Outline::new(corners));
        let _ = edges::find(&building, &WallSearch::default());
        let _ = plan::storeys(&building, &WallSearch::default());
    }
    building.boundaries[0].rooms = [RoomIndex(99), RoomIndex(1)];
    assert!(edges::find(&building, &WallSearch::default()).iter().all(|j| j.length.0 > 0.0));
}

#[test]
fn under_the_shell_of_a_room_in_a_room_the_slab_runs_through() {
    // A box 3 m by 2 m in a hall, on a floor over one room and under another.
    let mut building = Building {
        rooms: vec![
            room("hall", 1, &rectangle(0.0, 0.0, 8.0, 6.0), 0.0),
            room("box", 1, &rectangle(2.0, 2.0, 5.0, 4.0), 0.0),
            room("below", 0, &rectangle(0.0, 0.0, 8.0, 6.0), 0.0),
        ],
        boundaries: vec![
            boundary("shell", 0, 1, BoundaryKind::Wall),
            boundary("hall floor", 2, 0, BoundaryKind::Floor),
            boundary("box floor", 2, 1, BoundaryKind::Floor),
        ],
        ..Building::default()
    };
    let edge = |building: &Building| -> Vec<(usize, f64)> {
        edges::find(building, &WallSearch::default())
            .iter()
            .map(|j| (j.plates.iter().flatten().count(), j.length.0))
            .collect()
    };
    let found = edges::find(&building, &WallSearch::default());
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].length.0 - 10.0).abs() < 0.1, "{}", found[0].length.0);
    // The slab runs on from the box to the hall, and the shell stands on it.
    let [shell, one, across, other] = found[0].plates;
    assert_eq!((shell, across), (Some(BoundaryIndex(0)), None));
    let mut floors = [one, other];
    floors.sort();
    assert_eq!(floors, [Some(BoundaryIndex(1)), Some(BoundaryIndex(2))]);
    // Whichever of the two is named first.
    building.boundaries[0].rooms.reverse();
    assert_eq!(edge(&building), [(3, found[0].length.0)]);
    building.rooms.swap(0, 1);
    for b in &mut building.boundaries {
        for r in &mut b.rooms {
            r.0 = [1, 0, 2][r.0];
        }
    }
    assert_eq!(edge(&building), [(3, found[0].length.0)]);
    // Against the hall's own wall there is no shell that looks into the hall.
    let mut corner = building.clone();
    corner.rooms[0] = room("box", 1, &rectangle(0.1, 0.1, 3.1, 2.1), 0.0);
    let length = edge(&corner)[0].1;
    assert!((length - 5.0).abs() < 0.1, "{length}");
}
