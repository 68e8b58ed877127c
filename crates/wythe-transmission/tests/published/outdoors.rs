//! The outdoors as receiver and as source.

use wythe_bands::Band;
use wythe_building::RoomIndex;

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
    m.links[0].spread = Some(8.0 * std::f64::consts::PI * 100.0);
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
    m.links[0].spread = Some(100.0);
    let standard = r + 10.0 * (volume / (6.0 * 0.5 * s)).log10();
    let d = difference(&m, 0, 1);
    // 0.161 against 1/6.25 of the standard's rounding, and S/A beside.
    assert!((d - standard).abs() < 0.2, "{d} not {standard}");
    let all = m.all_energies();
    assert!((-10.0 * all[0][1][Band::HZ_1000.index()].log10() - d).abs() < 1e-9);
}
