//! The document for the owner-builder, on one printed sheet: the answer, the picture of the house,
//! what to do next and what it costs, the cautions. The evidence stands in the other two.
//!
//! Every sentence comes from the tables of [`crate::language`]; names of rooms, elements and
//! changes are the user's own.

use wythe_bands::Standing;
use wythe_bands::weighting::Weighting;
use wythe_building::RoomIndex;
use wythe_findings::caution::{Caution, Topic};
use wythe_findings::{Arrived, Statement, deviation_of_weighted};
use wythe_remedy::money;

use super::answer::{self, lacking_in, reason};
use super::house::{self, requirement_in};
use super::judged::{Judged, judged};
use super::results::{Results, Units};
use super::{fault, grounds};
use crate::chart::{Format, THIN, Words};
use crate::language::Language;
use crate::page::{Block, Column, Document, Figure, ListKind, Paper, Table, Text, Verdict};

/// How much of each kind is shown; the rest is counted and stands elsewhere.
#[derive(Clone, Copy)]
struct Most {
    rooms: usize,
    looks: usize,
    buys: usize,
    stops: usize,
    gaps: usize,
    /// Names of rooms on a storey.
    labels: usize,
    /// Height of a storey, px.
    plan: f64,
    /// Signs of a name in a table, and of a running text; longer ones are cut, and stand whole in the
    /// other documents.
    name: usize,
    text: usize,
}

/// From what most projects need to what fits whatever is in one.
const MOST: [Most; 4] = [
    Most {
        rooms: 6,
        looks: 4,
        buys: 7,
        stops: 4,
        gaps: 2,
        labels: 12,
        plan: 165.0,
        name: 44,
        text: 200,
    },
    Most {
        rooms: 5,
        looks: 3,
        buys: 6,
        stops: 3,
        gaps: 2,
        labels: 9,
        plan: 130.0,
        name: 40,
        text: 180,
    },
    Most {
        rooms: 4,
        looks: 3,
        buys: 5,
        stops: 3,
        gaps: 1,
        labels: 7,
        plan: 115.0,
        name: 32,
        text: 160,
    },
    Most {
        rooms: 3,
        looks: 2,
        buys: 4,
        stops: 2,
        gaps: 1,
        labels: 3,
        plan: 90.0,
        name: 22,
        text: 150,
    },
];
const MOST_STOREYS: usize = 2;

/// Height of a sheet between the margins, in lines of 8 pt by 1.25, with one line kept free; of a
/// Letter sheet, the lower of the two, where the sheet is not known.
fn sheet_lines(paper: Paper) -> f64 {
    let height = if paper == Paper::A4 { 297.0 } else { 279.4 };
    (height - 23.0) / (8.0 * 1.25 * 25.4 / 72.0) - 1.0
}
/// Signs of 8 pt on a line of 180 mm, on the low side: a wide face has fewer.
const LINE_SIGNS: usize = 122;
/// Rows of tables are taller than lines by their padding.
const ROW_LINES: f64 = 1.25;
/// Pixels of a line.
const LINE_PX: f64 = 8.0 * 1.25 * 96.0 / 72.0;

/// Part of the caution that is always named by what it is called in the other documents.
pub const CAUTIONS: &str = "Where somebody could be hurt";

/// The owner's document.
pub fn owner(r: &Results<'_>) -> Document {
    let l = r.about.language;
    let judged = judged(r);
    let mut blocks = sheet(r, &judged, MOST[0]);
    for most in &MOST[1..] {
        if lines(&blocks) <= sheet_lines(r.about.paper) {
            break;
        }
        blocks = sheet(r, &judged, *most);
    }
    let title = l.say("owner.title", &[("project", &r.building.title)]);
    let methods = grounds::method_names(r).into_iter().skip(1);
    Document {
        language: l.tag().into(),
        words: l,
        methods: std::iter::once(l.say("owner.method", &[])).chain(methods).collect(),
        one_sheet: true,
        ..document(r, title, blocks)
    }
}

