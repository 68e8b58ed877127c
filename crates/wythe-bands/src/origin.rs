//! Where a number came from, how well it is known, and what was remarked on the way.

/// Where a number or formula comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Published: a key of `docs/sources.bib` with the clause, table or equation.
    Published {
        /// Key in `docs/sources.bib`.
        key: &'static str,
        /// Clause, table, equation or page.
        place: &'static str,
    },
    /// Derived here; the text says from what.
    Derived(&'static str),
    /// Common practice of the trade, no source.
    Practice,
    /// From memory or a single transcription, not yet checked against the printed page.
    Unverified(&'static str),
    /// Invented for the demonstration.
    Invented,
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Source::Published { key, place } => write!(f, "{key}, {place}"),
            Source::Derived(from) => write!(f, "derived here: {from}"),
            Source::Practice => f.write_str("common practice, no source"),
            Source::Unverified(what) => write!(f, "{what}, from memory, not checked"),
            Source::Invented => f.write_str("invented for the demonstration"),
        }
    }
}

/// How well a value is known, as the user says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default, Hash)]
pub enum Standing {
    /// Seen or measured.
    Known,
    /// Taken from experience, a drawing or a default.
    #[default]
    Assumed,
    /// Nobody has looked.
    Unknown,
}

impl Standing {
    /// Word of the project file.
    pub fn word(self) -> &'static str {
        match self {
            Standing::Known => "known",
            Standing::Assumed => "assumed",
            Standing::Unknown => "unknown",
        }
    }
}

/// How well one thing of the project is known and who says so.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Standpoint {
    /// How well it is known.
    pub standing: Standing,
    /// The user's own note of where it came from.
    pub source: Option<String>,
}

/// Something that does not stop a result but has to travel with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Stable code such as `partition::third-leaf`.
    pub code: &'static str,
    /// Sentence for a person, lower case, no full stop.
    pub text: String,
    /// Which wall, room, channel, band or time it is about.
    pub place: Option<String>,
}

impl Remark {
    /// A remark about nothing in particular.
    pub fn new(code: &'static str, text: impl Into<String>) -> Remark {
        Remark { code, text: text.into(), place: None }
    }

    /// The same remark with its place.
    pub fn at(mut self, place: impl Into<String>) -> Remark {
        self.place = Some(place.into());
        self
    }
}
