//! A project folder on the disk, as every face needs it: reading it within its walls, measuring
//! its recordings, computing everything it allows, writing files whole or not at all, and the
//! demonstration.
//!
//! Not here: any acoustics, words of the command line, pages.

pub mod archive;
pub mod browser;
pub mod day;
pub mod decay_curves;
pub mod demo;
pub mod failure;
pub mod found;
pub mod gather;
pub mod library;
pub mod listen;
pub mod load;
pub mod measuring;
pub mod progress;
pub mod tables;
pub mod write;
