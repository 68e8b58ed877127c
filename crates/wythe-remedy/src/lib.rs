//! What each change buys, and the cheapest set that meets the targets.
//!
//! [`outcome`] judges a building by all its targets, [`single_changes`] ranks the changes on offer
//! one by one, [`cheapest`] searches all combinations exactly, and [`steps`] says in which order
//! to buy.
//!
//! Not here: documents, files, and any price the user did not give.

mod search;

pub use search::{
    Gain, Judged, Outcome, Plan, RemedyError, Step, apply, cheapest, outcome, single_changes, steps,
};
