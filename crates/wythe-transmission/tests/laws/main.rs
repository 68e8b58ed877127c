//! What must hold for any building.

mod buildings;
mod fabric;

use proptest::prelude::*;
use wythe_bands::Band;
use wythe_building::{BoundaryIndex, RoomIndex};
use wythe_transmission::{BANDS, Link, LinkKind, Model};

/// Any building of three to seven rooms, the last of them sometimes outdoors.
fn any_model() -> impl Strategy<Value = Model> {
    (3usize..7, any::<bool>()).prop_flat_map(|(n, outdoors)| {
        let absorption = prop::collection::vec(0.5f64..40.0, n);
        let links = prop::collection::vec((0..n, 0..n, 0.1f64..20.0, 0.0f64..70.0), 2..14);
        (absorption, links).prop_map(move |(absorption, links)| {
            let mut model = Model {
                rooms: n,
                outdoors: vec![false; n],
                absorption: absorption.iter().map(|&a| [a; BANDS]).collect(),
                absorption_spread: vec![0.1; n],
                absorption_deviation: Vec::new(),
                modal: vec![[0.0; BANDS]; n],
                links: Vec::new(),
                groups: Vec::new(),
                remarks: Vec::new(),
            };
            if outdoors {
                model.outdoors[n - 1] = true;
            }
            for (i, j, s, r) in links.into_iter().filter(|(i, j, ..)| i != j) {
                push(&mut model, i, j, s * 10f64.powf(-r / 10.0));
            }
            model
        })
    })
}

fn push(model: &mut Model, i: usize, j: usize, coupling: f64) {
    let n = model.links.len();
    let spread =
        (model.outdoors[i] || model.outdoors[j]).then(|| wythe_transmission::Outdoors::over(100.0));
    model.links.push(Link {
        id: format!("link {n}"),
        title: format!("link {n}"),
        kind: LinkKind::Direct,
        rooms: [RoomIndex(i), RoomIndex(j)],
        boundary: BoundaryIndex(n),
        coupling: [coupling; BANDS],
        deviation: [2.0; BANDS],
        group: n,
        spread,
    });
}

/// Energy in a room with the source room at one; none where nothing arrives.
fn energy(model: &Model, from: usize, to: usize) -> f64 {
    let field = model.from_source(RoomIndex(from));
    field
        .at(RoomIndex(to))
        .and_then(|r| r.difference.get(Band::HZ_500))
        .map_or(0.0, |d| 10f64.powf(-d.0 / 10.0))
}

