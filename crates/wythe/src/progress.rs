//! A line on a terminal that says how far long work is; nothing where there is no terminal.

use std::io::{IsTerminal, Write};

/// The line.
pub struct Progress {
    words: String,
    shown: bool,
    last: f64,
}

impl Progress {
    /// A line such as `reading hall.wav`.
    pub fn new(verb: &str, name: &str) -> Progress {
        Progress {
            words: format!("{verb} {name}"),
            shown: std::io::stderr().is_terminal(),
            last: -1.0,
        }
    }

    /// Share done, 0 to 1.
    pub fn tell(&mut self, share: f64) {
        if self.shown && share - self.last >= 0.01 {
            self.last = share;
            let mut err = std::io::stderr();
            // Nothing depends on whether the line could be shown.
            let _ = write!(err, "\r  {} {:>3.0} %", self.words, 100.0 * share);
            let _ = err.flush();
        }
    }

    /// Wipes the line.
    pub fn done(&mut self) {
        if self.shown {
            eprint!("\r{}\r", " ".repeat(self.words.chars().count() + 12));
        }
    }
}
