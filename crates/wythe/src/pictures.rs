//! Charts of a command as files.

use std::path::Path;

use wythe_report::chart::Drawing;

use crate::failure::Failure;
use crate::{browser, write};

/// Writes a chart as SVG, as PNG, or both, wherever a file is named.
pub fn write(drawing: &Drawing, svg: Option<&Path>, png: Option<&Path>) -> Result<(), Failure> {
    let text = drawing.standalone();
    if let Some(path) = svg {
        write::text(path, &text)?;
    }
    match png {
        Some(path) => browser::picture(&text, drawing.standalone_size(), path),
        None => Ok(()),
    }
}
