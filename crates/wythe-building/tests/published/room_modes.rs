//! Modes of rigid rectangular rooms, counted and smoothed (derived; c = 343 m/s). The formula is
//! printed in Kuttruff, Room Acoustics, and many handbooks.

use wythe_bands::{Hertz, Metre, Seconds};
use wythe_building::modes::{
    FieldTrust, list, modal_overlap, nearest_pitch, smoothed_count_of_box, spread_over_positions,
};

const TABLE: &str = include_str!("../data/building_mode_count_derived.csv");

#[test]
fn counted_and_smoothed() {
    let mut rows = 0;
    for line in TABLE.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let v: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let sides = [Metre(v[0]), Metre(v[1]), Metre(v[2])];
        let modes = list(sides, Hertz(v[3]), 343.0).unwrap();
        assert_eq!(modes.len() as f64, v[4], "{line}");
        let smooth = smoothed_count_of_box(sides, Hertz(v[3]), 343.0).unwrap();
        assert!((smooth - v[5]).abs() <= 0.005_01, "{line}: {smooth}");
        rows += 1;
    }
    assert_eq!(rows, 14);
}

#[test]
fn a_small_room_of_30_m3() {
    // 4 × 3 × 2.5 m, T = 0.35 s: f_S = 2000 √(T/V) = 216 Hz, and only 8 modes below 100 Hz.
    let f_s = 2000.0 * (0.35f64 / 30.0).sqrt();
    assert!((f_s - 216.0).abs() < 0.5);
    let modes = list([Metre(4.0), Metre(3.0), Metre(2.5)], Hertz(100.0), 343.0).unwrap();
    assert_eq!(modes.len(), 8);
    // First along the longest side: 343/8 = 42.875 Hz, near F1 (43.65 Hz), 31 cents below.
    assert_eq!(modes[0].order, [1, 0, 0]);
    assert!((modes[0].frequency.0 - 42.875).abs() < 1e-9);
    assert_eq!(nearest_pitch(modes[0].frequency), Some(("F1".to_owned(), -31)));
    assert_eq!(nearest_pitch(Hertz(440.0)), Some(("A4".to_owned(), 0)));
    assert_eq!(nearest_pitch(Hertz(261.626)), Some(("C4".to_owned(), 0)));
}

#[test]
fn spread_over_positions_has_both_limits() {
    // A pure tone in a diffuse field: 5.57 dB. Wide band: 11.4/√(BT) (Schroeder 1969, from
    // memory; both derived).
    let t = Seconds(0.5);
    assert!((spread_over_positions(Hertz(0.0), t).0 - 5.57).abs() < 1e-12);
    let wide = spread_over_positions(Hertz(1e6), t).0;
    assert!((wide / (11.4 / 5e5f64.sqrt()) - 1.0).abs() < 0.005, "{wide}");
}

#[test]
fn overlap_and_trust() {
    // M = 2.2 n/T; at f_S = 2000 √(T/V) the leading term 4πV f²/c³ gives M ≈ 2.74 for any room
    // (Schroeder asked for three overlapping modes).
    let (v, t) = (50.0, 0.5f64);
    let f = 2000.0 * (t / v).sqrt();
    let density = 4.0 * std::f64::consts::PI * v * f * f / 343f64.powi(3);
    let overlap = modal_overlap(density, Seconds(t));
    assert!((overlap - 2.74).abs() < 0.01, "{overlap}");
    assert_eq!(FieldTrust::of(12.0, 1.5), FieldTrust::Diffuse);
    assert_eq!(FieldTrust::of(5.0, 0.7), FieldTrust::Indicative);
    assert_eq!(FieldTrust::of(1.0, 3.0), FieldTrust::OrderOnly);
}
