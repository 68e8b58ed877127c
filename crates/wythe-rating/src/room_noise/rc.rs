//! Room criterion, Mark II.

use super::ready;
use crate::rating::{BandRow, Decided, Method, Rating, Term};
use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::{Level, Remark};

/// Lowest level of the curve at 31.5 Hz, dB; the curve at 16 Hz equals that at 31.5 Hz.
const LOW_FLOOR: f64 = 55.0;
/// Excess in a band up to 500 Hz, dB, above which the spectrum is called rumbling.
const RUMBLE: f64 = 5.0;
/// Excess in a band from 1 kHz, dB, above which it is called hissing.
const HISS: f64 = 3.0;

/// Level of the curve RC `number` in an octave band 16 Hz to 8 kHz: 5 dB per octave through
/// `number` at 1 kHz.
fn level(number: f64, band: Midband) -> Option<f64> {
    let octaves_above_1k = (band.n() - 30) / 3;
    if !band.is_octave() || !(-6..=3).contains(&octaves_above_1k) {
        return None;
    }
    // 16 Hz has no step of its own.
    let steps = octaves_above_1k.max(-5);
    let straight = number - 5.0 * f64::from(steps);
    Some(if steps == -5 { straight.max(LOW_FLOOR) } else { straight })
}

/// Rates room noise by RC Mark II.
///
/// RC is the mean of 500, 1000 and 2000 Hz (`LMF`), to a whole number; the tag in the statement
/// is R (a band up to 500 Hz more than 5 dB above the curve), H (a band from 1 kHz more than 3 dB
/// above), RH or N. `QAI` is the spread of the energy-mean deviations in 16-63, 125-500 and
/// 1000-4000 Hz; up to 5 dB is called acceptable (from memory).
///
/// Source: ANSI/ASA S12.2-2019, Annex D (transcription).
///
/// # Errors
/// [`RatingError`]: octaves 63 Hz to 4 kHz are needed; values must be decibels.
pub fn rc(curve: &Curve) -> Result<Rating, RatingError> {
    let judged = Midband::octave_run("16", 10);
    let optional: Vec<Midband> =
        judged.iter().copied().filter(|b| ["16", "31.5", "8000"].contains(&b.nominal())).collect();
    let ready = ready(curve, Method::Rc, &judged, &optional)?;
    let octaves = &ready.octaves;
    let mean = |by: &dyn Fn(Midband) -> f64| -> f64 {
        let middle = Midband::octave_run("500", 3);
        let sum: f64 =
            middle.iter().filter_map(|b| octaves.get(*b).map(|e| e.value + by(*b))).sum();
        sum / 3.0
    };
    let lmf = mean(&|_| 0.0);
    let value = SingleNumber::nearest(lmf, false);
    let number = value.decibels();
    let excess = |b: Midband| octaves.get(b).and_then(|e| level(number, b).map(|c| e.value - c));
    let above = |low: i32, high: i32, limit: f64| {
        judged
            .iter()
            .filter(|b| (low..=high).contains(&b.n()))
            .any(|b| excess(*b).is_some_and(|e| e > limit + 1e-9))
    };
    let tag = match (above(12, 27, RUMBLE), above(30, 39, HISS)) {
        (true, true) => "RH",
        (true, false) => "R",
        (false, true) => "H",
        (false, false) => "N",
    };
    let region = |first: &str| {
        Level::energy_mean(Midband::octave_run(first, 3).into_iter().filter_map(excess).map(Level))
            .map(|l| l.0)
    };
    let regions: Vec<f64> = ["16", "125", "1000"].into_iter().filter_map(region).collect();
    let qai = regions.iter().copied().fold(f64::MIN, f64::max)
        - regions.iter().copied().fold(f64::MAX, f64::min);
    let rows: Vec<BandRow> = judged
        .iter()
        .filter_map(|b| octaves.get(*b).map(|e| (*b, e)))
        .map(|(b, entry)| {
            let moved = |by: f64| mean(&|other| if other == b { by } else { 0.0 });
            let reference = level(number, b).map(Tenths::nearest);
            let taken = Tenths::nearest(entry.value);
            BandRow {
                band: b,
                value: taken,
                bound: entry.bound,
                reference,
                deviation: reference.map(|r| Tenths((taken - r).0.max(0))),
                share: None,
                plus_one: Tenths::nearest_whole(moved(1.0)) - value.tenths,
                minus_one: Tenths::nearest_whole(moved(-1.0)) - value.tenths,
                plus_one_fine: Tenths::nearest(moved(1.0)) - Tenths::nearest(lmf),
                minus_one_fine: Tenths::nearest(moved(-1.0)) - Tenths::nearest(lmf),
            }
        })
        .collect();
    let term = |key, exact: f64| Term {
        key,
        value: Some(SingleNumber::nearest(exact, true)),
        sum: None,
        unrounded_sum: Some(exact),
        bound: Bound::Exact,
        missing: Vec::new(),
    };
    let mut remarks = ready.remarks;
    if qai > 5.0 {
        remarks.push(Remark::new(
            "rating::spectrum-unbalanced",
            format!("quality index {qai:.1} dB: more than 5 dB, the spectrum is unbalanced"),
        ));
    }
    Ok(Rating {
        method: Method::Rc,
        symbol: "RC",
        standard: "ANSI/ASA S12.2-2019",
        clause: "ANSI/ASA S12.2-2019 Annex D: mean of 500, 1000 and 2000 Hz; tag from the excess \
                 over a curve of -5 dB per octave",
        resolution: Resolution::Octaves,
        value: Some(value),
        bound: ready.bound,
        unrounded: Some(lmf),
        terms: vec![term("LMF", lmf), term("QAI", qai)],
        sum_unfavourable: None,
        decided: Decided::ByAllBands,
        worst_band: crate::iso717::worst(&rows),
        rows,
        statement: format!("{}RC-{value}({tag})", ready.bound.sign()),
        remarks,
    })
}