fn sheet(r: &Results<'_>, judged: &[Judged<'_>], most: Most) -> Vec<Block> {
    let l = r.about.language;
    let mut answer = answer::answer(r, judged);
    if !looks(r).is_empty() && answer.verdict == Verdict::Short {
        // What was found stands below, in full.
        answer.more = l.say("answer.look_first", &[]).into();
    }
    answer.sentence = cut(&answer.sentence.plain(), 2 * most.text).into();
    answer.more = cut(&answer.more.plain(), 2 * most.text).into();
    let mut blocks = vec![Block::Answer(answer)];
    blocks.extend(answer::facts(r, judged));
    if r.invented() {
        blocks.push(Block::Paragraph(
            Text::new().invented().then(format!(" {}", l.say("owner.invented", &[]))),
        ));
    }
    blocks.extend(gaps(r, most));
    let mut picture = plans(r, judged, most);
    picture.extend(rooms(r, judged, most));
    part(&mut blocks, &l.say("owner.how_loud", &[]), picture);
    part(&mut blocks, &l.say("owner.next", &[]), next(r, judged, most));
    part(&mut blocks, &l.say("owner.cautions", &[]), vec![Block::Caution(cautions(r, most))]);
    blocks.push(Block::Paragraph(rest(r)));
    blocks
}

/// Lines the blocks take on paper, on the high side.
fn lines(blocks: &[Block]) -> f64 {
    let text = |t: &Text| t.plain().chars().count().div_ceil(LINE_SIGNS).max(1) as f64;
    // The title above all else.
    let mut sum = 3.5;
    for b in blocks {
        sum += match b {
            Block::Heading { .. } => 2.0,
            Block::Answer(a) => {
                // The sentence is set in 10.5 pt.
                1.5 + 1.35 * (a.sentence.plain().chars().count().div_ceil(80) as f64)
                    + text(&a.more)
            }
            Block::Facts(all) => {
                let longest = all.iter().map(|f| f.note.plain().chars().count()).max();
                3.3 + longest.unwrap_or(0).div_ceil(36) as f64
            }
            Block::Paragraph(t) => 0.2 + text(t),
            Block::Notice(t) | Block::Caution(t) => 0.8 + text(t),
            Block::List(_, items) => items.iter().map(text).sum::<f64>() + 0.2,
            Block::Table(t) => {
                let rows = t.rows.len() + usize::from(t.total.is_some()) + 1;
                // A long name takes a second line.
                let long =
                    |row: &Vec<Text>| row.first().is_some_and(|c| c.plain().chars().count() > 50);
                let second = t.rows.iter().filter(|r| long(r)).count() as f64;
                0.8 + text(&t.caption) + ROW_LINES * rows as f64 + second
            }
            Block::Beside(inner) => inner
                .iter()
                .map(|b| match b {
                    Block::Figure(f) => 1.5 + f.wide.size().1 / LINE_PX,
                    _ => 0.0,
                })
                .fold(0.0, f64::max),
            // Not on the owner's sheet.
            Block::Figure(_)
            | Block::Rooms(_)
            | Block::Details(..)
            | Block::Photographs(_)
            | Block::InLanguage(..)
            | Block::PageBreak => 0.0,
        };
    }
    sum
}

/// A text of at most so many signs, cut between words where it can be.
fn cut(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        return text.to_owned();
    }
    let kept: String = text.chars().take(longest.saturating_sub(1)).collect();
    let whole = kept.rsplit_once(' ').map_or(kept.as_str(), |(a, _)| a);
    // A single long word is cut within itself.
    let end = if whole.len() * 2 > kept.len() { whole } else { &kept };
    format!("{}…", end.trim_end_matches([',', ';', ':', '.']))
}

