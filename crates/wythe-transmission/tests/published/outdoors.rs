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
    let at = |z: f64, f: f64| wythe_transmission::screening(Metre(z), None, Hertz(f), 343.0);
    assert!((at(1.0, 343.0) - 13.62).abs() < 0.01);
    assert_eq!(at(5.0, 4000.0), 20.0);
    assert_eq!(at(f64::NAN, 500.0), at(0.0, 500.0));
}

#[test]
fn a_thick_screen_takes_off_up_to_five_decibels_more() {
    // ISO 9613-2, 7.4 (from memory): C3 goes from 1 for edges close together to 3 for edges many
    // wavelengths apart, which is 4.8 dB where the detour decides; the limits are 20 and 25 dB.
    let at = |z, e: Option<f64>, f| {
        wythe_transmission::screening(Metre(z), e.map(Metre), Hertz(f), 343.0)
    };
    assert!((at(0.5, Some(1e-3), 500.0) - at(0.5, None, 500.0)).abs() < 1e-3);
    let gain = at(2.0, Some(1000.0), 250.0) - at(2.0, None, 250.0);
    let (z, lambda) = (2.0f64, 343.0 / 250.0);
    let full = 10.0 * ((3.0 + 60.0 * z / lambda) / (3.0 + 20.0 * z / lambda)).log10();
    assert!((gain - full).abs() < 0.05, "{gain} {full}");
    assert_eq!(at(50.0, None, 4000.0), 20.0);
    assert_eq!(at(50.0, Some(10.0), 4000.0), 25.0);
    assert!(at(f64::NAN, Some(f64::NAN), 500.0).is_finite());
}

#[test]
fn ground_is_that_of_table_3() {
    use wythe_building::Ground;
    // ISO 9613-2, Table 3 (from memory), written out once more for 250 m, 2 m and 1.5 m.
    let d: f64 = 250.0;
    let e = |h: f64, a: f64| (-a * h * h).exp();
    let near = 1.0 - (-d / 50.0).exp();
    let soft = |h: f64| {
        [
            1.5 + 3.0 * (-0.12 * (h - 5.0) * (h - 5.0)).exp() * near
                + 5.7 * e(h, 0.09) * (1.0 - (-2.8e-6 * d * d).exp()),
            1.5 + 8.6 * e(h, 0.09) * near,
            1.5 + 14.0 * e(h, 0.46) * near,
            1.5 + 5.0 * e(h, 0.9) * near,
        ]
    };
    let q = 1.0 - 30.0 * 3.5 / d;
    let of = |share: f64, f: f64| {
        let ground = Ground { soft: share, heights: [Metre(2.0), Metre(1.5)] };
        wythe_transmission::ground(&ground, Metre(d), Hertz(1000.0 * 10f64.powf(0.3 * f)))
    };
    for (k, f) in [-3.0, -2.0, -1.0, 0.0].into_iter().enumerate() {
        let whole = -3.0 + soft(2.0)[k] + soft(1.5)[k];
        assert!((of(1.0, f) - whole).abs() < 1e-9, "octave {f}: {} {whole}", of(1.0, f));
        assert!((of(0.0, f) - (-3.0 - 3.0 * q)).abs() < 1e-9);
    }
    // The lowest octave does not know what the ground is; from 2 kHz soft ground does nothing.
    assert!((of(1.0, -4.0) - of(0.0, -4.0)).abs() < 1e-9);
    assert!(of(1.0, 2.0).abs() < 1e-9);
    // Soft ground takes most off where it is known to: between 250 and 500 Hz close to it.
    assert!(of(1.0, -1.0) > 3.0 && of(1.0, -1.0) > of(1.0, 1.0) + 3.0);
    for bad in [f64::NAN, -5.0, 1e12] {
        let ground = Ground { soft: bad, heights: [Metre(bad), Metre(1.0)] };
        assert!(wythe_transmission::ground(&ground, Metre(20.0), Hertz(500.0)).is_finite());
    }
}
