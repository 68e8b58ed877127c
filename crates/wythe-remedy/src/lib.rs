//! What each change buys, and the cheapest set that meets the targets.
//!
//! [`outcome`] judges a building by all its targets, [`single_changes`] ranks the changes on offer
//! one by one, [`cheapest`] searches all combinations exactly, and [`steps`] says in which order
//! to buy. [`remedies`] does all of it, [`headline`] says it in a sentence, and [`as_found`] gives
//! the building as the recordings show it, where there are some.
//!
//! Round the plan: [`buying`] counts what to order, [`limit_checks`] sets it beside what the
//! building may bear, [`sequence`] says in which order it is built and where to hold, [`frontier`]
//! what each further sum buys, [`compare`] one change against another, [`substitute`] what becomes
//! of a plan when other boards arrive, and [`suggest`] thinks of changes nobody has offered.
//!
//! Not here: documents, files, and any price the user did not give.

mod as_found;
mod bound;
mod buying;
mod compare;
mod exact;
mod frontier;
mod geometry;
mod limits;
mod prices;
mod remedies;
mod search;
mod sequence;
mod substitute;
mod suggest;
mod third_leaf;
mod work;

pub use as_found::as_found;
pub use buying::{Buying, Counting, Item, Trade, Yard, buying};
pub use compare::{ComparedAt, compare};
pub use exact::{cheapest, cheapest_for};
pub use frontier::{Frontier, Point, RESOLUTION, frontier, stop_rule};
pub use limits::{
    FloorLoad, LimitCheck, breaks_limit, clash, cost_in_space, limit_checks, on_offer,
};
pub use prices::{Price, PriceError, PriceList};
pub use remedies::{
    Asked, Remedies, asked_of_players, headline, in_order, money, obstacle, remedies, remedies_for,
};
pub use search::{
    Gain, Judged, Outcome, Plan, RemedyError, Step, Wish, apply, outcome, single_changes, steps,
};
pub use sequence::{Stage, sequence};
pub use substitute::{SubstituteError, substitute};
pub use suggest::{priced, priced_own, suggest, with_suggestions};
pub use third_leaf::third_leaf;
