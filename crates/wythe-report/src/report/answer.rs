//! The answer first: is it enough, by how much short, what to do next and what that costs.

use wythe_building::Criterion;
use wythe_findings::{Posterior, Statement, statements};
use wythe_remedy::money;

use super::judged::Judged;
use super::results::Results;
use super::words::{capital, chance, count, frequency, rough_db, sentence_case};
use crate::page::{Answer, Block, Fact, ListKind, Text, Verdict};

/// The answer in large letters.
pub fn answer(r: &Results<'_>, judged: &[Judged<'_>]) -> Answer {
    let open = |sentence: &str, more: String| Answer {
        verdict: Verdict::NotKnown,
        sentence: sentence.into(),
        more: more.into(),
    };
    if r.best().is_none() {
        let why = r.gaps.iter().find(|g| g.part == "prediction");
        return open(
            "Whether it is enough cannot be said yet: nothing could be calculated.",
            why.map(|g| sentence_case(&format!("{}; {}", g.why, g.to_do))).unwrap_or_default(),
        );
    }
    if r.building.targets.is_empty() {
        return open(
            "Whether it is enough cannot be said yet: nobody has said what is enough.",
            "Give each room that has to be quiet a requirement, such as a level agreed with the \
             people who live there. The levels below are what arrives."
                .to_owned(),
        );
    }
    let known: Vec<&Judged<'_>> =
        judged.iter().filter(|j| j.verdict().margin_db.is_some()).collect();
    let Some(worst) = known.first() else {
        return open(
            "Whether it is enough cannot be said yet: no requirement can be judged.",
            "The rooms named in the requirements are reached by no described way, or lack the \
             bands the requirement needs."
                .to_owned(),
        );
    };
    let missed = known.iter().filter(|j| j.margin() < 0.0).count();
    let unjudged = judged.len() - known.len();
    let rest = if unjudged > 0 {
        format!(" {} cannot be judged.", capital(&count(unjudged, "requirement", "requirements")))
    } else {
        String::new()
    };
    if missed == 0 {
        let p = worst.verdict().probability_met;
        let chance = p.map(|p| format!(" The chance that this holds is {}.", chance(p)));
        return Answer {
            verdict: Verdict::Met,
            sentence: format!(
                "Yes, as far as it is known: every requirement is met. {} comes closest, with {} \
                 to spare.",
                capital(r.building.rooms[worst.target.room.0].name()),
                rough_db(worst.margin())
            )
            .into(),
            more: format!("{}{rest}", chance.unwrap_or_default().trim_start()).into(),
        };
    }
    let of = if known.len() == 1 {
        "the requirement is missed".to_owned()
    } else if missed == known.len() {
        format!("all {} requirements are missed", known.len())
    } else {
        format!(
            "{missed} of {} requirements {} missed",
            known.len(),
            if missed == 1 { "is" } else { "are" }
        )
    };
    Answer {
        verdict: Verdict::Short,
        sentence: format!(
            "No, not yet: {of}. Furthest off is {}, {}.",
            r.building.rooms[worst.target.room.0].name(),
            lacking(worst)
        )
        .into(),
        more: format!("{}{rest}", what_next(r, worst)).trim().to_owned().into(),
    }
}

/// How a requirement stands, in words: `12 dB too loud at 63 Hz`, `meets, 3 dB to spare`.
pub fn lacking(j: &Judged<'_>) -> String {
    let v = j.verdict();
    let Some(margin) = v.margin_db else { return "cannot be judged".to_owned() };
    let limit = j.recorded.as_ref().is_some_and(|x| x.decides && x.limit);
    if margin >= 0.0 {
        let least = if limit { "at least " } else { "" };
        return format!("meets, {least}{} to spare", rough_db(margin));
    }
    let least = if limit { "at least " } else { "" };
    let what = if j.is_difference() { "too little insulation" } else { "too loud" };
    let band = match (&j.target.criterion, v.governing_band) {
        (Criterion::WeightedDifference { .. }, _) | (_, None) => String::new(),
        (_, Some(band)) => format!(" at {}", frequency(band)),
    };
    format!("{least}{} {what}{band}", rough_db(-margin))
}

/// One sentence on what to do next.
fn what_next(r: &Results<'_>, worst: &Judged<'_>) -> String {
    if let (Some(found), Some(explained)) = (r.found, r.explained)
        && let Some(first) = behind(r, worst, put_in(&explained.posterior, found.findings))
    {
        return format!(
            "The recordings say why in part: {}. Put that right before anything is bought.",
            first.text
        );
    }
    let Some(remedies) = r.remedies else { return String::new() };
    match remedies.order.first().and_then(|s| r.building.changes.get(s.change)) {
        Some(change) => {
            let cost = change.cost.map(|c| format!(", {}", money(r.building, c)));
            format!("Begin with: {}{}.", change.title, cost.unwrap_or_default())
        }
        None => "None of the changes on offer helps; others have to be thought of.".to_owned(),
    }
}

/// The statement that costs the worst room most, where it was recorded; else what weighs most.
fn behind(r: &Results<'_>, worst: &Judged<'_>, all: Vec<Statement>) -> Option<Statement> {
    let explained = r.explained?;
    let trial = explained.pairs.iter().position(|p| {
        p.trial.state.is_none()
            && p.trial.source == worst.source.room
            && p.trial.receiver == worst.arrived.room
    });
    let effect = |s: &Statement| {
        let of = s.findings.iter().filter_map(|&i| explained.posterior.findings.get(i));
        of.filter_map(|f| f.effects.get(trial?))
            .flat_map(|e| e.iter().map(|(_, d)| d.0.abs()).collect::<Vec<_>>())
            .fold(0.0, f64::max)
    };
    let strongest = all.iter().max_by(|a, b| effect(a).total_cmp(&effect(b)))?;
    if effect(strongest) >= 1.0 { Some(strongest.clone()) } else { all.into_iter().next() }
}

