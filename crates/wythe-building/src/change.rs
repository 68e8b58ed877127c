//! Changes on offer, and the limits they must keep.

use wythe_bands::{LevelDifference, Metre, SquareMetre, Standpoint, SurfaceMass};
use wythe_partition::{BuildUp, Seal};

use crate::{BoundaryIndex, BuildUpIndex, RoomIndex};

/// One change somebody could make.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people, such as `drop seal on the lobby door`.
    pub title: String,
    /// The element it belongs to: of all changes with the same element, one at most is made.
    pub element: String,
    /// What it does.
    pub actions: Vec<Action>,
    /// Material and labour, in the project's currency; `None` when no price is on file.
    pub cost: Option<f64>,
    /// Whether the price was invented for the demonstration.
    pub cost_invented: bool,
    /// Own or hired hours, if stated.
    pub hours: Option<f64>,
    /// Whether it can be taken back without a trace.
    pub reversible: bool,
    /// Where the price and the idea come from.
    pub standpoint: Standpoint,
}

/// What a change does to the building.
// A handful exist at a time; boxing the leaf would only burden who matches on it.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// A boundary gets another build-up.
    Rebuild {
        /// Which boundary.
        boundary: BoundaryIndex,
        /// Its new build-up.
        build_up: BuildUpIndex,
    },
    /// An opening gets other seals; `None` leaves an edge as it is.
    Seal {
        /// Opening by id.
        opening: String,
        /// New seal of the head.
        head: Option<Seal>,
        /// New seal of the jambs.
        jambs: Option<Seal>,
        /// New seal of the sill.
        sill: Option<Seal>,
    },
    /// An opening gets another leaf.
    Leaf {
        /// Opening by id.
        opening: String,
        /// The new leaf.
        leaf: BuildUp,
    },
    /// A leak is closed.
    Close {
        /// Leak by id.
        leak: String,
    },
    /// Absorbing finish is added in a room.
    Absorb {
        /// Which room.
        room: RoomIndex,
        /// Name in the table of finishes.
        finish: String,
        /// Its area.
        area: SquareMetre,
    },
    /// The source is played more quietly, or at an hour with a more lenient target.
    Quieter {
        /// Room of the source.
        room: RoomIndex,
        /// By how much.
        by: LevelDifference,
    },
}

/// Limits a plan must keep.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Limits {
    /// Money there is, in the project's currency.
    pub budget: Option<f64>,
    /// Currency symbol or word, as the user writes it.
    pub currency: Option<String>,
    /// Mass that may be added to a floor or hung from a ceiling, as the person responsible for
    /// the structure stated it.
    pub added_mass: Option<SurfaceMass>,
    /// Thickness that may be lost on a boundary.
    pub thickness: Option<Metre>,
    /// Whether only changes that can be taken back may be made.
    pub reversible_only: bool,
}
