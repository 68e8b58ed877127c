//! The document for the builder: what can be promised, what fails if done badly, what to buy, what
//! to look at before it is closed, and a sheet to quote on.

use wythe_bands::weighting::Weighting;
use wythe_building::Action;
use wythe_findings::deviation_of_weighted;
use wythe_partition::{Joint, Layer};
use wythe_remedy::money;

use super::judged::{Judged, judged};
use super::owner::{CAUTIONS, document, part};
use super::results::Results;
use super::words::{capital, chance, rough_db};
use super::{
    answer, build_ups, buying, care, changes, compared, field_test, grounds, house, rooms,
};
use crate::chart::{THIN, number};
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

/// The builder's document.
pub fn builder(r: &Results<'_>) -> Document {
    let about = r.about.in_english();
    let r = &Results { about: &about, ..*r };
    let judged = judged(r);
    let mut blocks = vec![Block::Answer(answer::answer(r, &judged))];
    blocks.extend(answer::facts(r, &judged));
    if r.invented() {
        blocks.push(Block::Notice(
            Text::new().invented().then(" marks what was made up for a demonstration."),
        ));
    }
    let steps = answer::steps(r, &judged);
    if !steps.is_empty() {
        part(&mut blocks, "The order of work", vec![answer::steps_block(steps)]);
    }
    blocks.extend(care::on_the_first_page(r));
    blocks.extend(grounds::gaps(r));
    part(&mut blocks, "What can be promised", promise(r, &judged));
    let mut built = build_ups::drawings(r, &judged, MOST_SECTIONS);
    built.extend(details(r));
    part(&mut blocks, "How it is built, and what fails if it is done badly", built);
    part(&mut blocks, "What to buy", buying::blocks(r));
    part(&mut blocks, "What to look at before it is closed", hold_points(r));
    part(&mut blocks, "Sheet to quote on", quote(r).into_iter().collect());
    part(&mut blocks, "What the plan reaches", changes::blocks(r));
    let mut levels = house::plans(r, &judged);
    levels.extend(house::levels_table(r, &judged));
    levels.extend(house::explain_criteria(&judged));
    part(&mut blocks, "How loud it is now", levels);
    let charts = rooms::charts(r, &judged, MOST_ROOMS, false);
    part(&mut blocks, "Where it is too loud, and which way it comes", charts);
    part(&mut blocks, "What the recordings say", recordings(r));
    part(&mut blocks, CAUTIONS, care::blocks(r, false));
    part(&mut blocks, "What is assumed and what is not known", grounds::known(r));
    let mut method = vec![grounds::methods(r)];
    method.extend(grounds::files(r));
    part(&mut blocks, "How this was computed, and from what", method);
    document(r, format!("{}: for the builder", r.building.title), blocks)
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
            Some(p) if p >= PROMISED => "can be promised, with the exclusions below",
            Some(_) => "do not promise this; promise the level on the left, or nothing",
            None => "cannot be judged; do not promise it",
        };
        rows.push(vec![
            Text::from(capital(r.building.rooms[j.arrived.room.0].name())),
            house::requirement(j).into(),
            p.map(chance).unwrap_or_else(|| "not known".into()).into(),
            ninety.map(|l| format!("{}{THIN}dBA", number(l.ceil(), 0))).unwrap_or_default().into(),
            advice.into(),
        ]);
    }
    let loud: Vec<String> = r
        .building
        .sources
        .iter()
        .filter_map(|s| {
            let level = s.levels.weighted_total(Weighting::A)?;
            let room = r.building.rooms[s.room.0].name();
            Some(format!("{} in {room} at no more than {}{THIN}dBA", s.name(), number(level.0, 0)))
        })
        .collect();
    let made = if planned.is_some() { "once the whole plan is made" } else { "as it is" };
    vec![
        Block::Table(Table {
            id: "promise".into(),
            caption: format!(
                "What each room gets {made}: the chance that the requirement is met, and the level \
                 that holds nine times in ten. Both are calculated."
            )
            .into(),
            columns: vec![
                Column::words("Room"),
                Column::words("Requirement"),
                Column::figures("Chance"),
                Column::figures("Nine times in ten below"),
                Column::words("To be promised?"),
            ],
            rows,
            invented: r.invented(),
            ..Table::default()
        }),
        Block::Paragraph(
            format!(
                "Words for a contract, to be put into its own by whoever signs it: the level is the \
                 energy mean over at least five positions in the furnished room with all doors and \
                 windows closed and latched, measured with {}, after correction for the background \
                 by ISO 16283-1.",
                if loud.is_empty() { "the source agreed".to_owned() } else { loud.join("; ") }
            )
            .into(),
        ),
        Block::Paragraph("Excluded from the promise:".into()),
        Block::List(
            ListKind::Plain,
            [
                "a louder source, another source, or another place of it",
                "what goes through the structure: stands, drums or machines on the floor, pipes; it \
                 is not in these figures unless a way above says so",
                "doors ajar, and seals that were not looked after",
                "openings, boxes, pipes and ducts made after the measurement or by others",
                "layers the drawings show as standing that turn out to be otherwise",
                "bands that the background of the room hides",
            ]
            .into_iter()
            .map(Text::from)
            .collect(),
        ),
    ]
}

