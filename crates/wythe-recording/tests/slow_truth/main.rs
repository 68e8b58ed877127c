//! Slow truth.
