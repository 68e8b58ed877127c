//! Levels in every room from every source, path by path.
//!
//! [`assemble`] turns a building into [`Link`]s, each with its coupling area per band: through
//! boundaries, along the structure ([`flanking`]), through ducts ([`duct`]), by impact
//! ([`impact`]). [`Model::from_source`] solves the power balance of all rooms at once and says
//! which way the sound came to each receiver.
//!
//! Not here: files, recordings, targets, ratings.

// `!(x > 0.0)` refuses NaN together with zero; `x <= 0.0` would let it through.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod assemble;
mod balance;
mod doors;
pub mod duct;
pub mod flanking;
pub mod impact;
mod inverse;
mod modes;
mod near;
mod outdoors;
mod plate;
mod rooms;
pub mod simplified;
mod structure_borne;
pub mod vibration;
mod ways;

pub use assemble::{Cache, Link, LinkKind, Model, Outdoors, TransmissionError, assemble, links_of};
pub use balance::{Field, Received, Sensitivity, Transfer};
pub use impact::ImpactLevel;
pub use modes::{position_spread, trust};
pub use near::{Near, direct_before, near_openings};
pub use outdoors::{ground, screening};
pub use structure_borne::{ESTIMATE_DEVIATION, ImpactInto, impact_level, impact_rooms};
pub use ways::{LEAST_SHARE, Shares, Way};

/// Number of bands calculated, 20 Hz to 10 kHz.
pub const BANDS: usize = 28;

/// One value per calculated band.
pub type PerBand = [f64; BANDS];
