//! ASTM classes: E413 (airborne), E1332 (outdoor to indoor), E989 (impact).
//!
//! Not here: E3207 and E3222, whose formulas no public source shows.

use crate::contour::{Contour, Unfavourable};
use crate::iso717::{contour_rows, decided, worst};
use crate::rating::{BandRow, Decided, Method, Options, Rating, bound_remark, examine};
use crate::{Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::Remark;

/// How the data enter a class that is judged on whole decibels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum DataRounding {
    /// To the nearest whole decibel first, halves up, as E90 and E1007 report them.
    #[default]
    Whole,
    /// To one decimal. Can move the class by one; the result says so.
    OneDecimal,
}

/// E413 contour relative to the class, thirds 125 Hz to 4 kHz (E413-22, Table 1).
const E413_CONTOUR: [i64; 16] = [-16, -13, -10, -7, -4, -1, 0, 1, 2, 3, 4, 4, 4, 4, 4, 4];
/// Largest sum of deficiencies, E413-22 5.4.1 and E989.
const SUM_LIMIT: Tenths = Tenths(320);
/// Largest single deficiency, E413-22 5.4.2 and E989.
const SINGLE_LIMIT: Tenths = Tenths(80);
/// What an impact class is counted down from: IIC = 110 − contour at 500 Hz.
pub(crate) const E989_FROM: Tenths = Tenths(1100);

pub(crate) fn e413_contour() -> Contour {
    Contour {
        bands: Midband::run("125", 16),
        reference: &E413_CONTOUR,
        at_500: 6,
        unfavourable: Unfavourable::Below,
        sum_limit: SUM_LIMIT,
        single_limit: Some(SINGLE_LIMIT),
    }
}

pub(crate) fn e989_contour() -> Contour {
    Contour {
        bands: Midband::run("100", 16),
        reference: &crate::iso717::IMPACT_REFERENCE,
        at_500: 7,
        unfavourable: Unfavourable::Above,
        sum_limit: SUM_LIMIT,
        single_limit: Some(SINGLE_LIMIT),
    }
}

fn data(curve: &Curve, bands: &[Midband], rounding: DataRounding) -> Vec<Tenths> {
    bands
        .iter()
        .filter_map(|b| curve.get(*b))
        .map(|e| match rounding {
            DataRounding::Whole => Tenths::nearest_whole(e.value),
            DataRounding::OneDecimal => Tenths::nearest(e.value),
        })
        .collect()
}

fn rounding_remarks(
    curve: &Curve,
    contour: &Contour,
    used: DataRounding,
    class: Tenths,
    from: impl Fn(Tenths) -> Tenths,
) -> Vec<Remark> {
    let (used_words, other, other_words) = match used {
        DataRounding::Whole => ("to whole decibels", DataRounding::OneDecimal, "one-decimal data"),
        DataRounding::OneDecimal => {
            ("to one decimal", DataRounding::Whole, "data rounded to whole decibels")
        }
    };
    let all_whole = contour
        .bands
        .iter()
        .filter_map(|b| curve.get(*b))
        .all(|e| (e.value - e.value.round()).abs() < 1e-9);
    if all_whole {
        return Vec::new();
    }
    let otherwise = from(contour.value(&data(curve, &contour.bands, other), 10));
    let tail = if otherwise == class {
        format!("{other_words} give the same class")
    } else {
        format!("{other_words} would give {}", otherwise.0 / 10)
    };
    vec![Remark::new(
        "rating::data-rounding",
        format!("the band values were taken {used_words} before rating; {tail}"),
    )]
}

