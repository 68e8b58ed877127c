//! What shakes the structure: instruments and loudspeakers that stand on the floor.

use wythe_bands::{Hertz, LevelDifference, Spectrum, Standpoint};

use crate::{BoundaryIndex, RoomIndex};

/// Something that stands on a floor and plays.
///
/// Everything is told relative to the airborne level the same source makes in its own room, so
/// that playing more softly softens both.
#[derive(Clone, Debug, PartialEq)]
pub struct Contact {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// The room it plays in.
    pub from: RoomIndex,
    /// The room where the structure radiates.
    pub into: RoomIndex,
    /// How it is known.
    pub transfer: ContactTransfer,
    /// What it stands on, beside what the floor itself holds.
    pub mount: Option<Mounting>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// How much of what plays arrives through the structure.
#[derive(Clone, Debug, PartialEq)]
pub enum ContactTransfer {
    /// Measured: level in the source room minus the level that arrives through the structure
    /// alone, the latter normalised to 10 m² of absorption.
    Measured(Spectrum<LevelDifference>),
    /// Estimated from the floor: force on the floor relative to that of the standard tapping
    /// machine, minus the level in the source room, dB per band.
    Estimated {
        /// The floor, with the source's room on its upper side.
        floor: BoundaryIndex,
        /// Force level re tapping machine minus level in the source room.
        force: Spectrum<LevelDifference>,
    },
}

/// A single-stage resilient mounting: riser, pads, springs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mounting {
    /// Natural frequency with what stands on it, trapped air included.
    pub natural_frequency: Hertz,
    /// Damping ratio ζ (pure ratio).
    pub damping: f64,
    /// Whether the improvement was measured; else it is held to 25 dB.
    pub measured: bool,
}
