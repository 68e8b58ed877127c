//! Round the edge: where leaves meet common plates, a floor, or the wall around them.

use crate::element::Element;
use crate::family::Family;
use crate::layup::Layup;

/// Transmittance round the edge at one frequency; 0 for a thin single leaf, which has no way
/// round itself.
///
/// No published model was found; a reduction of fixed slope, in proportion to the masses, is
/// fitted on the record, where it also stands for the flanking of the laboratories. In a building
/// the flanking along junctions is calculated by itself, and a caller may leave this path out
/// with [`crate::Prediction::without`].
pub(crate) fn transmittance(layup: &Layup, family: Family, element: &Element, f: f64) -> f64 {
    let fit = &element.fitted;
    let octaves = (f / 500.0).log2();
    let reduction = match family {
        Family::ThinSingle => return 0.0,
        Family::HeavySingle => {
            fit.heavy_perimeter
                + 20.0 * (layup.leaves[0].mass / 300.0).log10()
                + fit.heavy_perimeter_rise * octaves
        }
        Family::StudWall | Family::DoubleGlazing | Family::Other => {
            let (a, b) = (&layup.leaves[0], &layup.leaves[layup.leaves.len() - 1]);
            fit.perimeter + 10.0 * (a.mass * b.mass / 100.0).log10() + fit.perimeter_rise * octaves
        }
    };
    10f64.powf(-reduction / 10.0).min(1.0)
}
