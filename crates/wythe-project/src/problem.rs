//! What is wrong, where, and what to do; and what was assumed or is unknown.

use std::ops::Range;

use wythe_bands::{Remark, Standing};

/// Something in a file that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Stable code such as `project::unknown-key`.
    pub code: &'static str,
    /// What and why: lower case, no full stop.
    pub text: String,
    /// What to do, with a correct example where there is one.
    pub help: Option<String>,
    /// File, relative to the project folder.
    pub file: String,
    /// Bytes of the file the message points at.
    pub span: Range<usize>,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.text)?;
        if let Some(help) = &self.help {
            write!(f, "\n  = {help}")?;
        }
        write!(f, "\n  = {}", self.code)
    }
}

impl std::error::Error for Problem {}

/// A value that is assumed or unknown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Noted {
    /// What it is about, such as ``room `bedroom`, background``.
    pub what: String,
    /// What was taken and why, or what nobody has looked at; lower case, no full stop.
    pub text: String,
    /// How well it is known.
    pub standing: Standing,
    /// The user's note of where it came from.
    pub source: Option<String>,
    /// Whether the program took a default because the file says nothing.
    pub by_program: bool,
    /// File, relative to the project folder.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
}

/// A text that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileText {
    /// Name, relative to the project folder.
    pub name: String,
    /// Its text.
    pub text: String,
}

impl FileText {
    /// Line and column, both counted from 1, of a byte.
    pub fn line_column(&self, byte: usize) -> (usize, usize) {
        let mut at = byte.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        let before = &self.text[..at];
        let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |i| i + 1);
        (line, before[start..].chars().count() + 1)
    }
}

/// A place in one of the files that were read.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub(crate) struct Place {
    pub file: usize,
    pub span: Range<usize>,
}

/// Most messages of one kind kept; a file of a thousand equal mistakes needs no thousand lines.
const MOST: usize = 200;

/// Collects everything said while reading.
#[derive(Default)]
pub(crate) struct Notes {
    pub texts: Vec<FileText>,
    pub problems: Vec<Problem>,
    pub remarks: Vec<Remark>,
    pub assumed: Vec<Noted>,
    pub unknown: Vec<Noted>,
    /// How many problems were not kept.
    pub dropped: usize,
    /// Byte offsets of line starts per text, made on first use.
    lines: Vec<Vec<usize>>,
}

impl Notes {
    /// Bytes of text read so far.
    pub fn weight(&self) -> u64 {
        self.texts.iter().map(|t| t.text.len() as u64).sum()
    }

    pub fn add_text(&mut self, name: &str, text: String) -> usize {
        self.texts.push(FileText { name: name.to_owned(), text });
        self.texts.len() - 1
    }

    /// Whether further problems would only be counted; spares the search for advice.
    pub fn is_full(&self) -> bool {
        self.problems.len() >= MOST
    }

    pub fn problem(
        &mut self,
        code: &'static str,
        place: &Place,
        text: impl Into<String>,
        help: impl Into<String>,
    ) {
        if self.problems.len() >= MOST {
            self.dropped += 1;
            return;
        }
        let (line, column) = self.line_column(place);
        let help: String = help.into();
        let size = self.texts.get(place.file).map_or(0, |t| t.text.len());
        let end = place.span.end.min(size);
        self.problems.push(Problem {
            code,
            text: text.into(),
            help: (!help.is_empty()).then_some(help),
            file: self.texts.get(place.file).map(|t| t.name.clone()).unwrap_or_default(),
            span: place.span.start.min(end)..end,
            line,
            column,
        });
    }

    pub fn remark(&mut self, code: &'static str, place: &Place, text: impl Into<String>) {
        if self.remarks.len() < MOST {
            let at = self.place_text(place);
            self.remarks.push(Remark::new(code, text).at(at));
        }
    }

    pub fn note(
        &mut self,
        what: impl Into<String>,
        text: impl Into<String>,
        standing: Standing,
        source: Option<String>,
        by_program: bool,
        place: &Place,
    ) {
        let list = match standing {
            Standing::Known => return,
            Standing::Assumed => &mut self.assumed,
            Standing::Unknown => &mut self.unknown,
        };
        if list.len() >= 20 * MOST {
            return;
        }
        let file = self.texts.get(place.file).map(|t| t.name.clone()).unwrap_or_default();
        let (what, text) = (what.into(), text.into());
        let noted = Noted { what, text, standing, source, by_program, file, line: 0 };
        let (line, _) = self.line_column(place);
        let noted = Noted { line, ..noted };
        match standing {
            Standing::Unknown => self.unknown.push(noted),
            _ => self.assumed.push(noted),
        }
    }

    /// A default the program takes because the file says nothing.
    pub fn assume(&mut self, what: impl Into<String>, text: impl Into<String>, place: &Place) {
        self.note(what, text, Standing::Assumed, None, true, place);
    }

    pub fn place_text(&mut self, place: &Place) -> String {
        let (line, _) = self.line_column(place);
        let name = self.texts.get(place.file).map_or("", |t| t.name.as_str());
        format!("{name}:{line}")
    }

    fn line_column(&mut self, place: &Place) -> (usize, usize) {
        while self.lines.len() < self.texts.len() {
            let text = &self.texts[self.lines.len()].text;
            let starts = text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1);
            self.lines.push(std::iter::once(0).chain(starts).collect());
        }
        let (Some(text), Some(starts)) = (self.texts.get(place.file), self.lines.get(place.file))
        else {
            return (1, 1);
        };
        let mut at = place.span.start.min(text.text.len());
        while !text.text.is_char_boundary(at) {
            at -= 1;
        }
        let line = starts.partition_point(|s| *s <= at);
        let start = starts[line - 1];
        (line, text.text[start..at].chars().count() + 1)
    }
}
