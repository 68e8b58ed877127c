//! What goes to standard error when the input cannot be used.

use std::fmt::Write as _;
use std::path::Path;

/// Why a command could not do its work.
#[derive(Debug)]
pub enum Failure {
    /// One or more messages, each complete in itself.
    Messages(Vec<String>),
    /// The reader of standard output went away.
    PipeClosed,
    /// Whoever waited for it stopped it.
    Stopped,
}

impl Failure {
    /// One message: what, and what to do about it.
    pub fn new(what: impl AsRef<str>, remedy: impl AsRef<str>) -> Failure {
        Failure::Messages(vec![message(what.as_ref(), None, remedy.as_ref())])
    }

    /// One message about a file.
    pub fn file(path: &Path, what: impl AsRef<str>, remedy: impl AsRef<str>) -> Failure {
        let place = path.display().to_string();
        Failure::Messages(vec![message(what.as_ref(), Some(&place), remedy.as_ref())])
    }

    /// A file that cannot be read, with the usual remedy.
    pub fn unreadable(path: &Path, error: &std::io::Error) -> Failure {
        let remedy = match error.kind() {
            std::io::ErrorKind::NotFound => "check the name and the folder you are in",
            std::io::ErrorKind::PermissionDenied => "ask for the right to read it",
            _ => "check that it is a file on this machine",
        };
        Failure::file(path, format!("cannot be read: {}", reason(error)), remedy)
    }

    /// A file that cannot be written; what was there before is still there.
    pub fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
        Failure::file(
            path,
            format!("cannot be written: {}", reason(error)),
            "choose another place or make room; nothing that was there before has changed",
        )
    }

    /// Prints to standard error.
    pub fn print(&self) {
        if let Failure::Messages(all) = self {
            for text in all {
                eprintln!("{text}");
            }
            if all.len() > 1 {
                // Nothing is written before everything is read.
                eprintln!("{} errors; nothing was written", all.len());
            }
        }
    }
}

/// The operating system's reason without its error number.
fn reason(error: &std::io::Error) -> String {
    let text = error.to_string();
    text.split(" (os error").next().unwrap_or(&text).to_lowercase()
}

/// Lays out one message: what, where, what to do.
pub fn message(what: &str, place: Option<&str>, remedy: &str) -> String {
    let mut out = format!("error: {what}");
    if let Some(place) = place {
        let _ = write!(out, "\n  at {place}");
    }
    if !remedy.is_empty() {
        let _ = write!(out, "\n  = {remedy}");
    }
    out
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Failure {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            Failure::PipeClosed
        } else {
            Failure::new(format!("writing the result failed: {}", reason(&error)), "")
        }
    }
}
