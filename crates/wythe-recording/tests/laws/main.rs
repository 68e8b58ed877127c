//! What must hold for any recording.

mod flac;
mod hearing;
mod reading;
mod recovered;
mod trouble;
