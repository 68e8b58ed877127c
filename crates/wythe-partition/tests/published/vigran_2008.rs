//! Vigran 2008, worked example after Eq. 3.115, p. 96: a steel sheet, flat and corrugated.

use wythe_bands::{Metre, Pascal, SurfaceMass};
use wythe_partition::Corrugation;

use crate::examples;

fn sheet(height: f64) -> Corrugation {
    Corrugation {
        thickness: Metre(0.001),
        height: Metre(height),
        wavelength: Metre(0.1),
        young: Pascal(2.1e11),
        poisson: 0.3,
        flat_mass: SurfaceMass(7.8),
    }
}

#[test]
fn page_96_natural_frequencies_and_critical_frequency() {
    let one = Metre(1.0);
    for e in examples("vigran96") {
        let got = match e.id.as_str() {
            "vigran96_f11_flat_Hz" => sheet(0.0).mode(1.0, 1.0, one, one).0,
            "vigran96_f22_corrugated_Hz" => sheet(0.020).mode(2.0, 2.0, one, one).0,
            "vigran96_fc_flat" => sheet(0.0).critical(343.0).1.0,
            other => panic!("{other}"),
        };
        assert!((got - e.value()).abs() <= e.tolerance, "{}: {got}", e.id);
    }
}
