//! What stands in each table.

use wythe_bands::{Band, Level, Spectrum};
use wythe_building::RoomIndex;
use wythe_findings::{Predicted, sentence};
use wythe_rating::Rating;

use super::{Cell, Sheet};
use crate::report::{Results, judged};

/// All tables, in the order of the job; one without rows keeps its head, so that a program finds
/// the same files in every folder.
pub fn tables(r: &Results<'_>) -> Vec<Sheet> {
    vec![
        rooms(r),
        levels(r),
        paths(r),
        targets(r),
        positions(r),
        differences(r),
        decays(r),
        ratings(r),
        findings(r),
        remedies(r),
        buying(r),
        cautions(r),
        grounds(r),
        remarks(r),
        files(r),
    ]
}

fn room<'a>(r: &Results<'a>, index: RoomIndex) -> &'a str {
    r.building.rooms.get(index.0).map_or("", |x| x.id.as_str())
}

/// Heads of a value in every band: `level_50_hz_db`.
fn band_heads(heads: &mut Vec<String>, quantity: &str, unit: &str) {
    let unit = if unit.is_empty() { String::new() } else { format!("_{unit}") };
    heads.extend(Band::all().map(|b| format!("{quantity}_{}_hz{unit}", b.nominal())));
}

fn in_bands<T: Copy>(row: &mut Vec<Cell>, values: &Spectrum<T>, value: impl Fn(T) -> f64) {
    row.extend(Band::all().map(|b| Cell::number(values.get(b).map(&value), 2)));
}

fn level(value: Option<Level>) -> Cell {
    Cell::number(value.map(|l| l.0), 2)
}

/// The three states a building is calculated in, with their names.
fn bases<'a>(r: &Results<'a>) -> [(&'static str, Option<&'a Predicted>); 3] {
    [("described", r.predicted), ("as found", r.found.map(|f| f.predicted)), ("plan", r.after)]
}

fn rooms(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "rooms",
        "The rooms as described.",
        &["room", "title", "storey", "outdoors", "volume_m3", "floor_area_m2", "background_a_db"],
    );
    for x in &r.building.rooms {
        let inside = !x.outdoors;
        let background = x.background.as_ref();
        let a = background.and_then(|b| b.weighted_total(wythe_bands::weighting::Weighting::A));
        sheet.rows.push(vec![
            Cell::words(&x.id),
            Cell::words(x.title.clone().unwrap_or_default()),
            Cell::number(f64::from(x.storey), 0),
            Cell::truth(x.outdoors),
            Cell::number(inside.then_some(x.volume.0), 3),
            Cell::number(inside.then_some(x.floor_area.0), 3),
            level(a),
        ]);
    }
    sheet
}

fn levels(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "levels",
        "Level in every room from every source: as described, as the recordings point to, and with \
         the plan made.",
        &["basis", "source", "source_room", "room", "level_a_db", "level_c_db"],
    );
    for (quantity, unit) in [("level", "db"), ("difference", "db"), ("standard_deviation", "db")] {
        band_heads(&mut sheet.heads, quantity, unit);
    }
    for (basis, predicted) in bases(r) {
        for from in predicted.iter().flat_map(|p| &p.sources) {
            let Some(source) = r.building.sources.get(from.source) else { continue };
            for a in &from.arrived {
                let mut row = vec![
                    Cell::words(basis),
                    Cell::words(&source.id),
                    Cell::words(room(r, source.room)),
                    Cell::words(room(r, a.room)),
                    level(a.level_a),
                    level(a.level_c),
                ];
                in_bands(&mut row, &a.levels, |l| l.0);
                in_bands(&mut row, &a.received.difference, |d| d.0);
                in_bands(&mut row, &a.received.deviation, |d| d.0);
                sheet.rows.push(row);
            }
        }
    }
    sheet
}

fn paths(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "paths",
        "The ways the sound takes and the share of the energy each carries; the shares of one room, \
         source and band sum to 1.",
        &["basis", "source", "room", "path", "title", "kind", "through"],
    );
    band_heads(&mut sheet.heads, "share", "");
    for (basis, predicted) in bases(r) {
        let Some(p) = predicted else { continue };
        for from in &p.sources {
            let Some(source) = r.building.sources.get(from.source) else { continue };
            for a in &from.arrived {
                for way in &a.received.ways {
                    let through: Vec<&str> = way.rooms.iter().map(|&x| room(r, x)).collect();
                    let kind = if way.is_rest() { "rest" } else { way.kind(&p.model).word() };
                    let mut row = vec![
                        Cell::words(basis),
                        Cell::words(&source.id),
                        Cell::words(room(r, a.room)),
                        Cell::words(way.id(&p.model)),
                        Cell::words(way.title(&p.model)),
                        Cell::words(kind),
                        Cell::words(through.join(" > ")),
                    ];
                    row.extend(Band::all().map(|b| {
                        let arrives = a.received.difference.get(b);
                        Cell::number(arrives.map(|_| way.share[b.index()]), 6)
                    }));
                    sheet.rows.push(row);
                }
            }
        }
    }
    sheet
}

