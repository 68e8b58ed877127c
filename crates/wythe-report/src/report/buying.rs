//! What to buy for the plan: quantities from areas, by stated rules.

use std::collections::BTreeMap;

use wythe_bands::{Metre, SquareMetre};
use wythe_building::{Action, BoundaryKind};
use wythe_findings::caution::take_off::{
    Bead, Millilitres, SCREWS_ON_CEILINGS, SCREWS_ON_WALLS, Waste, fill, screws_per_sheet,
    sealant_tubes, sheets,
};
use wythe_partition::{BuildUp, Joint, Layer, Opening, SealKind};

use super::build_ups::layers;
use super::results::{Results, Units};
use super::words::{area, thickness};
use crate::chart::THIN;
use crate::language::Language;
use crate::page::{Block, Column, ListKind, Table, Text};

/// Sheet counted with, m: a common size (common practice, no source); other sizes change the count.
fn sheet_size(units: Units) -> [f64; 2] {
    match units {
        Units::Metric => [1.2, 2.4],
        // 4 ft by 8 ft.
        Units::UsCustomary => [1.2192, 2.4384],
    }
}
const FOOT: f64 = 0.3048;

/// What is bought by area, in the unit of the list.
fn by_area(units: Units, metric: f64) -> (f64, &'static str) {
    match units {
        Units::Metric => (metric.ceil(), "m²"),
        Units::UsCustomary => ((metric / (FOOT * FOOT)).ceil(), "ft²"),
    }
}

/// What is bought by length, in the unit of the list.
fn by_length(units: Units, metric: f64) -> (f64, &'static str) {
    match units {
        Units::Metric => ((metric * 10.0).ceil() / 10.0, "m"),
        Units::UsCustomary => ((metric / FOOT).ceil(), "ft"),
    }
}
/// Bead of sealant round each layer of board, m (common practice, no source).
const BEAD: f64 = 0.006;
/// Distance of studs or joists where the build-up names none, m (common practice, no source).
const USUAL_SPACING: f64 = 0.6;

/// One line of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What.
    pub item: String,
    /// How much.
    pub quantity: f64,
    /// In which unit.
    pub unit: String,
    /// How it was counted.
    pub rule: String,
}

/// Areas and lengths gathered over all purchases before anything is rounded up.
#[derive(Default)]
struct Gathered {
    /// Board by name and thickness in tenths of a millimetre: area of single layers, m², and
    /// whether any is overhead, and the closest spacing of the frame, m.
    boards: BTreeMap<(String, i64), (f64, bool, f64)>,
    damping: f64,
    fills: BTreeMap<(String, i64), f64>,
    sealant: f64,
    hung: f64,
    strips: BTreeMap<&'static str, f64>,
    leaves: Vec<(String, f64, f64)>,
    finishes: BTreeMap<String, f64>,
}

/// The list for the plan; empty where there is none.
pub fn list(r: &Results<'_>) -> Vec<Line> {
    let mut g = Gathered::default();
    let Some(m) = r.remedies else { return Vec::new() };
    for step in &m.order {
        for action in &r.building.changes[step.change].actions {
            gather(r, action, &mut g);
        }
    }
    lines(g, r.about.units, r.about.language)
}

fn gather(r: &Results<'_>, action: &Action, g: &mut Gathered) {
    let b = r.building;
    match action {
        Action::Rebuild { boundary, build_up } => {
            let Some(place) = b.boundaries.get(boundary.0) else { return };
            let (Some(old), Some(new)) =
                (b.build_ups.get(place.build_up.0), b.build_ups.get(build_up.0))
            else {
                return;
            };
            rebuild(g, old, new, place.net_area().0, place.kind != BoundaryKind::Wall);
        }
        Action::Seal { opening, head, jambs, sill } => {
            let Some(o) = find(r, opening) else { return };
            let (w, h) = (o.width.0, o.height.0);
            for (seal, length) in [(head, w), (jambs, 2.0 * h), (sill, w)] {
                let Some(seal) = seal else { continue };
                let name = match seal.kind {
                    SealKind::None => continue,
                    SealKind::Compression => "buying.compression",
                    SealKind::Brush => "buying.brush",
                    SealKind::DropSeal => "buying.drop",
                };
                *g.strips.entry(name).or_default() += length;
            }
        }
        Action::Leaf { opening, leaf } => {
            let Some(o) = find(r, opening) else { return };
            let title = leaf.title.clone().unwrap_or_else(|| leaf.id.clone());
            g.leaves.push((title, o.width.0, o.height.0));
        }
        Action::Close { leak } => {
            let leaks = b.boundaries.iter().flat_map(|x| &x.leaks);
            for l in leaks.filter(|l| l.id == *leak) {
                if let wythe_building::LeakShape::Slit { length, .. } = l.shape {
                    g.sealant += length.0;
                }
            }
        }
        Action::Absorb { finish, area, .. } => {
            *g.finishes.entry(finish.clone()).or_default() += area.0;
        }
        Action::SecondDoor { opening, leaf, .. } => {
            let Some(o) = find(r, opening) else { return };
            let title = leaf.title.clone().unwrap_or_else(|| leaf.id.clone());
            g.leaves.push((title, o.width.0, o.height.0));
            *g.strips.entry("buying.compression").or_default() += o.width.0 + 2.0 * o.height.0;
            *g.strips.entry("buying.drop").or_default() += o.width.0;
        }
        // Counted in the list by trade that `wythe remedy` prints.
        Action::Silence { .. }
        | Action::Plug { .. }
        | Action::Mount { .. }
        | Action::CutBridges { .. }
        | Action::CutJunction { .. }
        | Action::Earlier { .. }
        | Action::Quieter { .. } => {}
    }
}

