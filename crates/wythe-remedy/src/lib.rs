//! What each change buys, and the cheapest set that meets the targets.
//!
//! [`outcome`] judges a building by all its targets, [`single_changes`] ranks the changes on offer
//! one by one, [`cheapest`] searches all combinations exactly, and [`steps`] says in which order
//! to buy. [`remedies`] does all of it, [`headline`] says it in a sentence, and [`as_found`] gives
//! the building as the recordings show it, where there are some.
//!
//! Not here: documents, files, and any price the user did not give.

mod as_found;
mod exact;
mod limits;
mod remedies;
mod search;

pub use as_found::as_found;
pub use exact::{cheapest, cheapest_for};
pub use limits::{FloorLoad, LimitCheck, breaks_limit, limit_checks, on_offer};
pub use remedies::{Remedies, headline, in_order, money, obstacle, remedies};
pub use search::{
    Gain, Judged, Outcome, Plan, RemedyError, Step, Wish, apply, outcome, single_changes, steps,
};
