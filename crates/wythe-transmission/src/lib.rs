//! Levels in every room from every source, path by path.
//!
//! [`assemble`] turns a building into [`Link`]s, each with its coupling area per band;
//! [`Model::from_source`] solves the power balance of all rooms at once and says which way the
//! sound came to each receiver.
//!
//! Not here: files, recordings, targets, ratings.

mod assemble;
mod balance;
mod modes;
mod ways;

pub use assemble::{Cache, Link, LinkKind, Model, TransmissionError, assemble, links_of};
pub use balance::{Field, Received, Sensitivity, Transfer};
pub use modes::trust;
pub use ways::Way;

/// Number of bands calculated, 20 Hz to 10 kHz.
pub const BANDS: usize = 28;

/// One value per calculated band.
pub type PerBand = [f64; BANDS];