fn gaps(r: &Results<'_>, most: Most) -> Vec<Block> {
    let l = r.about.language;
    let mut out: Vec<Block> = Vec::new();
    for g in r.gaps.iter().take(most.gaps) {
        let key = match g.part.as_str() {
            "prediction" => Some("gap.prediction"),
            "recordings" => Some("gap.recordings"),
            "comparison with what was recorded" => Some("gap.comparison"),
            "plan of changes" => Some("gap.plan"),
            _ => None,
        };
        let part = key.map_or_else(|| g.part.clone(), |k| l.say(k, &[]));
        let (why, to_do) = reason(l, g);
        let mut text = Text::new().strong(l.say("gap.missing", &[("part", &part)]));
        let why = cut(&why, most.text);
        text = if g.key.is_empty() {
            text.then(" ").then(l.say("gap.because", &[("why", &why)]))
        } else {
            text.then(format!(" {}", super::words::sentence_case(&why)))
        };
        // What to do about a message of the program is in the program's language too.
        if !to_do.is_empty() && (!g.key.is_empty() || l == Language::English) {
            let to_do = cut(&to_do, most.text);
            text = text.then(" ").then(l.say("gap.to_do", &[("to_do", &to_do)]));
        }
        out.push(Block::Notice(text));
    }
    if r.gaps.len() > most.gaps {
        out.push(Block::Notice(l.count("gap.more", r.gaps.len() - most.gaps, &[]).into()));
    }
    out
}

/// The storeys of the loud room and of the room that is furthest off, beside each other.
fn plans(r: &Results<'_>, judged: &[Judged<'_>], most: Most) -> Vec<Block> {
    let l = r.about.language;
    let Some(from) = house::shown(r, judged) else { return Vec::new() };
    let b = r.building;
    let source = &b.sources[from.source];
    let mut storeys: Vec<i32> =
        b.rooms.iter().filter(|x| x.outline.is_some()).map(|x| x.storey).collect();
    storeys.sort_unstable();
    storeys.dedup();
    if storeys.is_empty() {
        return vec![Block::Paragraph(l.say("plan.none", &[]).into())];
    }
    let matters = |s: i32| {
        let here = |room: RoomIndex| b.rooms.get(room.0).is_some_and(|x| x.storey == s);
        let loud = here(source.room);
        let worst = judged.first().is_some_and(|j| here(j.arrived.room));
        (!(loud || worst), s)
    };
    let all = storeys.len();
    storeys.sort_by_key(|s| matters(*s));
    storeys.truncate(MOST_STOREYS);
    storeys.sort_unstable();
    let mut figures = Vec::new();
    let mut unlabelled = 0;
    for &storey in &storeys {
        let mut plan =
            house::storey_plan(b, storey, None, |room| house::level_in(r, judged, from, room));
        // The loudest keep their names; hundreds of them would fill the sheet.
        let mut order: Vec<usize> = (0..plan.rooms.len()).collect();
        let value = |i: usize| plan.rooms[i].value.unwrap_or(f64::NEG_INFINITY);
        order.sort_by(|a, b| value(*b).total_cmp(&value(*a)));
        let quiet: Vec<usize> = order.into_iter().skip(most.labels).collect();
        unlabelled += quiet.len();
        for i in quiet {
            plan.rooms[i].name.clear();
            plan.rooms[i].level.clear();
        }
        for room in &mut plan.rooms {
            room.name = cut(&room.name, most.name.min(30));
        }
        plan.words =
            Words::new(format!("plan-{storey}"), house::storey_name_in(l, storey), String::new());
        plan.highest = Some(most.plan);
        plan.language = l;
        plan.in_feet = r.about.units == Units::UsCustomary;
        figures.push(
            Figure {
                wide: plan.draw(Format::Phone),
                narrow: None,
                table: None,
                invented: source.invented,
            }
            .into(),
        );
    }
    let basis = house::basis_words(r, judged);
    let name = cut(source.name(), most.text);
    let mut words = l.say("plan.playing", &[("source", &name), ("basis", &basis)]);
    if unlabelled > 0 {
        words.push(' ');
        words.push_str(&l.count("plan.unlabelled", unlabelled, &[]));
    }
    if all > storeys.len() {
        words.push(' ');
        words.push_str(&l.count("plan.more_storeys", all - storeys.len(), &[]));
    }
    vec![Block::Beside(figures), Block::Paragraph(words.into())]
}

