//! Frequency weightings A, C and Z as the closed curves of the standard.

use crate::{Hertz, LevelDifference};

/// Frequency weighting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Weighting {
    /// A, the usual one; hides bass.
    A,
    /// C, nearly flat from 63 Hz to 4 kHz.
    C,
    /// Z, none.
    Z,
}

/// Pole frequencies in Hz, from f_r = 1000, f_L = 10^1.5, f_H = 10^3.9, f_A = 10^2.45.
/// Source: IEC 61672-1:2013, Annex E (closed form; digits recomputed).
pub const POLES: [f64; 4] =
    [20.598_997_057_618, 107.652_648_643_046, 737.862_230_736_29, 12_194.217_147_998_01];

/// −C(1 kHz) and −A(1 kHz) before normalisation, dB, to full precision; the standard rounds
/// them to 0.062 and 2.000.
const C_AT_1K: f64 = -0.061_902_2;
const A_AT_1K: f64 = -1.999_655_9;

impl Weighting {
    /// Weighting at a frequency, 0 dB at 1 kHz.
    ///
    /// Source: IEC 61672-1:2013, Annex E, formulas of A(f) and C(f).
    pub fn at(self, frequency: Hertz) -> LevelDifference {
        let raw = |f: f64| -> f64 {
            let f2 = f * f;
            let [f1, fb, fc, f4] = POLES.map(|p| p * p);
            match self {
                Weighting::Z => 0.0,
                Weighting::C => 20.0 * (f4 * f2 / ((f2 + f1) * (f2 + f4))).log10(),
                Weighting::A => {
                    20.0 * (f4 * f2 * f2 / ((f2 + f1) * ((f2 + fb) * (f2 + fc)).sqrt() * (f2 + f4)))
                        .log10()
                }
            }
        };
        let at_1k = match self {
            Weighting::Z => 0.0,
            Weighting::C => C_AT_1K,
            Weighting::A => A_AT_1K,
        };
        // The tabulated normalisation is only a hint for readers; the exact one is computed so
        // that 1 kHz comes out as zero to the last digit.
        debug_assert!((raw(1000.0) - at_1k).abs() < 1e-4);
        LevelDifference(raw(frequency.0) - raw(1000.0))
    }

    /// Letter as printed.
    pub fn letter(self) -> &'static str {
        match self {
            Weighting::A => "A",
            Weighting::C => "C",
            Weighting::Z => "Z",
        }
    }
}
