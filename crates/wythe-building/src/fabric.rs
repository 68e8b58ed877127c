//! What carries sound beside walls, doors and leaks.

use crate::{Contact, Duct, Facing, Junction, SmallElement};

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
}
