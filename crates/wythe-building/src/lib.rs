//! Rooms, boundaries, junctions, sources and requirements of one building.
//!
//! A [`Building`] is the description everything is computed from: plain data with indices
//! instead of names, already checked by whoever read it. [`outline`] finds walls and floors that
//! rooms share, [`edges`] the edges where they meet; [`finish`] turns finishes into absorption.
//!
//! Not here: files, reduction indices, levels.

// `!(x > 0.0)` refuses NaN together with zero; `x <= 0.0` would let it through.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod boundary;
pub mod care;
mod change;
mod contact;
mod duct;
pub mod edges;
mod experience;
mod fabric;
pub mod finish;
mod junction;
pub mod modes;
pub mod mounting;
pub mod outline;
pub mod plan;
mod requirement;
mod room;
mod source;

pub use boundary::{Boundary, BoundaryKind, Leak, LeakShape};
pub use care::Care;
pub use change::{Action, Change, Limits, Price, Skill, Strike};
pub use contact::{Contact, ContactTransfer, Mounting};
pub use duct::{AirStream, Duct, DuctEnd, Elbow, ElbowKind, Section, SmallElement};
pub use experience::{Comparison, Experience, OWN_VARIANCE, experience, kind_of};
pub use fabric::{Fabric, FoundWay};
pub use junction::{Facing, Ground, Junction, JunctionKind};
pub use requirement::{Criterion, DifferenceKind, Hours, Target};
pub use room::{Absorption, Room, SABINE_LIMIT, Surface};
pub use source::{SoundSource, Spectrum31};

use wythe_bands::Air;
use wythe_partition::{BuildUp, OpeningState, OwnCatalogue};

macro_rules! index {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);
    };
}

index!(
    /// Position of a room in [`Building::rooms`].
    RoomIndex);
index!(
    /// Position of a boundary in [`Building::boundaries`].
    BoundaryIndex);
index!(
    /// Position of a build-up in [`Building::build_ups`].
    BuildUpIndex);

/// One building as described, with everything that is asked of it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Building {
    /// Title of the project.
    pub title: String,
    /// The air in it.
    pub air: Air,
    /// Materials and fills of the user's own, which build-ups may name.
    pub own: OwnCatalogue,
    /// Build-ups used by boundaries and offered by changes.
    pub build_ups: Vec<BuildUp>,
    /// Rooms, the outdoors among them where it is a receiver.
    pub rooms: Vec<Room>,
    /// What parts the rooms.
    pub boundaries: Vec<Boundary>,
    /// What joins them beside: junctions, ducts, contacts.
    pub fabric: Fabric,
    /// Named positions of doors and windows beside the one described.
    pub states: Vec<State>,
    /// Sound sources.
    pub sources: Vec<SoundSource>,
    /// What is required.
    pub targets: Vec<Target>,
    /// Changes on offer.
    pub changes: Vec<Change>,
    /// Limits that changes must keep.
    pub limits: Limits,
    /// What the user has struck out of all that could be done.
    pub strikes: Vec<Strike>,
    /// The user's own prices.
    pub prices: Vec<Price>,
    /// What comparisons of earlier projects say about kinds of construction.
    pub experience: Vec<Experience>,
    /// What is stated for the cautions.
    pub care: Care,
}

/// A named state of the building: which openings stand how, what is plugged, what was changed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct State {
    /// Name, such as `both lobby doors open`.
    pub name: String,
    /// Openings by id that differ from the description.
    pub openings: Vec<(String, OpeningState)>,
    /// Ducts, vents and leaks by id that are plugged.
    pub plugged: Vec<String>,
    /// Changes by id that are made in this state: before and after.
    pub made: Vec<String>,
}

impl Building {
    /// Room by id.
    pub fn room(&self, id: &str) -> Option<RoomIndex> {
        self.rooms.iter().position(|r| r.id == id).map(RoomIndex)
    }

    /// Mass per area that may be added to a floor or roof as somebody stated it: its own
    /// allowance, else the limit of all plans.
    pub fn load_allowance(&self, boundary: &str) -> Option<wythe_bands::SurfaceMass> {
        let own = self.care.allowances.iter().find(|(id, _)| id == boundary).map(|(_, m)| *m);
        own.or(self.limits.added_mass)
    }

    /// Boundary by id.
    pub fn boundary(&self, id: &str) -> Option<BoundaryIndex> {
        self.boundaries.iter().position(|b| b.id == id).map(BoundaryIndex)
    }

    /// Build-up by id.
    pub fn build_up(&self, id: &str) -> Option<BuildUpIndex> {
        self.build_ups.iter().position(|b| b.id == id).map(BuildUpIndex)
    }

    /// The building in a named state, with its openings, plugs and changes; `None` when there is no
    /// such state.
    pub fn in_state(&self, name: &str) -> Option<Building> {
        let state = self.states.iter().find(|s| s.name == name)?;
        let mut building = self.clone();
        for (id, position) in &state.openings {
            for boundary in &mut building.boundaries {
                for opening in boundary.openings.iter_mut().filter(|o| &o.id == id) {
                    opening.state = *position;
                }
            }
        }
        for way in &state.plugged {
            building.plug(way);
        }
        let made: Vec<usize> = state
            .made
            .iter()
            .filter_map(|id| self.changes.iter().position(|c| &c.id == id))
            .collect();
        Some(building.with_changes(&made))
    }
}
