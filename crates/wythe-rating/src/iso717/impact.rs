//! ISO 717-2: weighted impact level and its adaptation term.

use super::{SUM_LIMIT_OCTAVES, SUM_LIMIT_THIRDS, contour_rows, decided, step, tenths_of, worst};
use crate::contour::{Contour, Unfavourable};
use crate::rating::{Method, Options, Rating, Term, bound_over, bound_remark, examine};
use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::Remark;

/// Table 3, thirds 100 Hz to 3.15 kHz; also the contour of ASTM E989.
pub(crate) const REFERENCE_THIRDS: [i64; 16] =
    [62, 62, 62, 62, 62, 62, 61, 60, 59, 58, 57, 54, 51, 48, 45, 42];
/// Table 3, octaves 125 Hz to 2 kHz. A note of the 2013 edition calls the values up to 1 kHz
/// rounded energy sums of the thirds; for 1 kHz that would be 61.4, the table has 62.
pub(crate) const REFERENCE_OCTAVES: [i64; 5] = [67, 67, 65, 62, 49];
/// Taken from the shifted reference at 500 Hz when octaves are rated (4.3.2).
pub(crate) const OCTAVE_REDUCTION: Tenths = Tenths(50);
/// Taken from the energy sum in C_I = L_n,sum − 15 − L_n,w (A.2.1).
const CI_CONSTANT: f64 = 15.0;

pub(crate) fn contour(resolution: Resolution) -> Contour {
    match resolution {
        Resolution::Thirds => Contour {
            bands: Midband::run("100", 16),
            reference: &REFERENCE_THIRDS,
            at_500: 7,
            unfavourable: Unfavourable::Above,
            sum_limit: SUM_LIMIT_THIRDS,
            single_limit: None,
        },
        Resolution::Octaves => Contour {
            bands: Midband::octave_run("125", 5),
            reference: &REFERENCE_OCTAVES,
            at_500: 2,
            unfavourable: Unfavourable::Above,
            sum_limit: SUM_LIMIT_OCTAVES,
            single_limit: None,
        },
    }
}

