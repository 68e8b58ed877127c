//! The outdoors as receiver and as source.

use wythe_bands::{Band, Hertz, Metre};
use wythe_building::RoomIndex;
use wythe_transmission::Outdoors;

use crate::network::model;

fn difference(model: &wythe_transmission::Model, from: usize, to: usize) -> f64 {
    let field = model.from_source(RoomIndex(from));
    field.at(RoomIndex(to)).unwrap().difference.get(Band::HZ_1000).unwrap().0
}

#[test]
fn a_wall_heard_outdoors() {
    // L(r) = L_in − R + 10 lg S − 20 lg r − 14 (Parkin, Humphreys and Cowell, p. 238, as quoted):
    // S 10 m², R 45, r 10 m: 69 dB below the level inside.
    let mut m = model(&[12.0, 1.0], &[(0, 1, 10.0, 45.0)]);
    m.outdoors[1] = true;
    m.links[0].spread = Some(Outdoors::over(8.0 * std::f64::consts::PI * 100.0));
    let d = difference(&m, 0, 1);
    assert!((d - (45.0 - 10.0 + 20.0 + 14.0)).abs() < 0.05, "{d}");
}

#[test]
fn street_noise_in_a_room() {
    // ISO 12354-3 with a plane façade: D_2m,nT = R′ + 10 lg(V/(6 T₀ S)), T₀ = 0.5 s (from
    // memory). R′ 35, S 8 m², V 40 m³ at T = 0.5 s, so A = 0.16 V/T: 37.2 dB.
    let (volume, s, r) = (40.0f64, 8.0, 35.0);
    let a = 0.161 * volume / 0.5;
    let mut m = model(&[1.0, a], &[(0, 1, s, r)]);
    m.outdoors[0] = true;
    m.links[0].spread = Some(Outdoors::over(100.0));
    let standard = r + 10.0 * (volume / (6.0 * 0.5 * s)).log10();
    let d = difference(&m, 0, 1);
    // 0.161 against 1/6.25 of the standard's rounding, and S/A beside.
    assert!((d - standard).abs() < 0.2, "{d} not {standard}");
    let all = m.all_energies();
    assert!((-10.0 * all[0][1][Band::HZ_1000.index()].log10() - d).abs() < 1e-9);
}

#[test]
fn the_shape_of_a_facade_counts_for_what_comes_in_alone() {
    // D_2m,nT = R′ + ΔL_fs + …: 3 dB of shape are 3 dB (ISO 12354-3, from memory).
    let mut m = model(&[1.0, 12.0, 1.0], &[(0, 1, 8.0, 35.0), (1, 2, 8.0, 35.0)]);
    (m.outdoors[0], m.outdoors[2]) = (true, true);
    let plane = |inward: f64| Some(Box::new(Outdoors { inward, ..*Outdoors::over(100.0) }));
    (m.links[0].spread, m.links[1].spread) = (plane(1.0), plane(1.0));
    let before = (difference(&m, 0, 1), difference(&m, 1, 0), difference(&m, 0, 2));
    m.links[0].spread = plane(10f64.powf(-0.3));
    let after = (difference(&m, 0, 1), difference(&m, 1, 0), difference(&m, 0, 2));
    assert!((after.0 - before.0 - 3.0).abs() < 1e-9);
    assert!((after.1 - before.1).abs() < 1e-9);
    assert!((after.2 - before.2 - 3.0).abs() < 1e-9);
    let ways = m.from_source(RoomIndex(0)).at(RoomIndex(1)).unwrap().ways.clone();
    assert!((ways[0].share[Band::HZ_1000.index()] - 1.0).abs() < 1e-9);
}

#[test]
fn a_screen_by_its_detour() {
    // ISO 9613-2, from memory: z = 1 m at 343 Hz is 10 lg 23 = 13.6 dB; never more than 20.
    let at = |z: f64, f: f64| wythe_transmission::screening(Metre(z), Hertz(f), 343.0);
    assert!((at(1.0, 343.0) - 13.62).abs() < 0.01);
    assert_eq!(at(5.0, 4000.0), 20.0);
    assert_eq!(at(f64::NAN, 500.0), at(0.0, 500.0));
}
