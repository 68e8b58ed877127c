//! What parts two rooms.

use wythe_bands::{Metre, SquareMetre, Standpoint};
use wythe_partition::Opening;

use crate::{BuildUpIndex, RoomIndex};

/// A wall or floor between two rooms, or between a room and the outdoors.
#[derive(Clone, Debug, PartialEq)]
pub struct Boundary {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// The two rooms; side a of the build-up faces the first.
    pub rooms: [RoomIndex; 2],
    /// Wall or floor.
    pub kind: BoundaryKind,
    /// What it is made of.
    pub build_up: BuildUpIndex,
    /// Gross area, openings included.
    pub area: SquareMetre,
    /// Whether the area was found from the outlines (else it was stated).
    pub area_found: bool,
    /// Doors, windows, hatches and holes in it.
    pub openings: Vec<Opening>,
    /// Slits and holes through it that belong to no opening.
    pub leaks: Vec<Leak>,
    /// Distance to the point of interest outdoors, where it differs from the room's.
    pub distance: Option<Metre>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// Which way a boundary lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BoundaryKind {
    /// Upright.
    Wall,
    /// Lying: ceiling of the first room, floor of the second.
    Floor,
    /// Lying or sloped, with the outdoors above.
    Roof,
}

/// An unintended way for air through a boundary.
#[derive(Clone, Debug, PartialEq)]
pub struct Leak {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Its shape.
    pub shape: LeakShape,
    /// Depth of the way through.
    pub depth: Metre,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// Shapes of leaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LeakShape {
    /// A slit.
    Slit {
        /// Width.
        width: Metre,
        /// Length.
        length: Metre,
        /// Whether it runs along an edge of the room, where it passes more.
        along_edge: bool,
    },
    /// A round hole.
    Hole {
        /// Diameter.
        diameter: Metre,
    },
}

impl Boundary {
    /// Title if there is one, else the id.
    pub fn name(&self) -> &str {
        self.title.as_deref().unwrap_or(&self.id)
    }

    /// Area without openings; never negative.
    pub fn net_area(&self) -> SquareMetre {
        let open: f64 = self.openings.iter().map(|o| o.width.0 * o.height.0).sum();
        SquareMetre((self.area.0 - open).max(0.0))
    }

    /// The room on the other side; `None` when `room` is on neither.
    pub fn beyond(&self, room: RoomIndex) -> Option<RoomIndex> {
        match self.rooms {
            [a, b] if a == room => Some(b),
            [a, b] if b == room => Some(a),
            _ => None,
        }
    }
}
