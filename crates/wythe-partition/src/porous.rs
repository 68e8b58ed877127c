//! Porous fill as an equivalent fluid: what the sound in it weighs and how stiff it is.

use std::f64::consts::PI;

use nalgebra::Complex;
use wythe_bands::{Air, FlowResistivity, Hertz};

/// Characteristic impedance and wavenumber of a porous material, both relative to air.
/// Time goes as e^{jωt}, so a wave that dies out has a negative imaginary wavenumber.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Porous {
    /// Z_c / ρc.
    pub impedance: Complex<f64>,
    /// k / k₀.
    pub wavenumber: Complex<f64>,
}

/// Delany & Bazley's law, X = ρ₀f/σ from 0.01 to 1.
///
///   Z_c/ρc = 1 + 0.0571 X^−0.754 − j 0.087 X^−0.732
///   k/k₀   = 1 + 0.0978 X^−0.700 − j 0.189 X^−0.595
///
/// Outside its range it goes astray (a negative real stiffness at the low end); [`miki`] is used
/// for prediction. Source: Delany & Bazley 1970, coefficients as in Bies, Hansen & Howard 2017,
/// Table D.1, row 1.
///
/// ```
/// use wythe_partition::porous::delany_bazley;
/// let p = delany_bazley(0.1);
/// assert!((p.impedance.re - 1.324068).abs() < 1e-5);
/// ```
pub fn delany_bazley(x: f64) -> Porous {
    Porous {
        impedance: Complex::new(1.0 + 0.0571 * x.powf(-0.754), -0.087 * x.powf(-0.732)),
        wavenumber: Complex::new(1.0 + 0.0978 * x.powf(-0.700), -0.189 * x.powf(-0.595)),
    }
}

/// Miki's law, Y = f/σ with f in Hz and σ in Pa·s/m², which keeps its head below 0.01 too.
///
///   Z_c/ρc = 1 + 0.070 Y^−0.632 − j 0.107 Y^−0.632
///   k/k₀   = 1 + 0.109 Y^−0.618 − j 0.160 Y^−0.618
///
/// Source: Miki 1990, Eqs. 30 to 34 (from a public transcription).
///
/// ```
/// use wythe_partition::porous::miki;
/// let p = miki(0.1);
/// assert!((p.wavenumber.im + 0.663926).abs() < 1e-5);
/// ```
pub fn miki(y: f64) -> Porous {
    let z = y.powf(-0.632);
    let k = y.powf(-0.618);
    Porous {
        impedance: Complex::new(1.0 + 0.070 * z, -0.107 * z),
        wavenumber: Complex::new(1.0 + 0.109 * k, -0.160 * k),
    }
}

/// A fluid as the layered calculation wants it: complex density and squared wavenumber.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fluid {
    /// Complex density, kg/m³.
    pub density: Complex<f64>,
    /// Squared complex wavenumber, 1/m².
    pub k2: Complex<f64>,
    /// Loss factor of waves that run along the gap, on top of that in `k2`.
    pub along: f64,
}

/// The fill as a fluid: Miki's law, its stiffness kept between isothermal air and adiabatic.
pub(crate) fn fill(frequency: Hertz, sigma: FlowResistivity, loss: f64, air: Air) -> Fluid {
    let w = 2.0 * PI * frequency.0;
    let k0 = w / air.sound_speed();
    let p = miki(frequency.0 / sigma.0);
    let k = p.wavenumber * k0;
    let z = p.impedance * air.impedance();
    // K = ω Z/k, ρ = Z k/ω. At very low f/σ the law's stiffness falls below the isothermal one,
    // which no gas can do; it is held there.
    let mut stiffness = z * w / k;
    stiffness.re = stiffness.re.max(air.pressure);
    let density = z * k / w;
    // In a cavity some energy goes where a rigid porous material takes none: the fibres move and
    // rub against the leaves. Without this the mass-air-mass dip of filled walls is far too deep.
    stiffness *= Complex::new(1.0, loss);
    Fluid { density, k2: density / stiffness * (w * w), along: 0.0 }
}

/// Loss factor of resilient layers under floors: fibres 0.1 to 0.2, foams and rubber alike. Practice,
/// no source.
const RESILIENT_LOSS: f64 = 0.15;

/// A resilient layer that carries one leaf on the other: a spring all over, s′ = modulus/depth, with
/// the mass of its own. A stated s′ is that of frame and enclosed air together (ISO 9052-1, from
/// memory), so no air is added.
pub(crate) fn resilient(frequency: Hertz, modulus: f64, density: f64) -> Fluid {
    let w = 2.0 * PI * frequency.0;
    let stiffness = Complex::new(modulus, RESILIENT_LOSS * modulus);
    let density = Complex::new(density, 0.0);
    Fluid { density, k2: density / stiffness * (w * w), along: 0.0 }
}

/// Largest loss factor of the air of an empty gap where leaves pump it straight between them. Frames
/// and edges take their energy from waves that run to them; straight between two boards there is
/// little that could. Practice, no source; without it a third leaf before a wall would never cost
/// anything at its resonance, as tests of such walls say it does.
const PUMPED_LOSS: f64 = 0.05;

/// The air of an empty cavity. `loss` stands for what frames, edges and surfaces take of the waves that
/// run along it.
pub(crate) fn empty(frequency: Hertz, loss: f64, air: Air) -> Fluid {
    let k0 = 2.0 * PI * frequency.0 / air.sound_speed();
    Fluid {
        density: Complex::new(air.density(), 0.0),
        k2: Complex::new(1.0, -loss.min(PUMPED_LOSS)) * (k0 * k0),
        along: loss,
    }
}
