//! Bies, Hansen & Howard 2017, Eqs. 7.42, 7.59, 7.60 and Fig. 7.9b.

use wythe_bands::{Hertz, SurfaceMass};
use wythe_partition::{FIELD_CORRECTION_OCTAVES, FIELD_CORRECTION_THIRDS, orthotropic_closed_form};

use crate::examples;

#[test]
fn equation_7_42_field_corrections() {
    assert_eq!(examples("bies_742_third")[0].value(), FIELD_CORRECTION_THIRDS);
    assert_eq!(examples("bies_742_oct")[0].value(), FIELD_CORRECTION_OCTAVES);
}

#[test]
fn equation_7_60_far_above_both_critical_frequencies_and_point_d() {
    let (m, fc1, fc2) = (12.0f64, 150.0f64, 9000.0f64);
    let r = |f: f64| {
        orthotropic_closed_form(SurfaceMass(m), Hertz(fc1), Hertz(fc2), Hertz(f)).unwrap().0
    };
    let e = &examples("bies_760")[0];
    let f = 3.0 * fc2;
    let k = r(f) - 20.0 * f.log10() - 10.0 * m.log10() + 5.0 * (fc1.log10() + fc2.log10());
    assert!((k - e.value()).abs() <= e.tolerance, "{k}");
    let e = &examples("bies_79b_D")[0];
    let k = r(2.0 * fc2) - 10.0 * m.log10() - 15.0 * fc2.log10() + 5.0 * fc1.log10();
    assert!((k - e.value()).abs() <= e.tolerance, "{k}");
}
