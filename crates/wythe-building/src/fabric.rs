//! What carries sound beside walls, doors and leaks.

use wythe_bands::LevelDifference;

use crate::{BoundaryIndex, Contact, Duct, Facing, Junction, SmallElement};

/// Everything that joins rooms beside the boundaries themselves.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Fabric {
    /// Edges where walls and floors meet, stated and found.
    pub junctions: Vec<Junction>,
    /// Ducts between rooms, and between rooms and the outdoors.
    pub ducts: Vec<Duct>,
    /// Small elements known by D_n,e: grilles, vents, letter boxes.
    pub small_elements: Vec<SmallElement>,
    /// What shakes the structure: instruments and loudspeakers on the floor.
    pub contacts: Vec<Contact>,
    /// Boundaries to the outdoors that do not look straight at the point of interest.
    pub facings: Vec<Facing>,
    /// What recordings say about ways of which the description does not know how much they
    /// carry; empty in a building as described.
    pub found: Vec<FoundWay>,
}

/// How much more a way carries than calculated.
#[derive(Clone, Debug, PartialEq)]
pub enum FoundWay {
    /// Everything along a junction, or through a duct or vent, carries more by this.
    Stronger {
        /// Junction, duct or vent by id.
        way: String,
        /// By how much.
        by: LevelDifference,
    },
    /// Sound goes along the structure beside a boundary whose junctions nobody described, and
    /// carries more than one usual framed junction by this.
    Beside {
        /// Boundary by id.
        way: String,
        /// Which one.
        boundary: BoundaryIndex,
        /// By how much; negative for less.
        by: LevelDifference,
    },
}

impl FoundWay {
    /// The junction, duct, vent or boundary by id.
    pub fn way(&self) -> &str {
        match self {
            FoundWay::Stronger { way, .. } | FoundWay::Beside { way, .. } => way,
        }
    }
}
