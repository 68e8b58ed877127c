//! What must hold for any building, from walls and doors to levels.

use proptest::prelude::*;
use wythe_bands::{Band, Metre, Spectrum, SquareMetre, Standpoint};
use wythe_building::{Absorption, Boundary, BoundaryKind, BuildUpIndex, Building, RoomIndex};
use wythe_partition::{Opening, OpeningKind, OpeningState, Seal, SealKind};
use wythe_transmission::{BANDS, Cache, Model, PerBand, assemble};

use crate::fabric::house;

/// A door in a wall: how it stands and the gap under it.
#[derive(Clone, Debug)]
struct Door {
    state: OpeningState,
    gap: f64,
}

fn any_state() -> impl Strategy<Value = OpeningState> {
    prop_oneof![
        Just(OpeningState::Open),
        (0.01f64..0.3).prop_map(|b| OpeningState::Ajar(Metre(b))),
        Just(OpeningState::Closed),
        Just(OpeningState::Taped),
    ]
}

/// Rooms in a row, a wall with a door between each two, and a few walls beside that join rooms
/// further apart.
#[derive(Clone, Debug)]
struct Row {
    absorption: Vec<f64>,
    walls: Vec<(usize, f64, Option<Door>)>,
    beside: Vec<(usize, usize, usize, f64)>,
}

fn any_row() -> impl Strategy<Value = Row> {
    (3usize..6).prop_flat_map(|n| {
        let door = (any_state(), 0.0f64..0.012).prop_map(|(state, gap)| Door { state, gap });
        let wall = (0usize..4, 4.0f64..25.0, prop::option::of(door));
        let beside = (0..n, 0..n, 0usize..4, 1.0f64..20.0);
        (
            prop::collection::vec(0.8f64..30.0, n),
            prop::collection::vec(wall, n - 1),
            prop::collection::vec(beside, 0..3),
        )
            .prop_map(|(absorption, walls, beside)| Row { absorption, walls, beside })
    })
}

impl Row {
    fn building(&self) -> Building {
        let from = house();
        let boundary = |id: String, rooms: [usize; 2], build_up, area: f64, door: Option<&Door>| {
            let openings = door.map(|d| opening(&id, d, &from.build_ups[3])).into_iter().collect();
            Boundary {
                id,
                title: None,
                rooms: rooms.map(RoomIndex),
                kind: BoundaryKind::Wall,
                build_up: BuildUpIndex(build_up),
                area: SquareMetre(area),
                area_found: false,
                openings,
                leaks: Vec::new(),
                distance: None,
                standpoint: Standpoint::default(),
            }
        };
        let rooms = self.absorption.iter().enumerate().map(|(i, a)| wythe_building::Room {
            id: format!("room {i}"),
            absorption: Absorption::Area(Spectrum::from_fn(|_| SquareMetre(*a))),
            ..from.rooms[0].clone()
        });
        let row = self.walls.iter().enumerate().map(|(k, (build_up, area, door))| {
            boundary(format!("wall {k}"), [k, k + 1], *build_up, *area, door.as_ref())
        });
        let beside = self.beside.iter().enumerate().filter(|(_, b)| b.0 != b.1).map(
            |(k, (i, j, build_up, area))| {
                boundary(format!("beside {k}"), [*i, *j], *build_up, *area, None)
            },
        );
        Building {
            rooms: rooms.collect(),
            boundaries: row.chain(beside).collect(),
            build_ups: from.build_ups.clone(),
            ..Building::default()
        }
    }
}

fn opening(id: &str, door: &Door, leaf: &wythe_partition::BuildUp) -> Opening {
    let seal = |gap| Seal { kind: SealKind::None, gap: Metre(gap) };
    Opening {
        id: format!("{id} door"),
        title: None,
        kind: OpeningKind::Door,
        leaf: Some(leaf.clone()),
        width: Metre(0.85),
        height: Metre(2.0),
        head: seal(door.gap / 3.0),
        jambs: seal(door.gap / 3.0),
        sill: seal(door.gap),
        keyhole: false,
        letter_plate: None,
        second: None,
        state: door.state,
        standpoint: Standpoint::default(),
    }
}

