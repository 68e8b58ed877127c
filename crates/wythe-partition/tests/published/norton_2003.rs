//! Norton & Karczub 2003, problems 3.11 and 3.14 and Table 3.1 (from a public transcription).

use wythe_bands::{Hertz, SurfaceMass};
use wythe_partition::{PLATEAUS, above_coincidence, field_mass_law, plateau_method};

use crate::{air, examples};

#[test]
fn problem_3_11_brick_by_the_plateau_method() {
    let brick = PLATEAUS.iter().find(|p| p.material == "brick").unwrap();
    let mass = SurfaceMass(110.0 * brick.mass_per_mm);
    for e in examples("norton_3_11") {
        let r = plateau_method(brick, mass, 5.0, Hertz(e.frequency), air(1.21, 343.0));
        assert!((r.0 - e.value()).abs() <= e.tolerance, "{}: {}", e.id, r.0);
    }
}

#[test]
fn problem_3_14_particleboard_below_and_above_coincidence() {
    let mass = SurfaceMass(0.020 * 750.0);
    let air = air(1.21, 343.0);
    for e in examples("norton_3_14") {
        let f = Hertz(e.frequency);
        let r = above_coincidence(mass, Hertz(4885.0), 0.0015, f, air)
            .unwrap_or_else(|| field_mass_law(mass, f, 5.0, air));
        assert!((r.0 - e.value()).abs() <= e.tolerance, "{}: {}", e.id, r.0);
    }
}

#[test]
fn table_3_1_constants() {
    for e in examples("norton_t31") {
        let name = e.id.trim_start_matches("norton_t31_");
        let p = PLATEAUS.iter().find(|p| p.material == name).unwrap();
        let printed: Vec<f64> = e.expected.split(';').map(|v| v.parse().unwrap()).collect();
        assert_eq!(vec![p.mass_per_mm, p.height, p.ratio], printed, "{name}");
    }
}
