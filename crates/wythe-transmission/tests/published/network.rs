//! The power balance against worked numbers.

use wythe_bands::Band;
use wythe_building::{BoundaryIndex, RoomIndex};
use wythe_transmission::{BANDS, Link, LinkKind, Model};

/// A model of rooms with flat absorption and links of flat S and R.
pub fn model(absorption: &[f64], links: &[(usize, usize, f64, f64)]) -> Model {
    Model {
        rooms: absorption.len(),
        outdoors: vec![false; absorption.len()],
        absorption: absorption.iter().map(|&a| [a; BANDS]).collect(),
        absorption_spread: vec![0.0; absorption.len()],
        absorption_deviation: Vec::new(),
        modal: vec![[0.0; BANDS]; absorption.len()],
        links: links
            .iter()
            .enumerate()
            .map(|(n, &(i, j, area, r))| Link {
                id: format!("link {n}"),
                title: format!("link {n}"),
                kind: LinkKind::Direct,
                rooms: [RoomIndex(i), RoomIndex(j)],
                boundary: BoundaryIndex(n),
                coupling: [area * 10f64.powf(-r / 10.0); BANDS],
                deviation: [1.0; BANDS],
                group: n,
                spread: None,
            })
            .collect(),
        groups: Vec::new(),
        remarks: Vec::new(),
    }
}

/// Level at 1 kHz in every room from L_W = 100 dB in the first: the source room's own level
/// from the balance of power, the others by difference.
fn levels(model: &Model) -> Vec<f64> {
    let b = Band::HZ_1000.index();
    let field = model.from_source(RoomIndex(0));
    let x: Vec<f64> = (0..model.rooms)
        .map(|r| match field.at(RoomIndex(r)) {
            None => 1.0,
            Some(there) => 10f64.powf(-there.difference.get(Band::HZ_1000).unwrap().0 / 10.0),
        })
        .collect();
    // What goes in is swallowed somewhere: sum of A x = 4 rho c W, rho c = 413.
    let swallowed: f64 = (0..model.rooms).map(|r| model.absorption[r][b] * x[r]).sum();
    let scale = 4.0 * 413.0 * 0.01 / (20e-6f64).powi(2) / swallowed;
    x.iter().map(|v| 10.0 * (v * scale).log10()).collect()
}

#[test]
fn building_network_derived() {
    // Derived power balance, L_W = 100 dB, rho c = 413; independently checked against the closed
    // two-room formula (tests/data/building_network_derived.csv).
    let table = include_str!("../data/building_network_derived.csv");
    let lock = |first: f64, second: f64| {
        model(&[15.0, 2.0, 12.0], &[(0, 1, 1.9, first), (1, 2, 1.9, second), (0, 2, 10.0, 50.0)])
    };
    let mut checked = 0;
    for line in table.lines().filter(|l| !l.starts_with(['#']) && !l.starts_with("case")) {
        let mut cells = line.split(',');
        let (case, room, printed) =
            (cells.next().unwrap(), cells.next().unwrap(), cells.next().unwrap());
        let network = match case {
            "two_rooms" => model(&[12.0, 8.0], &[(0, 1, 10.0, 45.0)]),
            "lock_both_closed" => lock(28.0, 28.0),
            "lock_first_open" => lock(0.0, 28.0),
            "lock_second_open" => lock(28.0, 0.0),
            "lock_both_open" => lock(0.0, 0.0),
            other => panic!("unknown case {other}"),
        };
        let computed = levels(&network)[room.parse::<usize>().unwrap()];
        let printed: f64 = printed.parse().unwrap();
        assert!((computed - printed).abs() < 0.0006, "{case} {room}: {computed} not {printed}");
        checked += 1;
    }
    assert!(checked >= 14);
}

#[test]
fn two_room_noise_reduction_of_an_education_page() {
    // NR = TL − 10 lg(S/A): TL 45, S 15, A 30 gives 48.01 dB (worked number on a public
    // education page). The balance adds 10 lg(1 + G/A), here 0.00007 dB.
    let network = model(&[10.0, 30.0], &[(0, 1, 15.0, 45.0)]);
    let field = network.from_source(RoomIndex(0));
    let d = field.at(RoomIndex(1)).unwrap().difference.get(Band::HZ_1000).unwrap().0;
    assert!((d - 48.01).abs() < 0.01, "{d}");
}

#[test]
fn sound_lock_gains_three_decibels_per_doubling_of_its_absorption() {
    // Derived: D = R1 + R2 + 10 lg(A_v/S) + 10 lg(A_3/S); 58.3 61.2 64.2 67.2 70.3 dB.
    for (a, printed) in [(0.5, 58.3), (1.0, 61.2), (2.0, 64.2), (4.0, 67.2), (8.0, 70.3)] {
        let network = model(&[15.0, a, 12.0], &[(0, 1, 1.9, 28.0), (1, 2, 1.9, 28.0)]);
        let field = network.from_source(RoomIndex(0));
        let d = field.at(RoomIndex(2)).unwrap().difference.get(Band::HZ_1000).unwrap().0;
        assert!((d - printed).abs() < 0.06, "{a}: {d}");
    }
}
