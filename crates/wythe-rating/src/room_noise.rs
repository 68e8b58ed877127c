//! Criterion curves for noise in a room: NC, NR, RC Mark II, and A, C and Z totals.
//!
//! All take octave levels; thirds are added to octaves first, with a remark. Not here: which
//! criterion a room should meet.

mod nc;
mod nr;
mod rc;
mod weighted;

pub use nc::{NcRule, NcTable, nc};
pub use nr::nr;
pub use rc::rc;
pub use weighted::{WeightedTotals, weighted_totals};

/// NC curves themselves and how far a spectrum passes one.
pub mod nc_curve {
    pub use super::nc::{exceedance, level};
}

/// NR curves themselves and how far a spectrum passes one.
pub mod nr_curve {
    pub use super::nr::{exceedance, level, number};
}

use crate::rating::bound_over;
use crate::{Bound, Curve, Method, Midband, RatingError};
use wythe_bands::Remark;

/// By how much a spectrum passes a criterion curve, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exceedance {
    /// Largest of level less criterion over the bands both have, dB; negative: room to spare.
    pub decibels: f64,
    /// Band where that is.
    pub band: Midband,
}

fn largest_exceedance(
    levels: &Curve,
    criterion: impl Fn(Midband) -> Option<f64>,
) -> Result<Option<Exceedance>, RatingError> {
    let mut worst: Option<Exceedance> = None;
    for (band, entry) in levels.levels_in_octaves().iter() {
        let Some(limit) = criterion(band) else { continue };
        crate::rating::check_decibels(band, entry.value)?;
        let decibels = entry.value - limit;
        if worst.is_none_or(|w| decibels > w.decibels) {
            worst = Some(Exceedance { decibels, band });
        }
    }
    Ok(worst)
}

/// Octave levels made ready: bands that must be there checked, absent ones said, bound found.
struct Ready {
    octaves: Curve,
    bound: Bound,
    remarks: Vec<Remark>,
}

/// Bands no criterion rating can do without: speech range and the octaves loud rooms leak.
fn core_bands() -> Vec<Midband> {
    Midband::octave_run("63", 7)
}

/// `judged` are all bands of the curves, `optional` those that may be absent without making the
/// rating a lower limit (data of older custom begin at 63 Hz).
fn ready(
    curve: &Curve,
    method: Method,
    judged: &[Midband],
    optional: &[Midband],
) -> Result<Ready, RatingError> {
    let octaves = curve.levels_in_octaves();
    let missing = octaves.missing(&core_bands());
    if !missing.is_empty() {
        return Err(RatingError::MissingBands { method, resolution: "octave", missing });
    }
    let mut bound = bound_over(&octaves, judged)?;
    let mut remarks: Vec<Remark> =
        octaves.remarks.iter().filter(|r| !curve.remarks.contains(r)).cloned().collect();
    remarks.extend(crate::rating::bound_remark(&octaves, judged, bound));
    let absent = octaves.missing(judged);
    let (silent, telling): (Vec<Midband>, Vec<Midband>) =
        absent.into_iter().partition(|b| optional.contains(b));
    if !silent.is_empty() {
        remarks.push(
            Remark::new(
                "rating::band-not-judged",
                "no value here, so nothing is said about these bands",
            )
            .at(crate::midband::list(&silent)),
        );
    }
    if !telling.is_empty() {
        // The rating is a maximum over bands: a band nobody measured can only raise it.
        if bound == Bound::AtMost {
            return Err(RatingError::MissingBands {
                method,
                resolution: "octave",
                missing: telling,
            });
        }
        bound = Bound::AtLeast;
        remarks.push(
            Remark::new(
                "rating::band-not-judged",
                "no value here; a loud band here would raise the rating, so it is \"at least\"",
            )
            .at(crate::midband::list(&telling)),
        );
    }
    Ok(Ready { octaves, bound, remarks })
}
