//! What must hold for any recording.

mod hearing;
mod reading;