/// The rooms that matter most, with what is required there and how it stands.
fn rooms(r: &Results<'_>, judged: &[Judged<'_>], most: Most) -> Option<Block> {
    let l = r.about.language;
    let best = r.best()?;
    let several = best.sources.len() > 1;
    let say = |key: &str| l.say(key, &[]);
    let name = |room: RoomIndex, source: &str| {
        let room = cut(r.building.rooms.get(room.0).map_or("", |x| x.name()), most.name);
        let source = cut(source, most.name / 2);
        Text::from(if several { format!("{room} ({source})") } else { room })
    };
    let level = |a: &Arrived, j: Option<&Judged<'_>>| -> Text {
        let recorded = j.is_some_and(Judged::by_recording);
        let deviation = deviation_of_weighted(&a.levels, &a.received.deviation, Weighting::A);
        match (j.map_or(a.level_a, Judged::level_a), deviation) {
            (None, _) => say("rooms.no_way_in"),
            (Some(x), Some(d)) if !recorded => {
                format!("{} ± {}{THIN}dBA", l.number(x.0, 0), l.number(d.0, 0))
            }
            (Some(x), _) => format!("{}{THIN}dBA", l.number(x.0, 0)),
        }
        .into()
    };
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let (all, caption) = if judged.is_empty() {
        let mut arrived: Vec<(&Arrived, &str)> = best
            .sources
            .iter()
            .flat_map(|s| {
                let source = r.building.sources.get(s.source).map_or("", |x| x.name());
                s.arrived.iter().map(move |a| (a, source))
            })
            .collect();
        let loudness = |a: &Arrived| a.level_a.map_or(f64::NEG_INFINITY, |x| x.0);
        arrived.sort_by(|a, b| loudness(b.0).total_cmp(&loudness(a.0)));
        for (a, source) in arrived.iter().take(most.rooms) {
            let asked = say("rooms.nothing_asked").into();
            let basis = say("rooms.calculated").into();
            let row = [level(a, None), asked, Text::new(), Text::new(), basis];
            rows.push([name(a.room, source)].into_iter().chain(row).collect());
        }
        (arrived.len(), "rooms.caption_open")
    } else {
        for j in judged.iter().take(most.rooms) {
            let mark = match j.margin() {
                m if m < 0.0 => "▮",
                m if m.is_finite() => "✓",
                _ => "?",
            };
            let by = if j.by_recording() { "rooms.recorded" } else { "rooms.calculated" };
            let p = j.verdict().probability_met;
            rows.push(vec![
                name(j.arrived.room, j.source.name()),
                level(j.arrived, Some(j)),
                cut(&requirement_in(l, j), most.name).into(),
                format!("{mark} {}", lacking_in(l, j)).into(),
                p.map(|p| l.chance(p)).unwrap_or_default().into(),
                say(by).into(),
            ]);
        }
        (judged.len(), "rooms.caption")
    };
    if rows.is_empty() {
        return None;
    }
    let mut caption = say(caption);
    if all > rows.len() {
        caption.push(' ');
        caption.push_str(&l.count("rooms.more", all - rows.len(), &[]));
    }
    let heads = ["room", "level", "required", "stands", "chance", "basis"];
    Some(Block::Table(Table {
        id: "levels".into(),
        caption: caption.into(),
        columns: heads
            .iter()
            .map(|h| {
                let text = say(&format!("rooms.{h}"));
                if matches!(*h, "level" | "chance") {
                    Column::figures(text)
                } else {
                    Column::words(text)
                }
            })
            .collect(),
        rows,
        total: None,
        invented: best.sources.iter().any(|s| r.building.sources[s.source].invented),
    }))
}

/// What the recordings point to and the plan takes as there.
fn looks(r: &Results<'_>) -> Vec<Statement> {
    match (r.found, r.explained) {
        (Some(found), Some(explained)) => answer::put_in(&explained.posterior, found.findings),
        _ => Vec::new(),
    }
}

