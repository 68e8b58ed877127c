//! The mass law: a limp wall and nothing else.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz, LevelDifference, SurfaceMass};

/// Reduction index of a limp wall at normal incidence, R₀ = 10 lg(1 + (πfm/ρc)²).
///
/// Source: Bies, Hansen & Howard 2017, Eq. 7.40.
pub fn normal_mass_law(mass: SurfaceMass, frequency: Hertz, air: Air) -> LevelDifference {
    let x = PI * frequency.0 * mass.0 / air.impedance();
    LevelDifference(10.0 * (1.0 + x * x).log10())
}

/// What field incidence takes from normal incidence in third-octaves, dB.
/// Source: Bies, Hansen & Howard 2017, Eq. 7.42; Norton & Karczub 2003 take 5 dB.
pub const FIELD_CORRECTION_THIRDS: f64 = 5.5;
/// The same in octaves, dB. Source: as above.
pub const FIELD_CORRECTION_OCTAVES: f64 = 4.0;

/// Field-incidence mass law, R₀ less a correction, never negative.
///
/// ```
/// use wythe_bands::{Air, Hertz, SurfaceMass};
/// // Norton & Karczub 2003, problem 3.14: 15 kg/m² at 1 kHz, correction 5 dB, 36.1 dB.
/// let r = wythe_partition::field_mass_law(SurfaceMass(15.0), Hertz(1000.0), 5.0, Air::default());
/// assert!((r.0 - 36.1).abs() < 0.1);
/// ```
pub fn field_mass_law(
    mass: SurfaceMass,
    frequency: Hertz,
    correction: f64,
    air: Air,
) -> LevelDifference {
    LevelDifference((normal_mass_law(mass, frequency, air).0 - correction).max(0.0))
}

/// Diffuse-field transmittance of an infinite limp wall up to a limiting angle θ_L, with
/// u = sin²θ_L: τ = ln[(1 + a²)/(1 + a²(1 − u))]/(u a²), a = ωm/(2ρc).
///
/// Source: Vigran 2008, limit of Eq. 6.111 in closed form, normalised to the sound that falls on
/// the wall within the limit; 78° is customary (practice, no source).
pub fn diffuse_mass_law(
    mass: SurfaceMass,
    frequency: Hertz,
    limiting_degrees: f64,
    air: Air,
) -> LevelDifference {
    let a2 = (PI * frequency.0 * mass.0 / air.impedance()).powi(2);
    let u = limiting_degrees.clamp(1.0, 90.0).to_radians().sin().powi(2);
    let tau = ((1.0 + a2) / (1.0 + a2 * (1.0 - u))).ln() / (u * a2);
    LevelDifference(-10.0 * tau.min(1.0).log10())
}
