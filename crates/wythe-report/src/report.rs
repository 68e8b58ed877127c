//! What the documents say about a building, from the results of every step.
//!
//! [`owner`] makes the document for the owner-builder from [`Results`]. Each part has a
//! module of its own and gives blocks of a [`crate::page::Document`]; a part without content is
//! left out, and a [`Gap`] says why.
//!
//! Not here: calculation. Only the verdict of the recordings is worked out on the way, by the
//! findings' own judge: the level of the source less the recorded difference against the
//! requirement.

mod answer;
mod build_ups;
mod care;
mod changes;
mod compared;
mod grounds;
mod house;
mod judged;
mod owner;
mod results;
mod rooms;
mod words;

pub use judged::{Judged, Recorded, judged};
pub use owner::owner;
pub use results::{About, FileRead, Found, Gap, Note, Results, Units};