fn targets(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "targets",
        "Every requirement with its verdict; the least to spare first. A negative margin is short.",
        &[
            "room",
            "source",
            "criterion",
            "met",
            "margin_db",
            "margin_is_limit",
            "judged_by",
            "governing_band_hz",
            "probability_met",
            "level_a_db",
            "calculated_margin_db",
        ],
    );
    for j in judged(r) {
        let v = j.verdict();
        let limit = j.recorded.as_ref().is_some_and(|x| x.decides && x.limit);
        let band = v.governing_band.unwrap_or_default();
        sheet.rows.push(vec![
            Cell::words(room(r, j.arrived.room)),
            Cell::words(&j.source.id),
            Cell::words(&j.target.text),
            Cell::truth(v.met),
            Cell::number(v.margin_db, 2),
            Cell::truth(limit),
            Cell::words(if j.by_recording() { "recording" } else { "calculation" }),
            band.parse().map_or_else(|_| Cell::words(band), Cell::Number),
            Cell::number(v.probability_met, 3),
            level(j.level_a()),
            Cell::number(j.calculated.margin_db, 2),
        ]);
    }
    sheet
}

fn positions(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "positions",
        "What each microphone heard while the source was on, and the background. Levels without \
         calibration are relative to full scale, not sound pressure levels.",
        &[
            "position",
            "room",
            "channel",
            "state",
            "calibrated",
            "calibration",
            "reference",
            "used_s",
            "left_out_s",
            "laeq_db",
            "lceq_db",
            "lzeq_db",
            "lafmax_db",
            "sha256",
        ],
    );
    band_heads(&mut sheet.heads, "leq", "db");
    band_heads(&mut sheet.heads, "background", "db");
    for p in r.measured.iter().flat_map(|m| &m.positions) {
        let l = &p.levels;
        let left: f64 = p.excluded.iter().map(|e| e.to.0 - e.from.0).sum();
        let mut row = vec![
            Cell::words(&p.id),
            Cell::words(room(r, p.room)),
            Cell::words(&p.channel),
            Cell::words(p.state.clone().unwrap_or_default()),
            Cell::truth(p.calibrated),
            Cell::words(&p.calibration),
            Cell::words(if p.calibrated { "20 µPa" } else { "full scale" }),
            Cell::number(p.used.0, 2),
            Cell::number(left, 2),
            level(l.a),
            level(l.c),
            level(l.z),
            level(l.a_fast_max),
            Cell::words(&p.fingerprint),
        ];
        in_bands(&mut row, &l.leq, |v| v.0);
        in_bands(&mut row, &p.background, |v| v.0);
        sheet.rows.push(row);
    }
    sheet
}

fn differences(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "differences",
        "Measured level differences, a row for each band, with how each stands: `bound` and \
         `missing` mean that the true difference is this or more.",
        &[
            "source_room",
            "receiving_room",
            "state",
            "band_hz",
            "standing",
            "difference_db",
            "uncertainty_db",
            "standardized_difference_db",
            "normalized_difference_db",
            "apparent_reduction_db",
            "decay_time_s",
            "decay_time_assumed",
            "predicted_difference_db",
            "explained_difference_db",
        ],
    );
    for p in r.measured.iter().flat_map(|m| &m.pairs) {
        let compared = r.explained.and_then(|e| {
            e.pairs.iter().find(|x| {
                (x.trial.source, x.trial.receiver) == (p.source, p.receiver)
                    && x.trial.state == p.state
            })
        });
        let x = &p.result;
        for (b, d) in x.difference.iter() {
            sheet.rows.push(vec![
                Cell::words(room(r, p.source)),
                Cell::words(room(r, p.receiver)),
                Cell::words(p.state.clone().unwrap_or_default()),
                b.nominal().parse().map_or(Cell::Nothing, Cell::Number),
                Cell::words(x.state.get(b).map(|s| s.word()).unwrap_or_default()),
                Cell::number(d.0, 2),
                Cell::number(x.uncertainty.get(b).map(|v| v.0), 2),
                Cell::number(x.standardized.get(b).map(|v| v.0), 2),
                Cell::number(x.normalized.get(b).map(|v| v.0), 2),
                Cell::number(x.apparent_reduction.get(b).map(|v| v.0), 2),
                Cell::number(x.decay.get(b).map(|v| v.0), 3),
                Cell::truth(x.decay_assumed),
                Cell::number(compared.and_then(|c| c.predicted.get(b)).map(|v| v.0), 2),
                Cell::number(compared.and_then(|c| c.explained.get(b)).map(|v| v.0), 2),
            ]);
        }
    }
    sheet
}

