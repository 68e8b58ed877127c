//! Above the critical frequency, by Cremer's formula.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz, LevelDifference, SurfaceMass};

/// R = 20 lg(ωm/2ρc) + 10 lg(2η/π) + 10 lg(f/f_c − 1) for f > f_c; `None` at and below it.
///
/// Source: Cremer 1942 as in Norton & Karczub 2003, Eq. 3.110 (form from memory, confirmed by the
/// printed answer of problem 3.14).
pub fn above_coincidence(
    mass: SurfaceMass,
    critical: Hertz,
    loss: f64,
    frequency: Hertz,
    air: Air,
) -> Option<LevelDifference> {
    let r = frequency.0 / critical.0;
    (r > 1.0 && loss > 0.0).then(|| {
        LevelDifference(
            20.0 * (PI * frequency.0 * mass.0 / air.impedance()).log10()
                + 10.0 * (2.0 * loss / PI).log10()
                + 10.0 * (r - 1.0).log10(),
        )
    })
}
