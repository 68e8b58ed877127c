//! What a wall is made of, as a person would list it from one side to the other.

use std::sync::Arc;

use wythe_bands::{
    FlowResistivity, LevelDifference, Metre, OctaveSpectrum, Spectrum, Standpoint, SurfaceMass,
};

use crate::catalogue::{FillMaterial, Material, catalogue};
use crate::electrical_box::ElectricalBoxes;

/// A wall, floor, ceiling, door leaf or pane, from side a to side b.
#[derive(Clone, Debug, PartialEq)]
pub struct BuildUp {
    /// The user's name for it, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// What it consists of.
    pub construction: Construction,
    /// Number of rigid short circuits between the leaves per square metre beyond what the frame
    /// makes by itself: dropped mortar, a screw too long, a pipe. 0 unless a fault is stated.
    pub rigid_bridges_per_m2: f64,
    /// Electrical boxes set into its leaves; none in most walls.
    pub boxes: Vec<ElectricalBoxes>,
    /// Material and labour per square metre in the project's currency, if stated.
    pub cost_per_m2: Option<f64>,
    /// How well the whole is known.
    pub standpoint: Standpoint,
}

/// Layers to be calculated or a table that was measured.
// A data sheet is large beside a list of layers, but a project has dozens of them, not millions.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum Construction {
    /// Layers from side a to side b.
    Layers(Vec<Layer>),
    /// Reduction indices from a data sheet.
    Measured(DataSheet),
}

/// One entry of the list.
#[derive(Clone, Debug, PartialEq)]
pub enum Layer {
    /// Boards, sheets, slabs, panes: mass.
    Board(Board),
    /// Air, with or without fill and frame, between leaves.
    Cavity(Cavity),
}

/// One or more equal sheets. Adjacent board layers form one leaf.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Name in the catalogue of materials, such as `gypsum board`.
    pub material: String,
    /// Thickness of one sheet.
    pub thickness: Metre,
    /// Number of sheets, 1 or more.
    pub count: u32,
    /// How the sheets are joined to each other, and to the board layer before this one.
    pub joined: Joint,
    /// Mass of one sheet; overrides the catalogue's density.
    pub surface_mass: Option<SurfaceMass>,
    /// The user's own material of that name; `None` for one of the catalogue.
    pub own: Option<Arc<Material>>,
    /// How well this layer is known.
    pub standpoint: Standpoint,
}

impl Board {
    /// What is known of its material: the user's own, or the catalogue's of that name.
    pub fn known(&self) -> Option<&Material> {
        self.own.as_deref().or_else(|| catalogue().material(&self.material))
    }
}

/// How sheets of one leaf hold together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Joint {
    /// Screwed or spot-glued: masses add, each sheet bends by itself.
    #[default]
    Screwed,
    /// Glued over the whole face: one thick plate.
    Bonded,
    /// A viscoelastic layer between the sheets.
    DampingLayer,
}

/// The space between two leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct Cavity {
    /// Clear depth between the leaves.
    pub depth: Metre,
    /// Porous fill, if any.
    pub fill: Option<Fill>,
    /// What ties the leaves together, if anything.
    pub frame: Option<Frame>,
    /// How well this layer is known.
    pub standpoint: Standpoint,
}

/// Porous fill in a cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// Name in the catalogue, such as `mineral wool`.
    pub material: String,
    /// Depth of the fill, at most the cavity's.
    pub depth: Metre,
    /// Airflow resistivity; overrides the catalogue's.
    pub flow_resistivity: Option<FlowResistivity>,
    /// The user's own fill of that name; `None` for one of the catalogue.
    pub own: Option<Arc<FillMaterial>>,
}

impl Fill {
    /// What is known of it: the user's own, or the catalogue's of that name.
    pub fn known(&self) -> Option<&FillMaterial> {
        self.own.as_deref().or_else(|| catalogue().fill(&self.material))
    }
}

/// The frame in a cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Kind of frame.
    pub kind: FrameKind,
    /// Steel sheet gauge number, for light steel.
    pub gauge: Option<u32>,
    /// Spacing of the studs or joists, centre to centre.
    pub spacing: Metre,
    /// Spacing of the screws along a stud; the catalogue's usual one where not given.
    pub screw_spacing: Option<Metre>,
    /// Resilient mounting between frame and boards, if any.
    pub mount: Option<Mount>,
}

