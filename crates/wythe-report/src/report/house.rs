//! The house with its levels: a plan per storey and a table of all rooms.

use std::collections::BTreeSet;

use wythe_bands::weighting::Weighting;
use wythe_building::outline::{Outline, Point};
use wythe_building::{BoundaryIndex, Building, RoomIndex};
use wythe_findings::{Arrived, deviation_of_weighted, shares_of_weighted};
use wythe_transmission::Model;

use super::answer::lacking;
use super::judged::Judged;
use super::results::{Results, Units};
use super::words::{capital, chance, rough_db};
use crate::chart::{Plan, PlanArrow, PlanPoint, PlanRoom, THIN, Words, number};
use crate::language::Language;
use crate::page::{Block, Column, Figure, Table, Text};

/// Ways drawn on a plan; more arrows than this hide each other.
const MOST_ARROWS: usize = 5;
/// A way that carries less than this of the A-weighted energy is not drawn.
const LEAST_ARROW: f64 = 0.05;
/// More storeys than this are not drawn but stand in the table.
const MOST_STOREYS: usize = 6;

/// Letter of a way by its place in the strip.
pub fn letter(place: usize) -> char {
    char::from(b'A' + (place % 26) as u8)
}

/// The source and its rooms that the pictures show: the one behind the worst verdict, else the
/// first.
pub fn shown<'a>(r: &Results<'a>, judged: &[Judged<'a>]) -> Option<&'a wythe_findings::FromSource> {
    let best = r.best()?;
    let worst = judged.first().map(|j| j.source.id.as_str());
    best.sources
        .iter()
        .find(|s| Some(r.building.sources[s.source].id.as_str()) == worst)
        .or(best.sources.first())
}

/// A plan of every storey that has an outline.
pub fn plans(r: &Results<'_>, judged: &[Judged<'_>]) -> Vec<Block> {
    let Some(from) = shown(r, judged) else { return Vec::new() };
    let b = r.building;
    let source = &b.sources[from.source];
    let storeys: BTreeSet<i32> =
        b.rooms.iter().filter(|x| x.outline.is_some()).map(|x| x.storey).collect();
    let worst = judged.first().filter(|j| j.source.id == source.id);
    let mut out = Vec::new();
    for &storey in storeys.iter().take(MOST_STOREYS) {
        let to = worst.zip(r.best()).map(|(j, best)| (&best.model, j.arrived));
        let mut plan = storey_plan(b, storey, to, |room| level_in(r, judged, from, room));
        let name = storey_name(storey);
        plan.in_feet = r.about.units == Units::UsCustomary;
        let arrows = match worst {
            Some(j) if !plan.arrows.is_empty() => format!(
                " Arrows and discs: the ways the sound takes to the {}, as wide as their share; \
                 a disc is a way through floor or ceiling.",
                b.rooms[j.arrived.room.0].name()
            ),
            _ => String::new(),
        };
        plan.words = Words::new(
            format!("plan-{storey}"),
            format!("{name}: how loud it gets"),
            format!(
                "{name} from above, playing: {}. The figures are sound levels as the ear weighs them \
                 (dBA), {}. The stronger the tint, the louder.{arrows}",
                source.name(),
                basis_words(r, judged)
            ),
        );
        let mut figure = Figure::new(|f| plan.draw(f));
        figure.invented = source.invented;
        out.push(figure.into());
    }
    if storeys.len() > MOST_STOREYS {
        out.push(Block::Notice(
            format!("{} more storeys are in the table only.", storeys.len() - MOST_STOREYS).into(),
        ));
    }
    out
}

/// The rooms of one storey with their levels in dBA, and as arrows the ways the sound takes to one
/// of the building's rooms. The words are still to be set.
pub fn storey_plan(
    building: &Building,
    storey: i32,
    to: Option<(&Model, &Arrived)>,
    level: impl Fn(RoomIndex) -> Option<f64>,
) -> Plan {
    let mut plan = Plan::default();
    for (index, room) in building.rooms.iter().enumerate() {
        let value = level(RoomIndex(index));
        let (Some(outline), true) = (&room.outline, room.storey == storey) else {
            plan.elsewhere.extend(value.filter(|_| room.outline.is_some()));
            continue;
        };
        plan.rooms.push(PlanRoom {
            name: room.name().to_owned(),
            outline: outline.corners().iter().map(|p| (p.x.0, p.y.0)).collect(),
            level: value.map(|l| format!("{}{THIN}dBA", number(l, 0))).unwrap_or_default(),
            value,
        });
    }
    if let Some((model, arrived)) = to {
        plan.arrows = arrows(building, model, arrived, storey);
    }
    plan
}

