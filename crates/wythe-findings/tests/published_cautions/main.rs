//! Cautions held against published tables, laws, and their own wording.

mod buildings;
mod carbon_dioxide;
mod guidance;
mod laws;
mod loads;
mod messages;
mod rows;
mod take_off;
mod triggers;