/// Kinds of frame, by what connects the two leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FrameKind {
    /// One row of timber studs or joists; both leaves fixed to it.
    TimberStuds,
    /// Two staggered rows of timber studs on common plates.
    StaggeredTimberStuds,
    /// Two rows of timber studs, each on its own plates.
    SeparateTimberStuds,
    /// One row of light steel studs.
    LightSteelStuds,
    /// One row of load-bearing steel studs.
    LoadBearingSteelStuds,
    /// Two rows of steel studs, each on its own track.
    SeparateSteelStuds,
    /// Panes in one frame.
    CommonWindowFrame,
    /// Panes in frames of their own.
    SeparateWindowFrames,
    /// Light wire ties between masonry leaves; the spacing is that along a row, the spacing of
    /// screws that of the rows.
    LightWallTies,
    /// Heavy strip ties between masonry leaves.
    HeavyWallTies,
    /// Rods, straps or wires on which a ceiling hangs, with nothing soft in them.
    RigidHangers,
    /// Hangers with rubber or a spring in them.
    ResilientHangers,
}

impl FrameKind {
    /// Every kind.
    pub const ALL: [FrameKind; 12] = [
        FrameKind::TimberStuds,
        FrameKind::StaggeredTimberStuds,
        FrameKind::SeparateTimberStuds,
        FrameKind::LightSteelStuds,
        FrameKind::LoadBearingSteelStuds,
        FrameKind::SeparateSteelStuds,
        FrameKind::CommonWindowFrame,
        FrameKind::SeparateWindowFrames,
        FrameKind::LightWallTies,
        FrameKind::HeavyWallTies,
        FrameKind::RigidHangers,
        FrameKind::ResilientHangers,
    ];

    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            FrameKind::TimberStuds => "timber studs",
            FrameKind::StaggeredTimberStuds => "staggered timber studs",
            FrameKind::SeparateTimberStuds => "separate timber studs",
            FrameKind::LightSteelStuds => "light steel studs",
            FrameKind::LoadBearingSteelStuds => "load-bearing steel studs",
            FrameKind::SeparateSteelStuds => "separate steel studs",
            FrameKind::CommonWindowFrame => "common window frame",
            FrameKind::SeparateWindowFrames => "separate window frames",
            FrameKind::LightWallTies => "light wall ties",
            FrameKind::HeavyWallTies => "heavy wall ties",
            FrameKind::RigidHangers => "rigid hangers",
            FrameKind::ResilientHangers => "resilient hangers",
        }
    }

    /// The kind a word names.
    pub fn from_word(word: &str) -> Option<FrameKind> {
        FrameKind::ALL.into_iter().find(|k| k.word() == word)
    }

    /// Usual distance across its rows where none is stated, for kinds that tie at points: 450 mm
    /// for wall ties, as far as along the row for hangers. Common practice, no source.
    pub fn usual_rows(self, spacing: Metre) -> Metre {
        match self {
            FrameKind::LightWallTies | FrameKind::HeavyWallTies => Metre(0.45),
            _ => spacing,
        }
    }

    /// Whether it ties the leaves at points by itself: wall ties, hangers.
    pub fn is_points(self) -> bool {
        matches!(
            self,
            FrameKind::LightWallTies
                | FrameKind::HeavyWallTies
                | FrameKind::RigidHangers
                | FrameKind::ResilientHangers
        )
    }
}

/// A resilient mounting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mount {
    /// Kind of mounting.
    pub kind: MountKind,
    /// Which leaf hangs on it.
    pub side: Side,
}

/// Kinds of resilient mounting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MountKind {
    /// Resilient channel across the studs.
    ResilientChannel,
    /// Isolation clips with furring channel.
    IsolationClips,
}

impl MountKind {
    /// Every kind.
    pub const ALL: [MountKind; 2] = [MountKind::ResilientChannel, MountKind::IsolationClips];

    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            MountKind::ResilientChannel => "resilient channel",
            MountKind::IsolationClips => "isolation clips",
        }
    }
}

/// A side of a build-up: `A` where the list of layers starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// First layer's side.
    A,
    /// Last layer's side.
    B,
}

/// The single number of a data sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SheetRating {
    /// R_w of ISO 717-1, dB.
    Rw(f64),
    /// STC of ASTM E413.
    Stc(f64),
}

/// Reduction indices from a data sheet. Bands the sheet does not have stay missing here;
/// the prediction fills them in, marked as such.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct DataSheet {
    /// Third-octave values.
    pub thirds: Spectrum<LevelDifference>,
    /// Octave values, where the sheet gives only octaves.
    pub octaves: OctaveSpectrum<LevelDifference>,
    /// The rating, where the sheet states nothing but that.
    pub rating: Option<SheetRating>,
    /// Where the table came from: maker's sheet, report number, page.
    pub source: String,
    /// Mass per area, if the sheet says so.
    pub surface_mass: Option<SurfaceMass>,
    /// Total thickness, if the sheet says so.
    pub thickness: Option<Metre>,
    /// The layers, if they are known too: used for the bands the sheet lacks.
    pub layers: Vec<Layer>,
}
