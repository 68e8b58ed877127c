//! Documents: what is said, and the one HTML file it becomes.
//!
//! A [`Document`] is plain data: headings, paragraphs, figures, tables, cautions. [`Document::html`]
//! sets it on a page that carries everything it needs, runs no script and fetches nothing.
//!
//! Not here: what is to be said about a building; and no printing to PDF, which a browser does.
//!
//! ```
//! use wythe_report::page::{Block, Document};
//! let document = Document {
//!     title: "A room <and> its neighbours".into(),
//!     language: "en".into(),
//!     blocks: vec![Block::Paragraph("Said in one line.".into())],
//!     ..Document::default()
//! };
//! assert!(document.html().contains("A room &lt;and&gt; its neighbours"));
//! ```

mod document;
mod render;
mod text;

pub use document::{
    Answer, Block, Column, Document, Fact, Figure, ListKind, Paper, PhotoSlot, Table, Verdict,
};
pub(crate) use render::language_tag;
pub use render::{STYLE, fragment};
pub use text::{Span, Text};

/// The notice that stands wherever structure, fire, escape, fuel, air, wiring or hearing is
/// touched.
pub const STANDING_NOTICE: &str = "This document is a calculation and a record of measurements, \
    not a permission. Load on the structure, fire separation, escape, fuel-burning appliances, \
    wiring, ventilation, dust and hearing are decided by local codes and by people licensed for \
    them. Nothing here states that something is safe.";
