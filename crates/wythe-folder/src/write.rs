//! Files are written whole or not at all.

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;

use crate::failure::Failure;

/// Makes a folder for a new project. An existing folder has to be empty: nothing is ever written
/// over.
pub fn fresh_folder(folder: &Path) -> Result<(), Failure> {
    if folder.exists() {
        if !folder.is_dir() {
            return Err(Failure::file(folder, "is a file", "choose another name"));
        }
        let mut inside = fs::read_dir(folder).map_err(|e| Failure::unreadable(folder, &e))?;
        if inside.next().is_some() {
            return Err(Failure::file(
                folder,
                "is not empty, and nothing is written over",
                "choose a new folder",
            ));
        }
    }
    fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))
}

/// Writes a text atomically: into a temporary file beside the place, flushed, then renamed.
pub fn text(path: &Path, text: &str) -> Result<(), Failure> {
    atomically(path, |file| file.write_all(text.as_bytes()))
}

/// Writes a file atomically through a closure.
pub fn atomically(
    path: &Path,
    write: impl FnOnce(&mut File) -> std::io::Result<()>,
) -> Result<(), Failure> {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let beside = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
    if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))?;
    }
    let done = File::create(&beside)
        .and_then(|mut file| {
            write(&mut file)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&beside, path));
    done.map_err(|e| {
        // The half-written file is of no use; that it may not be there is fine.
        let _ = fs::remove_file(&beside);
        Failure::unwritable(path, &e)
    })
}
