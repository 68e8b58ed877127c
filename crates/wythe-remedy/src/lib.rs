//! What each change buys, and the cheapest set that meets the targets.
//!
//! [`outcome`] judges a building by all its targets, [`single_changes`] ranks the changes on offer
//! one by one, [`cheapest`] searches all combinations exactly, and [`steps`] says in which order
//! to buy. [`remedies`] does all of it, [`headline`] says it in a sentence, and [`as_found`] gives
//! the building as the recordings show it, where there are some.
//!
//! Not here: documents, files, and any price the user did not give.

mod as_found;
mod buying;
mod exact;
mod frontier;
mod geometry;
mod limits;
mod prices;
mod remedies;
mod search;
mod sequence;
mod work;

pub use as_found::as_found;
pub use buying::{Buying, Counting, Item, Trade, Yard, buying};
pub use exact::{cheapest, cheapest_for};
pub use frontier::{Frontier, Point, frontier, stop_rule};
pub use limits::{FloorLoad, LimitCheck, breaks_limit, limit_checks, on_offer};
pub use prices::{Price, PriceError, PriceList};
pub use remedies::{Asked, Remedies, headline, in_order, money, obstacle, remedies, remedies_for};
pub use search::{
    Gain, Judged, Outcome, Plan, RemedyError, Step, Wish, apply, outcome, single_changes, steps,
};
pub use sequence::{Stage, sequence};
