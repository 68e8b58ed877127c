//! Noise criterion curves of ANSI/ASA S12.2.

use super::{Exceedance, largest_exceedance, ready};
use crate::rating::{BandRow, Decided, Method, Rating, Term};
use crate::{Bound, Curve, Midband, RatingError, Resolution, SingleNumber, Tenths};
use wythe_bands::Remark;

/// Which edition of the table of curves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum NcTable {
    /// ANSI/ASA S12.2-2019, Table 1, 16 Hz to 8 kHz.
    #[default]
    S12Of2019,
    /// The older table in wide use, 63 Hz to 8 kHz; about a dozen cells differ by 1 dB.
    Classic,
}

/// By which rule the number is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum NcRule {
    /// The highest curve touched by any band.
    #[default]
    Tangency,
    /// S12.2-2019, 5.2: the curve numbered by the speech interference level when the spectrum
    /// stays within it, otherwise tangency.
    SpeechInterferenceFirst,
}

const NUMBERS: [f64; 12] = [15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0];

/// Rows NC-15 to NC-70, octaves 16 Hz to 8 kHz.
const OF_2019: [[f64; 10]; 12] = [
    [78.0, 61.0, 47.0, 36.0, 28.0, 22.0, 18.0, 14.0, 12.0, 11.0],
    [79.0, 63.0, 50.0, 40.0, 33.0, 26.0, 22.0, 20.0, 17.0, 16.0],
    [80.0, 65.0, 54.0, 44.0, 37.0, 31.0, 27.0, 24.0, 22.0, 22.0],
    [81.0, 68.0, 57.0, 48.0, 41.0, 35.0, 32.0, 29.0, 28.0, 27.0],
    [82.0, 71.0, 60.0, 52.0, 45.0, 40.0, 36.0, 34.0, 33.0, 32.0],
    [84.0, 74.0, 64.0, 56.0, 50.0, 44.0, 41.0, 39.0, 38.0, 37.0],
    [85.0, 76.0, 67.0, 60.0, 54.0, 49.0, 46.0, 44.0, 43.0, 42.0],
    [87.0, 79.0, 71.0, 64.0, 58.0, 54.0, 51.0, 49.0, 48.0, 47.0],
    [89.0, 82.0, 74.0, 67.0, 62.0, 58.0, 56.0, 54.0, 53.0, 52.0],
    [90.0, 85.0, 77.0, 71.0, 66.0, 63.0, 60.0, 59.0, 58.0, 57.0],
    [90.0, 88.0, 80.0, 75.0, 71.0, 68.0, 65.0, 64.0, 63.0, 62.0],
    [90.0, 90.0, 84.0, 79.0, 75.0, 72.0, 71.0, 70.0, 68.0, 68.0],
];

/// Cells in which the older table differs: row number, nominal band, value.
const CLASSIC_CELLS: [(usize, &str, f64); 12] = [
    (0, "250", 29.0),
    (0, "1000", 17.0),
    (1, "63", 51.0),
    (1, "2000", 19.0),
    (2, "8000", 21.0),
    (3, "1000", 31.0),
    (5, "500", 45.0),
    (9, "250", 67.0),
    (9, "1000", 61.0),
    (10, "1000", 66.0),
    (11, "63", 83.0),
    (11, "4000", 69.0),
];

impl NcTable {
    /// Name to be stated beside the rating.
    pub fn name(self) -> &'static str {
        match self {
            NcTable::S12Of2019 => "ANSI/ASA S12.2-2019 Table 1",
            NcTable::Classic => "the older NC table (63 Hz to 8 kHz)",
        }
    }

    fn bands(self) -> Vec<Midband> {
        match self {
            NcTable::S12Of2019 => Midband::octave_run("16", 10),
            NcTable::Classic => Midband::octave_run("63", 8),
        }
    }

    /// Column of a band, NC-15 to NC-70.
    fn column(self, band: Midband) -> Option<[f64; 12]> {
        if !self.bands().contains(&band) {
            return None;
        }
        let place = (band.index() - Midband::from_nominal("16")?.index()) / 3;
        let mut column = OF_2019.map(|row| row[place]);
        if self == NcTable::Classic {
            for (row, name, value) in CLASSIC_CELLS {
                if band.nominal() == name {
                    column[row] = value;
                }
            }
        }
        Some(column)
    }
}