/// Rates airborne data by ASTM E413: the highest whole contour with a sum of deficiencies of at
/// most 32 dB and no deficiency above 8 dB, thirds 125 Hz to 4 kHz.
///
/// Source: ASTM E413-22, 5.4 and Table 1 (transcription, two accredited reports reproduced). That
/// data are taken to whole decibels first is from a note on E413-87 and E90; the 2022 text was
/// not seen.
///
/// # Errors
/// [`RatingError`] for octaves, missing bands, values that are no decibels, opposed bounds.
pub fn e413(curve: &Curve, options: &Options) -> Result<Rating, RatingError> {
    let method = Method::E413;
    if curve.resolution() == Resolution::Octaves {
        return Err(RatingError::OctavesGiven { method });
    }
    let contour = e413_contour();
    let bound = examine(curve, method, &contour.bands)?;
    let data = data(curve, &contour.bands, options.whole_decibels);
    let rest = contour.rest(&data, 10);
    let class = SingleNumber { tenths: rest.at_500, one_decimal: false };
    let rows = contour_rows(curve, &contour, &data, &rest, 10, 1);
    let symbol = options.quantity.map_or("STC", |q| q.symbol());
    let mut remarks: Vec<Remark> = bound_remark(curve, &contour.bands, bound).into_iter().collect();
    remarks.extend(rounding_remarks(
        curve,
        &contour,
        options.whole_decibels,
        class.tenths,
        |at_500| at_500,
    ));
    Ok(Rating {
        method,
        symbol,
        standard: "ASTM E413-22",
        clause: "ASTM E413: highest contour of Table 1 with a sum of deficiencies of at most 32 dB \
                 (5.4.1) and no deficiency above 8 dB (5.4.2), third-octave bands 125-4000 Hz",
        resolution: curve.resolution(),
        value: Some(class),
        bound,
        unrounded: Some(contour.value(&data, 1).decibels()),
        terms: Vec::new(),
        sum_unfavourable: Some(rest.sum),
        decided: decided(&contour, &rest),
        worst_band: worst(&rows),
        rows,
        statement: format!("{symbol} {}{class}", bound.sign()),
        remarks,
    })
}

/// Rates impact levels by ASTM E989: the lowest whole contour (the shape of ISO 717-2) with a sum
/// of excesses of at most 32 dB and none above 8 dB; the class is 110 less its value at 500 Hz.
///
/// Source: ASTM E989, from memory, with the reference floor of E2179 (class 28) reproduced; that
/// it takes thirds only is from public abstracts. The text was not seen.
///
/// # Errors
/// As [`e413`].
pub fn e989(curve: &Curve, options: &Options) -> Result<Rating, RatingError> {
    let method = Method::E989;
    if curve.resolution() == Resolution::Octaves {
        return Err(RatingError::OctavesGiven { method });
    }
    let contour = e989_contour();
    let bound = examine(curve, method, &contour.bands)?.reversed();
    let data = data(curve, &contour.bands, options.whole_decibels);
    let rest = contour.rest(&data, 10);
    let class = SingleNumber { tenths: E989_FROM - rest.at_500, one_decimal: false };
    let rows = contour_rows(curve, &contour, &data, &rest, 10, -1);
    let symbol = options.quantity.map_or("IIC", |q| q.symbol());
    let mut remarks: Vec<Remark> = bound_remark(curve, &contour.bands, bound).into_iter().collect();
    remarks.extend(rounding_remarks(
        curve,
        &contour,
        options.whole_decibels,
        class.tenths,
        |at_500| E989_FROM - at_500,
    ));
    Ok(Rating {
        method,
        symbol,
        standard: "ASTM E989",
        clause: "ASTM E989: lowest contour with a sum of excesses of at most 32 dB and no excess \
                 above 8 dB, third-octave bands 100-3150 Hz; class = 110 - contour at 500 Hz (rule \
                 from memory, one reference floor reproduced)",
        resolution: curve.resolution(),
        value: Some(class),
        bound,
        unrounded: Some((E989_FROM - contour.value(&data, 1)).decibels()),
        terms: Vec::new(),
        sum_unfavourable: Some(rest.sum),
        decided: decided(&contour, &rest),
        worst_band: worst(&rows),
        rows,
        statement: format!("{symbol} {}{class}", bound.sign()),
        remarks,
    })
}

