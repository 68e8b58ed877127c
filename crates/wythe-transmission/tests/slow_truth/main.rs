//! The fast answers against obvious slow twins.

use nalgebra::{DMatrix, DVector};
use wythe_bands::Band;
use wythe_building::{BoundaryIndex, RoomIndex};
use wythe_transmission::{BANDS, Link, LinkKind, Model};

/// A generator of uniform numbers, small and repeatable (Numerical constants of a 64-bit
/// multiplicative congruence, Knuth).
struct Random(u64);

impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }
    /// Normal by twelve uniforms: good to three standard deviations.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn any_model(random: &mut Random, rooms: usize, spread: f64) -> Model {
    let mut links = Vec::new();
    for i in 0..rooms {
        for j in i + 1..rooms {
            for p in 0..2 {
                if random.uniform() < 0.25 {
                    continue;
                }
                let g = 12.0 * 10f64.powf(-random.between(25.0, 60.0) / 10.0);
                links.push(Link {
                    id: format!("{i}-{j}-{p}"),
                    title: String::new(),
                    kind: LinkKind::Direct,
                    rooms: [RoomIndex(i), RoomIndex(j)],
                    boundary: BoundaryIndex(links.len()),
                    coupling: [g; BANDS],
                    deviation: [spread; BANDS],
                    group: links.len() / 2,
                    spread: None,
                });
            }
        }
    }
    links.push(Link {
        id: "shaken".into(),
        title: String::new(),
        kind: LinkKind::StructureBorne,
        rooms: [RoomIndex(0), RoomIndex(1)],
        boundary: Link::OF_NO_BOUNDARY,
        coupling: [1e-5; BANDS],
        deviation: [spread; BANDS],
        group: links.len(),
        spread: None,
    });
    Model {
        rooms,
        outdoors: vec![false; rooms],
        absorption: (0..rooms).map(|_| [random.between(4.0, 20.0); BANDS]).collect(),
        absorption_spread: vec![0.1; rooms],
        absorption_deviation: vec![[0.1; BANDS]; rooms],
        modal: vec![[0.0; BANDS]; rooms],
        links,
        groups: Vec::new(),
        remarks: Vec::new(),
    }
}

/// Levels with the source room at one, by elimination over the receiving rooms alone.
fn solved(model: &Model) -> Vec<f64> {
    let n = model.rooms;
    let b = Band::HZ_500.index();
    let mut m = DMatrix::<f64>::zeros(n - 1, n - 1);
    let mut right = DVector::<f64>::zeros(n - 1);
    for r in 1..n {
        m[(r - 1, r - 1)] += model.absorption[r][b];
    }
    for link in &model.links {
        let [i, j] = link.rooms.map(|r| r.0);
        let g = link.coupling[b];
        if link.kind == LinkKind::StructureBorne {
            right[j - 1] += g;
            continue;
        }
        for (here, there) in [(i, j), (j, i)] {
            if here == 0 {
                continue;
            }
            m[(here - 1, here - 1)] += g;
            if there == 0 {
                right[here - 1] += g;
            } else {
                m[(here - 1, there - 1)] -= g;
            }
        }
    }
    let x = m.lu().solve(&right).expect("a balance can be solved");
    std::iter::once(1.0).chain(x.iter().copied()).collect()
}

#[test]
fn levels_by_elimination() {
    let mut random = Random(7);
    // Large buildings are inverted band by band, small ones all bands together.
    for rooms in [2, 3, 60].into_iter().chain(std::iter::repeat_n(6, 30)) {
        let model = any_model(&mut random, rooms, 2.0);
        let x = solved(&model);
        let field = model.from_source(RoomIndex(0));
        let all = model.all_energies();
        for there in &field.receivers {
            let d = there.difference.get(Band::HZ_500).expect("something arrives").0;
            assert!((d + 10.0 * x[there.room.0].log10()).abs() < 1e-9);
            let one = all[0][there.room.0][Band::HZ_500.index()];
            assert!((one / x[there.room.0] - 1.0).abs() < 1e-10);
        }
    }
}

/// Energy in each room after each number of steps of a walk, walked link by link: power leaves a
/// room by absorption or by a link in proportion to their areas. Returns the energy at the
/// receiver by the set of sequences without loops that remain when echoes are struck out.
fn walked(model: &Model, receiver: usize) -> Vec<(Vec<usize>, f64)> {
    let b = Band::HZ_500.index();
    let n = model.rooms;
    let loss: Vec<f64> = (0..n)
        .map(|r| {
            model.absorption[r][b]
                + model
                    .links
                    .iter()
                    .filter(|l| l.kind != LinkKind::StructureBorne)
                    .filter(|l| l.rooms.iter().any(|v| v.0 == r))
                    .map(|l| l.coupling[b])
                    .sum::<f64>()
        })
        .collect();
    // Power on a sequence of links (rooms visited once); walks that come back to a room of the
    // sequence are cut back to it, which is what "echoes sit in the step" means.
    let mut standing: std::collections::BTreeMap<(Vec<usize>, Vec<usize>), f64> =
        [((vec![0], vec![]), 1.0)].into_iter().collect();
    let mut arrived: std::collections::BTreeMap<Vec<usize>, f64> =
        std::collections::BTreeMap::new();
    for step in 0..60 {
        let mut next = std::collections::BTreeMap::new();
        for ((rooms, links), power) in &standing {
            let here = rooms[rooms.len() - 1];
            for (index, link) in model.links.iter().enumerate() {
                let [i, j] = link.rooms.map(|r| r.0);
                let to = match (i == here, j == here) {
                    (true, _) => j,
                    (_, true) if link.kind != LinkKind::StructureBorne => i,
                    _ => continue,
                };
                // The source room is held at one: it sends at every moment, so nothing that
                // comes back to it counts again.
                if to == 0 || (link.kind == LinkKind::StructureBorne && here != 0) {
                    continue;
                }
                let share = if here == 0 && step == 0 {
                    link.coupling[b]
                } else {
                    link.coupling[b] / loss[here]
                };
                let (mut r, mut l) = (rooms.clone(), links.clone());
                match r.iter().position(|v| *v == to) {
                    Some(k) => {
                        r.truncate(k + 1);
                        l.truncate(k);
                    }
                    None => {
                        r.push(to);
                        l.push(index);
                    }
                }
                let moved = power * share;
                if to == receiver {
                    *arrived.entry(l.clone()).or_insert(0.0) += moved / loss[to];
                }
                if moved > 1e-16 {
                    *next.entry((r, l)).or_insert(0.0) += moved;
                }
            }
        }
        standing = next;
    }
    arrived.into_iter().collect()
}

