//! What must hold for any recording.

mod flac;
mod fuzzed;
mod hearing;
mod reading;
mod recovered;
mod trouble;

#[path = "../../fuzz/targets.rs"]
mod targets;
