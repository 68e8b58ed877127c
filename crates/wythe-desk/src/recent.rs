//! Projects opened lately: a list of folders in the user's configuration folder.

use std::path::{Path, PathBuf};

use wythe_folder::write;

/// Folders remembered.
const MOST: usize = 12;

/// Where the list is; `None` where the system has no such place.
fn place() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let base = set("XDG_CONFIG_HOME")
        .or_else(|| set("APPDATA"))
        .or_else(|| set("HOME").map(|h| h.join(".config")))?;
    Some(base.join("wythe").join("recent"))
}

/// The folders, the last opened first; those that are gone are left out.
pub fn list() -> Vec<PathBuf> {
    let text = place().and_then(|p| std::fs::read_to_string(p).ok()).unwrap_or_default();
    text.lines()
        .map(PathBuf::from)
        .filter(|p| p.join(wythe_project::PROJECT_FILE).exists())
        .collect()
}

/// Puts a folder first. A list that cannot be written is only a missing convenience.
pub fn remember(folder: &Path) {
    let Some(place) = place() else { return };
    let mut all = list();
    all.retain(|p| p != folder);
    all.insert(0, folder.to_owned());
    all.truncate(MOST);
    let text: String = all
        .iter()
        .map(|p| format!("{}\n", p.display()))
        .filter(|l| l.lines().count() == 1)
        .collect();
    let _ = write::text(&place, &text);
}
