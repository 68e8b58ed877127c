//! One module per command.

pub mod rate;
