//! Long 2014, Table 9.1 (f_c·h, 10 % spread) and Eq. 9.42.

use wythe_bands::Metre;
use wythe_partition::catalogue;

use crate::examples;

#[test]
fn table_9_1_critical_frequency_times_thickness() {
    for e in examples("long_t91") {
        let names: &[&str] = match e.id.trim_start_matches("long_t91_") {
            "steel" => &["steel sheet"],
            "aluminium" => &["aluminium sheet"],
            "glass" => &["glass"],
            "gypsum_board" => &["gypsum board"],
            // One row of the book for both; bricks differ more than its 10 % (22 here, from
            // Hopkins and Mechel).
            "plywood_or_brick" => &["plywood", "brick"],
            "lead" => &["lead sheet"],
            other => panic!("{other}"),
        };
        for name in names {
            let ours = catalogue().material(name).unwrap().fc_times_h;
            assert!((ours - e.value()).abs() <= e.tolerance * 1.0001, "{name}: {ours}");
        }
    }
}

#[test]
fn equation_9_42_diffuse_mass_air_mass_resonance() {
    // f = (1/2π) √(3.6 ρc²/(m′d)), m′ = 2m₁m₂/(m₁ + m₂): √1.8 above the normal-incidence value.
    let e = &examples("long_942")[0];
    let m = catalogue().material("gypsum board").unwrap().density.0 * Metre(0.016).0;
    let d = 0.09;
    let rho_c2 = 1.204 * 343.2f64.powi(2);
    let f = (3.6 * rho_c2 / (m * d)).sqrt() / (2.0 * std::f64::consts::PI);
    // The book does not print the board's mass; with ours, 11.2 kg/m², 113 Hz would come out of
    // m′ as written. Its 66 Hz needs the normal-incidence form without the factor of two in m′:
    // DIFFERS: our resonance is the textbook f₀ = 60 √((m₁ + m₂)/(m₁m₂d)), 84 Hz.
    let f0 = 60.0 * (2.0 / (m * d)).sqrt();
    assert!((f / f0 / 1.8f64.sqrt() - 1.0).abs() < 0.01, "{f} {f0}");
    assert!(f > e.value(), "{f}");
}
