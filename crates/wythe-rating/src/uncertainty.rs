//! How well a single number is known.
//!
//! Three answers, in rising order of work: the tables of ISO 12999-1 for a test made by the
//! standards ([`iso12999`]); propagation of any standard deviations per band through the actual
//! contour ([`propagate`]); and the probability that a promised value is met ([`promise`]).
//!
//! Not here: where the standard deviations come from.

mod evaluate;
pub mod iso12999;
mod normal;
mod promise;
mod propagate;
mod random;

pub use evaluate::Number;
pub use normal::{normal_cdf, normal_quantile};
pub use promise::{Direction, Promise, Route, probability_within, promise};
pub use propagate::{Propagated, monte_carlo, propagate, shifted_together};
pub use random::SplitMix64;

use crate::{Curve, Midband, RatingError};

/// Largest standard deviation taken, dB; more says nothing about a band.
const LARGEST_DEVIATION: f64 = 60.0;

/// Standard deviations of these bands; all must be there.
fn deviations(sd: &Curve, bands: &[Midband]) -> Result<Vec<f64>, RatingError> {
    bands
        .iter()
        .map(|band| match sd.get(*band).map(|e| e.value) {
            Some(value) if (0.0..=LARGEST_DEVIATION).contains(&value) => Ok(value),
            other => Err(RatingError::Statistic {
                what: format!("the standard deviation at {band} Hz"),
                value: other.unwrap_or(f64::NAN),
                expected: "give 0 to 60 dB for every band the rating judges",
            }),
        })
        .collect()
}

fn check_correlation(correlation: f64) -> Result<f64, RatingError> {
    if (0.0..=1.0).contains(&correlation) {
        Ok(correlation)
    } else {
        Err(RatingError::Statistic {
            what: "the correlation between bands".to_string(),
            value: correlation,
            expected: "give 0 (bands err independently) to 1 (all err together)",
        })
    }
}
