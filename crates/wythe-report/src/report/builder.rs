//! The document for the builder: what can be promised, what fails if done badly, what to buy, what
//! to look at before it is closed, and a sheet to quote on.

use wythe_bands::weighting::Weighting;
use wythe_findings::deviation_of_weighted;
use wythe_remedy::money;

use super::judged::{Judged, judged};
use super::owner::{CAUTIONS, document, part};
use super::results::Results;
use super::words::capital;
use super::{
    answer, build_ups, buying, care, changes, compared, field_test, grounds, hold_points, house,
    rooms,
};
use crate::chart::{THIN, number};
use crate::language::Language;
use crate::page::{Block, Column, Document, ListKind, Table, Text};

/// Sections drawn.
const MOST_SECTIONS: usize = 12;
/// Rooms with a chart of their own; the table has them all.
const MOST_ROOMS: usize = 4;
/// Recorded pairs with a chart of their own.
const MOST_PAIRS: usize = 3;
/// Chance from which a requirement is called fit to be promised: nine in ten (ours).
const PROMISED: f64 = 0.9;
/// Standard deviations that hold nine times in ten, one-sided.
const NINE_IN_TEN: f64 = 1.2816;

/// The builder's document. What somebody works by on the site is in the language asked for; the
/// evidence behind it is in English, marked so.
pub fn builder(r: &Results<'_>) -> Document {
    let l = r.about.language;
    let about = r.about.in_english();
    let e = &Results { about: &about, ..*r };
    let judged = judged(r);
    let mut blocks = vec![Block::Answer(answer::answer(r, &judged))];
    blocks.extend(answer::facts(r, &judged));
    if r.invented() {
        let marks = format!(" {}", l.say("builder.invented", &[]));
        blocks.push(Block::Notice(Text::new().invented().then(marks)));
    }
    let head = |key: &str| l.say(key, &[]);
    let steps = answer::steps(e, &judged);
    if !steps.is_empty() {
        let steps = in_english(l, vec![answer::steps_block(steps)]);
        part(&mut blocks, &head("builder.order"), steps);
    }
    let mut first = care::on_the_first_page(e);
    first.extend(grounds::gaps(e));
    blocks.extend(in_english(l, first));
    part(&mut blocks, &head("builder.promised"), promise(r, &judged));
    let mut built = in_english(l, build_ups::drawings(e, &judged, MOST_SECTIONS));
    built.extend(details(r));
    part(&mut blocks, &head("builder.built"), built);
    part(&mut blocks, &head("builder.buy"), buying::blocks(r));
    part(&mut blocks, &head("builder.look"), hold_points::blocks(r));
    part(&mut blocks, &head("builder.quote"), quote(r).into_iter().collect());
    let mut evidence = Vec::new();
    part(&mut evidence, "What the plan reaches", changes::blocks(e));
    let mut levels = house::plans(e, &judged);
    levels.extend(house::levels_table(e, &judged));
    levels.extend(house::explain_criteria(&judged));
    part(&mut evidence, "How loud it is now", levels);
    let charts = rooms::charts(e, &judged, MOST_ROOMS, false);
    part(&mut evidence, "Where it is too loud, and which way it comes", charts);
    part(&mut evidence, "What the recordings say", recordings(e));
    part(&mut evidence, CAUTIONS, care::blocks(e, false));
    part(&mut evidence, "What is assumed and what is not known", grounds::known(e));
    let mut method = vec![grounds::methods(e)];
    method.extend(grounds::files(e));
    part(&mut evidence, "How this was computed, and from what", method);
    blocks.extend(in_english(l, evidence));
    let title = l.say("builder.title", &[("project", &r.building.title)]);
    let methods = grounds::method_names(r).into_iter().skip(1);
    Document {
        language: l.tag().into(),
        words: l,
        methods: std::iter::once(l.say("owner.method", &[])).chain(methods).collect(),
        ..document(r, title, blocks)
    }
}

/// Blocks whose sentences have no table, marked as English in a document of another language.
fn in_english(l: Language, blocks: Vec<Block>) -> Vec<Block> {
    if l == Language::English || blocks.is_empty() {
        return blocks;
    }
    vec![
        Block::Notice(l.say("builder.in_english", &[]).into()),
        Block::InLanguage(Language::English, blocks),
    ]
}

/// What was recorded and what it points to.
fn recordings(r: &Results<'_>) -> Vec<Block> {
    let Some(measured) = r.measured else { return Vec::new() };
    let mut out = compared::findings(r);
    out.extend(compared::charts(r, MOST_PAIRS, false));
    out.extend(compared::ratings_table(r, measured));
    out.extend(field_test::other_ratings(r, measured));
    out
}

