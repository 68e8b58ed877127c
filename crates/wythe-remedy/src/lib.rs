//! What each change buys, and the cheapest set that meets the targets.
