//! Where the texts of a project come from.

use std::collections::BTreeMap;
use std::io;

/// The files of one project, by path relative to its folder, written with `/`.
///
/// The reader asks for nothing outside the folder: absolute paths and `..` are refused before
/// this trait is asked. An implementation on a disk has to refuse links that lead outside.
pub trait Files {
    /// The bytes of a file.
    ///
    /// # Errors
    /// As the disk says; `NotFound` for a file that is not there.
    fn read(&self, relative: &str) -> io::Result<Vec<u8>>;

    /// Size in bytes, if it can be had without reading; lets a huge file be refused early.
    fn size(&self, relative: &str) -> Option<u64> {
        let _ = relative;
        None
    }
}

/// Files in memory, for tests and for a workbench with unsaved text.
#[derive(Clone, Debug, Default)]
pub struct MemoryFiles {
    files: BTreeMap<String, Vec<u8>>,
}

impl MemoryFiles {
    /// No files.
    pub fn new() -> MemoryFiles {
        MemoryFiles::default()
    }

    /// The same with one file more.
    pub fn with(mut self, name: &str, bytes: impl Into<Vec<u8>>) -> MemoryFiles {
        self.files.insert(name.to_owned(), bytes.into());
        self
    }
}

impl Files for MemoryFiles {
    fn read(&self, relative: &str) -> io::Result<Vec<u8>> {
        self.files.get(relative).cloned().ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    fn size(&self, relative: &str) -> Option<u64> {
        self.files.get(relative).map(|b| b.len() as u64)
    }
}

/// Largest text that is parsed, bytes. A building of 200 rooms is about 300 kB; whatever is
/// larger than this was not written by a person.
pub const LARGEST_TEXT: u64 = 4 * 1024 * 1024;

/// Largest sum of all texts of a project, bytes.
pub(crate) const LARGEST_PROJECT: u64 = 4 * LARGEST_TEXT;

/// Why a path in a project file is refused, if it is.
pub fn refused_path(path: &str) -> Option<&'static str> {
    let windows_drive = path.as_bytes().get(1) == Some(&b':');
    if path.trim().is_empty() {
        Some("is empty")
    } else if path.starts_with(['/', '\\', '~']) || windows_drive {
        Some("is absolute; paths are relative to the project folder")
    } else if path.split(['/', '\\']).any(|part| part == "..") {
        Some("leaves the project folder")
    } else if path.contains('\0') || path.chars().any(char::is_control) || path.len() > 500 {
        Some("is no path")
    } else {
        None
    }
}

/// The text of a file, or why it cannot be had (lower case, no full stop).
pub(crate) fn read_text(
    files: &dyn Files,
    name: &str,
    read_so_far: u64,
) -> Result<String, Unreadable> {
    if read_so_far > LARGEST_PROJECT {
        return Err(Unreadable::TooLarge(format!(
            "with `{name}` the texts of this project are more than {} MiB",
            LARGEST_PROJECT / 1024 / 1024
        )));
    }
    if let Some(why) = refused_path(name) {
        return Err(Unreadable::Refused(format!("path `{name}` {why}")));
    }
    let too_large = |size: u64| {
        Unreadable::TooLarge(format!(
            "`{name}` has {:.1} MB; a text of more than {} MiB is not read",
            size as f64 / 1e6,
            LARGEST_TEXT / 1024 / 1024
        ))
    };
    if let Some(size) = files.size(name).filter(|s| *s > LARGEST_TEXT) {
        return Err(too_large(size));
    }
    let bytes = files.read(name).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound => Unreadable::NotFound,
        _ => Unreadable::Refused(format!("`{name}` cannot be read: {e}")),
    })?;
    if bytes.len() as u64 > LARGEST_TEXT {
        return Err(too_large(bytes.len() as u64));
    }
    let text = String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        let line = 1 + e.as_bytes()[..at].iter().filter(|b| **b == b'\n').count();
        Unreadable::Refused(format!(
            "`{name}` is not UTF-8 text at byte {at}, line {line}; save it as UTF-8"
        ))
    })?;
    // Editors of one system put a byte order mark in front; blanks keep every place as it is.
    Ok(match text.strip_prefix('\u{feff}') {
        Some(rest) => format!("   {rest}"),
        None => text,
    })
}

pub(crate) enum Unreadable {
    NotFound,
    TooLarge(String),
    Refused(String),
}
