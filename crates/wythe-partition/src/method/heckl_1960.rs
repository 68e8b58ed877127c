//! Corrugated and ribbed leaves, stiffer one way than the other, in closed form.

use wythe_bands::{Hertz, LevelDifference, SurfaceMass};

/// Reduction index of an orthotropic leaf with critical frequencies f_c1 < f_c2, in air of
/// ρc = 414 Pa·s/m.
///
///   f ≤ f_c1/2:           field mass law, 20 lg(f m) − 47
///   f_c1 … f_c2/2:        20 lg f + 10 lg m − 10 lg f_c1 − 20 lg ln(4f/f_c1) − 13.2
///   f ≥ 2 f_c2:           20 lg f + 10 lg m − 5 lg f_c1 − 5 lg f_c2 − 23
///
/// with straight lines over lg f between. `None` unless f_c2 > 4 f_c1.
///
/// Source: Heckl 1960 as in Bies, Hansen & Howard 2017, Eqs. 7.59 and 7.60, Fig. 7.9b.
pub fn orthotropic_closed_form(
    mass: SurfaceMass,
    fc1: Hertz,
    fc2: Hertz,
    frequency: Hertz,
) -> Option<LevelDifference> {
    let (m, fc1, fc2, f) = (mass.0, fc1.0, fc2.0, frequency.0);
    if !(m > 0.0 && fc1 > 0.0 && fc2 > 4.0 * fc1 && f > 0.0) {
        return None;
    }
    let low = |f: f64| 20.0 * (f * m).log10() - 47.0;
    let middle = |f: f64| {
        20.0 * f.log10() + 10.0 * m.log10()
            - 10.0 * fc1.log10()
            - 20.0 * (4.0 * f / fc1).ln().log10()
            - 13.2
    };
    let high =
        |f: f64| 20.0 * f.log10() + 10.0 * m.log10() - 5.0 * fc1.log10() - 5.0 * fc2.log10() - 23.0;
    let between =
        |f1: f64, r1: f64, f2: f64, r2: f64| r1 + (r2 - r1) * (f / f1).ln() / (f2 / f1).ln();
    Some(LevelDifference(if f <= 0.5 * fc1 {
        low(f)
    } else if f < fc1 {
        between(0.5 * fc1, low(0.5 * fc1), fc1, middle(fc1))
    } else if f <= 0.5 * fc2 {
        middle(f)
    } else if f < 2.0 * fc2 {
        between(0.5 * fc2, middle(0.5 * fc2), 2.0 * fc2, high(2.0 * fc2))
    } else {
        high(f)
    }))
}