/// From what the levels of a plan come, in the language of the page.
pub fn basis_words(r: &Results<'_>, judged: &[Judged<'_>]) -> String {
    let l = r.about.language;
    let found = r.found.is_some();
    let basis = l.say(if found { "plan.with_faults" } else { "plan.from_description" }, &[]);
    if judged.iter().any(Judged::by_recording) {
        l.say("plan.and_recorded", &[("basis", &basis)])
    } else {
        basis
    }
}

/// A-weighted level in a room: of the source in its own, of the verdict's basis in judged rooms,
/// else calculated.
pub fn level_in(
    r: &Results<'_>,
    judged: &[Judged<'_>],
    from: &wythe_findings::FromSource,
    room: RoomIndex,
) -> Option<f64> {
    let source = &r.building.sources[from.source];
    if room == source.room {
        return source.levels.weighted_total(Weighting::A).map(|l| l.0);
    }
    if let Some(j) = judged.iter().find(|j| j.arrived.room == room && j.source.id == source.id) {
        return j.level_a().map(|l| l.0);
    }
    from.arrived.iter().find(|a| a.room == room).and_then(|a| a.level_a).map(|l| l.0)
}

/// A storey in English.
pub fn storey_name(storey: i32) -> String {
    storey_name_in(Language::English, storey)
}

/// A storey in words.
pub fn storey_name_in(l: Language, storey: i32) -> String {
    let n = storey.unsigned_abs().to_string();
    let key = match storey {
        0 => "storey.ground",
        1 => "storey.first",
        -1 => "storey.basement",
        n if n > 0 => "storey.above",
        _ => "storey.below",
    };
    l.say(key, &[("n", &n)])
}

/// Arrows of the strongest ways to a room, one leg each where both rooms lie on this storey, a
/// disc where a leg leads to another storey from here.
fn arrows(building: &Building, model: &Model, a: &Arrived, storey: i32) -> Vec<PlanArrow> {
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let mut out: Vec<PlanArrow> = Vec::new();
    let mut used: Vec<(BoundaryIndex, usize)> = Vec::new();
    for (place, (way, share)) in ranked(a, &totals).into_iter().take(MOST_ARROWS).enumerate() {
        if share < LEAST_ARROW {
            continue;
        }
        for (leg, rooms) in way.links.iter().zip(way.rooms.windows(2)) {
            let Some(link) = model.links.get(*leg) else { continue };
            let times = used.iter_mut().find(|(b, _)| *b == link.boundary);
            let nth = match times {
                Some((_, n)) => {
                    *n += 1;
                    *n
                }
                None => {
                    used.push((link.boundary, 0));
                    0
                }
            };
            if let Some((from, to)) = leg_on_plan(building, rooms[0], rooms[1], storey, nth) {
                out.push(PlanArrow {
                    letter: letter(place),
                    name: way.title(model),
                    from,
                    to,
                    share,
                });
            }
        }
    }
    out
}

/// Ways but the rest, most of the A-weighted energy first.
pub fn ranked<'a>(a: &'a Arrived, totals: &[f64]) -> Vec<(&'a wythe_transmission::Way, f64)> {
    let mut all: Vec<(&wythe_transmission::Way, f64)> =
        a.received.ways.iter().zip(totals.iter().copied()).filter(|(w, _)| !w.is_rest()).collect();
    all.sort_by(|x, y| y.1.total_cmp(&x.1));
    all
}

/// Half the length of an arrow, m, and the distance between arrows through one wall.
const HALF_ARROW_M: f64 = 0.9;
const ARROW_PITCH_M: f64 = 0.8;

fn leg_on_plan(
    building: &Building,
    from: RoomIndex,
    to: RoomIndex,
    storey: i32,
    nth: usize,
) -> Option<(PlanPoint, PlanPoint)> {
    let (a, b) = (building.rooms.get(from.0)?, building.rooms.get(to.0)?);
    let (p, q) = (a.outline.as_ref()?, b.outline.as_ref()?);
    // 0, +1, −1, +2, … places along the wall.
    let slot = if nth % 2 == 1 { nth.div_ceil(2) as f64 } else { -(nth as f64) / 2.0 };
    if a.storey == b.storey {
        if a.storey != storey {
            return None;
        }
        let (middle, normal) = facing(p, q)?;
        let along = (-normal.1 * slot * ARROW_PITCH_M, normal.0 * slot * ARROW_PITCH_M);
        let at = |s: f64| (middle.0 + along.0 + s * normal.0, middle.1 + along.1 + s * normal.1);
        Some((at(-HALF_ARROW_M), at(HALF_ARROW_M)))
    } else if a.storey == storey {
        let middle = overlap_middle(p, q)?;
        let at = (middle.0 + slot * ARROW_PITCH_M, middle.1);
        Some((at, at))
    } else {
        None
    }
}

