//! Why a curve is not rated.

use crate::{Method, Midband, midband};
use thiserror::Error;

/// Largest magnitude, dB, taken for a band value. The loudest sound in air is near 194 dB and no
/// partition has 200 dB; a hundred more leaves room for reference curves far out.
pub const LARGEST_VALUE: f64 = 300.0;

/// Why a rating is refused: what, where, why, and what to do.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RatingError {
    /// Bands the rule needs have no value.
    #[error(
        "{method} needs a value in every {resolution} band it judges; {} {} missing; measure or \
         predict {}, a gap is never filled in",
        midband::list(missing),
        if missing.len() == 1 { "is" } else { "are" },
        if missing.len() == 1 { "it" } else { "them" }
    )]
    MissingBands {
        /// The method asked for.
        method: Method,
        /// `third-octave` or `octave`.
        resolution: &'static str,
        /// Bands without a value.
        missing: Vec<Midband>,
    },
    /// Octave values handed to a rule made for thirds only.
    #[error(
        "{method} is made for third-octave bands only and these are octaves; octave values cannot \
         be split again, so hand in the third-octave curve, or rate with iso717-1 or iso717-2, \
         which have octave forms"
    )]
    OctavesGiven {
        /// The method asked for.
        method: Method,
    },
    /// Something that needs thirds was handed octaves.
    #[error(
        "{what} is made for third-octave bands only and these are octaves; hand in the third-octave \
         curve"
    )]
    ThirdsNeeded {
        /// What was asked for.
        what: &'static str,
    },
    /// A value that is no number of decibels.
    #[error(
        "the value at {band} Hz is {value}, which is not a level or level difference in decibels \
         (finite, between -{LARGEST_VALUE} and {LARGEST_VALUE}); correct it or leave the band out"
    )]
    NotDecibels {
        /// Where.
        band: Midband,
        /// What was there.
        value: f64,
    },
    /// Some bands are lower limits and some are upper limits.
    #[error(
        "{} marked \"at least\" and {} marked \"at most\": the rating is then bounded on neither \
         side; measure one of the two groups again with less background noise",
        midband::list(at_least),
        midband::list(at_most)
    )]
    OpposedBounds {
        /// Bands that are lower limits.
        at_least: Vec<Midband>,
        /// Bands that are upper limits.
        at_most: Vec<Midband>,
    },
    /// The option does not belong to the method.
    #[error("{option} belongs to {belongs_to}, not to {method}; leave it out or change the method")]
    OptionElsewhere {
        /// The option.
        option: &'static str,
        /// Where it belongs.
        belongs_to: &'static str,
        /// The method asked for.
        method: Method,
    },
    /// The method has no such number, or none whose spread can be computed this way.
    #[error("{method} has no {number} to be taken through its bands")]
    NoSuchNumber {
        /// The method.
        method: Method,
        /// What was asked for.
        number: &'static str,
    },
    /// A standard deviation or correlation out of range, or absent.
    #[error("{what} is {value}; {expected}")]
    Statistic {
        /// Which number.
        what: String,
        /// What was given.
        value: f64,
        /// What is needed.
        expected: &'static str,
    },
}

impl RatingError {
    /// Stable code.
    pub fn code(&self) -> &'static str {
        match self {
            RatingError::MissingBands { .. } => "rating::missing-bands",
            RatingError::OctavesGiven { .. } | RatingError::ThirdsNeeded { .. } => {
                "rating::octaves-given"
            }
            RatingError::NotDecibels { .. } => "rating::not-decibels",
            RatingError::OpposedBounds { .. } => "rating::opposed-bounds",
            RatingError::OptionElsewhere { .. } => "rating::option-elsewhere",
            RatingError::NoSuchNumber { .. } => "rating::no-such-number",
            RatingError::Statistic { .. } => "rating::statistic",
        }
    }
}
