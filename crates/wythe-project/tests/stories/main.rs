//! Small project texts and what is said about them.

mod sketch;
