//! The project file: reading, writing, and the places messages point at.
//!
//! [`read`] turns `wythe.toml`, the files it includes, its data sheets and `survey.toml` into a
//! [`Project`], with every error at once and its place. One table of keys ([`keys`]) drives
//! reading, messages, the JSON Schema and the reference.
//!
//! Not here: the disk (a face hands in [`Files`]), drawing of messages, sound.
//!
//! ```
//! use wythe_project::{MemoryFiles, read, template};
//! let files = MemoryFiles::new().with("wythe.toml", template());
//! let reading = read(&files);
//! assert!(reading.errors.is_empty());
//! assert_eq!(reading.project.unwrap().building.rooms.len(), 2);
//! ```

// `!(x > 0.0)` refuses NaN together with zero; `x <= 0.0` would let it through.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod assembly;
mod clock;
mod criterion;
mod document;
mod files;
mod inputs;
pub mod keys;
mod library;
mod problem;
pub mod quantity;
mod read;
mod record;
mod reference;
mod schema;
mod sheet;
pub mod spectra;
mod suggest;
pub mod survey;
mod syntax;
mod template;
mod words;

pub use clock::Moment;
pub use document::{Document, EditError, fingerprint};
pub use files::{Files, LARGEST_TEXT, MemoryFiles, refused_path};
pub use inputs::inputs;
pub use library::{LibraryError, read_comparison, write_comparison};
pub use problem::{FileText, Noted, Problem};
pub use read::{
    BuildUpReading, LibraryUse, PROJECT_FILE, Project, Reading, SURVEY_FILE, read, read_build_ups,
};
pub use reference::reference_markdown;
pub use schema::{schema, survey_schema};
pub use survey::Survey;
pub use template::template;