/// One range of the impact term: key, then first band and number of bands in thirds and octaves.
pub(crate) struct CiRange {
    pub key: &'static str,
    thirds: (&'static str, usize),
    octaves: (&'static str, usize),
}

/// The two ranges of the impact term. 3.15 kHz belongs to neither.
pub(crate) static CI_RANGES: [CiRange; 2] = [
    CiRange { key: "CI", thirds: ("100", 15), octaves: ("125", 5) },
    CiRange { key: "CI50-2500", thirds: ("50", 18), octaves: ("63", 6) },
];

/// Bands of an impact term.
pub(crate) fn ci_bands(which: usize, resolution: Resolution) -> Vec<Midband> {
    let range = &CI_RANGES[which];
    match resolution {
        Resolution::Thirds => Midband::run(range.thirds.0, range.thirds.1),
        Resolution::Octaves => Midband::octave_run(range.octaves.0, range.octaves.1),
    }
}

/// L_n,sum, the energy sum over the bands of an impact term, unrounded, from values taken to one
/// decimal. `None` when a band is absent.
pub(crate) fn level_sum(curve: &Curve, which: usize) -> Option<f64> {
    let mut sum = 0.0;
    for band in ci_bands(which, curve.resolution()) {
        let l = Tenths::nearest(curve.get(band)?.value).decibels();
        sum += 10f64.powf(l / 10.0);
    }
    Some(10.0 * sum.log10())
}

/// Weighted level of tenths that are known to be complete.
pub(crate) fn weighted(resolution: Resolution, data: &[Tenths], step: i64) -> Tenths {
    lowered(resolution, contour(resolution).value(data, step))
}

fn lowered(resolution: Resolution, at_500: Tenths) -> Tenths {
    match resolution {
        Resolution::Thirds => at_500,
        Resolution::Octaves => at_500 - OCTAVE_REDUCTION,
    }
}

/// C_I of a range beside a weighted level.
pub(crate) fn impact_term(
    curve: &Curve,
    which: usize,
    weighted: SingleNumber,
) -> Result<Term, RatingError> {
    let bands = ci_bands(which, curve.resolution());
    let mut term = Term {
        key: CI_RANGES[which].key,
        value: None,
        sum: None,
        unrounded_sum: None,
        bound: Bound::Exact,
        missing: curve.missing(&bands),
    };
    if let (true, Some(sum)) = (term.missing.is_empty(), level_sum(curve, which)) {
        term.bound = bound_over(curve, &bands)?;
        let one = weighted.one_decimal;
        let constant = SingleNumber::nearest(CI_CONSTANT, one);
        let value = SingleNumber::nearest(sum, one) - constant - weighted;
        term.value = Some(value);
        term.sum = Some(weighted + value);
        term.unrounded_sum = Some(sum - CI_CONSTANT);
    }
    Ok(term)
}

/// Rates impact sound: the lowest contour in steps of 1 dB (or 0.1 dB) whose sum of unfavourable
/// deviations is not more than 32.0 dB (thirds) or 10.0 dB (octaves; then 5 dB are taken off).
///
/// Source: ISO 717-2:2013 and 2020, 4.3, Table 3, A.2.1 (transcriptions and published results).
/// The 2020 print of Annex C.1 includes 3.15 kHz in the sum against its own A.2.1; the rule is
/// followed here, not that print.
///
/// # Errors
/// [`RatingError`] for missing bands, values that are no decibels and opposed bounds.
pub fn impact(curve: &Curve, options: &Options) -> Result<Rating, RatingError> {
    let resolution = curve.resolution();
    let contour = contour(resolution);
    let bound = examine(curve, Method::Iso717Part2, &contour.bands)?;
    let data = tenths_of(curve, &contour.bands);
    let step = step(options.one_decimal);
    let rest = contour.rest(&data, step);
    let weighted =
        SingleNumber { tenths: lowered(resolution, rest.at_500), one_decimal: options.one_decimal };
    let rows = contour_rows(curve, &contour, &data, &rest, step, 1);
    let terms = (0..CI_RANGES.len())
        .map(|w| impact_term(curve, w, weighted))
        .collect::<Result<Vec<_>, _>>()?;
    let symbol = options.quantity.map_or("Ln,w", |q| q.symbol());
    let mut remarks: Vec<Remark> = bound_remark(curve, &contour.bands, bound).into_iter().collect();
    if resolution == Resolution::Octaves {
        remarks.push(Remark::new(
            "rating::octave-impact",
            "rated from octaves: the shifted reference at 500 Hz less 5 dB",
        ));
    }
    let shown: Vec<&Term> = terms.iter().filter(|t| t.value.is_some()).collect();
    let keys: Vec<&str> = shown.iter().map(|t| t.key).collect();
    let values: Vec<String> = shown.iter().filter_map(|t| t.value).map(|v| v.to_string()).collect();
    Ok(Rating {
        method: Method::Iso717Part2,
        symbol,
        standard: "ISO 717-2:2020",
        clause: if resolution == Resolution::Thirds {
            "ISO 717-2: values to one decimal, reference curve of Table 3 shifted until the sum of \
             unfavourable deviations in 16 third-octave bands is as large as possible but not more \
             than 32.0 dB (4.3.1); CI over 100-2500 Hz (A.2.1)"
        } else {
            "ISO 717-2: values to one decimal, reference curve of Table 3 shifted until the sum of \
             unfavourable deviations in 5 octave bands is as large as possible but not more than \
             10.0 dB, less 5 dB (4.3.2); CI over 125-2000 Hz (A.2.1)"
        },
        resolution,
        value: Some(weighted),
        bound,
        unrounded: Some(lowered(resolution, contour.value(&data, 1)).decibels()),
        statement: format!(
            "{symbol}({}) {} {weighted}({}) dB",
            keys.join(";"),
            bound.relation(),
            values.join(";")
        ),
        terms,
        sum_unfavourable: Some(rest.sum),
        decided: decided(&contour, &rest),
        worst_band: worst(&rows),
        rows,
        remarks,
    })
}