/// What was found and taken as there, as statements, what weighs most first.
fn put_in(posterior: &Posterior, made: &[usize]) -> Vec<Statement> {
    statements(posterior)
        .into_iter()
        .filter(|s| s.effect_db >= 1.0 && s.findings.iter().any(|i| made.contains(i)))
        .collect()
}

/// The three figures beside the answer.
pub fn facts(r: &Results<'_>, judged: &[Judged<'_>]) -> Option<Block> {
    let mut all = Vec::new();
    if let Some(worst) = judged.iter().find(|j| j.verdict().margin_db.is_some()) {
        let v = worst.verdict();
        let (label, value) = if worst.margin() < 0.0 {
            ("Furthest off", -worst.margin())
        } else {
            ("To spare at least", worst.margin())
        };
        let by = if worst.by_recording() { "by the recordings" } else { "calculated" };
        let band = v.governing_band.map(|b| format!(", at {}", frequency(b))).unwrap_or_default();
        all.push(Fact {
            label: label.into(),
            value: rough_db(value).into(),
            note: format!(
                "{}{band}; {by}. 10 dB less sounds about half as loud",
                r.building.rooms[worst.target.room.0].name()
            )
            .into(),
        });
    }
    if let Some(remedies) = r.remedies.filter(|m| !m.baseline.met()) {
        let priced = |text: String| {
            let text = Text::from(text);
            if r.prices_invented() { text.then(" ").invented() } else { text }
        };
        let incomplete = if remedies.plan.cost_incomplete { ", some prices missing" } else { "" };
        if remedies.plan.outcome.met() {
            let p = remedies.plan.outcome.probability_met();
            let note = p.map(|p| format!("chance that the worst room meets it: {}", chance(p)));
            all.push(Fact {
                label: "Everything met for".into(),
                value: money(r.building, remedies.plan.cost).into(),
                note: priced(format!("{}{incomplete}", note.unwrap_or_default())),
            });
        } else if !remedies.plan.changes.is_empty() {
            let left = remedies.plan.outcome.worst_margin().unwrap_or(f64::NAN);
            all.push(Fact {
                label: "All that is on offer".into(),
                value: money(r.building, remedies.plan.cost).into(),
                note: priced(format!("still {} short{incomplete}", rough_db(-left))),
            });
        }
        if let Some(first) = remedies.order.first() {
            let change = &r.building.changes[first.change];
            all.push(Fact {
                label: "First purchase".into(),
                value: change
                    .cost
                    .map_or_else(|| "no price".to_owned(), |c| money(r.building, c))
                    .into(),
                note: change.title.clone().into(),
            });
        }
    }
    (!all.is_empty()).then_some(Block::Facts(all))
}

/// What to do, in this order: what was found, the test that settles it, the purchases.
pub fn steps(r: &Results<'_>, judged: &[Judged<'_>]) -> Vec<Text> {
    let mut out = Vec::new();
    if let (Some(found), Some(explained)) = (r.found, r.explained) {
        for s in put_in(&explained.posterior, found.findings) {
            let first = s.findings.first().and_then(|&i| explained.posterior.findings.get(i));
            let Some(first) = first else { continue };
            let element = first.cause.element.split(", ").next().unwrap_or(&first.cause.element);
            out.push(
                Text::new()
                    .strong(format!("Look at the {element}."))
                    .then(format!(" {}", sentence_case(&s.text))),
            );
        }
    }
    if let Some(next) = r.explained.and_then(|e| e.next.as_ref()) {
        let most = next.expected.iter().max_by(|a, b| a.1.0.total_cmp(&b.1.0));
        let gain = most.map(|(band, d)| {
            format!(
                " If the edges are the fault, the difference between the rooms rises by up to {} \
                 at {}; if it does not, leave the edges alone.",
                rough_db(d.0),
                frequency(band.nominal())
            )
        });
        out.push(Text::new().strong("Make sure with a test.").then(format!(
            " {}.{}",
            capital(&next.what),
            gain.unwrap_or_default()
        )));
    }
    let short = judged.iter().any(|j| j.margin() < 0.0);
    if let Some(remedies) = r.remedies {
        for step in &remedies.order {
            let change = &r.building.changes[step.change];
            let mut text = Text::new().strong(format!("{}.", capital(&change.title)));
            text = match change.cost {
                Some(c) => text.then(format!(" {}", money(r.building, c))),
                None => text.then(" No price is on file"),
            };
            if change.cost_invented {
                text = text.then(" ").invented();
            }
            if let Some(h) = change.hours {
                text = text.then(format!(", about {} hours", crate::chart::number(h, 0)));
            }
            text = if step.shortfall > 0.05 {
                text.then(format!(
                    ". After it the worst room is {} short.",
                    rough_db(-step.worst_margin)
                ))
            } else {
                text.then(". After it every requirement is met by the most probable figures.")
            };
            out.push(text);
        }
    } else if short && r.building.changes.is_empty() {
        out.push(
            "Write down the changes you could make, with your prices, and calculate again: the \
             cheapest set that is enough is then found."
                .into(),
        );
    }
    if r.measured.is_none() && out.is_empty() && short {
        out.push(
            "Record before you buy: a recording says whether the building is as described.".into(),
        );
    }
    out
}

/// The list as a block; numbered because the order counts.
pub fn steps_block(all: Vec<Text>) -> Block {
    Block::List(ListKind::Numbered, all)
}