fn decays(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "decays",
        "Measured decay times T20, a row for each band.",
        &["room", "band_hz", "t20_s", "uncertainty_s"],
    );
    for (index, decay) in r.measured.iter().flat_map(|m| &m.decays) {
        for (b, (time, uncertainty)) in decay.times.iter() {
            sheet.rows.push(vec![
                Cell::words(room(r, *index)),
                b.nominal().parse().map_or(Cell::Nothing, Cell::Number),
                Cell::number(time.0, 3),
                Cell::number(uncertainty.map(|u| u.0), 3),
            ]);
        }
    }
    sheet
}

fn ratings(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "ratings",
        "Single numbers of everything measured; one that must not be given has its reason instead.",
        &[
            "what",
            "source_room",
            "receiving_room",
            "state",
            "symbol",
            "value_db",
            "bound",
            "statement",
            "standard",
            "refused_because",
        ],
    );
    let Some(m) = r.measured else { return sheet };
    let mut add = |place: [Cell; 4], given: &[Rating], refused: &[(String, String)]| {
        for x in given {
            let bound = match x.bound {
                wythe_rating::Bound::Exact => "value",
                wythe_rating::Bound::AtLeast => "at least",
                wythe_rating::Bound::AtMost => "at most",
            };
            let mut row = place.to_vec();
            row.extend([
                Cell::words(x.symbol),
                Cell::number(x.number(), 4),
                Cell::words(bound),
                Cell::words(&x.statement),
                Cell::words(x.standard),
                Cell::Nothing,
            ]);
            sheet.rows.push(row);
        }
        for (name, why) in refused {
            let mut row = place.to_vec();
            row.extend([Cell::words(name), Cell::Nothing, Cell::Nothing, Cell::Nothing]);
            row.extend([Cell::Nothing, Cell::words(why)]);
            sheet.rows.push(row);
        }
    };
    let place = |what: &str, from, to, state: &Option<String>| {
        [
            Cell::words(what),
            Cell::words(room(r, from)),
            Cell::words(room(r, to)),
            Cell::words(state.clone().unwrap_or_default()),
        ]
    };
    for x in &m.pairs {
        add(place("airborne", x.source, x.receiver, &x.state), &x.ratings, &x.refused);
    }
    for x in &m.impacts {
        add(place("impact", x.source, x.receiver, &x.state), &x.ratings, &x.refused);
    }
    for x in &m.facades {
        add(place("façade", x.source, x.receiver, &x.state), &x.ratings, &x.refused);
    }
    sheet
}

fn findings(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "findings",
        "What the recordings point to, most probable first; sizes carry their unit in words.",
        &[
            "element",
            "parameter",
            "probability",
            "estimate",
            "interval_90_from",
            "interval_90_to",
            "largest_effect_db",
            "sentence",
        ],
    );
    for f in r.explained.iter().flat_map(|e| &e.posterior.findings) {
        sheet.rows.push(vec![
            Cell::words(&f.cause.element),
            Cell::words(f.cause.parameter),
            Cell::number(f.probability, 3),
            Cell::words(f.cause.words(f.size)),
            Cell::words(f.cause.words(f.interval_90.0)),
            Cell::words(f.cause.words(f.interval_90.1)),
            Cell::number(f.effect_db, 2),
            Cell::words(sentence(f)),
        ]);
    }
    sheet
}

