//! Totals of a curve of levels by the A, C and Z weightings.

use crate::{Curve, Midband, RatingError};
use wythe_bands::weighting::Weighting;
use wythe_bands::{Level, LevelDifference};

/// Totals of a curve over the bands it has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeightedTotals {
    /// A-weighted total.
    pub a: Level,
    /// C-weighted total.
    pub c: Level,
    /// Unweighted total.
    pub z: Level,
    /// C less A: bass an A reading hides. Above 10 dB WHO 1999 asks for a frequency analysis;
    /// DIN 45680:1997 screens at 20 dB.
    pub c_minus_a: LevelDifference,
    /// Lowest band added.
    pub lowest: Midband,
    /// Highest band added.
    pub highest: Midband,
}

/// Energy totals of a curve of levels, thirds or octaves, each band weighted at its exact
/// mid-band frequency; `None` for an empty curve. Bounds are taken at their value.
///
/// Source: IEC 61672-1:2013 Annex E for the weightings.
///
/// # Errors
/// [`RatingError::NotDecibels`].
pub fn weighted_totals(levels: &Curve) -> Result<Option<WeightedTotals>, RatingError> {
    for (band, entry) in levels.iter() {
        crate::rating::check_decibels(band, entry.value)?;
    }
    let total = |w: Weighting| {
        Level::energy_sum(levels.iter().map(|(b, e)| Level(e.value) + w.at(b.centre())))
    };
    let ends = || Some((levels.iter().next()?.0, levels.iter().next_back()?.0));
    let all = || {
        let (a, c, z) = (total(Weighting::A)?, total(Weighting::C)?, total(Weighting::Z)?);
        let (lowest, highest) = ends()?;
        Some(WeightedTotals { a, c, z, c_minus_a: c - a, lowest, highest })
    };
    Ok(all())
}
