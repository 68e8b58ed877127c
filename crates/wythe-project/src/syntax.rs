//! Text to a document with spans; several slips of syntax are found in one go.

use toml_edit::Document;

use crate::problem::{Notes, Place};
use crate::record::short;

/// After so many slips the text is no project file and more messages help nobody.
const MOST_SLIPS: usize = 8;

/// Parses the text of a file. A line that cannot be parsed is reported, blanked and the rest
/// parsed again, as long as that leads further down. The flag says whether anything was blanked.
pub(crate) fn parse(notes: &mut Notes, file: usize) -> (Option<Document<String>>, bool) {
    let Some(mut text) = notes.texts.get(file).map(|t| t.text.clone()) else {
        return (None, true);
    };
    let mut last = None;
    for slip in 0..=MOST_SLIPS {
        let error = match Document::parse(text.clone()) {
            Ok(document) => return (Some(document), slip > 0),
            Err(error) => error,
        };
        let span = error.span().unwrap_or(0..0);
        let at = span.start.min(text.len().saturating_sub(1));
        // An error at a line's end belongs to that line, not to the next.
        let start = text.as_bytes()[..at].iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
        let end =
            text.as_bytes()[at..].iter().position(|b| *b == b'\n').map_or(text.len(), |i| at + i);
        if last.is_some_and(|l| start <= l) || text.is_empty() {
            break;
        }
        last = Some(start);
        let place = Place { file, span: span.start.min(text.len())..span.end.min(text.len()) };
        let message = error.message().trim().replace('\n', ", ");
        notes.problem(
            "project::syntax",
            &place,
            format!("the text cannot be read here: {}", short(&message)),
            "texts stand in double quotes, lists in [ ], tables in { } on one line; a key stands once in a table",
        );
        let blank: String = text[floor(&text, start)..floor(&text, end)]
            .chars()
            .map(|c| if c == '\n' { "\n".to_owned() } else { " ".repeat(c.len_utf8()) })
            .collect();
        text.replace_range(floor(&text, start)..floor(&text, end), &blank);
    }
    (None, true)
}

fn floor(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