/// Source spectrum of E1332, dB, thirds 80 Hz to 4 kHz.
const E1332_SOURCE: [f64; 18] = [
    103.0, 102.0, 101.0, 98.0, 97.0, 95.0, 94.0, 93.0, 93.0, 91.0, 90.0, 89.0, 89.0, 88.0, 88.0,
    87.0, 85.0, 84.0,
];
/// A-weighting as E1332 tabulates it, dB.
const E1332_A: [f64; 18] = [
    -22.5, -19.1, -16.1, -13.4, -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3,
    1.2, 1.0,
];
/// A-weighted level of the source spectrum as the standard prints it; recomputed 100.128.
const E1332_TOTAL: f64 = 100.13;

/// Bands, weights and constant of the energy sum of E1332.
pub(crate) fn e1332_sum() -> (Vec<Midband>, Vec<f64>, f64) {
    let weights = E1332_SOURCE.iter().zip(E1332_A).map(|(l, a)| l + a).collect();
    (Midband::run("80", 18), weights, E1332_TOTAL)
}

/// Rates by ASTM E1332: OITC = 100.13 − 10 lg Σ 10^((L_i − TL_i + A_i)/10), to a whole number.
///
/// Values are taken as given. Source: abstract of ASTM E1332-22 and one public transcription; no
/// published example with band data was found.
///
/// # Errors
/// As [`e413`].
pub fn e1332(curve: &Curve, options: &Options) -> Result<Rating, RatingError> {
    let method = Method::E1332;
    if curve.resolution() == Resolution::Octaves {
        return Err(RatingError::OctavesGiven { method });
    }
    let bands = Midband::run("80", 18);
    let bound = examine(curve, method, &bands)?;
    let values: Vec<f64> = bands.iter().filter_map(|b| curve.get(*b)).map(|e| e.value).collect();
    let powers = |values: &[f64]| -> Vec<f64> {
        values
            .iter()
            .zip(E1332_SOURCE.iter().zip(E1332_A))
            .map(|(tl, (l, a))| 10f64.powf((l - tl + a) / 10.0))
            .collect()
    };
    let index = |values: &[f64]| E1332_TOTAL - 10.0 * powers(values).iter().sum::<f64>().log10();
    let exact = index(&values);
    let class = SingleNumber::nearest(exact, false);
    let shares = powers(&values);
    let whole: f64 = shares.iter().sum();
    let rows: Vec<BandRow> = bands
        .iter()
        .enumerate()
        .map(|(i, band)| {
            let changed = |by: f64| {
                let mut other = values.clone();
                other[i] += by;
                index(&other)
            };
            let (up, down) = (changed(1.0), changed(-1.0));
            BandRow {
                band: *band,
                value: Tenths::nearest(values[i]),
                bound: curve.get(*band).map(|e| e.bound).unwrap_or_default(),
                reference: None,
                deviation: None,
                share: Some(shares[i] / whole),
                plus_one: Tenths::nearest_whole(up) - class.tenths,
                minus_one: Tenths::nearest_whole(down) - class.tenths,
                plus_one_fine: Tenths::nearest(up) - Tenths::nearest(exact),
                minus_one_fine: Tenths::nearest(down) - Tenths::nearest(exact),
            }
        })
        .collect();
    let symbol = options.quantity.map_or("OITC", |q| q.symbol());
    Ok(Rating {
        method,
        symbol,
        standard: "ASTM E1332-22",
        clause: "ASTM E1332: A-weighted level difference for the standard outdoor spectrum, \
                 third-octave bands 80-4000 Hz, to a whole number",
        resolution: curve.resolution(),
        value: Some(class),
        bound,
        unrounded: Some(exact),
        terms: Vec::new(),
        sum_unfavourable: None,
        decided: Decided::ByAllBands,
        worst_band: largest_share(&rows),
        rows,
        statement: format!("{symbol} {}{class}", bound.sign()),
        remarks: bound_remark(curve, &bands, bound).into_iter().collect(),
    })
}

/// The lowest band with the largest share.
fn largest_share(rows: &[BandRow]) -> Option<Midband> {
    let mut best: Option<(Midband, f64)> = None;
    for row in rows {
        if let Some(share) = row.share
            && best.is_none_or(|(_, s)| share > s)
        {
            best = Some((row.band, share));
        }
    }
    best.map(|(b, _)| b)
}