/// Level of an NC curve in an octave band, dB, between tabulated curves by linear interpolation.
/// `None` below NC-15, above NC-70 and outside the bands of the table.
///
/// Source: the named tables (transcriptions). Between curves the 2019 document is not clear: one
/// published table lies up to 0.6 dB above linear, so tenths of NC mean nothing.
pub fn level(table: NcTable, number: f64, band: Midband) -> Option<f64> {
    let column = table.column(band)?;
    if !(15.0..=70.0).contains(&number) {
        return None;
    }
    let place = ((number - 15.0) / 5.0).floor().min(10.0) as usize;
    let part = (number - NUMBERS[place]) / 5.0;
    Some(column[place] + part * (column[place + 1] - column[place]))
}

/// Where a band's level lies on the NC scale.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Touch {
    Below,
    At(f64),
    Above,
}

/// The lowest curve that is not passed.
fn touched(table: NcTable, band: Midband, level: f64) -> Option<Touch> {
    let column = table.column(band)?;
    if level < column[0] {
        return Some(Touch::Below);
    }
    for (row, limit) in column.iter().enumerate() {
        if level <= *limit {
            let number = match row.checked_sub(1) {
                None => NUMBERS[0],
                Some(under) => {
                    NUMBERS[under] + 5.0 * (level - column[under]) / (limit - column[under])
                }
            };
            return Some(Touch::At(number));
        }
    }
    Some(Touch::Above)
}

/// By how much the loudest band passes an NC curve. `None` when no band can be compared.
///
/// # Errors
/// [`RatingError::NotDecibels`].
pub fn exceedance(
    levels: &Curve,
    number: f64,
    table: NcTable,
) -> Result<Option<Exceedance>, RatingError> {
    largest_exceedance(levels, |band| level(table, number, band))
}

/// Mean of the levels at 500, 1000, 2000 and 4000 Hz.
fn speech_interference(octaves: &Curve) -> Option<f64> {
    let mut sum = 0.0;
    for band in Midband::octave_run("500", 4) {
        sum += octaves.get(band)?.value;
    }
    Some(sum / 4.0)
}

