//! Impact sound and mountings against handbook numbers.

use wythe_bands::{Air, Hertz, SurfaceMass};
use wythe_building::Mounting;
use wythe_partition::{as_one, spring_frequency};
use wythe_transmission::impact::{bare_plate, floating_layer, weighted_bare};

#[test]
fn weighted_level_of_160_mm_concrete() {
    // ISO 12354-2: 164 − 35 lg 368 = 74.2 dB.
    assert!((weighted_bare(SurfaceMass(368.0)).unwrap().0 - 74.2).abs() < 0.05);
    assert!(weighted_bare(SurfaceMass(90.0)).is_none());
    assert!(weighted_bare(SurfaceMass(f64::NAN)).is_none());
}

#[test]
fn banded_level_is_the_155_of_iso_12354_2() {
    // L_n = 155 − 30 lg m′ + 10 lg T_s + 10 lg σ + 10 lg(f/1000) for concrete (from memory): the
    // general formula meets its constant within 0.6 dB for c_L 3400 to 3800 m/s, σ = 1.
    let air = Air::default();
    for c_l in [3400.0, 3600.0, 3800.0f64] {
        let (mass, f) = (2300.0 * 0.16, 1250.0);
        let fc =
            12f64.sqrt() * air.sound_speed().powi(2) / (2.0 * std::f64::consts::PI * c_l * 0.16);
        let eta = 2.2 / (f * 0.2);
        let l = bare_plate(mass, fc, eta, 12.0, Hertz(f), air).0;
        let sigma = wythe_partition::free_radiation_factor(
            f,
            fc,
            12f64.sqrt(),
            12f64.sqrt(),
            air.sound_speed(),
        );
        let standard = 155.0 - 30.0 * mass.log10()
            + 10.0 * 0.2f64.log10()
            + 10.0 * sigma.log10()
            + 10.0 * (f / 1000.0).log10();
        assert!((l - standard).abs() < 0.6, "{c_l}: {l} not {standard}");
    }
}

#[test]
fn floating_screed_after_iso_12354_2() {
    // 30 lg(f/f₀) for a screed, 40 lg(f/f₀) for dry layers; held to 25 dB unless measured.
    let f0 = Hertz(50.0);
    assert!((floating_layer(Hertz(200.0), f0, false, false) - 30.0 * 4f64.log10()).abs() < 1e-12);
    assert!((floating_layer(Hertz(200.0), f0, true, false) - 40.0 * 4f64.log10()).abs() < 1e-12);
    assert_eq!(floating_layer(Hertz(5000.0), f0, false, false), 25.0);
    assert!((floating_layer(Hertz(5000.0), f0, false, true) - 60.0).abs() < 1e-9);
    assert!(floating_layer(f0, f0, false, false) < 0.0);
    assert_eq!(floating_layer(Hertz(20.0), f0, false, false), 0.0);
}

#[test]
fn transmissibility_of_25_mm_springs_at_25_hz() {
    // Worked case: 25 mm deflection, 25 Hz, ζ 0.05: T 0.0206, 97.9 %.
    let f0 = wythe_building::mounting::by_deflection(wythe_bands::Metre(0.025)).unwrap();
    let mount = Mounting { natural_frequency: f0, damping: 0.05, measured: false };
    let t = mount.transmissibility(Hertz(25.0));
    assert!((t - 0.0206).abs() < 0.0002, "{t}");
}

#[test]
fn two_close_doors() {
    // Double-leaf theory: 20 and 20 kg/m² 0.1 m apart: √(1.4e5 · 0.1/0.1)/2π = 59.5 Hz.
    assert!((spring_frequency(20.0, 20.0, 0.1) - 59.55).abs() < 0.01);
    // Below it both leaves act as one of twice the mass: 6 dB, not the sum.
    assert!((as_one(20.0, 20.0, 20.0, 20.0, 40.0, 59.55) - 26.02).abs() < 0.01);
    assert!(as_one(20.0, 20.0, 20.0, 20.0, 500.0, 59.55) <= 40.0);
}