fn promise(r: &Results<'_>, judged: &[Judged<'_>]) -> Vec<Block> {
    if judged.is_empty() {
        return Vec::new();
    }
    let l = r.about.language;
    let say = |key: &str| l.say(key, &[]);
    let planned = r.remedies.map(|m| &m.plan.outcome);
    let mut rows: Vec<Vec<Text>> = Vec::new();
    for j in judged {
        let target = r.building.targets.iter().position(|t| t == j.target);
        let source = r.building.sources.iter().position(|s| s.id == j.source.id);
        let then = planned.and_then(|o| {
            o.judged.iter().find(|x| Some(x.target) == target && Some(x.source) == source)
        });
        let p = match then {
            Some(x) => x.assessment.probability_met,
            None => j.verdict().probability_met,
        };
        let after = r.after.and_then(|a| {
            let from = a.sources.iter().find(|s| Some(s.source) == source)?;
            from.arrived.iter().find(|x| x.room == j.arrived.room)
        });
        let ninety = after.or(Some(j.arrived)).and_then(|a| {
            let d = deviation_of_weighted(&a.levels, &a.received.deviation, Weighting::A)?;
            Some(a.level_a?.0 + NINE_IN_TEN * d.0)
        });
        let advice = match p {
            Some(p) if p >= PROMISED => "promise.can",
            Some(_) => "promise.cannot",
            None => "promise.not_judged",
        };
        rows.push(vec![
            Text::from(capital(r.building.rooms[j.arrived.room.0].name())),
            house::requirement_in(l, j).into(),
            p.map(|p| l.chance(p)).unwrap_or_else(|| say("unit.not_known")).into(),
            ninety.map(|l| format!("{}{THIN}dBA", number(l.ceil(), 0))).unwrap_or_default().into(),
            say(advice).into(),
        ]);
    }
    let loud: Vec<String> = r
        .building
        .sources
        .iter()
        .filter_map(|s| {
            let level = s.levels.weighted_total(Weighting::A)?;
            let room = r.building.rooms[s.room.0].name();
            let values = [("source", s.name()), ("room", room), ("level", &l.number(level.0, 0))];
            Some(l.say("promise.source", &values))
        })
        .collect();
    let made = if planned.is_some() { "promise.caption_plan" } else { "promise.caption" };
    let source = if loud.is_empty() { say("promise.source_agreed") } else { loud.join("; ") };
    let excluded = [
        "promise.not_source",
        "promise.not_structure",
        "promise.not_doors",
        "promise.not_later",
        "promise.not_layers",
        "promise.not_hidden",
    ];
    vec![
        Block::Table(Table {
            id: "promise".into(),
            caption: say(made).into(),
            columns: vec![
                Column::words(say("promise.room")),
                Column::words(say("promise.required")),
                Column::figures(say("promise.chance")),
                Column::figures(say("promise.below")),
                Column::words(say("promise.advice")),
            ],
            rows,
            invented: r.invented(),
            ..Table::default()
        }),
        Block::Paragraph(l.say("promise.words", &[("source", &source)]).into()),
        Block::Paragraph(say("promise.excluded").into()),
        Block::List(ListKind::Plain, excluded.into_iter().map(|k| Text::from(say(k))).collect()),
    ]
}

/// Details that fail if done badly (common practice, no source).
fn details(r: &Results<'_>) -> Vec<Block> {
    let l = r.about.language;
    let lines: Vec<Text> = hold_points::touched(r)
        .into_iter()
        .map(|(detail, _)| {
            let (what, how) = detail.fails();
            Text::new().strong(l.say(what, &[])).then(format!(" {}", l.say(how, &[])))
        })
        .collect();
    if lines.is_empty() {
        return Vec::new();
    }
    vec![
        Block::Heading { level: 3, text: l.say("detail.heading", &[]).into() },
        Block::List(ListKind::Plain, lines),
        Block::Notice(l.say("detail.practice", &[]).into()),
    ]
}

fn quote(r: &Results<'_>) -> Option<Block> {
    let m = r.remedies.filter(|m| !m.order.is_empty())?;
    let b = r.building;
    let l = r.about.language;
    let say = |key: &str| l.say(key, &[]);
    let rows = m
        .order
        .iter()
        .map(|s| {
            let change = &b.changes[s.change];
            let price = change.cost.map_or_else(|| say("fact.no_price"), |c| money(b, c));
            let price = Text::from(price);
            vec![
                Text::from(capital(&change.title)),
                change.hours.map(|h| number(h, 0)).unwrap_or_else(|| "–".into()).into(),
                if change.cost_invented { price.then(" ").invented() } else { price },
                "________".into(),
                "________".into(),
            ]
        })
        .collect();
    let hours: f64 = m.order.iter().filter_map(|s| b.changes[s.change].hours).sum();
    let total = vec![
        say("quote.sum").into(),
        number(hours, 0).into(),
        money(b, m.plan.cost).into(),
        "________".into(),
        "________".into(),
    ];
    let short = m.plan.outcome.worst_margin().filter(|m| *m < 0.0);
    let left = short.map(|s| format!(" {}", l.say("quote.left", &[("db", &l.rough_db(-s))])));
    Some(Block::Table(Table {
        id: "quote".into(),
        caption: format!("{}{}", say("quote.caption"), left.unwrap_or_default()).into(),
        columns: vec![
            Column::words(say("quote.work")),
            Column::figures(say("quote.hours")),
            Column::figures(say("quote.price")),
            Column::figures(say("quote.yours")),
            Column::figures(say("quote.provisional")),
        ],
        rows,
        total: Some(total),
        invented: r.prices_invented(),
    }))
}