/// Step along walls in search of where two outlines face each other, m.
const SEARCH_STEP_M: f64 = 0.2;
/// Points looked at on one outline; a wild outline is searched more coarsely.
const MOST_POINTS: usize = 300;

fn along(outline: &Outline) -> Vec<PlanPoint> {
    let corners: &[Point] = outline.corners();
    let step = (outline.perimeter().0 / MOST_POINTS as f64).max(SEARCH_STEP_M);
    let mut out = Vec::new();
    for (i, a) in corners.iter().enumerate() {
        let b = &corners[(i + 1) % corners.len()];
        let (dx, dy) = (b.x.0 - a.x.0, b.y.0 - a.y.0);
        let n = ((dx.hypot(dy) / step).ceil() as usize).clamp(1, MOST_POINTS);
        for k in 0..n {
            let t = (k as f64 + 0.5) / n as f64;
            out.push((a.x.0 + t * dx, a.y.0 + t * dy));
        }
    }
    out
}

/// Middle of the wall two outlines share, and the direction through it.
fn facing(p: &Outline, q: &Outline) -> Option<(PlanPoint, PlanPoint)> {
    let (from, to) = (along(p), along(q));
    let mut pairs: Vec<(f64, PlanPoint, PlanPoint)> = Vec::new();
    for a in &from {
        let nearest = to
            .iter()
            .map(|b| ((b.0 - a.0).hypot(b.1 - a.1), *b))
            .min_by(|x, y| x.0.total_cmp(&y.0))?;
        pairs.push((nearest.0, *a, nearest.1));
    }
    let least = pairs.iter().map(|x| x.0).min_by(f64::total_cmp)?;
    pairs.retain(|x| x.0 <= least * 1.25 + 0.05);
    let n = pairs.len() as f64;
    let mean =
        |f: &dyn Fn(&(f64, PlanPoint, PlanPoint)) -> f64| pairs.iter().map(f).sum::<f64>() / n;
    let a = (mean(&|x| x.1.0), mean(&|x| x.1.1));
    let b = (mean(&|x| x.2.0), mean(&|x| x.2.1));
    let length = (b.0 - a.0).hypot(b.1 - a.1);
    (length > 1e-6).then(|| {
        (((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0), ((b.0 - a.0) / length, (b.1 - a.1) / length))
    })
}

/// Middle of the floor two outlines share.
fn overlap_middle(p: &Outline, q: &Outline) -> Option<PlanPoint> {
    let (low, high) = p.bounds()?;
    let (mut sum, mut n) = ((0.0, 0.0), 0.0);
    for i in 0..40 {
        for j in 0..40 {
            let x = low.x.0 + (high.x.0 - low.x.0) * (f64::from(i) + 0.5) / 40.0;
            let y = low.y.0 + (high.y.0 - low.y.0) * (f64::from(j) + 0.5) / 40.0;
            let here = Point::at(x, y);
            if p.contains(here) && q.contains(here) {
                sum = (sum.0 + x, sum.1 + y);
                n += 1.0;
            }
        }
    }
    (n > 0.0).then(|| (sum.0 / n, sum.1 / n))
}

/// Every room with its level, the requirement and how it stands.
pub fn levels_table(r: &Results<'_>, judged: &[Judged<'_>]) -> Option<Block> {
    let best = r.best()?;
    let several = best.sources.len() > 1;
    let mut columns = vec![Column::words("Room")];
    if several {
        columns.push(Column::words("Playing"));
    }
    columns.extend([
        Column::figures("Level, dBA"),
        Column::figures("Bass: dBC less dBA"),
        Column::words("Required"),
        Column::words("How it stands"),
        Column::figures("Chance"),
        Column::words("By"),
    ]);
    let mut rows = Vec::new();
    for from in &best.sources {
        let source = &r.building.sources[from.source];
        let mut arrived: Vec<&Arrived> = from.arrived.iter().collect();
        let loudness = |a: &Arrived| a.level_a.map_or(f64::NEG_INFINITY, |l| l.0);
        arrived.sort_by(|a, b| loudness(b).total_cmp(&loudness(a)));
        for a in arrived {
            let name = r.building.rooms[a.room.0].name();
            let here: Vec<&Judged<'_>> = judged
                .iter()
                .filter(|j| j.arrived.room == a.room && j.source.id == source.id)
                .collect();
            let row = |j: Option<&&Judged<'_>>| {
                let mut cells: Vec<Text> = vec![name.into()];
                if several {
                    cells.push(source.name().into());
                }
                let recorded = j.is_some_and(|j| j.by_recording());
                let level = j.map_or(a.level_a, |j| j.level_a());
                let deviation =
                    deviation_of_weighted(&a.levels, &a.received.deviation, Weighting::A);
                cells.push(match (level, deviation) {
                    (None, _) => "no way in".into(),
                    (Some(l), Some(d)) if !recorded => {
                        format!("{} ± {}", number(l.0, 0), number(d.0, 0)).into()
                    }
                    (Some(l), _) => number(l.0, 0).into(),
                });
                let bass = a.level_c.zip(a.level_a).map(|(c, l)| number((c - l).0, 0));
                cells.push(bass.unwrap_or_default().into());
                match j {
                    None => cells.extend(["nothing".into(), Text::new(), Text::new(), by(false)]),
                    Some(j) => {
                        let mark = if j.margin() < 0.0 { "▮ " } else { "✓ " };
                        let mark = if j.margin().is_finite() { mark } else { "? " };
                        cells.push(requirement(j).into());
                        cells.push(format!("{mark}{}", lacking(j)).into());
                        let p = j.verdict().probability_met;
                        cells.push(p.map(chance).unwrap_or_default().into());
                        cells.push(by(recorded));
                    }
                }
                cells
            };
            if here.is_empty() {
                rows.push(row(None));
            }
            rows.extend(here.iter().map(|j| row(Some(j))));
        }
    }
    (!rows.is_empty()).then(|| {
        let invented = best.sources.iter().any(|s| r.building.sources[s.source].invented);
        Block::Table(Table {
            id: "levels".into(),
            caption: "Sound level in every room while it is played, what is required there, and \
                      the chance that it is met. ± is one standard deviation: in two cases of \
                      three the truth lies within it. A large figure under bass means that the \
                      level in dBA says little about what is felt."
                .into(),
            columns,
            rows,
            total: None,
            invented,
        })
    })
}

