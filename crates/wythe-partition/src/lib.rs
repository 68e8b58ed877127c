//! Sound reduction of one build-up: leaves, cavities, bridges, openings, leaks.
//!
//! A [`BuildUp`] says what a wall, floor, ceiling, door leaf or window is made of, from side a to
//! side b; [`predict`] says how much sound it keeps back in each band, by which path, and how
//! sure that is. An [`Opening`] puts a leaf with its perimeter into a wall.
//!
//! Not here: rooms, areas of buildings, flanking along junctions, impact sound, files.

mod build_up;
mod catalogue;
mod composite;
mod corrugated;
mod damped_stack;
mod data_sheet;
mod deviation;
mod electrical_box;
mod element;
mod error;
mod family;
mod fitted;
mod inputs;
mod lanes;
mod layup;
mod leaf;
mod leak;
mod limits;
mod method;
mod opening;
pub mod porous;
mod predict_opening;
mod prediction;
mod quadrature;
mod radiation;
mod slow_truth;
mod two_leaves;

pub use build_up::{
    Board, BuildUp, Cavity, Construction, DataSheet, Fill, Frame, FrameKind, Joint, Layer, Mount,
    MountKind, SheetRating, Side,
};
pub use catalogue::{
    Catalogue, Entry, FillMaterial, Material, MaterialClass, OwnCatalogue, ReadyBuildUp, catalogue,
};
pub use composite::composite;
pub use corrugated::Corrugation;
pub use data_sheet::data_sheet;
pub use electrical_box::{BoxKind, BoxPlacing, ElectricalBoxes};
pub use error::PartitionError;
pub use family::Family;
#[doc(hidden)]
pub use fitted::{FITTED, Fitted};
pub use inputs::{InputEffect, rank_inputs};
pub use leak::{Slit, gomperts_kihlman_1967, hole_diffuse, wilson_soroka_1965};
pub use limits::{Limit, LimitedRange, limits};
pub use method::cremer_1942::above_coincidence;
pub use method::heckl_1960::orthotropic_closed_form;
pub use method::iso_12354_2017::HeavyElement;
pub use method::mass_law::{
    FIELD_CORRECTION_OCTAVES, FIELD_CORRECTION_THIRDS, diffuse_mass_law, field_mass_law,
    normal_mass_law,
};
pub use method::watters_1959::{PLATEAUS, Plateau, plateau_method};
pub use method::{METHODS, Method, methods_for};
pub use opening::{Opening, OpeningKind, OpeningState, PerimeterPart, Seal, SealKind, SecondLeaf};
pub use predict_opening::predict_opening;
#[doc(hidden)]
pub use prediction::predict_with;
pub use prediction::{
    Conditions, OpeningPart, OpeningPrediction, PathKind, PathReduction, Prediction, predict,
};
pub use radiation::{forced_radiation_factor, free_radiation_factor};
#[doc(hidden)]
pub use slow_truth::slow_reduction;
pub use two_leaves::{as_one, spring_frequency};