proptest! {
    #[test]
    fn shares_of_all_ways_add_up_to_the_whole(model in any_model()) {
        let field = model.from_source(RoomIndex(0));
        for there in &field.receivers {
            for band in there.difference.iter().map(|(b, _)| b.index()) {
                let sum: f64 = there.ways.iter().map(|w| w.share[band]).sum();
                prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
                prop_assert!(there.ways.iter().all(|w| w.share[band] >= 0.0));
            }
        }
    }

    #[test]
    fn power_transfer_is_the_same_both_ways(model in any_model()) {
        // x_j per unit of power in i equals x_i per unit of power in j. With levels normalised
        // to the source room, power is what all rooms and the outdoors swallow.
        let power = |from: usize| -> f64 {
            let b = Band::HZ_500.index();
            let swallowed: f64 = (0..model.rooms)
                .filter(|&r| !model.outdoors[r])
                .map(|r| model.absorption[r][b] * if r == from { 1.0 } else { energy(&model, from, r) })
                .sum();
            let lost: f64 = model.links.iter().filter(|l| l.spread.is_some()).map(|l| {
                let inside = l.rooms.iter().map(|r| r.0).find(|&r| !model.outdoors[r]);
                inside.map_or(0.0, |r| l.coupling[b] * if r == from { 1.0 } else { energy(&model, from, r) })
            }).sum();
            swallowed + lost
        };
        prop_assume!(!model.outdoors[1]);
        let (there, back) = (energy(&model, 0, 1) / power(0), energy(&model, 1, 0) / power(1));
        prop_assert!((there - back).abs() <= 1e-9 * there.max(back).max(1e-300), "{there} {back}");
    }

    #[test]
    fn closing_a_link_never_raises_a_level_beyond_it(model in any_model(), which in 0usize..14, db in 0.1f64..30.0) {
        // Holding the source room's level, a tighter link cannot bring more anywhere that
        // all sound reaches through it; for any graph the directly connected far side of a
        // source-side link is such a place.
        prop_assume!(!model.links.is_empty());
        let which = which % model.links.len();
        let rooms = model.links[which].rooms.map(|r| r.0);
        prop_assume!(rooms.contains(&0));
        let mut closed = model.clone();
        for g in &mut closed.links[which].coupling { *g *= 10f64.powf(-db / 10.0); }
        for r in 1..model.rooms {
            prop_assert!(energy(&closed, 0, r) <= energy(&model, 0, r) * (1.0 + 1e-9));
        }
    }

    #[test]
    fn absorption_never_raises_a_level(model in any_model(), room in 0usize..7, more in 0.1f64..20.0) {
        let room = room % model.rooms;
        let mut softer = model.clone();
        for a in &mut softer.absorption[room] { *a += more; }
        for r in 1..model.rooms {
            prop_assert!(energy(&softer, 0, r) <= energy(&model, 0, r) * (1.0 + 1e-9));
        }
    }

    #[test]
    fn adding_a_way_never_lowers_a_level_it_leads_away_from_no_room(
        model in any_model(), into in 1usize..7, s in 1e-9f64..1.0,
    ) {
        // A way out of the source room, whose level is held, and one through the structure.
        let into = 1 + (into - 1) % (model.rooms - 1);
        prop_assume!(!model.outdoors[into]);
        let mut more = model.clone();
        push(&mut more, 0, into, s);
        let mut shaken = model.clone();
        push(&mut shaken, 0, into, s);
        shaken.links.last_mut().unwrap().kind = LinkKind::StructureBorne;
        for r in 1..model.rooms {
            let before = energy(&model, 0, r);
            prop_assert!(energy(&more, 0, r) >= before * (1.0 - 1e-9));
            prop_assert!(energy(&shaken, 0, r) >= before * (1.0 - 1e-9));
        }
    }

    #[test]
    fn what_goes_through_the_structure_goes_one_way_and_costs_nothing(
        model in any_model(), into in 1usize..7, s in 1e-9f64..1.0,
    ) {
        let into = 1 + (into - 1) % (model.rooms - 1);
        prop_assume!(!model.outdoors[into]);
        let mut shaken = model.clone();
        push(&mut shaken, 0, into, s);
        shaken.links.last_mut().unwrap().kind = LinkKind::StructureBorne;
        // From any other room nothing changes.
        for from in (1..model.rooms).filter(|&f| !model.outdoors[f]) {
            for to in (0..model.rooms).filter(|&t| t != from) {
                prop_assert_eq!(energy(&model, from, to), energy(&shaken, from, to));
            }
        }
        // The balance of every receiver holds with the power brought in beside.
        let field = shaken.from_source(RoomIndex(0));
        for there in &field.receivers {
            for band in there.difference.iter().map(|(b, _)| b.index()) {
                let sum: f64 = there.ways.iter().map(|w| w.share[band]).sum();
                prop_assert!((sum - 1.0).abs() < 1e-9, "{sum}");
            }
        }
        let all = shaken.all_energies();
        for r in 1..model.rooms {
            let (a, b) = (all[0][r][Band::HZ_500.index()], energy(&shaken, 0, r));
            prop_assert!((a - b).abs() <= 1e-9 * a.max(b), "{a} {b}");
        }
    }

    #[test]
    fn power_is_kept(model in any_model()) {
        // In every receiving room: what comes in is what it swallows and lets out.
        let b = Band::HZ_500.index();
        let x: Vec<f64> = (0..model.rooms)
            .map(|r| if r == 0 { 1.0 } else if model.outdoors[r] { 0.0 } else { energy(&model, 0, r) })
            .collect();
        for r in (1..model.rooms).filter(|&r| !model.outdoors[r]) {
            let mut balance = model.absorption[r][b] * x[r];
            let mut size = balance;
            for link in model.links.iter().filter(|l| l.rooms.iter().any(|v| v.0 == r)) {
                let other = if link.rooms[0].0 == r { link.rooms[1].0 } else { link.rooms[0].0 };
                balance += link.coupling[b] * (x[r] - x[other]);
                size += link.coupling[b] * (x[r] + x[other]);
            }
            prop_assert!(balance.abs() <= 1e-9 * size.max(1e-300), "{balance} of {size}");
        }
    }

    #[test]
    fn a_source_outdoors_brings_what_its_walls_let_in(model in any_model()) {
        prop_assume!(model.outdoors[model.rooms - 1]);
        let out = model.rooms - 1;
        let field = model.from_source(RoomIndex(out));
        let all = model.all_energies();
        for there in field.receivers.iter().filter(|t| t.room.0 != out) {
            for (band, d) in there.difference.iter() {
                let x = 10f64.powf(-d.0 / 10.0);
                prop_assert!((all[out][there.room.0][band.index()] / x - 1.0).abs() < 1e-9);
                let sum: f64 = there.ways.iter().map(|w| w.share[band.index()]).sum();
                prop_assert!((sum - 1.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn several_sources_at_once_are_each_alone(model in any_model()) {
        let sources: Vec<RoomIndex> =
            (0..model.rooms).filter(|&r| !model.outdoors[r]).map(RoomIndex).collect();
        for (field, source) in model.from_sources(&sources).iter().zip(&sources) {
            let alone = model.from_source(*source);
            for (a, b) in field.receivers.iter().zip(&alone.receivers) {
                for (band, d) in a.difference.iter() {
                    prop_assert!((d.0 - b.difference.get(band).unwrap().0).abs() < 1e-9);
                }
                // Shares near the limit of listing may fall on either side of it.
                for (band, _) in a.difference.iter() {
                    let sum: f64 = a.ways.iter().map(|w| w.share[band.index()]).sum();
                    prop_assert!((sum - 1.0).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn one_inverse_is_the_whole_answer(model in any_model()) {
        let all = model.all_energies();
        for s in (0..model.rooms).filter(|&s| !model.outdoors[s]) {
            for r in (0..model.rooms).filter(|&r| r != s) {
                let (a, b) = (all[s][r][Band::HZ_500.index()], energy(&model, s, r));
                prop_assert!((a - b).abs() <= 1e-9 * a.max(b), "{a} {b}");
            }
        }
    }

    #[test]
    fn order_of_rooms_does_not_matter(model in any_model()) {
        let n = model.rooms;
        let turn = |r: usize| (r + 1) % n;
        let mut turned = model.clone();
        for r in 0..n {
            turned.outdoors[turn(r)] = model.outdoors[r];
            turned.absorption[turn(r)] = model.absorption[r];
        }
        for link in &mut turned.links { link.rooms = link.rooms.map(|r| RoomIndex(turn(r.0))); }
        for r in 1..n {
            let (a, b) = (energy(&model, 0, r), energy(&turned, turn(0), turn(r)));
            prop_assert!((a - b).abs() <= 1e-9 * a.max(1e-300));
        }
    }

    #[test]
    fn sensitivity_is_the_change_of_level(model in any_model(), which in 0usize..14) {
        prop_assume!(!model.links.is_empty());
        let which = which % model.links.len();
        let mut more = model.clone();
        for g in &mut more.links[which].coupling { *g *= 1.0 + 1e-6; }
        let field = model.from_source(RoomIndex(0));
        for there in &field.receivers {
            let before = energy(&model, 0, there.room.0);
            if before <= 0.0 { continue; }
            let after = energy(&more, 0, there.room.0);
            let slope = (after / before - 1.0) / 1e-6;
            let stated = there.sensitivity.iter().find(|s| s.link == which)
                .map_or(0.0, |s| s.per_band[Band::HZ_500.index()]);
            prop_assert!((slope - stated).abs() < 1e-3, "{slope} {stated}");
        }
    }
}