#[test]
fn ways_by_walking() {
    let mut random = Random(11);
    for _ in 0..6 {
        let model = any_model(&mut random, 4, 2.0);
        let field = model.from_source(RoomIndex(0));
        for there in &field.receivers {
            let walked = walked(&model, there.room.0);
            let total: f64 = walked.iter().map(|(_, x)| x).sum();
            let b = Band::HZ_500.index();
            let x = 10f64.powf(-there.difference.get(Band::HZ_500).expect("arrives").0 / 10.0);
            assert!((total / x - 1.0).abs() < 1e-6, "{total} {x}");
            for (links, energy) in &walked {
                let share = energy / total;
                let listed = there.ways.iter().find(|w| &w.links == links).map(|w| w.share[b]);
                match listed {
                    Some(listed) => {
                        assert!((listed - share).abs() < 1e-6, "{links:?} {listed} {share}")
                    }
                    None => assert!(share < 0.0051, "{links:?} has {share} and is not listed"),
                }
            }
        }
    }
}

#[test]
fn deviation_by_drawing() {
    // The stated first-order deviation against 6000 drawn buildings: groups of links move
    // together, groups and absorptions apart. Deviations up to 2 dB, where the level is nearly
    // linear in them; within 6 % of each other, of which 1 % is the draw.
    let mut random = Random(23);
    for _ in 0..4 {
        let model = any_model(&mut random, 5, 1.2);
        let field = model.from_source(RoomIndex(0));
        let groups = model.links.iter().map(|l| l.group + 1).max().unwrap_or(0);
        let mut sums = vec![(0.0, 0.0); model.rooms];
        let draws = 6000;
        for _ in 0..draws {
            let moves: Vec<f64> = (0..groups).map(|_| random.normal()).collect();
            let mut drawn = model.clone();
            for link in &mut drawn.links {
                let by = 10f64.powf(moves[link.group] * link.deviation[0] / 10.0);
                link.coupling = link.coupling.map(|g| g * by);
            }
            for (i, a) in drawn.absorption.iter_mut().enumerate() {
                let by = (model.absorption_deviation[i][0] * random.normal()).exp();
                *a = a.map(|v| v * by);
            }
            for (sum, x) in sums.iter_mut().zip(solved(&drawn)) {
                let level = 10.0 * x.log10();
                sum.0 += level;
                sum.1 += level * level;
            }
        }
        for there in &field.receivers {
            let (s, q) = sums[there.room.0];
            let mean = s / f64::from(draws);
            let drawn = (q / f64::from(draws) - mean * mean).sqrt();
            let stated = there.deviation.get(Band::HZ_500).expect("arrives").0;
            assert!((stated / drawn - 1.0).abs() < 0.06, "{stated} dB stated, {drawn} dB drawn");
        }
    }
}

#[test]
fn of_many_parallel_ways_the_greatest_are_listed_and_the_rest_is_what_is_left() {
    // A hundred links between two rooms, none below half a percent, in no order.
    let mut model = any_model(&mut Random(3), 2, 1.0);
    let pattern = model.links.remove(0);
    let size = |n: usize| 100.0 + ((n * 37) % 100) as f64;
    model.links = (0..100)
        .map(|n| Link { id: n.to_string(), coupling: [1e-7 * size(n); BANDS], ..pattern.clone() })
        .collect();
    let total: f64 = (0..100).map(size).sum();
    let [shares] = &model.shares(&[RoomIndex(0)])[..] else { panic!("one source") };
    let ways: Vec<(usize, f64)> =
        shares.ways_to(RoomIndex(1)).map(|(links, _, share)| (links[0], share[5])).collect();
    let mut slow: Vec<usize> = (0..100).collect();
    slow.sort_by(|a, b| size(*b).total_cmp(&size(*a)));
    assert_eq!(ways.iter().map(|w| w.0).collect::<Vec<_>>(), slow[..ways.len()]);
    assert_eq!(ways.len(), 40);
    for (link, share) in &ways {
        assert!((share - size(*link) / total).abs() < 1e-12);
    }
    let left = 1.0 - ways.iter().map(|w| w.1).sum::<f64>();
    assert!((shares.rest(RoomIndex(1))[5] - left).abs() < 1e-12);
}
