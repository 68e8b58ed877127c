//! Where a curve lies on the wrong side of what is required, and by how much in all.

use super::trace::{Bound, Role, Trace};
use super::words::{decibels, nominal};
use wythe_bands::Band;

/// On which side of the required curve a measured value is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WrongSide {
    /// Insulation: too little.
    Below,
    /// Levels: too much.
    Above,
}

/// A sum of deviations on the wrong side of the required curve.
pub(crate) struct Shortfall {
    /// Band, required value, reached value.
    pub(crate) cells: Vec<(Band, f64, f64)>,
    pub(crate) tenths: i64,
    pub(crate) undecided: usize,
}

impl Shortfall {
    pub(crate) fn sentence(&self, side: Option<WrongSide>, sum: bool) -> Option<String> {
        let gap = |c: &(Band, f64, f64)| (c.1 - c.2).abs();
        let worst = self.cells.iter().max_by(|a, b| gap(a).total_cmp(&gap(b)))?;
        let word = if side == Some(WrongSide::Above) { "over" } else { "short" };
        if !sum {
            let most = decibels(gap(worst));
            return Some(format!("{word} by up to {most}, at {}", nominal(worst.0)));
        }
        Some(format!("{word} by {} in all", decibels(self.tenths as f64 / 10.0)))
    }
}

/// Deviations of the measured trace (or, without one, the predicted) on the wrong side of the
/// required one, added in whole tenths of a decibel as rating procedures do.
pub(crate) fn shortfall(traces: &[Trace], side: WrongSide) -> Option<Shortfall> {
    let required = traces.iter().find(|t| t.role == Role::Required)?;
    let reached = traces
        .iter()
        .find(|t| t.role == Role::Measured)
        .or_else(|| traces.iter().find(|t| t.role == Role::Predicted))?;
    let mut out = Shortfall { cells: Vec::new(), tenths: 0, undecided: 0 };
    for (band, p) in reached.points.iter() {
        let Some(need) = required.points.get(band) else { continue };
        let gap = match side {
            WrongSide::Below => need.db - p.db,
            WrongSide::Above => p.db - need.db,
        };
        let tenths = (gap * 10.0).round() as i64;
        if tenths <= 0 {
            continue;
        }
        // A lower bound below the requirement may hide a value above it.
        let open = match side {
            WrongSide::Below => p.bound == Bound::AtLeast,
            WrongSide::Above => p.bound == Bound::AtMost,
        };
        if open {
            out.undecided += 1;
        } else {
            out.cells.push((band, need.db, p.db));
            out.tenths += tenths;
        }
    }
    Some(out)
}