fn by(recorded: bool) -> Text {
    if recorded { "recorded".into() } else { "calculated".into() }
}

/// The requirement with its hours, in English.
pub fn requirement(j: &Judged<'_>) -> String {
    requirement_in(Language::English, j)
}

/// The requirement with its hours.
pub fn requirement_in(l: Language, j: &Judged<'_>) -> String {
    let text = match j.target.criterion {
        wythe_building::Criterion::LevelA(_)
        | wythe_building::Criterion::LevelC(_)
        | wythe_building::Criterion::MaximumA(_) => {
            l.say("stands.at_most", &[("level", &j.target.text)])
        }
        _ => j.target.text.clone(),
    };
    let hours = j.target.hours.map(|h| {
        let clock = |m: u16| format!("{:02}:{:02}", m / 60, m % 60);
        format!(", {}–{}", clock(h.from), clock(h.to))
    });
    format!("{text}{}", hours.unwrap_or_default())
}

/// What the words of the requirements mean, for those that occur.
pub fn explain_criteria(judged: &[Judged<'_>]) -> Option<Block> {
    use wythe_building::Criterion as C;
    let mut lines: Vec<&str> = Vec::new();
    for j in judged {
        let line = match j.target.criterion {
            C::Nr(_) => {
                "NR is a family of curves that allow more in the bass than in the treble: NR 20 to \
                 25 is usual for sleeping, NR 30 to 35 for quiet work (common practice, no source)."
            }
            C::Nc(_) => {
                "NC is a family of curves that allow more in the bass than in the treble; a room \
                 meets NC 25 when no octave lies above that curve."
            }
            C::LevelA(_) => "dBA adds up all frequencies as the ear weighs faint sounds.",
            C::MaximumA(_) => "LAFmax is the loudest moment of the A-weighted level.",
            C::LevelC(_) => "dBC adds up all frequencies and counts the bass nearly in full.",
            C::NotAudible => {
                "Not audible: below both the hearing threshold and the room's own background."
            }
            C::WeightedDifference { .. } => {
                "DnT,w says by how much two rooms are parted, in one figure; more is better."
            }
            C::Thirds(_) | C::Octaves(_) => "The limits are given band by band.",
        };
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    (!lines.is_empty()).then(|| Block::Paragraph(lines.join(" ").into()))
}

/// A heading that says how a room stands.
pub fn room_heading(r: &Results<'_>, j: &Judged<'_>) -> String {
    let name = capital(r.building.rooms[j.arrived.room.0].name());
    match j.verdict().margin_db {
        Some(m) if m < 0.0 => format!("{name}: {}", lacking(j)),
        Some(m) => format!("{name}: {} to spare", rough_db(m)),
        None => format!("{name}: cannot be judged"),
    }
}
