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
