//! What a build-up does to sound, and how sure that is.

use wythe_bands::{
    Air, Hertz, LevelDifference, Metre, Remark, Spectrum, SquareMetre, SurfaceMass, Transmittance,
};

use crate::{BuildUp, Opening};

/// Where a build-up is asked about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// The air on both sides.
    pub air: Air,
    /// Area of the element; finite size matters at low bands. 10 m² in the laboratory.
    pub area: SquareMetre,
}

impl Default for Conditions {
    fn default() -> Self {
        Conditions { air: Air::default(), area: SquareMetre(10.0) }
    }
}

/// Reduction index of one build-up with its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// Reduction index R per band, 20 Hz to 10 kHz.
    pub reduction: Spectrum<LevelDifference>,
    /// Standard deviation of R per band, dB, from residuals on published tests and the spread of
    /// what is assumed or unknown.
    pub deviation: Spectrum<LevelDifference>,
    /// R by each path alone; their transmittances add up to the whole.
    pub paths: Vec<PathReduction>,
    /// Bands not calculated from layers nor measured, but filled in beside measured data.
    pub filled_in: Spectrum<()>,
    /// Total mass per area; `None` when a data sheet does not say.
    pub surface_mass: Option<SurfaceMass>,
    /// Total thickness; `None` when a data sheet does not say.
    pub thickness: Option<Metre>,
    /// Resonances of leaves on the air between them, rising.
    pub resonances: Vec<Hertz>,
    /// Critical frequency of each leaf, from side a.
    pub critical: Vec<Hertz>,
    /// Name of the method used.
    pub method: &'static str,
    /// Names of all methods that apply.
    pub methods_that_apply: Vec<&'static str>,
    /// What has to be said beside it.
    pub remarks: Vec<Remark>,
}

/// Reduction by one path alone.
#[derive(Clone, Debug, PartialEq)]
pub struct PathReduction {
    /// Which path.
    pub kind: PathKind,
    /// R if this were the only path.
    pub reduction: Spectrum<LevelDifference>,
}

/// Ways through a build-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PathKind {
    /// Through the leaves and the air between them.
    Airborne,
    /// Through studs, channels, clips or ties.
    Studs,
    /// Through stated short circuits.
    Bridges,
    /// Round the edge, where the leaves meet a common plate or wall.
    Perimeter,
}

impl PathKind {
    /// Word of the interface.
    pub fn word(self) -> &'static str {
        match self {
            PathKind::Airborne => "airborne",
            PathKind::Studs => "studs",
            PathKind::Bridges => "bridges",
            PathKind::Perimeter => "perimeter",
        }
    }
}

/// What an opening lets through, part by part.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningPrediction {
    /// The parts; their coupling areas add up.
    pub parts: Vec<OpeningPart>,
    /// Remarks.
    pub remarks: Vec<Remark>,
}

/// One part of an opening.
#[derive(Clone, Debug, PartialEq)]
pub struct OpeningPart {
    /// `leaf`, `head`, `jambs`, `sill`, `keyhole` or `opening`.
    pub name: &'static str,
    /// Area × transmittance, m², per band, 20 Hz to 10 kHz.
    pub coupling: Spectrum<Transmittance>,
    /// Standard deviation of 10 lg of it, dB.
    pub deviation: Spectrum<LevelDifference>,
}

/// Why a build-up cannot be predicted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PartitionError {
    /// There are no layers.
    #[error("build-up `{0}` has no layers")]
    NoLayers(String),
}

/// Predicts the reduction index of a build-up.
pub fn predict(build_up: &BuildUp, _conditions: &Conditions) -> Result<Prediction, PartitionError> {
    Err(PartitionError::NoLayers(build_up.id.clone()))
}

/// Predicts what an opening lets through.
pub fn predict_opening(
    opening: &Opening,
    _conditions: &Conditions,
) -> Result<OpeningPrediction, PartitionError> {
    Err(PartitionError::NoLayers(opening.id.clone()))
}
