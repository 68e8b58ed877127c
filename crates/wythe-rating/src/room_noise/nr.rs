//! Noise rating curves.

use super::{Exceedance, largest_exceedance, ready};
use crate::rating::{BandRow, Decided, Method, Rating};
use crate::{Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};

/// Constant a of L = a + b NR, octaves 31.5 Hz to 8 kHz, dB (AS 1469 Table 1, transcription).
const A: [f64; 9] = [55.4, 35.5, 22.0, 12.0, 4.8, 0.0, -3.5, -6.1, -8.0];
/// Factor b.
const B: [f64; 9] = [0.681, 0.790, 0.870, 0.930, 0.974, 1.000, 1.015, 1.025, 1.030];

fn bands() -> Vec<Midband> {
    Midband::octave_run("31.5", 9)
}

fn place(band: Midband) -> Option<usize> {
    bands().iter().position(|b| *b == band)
}

/// Level of the NR curve `number` in an octave band, L = a + b NR, dB. `None` outside 31.5 Hz to
/// 8 kHz. Source: ISO R 1996:1971 in the form of AS 1469, Table 1.
pub fn level(number: f64, band: Midband) -> Option<f64> {
    place(band).map(|i| A[i] + B[i] * number)
}

/// Number of the curve through a level in an octave band, NR = (L − a)/b.
pub fn number(band: Midband, level: f64) -> Option<f64> {
    place(band).map(|i| (level - A[i]) / B[i])
}

/// By how much the loudest band passes an NR curve. `None` when no band can be compared.
///
/// # Errors
/// [`RatingError::NotDecibels`].
pub fn exceedance(levels: &Curve, number: f64) -> Result<Option<Exceedance>, RatingError> {
    largest_exceedance(levels, |band| level(number, band))
}

/// Rates room noise by the NR curves: the highest curve touched, NR = max over bands of (L − a)/b.
///
/// `unrounded` is that number; `value` is rounded up, because the next lower whole curve is
/// passed (common practice, no source).
///
/// # Errors
/// [`RatingError`]: octaves 63 Hz to 4 kHz are needed; values must be decibels.
pub fn nr(curve: &Curve) -> Result<Rating, RatingError> {
    let judged = bands();
    let ready = ready(curve, Method::Nr, &judged, &Midband::octave_run("31.5", 1))?;
    let octaves = &ready.octaves;
    let highest = |change: Option<(Midband, f64)>| -> (f64, Option<Midband>) {
        let mut best = (f64::NEG_INFINITY, None);
        for band in &judged {
            let Some(entry) = octaves.get(*band) else { continue };
            let by = change.filter(|(b, _)| b == band).map_or(0.0, |(_, by)| by);
            if let Some(n) = number(*band, entry.value + by)
                && n > best.0
            {
                best = (n, Some(*band));
            }
        }
        best
    };
    let (exact, band) = highest(None);
    // A ratio that is whole in decimals may come out a trillionth above: not another curve.
    let up = |n: f64| Tenths::whole((n - 1e-9).ceil() as i64);
    let value = SingleNumber { tenths: up(exact), one_decimal: false };
    let rows = judged
        .iter()
        .filter_map(|b| octaves.get(*b).map(|e| (*b, e)))
        .map(|(b, entry)| {
            let (plus, minus) = (highest(Some((b, 1.0))).0, highest(Some((b, -1.0))).0);
            let reference = level(value.decibels(), b).map(Tenths::nearest);
            let taken = Tenths::nearest(entry.value);
            BandRow {
                band: b,
                value: taken,
                bound: entry.bound,
                reference,
                deviation: reference.map(|r| Tenths((taken - r).0.max(0))),
                share: None,
                plus_one: up(plus) - value.tenths,
                minus_one: up(minus) - value.tenths,
                plus_one_fine: Tenths::nearest(plus - exact),
                minus_one_fine: Tenths::nearest(minus - exact),
            }
        })
        .collect();
    let sign = ready.bound.sign();
    Ok(Rating {
        method: Method::Nr,
        symbol: "NR",
        standard: "ISO R 1996:1971",
        clause: "ISO R 1996:1971 (curves in the form L = a + b NR of AS 1469): highest curve \
                 touched by any octave band 31.5-8000 Hz; whole number rounded up for a limit \
                 (common practice)",
        resolution: Resolution::Octaves,
        value: Some(value),
        bound: ready.bound,
        unrounded: Some(exact),
        terms: Vec::new(),
        sum_unfavourable: None,
        decided: band.map_or(Decided::ByAllBands, Decided::ByBand),
        worst_band: band,
        rows,
        statement: match band {
            Some(b) => format!("{sign}NR {value} ({exact:.1} at {b} Hz)"),
            None => format!("{sign}NR {value}"),
        },
        remarks: ready.remarks,
    })
}
