//! Running text with the few marks a report needs.

/// A piece of text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Span {
    /// As it stands.
    Plain(String),
    /// Emphasised.
    Strong(String),
    /// Below the line, for the indices of quantities.
    Sub(String),
    /// Above the line.
    Sup(String),
    /// File names, keys, commands.
    Code(String),
    /// Leads to a figure or table of the same document, by its id.
    Link {
        /// Id of the figure or table.
        to: String,
        /// What is read.
        text: String,
    },
    /// The word that marks invented data.
    Invented,
}

/// A run of pieces. Everything in it is escaped when it is written.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Text(pub Vec<Span>);

impl Text {
    /// No text.
    pub fn new() -> Text {
        Text::default()
    }

    /// Followed by plain text.
    pub fn then(self, text: impl Into<String>) -> Text {
        self.push(Span::Plain(text.into()))
    }

    /// Followed by emphasised text.
    pub fn strong(self, text: impl Into<String>) -> Text {
        self.push(Span::Strong(text.into()))
    }

    /// Followed by the index of a quantity, below the line.
    pub fn index(self, text: impl Into<String>) -> Text {
        self.push(Span::Sub(text.into()))
    }

    /// Followed by text above the line.
    pub fn raised(self, text: impl Into<String>) -> Text {
        self.push(Span::Sup(text.into()))
    }

    /// Followed by a file name, key or command.
    pub fn code(self, text: impl Into<String>) -> Text {
        self.push(Span::Code(text.into()))
    }

    /// Followed by a link within the document.
    pub fn link(self, to: impl Into<String>, text: impl Into<String>) -> Text {
        self.push(Span::Link { to: to.into(), text: text.into() })
    }

    /// Followed by the word that marks invented data.
    pub fn invented(self) -> Text {
        self.push(Span::Invented)
    }

    /// The text without its marks.
    pub fn plain(&self) -> String {
        self.0
            .iter()
            .map(|s| match s {
                Span::Plain(t) | Span::Strong(t) | Span::Sub(t) | Span::Sup(t) | Span::Code(t) => t,
                Span::Link { text, .. } => text,
                Span::Invented => "invented",
            })
            .collect()
    }

    fn push(mut self, span: Span) -> Text {
        self.0.push(span);
        self
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Text {
        Text::new().then(text)
    }
}

impl From<String> for Text {
    fn from(text: String) -> Text {
        Text::new().then(text)
    }
}
