//! What was measured, as the comparison needs it.

use wythe_bands::{LevelDifference, Spectrum};
use wythe_building::{BoundaryIndex, RoomIndex};

/// One measured pair of rooms in one state of the building.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// Name of the building's state; `None` for the building as described.
    pub state: Option<String>,
    /// Room with the source.
    pub source: RoomIndex,
    /// Receiving room.
    pub receiver: RoomIndex,
    /// The surface the receiving microphone was close to; `None` for the average of the room.
    pub near: Option<NearSurface>,
    /// Level difference per band.
    pub bands: Spectrum<Observed>,
}

/// A surface with a microphone a hand's breadth before it.
///
/// There the sound that comes through stands beside that of the room: ½ G/S of the mean-square
/// pressure on the other side, G and S the coupling area and area of what the microphone is at
/// (the relation of [`wythe_transmission::direct_before`]).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NearSurface {
    /// The boundary.
    pub boundary: BoundaryIndex,
    /// The opening in it by id; `None` for the wall itself.
    pub opening: Option<String>,
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
