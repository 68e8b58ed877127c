//! What the documents say about a building, from the results of every step.
//!
//! [`owner`], [`builder`] and [`file()`] make the three documents from [`Results`]. Each part has a
//! module of its own and gives blocks of a [`crate::page::Document`]; a part without content is
//! left out, and a [`Gap`] says why.
//!
//! Not here: calculation. Only the verdict of the recordings is worked out on the way, by the
//! findings' own judge: the level of the source less the recorded difference against the
//! requirement.

mod answer;
mod build_ups;
mod builder;
mod buying;
mod care;
mod changes;
mod compared;
mod fault;
mod field_test;
mod file;
mod grounds;
mod hold_points;
mod house;
mod judged;
mod owner;
mod rated;
mod recorded_bands;
mod results;
mod rooms;
mod words;

pub use builder::builder;
pub use buying::{Line, list as buying_list};
pub use file::file;
pub use judged::{Judged, Recorded, judged};
pub use owner::{CAUTIONS, owner};
pub use results::{
    About, DecayDrawn, DecayFit, FileRead, Found, Gap, Note, Papers, Results, Units,
};

/// Parts of the documents, for a face that shows one at a time.
pub mod parts {
    pub use super::answer::{answer, facts, lacking, steps, steps_block};
    pub use super::build_ups::{board_words, cavity_words, layers, section_alone};
    pub use super::buying::blocks as buying;
    pub use super::care::{blocks as care, on_the_first_page as care_in_brief};
    pub use super::changes::{blocks as changes, cost_chart, frontier_chart};
    pub use super::compared::{
        charts as comparisons, comparison_chart, findings, positions_table, ratings_table,
    };
    pub use super::grounds::{gaps, invented, known, methods, remarks};
    pub use super::house::{
        levels_table, ranked, requirement, room_heading, storey_name, storey_plan,
    };
    pub use super::rated::{file_name, rating_chart, recorded_charts};
    pub use super::recorded_bands::decay_chart;
    pub use super::rooms::{room_chart, strip, ways_in_words};
    pub use super::words::{
        area, capital, chance, rough_db, sentence_case, surface_mass, thickness,
    };
}
