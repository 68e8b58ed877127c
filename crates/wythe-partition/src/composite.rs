//! Several elements side by side.

use wythe_bands::{LevelDifference, SquareMetre, Transmittance};

/// Reduction index of elements side by side: τ = Σ S_i τ_i / Σ S_i. It never beats the best of
/// them and is never worse than the worst. `None` without any area.
///
/// Source: definition; Crocker & Arenas 2021, Example 12.13, and every textbook.
///
/// ```
/// use wythe_bands::{LevelDifference, SquareMetre};
/// let wall = (SquareMetre(9.5), LevelDifference(59.0));
/// let window = (SquareMetre(1.08), LevelDifference(35.0));
/// let both = wythe_partition::composite([wall, window]).unwrap();
/// assert!((both.0 - 44.8).abs() < 0.1);
/// ```
pub fn composite(
    parts: impl IntoIterator<Item = (SquareMetre, LevelDifference)>,
) -> Option<LevelDifference> {
    let (mut area, mut coupling) = (0.0, 0.0);
    for (s, r) in parts {
        if s.0 > 0.0 && s.0.is_finite() {
            area += s.0;
            coupling += s.0 * r.transmittance().0;
        }
    }
    (area > 0.0).then(|| Transmittance(coupling / area).reduction())
}
