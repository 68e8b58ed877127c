//! Out of a duct and into it, through its own wall.

use wythe_bands::{Hertz, Metre, SurfaceMass};
use wythe_building::Section;

const INCH: f64 = 0.0254;
const POUND_PER_SQUARE_FOOT: f64 = 4.882_43;
/// No duct wall keeps back more, dB (an older text has 45).
const MOST: f64 = 50.0;
/// A round duct is far stiffer at low bands; this much is added below 500 Hz instead of the
/// two-branch formula, which could not be checked (practice, on the low side).
const ROUND_MORE: f64 = 10.0;

/// Transmission loss out of a duct wall, dB, referred to outer surface over cross-section.
///
/// Rectangular a ≥ b in inches, q in lb/ft², L in feet, f_L = 24134/√(ab):
/// below f_L 10 lg(f q²/(a + b)) + 17, above 20 lg(q f) − 31, at most 50 dB, at least
/// 10 lg(24 L (1/a + 1/b)), which says that no more comes out than runs along.
/// Source: ASHRAE / AHRI 885 as transcribed.
pub fn transmission_loss_out(section: Section, wall: SurfaceMass, length: Metre, f: Hertz) -> f64 {
    let (a, b, more) = sides(section, f);
    let q = wall.0.max(0.01) / POUND_PER_SQUARE_FOOT;
    let limit = 24_134.0 / (a * b).sqrt();
    let tl = if f.0 < limit {
        10.0 * (f.0 * q * q / (a + b)).log10() + 17.0
    } else {
        20.0 * (q * f.0).log10() - 31.0
    };
    let feet = length.0.max(0.01) / 0.3048;
    let least = 10.0 * (24.0 * feet * (1.0 / a + 1.0 / b)).log10();
    (tl + more).min(MOST).max(least)
}

/// Transmission loss into a duct, dB: below f₁ = 6764/a the greater of
/// TL_out − 4 − 10 lg(a/b) + 20 lg(f/f₁) and 10 lg(12 L (1/a + 1/b)), above TL_out − 3.
/// Source: Ver 1983 as given by Long; transcribed.
pub fn transmission_loss_in(section: Section, wall: SurfaceMass, length: Metre, f: Hertz) -> f64 {
    let (a, b, _) = sides(section, f);
    let out = transmission_loss_out(section, wall, length, f);
    let f1 = 6764.0 / a;
    if f.0 < f1 {
        let feet = length.0.max(0.01) / 0.3048;
        let least = 10.0 * (12.0 * feet * (1.0 / a + 1.0 / b)).log10();
        (out - 4.0 - 10.0 * (a / b).log10() + 20.0 * (f.0 / f1).log10()).max(least)
    } else {
        out - 3.0
    }
}

/// Longer and shorter side, in, and what a round duct gains, dB.
fn sides(section: Section, f: Hertz) -> (f64, f64, f64) {
    match section {
        Section::Rectangular { width, height } => {
            let (w, h) = (width.0.max(1e-3) / INCH, height.0.max(1e-3) / INCH);
            (w.max(h), w.min(h), 0.0)
        }
        Section::Round { diameter } => {
            let d = diameter.0.max(1e-3) / INCH;
            (d, d, if f.0 < 500.0 { ROUND_MORE } else { 0.0 })
        }
    }
}
