//! The plateau method: a horizontal stretch in place of the coincidence dip.

use std::f64::consts::PI;

use wythe_bands::{Air, Hertz, LevelDifference, SurfaceMass};

/// What the method knows of a material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plateau {
    /// Name.
    pub material: &'static str,
    /// Mass per area of one millimetre, kg/m².
    pub mass_per_mm: f64,
    /// Height of the plateau, dB.
    pub height: f64,
    /// Ratio of the frequencies at its ends.
    pub ratio: f64,
}

/// Constants of the method. Source: Norton & Karczub 2003, Table 3.1, p. 241, the rows seen.
pub static PLATEAUS: [Plateau; 4] = [
    Plateau { material: "brick", mass_per_mm: 2.1, height: 37.0, ratio: 4.5 },
    Plateau { material: "concrete", mass_per_mm: 2.28, height: 38.0, ratio: 4.5 },
    Plateau { material: "lead", mass_per_mm: 11.2, height: 56.0, ratio: 4.0 },
    Plateau { material: "steel", mass_per_mm: 7.6, height: 40.0, ratio: 11.0 },
];

/// Field mass law up to the plateau, the plateau, then 10 dB per octave.
///
/// Source: Watters 1959 as in Norton & Karczub 2003, problem 3.11 (the slope of 10 dB per octave
/// was read off the book's chart).
pub fn plateau_method(
    plateau: &Plateau,
    mass: SurfaceMass,
    correction: f64,
    frequency: Hertz,
    air: Air,
) -> LevelDifference {
    // Where the mass law 20 lg(πfm/ρc) − correction meets the plateau.
    let begins = 10f64.powf((plateau.height + correction) / 20.0) * air.impedance() / (PI * mass.0);
    let ends = begins * plateau.ratio;
    let f = frequency.0;
    if f <= begins {
        super::mass_law::field_mass_law(mass, frequency, correction, air)
    } else if f <= ends {
        LevelDifference(plateau.height)
    } else {
        LevelDifference(plateau.height + 10.0 * (f / ends).log2())
    }
}
