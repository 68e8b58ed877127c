//! Round the edge: where leaves meet common plates, a floor, or the wall around them.

use crate::FrameKind;
use crate::element::Element;
use crate::layup::Layup;
use crate::leaf::Leaf;

/// Heaviest leaf of the double walls of the record, kg/m².
const HEAVIEST: f64 = 25.0;

/// Transmittance round the edge at one frequency.
///
/// No published model was found; a reduction of fixed slope, in proportion to the masses, is
/// fitted on the record, where it also stands for the flanking of the laboratories. In a building
/// the flanking along junctions is calculated by itself, and a caller may leave this path out
/// with [`crate::Prediction::without`].
pub(crate) fn transmittance(layup: &Layup, element: &Element, f: f64) -> f64 {
    let fit = &element.fitted;
    let octaves = (f / 500.0).log2();
    let reduction = match layup.leaves.as_slice() {
        [leaf] => {
            fit.heavy_perimeter
                + 10.0 * (leaf.mass / 300.0).log10()
                + fit.heavy_perimeter_rise * octaves
        }
        leaves => {
            // The two heaviest leaves; a light lining in front does not open a way round them.
            // Heavier ones than the record has count as its heaviest: nothing shows that a
            // laboratory or a building lets them do more.
            let mut masses: Vec<f64> = leaves.iter().map(|l| l.mass.min(HEAVIEST)).collect();
            masses.sort_by(|a, b| b.total_cmp(a));
            let product = masses[0] * masses[1];
            // Masonry carries sound round the edge by itself, whatever frame stands before it.
            let apart = !leaves.iter().any(Leaf::is_heavy)
                && layup.gaps.iter().any(|gap| match &gap.frame {
                    None => true,
                    Some(frame) => matches!(
                        frame.kind,
                        FrameKind::SeparateTimberStuds
                            | FrameKind::SeparateSteelStuds
                            | FrameKind::SeparateWindowFrames
                    ),
                });
            fit.perimeter
                + if apart { fit.perimeter_apart } else { 0.0 }
                + 10.0 * (product / 100.0).log10()
                + fit.perimeter_rise * octaves
        }
    };
    10f64.powf(-reduction / 10.0).min(1.0)
}
