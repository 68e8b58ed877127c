//! What is required in which room at which hours.

use wythe_bands::{Level, LevelDifference, OctaveSpectrum, Spectrum, Standpoint};

use crate::RoomIndex;

/// A requirement on one room.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The receiving room.
    pub room: RoomIndex,
    /// What is required.
    pub criterion: Criterion,
    /// The criterion as the user wrote it.
    pub text: String,
    /// When it applies; `None` for always.
    pub hours: Option<Hours>,
    /// Who says so, and how well that is known.
    pub standpoint: Standpoint,
}

/// Kinds of requirement.
// One per target; boxing the curve would only burden who matches on it.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum Criterion {
    /// Noise rating curve, octaves 31.5 Hz to 8 kHz.
    Nr(f64),
    /// Noise criterion curve, octaves 63 Hz to 8 kHz.
    Nc(f64),
    /// A-weighted level at most this.
    LevelA(Level),
    /// C-weighted level at most this.
    LevelC(Level),
    /// Third-octave levels at most these.
    Thirds(Spectrum<Level>),
    /// Octave levels at most these.
    Octaves(OctaveSpectrum<Level>),
    /// Not above the room's own background nor the hearing threshold in any band.
    NotAudible,
    /// Weighted standardized level difference D_nT,w plus a term at least this.
    WeightedDifference {
        /// Least value, dB.
        least: LevelDifference,
        /// Adaptation term to add: none, `C`, `Ctr`, `C50-3150`, `Ctr50-3150`.
        term: Option<String>,
        /// The room the sound comes from; `None` for every source.
        from: Option<RoomIndex>,
    },
}

/// A stretch of the day, in minutes after midnight; may run past midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hours {
    /// Start, 0 to 1439.
    pub from: u16,
    /// End, 0 to 1439; below the start when it runs past midnight.
    pub to: u16,
}

impl Hours {
    /// Whether two stretches of the day share a minute; one that ends where it begins is the
    /// whole day.
    ///
    /// ```
    /// use wythe_building::Hours;
    /// let night = Hours { from: 22 * 60, to: 7 * 60 };
    /// assert!(night.overlaps(Hours { from: 6 * 60, to: 8 * 60 }));
    /// assert!(!night.overlaps(Hours { from: 7 * 60, to: 22 * 60 }));
    /// ```
    pub fn overlaps(self, other: Hours) -> bool {
        const DAY: u16 = 24 * 60;
        let within = |h: Hours, minute: u16| {
            let length = (h.to + DAY - h.from % DAY) % DAY;
            let after = (minute + DAY - h.from % DAY) % DAY;
            length == 0 || after < length
        };
        within(self, other.from) || within(other, self.from)
    }
}

impl Target {
    /// Whether the target applies while something plays at these hours.
    pub fn binds(&self, played: Option<Hours>) -> bool {
        match (self.hours, played) {
            (Some(a), Some(b)) => a.overlaps(b),
            _ => true,
        }
    }
}
