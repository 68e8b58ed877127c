//! Levels with and without a known sensitivity.

use wythe_bands::{Level, LevelDifference};

use crate::RecordingError;

/// Level re full scale, dB: 0 dB is a signal whose rms value is 1.0, the largest sample value.
///
/// A recording whose sensitivity nobody knows has only these. They are no sound pressure levels
/// and do not turn into them without a [`Sensitivity`]:
///
/// ```compile_fail
/// use wythe_bands::Level;
/// use wythe_recording::RelativeLevel;
/// let wrong: Level = RelativeLevel(-40.0);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct RelativeLevel(pub f64);

impl RelativeLevel {
    /// Level of a mean square re full scale squared; zero or negative has none.
    pub fn from_energy(mean_square: f64) -> Option<RelativeLevel> {
        (mean_square > 0.0 && mean_square.is_finite())
            .then(|| RelativeLevel(10.0 * mean_square.log10()))
    }

    /// Mean square re full scale squared.
    pub fn energy(self) -> f64 {
        10f64.powf(self.0 / 10.0)
    }

    /// Difference to another channel **recorded with the same gain**: the caller says so by
    /// calling this. Without that statement two relative levels cannot be compared.
    pub fn above_at_equal_gain(self, other: RelativeLevel) -> LevelDifference {
        LevelDifference(self.0 - other.0)
    }
}

/// Sound pressure in pascals that makes a full-scale sample, Pa per unit.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Sensitivity(f64);

impl Sensitivity {
    /// Sensitivity stated by the user: pascals at full scale, above 0.
    ///
    /// # Errors
    /// Refuses zero, negative and non-finite values.
    pub fn new(pascal_per_full_scale: f64) -> Result<Sensitivity, RecordingError> {
        if pascal_per_full_scale > 0.0 && pascal_per_full_scale.is_finite() {
            Ok(Sensitivity(pascal_per_full_scale))
        } else {
            Err(RecordingError::Sensitivity(pascal_per_full_scale))
        }
    }

    /// From a calibrator tone of known level: K = p₀ · 10^(L_cal/20) / x_rms.
    ///
    /// Use the level on the calibrator's certificate rather than a nominal 94 or 114 dB (common
    /// practice, no source).
    ///
    /// ```
    /// use wythe_bands::Level;
    /// use wythe_recording::{RelativeLevel, Sensitivity};
    /// let k = Sensitivity::from_tone(RelativeLevel(-26.0), Level(94.0)).unwrap();
    /// assert!((k.pascal_per_full_scale() - 20.0).abs() < 0.01);
    /// ```
    ///
    /// # Errors
    /// Refuses levels that are not finite.
    pub fn from_tone(tone: RelativeLevel, stated: Level) -> Result<Sensitivity, RecordingError> {
        Sensitivity::new(Level::REFERENCE_PASCAL * 10f64.powf((stated.0 - tone.0) / 20.0))
    }

    /// Pascals at full scale.
    pub fn pascal_per_full_scale(self) -> f64 {
        self.0
    }

    /// Sound pressure level of a relative level.
    pub fn level(self, relative: RelativeLevel) -> Level {
        Level(relative.0 + 20.0 * (self.0 / Level::REFERENCE_PASCAL).log10())
    }

    /// How many decibels this sensitivity reads above another, for drift between two tones.
    pub fn above(self, other: Sensitivity) -> LevelDifference {
        LevelDifference(20.0 * (self.0 / other.0).log10())
    }
}
