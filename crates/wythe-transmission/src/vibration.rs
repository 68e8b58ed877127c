//! Vibration reduction indices K_ij of junctions, ISO 12354-1 Annex E.
//!
//! M = lg(m′_⊥/m′_i): the plate across over the plate of the path. All from memory or a secondary
//! transcription of the standard unless said; the equal cross agrees with bending-wave theory
//! (1/12 of the power round each corner, Hopkins 2007 Eq. 5.116 as transcribed).

use wythe_bands::Hertz;

/// Reference frequency f_k of the frequency-dependent light junctions.
const F_K: f64 = 500.0;
/// Between flexible layers the wall running through loses next to nothing: −4 ≤ K₂₄ ≤ 0 dB. The
/// 2000 and 2017 prints give the bounds the other way round, a misprint.
const K24_BOUNDS: (f64, f64) = (-4.0, 0.0);

/// How a path goes at an edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Turn {
    /// On in line.
    Straight,
    /// Round a corner.
    Corner,
}

/// K_ij of a rigid cross, dB. Straight 8.7 + 17.1 M + 5.7 M²; corner 8.7 + 5.7 M².
///
/// ```
/// use wythe_transmission::vibration::{Turn, rigid_cross};
/// // 460 kg/m² across 287 kg/m².
/// let m = (460f64 / 287.0).log10();
/// assert!((rigid_cross(Turn::Straight, m) - 12.44).abs() < 0.005);
/// ```
pub fn rigid_cross(turn: Turn, m: f64) -> f64 {
    match turn {
        Turn::Straight => 8.7 + 17.1 * m + 5.7 * m * m,
        Turn::Corner => 8.7 + 5.7 * m * m,
    }
}

/// K_ij of a rigid T, dB: 5.7 + 14.1 M + 5.7 M² along the bar, 5.7 + 5.7 M² into the stem.
pub fn rigid_tee(turn: Turn, m: f64) -> f64 {
    match turn {
        Turn::Straight => 5.7 + 14.1 * m + 5.7 * m * m,
        Turn::Corner => 5.7 + 5.7 * m * m,
    }
}

/// K_ij of two plates meeting in a corner, 15 |M| − 3 and at least −2, or in line as a change of
/// thickness, 5 M² − 5, dB; M = lg(m′_j/m′_i).
pub fn two_plates(turn: Turn, m: f64) -> f64 {
    match turn {
        Turn::Straight => 5.0 * m * m - 5.0,
        Turn::Corner => (15.0 * m.abs() - 3.0).max(-2.0),
    }
}

/// What one flexible layer adds, D₁ = 10 lg(f/f₁) above f₁ and nothing below, dB. f₁ is 125 Hz
/// where the layer's stiffness per area is about 100 MN/m³.
pub fn flexible_layer(f: Hertz, from: Hertz) -> f64 {
    if from.0 > 0.0 { (10.0 * (f.0 / from.0).log10()).max(0.0) } else { 0.0 }
}

/// K₂₄ of the wall that runs through between flexible layers: 3.7 + 14.1 M + 5.7 M², held to −4
/// to 0 dB.
pub fn through_flexible(m: f64) -> f64 {
    (3.7 + 14.1 * m + 5.7 * m * m).clamp(K24_BOUNDS.0, K24_BOUNDS.1)
}

/// K_ij past a light façade: straight 5 + 10 M, at least 5; corner 10 + 10 |M|, dB.
pub fn light_facade(turn: Turn, m: f64) -> f64 {
    match turn {
        Turn::Straight => (5.0 + 10.0 * m).max(5.0),
        Turn::Corner => 10.0 + 10.0 * m.abs(),
    }
}

/// K_ij of light double leaves on a heavy plate, dB: from light to light across the heavy one
/// 10 + 20 M − 3.3 lg(f/500), at least 10; corner 10 + 10 |M| + 3.3 lg(f/500).
pub fn light_double_leaf(turn: Turn, m: f64, f: Hertz) -> f64 {
    let slope = 3.3 * (f.0 / F_K).log10();
    match turn {
        Turn::Straight => (10.0 + 20.0 * m - slope).max(10.0),
        Turn::Corner => 10.0 + 10.0 * m.abs() + slope,
    }
}

/// K_ij of light double leaves joined to each other, dB: straight 10 + 20 M − 3.3 lg(f/500);
/// corner 10 + 10 |M| − 3.3 lg(f/500).
pub fn coupled_light_double_leaf(turn: Turn, m: f64, f: Hertz) -> f64 {
    let slope = 3.3 * (f.0 / F_K).log10();
    match turn {
        Turn::Straight => 10.0 + 20.0 * m - slope,
        Turn::Corner => 10.0 + 10.0 * m.abs() - slope,
    }
}

/// K along a heavy plate that runs on under a light wall: 3.0 + 14.1 M + 5.7 M² with M negative
/// (K₂₄ of the junction of a light double leaf with a heavy plate; from memory, for a plate more
/// than three times as heavy). Below M = −1.24, where the square would turn it up again, its
/// least value −5.7 dB holds. It may be negative: nothing is lost, and
/// [`crate::flanking`] holds the level difference itself above zero.
pub fn under_light_wall(m: f64) -> f64 {
    let m = m.clamp(-14.1 / 11.4, 0.0);
    3.0 + 14.1 * m + 5.7 * m * m
}

/// Least K_ij by the geometry alone, K_min = 10 lg(l_f l₀ (1/S_i + 1/S_j)), dB, with l₀ = 1 m.
pub fn least(length: f64, s_i: f64, s_j: f64) -> f64 {
    10.0 * (length * (1.0 / s_i + 1.0 / s_j)).log10()
}
