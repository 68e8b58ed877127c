//! Hopkins 2007, Table A2: h·f_c from the plate's longitudinal speed.

use std::f64::consts::PI;

use wythe_partition::catalogue;

use crate::examples;

#[test]
fn table_a2_from_longitudinal_speed() {
    for e in examples("hopkins_a2") {
        // h f_c = c₀² √12/(2π c_L), the relation our stiffness is built on.
        let h_fc = 343.0f64.powi(2) * 12f64.sqrt() / (2.0 * PI * e.input("longitudinal speed"));
        assert!((h_fc - e.value()).abs() <= e.tolerance, "{}: {h_fc}", e.id);
    }
}

#[test]
fn the_catalogue_takes_these_rows() {
    for (name, row) in [
        ("concrete", "hopkins_a2_concrete_in_situ"),
        ("aerated concrete", "hopkins_a2_aircrete"),
        ("glass", "hopkins_a2_glass"),
        ("steel sheet", "hopkins_a2_steel"),
    ] {
        let ours = catalogue().material(name).unwrap().fc_times_h;
        let printed = examples(row)[0].value();
        assert!((ours - printed).abs() < 0.06, "{name}: {ours} for {printed}");
    }
}