/// What to look at, what to test, what to buy.
fn next(r: &Results<'_>, judged: &[Judged<'_>], most: Most) -> Vec<Block> {
    let l = r.about.language;
    let paragraph = |text: String| Block::Paragraph(text.into());
    let mut out = Vec::new();
    let all = looks(r);
    if let (Some(explained), false) = (r.explained, all.is_empty()) {
        out.push(paragraph(l.say("step.look", &[])));
        let mut items: Vec<Text> = all
            .iter()
            .take(most.looks)
            .map(|s| {
                let said = fault::words(r, &explained.posterior, s);
                Text::from(super::words::sentence_case(&cut(&said, most.text)))
            })
            .collect();
        if all.len() > most.looks {
            items.push(l.count("step.more_looks", all.len() - most.looks, &[]).into());
        }
        out.push(Block::List(ListKind::Plain, items));
    }
    if let Some(test) = r.explained.and_then(|e| e.next.as_ref()) {
        let what = cut(&fault::test(r, test), 2 * most.text);
        let mut text = l.say("step.test", &[("test", &what)]);
        let most = test.expected.iter().max_by(|a, b| a.1.0.abs().total_cmp(&b.1.0.abs()));
        if let Some((band, d)) = most {
            let (band, db) = (l.frequency(band.nominal()), l.rough_db(d.0.abs()));
            let values = [("db", db.as_str()), ("band", &band)];
            text.push(' ');
            text.push_str(&l.say("step.gain", &values));
        }
        out.push(paragraph(text));
    }
    let short = judged.iter().any(|j| j.margin() < 0.0);
    out.extend(buys(r, most));
    if short && r.remedies.is_none() && r.building.changes.is_empty() {
        out.push(paragraph(l.say("step.invent", &[])));
    }
    if short && r.measured.is_none() {
        out.push(paragraph(l.say("step.record", &[])));
    }
    if out.is_empty() {
        let met = judged.iter().any(|j| j.margin().is_finite());
        out.push(paragraph(l.say(if met { "step.keep" } else { "step.ask" }, &[])));
    }
    out
}

/// What to buy, in order, with prices.
fn buys(r: &Results<'_>, most: Most) -> Option<Block> {
    let l = r.about.language;
    let m = r.remedies.filter(|m| !m.order.is_empty())?;
    let b = r.building;
    let priced =
        |cost: Option<f64>| cost.map_or_else(|| l.say("fact.no_price", &[]), |c| money(b, c));
    let after = |margin: f64, shortfall: f64| {
        if shortfall > 0.05 {
            l.say("step.short", &[("db", &l.rough_db(-margin))])
        } else {
            l.say("step.met", &[])
        }
    };
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let mut hours = 0.0;
    for (i, step) in m.order.iter().enumerate() {
        let Some(change) = b.changes.get(step.change) else { continue };
        hours += change.hours.unwrap_or(0.0);
        if i >= most.buys {
            continue;
        }
        let price = Text::from(priced(change.cost));
        rows.push(vec![
            Text::from(cut(&change.title, 2 * most.name)),
            price,
            change.hours.map(|h| l.number(h, 0)).unwrap_or_default().into(),
            after(step.worst_margin, step.shortfall).into(),
        ]);
    }
    if m.order.len() > most.buys {
        rows.push(vec![l.count("step.more_buys", m.order.len() - most.buys, &[]).into()]);
    }
    let missing = if m.plan.cost_incomplete {
        format!(", {}", l.say("fact.prices_missing", &[]))
    } else {
        String::new()
    };
    let total = m.order.last().map(|last| {
        vec![
            Text::from(l.say("step.total", &[])),
            format!("{}{missing}", money(b, m.plan.cost)).into(),
            if hours > 0.0 { l.number(hours, 0).into() } else { Text::new() },
            after(last.worst_margin, last.shortfall).into(),
        ]
    });
    let caption = if m.plan.outcome.met() { "step.buy" } else { "step.buy_open" };
    Some(Block::Table(Table {
        id: "buy".into(),
        caption: l.say(caption, &[]).into(),
        columns: vec![
            Column::words(l.say("step.change", &[])),
            Column::figures(l.say("step.price", &[])),
            Column::figures(l.say("step.hours", &[])),
            Column::words(l.say("step.after", &[])),
        ],
        rows,
        total,
        invented: r.prices_invented(),
    }))
}