/// Kinds of detail the plan touches.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Detail {
    Boards,
    Damping,
    Mounts,
    Separate,
    Fill,
    Edges,
    Leaf,
    Absorber,
}

fn touched(r: &Results<'_>) -> Vec<Detail> {
    let mut out: Vec<Detail> = Vec::new();
    let add = |d: Detail, out: &mut Vec<Detail>| {
        if !out.contains(&d) {
            out.push(d);
        }
    };
    let order = r.remedies.map(|m| m.order.as_slice()).unwrap_or_default();
    for action in order.iter().flat_map(|s| &r.building.changes[s.change].actions) {
        match action {
            Action::Rebuild { build_up, .. } => {
                add(Detail::Boards, &mut out);
                let Some(u) = r.building.build_ups.get(build_up.0) else { continue };
                for layer in build_ups::layers(u) {
                    match layer {
                        Layer::Board(b) if b.joined == Joint::DampingLayer => {
                            add(Detail::Damping, &mut out);
                        }
                        Layer::Board(_) => {}
                        Layer::Cavity(c) => {
                            if c.fill.is_some() {
                                add(Detail::Fill, &mut out);
                            }
                            match &c.frame {
                                Some(f) if f.mount.is_some() => add(Detail::Mounts, &mut out),
                                Some(f) if build_ups::stands_apart(f.kind) => {
                                    add(Detail::Separate, &mut out);
                                }
                                None => add(Detail::Separate, &mut out),
                                Some(_) => {}
                            }
                        }
                    }
                }
            }
            Action::Seal { .. } => add(Detail::Edges, &mut out),
            Action::Leaf { .. } => {
                add(Detail::Leaf, &mut out);
                add(Detail::Edges, &mut out);
            }
            Action::Close { .. } => add(Detail::Boards, &mut out),
            Action::Absorb { .. } => add(Detail::Absorber, &mut out),
            Action::SecondDoor { .. } => {
                add(Detail::Leaf, &mut out);
                add(Detail::Edges, &mut out);
            }
            Action::Silence { .. }
            | Action::Plug { .. }
            | Action::Mount { .. }
            | Action::CutBridges { .. }
            | Action::CutJunction { .. }
            | Action::Earlier { .. }
            | Action::Quieter { .. } => {}
        }
    }
    out
}

