//! Cautions held against published tables, laws, and their own wording.

mod carbon_dioxide;
mod loads;
mod rows;
mod take_off;