/// The cautions in short: what stops the work, what it touches, how many there are and where the
/// whole text stands. Always there.
fn cautions(r: &Results<'_>, most: Most) -> Text {
    let l = r.about.language;
    let mut text = Text::new();
    let stops: Vec<&Caution> = r.cautions.iter().filter(|c| c.stop).collect();
    if !stops.is_empty() {
        text = text.strong(l.say("stop.lead", &[])).then(" ");
        for c in stops.iter().take(most.stops) {
            let place = if c.place == "building" {
                l.say("stop.building", &[])
            } else if c.code == "caution::old-materials" {
                r.building.title.clone()
            } else {
                cut(&c.place, 2 * most.name)
            };
            let why = l.say(&format!("stop.{}", c.code.trim_start_matches("caution::")), &[]);
            let topic = super::words::capital(&l.say(topic(c.topic), &[]));
            let values = [("topic", topic.as_str()), ("place", &place), ("why", &why)];
            text = text.then(l.say("stop.item", &values)).then(" ");
        }
        if stops.len() > most.stops {
            text = text.then(l.count("stop.more", stops.len() - most.stops, &[])).then(" ");
        }
    }
    if r.cautions.is_empty() {
        text = text.then(l.say("care.none", &[])).then(" ");
    } else {
        let mut topics: Vec<String> = Vec::new();
        for c in r.cautions {
            let word = l.say(topic(c.topic), &[]);
            if !topics.contains(&word) {
                topics.push(word);
            }
        }
        text = text
            .then(l.say("care.touches", &[("topics", &l.listed(&topics))]))
            .then(" ")
            .strong(l.count("care.count", r.cautions.len(), &[]))
            .then(" ")
            .then(l.say("care.whole", &[("heading", CAUTIONS)]))
            .then(" ");
    }
    text.then(l.say("care.notice", &[]))
}

fn topic(topic: Topic) -> &'static str {
    match topic {
        Topic::WayOut => "topic.way_out",
        Topic::Fuel => "topic.fuel",
        Topic::Alarm => "topic.alarm",
        Topic::Load => "topic.load",
        Topic::Air => "topic.air",
        Topic::Fire => "topic.fire",
        Topic::Wiring => "topic.wiring",
        Topic::Hearing => "topic.hearing",
        Topic::Dust => "topic.dust",
        Topic::Lifting => "topic.lifting",
        Topic::DuctNoise => "topic.duct_noise",
    }
}

/// What is not known, where the rest stands, and from what it was computed.
fn rest(r: &Results<'_>) -> Text {
    let l = r.about.language;
    let unknown = r.notes.iter().filter(|n| n.standing == Standing::Unknown).count();
    let assumed = r.notes.len() - unknown;
    let mut said = Vec::new();
    if unknown > 0 {
        said.push(l.count("rest.unknown", unknown, &[]));
    }
    if assumed > 0 {
        said.push(l.count("rest.assumed", assumed, &[]));
    }
    said.push(l.say("rest.where", &[]));
    if let Some(first) = r.files.first() {
        let print: String = first.sha256.chars().take(12).collect();
        let values =
            [("version", r.about.version.as_str()), ("file", &first.name), ("print", &print)];
        said.push(match r.files.len() - 1 {
            0 => l.say("rest.computed_alone", &values),
            more => l.count("rest.computed", more, &values),
        });
    }
    said.join(" ").into()
}

/// A heading with what stands under it; nothing without content.
pub fn part(blocks: &mut Vec<Block>, title: &str, inside: Vec<Block>) {
    if !inside.is_empty() {
        blocks.push(heading(title));
        blocks.extend(inside);
    }
}

pub fn heading(text: &str) -> Block {
    Block::Heading { level: 2, text: text.into() }
}

/// The sheet all documents share.
pub fn document(r: &Results<'_>, title: String, blocks: Vec<Block>) -> Document {
    Document {
        title,
        language: "en".into(),
        words: Language::English,
        project: r.building.title.clone(),
        date: r.about.date.clone(),
        version: r.about.version.clone(),
        methods: grounds::method_names(r),
        paper: r.about.paper,
        contents: false,
        one_sheet: false,
        blocks,
    }
}
