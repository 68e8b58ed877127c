//! Two leaves without bridges, by Sharp's three straight stretches.

use std::f64::consts::PI;

use crate::element::Element;
use crate::layup::Layup;
use crate::method::stud_path::mass_air_mass;

/// Transmittance of two unbridged leaves with a damped cavity.
///
///   f < f₀:        mass law of m₁ + m₂
///   f₀ < f < f_l:  R₁ + R₂ + 20 lg(f d) − 29
///   f > f_l:       R₁ + R₂ + 6,  f_l = 55/d
///
/// Source: Sharp 1978 as in Bies, Hansen & Howard 2017 and Long 2014, Eqs. 9.48 to 9.51 (f_l from
/// memory). It overrates empty cavities and every wall with studs: a check, not a prediction.
pub(crate) fn transmittance(layup: &Layup, element: &Element, f: f64) -> f64 {
    let (a, b, d) = (&layup.leaves[0], &layup.leaves[1], layup.gaps[0].depth);
    let field = |m: f64| {
        let x = PI * f * m / (element.rho * element.c);
        (10.0 * (1.0 + x * x).log10() - super::mass_law::FIELD_CORRECTION_THIRDS).max(0.0)
    };
    let f0 = mass_air_mass(a.mass, b.mass, d);
    let together = field(a.mass + b.mass);
    let r = if f < f0 {
        together
    } else if f < 55.0 / d {
        (field(a.mass) + field(b.mass) + 20.0 * (f * d).log10() - 29.0).max(together)
    } else {
        field(a.mass) + field(b.mass) + 6.0
    };
    10f64.powf(-r / 10.0)
}
