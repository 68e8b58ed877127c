//! What must hold for any wall.

#[path = "../support/walls.rs"]
mod walls;

mod any_input;
mod data_sheets;
mod openings;
mod physics;
mod ties;
mod words;

#[path = "../support/mod.rs"]
mod support;

fn walls_stc(r: &wythe_bands::Spectrum<wythe_bands::LevelDifference>) -> f64 {
    support::stc(r).unwrap_or(f64::NAN)
}
