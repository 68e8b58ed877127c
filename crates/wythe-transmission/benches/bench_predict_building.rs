//! The wait after a changed layer: every room's level again, in a house of 12 rooms and 40
//! boundaries with 12 flanking paths each.

use divan::{Bencher, black_box};
use wythe_building::{BoundaryIndex, RoomIndex};
use wythe_transmission::{BANDS, Link, LinkKind, Model};

fn main() {
    divan::main();
}

/// Rooms in a ring with chords; every boundary has its direct link and `paths - 1` beside it.
fn house(rooms: usize, boundaries: usize, paths: usize) -> Model {
    let mut links = Vec::new();
    for n in 0..boundaries {
        let a = n % rooms;
        let b = (a + 1 + n / rooms) % rooms;
        for p in 0..paths {
            let r = 40.0 + (7 * n + 3 * p) as f64 % 23.0;
            links.push(Link {
                id: format!("{n}/{p}"),
                title: format!("{n}/{p}"),
                kind: if p == 0 { LinkKind::Direct } else { LinkKind::Flanking },
                rooms: [RoomIndex(a), RoomIndex(b)],
                boundary: BoundaryIndex(n),
                coupling: std::array::from_fn(|i| 12.0 * 10f64.powf(-(r + i as f64) / 10.0)),
                deviation: [3.0; BANDS],
                group: n,
                spread: None,
            });
        }
    }
    Model {
        rooms,
        outdoors: vec![false; rooms],
        absorption: vec![[12.0; BANDS]; rooms],
        absorption_spread: vec![0.1; rooms],
        absorption_deviation: Vec::new(),
        modal: vec![[1.0; BANDS]; rooms],
        links,
        groups: (0..boundaries).map(|n| n.to_string()).collect(),
        remarks: Vec::new(),
    }
}

/// One coupling changed, all levels from all rooms solved again: the goal is 1 ms.
#[divan::bench]
fn twelve_rooms_all_levels(bencher: Bencher) {
    let mut model = house(12, 40, 13);
    bencher.bench_local(|| {
        model.links[7].coupling[9] *= 0.999;
        black_box(model.all_energies())
    });
}

/// The same with every way from one source and its share at every receiver.
#[divan::bench]
fn twelve_rooms_ways_from_one_source(bencher: Bencher) {
    let model = house(12, 40, 13);
    bencher.bench_local(|| black_box(model.from_source(RoomIndex(0))));
}

/// A large house: the goal is 100 ms.
#[divan::bench(sample_count = 10)]
fn two_hundred_rooms_all_levels(bencher: Bencher) {
    let model = house(200, 1500, 1);
    bencher.bench_local(|| black_box(model.all_energies()));
}

/// All ways from all twelve rooms with all shares.
#[divan::bench]
fn twelve_rooms_ways_from_all_sources(bencher: Bencher) {
    let mut model = house(12, 40, 13);
    let sources: Vec<RoomIndex> = (0..12).map(RoomIndex).collect();
    bencher.bench_local(|| {
        model.links[7].coupling[9] *= 0.999;
        black_box(model.from_sources(&sources))
    });
}

/// One coupling changed, levels and shares of all ways from all twelve rooms: the goal is 1 ms.
#[divan::bench]
fn twelve_rooms_shares_from_all_sources(bencher: Bencher) {
    let mut model = house(12, 40, 13);
    let sources: Vec<RoomIndex> = (0..12).map(RoomIndex).collect();
    bencher.bench_local(|| {
        model.links[7].coupling[9] *= 0.999;
        black_box(model.shares(&sources))
    });
}

/// Three hundred rooms in one chain, each heard from the first.
#[divan::bench(sample_count = 10)]
fn chain_of_three_hundred_rooms(bencher: Bencher) {
    let mut model = house(300, 300, 1);
    model.links.pop();
    bencher.bench_local(|| black_box(model.from_source(RoomIndex(0))));
}

/// Two hundred rooms that all meet fifteen others: the walk is cut short.
#[divan::bench(sample_count = 10)]
fn two_hundred_rooms_ways_from_one_source(bencher: Bencher) {
    let model = house(200, 1500, 1);
    bencher.bench_local(|| black_box(model.from_source(RoomIndex(0))));
}

