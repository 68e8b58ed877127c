//! Sound reduction of one build-up: leaves, cavities, bridges, openings, leaks.
//!
//! A [`BuildUp`] says what a wall, floor, ceiling, door leaf or window is made of, from side a to
//! side b; [`predict`] says how much sound it keeps back in each band, by which path, and how
//! sure that is. An [`Opening`] puts a leaf with its perimeter into a wall.
//!
//! Not here: rooms, areas of buildings, flanking along junctions, files.

mod build_up;
mod opening;
mod prediction;

pub use build_up::{
    Board, BuildUp, Cavity, Construction, DataSheet, Fill, Frame, FrameKind, Joint, Layer, Mount,
    MountKind, Side,
};
pub use opening::{Opening, OpeningKind, OpeningState, PerimeterPart, Seal, SealKind};
pub use prediction::{
    Conditions, OpeningPart, OpeningPrediction, PartitionError, PathKind, PathReduction,
    Prediction, predict, predict_opening,
};
