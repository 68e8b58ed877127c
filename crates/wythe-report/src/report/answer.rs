//! The answer first: is it enough, by how much short, what to do next and what that costs.

use wythe_building::Criterion;
use wythe_findings::{Posterior, Statement, statements};
use wythe_remedy::money;

use super::fault;
use super::judged::Judged;
use super::results::{Gap, Results};
use super::words::{capital, frequency, rough_db, sentence_case};
use crate::language::Language;
use crate::page::{Answer, Block, Fact, ListKind, Text, Verdict};

/// The answer in large letters.
pub fn answer(r: &Results<'_>, judged: &[Judged<'_>]) -> Answer {
    let l = r.about.language;
    let open = |key: &str, more: String| Answer {
        verdict: Verdict::NotKnown,
        sentence: l.say(key, &[]).into(),
        more: more.into(),
    };
    if r.best().is_none() {
        let why = r.gaps.iter().find(|g| g.part == "prediction");
        let said = why.map(|g| {
            let (why, to_do) = reason(l, g);
            sentence_case(&if to_do.is_empty() { why } else { format!("{why}; {to_do}") })
        });
        let more = joined(&recorded_alone(r), &said.unwrap_or_default());
        return open("answer.nothing_calculated", more);
    }
    if r.building.targets.is_empty() {
        return open("answer.no_requirement", l.say("answer.give_requirement", &[]));
    }
    let known: Vec<&Judged<'_>> =
        judged.iter().filter(|j| j.verdict().margin_db.is_some()).collect();
    let Some(worst) = known.first() else {
        return open("answer.cannot_judge", l.say("answer.not_reached", &[]));
    };
    let missed = known.iter().filter(|j| j.margin() < 0.0).count();
    let unjudged = judged.len() - known.len();
    let rest = if unjudged > 0 { l.count("answer.unjudged", unjudged, &[]) } else { String::new() };
    let room = r.building.rooms[worst.target.room.0].name();
    if missed == 0 {
        let p = worst.verdict().probability_met;
        let chance = p.map(|p| l.say("answer.chance", &[("chance", &l.chance(p))]));
        let db = l.rough_db(worst.margin());
        return Answer {
            verdict: Verdict::Met,
            sentence: l.say("answer.yes", &[("room", &capital(room)), ("db", &db)]).into(),
            more: joined(&chance.unwrap_or_default(), &rest).into(),
        };
    }
    let all = known.len().to_string();
    let of = if known.len() == 1 {
        l.say("answer.only_one_missed", &[])
    } else if missed == known.len() {
        l.say("answer.all_missed", &[("n", &all)])
    } else {
        l.count("answer.missed", missed, &[("all", &all)])
    };
    let lacking = lacking_in(l, worst);
    let sentence =
        l.say("answer.no", &[("missed", &of), ("room", room), ("lacking", &lacking)]).into();
    Answer { verdict: Verdict::Short, sentence, more: joined(&what_next(r, worst), &rest).into() }
}

/// Pairs named where the recordings are all there is.
const MOST_PAIRS: usize = 2;

/// What the recordings say by themselves, where nothing could be calculated; empty where they say
/// nothing.
fn recorded_alone(r: &Results<'_>) -> String {
    let l = r.about.language;
    let name = |i: wythe_building::RoomIndex| r.building.rooms.get(i.0).map_or("", |x| x.name());
    let pairs = r.measured.map(|m| m.pairs.as_slice()).unwrap_or_default();
    let rated: Vec<String> = pairs
        .iter()
        .filter_map(|p| {
            let wanted = p.ratings.iter().find(|x| x.symbol == "DnT,w").or(p.ratings.first())?;
            let values = [
                ("source", name(p.source)),
                ("room", name(p.receiver)),
                ("rating", &wanted.statement),
            ];
            Some(l.say("answer.recorded_pair", &values))
        })
        .collect();
    let shown = rated.iter().take(MOST_PAIRS).cloned().collect::<Vec<_>>().join("; ");
    match rated.len() {
        0 => String::new(),
        n if n > MOST_PAIRS => {
            l.count("answer.recorded_more", n - MOST_PAIRS, &[("pairs", &shown)])
        }
        _ => l.say("answer.recorded", &[("pairs", &shown)]),
    }
}

/// Two sentences, of which either may be missing.
fn joined(a: &str, b: &str) -> String {
    format!("{a} {b}").trim().to_owned()
}

/// Why something is missing and what to do about it, in the language of the page as far as the
/// reason is not a message of the program.
pub fn reason(l: Language, gap: &Gap) -> (String, String) {
    if gap.key.is_empty() {
        return (gap.why.clone(), gap.to_do.clone());
    }
    (l.say(&format!("gap.{}", gap.key), &[]), l.say(&format!("gap.{}_to_do", gap.key), &[]))
}

/// How a requirement stands, in English: `12 dB too loud at 63 Hz`, `meets, 3 dB to spare`.
pub fn lacking(j: &Judged<'_>) -> String {
    lacking_in(Language::English, j)
}

