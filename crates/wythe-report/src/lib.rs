//! Documents and charts.
//!
//! [`chart`] draws results as SVG, [`design`] holds the colours by role.
//!
//! Not here: any disk, clock or network. The faces hand in what is to be said and write the text
//! that comes back.

pub mod chart;
pub mod design;
