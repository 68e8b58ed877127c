//! What straight runs and bends take off.

use wythe_bands::{Hertz, Metre};
use wythe_building::{Elbow, ElbowKind};

const FOOT: f64 = 0.3048;
const INCH: f64 = 0.0254;

/// Octaves 63 Hz to 8 kHz.
type Octaves = [f64; 8];

/// Lining beyond this is not in the fit, in.
const THICKEST: f64 = 2.0;
/// Range of the fit for round ducts, in.
const ROUND_RANGE: (f64, f64) = (6.0, 60.0);

/// Attenuation of an unlined rectangular sheet-metal duct, dB per metre.
///
/// Per foot, with P/A in 1/ft: up to 250 Hz 17 (P/A)^−0.25 f^−0.85 for P/A ≥ 3 and
/// 1.64 (P/A)^0.73 f^−0.58 below; above 250 Hz 0.02 (P/A)^0.8.
/// Source: ASHRAE 1991 algorithms (Reynolds), as quoted. Zero for sides that are not above zero.
pub fn unlined_rectangular(width: Metre, height: Metre, f: Hertz) -> f64 {
    let Some(x) = perimeter_over_area(width, height) else { return 0.0 };
    // Exact mid-band frequencies: 251.2 Hz still is the 250 Hz band.
    let per_foot = if f.0 > 283.0 {
        0.02 * x.powf(0.8)
    } else if x >= 3.0 {
        17.0 * x.powf(-0.25) * f.0.powf(-0.85)
    } else {
        1.64 * x.powf(0.73) * f.0.powf(-0.58)
    };
    per_foot / FOOT
}

/// Insertion loss of the lining of a rectangular duct, dB per metre, to be added to
/// [`unlined_rectangular`]: B (P/A)^C t^D per foot with t in inches, up to 2 in.
///
/// Source: ASHRAE 1991 algorithms; B and C agree with a published 1-inch table to 0.02 dB/ft, D is
/// from memory.
pub fn lined_rectangular(width: Metre, height: Metre, lining: Metre, f: Hertz) -> f64 {
    const B: Octaves = [0.0133, 0.0574, 0.2710, 1.0147, 1.7700, 1.3920, 1.5180, 1.5810];
    const C: Octaves = [1.959, 1.410, 0.824, 0.500, 0.695, 0.802, 0.451, 0.219];
    const D: Octaves = [0.917, 0.941, 1.079, 1.087, 0.0, 0.0, 0.0, 0.0];
    let Some(x) = perimeter_over_area(width, height) else { return 0.0 };
    if !(lining.0 > 0.0) {
        return 0.0;
    }
    let t = (lining.0 / INCH).min(THICKEST);
    let octaves: Octaves = std::array::from_fn(|i| B[i] * x.powf(C[i]) * t.powf(D[i]));
    at(&octaves, f) / FOOT
}

/// Attenuation of an unlined round duct, dB per metre, by diameter to 7, 15, 30 and 60 in.
/// Source: ASHRAE table, from memory; 0.01 to 0.10 dB/ft over all is confirmed.
pub fn unlined_round(diameter: Metre, f: Hertz) -> f64 {
    let table: Octaves = match diameter.0 / INCH {
        d if d <= 7.0 => [0.03, 0.03, 0.05, 0.05, 0.10, 0.10, 0.10, 0.10],
        d if d <= 15.0 => [0.03, 0.03, 0.03, 0.05, 0.07, 0.07, 0.07, 0.07],
        d if d <= 30.0 => [0.02, 0.02, 0.02, 0.03, 0.05, 0.05, 0.05, 0.05],
        _ => [0.01, 0.01, 0.01, 0.02, 0.02, 0.02, 0.02, 0.02],
    };
    at(&table, f) / FOOT
}

/// Attenuation of a lined round duct as a whole, dB per metre:
/// A + B t + C t² + D d + E d² + F d³ per foot, t and d in inches, 6 to 60 in.
///
/// Source: ASHRAE 1991 algorithms, from memory; agrees to 0.005 dB/ft with 18 published rows.
pub fn lined_round(diameter: Metre, lining: Metre, f: Hertz) -> f64 {
    const ROWS: [[f64; 6]; 8] = [
        [0.2825, 0.3447, -0.052_51, -0.038_37, 9.1315e-4, -8.294e-6],
        [0.5237, 0.2234, -0.004_936, -0.027_24, 3.377e-4, -2.49e-6],
        [0.3652, 0.79, -0.1157, -0.018_34, -1.211e-4, 2.681e-6],
        [0.1333, 1.845, -0.3735, -0.012_93, 8.624e-5, -4.986e-6],
        [1.933, 0.0, 0.0, 0.061_35, -0.003_891, 3.934e-5],
        [2.73, 0.0, 0.0, -0.073_41, 4.428e-4, 1.006e-6],
        [2.8, 0.0, 0.0, -0.1467, 0.003_404, -2.851e-5],
        [1.545, 0.0, 0.0, -0.054_52, 0.001_29, -1.318e-5],
    ];
    if !(lining.0 > 0.0) {
        return 0.0;
    }
    let t = (lining.0 / INCH).min(3.0);
    let d = (diameter.0 / INCH).clamp(ROUND_RANGE.0, ROUND_RANGE.1);
    let octaves: Octaves = ROWS.map(|[a, b, c, e, g, h]| {
        (a + b * t + c * t * t + e * d + g * d * d + h * d * d * d).max(0.0)
    });
    at(&octaves, f) / FOOT
}

/// What one bend takes off, dB, by frequency in kHz times width in inches.
///
/// Source: ASHRAE tables, from memory. A maker's guide reads 3 dB more for wide vaned bends; the
/// lower figure is taken.
pub fn elbow(elbow: Elbow, f: Hertz, width: Metre) -> f64 {
    let fw = f.0 / 1000.0 * width.0 / INCH;
    let table: [f64; 6] = match (elbow.kind, elbow.lined) {
        (ElbowKind::Square, false) => [0.0, 1.0, 5.0, 8.0, 4.0, 3.0],
        (ElbowKind::Square, true) => [0.0, 1.0, 6.0, 11.0, 10.0, 10.0],
        (ElbowKind::Vaned, false) => [0.0, 1.0, 4.0, 6.0, 4.0, 4.0],
        (ElbowKind::Vaned, true) => [0.0, 1.0, 4.0, 7.0, 7.0, 7.0],
        (ElbowKind::Round, _) => [0.0, 1.0, 2.0, 3.0, 3.0, 3.0],
    };
    let row = [1.9, 3.8, 7.5, 15.0, 30.0].iter().filter(|limit| fw >= **limit).count();
    table[row]
}

fn perimeter_over_area(width: Metre, height: Metre) -> Option<f64> {
    let area = width.0 * height.0;
    (width.0 > 0.0 && height.0 > 0.0 && area.is_finite())
        .then(|| 2.0 * (width.0 + height.0) / area * FOOT)
}

/// Octave values 63 Hz to 8 kHz at any frequency.
fn at(octaves: &Octaves, f: Hertz) -> f64 {
    // 62.5 Hz doubles to 1 and 8 kHz alike.
    let position = (f.0 / 62.5).log2();
    if !(position > 0.0) {
        return octaves[0] * (f.0 / 62.5).clamp(0.0, 1.0);
    }
    let below = (position as usize).min(6);
    let share = (position - below as f64).min(1.0);
    octaves[below] * (1.0 - share) + octaves[below + 1] * share
}
