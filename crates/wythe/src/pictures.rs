//! Charts put into files: `--svg` and `--png` of every command that has something to draw.

use std::path::{Path, PathBuf};

use wythe_report::chart::Drawing;

use crate::args::Charts;
use crate::failure::Failure;
use crate::output::Table;
use crate::{browser, write};

/// A drawing with the stem of its file's name in a folder.
pub type Named = (String, Drawing);

/// Draws where it is wanted; the files. `charts` is asked only if anything is wanted, and `nothing`
/// says why there may be none.
pub fn write(
    wish: &Charts,
    charts: impl FnOnce() -> Vec<Named>,
    nothing: &str,
) -> Result<Vec<PathBuf>, Failure> {
    if wish.svg.is_none() && wish.png.is_none() {
        return Ok(Vec::new());
    }
    let mut charts = charts();
    if charts.is_empty() {
        return Err(Failure::new(
            format!("there is nothing to draw: {nothing}"),
            "leave out --svg and --png to read the result",
        ));
    }
    let mut taken: Vec<String> = Vec::new();
    for (name, _) in &mut charts {
        let stem = name.clone();
        for k in 2.. {
            if !taken.contains(name) {
                break;
            }
            *name = format!("{stem}-{k}");
        }
        taken.push(name.clone());
    }
    let mut files = Vec::new();
    if let Some(wanted) = &wish.svg {
        for (path, drawing) in placed(&charts, wanted, "svg") {
            write::text(&path, &drawing.standalone())?;
            files.push(path);
        }
    }
    if let Some(wanted) = &wish.png {
        for (path, drawing) in placed(&charts, wanted, "png") {
            browser::picture(&drawing.standalone(), drawing.standalone_size(), &path)?;
            files.push(path);
        }
    }
    Ok(files)
}

/// The first chart in a file of that ending, or all in a folder.
fn placed<'a>(charts: &'a [Named], wanted: &Path, ending: &str) -> Vec<(PathBuf, &'a Drawing)> {
    let file = wanted.extension().is_some_and(|e| e.eq_ignore_ascii_case(ending));
    match charts.first() {
        Some((_, first)) if file => vec![(wanted.to_owned(), first)],
        _ => charts.iter().map(|(n, d)| (wanted.join(format!("{n}.{ending}")), d)).collect(),
    }
}

/// Where the drawings went.
pub fn text(files: &[PathBuf]) -> String {
    if files.is_empty() {
        return String::new();
    }
    let mut table = Table::new(1, &["Drawn"]);
    for file in files {
        table.row(vec![file.display().to_string()]);
    }
    format!("\n{}", table.text())
}
