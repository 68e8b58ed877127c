//! What dominates where; predicted beside measured.
