//! Documents and charts.
//!
//! [`chart`] draws results as SVG, [`page`] sets a document as one HTML file, [`design`] holds the
//! colours of both by role, [`language`] the sentences, [`report`] says what there is to say about a building, and [`tables`] gives
//! its results as plain tables.
//!
//! Not here: any disk, clock or network. The faces hand in what is to be said and write the text
//! that comes back.

pub mod chart;
pub mod design;
pub mod language;
pub mod page;
pub mod report;
pub mod tables;

pub use language::Language;
pub use report::{Results, builder, file, owner};