/// Details that fail if done badly (common practice, no source).
fn details(r: &Results<'_>) -> Vec<Block> {
    let lines: Vec<Text> = touched(r)
        .into_iter()
        .map(|d| {
            let (what, how) = match d {
                Detail::Boards => (
                    "Joints and edges.",
                    "Every layer is sealed at all edges before the next hides it, and joints never \
                     lie over one another. One dry corner undoes a layer.",
                ),
                Detail::Damping => (
                    "Damping layer.",
                    "Both boards are screwed together while it is fresh, with screws that end in \
                     the frame or the board, not between. Hard glue in its place makes one stiff \
                     board and a worse wall.",
                ),
                Detail::Mounts => (
                    "Clips and channels.",
                    "Screws short enough that none reaches the stud or joist behind; no board edge \
                     touches wall or floor; no lamp, pipe or duct ties the ceiling to the joists. \
                     One screw too long is a bridge.",
                ),
                Detail::Separate => (
                    "Leaves that must not touch.",
                    "No offcut, mortar, tie, pipe, conduit or skirting across the gap; look into \
                     it with a lamp before it is closed.",
                ),
                Detail::Fill => (
                    "Fill.",
                    "Fills its depth from edge to edge without holes, and is not pressed so hard \
                     that it ties the leaves.",
                ),
                Detail::Edges => (
                    "Edges of doors.",
                    "All four edges close at once, without force; no light shows; a strip of paper \
                     is held everywhere. The drop seal meets a smooth hard threshold over its \
                     whole length.",
                ),
                Detail::Leaf => (
                    "Door leaf.",
                    "Frame and hinges carry its weight; the gap behind the frame is filled and \
                     sealed on both sides.",
                ),
                Detail::Absorber => (
                    "Absorber.",
                    "It lowers the level in its own room. It does not make the wall behind it \
                     tighter.",
                ),
            };
            Text::new().strong(what).then(format!(" {how}"))
        })
        .collect();
    if lines.is_empty() {
        return Vec::new();
    }
    vec![
        Block::Heading { level: 3, text: "Details that fail if done badly".into() },
        Block::List(ListKind::Plain, lines),
        Block::Notice("These details are common practice, no source.".into()),
    ]
}

fn hold_points(r: &Results<'_>) -> Vec<Block> {
    let mut lines: Vec<&str> = Vec::new();
    for d in touched(r) {
        lines.extend(match d {
            Detail::Boards => vec![
                "What is there has been opened in one place and is as drawn",
                "Boxes and cables found, switched off, sealed, none back to back",
                "First layer sealed at all edges before the second",
                "Joints of each layer away from those below it",
            ],
            Detail::Damping => vec!["Damping layer on the whole board, as much as the maker asks"],
            Detail::Mounts => vec![
                "Clips or channels at the spacing for the new weight, none missing",
                "Screws of the right length in the box, no others on the site",
                "Gap at all edges of the hung boards, filled with sealant that stays soft",
            ],
            Detail::Separate => {
                vec!["Frames free of each other all round; gap clear, seen with a lamp"]
            }
            Detail::Fill => vec!["Fill from edge to edge, no holes"],
            Detail::Edges => vec![
                "Door light-tight at head, jambs and sill",
                "Door opens from inside without a key and by a child",
            ],
            Detail::Leaf => vec!["Frame fixed for the weight, gap behind it filled and sealed"],
            Detail::Absorber => vec!["Absorber fixed, away from heaters and lamps"],
        });
    }
    if lines.is_empty() {
        return Vec::new();
    }
    lines.push("Weight, fire blocks, air and way out agreed with those who decide them");
    lines.push("Measured again with the door shut and with its edges taped, before paint");
    let rows = lines
        .into_iter()
        .map(|l| vec![Text::from(format!("☐ {l}")), Text::new(), Text::new()])
        .collect();
    vec![
        Block::Table(Table {
            id: "hold-points".into(),
            caption: "Seen and photographed before the next layer hides it.".into(),
            columns: vec![
                Column::words("To be seen"),
                Column::words("Photo number"),
                Column::words("Name and date"),
            ],
            rows,
            ..Table::default()
        }),
        Block::Caution(wythe_findings::caution::STANDING_NOTICE.into()),
    ]
}

fn quote(r: &Results<'_>) -> Option<Block> {
    let m = r.remedies.filter(|m| !m.order.is_empty())?;
    let b = r.building;
    let rows = m
        .order
        .iter()
        .map(|s| {
            let change = &b.changes[s.change];
            let price = change.cost.map_or_else(|| "no price".to_owned(), |c| money(b, c));
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
        "Sum".into(),
        number(hours, 0).into(),
        money(b, m.plan.cost).into(),
        "________".into(),
        "________".into(),
    ];
    let short = m.plan.outcome.worst_margin().filter(|m| *m < 0.0);
    let left = short.map(|s| format!(" The worst room stays {} short.", rough_db(-s)));
    Some(Block::Table(Table {
        id: "quote".into(),
        caption: format!(
            "The plan with the prices and hours of the project, and room for yours.{}",
            left.unwrap_or_default()
        )
        .into(),
        columns: vec![
            Column::words("Work"),
            Column::figures("Hours"),
            Column::figures("Price on file"),
            Column::figures("Your price"),
            Column::figures("Provisional"),
        ],
        rows,
        total: Some(total),
        invented: r.prices_invented(),
    }))
}