/// How a requirement stands.
pub fn lacking_in(l: Language, j: &Judged<'_>) -> String {
    let v = j.verdict();
    let Some(margin) = v.margin_db else { return l.say("stands.cannot_be_judged", &[]) };
    let limit = j.recorded.as_ref().is_some_and(|x| x.decides && x.limit);
    let db = l.rough_db(margin.abs());
    if margin >= 0.0 {
        let key = if limit { "stands.meets_at_least" } else { "stands.meets" };
        return l.say(key, &[("db", &db)]);
    }
    let band = match (&j.target.criterion, v.governing_band) {
        (Criterion::WeightedDifference { .. }, _) | (_, None) => None,
        (_, Some(band)) => Some(l.frequency(band)),
    };
    let key = match (j.is_difference(), limit, band.is_some()) {
        (false, false, false) => "stands.too_loud",
        (false, false, true) => "stands.too_loud_at",
        (false, true, false) => "stands.at_least_too_loud",
        (false, true, true) => "stands.at_least_too_loud_at",
        (true, false, false) => "stands.too_little",
        (true, false, true) => "stands.too_little_at",
        (true, true, false) => "stands.at_least_too_little",
        (true, true, true) => "stands.at_least_too_little_at",
    };
    l.say(key, &[("db", &db), ("band", &band.unwrap_or_default())])
}

/// One sentence on what to do next.
fn what_next(r: &Results<'_>, worst: &Judged<'_>) -> String {
    let l = r.about.language;
    if let (Some(found), Some(explained)) = (r.found, r.explained)
        && let Some(first) = behind(r, worst, put_in(&explained.posterior, found.findings))
    {
        let said = fault::words(r, &explained.posterior, &first);
        return l.say("answer.said_by_recordings", &[("found", &said)]);
    }
    let Some(remedies) = r.remedies else { return String::new() };
    match remedies.order.first().and_then(|s| r.building.changes.get(s.change)) {
        Some(change) => match change.cost {
            Some(c) => {
                let price = money(r.building, c);
                let values = [("change", change.title.as_str()), ("price", &price)];
                l.say("answer.begin_with_price", &values)
            }
            None => l.say("answer.begin_with", &[("change", &change.title)]),
        },
        None => l.say("answer.nothing_helps", &[]),
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
pub fn put_in(posterior: &Posterior, made: &[usize]) -> Vec<Statement> {
    statements(posterior)
        .into_iter()
        .filter(|s| s.effect_db >= 1.0 && s.findings.iter().any(|i| made.contains(i)))
        .collect()
}

/// The three figures beside the answer.
pub fn facts(r: &Results<'_>, judged: &[Judged<'_>]) -> Option<Block> {
    let l = r.about.language;
    let mut all = Vec::new();
    if let Some(worst) = judged.iter().find(|j| j.verdict().margin_db.is_some()) {
        let short = worst.margin() < 0.0;
        let label = if short { "fact.furthest_off" } else { "fact.to_spare" };
        let by = if worst.by_recording() { "fact.by_recordings" } else { "fact.calculated" };
        let basis = l.say(by, &[]);
        let room = r.building.rooms[worst.target.room.0].name();
        let note = match worst.verdict().governing_band {
            Some(b) => l.say(
                "fact.where_at",
                &[("room", room), ("band", &l.frequency(b)), ("basis", &basis)],
            ),
            None => l.say("fact.where", &[("room", room), ("basis", &basis)]),
        };
        all.push(Fact {
            label: l.say(label, &[]).into(),
            value: l.rough_db(worst.margin().abs()).into(),
            note: note.into(),
        });
    }
    if let Some(remedies) = r.remedies.filter(|m| !m.baseline.met()) {
        let priced = |parts: Vec<String>| {
            let text = Text::from(
                parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", "),
            );
            if r.prices_invented() { text.then(" ").invented() } else { text }
        };
        let incomplete = if remedies.plan.cost_incomplete {
            l.say("fact.prices_missing", &[])
        } else {
            String::new()
        };
        if remedies.plan.outcome.met() {
            let p = remedies.plan.outcome.probability_met();
            let note = p.map(|p| l.say("fact.cheapest_chance", &[("chance", &l.chance(p))]));
            all.push(Fact {
                label: l.say("fact.cheapest", &[]).into(),
                value: money(r.building, remedies.plan.cost).into(),
                note: priced(vec![note.unwrap_or_default(), incomplete]),
            });
        } else if !remedies.plan.changes.is_empty() {
            let left = remedies.plan.outcome.worst_margin().unwrap_or(f64::NAN);
            let short = l.say("fact.still_short", &[("db", &l.rough_db(-left))]);
            all.push(Fact {
                label: l.say("fact.all_on_offer", &[]).into(),
                value: money(r.building, remedies.plan.cost).into(),
                note: priced(vec![short, incomplete]),
            });
        }
        if let Some(first) = remedies.order.first() {
            let change = &r.building.changes[first.change];
            let price = change.cost.map(|c| money(r.building, c));
            all.push(Fact {
                label: l.say("fact.first_purchase", &[]).into(),
                value: price.unwrap_or_else(|| l.say("fact.no_price", &[])).into(),
                note: priced(vec![change.title.clone()]),
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
        let most = next.expected.iter().max_by(|a, b| a.1.0.abs().total_cmp(&b.1.0.abs()));
        let gain = most.map(|(band, d)| {
            format!(
                " If what was found is true, the difference between the rooms {} by up to {} at \
                 {}; if it does not, something else is the cause.",
                if d.0 < 0.0 { "falls" } else { "rises" },
                rough_db(d.0.abs()),
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
