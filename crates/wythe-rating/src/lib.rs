//! Single-number ratings and noise criteria.
