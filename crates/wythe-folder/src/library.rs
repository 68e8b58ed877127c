//! The folder of kept comparisons.

use std::path::{Path, PathBuf};

use wythe_bands::Remark;
use wythe_building::{Comparison, experience};
use wythe_project::{Project, read_comparison};

use crate::failure::Failure;

/// Most comparisons read from one folder.
const MOST: usize = 5000;
/// Largest file that is read, bytes.
const LARGEST: u64 = 100_000;

/// What a library holds.
pub struct Shelf {
    /// Comparisons by name.
    pub comparisons: Vec<Comparison>,
    /// Files that could not be used.
    pub said: Vec<Remark>,
}

impl Shelf {
    /// Reads every `.toml` of a folder; one that does not exist yet is empty.
    pub fn read(folder: &Path) -> Result<Shelf, Failure> {
        let mut out = Shelf { comparisons: Vec::new(), said: Vec::new() };
        if !folder.exists() {
            return Ok(out);
        }
        let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
            .map_err(|e| Failure::unreadable(folder, &e))?
            .filter_map(|entry| entry.ok().map(|e| e.path()))
            .filter(|p| p.extension().is_some_and(|e| e == "toml"))
            .collect();
        files.sort();
        if files.len() > MOST {
            out.said.push(Remark::new(
                "keep::many",
                format!("only the first {MOST} of {} comparisons are read", files.len()),
            ));
            files.truncate(MOST);
        }
        for path in files {
            let name = path.file_name().map(|n| n.to_string_lossy().into_owned());
            let why = match text(&path) {
                Ok(text) => match read_comparison(&text) {
                    Ok(c) if out.comparisons.iter().any(|k| k.name == c.name) => {
                        "its name is taken by another file".to_owned()
                    }
                    Ok(c) => {
                        out.comparisons.push(c);
                        continue;
                    }
                    Err(e) => e.to_string(),
                },
                Err(_) => "cannot be read".to_owned(),
            };
            out.said.push(
                Remark::new("keep::unreadable", format!("left aside: {why}"))
                    .at(name.unwrap_or_default()),
            );
        }
        Ok(out)
    }
}

/// A small text file.
pub fn text(path: &Path) -> Result<String, Failure> {
    let size = std::fs::metadata(path).map_err(|e| Failure::unreadable(path, &e))?.len();
    if size > LARGEST {
        return Err(Failure::file(path, "is larger than a comparison can be", ""));
    }
    std::fs::read_to_string(path).map_err(|e| Failure::unreadable(path, &e))
}

/// Where a project's library is.
pub fn folder(project: &Path, stated: &str) -> PathBuf {
    project.join(stated)
}

/// Puts what the project's library says into its building.
pub fn learn(folder: &Path, project: &mut Project) -> Vec<Remark> {
    let Some(used) = project.library.clone() else { return Vec::new() };
    let place = self::folder(folder, &used.folder);
    if !place.is_dir() {
        return vec![Remark::new(
            "keep::no-library",
            format!("the library `{}` is not there, so nothing is learnt from it", used.folder),
        )];
    }
    match Shelf::read(&place) {
        Ok(shelf) => {
            let mut said = shelf.said;
            for name in &used.leave_out {
                if !shelf.comparisons.iter().any(|c| &c.name == name) {
                    said.push(Remark::new(
                        "keep::unknown",
                        format!("the library holds no `{name}` that could be left out"),
                    ));
                }
            }
            project.building.experience = experience(&shelf.comparisons, &used.leave_out);
            said
        }
        Err(_) => vec![Remark::new(
            "keep::unreadable",
            format!("the library `{}` cannot be read, so nothing is learnt from it", used.folder),
        )],
    }
}
