//! Edges where walls and floors meet, and along which sound goes round the separating element.

use wythe_bands::{Hertz, Level, LevelDifference, Metre, Spectrum, Standpoint};

use crate::BoundaryIndex;

/// One edge with the plates that meet there.
#[derive(Clone, Debug, PartialEq)]
pub struct Junction {
    /// Name, unique in the project.
    pub id: String,
    /// Title for people.
    pub title: Option<String>,
    /// Up to four plates in turn round the edge: 0 and 2 are in line with each other, 1 and 3 are
    /// in line with each other and square to the first two. `None` where nothing runs, or where
    /// nobody described what does.
    pub plates: [Option<BoundaryIndex>; 4],
    /// Common length of the plates.
    pub length: Metre,
    /// How the plates are joined.
    pub kind: JunctionKind,
    /// Framed only: normalised flanking impact level L_n,f that the standard tapping machine on a
    /// floor of this junction makes in the room beyond plate 0; `None` where nobody measured it.
    pub impact: Option<Spectrum<Level>>,
    /// Whether it was found from the outlines (else it was stated).
    pub found: bool,
    /// How well it is known.
    pub standpoint: Standpoint,
}

/// How plates are joined at an edge.
#[derive(Clone, Debug, PartialEq)]
pub enum JunctionKind {
    /// By what meets there: heavy plates rigidly; heavy and light ones as a light double leaf on a
    /// heavy plate; light ones among themselves are left out and said to be.
    ByPlates,
    /// Rigidly.
    Rigid,
    /// Plates 1 and 3 stand on flexible layers, plates 0 and 2 run through.
    FlexibleLayer {
        /// Frequency from which the layer helps; 125 Hz where its stiffness per area is about
        /// 100 MN/m³.
        from: Hertz,
    },
    /// A light façade passes the edge.
    LightFacade,
    /// Light double leaves meet heavy plates.
    LightDoubleLeaf,
    /// Light double leaves joined to each other.
    CoupledLightDoubleLeaf,
    /// A slab, screed or deck runs through under a light wall: nothing is lost on the way.
    Continuous,
    /// A framed construction known by its normalised flanking level difference D_n,f between the
    /// rooms on both sides of plate 0; `None` takes a default with a wide deviation.
    Framed(Option<Spectrum<LevelDifference>>),
    /// The structure is cut: nothing passes.
    Separated,
}

/// A boundary to the outdoors that does not simply look straight at the point of interest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facing {
    /// The boundary.
    pub boundary: BoundaryIndex,
    /// Angle between the outward normal and the way to the point of interest, degrees, 0 to 180.
    pub angle_degrees: f64,
    /// Sound from outdoors: how much better the shape of the façade (balconies, recesses) is than
    /// a plane one, ΔL_fs; negative where it is worse.
    pub facade_shape: LevelDifference,
    /// How much longer the way to the point of interest is over a screen than straight.
    pub screen_detour: Option<Metre>,
    /// The same round either end of the screen; `None` where it runs on.
    pub screen_beside: [Option<Metre>; 2],
    /// Distance between the two edges of a thick screen, such as a building.
    pub screen_thickness: Option<Metre>,
    /// Whether hard ground lies between, which throws back what meets it.
    pub hard_ground: bool,
    /// Ground by its share of soft; it goes before `hard_ground`.
    pub ground: Option<Ground>,
}

/// Ground between a boundary and the point of interest outdoors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// Share of it that is porous (lawn, beds, loose earth), 0 to 1 (pure ratio).
    pub soft: f64,
    /// Heights of the middle of the boundary and of the point of interest above it.
    pub heights: [Metre; 2],
}
