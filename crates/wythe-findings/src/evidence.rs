//! What was measured, as the comparison needs it.

use wythe_bands::{LevelDifference, Spectrum};
use wythe_building::RoomIndex;

/// One measured pair of rooms in one state of the building.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Name of the building's state; `None` for the building as described.
    pub state: Option<String>,
    /// Room with the source.
    pub source: RoomIndex,
    /// Receiving room.
    pub receiver: RoomIndex,
    /// Level difference per band.
    pub bands: Spectrum<Observed>,
}

/// A level difference in one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observed {
    /// The value, or its lower bound.
    pub difference: LevelDifference,
    /// Standard uncertainty, dB.
    pub deviation: LevelDifference,
    /// Whether the true difference is only known to be at least this.
    pub at_least: bool,
}
