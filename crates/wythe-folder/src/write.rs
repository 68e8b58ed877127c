//! Files are written whole or not at all.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::failure::Failure;

/// Makes a folder for a new project. An existing folder has to be empty: nothing is ever written
/// over.
pub fn fresh_folder(folder: &Path) -> Result<(), Failure> {
    free_for_folder(folder)?;
    fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))
}

/// Refuses a place where something stands already; an empty folder may.
pub fn free_for_folder(folder: &Path) -> Result<(), Failure> {
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
    Ok(())
}

/// Refuses the name of a file that is taken: nothing is ever written over.
pub fn free_for_file(path: &Path) -> Result<(), Failure> {
    // A link that leads nowhere takes the name as well.
    if fs::symlink_metadata(path).is_ok() {
        return Err(Failure::file(
            path,
            "is there already, and nothing is written over",
            "choose a new name",
        ));
    }
    Ok(())
}

/// Writes a folder of texts that appears whole or not at all. Paths are relative to it.
pub fn folder(folder: &Path, texts: &[(PathBuf, String)]) -> Result<(), Failure> {
    folder_with(folder, |beside| {
        let write = || {
            for (path, text) in texts {
                let path = beside.join(path);
                fs::create_dir_all(path.parent().unwrap_or(beside))?;
                let mut file = File::create(&path)?;
                file.write_all(text.as_bytes())?;
                file.sync_all()?;
            }
            Ok(())
        };
        write().map_err(|e| Failure::unwritable(folder, &e))
    })
}

/// Makes a new folder, filled by a closure beside its place and then renamed, so that it appears
/// whole or not at all.
pub fn folder_with(
    folder: &Path,
    fill: impl FnOnce(&Path) -> Result<(), Failure>,
) -> Result<(), Failure> {
    free_for_folder(folder)?;
    // A path that ends in `..` or is a root names no new folder.
    let Some(name) = folder.file_name() else {
        return Err(Failure::file(folder, "names no new folder", "give a name of its own"));
    };
    let beside =
        folder.with_file_name(format!(".{}.{}.part", name.to_string_lossy(), std::process::id()));
    let place = || {
        if folder.exists() {
            // Empty, as was seen; what came into it since makes this fail.
            fs::remove_dir(folder)?;
        }
        fs::rename(&beside, folder)
    };
    let done = fs::create_dir_all(&beside)
        .map_err(|e| Failure::unwritable(folder, &e))
        .and_then(|()| fill(&beside))
        .and_then(|()| place().map_err(|e| Failure::unwritable(folder, &e)));
    if done.is_err() {
        // Half a folder is of no use; that it may not be there is fine.
        let _ = fs::remove_dir_all(&beside);
    }
    done
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
    // Readable as well, for who wants to prove what he wrote.
    let done = File::options()
        .read(true)
        .write(true)
        .create(true)
        .truncate(true)
        .open(&beside)
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