fn model(building: &Building) -> Model {
    assemble(building, &mut Cache::default()).expect("a sound building")
}

fn no_more(a: &PerBand, than: &PerBand) -> bool {
    (0..BANDS).all(|b| a[b] <= than[b] * (1.0 + 1e-9))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn closing_a_door_never_raises_a_level_beyond_it(row in any_row(), which in 0usize..5) {
        // Without ways beside it a door parts the row in two, whatever stands between.
        let mut row = Row { beside: Vec::new(), ..row };
        let which = which % row.walls.len();
        let gap = row.walls[which].2.as_ref().map_or(0.004, |d| d.gap);
        let levels = |row: &Row| model(&row.building()).all_energies();
        let mut before: Option<Vec<Vec<PerBand>>> = None;
        for state in [
            OpeningState::Open,
            OpeningState::Ajar(Metre(0.05)),
            OpeningState::Closed,
            OpeningState::Taped,
        ] {
            row.walls[which].2 = Some(Door { state, gap });
            let now = levels(&row);
            if let Some(before) = &before {
                for (from, there) in now.iter().enumerate() {
                    for (to, level) in there.iter().enumerate() {
                        let beyond = (from <= which) != (to <= which);
                        if beyond {
                            prop_assert!(
                                no_more(level, &before[from][to]),
                                "{from} to {to} by door {which} {state:?}"
                            );
                        }
                    }
                }
            }
            before = Some(now);
        }
    }

    #[test]
    fn transfer_by_power_is_the_same_both_ways(row in any_row()) {
        // All walls lead to other rooms, so what a source gives is what all rooms swallow.
        let m = model(&row.building());
        let all = m.all_energies();
        let power = |s: usize, b: usize| -> f64 {
            (0..m.rooms).map(|r| m.absorption[r][b] * all[s][r][b]).sum()
        };
        for i in 0..m.rooms {
            for j in 0..i {
                for b in 0..BANDS {
                    let there = all[i][j][b] / power(i, b);
                    let back = all[j][i][b] / power(j, b);
                    prop_assert!((there - back).abs() <= 1e-8 * there.max(back));
                }
            }
        }
    }

    #[test]
    fn absorption_never_raises_a_level_and_a_wall_more_never_lowers_one_from_its_room(
        row in any_row(), room in 0usize..6, more in 0.5f64..20.0,
    ) {
        let room = room % row.absorption.len();
        let before = model(&row.building()).all_energies();
        let mut softer = row.clone();
        softer.absorption[room] += more;
        let soft = model(&softer.building()).all_energies();
        for (a, b) in soft.iter().flatten().zip(before.iter().flatten()) {
            prop_assert!(no_more(a, b));
        }
        // The level of the source room is held, so a way out of it costs nobody anything.
        let to = (room + 2) % row.absorption.len();
        prop_assume!(to != room);
        let mut with = row.clone();
        with.beside.push((room, to, 1, more));
        let louder = model(&with.building()).all_energies();
        for (a, b) in before[room].iter().zip(&louder[room]) {
            prop_assert!(no_more(a, b));
        }
    }

    #[test]
    fn shares_add_up_and_order_does_not_matter(row in any_row()) {
        let building = row.building();
        let m = model(&building);
        let n = m.rooms;
        let field = m.from_source(RoomIndex(0));
        for there in &field.receivers {
            for (band, _) in there.difference.iter() {
                let sum: f64 = there.ways.iter().map(|w| w.share[band.index()]).sum();
                prop_assert!((sum - 1.0).abs() < 1e-9);
            }
        }
        // Rooms and boundaries in reverse.
        let mut turned = building.clone();
        turned.rooms.reverse();
        turned.boundaries.reverse();
        for boundary in &mut turned.boundaries {
            boundary.rooms = boundary.rooms.map(|r| RoomIndex(n - 1 - r.0));
        }
        let (all, other) = (m.all_energies(), model(&turned).all_energies());
        for i in 0..n {
            for j in 0..n {
                for b in 0..BANDS {
                    let (x, y) = (all[i][j][b], other[n - 1 - i][n - 1 - j][b]);
                    prop_assert!((x - y).abs() <= 1e-9 * x.max(y));
                }
            }
        }
    }

    #[test]
    fn a_changed_door_gives_the_same_by_what_is_remembered(row in any_row(), state in any_state()) {
        let mut building = row.building();
        let mut cache = Cache::default();
        assemble(&building, &mut cache).expect("first time");
        for boundary in &mut building.boundaries {
            boundary.openings.iter_mut().for_each(|o| o.state = state);
        }
        building.boundaries[0].build_up = BuildUpIndex(2);
        let rooms: Vec<RoomIndex> = (0..building.rooms.len()).map(RoomIndex).collect();
        let kept = assemble(&building, &mut cache).expect("again");
        let (kept, fresh) = (kept.shares(&rooms), model(&building).shares(&rooms));
        for (k, f) in kept.iter().zip(&fresh) {
            for r in &rooms {
                for b in 0..BANDS {
                    let (x, y) = (k.energies[r.0][b], f.energies[r.0][b]);
                    prop_assert!((x - y).abs() <= 1e-12 * x.max(y));
                }
                prop_assert!(k.ways_to(*r).map(|w| w.0).eq(f.ways_to(*r).map(|w| w.0)));
                for (x, y) in k.ways_to(*r).zip(f.ways_to(*r)) {
                    prop_assert!((0..BANDS).all(|b| (x.2[b] - y.2[b]).abs() <= 1e-12));
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn at_a_leaf_it_is_never_lower_than_behind_it_less_r_less_three(row in any_row(), from in 0usize..5) {
        let building = row.building();
        let model = model(&building);
        let source = RoomIndex(from % building.rooms.len());
        let field = model.from_source(source);
        let behind_of = |r: RoomIndex, b: Band| {
            if r == source { Some(0.0) } else { field.at(r)?.difference.get(b).map(|d| -d.0) }
        };
        for received in &field.receivers {
            let told = wythe_transmission::near_openings(&building, &model, &field, received.room);
            for near in &told {
                let boundary = &building.boundaries[near.boundary.0];
                let behind = boundary.beyond(received.room).expect("its own");
                let area = 0.85 * 2.0;
                for band in Band::results() {
                    let b = band.index();
                    prop_assert!(near.at_leaf[b] >= near.at_a_metre[b] && near.at_a_metre[b] >= 0.0);
                    let Some(there) = behind_of(behind, band) else { continue };
                    let g: f64 = model.links.iter()
                        .filter(|l| l.id.starts_with(&format!("{} ", near.opening)))
                        .map(|l| l.coupling[b]).sum();
                    let r = -10.0 * (g / area).min(1.0).log10();
                    let own = -received.difference.get(band).expect("something arrives").0;
                    prop_assert!(own + near.at_leaf[b] >= there - r - 3.02);
                }
            }
        }
    }
}

#[test]
fn a_dead_room_is_louder_at_its_door_and_a_live_one_is_not() {
    let near = |absorption: f64| {
        let door = Door { state: OpeningState::Closed, gap: 0.003 };
        let row = Row {
            absorption: vec![10.0, absorption],
            walls: vec![(1, 10.0, Some(door))],
            beside: Vec::new(),
        };
        let building = row.building();
        let model = model(&building);
        let field = model.from_source(RoomIndex(0));
        wythe_transmission::near_openings(&building, &model, &field, RoomIndex(1))
    };
    // A door of 1.7 m2 before 30 m2 of absorption: 10 lg(1 + 30/3.4), less what the wall brings.
    let dead = near(30.0);
    let b = Band::HZ_1000.index();
    assert!((8.0..9.95).contains(&dead[0].at_leaf[b]), "{}", dead[0].at_leaf[b]);
    // One metre off: 1 + 2π/1.7 less.
    let linear = |db: f64| 10f64.powf(db / 10.0) - 1.0;
    let fall = linear(dead[0].at_leaf[b]) / linear(dead[0].at_a_metre[b]);
    assert!((fall - (1.0 + 2.0 * std::f64::consts::PI / 1.7)).abs() < 1e-9);
    assert!(near(1.0).is_empty());
}
