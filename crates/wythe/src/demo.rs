//! The demonstration: an invented building, invented recordings with hidden faults, and the walk
//! through the whole loop.

mod as_built;
mod recordings;

pub use recordings::{Recording, make};

/// Text of the demonstration's project file.
pub const PROJECT: &str = include_str!("../demo/wythe.toml");
/// Text of the demonstration's survey.
pub const SURVEY: &str = include_str!("../demo/survey.toml");
