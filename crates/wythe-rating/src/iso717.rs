//! ISO 717: airborne (part 1) and impact (part 2) sound insulation.
//!
//! Not here: the prediction or measurement of the bands, and the older editions whose octave
//! rules differ.

mod airborne;
mod impact;
mod improvement;

pub(crate) use airborne::contour as airborne_contour;
pub use airborne::{AdaptationTerm, Spectrum, TERMS, airborne};
pub use impact::impact;
pub(crate) use impact::{
    CI_RANGES, OCTAVE_REDUCTION, REFERENCE_THIRDS as IMPACT_REFERENCE, ci_bands,
    contour as impact_contour,
};
pub use improvement::{
    Lining, LiningBase, LiningDifference, ReferenceFloor, floor_improvement, lining,
};

use crate::contour::{Contour, Rest};
use crate::rating::{BandRow, Decided};
use crate::{Curve, Midband, Tenths};

/// Sum of unfavourable deviations allowed with sixteen thirds (ISO 717-1:2013, 4.4).
pub(crate) const SUM_LIMIT_THIRDS: Tenths = Tenths(320);
/// The same with five octaves.
pub(crate) const SUM_LIMIT_OCTAVES: Tenths = Tenths(100);

/// Step of the contour in tenths.
pub(crate) fn step(one_decimal: bool) -> i64 {
    if one_decimal { 1 } else { 10 }
}

/// Values of the judged bands in tenths. All are present: checked before.
pub(crate) fn tenths_of(curve: &Curve, bands: &[Midband]) -> Vec<Tenths> {
    bands.iter().filter_map(|b| curve.get(*b)).map(|e| Tenths::nearest(e.value)).collect()
}

/// The rows of a contour rating; `sign` is −1 where a higher contour is a lower rating (E989).
pub(crate) fn contour_rows(
    curve: &Curve,
    contour: &Contour,
    data: &[Tenths],
    rest: &Rest,
    step: i64,
    sign: i64,
) -> Vec<BandRow> {
    let fine = contour.value(data, 1);
    let changed = |i: usize, by: i64, step: i64, from: Tenths| {
        let mut other = data.to_vec();
        other[i] = Tenths(other[i].0 + by);
        Tenths(sign * (contour.value(&other, step) - from).0)
    };
    contour
        .bands
        .iter()
        .enumerate()
        .map(|(i, band)| BandRow {
            band: *band,
            value: data[i],
            bound: curve.get(*band).map(|e| e.bound).unwrap_or_default(),
            reference: Some(rest.reference[i]),
            deviation: Some(rest.deviations[i]),
            share: None,
            plus_one: changed(i, 10, step, rest.at_500),
            minus_one: changed(i, -10, step, rest.at_500),
            plus_one_fine: changed(i, 10, 1, fine),
            minus_one_fine: changed(i, -10, 1, fine),
        })
        .collect()
}

/// The lowest band with the largest deviation.
pub(crate) fn worst(rows: &[BandRow]) -> Option<Midband> {
    let largest = rows.iter().filter_map(|r| r.deviation).max().filter(|d| d.0 > 0)?;
    rows.iter().find(|r| r.deviation == Some(largest)).map(|r| r.band)
}

/// Which rule stopped the contour. Where both do at the same step, the rule for single bands is
/// named, because those bands alone would have to change.
pub(crate) fn decided(contour: &Contour, rest: &Rest) -> Decided {
    match contour.single_limit {
        Some(limit) if !rest.next_breaks_single.is_empty() => Decided::BySingleBands {
            limit,
            bands: rest.next_breaks_single.iter().map(|i| contour.bands[*i]).collect(),
        },
        _ => Decided::BySum { limit: contour.sum_limit },
    }
}
