//! A house with elements that can be rebuilt, for trying searches on.

use wythe_bands::{Air, CubicMetre, Level, Metre, Seconds, Spectrum, SquareMetre, Standpoint};
use wythe_building::*;
use wythe_partition::*;

/// Numbers that look random and are the same everywhere.
pub fn scatter(n: u64) -> f64 {
    let mut z = n.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 * 2f64.powi(-53)
}

fn slab(id: String, mm: f64) -> BuildUp {
    BuildUp {
        id,
        title: None,
        construction: Construction::Layers(vec![Layer::Board(Board {
            material: "concrete".into(),
            thickness: Metre(mm / 1000.0),
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
    }
}

/// One loud room and `rooms` quiet ones in a ring round it; `elements` walls, each with `choices`
/// thicker slabs on offer, dearer the thicker.
pub fn house(rooms: usize, elements: usize, choices: usize, seed: u64, limit: f64) -> Building {
    let mut building = Building { air: Air::default(), ..Building::default() };
    for i in 0..=rooms {
        building.rooms.push(Room {
            id: format!("room {i}"),
            title: None,
            storey: 0,
            outline: None,
            height: None,
            volume: CubicMetre(30.0 + 40.0 * scatter(seed + i as u64)),
            floor_area: SquareMetre(15.0),
            outdoors: false,
            distance: None,
            absorption: Absorption::DecayTime(Spectrum::from_fn(|_| Seconds(0.5))),
            background: None,
            standpoint: Standpoint::default(),
        });
    }
    for c in 0..=choices {
        building.build_ups.push(slab(format!("slab {c}"), 60.0 + 45.0 * c as f64));
    }
    for e in 0..elements {
        // The first walls join the loud room to every other; further ones join neighbours.
        let (a, b) = if e < rooms { (0, e + 1) } else { (1 + e % rooms, 1 + (e + 1) % rooms) };
        building.boundaries.push(Boundary {
            id: format!("wall {e}"),
            title: None,
            rooms: [RoomIndex(a), RoomIndex(b)],
            kind: BoundaryKind::Wall,
            build_up: BuildUpIndex(0),
            area: SquareMetre(6.0 + 10.0 * scatter(seed ^ (77 + e as u64))),
            area_found: false,
            openings: Vec::new(),
            leaks: Vec::new(),
            distance: None,
            standpoint: Standpoint::default(),
        });
        for c in 1..=choices {
            let dear = 60.0 + 400.0 * scatter(seed ^ (1000 + (e * 31) as u64));
            building.changes.push(Change {
                id: format!("wall {e} slab {c}"),
                title: format!("wall {e} slab {c}"),
                element: format!("wall {e}"),
                actions: vec![Action::Rebuild {
                    boundary: BoundaryIndex(e),
                    build_up: BuildUpIndex(c),
                }],
                cost: Some((dear * (c as f64).powf(1.2)).round()),
                cost_invented: true,
                hours: None,
                reversible: false,
                skill: wythe_building::Skill::Handy,
                not_with: Vec::new(),
                standpoint: Standpoint::default(),
            });
        }
    }
    building.sources.push(SoundSource {
        id: "noise".into(),
        title: None,
        room: RoomIndex(0),
        levels: Spectrum::from_fn(|_| Level(80.0)),
        invented: true,
        maximum_above: None,
        hours: None,
        standpoint: Standpoint::default(),
    });
    for i in 1..=rooms {
        let limit = limit + 6.0 * scatter(seed ^ (500 + i as u64));
        building.targets.push(Target {
            room: RoomIndex(i),
            criterion: Criterion::LevelA(Level(limit)),
            text: format!("{limit:.0} dBA"),
            hours: None,
            standpoint: Standpoint::default(),
        });
    }
    building
}

/// The same house with every wall between the loud room and a quiet one, so that several walls
/// share what each quiet room may hear.
#[allow(dead_code)]
pub fn shared(rooms: usize, elements: usize, choices: usize, seed: u64, limit: f64) -> Building {
    let mut building = house(rooms, elements, choices, seed, limit);
    for (e, wall) in building.boundaries.iter_mut().enumerate() {
        wall.rooms = [RoomIndex(0), RoomIndex(1 + e % rooms)];
    }
    building
}
