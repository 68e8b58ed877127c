//! Doors, windows and hatches: a leaf with a perimeter.

use wythe_bands::{Metre, Standpoint};

use crate::BuildUp;

/// A leaf in a wall, with the slits round it.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Kind of opening.
    pub kind: OpeningKind,
    /// The leaf; `None` for a permanent hole.
    pub leaf: Option<BuildUp>,
    /// Clear width.
    pub width: Metre,
    /// Clear height.
    pub height: Metre,
    /// Seal and gap along the head.
    pub head: Seal,
    /// Seal and gap along both jambs.
    pub jambs: Seal,
    /// Seal and gap along the sill or threshold.
    pub sill: Seal,
    /// Whether there is an open keyhole.
    pub keyhole: bool,
    /// What closes the edge of the flap of a letter plate, if there is one.
    pub letter_plate: Option<SealKind>,
    /// A second leaf behind the first, which stands as the first does.
    pub second: Option<Box<SecondLeaf>>,
    /// Position of the leaf.
    pub state: OpeningState,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// A second leaf in the same opening.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondLeaf {
    /// The leaf.
    pub leaf: BuildUp,
    /// Clear distance between the leaves.
    pub gap: Metre,
    /// Seal and gap along its head.
    pub head: Seal,
    /// Seal and gap along both its jambs.
    pub jambs: Seal,
    /// Seal and gap along its sill or threshold.
    pub sill: Seal,
    /// Whether each leaf has a frame of its own; both hang in one otherwise.
    pub separate_frames: bool,
    /// Whether the reveal between them is lined with absorbing board.
    pub lined: bool,
}

/// Kinds of opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum OpeningKind {
    /// Door.
    Door,
    /// Window.
    Window,
    /// Hatch.
    Hatch,
    /// A hole without a leaf: grille, pass-through, missing pane.
    Hole,
}

/// Position of a leaf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OpeningState {
    /// Latched.
    Closed,
    /// Wide open.
    Open,
    /// Standing off its frame by this much at the latch edge.
    Ajar(Metre),
    /// Closed, with all slits taped over for a test.
    Taped,
}

/// The three kinds of edge of a leaf.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PerimeterPart {
    /// Top edge.
    Head,
    /// Both upright edges.
    Jambs,
    /// Bottom edge.
    Sill,
}

/// What closes an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seal {
    /// Kind of seal.
    pub kind: SealKind,
    /// Width of the gap the seal closes, or of the open slit where there is none.
    pub gap: Metre,
}

/// Kinds of seal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum SealKind {
    /// Open slit.
    #[default]
    None,
    /// Compression seal, continuous.
    Compression,
    /// Brush.
    Brush,
    /// Automatic drop seal.
    DropSeal,
}
