//! Ducts, grilles and vents: ways for air that somebody put there on purpose.

use wythe_bands::{Level, LevelDifference, Metre, Spectrum, SquareMetre, Standpoint, SurfaceMass};

use crate::RoomIndex;

/// A duct from one room to another or to the outdoors.
#[derive(Clone, Debug, PartialEq)]
pub struct Duct {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Both ends.
    pub ends: [DuctEnd; 2],
    /// Clear cross-section of the duct itself.
    pub section: Section,
    /// Length of the straight runs together.
    pub length: Metre,
    /// Length of it that is lined.
    pub lined_length: Metre,
    /// Thickness of the lining, 0 for none.
    pub lining: Metre,
    /// Bends on the way.
    pub elbows: Vec<Elbow>,
    /// At each split on the way, the share of the leaving cross-sections that goes on in this
    /// duct, 0 to 1 (pure ratio).
    pub splits: Vec<f64>,
    /// Insertion loss of silencers together, measured.
    pub silencer: Option<Spectrum<LevelDifference>>,
    /// Sound power level in the duct from the fan and from the air stream itself, dB re 1 pW, at
    /// the first end and at the second.
    pub noise: [Option<Spectrum<Level>>; 2],
    /// The air that streams through it, where its noise is to be calculated.
    pub stream: Option<AirStream>,
    /// Mass per area of the duct's own wall; `None` where it runs through no room.
    pub wall: Option<SurfaceMass>,
    /// Rooms it runs through, with the length in each.
    pub through: Vec<(RoomIndex, Metre)>,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// What is known of the air that streams through a duct.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AirStream {
    /// Flow, m³/s.
    pub flow: f64,
    /// Loss coefficient Δp/(½ ρ U²) of the grille at either end, U being the mean velocity over
    /// the area of the opening (pure ratio).
    pub grille_loss: f64,
    /// The same of a damper in the duct, by the velocity in the duct; `None` without one.
    pub damper: Option<f64>,
}

/// One end of a duct.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DuctEnd {
    /// The room it opens into.
    pub room: RoomIndex,
    /// Area of its opening; the duct's own where no larger grille is stated.
    pub opening: SquareMetre,
    /// Whether it ends flush with a wall or ceiling (else it stands free in the room).
    pub flush: bool,
}

/// Clear cross-section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Section {
    /// A rectangle.
    Rectangular {
        /// One side.
        width: Metre,
        /// The other.
        height: Metre,
    },
    /// A circle.
    Round {
        /// Diameter inside.
        diameter: Metre,
    },
}

impl Section {
    /// Clear area.
    pub fn area(self) -> SquareMetre {
        SquareMetre(match self {
            Section::Rectangular { width, height } => width.0 * height.0,
            Section::Round { diameter } => std::f64::consts::PI / 4.0 * diameter.0 * diameter.0,
        })
    }

    /// Clear perimeter.
    pub fn perimeter(self) -> Metre {
        match self {
            Section::Rectangular { width, height } => (width + height) * 2.0,
            Section::Round { diameter } => diameter * std::f64::consts::PI,
        }
    }

    /// The dimension a bend turns about: the greater side, or the diameter.
    pub fn width(self) -> Metre {
        match self {
            Section::Rectangular { width, height } => Metre(width.0.max(height.0)),
            Section::Round { diameter } => diameter,
        }
    }
}

/// A bend of a duct.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Elbow {
    /// Its shape.
    pub kind: ElbowKind,
    /// Whether it is lined, at least two widths either side.
    pub lined: bool,
}

/// Shapes of bends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElbowKind {
    /// Square without vanes.
    Square,
    /// Square with turning vanes.
    Vaned,
    /// Round.
    Round,
}

/// A small element known by its element-normalised level difference: transfer grille, trickle
/// vent, letter box.
#[derive(Clone, Debug, PartialEq)]
pub struct SmallElement {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// The two rooms.
    pub rooms: [RoomIndex; 2],
    /// D_n,e per band, referred to 10 m².
    pub level_difference: Spectrum<LevelDifference>,
    /// How many there are.
    pub count: u32,
    /// How well it is known.
    pub standpoint: Standpoint,
}