fn remedies(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "remedies",
        "The changes on offer, what each does alone to the worst margin, and its turn in the plan.",
        &[
            "change",
            "title",
            "element",
            "cost",
            "currency",
            "price_invented",
            "worst_margin_before_db",
            "worst_margin_after_db",
            "turn_in_plan",
            "spent_by_then",
            "worst_margin_by_then_db",
        ],
    );
    let Some(m) = r.remedies else { return sheet };
    for g in &m.gains {
        let Some(c) = r.building.changes.get(g.change) else { continue };
        let turn = m.order.iter().position(|s| s.change == g.change);
        let step = turn.and_then(|t| m.order.get(t));
        sheet.rows.push(vec![
            Cell::words(&c.id),
            Cell::words(&c.title),
            Cell::words(&c.element),
            Cell::number(c.cost, 2),
            Cell::words(r.building.limits.currency.clone().unwrap_or_default()),
            Cell::truth(c.cost_invented),
            Cell::number(g.worst_margin_before, 2),
            Cell::number(g.worst_margin_after, 2),
            Cell::number(turn.map(|t| (t + 1) as f64), 0),
            Cell::number(step.map(|s| s.cost), 2),
            Cell::number(step.map(|s| s.worst_margin), 2),
        ]);
    }
    sheet
}

fn buying(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "buying",
        "What the plan needs bought. Write your own prices into unit_price; counts and waste are \
         common practice, without a source.",
        &[
            "trade",
            "item",
            "quantity",
            "unit",
            "unit_price",
            "cost",
            "price_invented",
            "note",
            "for",
        ],
    );
    sheet.total = Some(5);
    for x in r.remedies.iter().flat_map(|m| &m.buying.items) {
        let each = x.cost.filter(|_| x.quantity > 0.0).map(|c| c / x.quantity);
        let why: Vec<&str> = x
            .changes
            .iter()
            .filter_map(|&c| r.building.changes.get(c))
            .map(|c| c.id.as_str())
            .collect();
        sheet.rows.push(vec![
            Cell::words(x.trade.word()),
            Cell::words(&x.item),
            Cell::number(x.quantity, 2),
            Cell::words(x.unit),
            Cell::number(each, 4),
            Cell::Product([2, 4], x.cost.filter(|c| c.is_finite())),
            Cell::truth(x.cost.map(|_| x.cost_invented)),
            Cell::words(x.note.clone().unwrap_or_default()),
            Cell::words(why.join(" + ")),
        ]);
    }
    sheet
}

fn cautions(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "cautions",
        "What could hurt somebody. Local codes and licensed practice decide; nothing here says that \
         something is safe.",
        &["topic", "where", "why", "what_to_do", "stop"],
    );
    for c in r.cautions {
        sheet.rows.push(vec![
            Cell::words(c.topic.word()),
            Cell::words(&c.place),
            Cell::words(&c.why),
            Cell::words(&c.what_to_do),
            Cell::truth(c.stop),
        ]);
    }
    sheet
}

fn grounds(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "grounds",
        "What is missing, not known, assumed or invented.",
        &["standing", "what", "text", "source_or_remedy", "by_program", "place"],
    );
    for g in r.gaps {
        sheet.rows.push(vec![
            Cell::words("missing"),
            Cell::words(&g.part),
            Cell::words(&g.why),
            Cell::words(&g.to_do),
            Cell::Nothing,
            Cell::Nothing,
        ]);
    }
    for n in r.notes {
        sheet.rows.push(vec![
            Cell::words(n.standing.word()),
            Cell::words(&n.what),
            Cell::words(&n.text),
            Cell::words(n.source.clone().unwrap_or_default()),
            Cell::truth(n.by_program),
            Cell::words(&n.place),
        ]);
    }
    for s in r.building.sources.iter().filter(|s| s.invented) {
        sheet.rows.push(vec![
            Cell::words("invented"),
            Cell::words(&s.id),
            Cell::words("its spectrum was invented for the demonstration"),
            Cell::Nothing,
            Cell::Nothing,
            Cell::Nothing,
        ]);
    }
    sheet
}

fn remarks(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new("remarks", "What had to be said.", &["code", "text", "where"]);
    let measured = r.measured.iter().flat_map(|m| &m.remarks);
    let model = r.best().into_iter().flat_map(|p| &p.model.remarks);
    for x in r.remarks.iter().chain(model).chain(measured) {
        sheet.rows.push(vec![
            Cell::words(x.code),
            Cell::words(&x.text),
            Cell::words(x.place.clone().unwrap_or_default()),
        ]);
    }
    sheet
}

fn files(r: &Results<'_>) -> Sheet {
    let mut sheet = Sheet::new(
        "files",
        "The files everything was computed from, with the fingerprint of their bytes.",
        &["file", "bytes", "sha256"],
    );
    for f in r.files {
        sheet.rows.push(vec![
            Cell::words(&f.name),
            Cell::number(f.bytes as f64, 0),
            Cell::words(&f.sha256),
        ]);
    }
    sheet
}
