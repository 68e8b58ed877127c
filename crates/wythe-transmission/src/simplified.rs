//! The simplified model of ISO 12354-1 with weighted numbers: a cross-check of the detailed one.

use crate::vibration;

/// A flanking element in weighted numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weighted {
    /// Weighted reduction index R_w, dB.
    pub rating: f64,
    /// Area, m².
    pub area: f64,
    /// Improvement by a lining on the room side, ΔR_w, dB.
    pub lining: f64,
}

/// R_ij,w of one flanking path:
///
///   R_ij,w = (R_i,w + R_j,w)/2 + ΔR_ij,w + K_ij + 10 lg(S_s/(l₀ l_f)),  l₀ = 1 m,
///
/// with K_ij not below K_min, and of two linings the larger and half the smaller.
///
/// Source: EN 12354-1:2000, formulas 26 to 31 (secondary transcription); Vigran, *Building
/// Acoustics*, Eq. 9.47. Stated spread against measurements about 2 dB (from memory).
pub fn path_rating(i: Weighted, j: Weighted, k: f64, separating_area: f64, length: f64) -> f64 {
    let k = k.max(vibration::least(length, i.area, j.area));
    let (more, less) = (i.lining.max(j.lining), i.lining.min(j.lining));
    let lining = if more <= 0.0 { more + less } else { more + less / 2.0 };
    (i.rating + j.rating) / 2.0 + lining + k + 10.0 * (separating_area / length).log10()
}

/// Sum of paths: R′_w = −10 lg Σ 10^(−R/10). Infinite for no path at all.
pub fn sum_of_paths(paths: &[f64]) -> f64 {
    -10.0 * paths.iter().map(|r| 10f64.powf(-r / 10.0)).sum::<f64>().log10()
}
