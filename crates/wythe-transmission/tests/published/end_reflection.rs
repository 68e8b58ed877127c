//! End reflection of openings.

use wythe_bands::{
    Air, Band, Hertz, Level, LevelDifference, Metre, Spectrum, SquareMetre, Standpoint,
};
use wythe_building::{Duct, DuctEnd, RoomIndex, Section};
use wythe_transmission::duct::{coupling, coupling_by_practice, end_reflection, noise_power};

use crate::rows;

fn circle(millimetres: f64) -> SquareMetre {
    SquareMetre(std::f64::consts::PI / 4.0 * (millimetres / 1000.0).powi(2))
}

#[test]
fn older_rounded_table() {
    // DIFFERS: the older table reads up to 2.8 dB lower for small ducts at 63 and 125 Hz; the
    // formula is preferred. At 500 and 1000 mm they agree within 0.4 dB and the rounding.
    let octaves = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0];
    for row in rows(include_str!("../data/building_end_reflection_legacy.csv")) {
        let v: Vec<f64> = row.iter().map(|c| c.parse().unwrap()).collect();
        for (f, printed) in octaves.iter().zip(&v[1..]) {
            let er = end_reflection(circle(v[0]), true, Hertz(*f), Air::default());
            let slack = if v[0] >= 500.0 { 0.9 } else { 2.9 };
            assert!((er - printed).abs() < slack, "{} mm {f} Hz: {er} not {printed}", v[0]);
        }
    }
}

#[test]
fn equals_the_exact_baffled_piston() {
    // Power transmission of a plane wave at a piston in a baffle, T = 4R/((1 + R)² + X²) with
    // R = 1 − J₁(2ka)/ka and X = H₁(2ka)/ka (Rayleigh; series worked here). Within 0.25 dB from
    // 125 to 500 mm and 63 to 2000 Hz.
    let air = Air::default();
    for millimetres in [125.0, 250.0, 500.0] {
        for f in [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0] {
            let x = 2.0 * 2.0 * std::f64::consts::PI * f / air.sound_speed() * millimetres / 2000.0;
            let (r, i) = (1.0 - 2.0 * j1(x) / x, 2.0 * h1(x) / x);
            let exact = -10.0 * (4.0 * r / ((1.0 + r).powi(2) + i * i)).log10();
            let er = end_reflection(circle(millimetres), true, Hertz(f), air);
            assert!((er - exact).abs() < 0.25, "{millimetres} mm {f} Hz: {er} not {exact}");
        }
    }
}

/// Bessel function of the first kind by its integral.
fn j1(x: f64) -> f64 {
    let n = 20_000;
    (0..n)
        .map(|k| {
            let t = std::f64::consts::PI * (f64::from(k) + 0.5) / f64::from(n);
            (t - x * t.sin()).cos()
        })
        .sum::<f64>()
        / f64::from(n)
}

/// Struve function H₁ by its integral, 2x/π ∫ √(1 − t²) sin(xt) dt.
fn h1(x: f64) -> f64 {
    let n = 20_000;
    2.0 * x / std::f64::consts::PI
        * (0..n)
            .map(|k| {
                let t = (f64::from(k) + 0.5) / f64::from(n);
                (1.0 - t * t).sqrt() * (x * t).sin()
            })
            .sum::<f64>()
        / f64::from(n)
}

pub fn duct(diameter: f64, length: f64) -> Duct {
    let section = Section::Round { diameter: Metre(diameter) };
    let end = |room| DuctEnd { room: RoomIndex(room), opening: section.area(), flush: true };
    Duct {
        id: "duct".into(),
        title: None,
        ends: [end(0), end(1)],
        section,
        length: Metre(length),
        lined_length: Metre(0.0),
        lining: Metre(0.0),
        elbows: Vec::new(),
        splits: Vec::new(),
        silencer: None,
        noise: [None, None],
        stream: None,
        wall: None,
        through: Vec::new(),
        standpoint: Standpoint::default(),
    }
}

#[test]
fn crosstalk_against_the_sum_of_the_trade() {
    // Derived: for 250 mm ends the power-consistent form exceeds the sum of the trade by 8.9 dB
    // at 63 Hz, 8.4 at 125, 6.9 at 250, 3.5 at 500 and about nothing above.
    let air = Air::default();
    let (own, practice) =
        (coupling(&duct(0.25, 2.0), air), coupling_by_practice(&duct(0.25, 2.0), air));
    for (f, printed) in [("63", 8.9), ("125", 8.4), ("250", 6.9), ("500", 3.5), ("2000", 0.0)] {
        let b = Band::from_nominal(f).unwrap().index();
        let more = 10.0 * (own[b] / practice[b]).log10();
        assert!((more - printed).abs() < 0.35, "{f} Hz: {more} not {printed}");
    }
}

#[test]
fn a_small_opening_takes_in_eight_times_its_area_and_a_large_one_its_own() {
    // λ² T/π → 8 S as ka → 0, the factor of a small aperture; → S when many modes propagate. The
    // sum of the trade takes S throughout, so their ratio is what one end takes in.
    let air = Air::default();
    let ratio = |d: f64, b: usize| {
        coupling(&duct(d, 0.0), air)[b] / coupling_by_practice(&duct(d, 0.0), air)[b]
    };
    assert!((ratio(0.02, 0) - 8.0).abs() < 0.3, "{}", ratio(0.02, 0));
    let wide = coupling(&duct(1.0, 0.0), air)[27] / circle(1000.0).0;
    assert!((wide - 1.0).abs() < 0.01, "{wide}");
}

#[test]
fn silencers_and_noise_count_in_full() {
    let air = Air::default();
    let mut with = duct(0.25, 2.0);
    let loss: Spectrum<LevelDifference> = Spectrum::from_fn(|_| LevelDifference(17.0));
    with.silencer = Some(loss);
    let (a, b) = (coupling(&duct(0.25, 2.0), air), coupling(&with, air));
    assert!(a.iter().zip(&b).all(|(a, b)| (10.0 * (a / b).log10() - 17.0).abs() < 1e-9));
    with.noise[1] = Some(Spectrum::from_fn(|_| Level(50.0)));
    let power = noise_power(&with, 1, air).unwrap();
    let er = end_reflection(circle(250.0), true, Band::HZ_125.centre(), air);
    assert!((power.get(Band::HZ_125).unwrap().0 - (50.0 - er)).abs() < 1e-12);
    assert!(noise_power(&with, 0, air).is_none());
}