fn find<'a>(r: &Results<'a>, id: &str) -> Option<&'a Opening> {
    r.building.boundaries.iter().flat_map(|b| &b.openings).find(|o| o.id == id)
}

fn tenths_of_mm(t: Metre) -> i64 {
    (t.0 * 1e4).round() as i64
}

/// What the new build-up has more of than the old one: boards of a kind and a thickness, fill.
fn rebuild(g: &mut Gathered, old: &BuildUp, new: &BuildUp, area: f64, overhead: bool) {
    let boards = |u: &BuildUp| {
        let mut out: BTreeMap<(String, i64), i64> = BTreeMap::new();
        for l in layers(u) {
            if let Layer::Board(b) = l {
                *out.entry((b.material.clone(), tenths_of_mm(b.thickness))).or_default() +=
                    i64::from(b.count);
            }
        }
        out
    };
    let fills = |u: &BuildUp| {
        let mut out: BTreeMap<String, f64> = BTreeMap::new();
        for l in layers(u) {
            if let Layer::Cavity(c) = l
                && let Some(f) = &c.fill
            {
                *out.entry(f.material.clone()).or_default() += f.depth.0;
            }
        }
        out
    };
    let damped = |u: &BuildUp| -> i64 {
        layers(u)
            .iter()
            .map(|l| match l {
                Layer::Board(b) if b.joined == Joint::DampingLayer => i64::from(b.count) - 1,
                _ => 0,
            })
            .sum()
    };
    let spacing = layers(new)
        .iter()
        .filter_map(|l| match l {
            Layer::Cavity(c) => c.frame.as_ref().map(|f| f.spacing.0),
            Layer::Board(_) => None,
        })
        .fold(USUAL_SPACING, f64::min);
    let before = boards(old);
    let mut added = 0;
    for (key, count) in boards(new) {
        let more = count - before.get(&key).copied().unwrap_or(0);
        if more <= 0 {
            continue;
        }
        added += more;
        let entry = g.boards.entry(key).or_insert((0.0, overhead, spacing));
        entry.0 += more as f64 * area;
        entry.1 |= overhead;
        entry.2 = entry.2.min(spacing);
    }
    // The outline of an element is not always known; a square has the shortest edge of its area.
    g.sealant += added as f64 * 4.0 * area.max(0.0).sqrt();
    // Between boards that are already up nothing can be put any more.
    g.damping += (damped(new) - damped(old)).clamp(0, added) as f64 * area;
    let before = fills(old);
    for (material, depth) in fills(new) {
        let more = depth - before.get(&material).copied().unwrap_or(0.0);
        if more > 1e-4 {
            *g.fills.entry((material, tenths_of_mm(Metre(more)))).or_default() += area;
        }
    }
    let mounted = |u: &BuildUp| {
        layers(u).iter().any(|l| {
            matches!(l, Layer::Cavity(c) if c.frame.as_ref().is_some_and(|f| f.mount.is_some()))
        })
    };
    if mounted(new) {
        g.hung += area;
    }
}