/// Rates room noise by the NC curves.
///
/// The number is whole, the nearest to the interpolated one (kept in `unrounded`). To compare
/// with a limit use [`exceedance`] with the limit's own curve rather than this number. Below
/// NC-15 there is no number and the statement reads `< NC-15`; above NC-70 `> NC-70`.
///
/// Terms: `SIL`, and `NC_SIL` when the spectrum stays within the curve so numbered.
///
/// Source: ANSI/ASA S12.2-2019, 5.2 and Table 1 (transcriptions).
///
/// # Errors
/// [`RatingError`]: octaves 63 Hz to 4 kHz are needed; values must be decibels.
pub fn nc(curve: &Curve, table: NcTable, rule: NcRule) -> Result<Rating, RatingError> {
    let judged = table.bands();
    let low: Vec<Midband> = Midband::octave_run("16", 2);
    let ready = ready(curve, Method::Nc, &judged, &low)?;
    let octaves = &ready.octaves;
    let number = |levels: &dyn Fn(Midband) -> Option<f64>| -> (Touch, Option<Midband>) {
        let mut best = (Touch::Below, None);
        for band in &judged {
            let Some(touch) = levels(*band).and_then(|l| touched(table, *band, l)) else {
                continue;
            };
            let higher = match (best.0, touch) {
                (_, Touch::Below) | (Touch::Above, _) => false,
                (Touch::Below, _) | (Touch::At(_), Touch::Above) => true,
                (Touch::At(old), Touch::At(new)) => new > old,
            };
            if higher {
                best = (touch, Some(*band));
            }
        }
        best
    };
    let given = |band: Midband| octaves.get(band).map(|e| e.value);
    let (tangent, band) = number(&given);
    let sil = speech_interference(octaves);
    // The curve numbered by the whole SIL, when there is one and nothing passes it.
    let within_sil =
        sil.map(|s| (s + 0.5).floor()).filter(|s| (15.0..=70.0).contains(s)).filter(|s| {
            judged.iter().all(|b| match (given(*b), level(table, *s, *b)) {
                (Some(l), Some(limit)) => l <= limit,
                _ => true,
            })
        });
    let by_sil = rule == NcRule::SpeechInterferenceFirst && within_sil.is_some();
    let (touch, decided) = match (by_sil, within_sil, band) {
        (true, Some(s), _) => (Touch::At(s), Decided::ByAllBands),
        (_, _, Some(b)) => (tangent, Decided::ByBand(b)),
        _ => (tangent, Decided::ByAllBands),
    };
    let whole = |t: Touch| match t {
        Touch::At(n) => Some(SingleNumber::nearest(n, false)),
        _ => None,
    };
    let value = whole(touch);
    let mut remarks = ready.remarks;
    let bound = ready.bound;
    let statement = match (touch, value) {
        (Touch::Below, _) => {
            remarks.push(Remark::new(
                "rating::below-curves",
                "every band lies below NC-15, the lowest curve; the scale has no number there",
            ));
            match bound {
                // A band that is not known could be the loud one.
                Bound::AtLeast => "< NC-15 in the bands given".to_string(),
                _ => "< NC-15".to_string(),
            }
        }
        (Touch::Above, _) => {
            remarks.push(Remark::new(
                "rating::above-curves",
                "the spectrum passes NC-70, the highest curve; the scale has no number there",
            ));
            match bound {
                Bound::AtMost => "no NC number: the upper limits pass NC-70".to_string(),
                _ => "> NC-70".to_string(),
            }
        }
        (_, Some(v)) => match (by_sil, band) {
            (true, _) => format!("{}NC-{v}(SIL)", bound.sign()),
            (false, Some(b)) => format!("{}NC-{v} ({b} Hz)", bound.sign()),
            _ => format!("{}NC-{v}", bound.sign()),
        },
        _ => String::new(),
    };
    if let (Touch::At(exact), Some(v)) = (touch, value)
        && exact > v.decibels() + 1e-9
    {
        remarks.push(Remark::new(
            "rating::passes-whole-curve",
            format!(
                "the spectrum passes the NC-{v} curve slightly (interpolated {exact:.1}); to \
                     judge a limit, compare with the curve of the limit itself"
            ),
        ));
    }
    let rows = judged
        .iter()
        .filter_map(|b| octaves.get(*b).map(|e| (*b, e)))
        .map(|(b, entry)| {
            let changed = |by: f64, fine: bool| {
                let moved =
                    |other: Midband| given(other).map(|l| if other == b { l + by } else { l });
                match (number(&moved).0, tangent) {
                    (Touch::At(new), Touch::At(old)) if fine => Tenths::nearest(new - old),
                    (Touch::At(new), Touch::At(old)) => {
                        Tenths::nearest_whole(new) - Tenths::nearest_whole(old)
                    }
                    _ => Tenths(0),
                }
            };
            let reference = value.and_then(|v| level(table, v.decibels(), b)).map(Tenths::nearest);
            let value = Tenths::nearest(entry.value);
            BandRow {
                band: b,
                value,
                bound: entry.bound,
                reference,
                deviation: reference.map(|r| Tenths((value - r).0.max(0))),
                share: None,
                plus_one: changed(1.0, false),
                minus_one: changed(-1.0, false),
                plus_one_fine: changed(1.0, true),
                minus_one_fine: changed(-1.0, true),
            }
        })
        .collect();
    let companion = |key, value: Option<SingleNumber>, exact: Option<f64>| Term {
        key,
        value,
        sum: None,
        unrounded_sum: exact,
        bound: Bound::Exact,
        missing: Vec::new(),
    };
    let mut terms = vec![companion("SIL", sil.map(|s| SingleNumber::nearest(s, true)), sil)];
    if let Some(s) = within_sil {
        terms.push(companion("NC_SIL", Some(SingleNumber::nearest(s, false)), None));
    }
    remarks.push(Remark::new("rating::nc-table", format!("curves of {}", table.name())));
    Ok(Rating {
        method: Method::Nc,
        symbol: "NC",
        standard: "ANSI/ASA S12.2-2019",
        clause: match rule {
            NcRule::Tangency => {
                "ANSI/ASA S12.2 tangency: the highest NC curve touched by any octave band, linear \
                 between tabulated curves, to the nearest whole number"
            }
            NcRule::SpeechInterferenceFirst => {
                "ANSI/ASA S12.2-2019, 5.2: NC-(SIL) when the spectrum stays within that curve, \
                 otherwise the highest curve touched by any octave band"
            }
        },
        resolution: Resolution::Octaves,
        value,
        bound,
        unrounded: match touch {
            Touch::At(n) => Some(n),
            _ => None,
        },
        terms,
        sum_unfavourable: None,
        worst_band: band,
        decided,
        rows,
        statement,
        remarks,
    })
}
