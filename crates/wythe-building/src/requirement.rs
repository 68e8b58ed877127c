//! What is required in which room at which hours.

use wythe_bands::{Level, LevelDifference, OctaveSpectrum, Spectrum, Standpoint};

use crate::{RoomIndex, SoundSource};

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
    /// A-weighted maximum with fast time weighting, L_AFmax, at most this.
    MaximumA(Level),
    /// Third-octave levels at most these.
    Thirds(Spectrum<Level>),
    /// Octave levels at most these.
    Octaves(OctaveSpectrum<Level>),
    /// Not above the room's own background nor the hearing threshold in any band.
    NotAudible,
    /// A level difference in one number, at least this.
    WeightedDifference {
        /// Which.
        of: DifferenceKind,
        /// Least value, dB.
        least: LevelDifference,
        /// Adaptation term to add: none, `C`, `Ctr`, `C50-3150`, `Ctr50-3150`.
        term: Option<String>,
        /// The room the sound comes from; `None` for every source.
        from: Option<RoomIndex>,
    },
}

/// Level differences in one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DifferenceKind {
    /// Weighted standardized level difference D_nT,w.
    Standardized,
    /// Weighted level difference D_w, as heard, of no reference room.
    Plain,
    /// A-weighted level of the source as described less the A-weighted level that arrives.
    LevelA,
    /// The same C-weighted.
    LevelC,
}

/// A stretch of the day, in minutes after midnight; may run past midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hours {
    /// Start, 0 to 1439.
    pub from: u16,
    /// End, 0 to 1439; below the start when it runs past midnight.
    pub to: u16,
}

impl Target {
    /// Whether the source may play in the hours the target is about.
    pub fn applies_to(&self, source: &SoundSource) -> bool {
        match (self.hours, source.hours) {
            (Some(asked), Some(plays)) => asked.overlaps(plays),
            _ => true,
        }
    }
}

impl Target {
    /// Whether the target applies while something plays at these hours.
    pub fn binds(&self, played: Option<Hours>) -> bool {
        match (self.hours, played) {
            (Some(asked), Some(plays)) => asked.overlaps(plays),
            _ => true,
        }
    }
}

impl Hours {
    /// Whether any minute lies in both; a stretch that ends where it begins is the whole day.
    ///
    /// ```
    /// use wythe_building::Hours;
    /// let night = Hours { from: 22 * 60, to: 7 * 60 };
    /// assert!(night.overlaps(Hours { from: 18 * 60, to: 23 * 60 }));
    /// assert!(!night.overlaps(Hours { from: 10 * 60, to: 22 * 60 }));
    /// ```
    pub fn overlaps(self, other: Hours) -> bool {
        let length = |h: Hours| match (h.to + 1440 - h.from) % 1440 {
            0 => 1440,
            minutes => minutes,
        };
        let after = |a: Hours, b: Hours| (b.from + 1440 - a.from) % 1440;
        after(self, other) < length(self) || after(other, self) < length(other)
    }
}

impl std::fmt::Display for Hours {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let clock = |m: u16| format!("{:02}:{:02}", m / 60, m % 60);
        write!(f, "{}–{}", clock(self.from), clock(self.to))
    }
}