fn lines(g: Gathered, units: Units, l: Language) -> Vec<Line> {
    let say = |key: &str| l.say(key, &[]);
    let mut out = Vec::new();
    let size = sheet_size(units);
    let sheet = SquareMetre(size[0] * size[1]);
    let sheets_of = match units {
        Units::Metric => "1.2 m × 2.4 m",
        Units::UsCustomary => "4 ft × 8 ft",
    };
    let waste = Waste::PLAIN;
    for ((material, tenths), (surface, overhead, spacing)) in g.boards {
        let name = format!("{material} {}", thickness_in(l, Metre(tenths as f64 / 1e4), units));
        let Ok(n) = sheets(SquareMetre(surface), 1, sheet, waste) else { continue };
        out.push(Line {
            item: name.clone(),
            quantity: n as f64,
            unit: say("buying.sheets"),
            rule: l.say(
                "buying.sheets_rule",
                &[("area", &area_in(l, surface, units)), ("sheet", &l.pointed(sheets_of))],
            ),
        });
        let along = if overhead { SCREWS_ON_CEILINGS } else { SCREWS_ON_WALLS };
        let per = screws_per_sheet([Metre(size[0]), Metre(size[1])], Metre(spacing), along);
        if let Ok(per) = per {
            out.push(Line {
                item: l.say("buying.screws", &[("board", &name)]),
                quantity: (per * n) as f64,
                unit: say("buying.pieces"),
                rule: l.say(
                    "buying.screws_rule",
                    &[("n", &per.to_string()), ("length", &thickness_in(l, Metre(0.016), units))],
                ),
            });
        }
    }
    if g.damping > 0.0
        && let Ok(a) = fill(SquareMetre(g.damping), waste)
    {
        out.push(Line {
            item: say("buying.damping"),
            quantity: by_area(units, a.0).0,
            unit: by_area(units, a.0).1.into(),
            rule: say("buying.damping_rule"),
        });
    }
    for ((material, tenths), surface) in g.fills {
        if let Ok(a) = fill(SquareMetre(surface), waste) {
            out.push(Line {
                item: format!("{material} {}", thickness_in(l, Metre(tenths as f64 / 1e4), units)),
                quantity: by_area(units, a.0).0,
                unit: by_area(units, a.0).1.into(),
                rule: say("buying.waste"),
            });
        }
    }
    if g.sealant > 0.0
        && let Ok(n) = sealant_tubes(
            Metre(g.sealant),
            Bead::Square(Metre(BEAD)),
            Millilitres::LARGE_TUBE,
            waste,
        )
    {
        out.push(Line {
            item: say("buying.sealant"),
            quantity: n as f64,
            unit: match units {
                Units::Metric => l.say("buying.tubes", &[("size", "825 mL")]),
                // 825 mL are 27.9 US fluid ounces.
                Units::UsCustomary => l.say("buying.tubes", &[("size", "28 fl oz")]),
            },
            rule: l.say(
                "buying.sealant_rule",
                &[
                    ("bead", &thickness_in(l, Metre(BEAD), units)),
                    ("length", &{
                        let (n, unit) = by_length(units, g.sealant);
                        format!("{}{THIN}{unit}", l.number(n, 0))
                    }),
                ],
            ),
        });
    }
    if g.hung > 0.0 {
        out.push(Line {
            item: say("buying.hung"),
            quantity: by_area(units, g.hung).0,
            unit: l.say("buying.to_hang", &[("unit", by_area(units, g.hung).1)]),
            rule: say("buying.hung_rule"),
        });
    }
    for (name, length) in g.strips {
        out.push(Line {
            item: say(name),
            quantity: by_length(units, length).0,
            unit: by_length(units, length).1.into(),
            rule: say("buying.edges_rule"),
        });
    }
    for (title, w, h) in g.leaves {
        out.push(Line {
            item: title,
            quantity: 1.0,
            unit: say("buying.leaf"),
            rule: l.say(
                "buying.leaf_rule",
                &[
                    ("width", &thickness_in(l, Metre(w), units)),
                    ("height", &thickness_in(l, Metre(h), units)),
                ],
            ),
        });
    }
    for (finish, a) in g.finishes {
        if let Ok(bought) = fill(SquareMetre(a), waste) {
            out.push(Line {
                item: finish,
                quantity: by_area(units, bought.0).0,
                unit: by_area(units, bought.0).1.into(),
                rule: l.say("buying.finish_rule", &[("area", &area_in(l, a, units))]),
            });
        }
    }
    out
}

/// The list as a table with the rules by which it was counted.
pub fn blocks(r: &Results<'_>) -> Vec<Block> {
    let all = list(r);
    if all.is_empty() {
        return Vec::new();
    }
    let l = r.about.language;
    let say = |key: &str| l.say(key, &[]);
    let rows = all
        .iter()
        .map(|line| {
            let places = if line.quantity.fract() > 0.0 { 1 } else { 0 };
            vec![
                Text::from(super::words::capital(&line.item)),
                l.number(line.quantity, places).into(),
                line.unit.clone().into(),
                line.rule.clone().into(),
            ]
        })
        .collect();
    vec![
        Block::Table(Table {
            id: "buying".into(),
            caption: say("buying.caption").into(),
            columns: vec![
                Column::words(say("buying.item")),
                Column::figures(say("buying.quantity")),
                Column::words(say("buying.unit")),
                Column::words(say("buying.rule")),
            ],
            rows,
            ..Table::default()
        }),
        Block::List(ListKind::Plain, vec![say("buying.not_in_it").into()]),
    ]
}

/// A thickness with the decimal sign of the language.
fn thickness_in(l: Language, value: Metre, units: Units) -> String {
    l.pointed(&thickness(value, units))
}

/// An area, m², with the decimal sign of the language.
fn area_in(l: Language, square_metres: f64, units: Units) -> String {
    l.pointed(&area(SquareMetre(square_metres), units))
}
