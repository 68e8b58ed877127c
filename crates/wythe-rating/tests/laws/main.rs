//! What must hold for any curve.

mod contours;
mod criteria;
mod messages;
mod reading;
mod spread;
mod strategies;
