//! Small project texts and what is said about them.

mod bad_input;
mod care;
mod edit;
mod fabric;
mod geometry;
mod pages;
mod sketch;
mod survey;

use wythe_project::{MemoryFiles, Reading, read};

/// Reads a project of one file.
pub fn project(text: &str) -> Reading {
    read(&MemoryFiles::new().with("wythe.toml", text))
}

/// Every message as a person sees it, in order.
pub fn messages(reading: &Reading) -> String {
    reading.errors.iter().map(|p| p.to_string()).collect::<Vec<_>>().join("\n")
}

/// Remarks with their codes.
pub fn remarks(reading: &Reading) -> String {
    let lines = reading
        .remarks
        .iter()
        .map(|r| format!("{}: {} [{}]", r.place.as_deref().unwrap_or(""), r.text, r.code));
    lines.collect::<Vec<_>>().join("\n")
}
