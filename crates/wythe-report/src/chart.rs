//! Pictures of results as SVG, the same for screen, report and command line.
//!
//! Every picture is plain data first, drawn in one of three [`Format`]s into a [`Drawing`], which
//! is put into a page with [`Drawing::inline`] or into a file with [`Drawing::standalone`]. Colour
//! follows what a thing is, never where it stands in a list, and never works alone.
//!
//! Not here: any acoustics. What is drawn was computed elsewhere; a chart adds deviations and
//! sorts shares, nothing else.
//!
//! ```
//! use wythe_bands::{Band, LevelDifference, Spectrum};
//! use wythe_report::chart::{BandChart, Format, Quantity, Role, Trace, Words};
//! let mut d = Spectrum::from_fn(|b| LevelDifference(20.0 + b.index() as f64));
//! d.clear(Band::HZ_500);
//! let mut chart = BandChart::new(
//!     Words::new("first", "The wall, measured", "Invented values."),
//!     Quantity::new("Level difference", "D", ""),
//! );
//! chart.traces.push(Trace::differences(Role::Measured, "measured", &d));
//! assert!(chart.draw(Format::Screen).inline().starts_with("<svg"));
//! ```

mod axis;
mod band_chart;
mod cost_steps;
mod difference;
mod dominance;
mod drawing;
mod end_labels;
mod format;
mod labels;
mod level_trace;
mod plan;
mod quantity;
mod room_table;
mod section;
mod share_bars;
mod shortfall;
mod svg;
mod table;
mod tint;
mod trace;
mod trace_marks;
mod words;

pub use band_chart::BandChart;
pub use cost_steps::{CostStep, CostSteps};
pub use difference::DifferencePanel;
pub use dominance::{DominanceStrip, PathShare};
pub use drawing::{Drawing, Words};
pub use format::Format;
pub use level_trace::{LevelTrace, Stretch, StretchKind, TimeLine};
pub use plan::{
    OpeningDrawn, Plan, PlanArrow, PlanFrame, PlanOpening, PlanPoint, PlanRoom, PlanTracing,
    PlanWall,
};
pub use quantity::Quantity;
pub use room_table::{RoomCell, RoomTable};
pub use section::{Mount, Section, SectionLayer, Side, StudMaterial, Studs};
pub use share_bars::{Share, ShareBars};
pub use shortfall::WrongSide;
pub use svg::{escape, id};
pub use table::DataTable;
pub use trace::{Bound, Point, Role, Trace};
pub use words::{THIN, decibels, nominal, number, percent, short_nominal, signed};

/// Style sheet of the pictures; colours come from [`crate::design::custom_properties`].
pub const STYLE: &str = include_str!("chart/chart.css");
