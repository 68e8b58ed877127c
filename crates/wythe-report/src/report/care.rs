//! Where somebody could be hurt.

use wythe_findings::caution::{Caution, Concern, STANDING_NOTICE, Topic};

use super::results::{Results, Units};
use super::words::{capital, count, in_units, listed};
use crate::page::{self, Block, ListKind, Text};

/// What must stop the work, with the notice that others decide. Always there, also when nothing
/// was found.
pub fn on_the_first_page(r: &Results<'_>) -> Vec<Block> {
    let mut out = Vec::new();
    let stops: Vec<&Caution> = r.cautions.iter().filter(|c| c.stop).collect();
    if !stops.is_empty() {
        out.push(Block::Caution(
            Text::new().strong("Stop and settle these first. ").then(
                stops
                    .iter()
                    .map(|c| {
                        format!(
                            "{}, {}: {}",
                            capital(c.topic.word()),
                            c.place,
                            in_units(first(&c.why).as_str(), r.about.units)
                        )
                    })
                    .collect::<Vec<_>>()
                    .join(" "),
            ),
        ));
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
        Text::from(format!("What this work touches: {}. ", listed(&words)))
    };
    text.then(STANDING_NOTICE)
}

/// First sentence of a text.
fn first(text: &str) -> String {
    match text.split_once(". ") {
        Some((one, _)) => format!("{one}."),
        None => text.to_owned(),
    }
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

/// Whether a caution is about changes only of which none is in the plan.
fn of_other_changes(r: &Results<'_>, c: &Caution) -> bool {
    let Some(m) = r.remedies else { return false };
    let mut changes = c.concerns.iter().filter_map(|x| match x {
        Concern::Change(id) => Some(id),
        _ => None,
    });
    let planned = |id: &String| m.order.iter().any(|s| r.building.changes[s.change].id == *id);
    let some = changes.clone().next().is_some();
    some && !changes.any(planned)
}

/// Cautions by topic, what stops first; those of changes outside the plan, and where the figures
/// come from, only when `all` is wanted.
pub fn blocks(r: &Results<'_>, all: bool) -> Vec<Block> {
    let mut out = vec![Block::Caution(page::STANDING_NOTICE.into())];
    let shown: Vec<&Caution> =
        r.cautions.iter().filter(|c| all || !of_other_changes(r, c)).collect();
    for topic in topics(r.cautions) {
        let of: Vec<&Caution> = shown.iter().copied().filter(|c| c.topic == topic).collect();
        if of.is_empty() {
            continue;
        }
        out.push(Block::Heading {
            level: 3,
            text: format!("{}, decided by {}", capital(topic.word()), topic.who_decides()).into(),
        });
        let items = of.iter().map(|c| item(c, r.about.units)).collect();
        out.push(Block::List(ListKind::Plain, items));
    }
    let left = r.cautions.len() - shown.len();
    if left > 0 {
        let which = count(left, "caution", "cautions");
        out.push(Block::Notice(
            format!(
                "{} about changes outside this plan: see the document for the file.",
                capital(&which)
            )
            .into(),
        ));
    }
    let sources = sources(r.cautions);
    if all && !sources.is_empty() {
        out.push(Block::Details(
            "Where these figures come from".into(),
            vec![Block::List(ListKind::Plain, sources.into_iter().map(Text::from).collect())],
        ));
    }
    out
}

fn item(c: &Caution, units: Units) -> Text {
    let said = |text: &str| in_units(text, units);
    let mut text = Text::new();
    if c.stop {
        text = text.strong("Stop. ");
    }
    text = text.strong(format!("{}.", capital(&c.place))).then(format!(" {}", said(&c.why)));
    if !c.assumed.is_empty() {
        text = text.then(format!(" Taken for granted: {}.", said(&c.assumed.join("; "))));
    }
    text.then(format!(" {}", said(&c.what_to_do)))
}

fn sources(all: &[Caution]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for c in all {
        for s in &c.sources {
            let line = format!("{}: {s}", capital(c.topic.word()));
            if !out.contains(&line) {
                out.push(line);
            }
        }
    }
    out
}
