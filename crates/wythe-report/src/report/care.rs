//! Where somebody could be hurt.

use wythe_bands::Source;
use wythe_findings::caution::{Caution, STANDING_NOTICE, Topic};

use super::results::Results;
use super::words::{capital, listed};
use crate::page::{self, Block, ListKind, Text};

/// What must stop the work, with the notice that others decide. Always there, also when nothing
/// was found.
pub fn on_the_first_page(r: &Results<'_>) -> Vec<Block> {
    let mut out = Vec::new();
    let stops: Vec<&Caution> = r.cautions.iter().filter(|c| c.stop).collect();
    if !stops.is_empty() {
        let mut text = Text::new().strong("Stop and settle these first. ");
        let parts: Vec<String> =
            stops.iter().map(|c| format!("{} ({})", capital(c.topic.word()), c.place)).collect();
        text = text.then(format!(
            "{}. The details stand under “Where somebody could be hurt”.",
            listed(&parts)
        ));
        out.push(Block::Caution(text));
    }
    out.push(Block::Caution(standing(r)));
    out
}

fn standing(r: &Results<'_>) -> Text {
    let topics = topics(r.cautions);
    let text = if topics.is_empty() {
        Text::new()
    } else {
        let words: Vec<String> = topics.iter().map(|t| t.word().to_owned()).collect();
        Text::from(format!("This work touches {}. ", listed(&words)))
    };
    text.then(STANDING_NOTICE)
}

fn topics(all: &[Caution]) -> Vec<Topic> {
    let mut out: Vec<Topic> = Vec::new();
    for c in all {
        if !out.contains(&c.topic) {
            out.push(c.topic);
        }
    }
    out
}

/// All cautions by topic, what stops first.
pub fn blocks(r: &Results<'_>) -> Vec<Block> {
    let mut out = vec![Block::Caution(page::STANDING_NOTICE.into())];
    for topic in topics(r.cautions) {
        let of: Vec<&Caution> = r.cautions.iter().filter(|c| c.topic == topic).collect();
        out.push(Block::Heading {
            level: 3,
            text: format!("{}: decides {}", capital(topic.word()), topic.who_decides()).into(),
        });
        let items = of.iter().map(|c| item(c)).collect();
        out.push(Block::List(ListKind::Plain, items));
    }
    let sources = sources(r.cautions);
    if !sources.is_empty() {
        out.push(Block::Details(
            "Where these figures come from".into(),
            vec![Block::List(ListKind::Plain, sources.into_iter().map(Text::from).collect())],
        ));
    }
    out
}

fn item(c: &Caution) -> Text {
    let mut text = Text::new();
    if c.stop {
        text = text.strong("Stop. ");
    }
    text = text.strong(format!("{}.", capital(&c.place))).then(format!(" {}", c.why));
    if !c.assumed.is_empty() {
        text = text.then(format!(" Taken for granted: {}.", c.assumed.join("; ")));
    }
    text.then(format!(" {}", c.what_to_do))
}

fn sources(all: &[Caution]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for c in all {
        for s in &c.sources {
            let line = match s {
                Source::Published { key, place } => format!("{key}, {place}"),
                Source::Derived(from) => format!("derived here: {from}"),
                Source::Practice => "common practice, no source".to_owned(),
                Source::Unverified(what) => format!("{what}, from memory, not checked"),
                Source::Invented => "invented for the demonstration".to_owned(),
            };
            let line = format!("{}: {line}", capital(c.topic.word()));
            if !out.contains(&line) {
                out.push(line);
            }
        }
    }
    out
}
