//! Sound reduction of one build-up: leaves, cavities, bridges, openings, leaks.
//!
//! A [`BuildUp`] says what a wall, floor, ceiling, door leaf or window is made of, from side a to
//! side b; [`predict`] says how much sound it keeps back in each band, by which path, and how
//! sure that is. An [`Opening`] puts a leaf with its perimeter into a wall.
//!
//! Not here: rooms, areas of buildings, flanking along junctions, impact sound, files.

mod build_up;
mod catalogue;
mod damped_stack;
mod data_sheet;
mod deviation;
mod element;
mod error;
mod family;
mod fitted;
mod lanes;
mod layup;
mod leaf;
mod leak;
mod method;
mod opening;
pub mod porous;
mod predict_opening;
mod prediction;
mod quadrature;
mod radiation;
mod slow_truth;

pub use build_up::{
    Board, BuildUp, Cavity, Construction, DataSheet, Fill, Frame, FrameKind, Joint, Layer, Mount,
    MountKind, Side,
};
pub use catalogue::{Catalogue, FillMaterial, Material, MaterialClass, catalogue};
pub use data_sheet::data_sheet;
pub use error::PartitionError;
pub use family::Family;
#[doc(hidden)]
pub use fitted::{FITTED, Fitted};
pub use leak::{Slit, gomperts_kihlman_1967, hole_diffuse, wilson_soroka_1965};
pub use method::iso_12354_2017::HeavyElement;
pub use opening::{Opening, OpeningKind, OpeningState, PerimeterPart, Seal, SealKind};
pub use predict_opening::predict_opening;
#[doc(hidden)]
pub use prediction::predict_with;
pub use prediction::{
    Conditions, OpeningPart, OpeningPrediction, PathKind, PathReduction, Prediction, predict,
};
pub use radiation::{forced_radiation_factor, free_radiation_factor};
#[doc(hidden)]
pub use slow_truth::slow_reduction;