/// Twelve rooms on two storeys in concrete and block, 40 boundaries, every edge found.
fn block_of_rooms() -> wythe_building::Building {
    use wythe_bands::{CubicMetre, Metre, Spectrum, SquareMetre, Standpoint};
    use wythe_building::outline::{Outline, Point, WallSearch};
    use wythe_building::{Absorption, Boundary, BoundaryKind, BuildUpIndex, Building, Room, edges};
    use wythe_partition::{Board, BuildUp, Construction, Joint, Layer};
    let build_up = |id: &str, material: &str, thickness: f64| BuildUp {
        id: id.into(),
        title: None,
        construction: Construction::Layers(vec![Layer::Board(Board {
            material: material.into(),
            thickness: Metre(thickness),
            count: 1,
            joined: Joint::Screwed,
            surface_mass: None,
            standpoint: Standpoint::default(),
            own: None,
        })]),
        rigid_bridges_per_m2: 0.0,
        cost_per_m2: None,
        standpoint: Standpoint::default(),
        boxes: Vec::new(),
    };
    let mut rooms = Vec::new();
    for storey in 0..2 {
        for row in 0..2 {
            for column in 0..3 {
                let (x, y) = (f64::from(column) * 5.0, f64::from(row) * 4.0);
                let corner = |a: f64, b: f64| Point::at(x + a, y + b);
                rooms.push(Room {
                    id: format!("{storey}/{row}/{column}"),
                    title: None,
                    storey,
                    outline: Some(Outline::new(vec![
                        corner(0.0, 0.0),
                        corner(4.8, 0.0),
                        corner(4.8, 3.8),
                        corner(0.0, 3.8),
                    ])),
                    height: Some(Metre(2.5)),
                    volume: CubicMetre(45.6),
                    floor_area: SquareMetre(18.24),
                    outdoors: false,
                    distance: None,
                    absorption: Absorption::Area(Spectrum::from_fn(|_| SquareMetre(10.0))),
                    background: None,
                    standpoint: Standpoint::default(),
                });
            }
        }
    }
    rooms.push(Room { outdoors: true, outline: None, ..rooms[0].clone() });
    let mut boundaries = Vec::new();
    let mut push = |a: usize, b: usize, kind, area: f64| {
        boundaries.push(Boundary {
            id: format!("{a}-{b}"),
            title: None,
            rooms: [RoomIndex(a), RoomIndex(b)],
            kind,
            build_up: BuildUpIndex(usize::from(kind == BoundaryKind::Floor)),
            area: SquareMetre(area),
            area_found: true,
            openings: Vec::new(),
            leaks: Vec::new(),
            distance: None,
            standpoint: Standpoint::default(),
        });
    };
    for storey in 0..2 {
        for k in 0..6 {
            let room = storey * 6 + k;
            if k % 3 < 2 {
                push(room, room + 1, BoundaryKind::Wall, 9.5);
            }
            if k < 3 {
                push(room, room + 3, BoundaryKind::Wall, 12.0);
            }
            push(room, 12, BoundaryKind::Wall, 20.0);
            if storey == 0 {
                push(room, room + 6, BoundaryKind::Floor, 18.24);
            } else {
                push(room, 12, BoundaryKind::Roof, 18.24);
            }
        }
    }
    let mut building = Building {
        build_ups: vec![
            build_up("block", "dense block", 0.14),
            build_up("slab", "concrete", 0.18),
            build_up("thicker", "dense block", 0.19),
        ],
        rooms,
        boundaries,
        ..Building::default()
    };
    building.fabric.junctions = edges::find(&building, &WallSearch::default());
    building
}

/// A wall gets another build-up, both predicted before: everything is put together again and all
/// levels are solved. A build-up never met before costs its own prediction on top (see the bench
/// of `wythe-partition`).
#[divan::bench]
fn changed_wall_to_all_levels(bencher: Bencher) {
    let mut building = block_of_rooms();
    let mut cache = wythe_transmission::Cache::default();
    let mut thick = false;
    bencher.bench_local(|| {
        thick = !thick;
        building.boundaries[0].build_up = wythe_building::BuildUpIndex(if thick { 2 } else { 0 });
        let model = wythe_transmission::assemble(&building, &mut cache).expect("a sound house");
        black_box(model.all_energies())
    });
}

/// The same with the shares of all ways from all twelve rooms: the whole wait after a changed
/// layer.
#[divan::bench]
fn changed_wall_to_all_shares(bencher: Bencher) {
    let mut building = block_of_rooms();
    let mut cache = wythe_transmission::Cache::default();
    let sources: Vec<RoomIndex> = (0..12).map(RoomIndex).collect();
    let mut thick = false;
    bencher.bench_local(|| {
        thick = !thick;
        building.boundaries[0].build_up = wythe_building::BuildUpIndex(if thick { 2 } else { 0 });
        let model = wythe_transmission::assemble(&building, &mut cache).expect("a sound house");
        black_box(model.shares(&sources))
    });
}
