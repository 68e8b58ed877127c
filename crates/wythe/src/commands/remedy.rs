//! `wythe remedy`: what each change on offer buys, and the cheapest set that is enough.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use wythe_bands::{Metre, Octave, SurfaceMass};
use wythe_building::Building;
use wythe_findings::caution::{Caution, Topic, cautions_of};
use wythe_project::quantity::{Quantity, parse};
use wythe_remedy::{
    Asked, Buying, ComparedAt, Counting, Frontier, Judged, LimitCheck, Outcome, Plan, PriceList,
    Remedies, Stage, Wish, Yard, asked_of_players, breaks_limit, clash, compare, cost_in_space,
    frontier, headline, money, outcome, priced, priced_own, remedies_for, single_changes,
    substitute, suggest, third_leaf, with_suggestions,
};
use wythe_report::chart::Format;
use wythe_report::report::{About, Results, parts};
use wythe_transmission::Cache;

use crate::args::{self, Common, Units};
use crate::cautions::{self, about_changes};
use crate::commands::predict::{percent, target};
use crate::failure::Failure;
use crate::found::{Found, count_as_described};
use crate::output::{
    Done, Table, decimals, differences, levels, one, print, print_json, remarks, remarks_text,
    rounded, wrap,
};
use crate::{load, pictures};

/// Runs the command.
pub fn run(args: &args::Remedy, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let mut base = Found::new(&args.folder, &project, args.as_described);
    limit(args, &mut base.building)?;
    let failed = |e: wythe_remedy::RemedyError| Failure::file(&args.folder, e.to_string(), "");
    let budget = args.budget.or(base.building.limits.budget);
    if budget.is_some_and(|b| b.is_nan() || b < 0.0) {
        return Err(Failure::new("a budget cannot be negative", "give a sum of money, 0 or more"));
    }
    let prices = match &args.prices {
        None => PriceList::default(),
        Some(path) => {
            let text = std::fs::read_to_string(path).map_err(|e| Failure::unreadable(path, &e))?;
            PriceList::read(&text).map_err(|e| Failure::file(path, e.to_string(), ""))?
        }
    };
    let all_prices = prices.clone().with(&base.building.prices);
    let yard = if common.units == Units::Imperial { Yard::Imperial } else { Yard::Metric };
    let counting = Counting { yard, ..Counting::default() };
    if args.prices.is_some() {
        // The file goes before the project's own table, which has priced them already.
        for (change, stated) in base.building.changes.iter_mut().zip(&project.building.changes) {
            change.cost = stated.cost;
            change.cost_invented = stated.cost_invented;
            change.hours = stated.hours;
        }
        base.building = priced_own(base.building, &counting, &all_prices);
    }
    if args.suggest {
        return suggested(&base, &counting, &all_prices, common).map_err(failed)?;
    }
    if args.with_suggestions {
        base.building = with_suggestions(&base.building, &counting, &all_prices);
    }
    let building = &base.building;
    let wish =
        Wish { budget, margin: args.margin, probability: args.probability.map(|p| p / 100.0) };
    let asked = Asked { wish, counting, prices };
    let mut found = remedies_for(building, &asked).map_err(failed)?;
    if base.by_recordings && !args.with_suggestions {
        count_as_described(&mut found, &project.building, &asked);
    }
    found.remarks.extend(base.said.iter().cloned());
    let mut cache = Cache::default();
    let edge = match args.frontier {
        true => Some(frontier(building, &mut cache, budget).map_err(failed)?),
        false => None,
    };
    let compared = match &args.compare {
        Some(words) => {
            let set = |i: usize| changes_named(building, words.get(i).map_or("", |w| w));
            let (a, b) = (set(0)?, set(1)?);
            let rows = compare(building, &mut cache, &a, &b).map_err(failed)?;
            Some(([a, b], rows))
        }
        None => None,
    };
    let other = match &args.substitute {
        Some(word) => {
            let (board, mass) = board_and_mass(word)?;
            let swapped = substitute(building, &found.plan.changes, &board, mass)
                .map_err(|e| Failure::new(e.to_string(), "see the buying list of the plan"))?;
            let with = wythe_remedy::apply(&swapped, &found.plan.changes);
            let then = outcome(&with, &mut cache, true).map_err(failed)?;
            let limits = wythe_remedy::limit_checks(&swapped, &found.plan.changes, found.plan.cost);
            let again = wythe_remedy::cheapest_for(&swapped, &mut cache, &wish).map_err(failed)?;
            Some(Came { board, mass, then, limits, again })
        }
        None => None,
    };
    let warned = cautions_of(building, None);
    let drawn = pictures::write(
        &args.charts,
        || charts(building, &found, edge.as_ref()),
        "nothing is to be bought, so no money buys anything",
    )?;
    if common.json {
        let mut object = record(building, &found);
        object["judged"] = json!(base.word());
        object["found"] = json!(base.findings);
        object["cautions"] = cautions::records(&warned);
        if let Some(edge) = &edge {
            object["frontier"] = frontier_record(building, edge);
        }
        if let Some((sets, rows)) = &compared {
            object["compared"] = compared_record(building, sets, rows);
        }
        if let Some(Came { board, mass, then, limits, again }) = &other {
            object["substituted"] = json!({
                "board": board, "surface_mass_kg_m2": mass.0, "met": then.met(),
                "worst_margin_db": then.worst_margin().map_or(Value::Null, |m| rounded(m, 2)),
                "probability_met": then.probability_met().map_or(Value::Null, |p| rounded(p, 3)),
                "targets": judged(building, then),
                "limits": limits_record(limits),
                "cheapest_now": {
                    "choices": choices(building, &again.changes), "cost": again.cost,
                    "met": again.outcome.met(),
                },
            });
        }
        print_json(&object)?;
    } else {
        // What was asked for comes first and by itself; without such a question everything is told.
        let mut asked = String::new();
        if let Some((sets, rows)) = &compared {
            asked.push_str(&compared_text(building, sets, rows));
        }
        if let Some(came) = &other {
            asked.push_str(&substituted_text(building, &found, came));
        }
        if args.quote {
            asked.push_str(&quote_text(building, &found));
            asked.push_str(&buying_text(building, &found.buying));
        }
        if args.sequence {
            asked.push_str(&sequence_text(&found.sequence));
        }
        if let Some(edge) = &edge {
            asked.push_str(&frontier_text(building, edge));
        }
        let judged = wrap(&base.sentence(), 96).join("\n");
        let touched = |c: &Caution| {
            about_changes(c, building, &found.plan.changes)
                || (c.topic == Topic::Load && !c.code.ends_with("load"))
        };
        let mut out;
        if asked.is_empty() {
            out = format!("{judged}\n\n");
            out.push_str(&text(building, &found, &wish));
            out.push_str(&remarks_text(&found.remarks));
            out.push_str(&cautions::text(&warned, touched));
        } else {
            out = format!("{}\n", asked.trim_start_matches('\n'));
            out.push_str(&format!("{}\n\n", wrap(&headline(building, &found), 96).join("\n")));
            out.push_str(&format!("{judged}\n"));
            // A stop is never left out.
            let stop = |r: &wythe_bands::Remark| r.code == "remedy::ask-an-engineer";
            let stops: Vec<wythe_bands::Remark> =
                found.remarks.iter().filter(|r| stop(r)).cloned().collect();
            out.push_str(&remarks_text(&stops));
            let rest = format!(
                "Each change by itself, the order, the limits and {} are in `wythe remedy` without \
                 a question.",
                match found.remarks.len() - stops.len() {
                    1 => "one remark".to_owned(),
                    n => format!("{n} remarks"),
                }
            );
            out.push_str(&format!("\n{}\n", wrap(&rest, 96).join("\n")));
            out.push_str(&cautions::text(&warned, |c| c.stop && touched(c)));
        }
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    Ok(Done { attention: !wish.met_by(&found.plan.outcome) || !found.remarks.is_empty() })
}

/// What the money buys: the question's own chart first.
fn charts(building: &Building, found: &Remedies, edge: Option<&Frontier>) -> Vec<pictures::Named> {
    let about = About::default();
    let results = Results { remedies: Some(found), ..Results::of(building, &about) };
    let mut out = Vec::new();
    if let Some(edge) = edge {
        let chart = parts::frontier_chart(building, edge, None);
        out.push(("frontier".to_owned(), chart.draw(Format::Screen)));
    }
    if let Some(chart) = parts::cost_chart(&results) {
        out.push(("costs".to_owned(), chart.draw(Format::Screen)));
    }
    out
}

/// What becomes of the plan when other sheets came.
struct Came {
    board: String,
    mass: SurfaceMass,
    /// The same changes with these sheets.
    then: Outcome,
    limits: Vec<LimitCheck>,
    /// The cheapest set with them.
    again: Plan,
}

fn substituted_text(building: &Building, found: &Remedies, came: &Came) -> String {
    let Came { board, mass, then, limits, again } = came;
    let mut out = format!("\nWith {board} of {:.1} kg/m² a sheet\n\n", mass.0);
    out.push_str(&outcomes_text(building, &found.plan.outcome, then, "as planned"));
    let sentence = if then.met() {
        "The plan still meets every target by the mean.".to_owned()
    } else if again.outcome.met() {
        format!(
            "The plan no longer meets every target. With these sheets the cheapest set that does \
             costs {}: {}.",
            money(building, again.cost),
            titles(building, &again.changes)
        )
    } else {
        "With these sheets nothing on offer meets every target: send them back or offer more."
            .to_owned()
    };
    out.push_str(&format!("  {}\n", wrap(&sentence, 94).join("\n  ")));
    if let Some(l) = limits.iter().find(|l| l.stop) {
        out.push_str(&format!("  {}: {} at {}\n", l.kind, l.flag, l.place));
    }
    out
}

/// Limits of the command line in place of the project's.
fn limit(args: &args::Remedy, building: &mut Building) -> Result<(), Failure> {
    let read = |what: &str, quantity: Quantity, word: &Option<String>| {
        word.as_ref()
            .map(|w| {
                parse(quantity, w)
                    .map_err(|e| Failure::new(format!("{what}: {e}"), "for example \"60 mm\""))
                    .and_then(|v| match v >= 0.0 && v.is_finite() {
                        true => Ok(v),
                        false => Err(Failure::new(
                            format!("{what}: `{w}` is below zero"),
                            "give 0 or more",
                        )),
                    })
            })
            .transpose()
    };
    let limits = &mut building.limits;
    if let Some(v) = read("--thickness", Quantity::Length, &args.thickness)? {
        limits.thickness = Some(Metre(v));
    }
    if let Some(v) = read("--height", Quantity::Length, &args.height)? {
        limits.height = Some(Metre(v));
    }
    if let Some(v) = read("--added-mass", Quantity::SurfaceMass, &args.added_mass)? {
        limits.added_mass = Some(SurfaceMass(v));
    }
    limits.reversible_only |= args.reversible;
    Ok(())
}

/// What a change takes and asks for, beside its price.
fn properties(building: &Building, index: usize) -> Value {
    let change = &building.changes[index];
    let (thickness, mass) = cost_in_space(building, index);
    json!({
        "hours": change.hours, "reversible": change.reversible, "skill": change.skill.word(),
        "not_with": change.not_with,
        "thickness_lost_mm": thickness.map(|m| rounded(m.0 * 1000.0, 1)),
        "added_mass_kg_m2": mass.map(|m| rounded(m.0, 2)),
        "cost_invented": change.cost_invented,
    })
}

/// Changes by their ids, joined by + or commas; a set nobody could make is refused.
pub fn changes_named(building: &Building, words: &str) -> Result<Vec<usize>, Failure> {
    let mut set: Vec<usize> = Vec::new();
    for word in words.split(['+', ',']).map(str::trim).filter(|w| !w.is_empty()) {
        let change = building.changes.iter().position(|c| c.id == word).ok_or_else(|| {
            let known: Vec<&str> = building.changes.iter().map(|c| c.id.as_str()).collect();
            let known = match known.is_empty() {
                true => "no change is on offer; add [[change]] tables to the project".to_owned(),
                false => format!("changes: {}", known.join(", ")),
            };
            Failure::new(format!("there is no change `{word}`"), known)
        })?;
        if set.contains(&change) {
            continue;
        }
        let of = |c: usize| &building.changes[c];
        if let Some(&other) = set.iter().find(|&&o| of(o).element == of(change).element) {
            return Err(Failure::new(
                format!(
                    "`{}` and `{word}` are both ways to do `{}`",
                    of(other).id,
                    of(other).element
                ),
                "name one of them, or give them different `element`s if both can be made",
            ));
        }
        set.push(change);
        if let Some(why) = clash(building, &set) {
            return Err(Failure::new(why, "the project says so with `not_with`"));
        }
    }
    Ok(set)
}

/// `gypsum board=8.5 kg/m2` or `=1.74 lb/ft2`.
fn board_and_mass(word: &str) -> Result<(String, SurfaceMass), Failure> {
    let wrong = || {
        Failure::new(
            format!("`{word}` does not say which board and what one sheet of it weighs"),
            "write it like \"gypsum board=8.5 kg/m2\" or \"gypsum board=1.74 lb/ft2\"",
        )
    };
    let (board, mass) = word.split_once('=').ok_or_else(wrong)?;
    let (number, unit) = mass.trim().split_once(' ').ok_or_else(wrong)?;
    let number: f64 = number.parse().map_err(|_| wrong())?;
    let factor = match unit.trim() {
        "kg/m2" | "kg/m²" => 1.0,
        "lb/ft2" | "lb/ft²" | "psf" => 0.453_592_37 / (0.3048 * 0.3048),
        _ => return Err(wrong()),
    };
    Ok((board.trim().to_owned(), SurfaceMass(number * factor)))
}

fn titles(building: &Building, changes: &[usize]) -> String {
    let all: Vec<&str> = changes.iter().map(|&c| building.changes[c].title.as_str()).collect();
    all.join("; ")
}

fn choices(building: &Building, changes: &[usize]) -> Vec<Value> {
    changes
        .iter()
        .map(|&c| {
            let change = &building.changes[c];
            json!({
                "element": change.element, "option": change.title, "id": change.id,
                "cost": change.cost,
            })
        })
        .collect()
}

fn judged(building: &Building, o: &Outcome) -> Value {
    o.judged
        .iter()
        .map(|j| {
            let mut object = target(&j.assessment);
            object["room"] = json!(building.rooms[building.targets[j.target].room.0].id);
            object["from"] = json!(building.rooms[building.sources[j.source].room.0].id);
            object["level_dba"] = j.level_a.map_or(Value::Null, |l| rounded(l.0, 2));
            object
        })
        .collect()
}

fn limits_record(all: &[LimitCheck]) -> Value {
    all.iter()
        .map(|l| {
            json!({
                "kind": l.kind, "where": l.place, "value": l.value, "stated": l.stated,
                "flag": l.flag, "stop": l.stop,
            })
        })
        .collect()
}

fn buying_record(building: &Building, b: &Buying) -> Value {
    b.items
        .iter()
        .map(|i| {
            let ids: Vec<&str> =
                i.changes.iter().map(|&c| building.changes[c].id.as_str()).collect();
            json!({
                "item": i.item, "quantity": i.quantity, "unit": i.unit, "cost": i.cost,
                "cost_invented": i.cost_invented, "trade": i.trade.word(), "note": i.note,
                "changes": ids,
            })
        })
        .collect()
}

fn stages_record(all: &[Stage]) -> Value {
    all.iter()
        .map(|s| {
            json!({ "stage": s.title, "do": s.tasks, "hold": s.hold, "photograph": s.photograph })
        })
        .collect()
}

fn frontier_record(building: &Building, f: &Frontier) -> Value {
    let points: Vec<Value> = f
        .points
        .iter()
        .map(|p| {
            json!({
                "cost": p.plan.cost, "worst_margin_db": rounded(p.worst_margin, 2),
                "probability_met":
                    p.plan.outcome.probability_met().map_or(Value::Null, |p| rounded(p, 3)),
                "choices": choices(building, &p.plan.changes), "proven": p.proven,
            })
        })
        .collect();
    json!({ "points": points, "complete": f.complete })
}

fn compared_record(building: &Building, sets: &[Vec<usize>; 2], rows: &[ComparedAt]) -> Value {
    let cost =
        |set: &[usize]| -> Option<f64> { set.iter().map(|&c| building.changes[c].cost).sum() };
    let rooms: Vec<Value> = rows
        .iter()
        .map(|r| {
            let optional = |v: Option<f64>| v.map_or(Value::Null, |v| rounded(v, 2));
            let state = |i: usize| {
                json!({
                    "level_db": levels(&r.levels[i]),
                    "level_dba": optional(r.level_a[i].map(|l| l.0)),
                    "margin_db": optional(r.margin_db[i]),
                    "probability_met": optional(r.probability[i]),
                })
            };
            json!({
                "room": building.rooms[building.targets[r.target].room.0].id,
                "from": building.rooms[building.sources[r.source].room.0].id,
                "now": state(0), "a": state(1), "b": state(2),
                "a_quieter_by_db": differences(&r.first_better_by),
            })
        })
        .collect();
    json!({
        "a": { "choices": choices(building, &sets[0]), "cost": cost(&sets[0]) },
        "b": { "choices": choices(building, &sets[1]), "cost": cost(&sets[1]) },
        "rooms": rooms,
    })
}

/// Most suggestions printed; the record holds all.
const MOST_SUGGESTED: usize = 40;

/// Changes the program thinks of, the most helpful first.
fn suggested(
    base: &Found,
    counting: &Counting,
    prices: &PriceList,
    common: &Common,
) -> Result<Result<Done, Failure>, wythe_remedy::RemedyError> {
    let building = &base.building;
    let offered = priced(suggest(building), counting, prices);
    let mut cache = Cache::default();
    let baseline = outcome(building, &mut cache, false)?;
    let mut gains = single_changes(&offered, &mut cache)?;
    let best = |o: &Outcome| -> Option<(usize, f64)> {
        o.judged
            .iter()
            .zip(&baseline.judged)
            .filter_map(|(then, now)| {
                Some((now.target, then.assessment.margin_db? - now.assessment.margin_db?))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
    };
    gains.sort_by(|a, b| {
        b.shortfall_gain_db.total_cmp(&a.shortfall_gain_db).then_with(|| {
            let gain = |o| best(o).map_or(0.0, |(_, g)| g);
            gain(&b.outcome).total_cmp(&gain(&a.outcome))
        })
    });
    let said = |change: usize| {
        let c = &offered.changes[change];
        let mut all: Vec<wythe_bands::Remark> = c
            .actions
            .iter()
            .filter_map(|a| match a {
                wythe_building::Action::Rebuild { boundary, build_up } => {
                    let b = &offered.boundaries[boundary.0];
                    let (old, new) =
                        (&offered.build_ups[b.build_up.0], &offered.build_ups[build_up.0]);
                    third_leaf(old, new, b.net_area(), &c.title).map(|(_, _, r)| r)
                }
                _ => None,
            })
            .collect();
        all.extend(breaks_limit(&offered, change));
        all
    };
    if common.json {
        let all: Vec<Value> = gains
            .iter()
            .map(|g| {
                let c = &offered.changes[g.change];
                let at = best(&g.outcome);
                json!({
                    "element": c.element, "option": c.title, "cost": c.cost,
                    "price": if c.cost.is_some() { "from your table" } else { "no price on file" },
                    "reversible": c.reversible,
                    "shortfall_gain_db": rounded(g.shortfall_gain_db, 2),
                    "worst_margin_after_db": rounded(g.worst_margin_after, 2),
                    "best_gain_db": at.map_or(Value::Null, |(_, g)| rounded(g, 2)),
                    "best_gain_room":
                        at.map(|(t, _)| building.rooms[building.targets[t].room.0].id.clone()),
                    "remarks": remarks(&said(g.change)),
                })
            })
            .collect();
        return Ok(print_json(&json!({ "suggested": all, "remarks": [] }))
            .map(|()| Done { attention: false }));
    }
    let mut out = String::from(
        "What could be done, by what it brings at the receivers. Nobody has looked whether it can be \
         done here.\n\n",
    );
    let mut table =
        Table::new(1, &["Change", "cost", "shortfall less by", "most at one receiver", "there"]);
    // Below a tenth of a decibel at every receiver nothing was gained.
    let helps = |g: &&wythe_remedy::Gain| {
        g.shortfall_gain_db >= 0.1 || best(&g.outcome).is_some_and(|(_, d)| d >= 0.1)
    };
    for g in gains.iter().filter(helps).take(MOST_SUGGESTED) {
        let c = &offered.changes[g.change];
        let at = best(&g.outcome);
        table.row(vec![
            format!("{}{}", c.title, if said(g.change).is_empty() { "" } else { " (!)" }),
            c.cost.map_or_else(|| "no price on file".into(), |s| money(building, s)),
            format!("{} dB", one(g.shortfall_gain_db)),
            at.map(|(_, g)| format!("{} dB", one(g))).unwrap_or_default(),
            at.map(|(t, _)| building.rooms[building.targets[t].room.0].name().to_owned())
                .unwrap_or_default(),
        ]);
    }
    out.push_str(&table.text());
    let shown = gains.iter().filter(helps).take(MOST_SUGGESTED).count();
    let helping = gains.iter().filter(helps).count();
    if helping > shown {
        out.push_str(&format!("  and {} more that help\n", helping - shown));
    }
    out.push_str(&format!(
        "  and {} that gain nothing at any receiver while other ways decide\n",
        gains.len() - helping
    ));
    let all: Vec<wythe_bands::Remark> =
        gains.iter().filter(helps).take(MOST_SUGGESTED).flat_map(|g| said(g.change)).collect();
    out.push_str(&remarks_text(&all));
    Ok(print(&out).map(|()| Done { attention: false }))
}

fn record(building: &Building, r: &Remedies) -> Value {
    let singles: Vec<Value> = r
        .gains
        .iter()
        .map(|g| {
            let change = &building.changes[g.change];
            json!({
                "id": change.id, "element": change.element, "option": change.title,
                "takes": properties(building, g.change),
                "cost": g.cost,
                "worst_margin_before_db": rounded(g.worst_margin_before, 2),
                "worst_margin_after_db": rounded(g.worst_margin_after, 2),
                "shortfall_gain_db": rounded(g.shortfall_gain_db, 2),
                "targets": judged(building, &g.outcome),
            })
        })
        .collect();
    let mut choices_so_far = Vec::new();
    let steps: Vec<Value> = r
        .order
        .iter()
        .map(|s| {
            choices_so_far.push(building.changes[s.change].id.clone());
            json!({
                "cost": s.cost, "choices": choices_so_far.clone(),
                "worst_margin_db": rounded(s.worst_margin, 2),
                "shortfall_db": rounded(s.shortfall, 2),
            })
        })
        .collect();
    json!({
        "currency": building.limits.currency,
        "baseline": {
            "met": r.baseline.met(),
            "worst_margin_db": r.baseline.worst_margin().map_or(Value::Null, |m| rounded(m, 2)),
            "targets": judged(building, &r.baseline),
        },
        "cheapest": {
            "choices": choices(building, &r.plan.changes),
            "cost": r.plan.cost,
            "cost_incomplete": r.plan.cost_incomplete,
            "met": r.plan.outcome.met(),
            "worst_margin_db": r.plan.outcome.worst_margin().map_or(Value::Null, |m| rounded(m, 2)),
            "probability_met": r.plan.outcome.probability_met().map_or(Value::Null, |p| rounded(p, 3)),
            "proven_optimal": r.plan.proven_optimal,
            "at_least": r.plan.at_least,
            "targets": judged(building, &r.plan.outcome),
            "not_at_these_hours": no_longer_asked(&r.baseline, &r.plan.outcome)
                .map(|j| {
                    let t = &building.targets[j.target];
                    json!({ "room": building.rooms[t.room.0].id, "criterion": t.text })
                })
                .collect::<Vec<Value>>(),
            "asked_of_players": asked_of_players(building, &r.plan.changes),
        },
        "single_changes": singles,
        "steps": steps,
        "stop": r.stop,
        "buying": buying_record(building, &r.buying),
        "hours": r.buying.hours,
        "limits": limits_record(&r.limits),
        "sequence": stages_record(&r.sequence),
        "remarks": remarks(&r.remarks),
    })
}

fn text(building: &Building, r: &Remedies, wish: &Wish) -> String {
    let mut out = String::new();
    out.push_str(&format!("{}\n\n", wrap(&headline(building, r), 96).join("\n")));
    if let Some(b) = wish.budget {
        out.push_str(&format!("  budget {}\n\n", money(building, b)));
    }
    if !r.gains.is_empty() {
        out.push_str("Each change by itself, best first\n\n");
        let mut table =
            Table::new(1, &["Change", "cost", "shortfall less by", "worst margin", "dB per 1000"]);
        for g in &r.gains {
            let change = &building.changes[g.change];
            table.row(vec![
                change.title.clone(),
                g.cost.map(|c| money(building, c)).unwrap_or_else(|| "no price".into()),
                if g.shortfall_gain_db.abs() < 0.05 {
                    "nothing".into()
                } else {
                    format!("{} dB", one(g.shortfall_gain_db))
                },
                margin_words(g.worst_margin_after),
                g.gain_per_thousand
                    .filter(|v| v.is_finite() && v.abs() >= 0.05)
                    .map(one)
                    .unwrap_or_default(),
            ]);
        }
        out.push_str(&table.text());
        out.push_str("  the shortfall is what all missed targets lack together\n");
    }
    if !r.order.is_empty() {
        out.push_str("\nIn which order to buy\n\n");
        let mut table = Table::new(2, &["", "Step", "spent", "worst margin", "lacking"]);
        for (i, s) in r.order.iter().enumerate() {
            table.row(vec![
                format!("{}", i + 1),
                building.changes[s.change].title.clone(),
                money(building, s.cost),
                margin_words(s.worst_margin),
                format!("{} dB", one(s.shortfall)),
            ]);
        }
        out.push_str(&table.text());
    }
    if let Some(stop) = &r.stop {
        out.push_str(&format!("\n{}\n", wrap(&format!("{stop}."), 96).join("\n")));
    }
    out.push_str(if wish.met_by(&r.plan.outcome) {
        "\nWhat the cheapest set reaches\n\n"
    } else {
        "\nWhat the nearest set reaches\n\n"
    });
    out.push_str(&outcomes_text(building, &r.baseline, &r.plan.outcome, "margin now"));
    out.push_str(&takes_text(building, &r.plan.changes));
    out.push_str(&buying_text(building, &r.buying));
    out.push_str(&limits_text(&r.limits));
    out
}

/// What each change of a set takes beside money: hours, hands, space, weight, and whether it can be
/// undone.
fn takes_text(building: &Building, changes: &[usize]) -> String {
    if changes.is_empty() {
        return String::new();
    }
    let mut out = String::from("\nWhat it takes\n\n");
    let headings = &["Change", "hours", "who", "taken back", "thicker by", "on a floor"];
    let mut table = Table::new(1, headings);
    for &c in changes {
        let change = &building.changes[c];
        let (thickness, mass) = cost_in_space(building, c);
        table.row(vec![
            change.title.clone(),
            change.hours.map_or_else(|| "not stated".into(), one),
            change.skill.word().to_owned(),
            if change.reversible { "yes".into() } else { "no".into() },
            thickness.map(|t| format!("{} mm", decimals(t.0 * 1000.0, 0))).unwrap_or_default(),
            mass.map(|m| format!("{} kg/m²", one(m.0))).unwrap_or_default(),
        ]);
    }
    out.push_str(&table.text());
    out
}

fn outcomes_text(building: &Building, before: &Outcome, then: &Outcome, heading: &str) -> String {
    let mut table = Table::new(2, &["Room", "required", heading, "then", "probability"]);
    let named = |j: &Judged| {
        let t = &building.targets[j.target];
        [building.rooms[t.room.0].name().to_owned(), t.text.clone()]
    };
    let margin =
        |j: &Judged| j.assessment.margin_db.map(|m| format!("{} dB", one(m))).unwrap_or_default();
    let place = |j: &Judged| (j.source, j.target);
    let mut rows: Vec<((usize, usize), Vec<String>)> = Vec::new();
    for j in &then.judged {
        let earlier = before.judged.iter().find(|b| place(b) == place(j));
        let [room, asked] = named(j);
        let chance = j.assessment.probability_met.map(percent).unwrap_or_default();
        rows.push((
            place(j),
            vec![room, asked, earlier.map(margin).unwrap_or_default(), margin(j), chance],
        ));
    }
    for j in no_longer_asked(before, then) {
        let [room, asked] = named(j);
        rows.push((
            place(j),
            vec![room, asked, margin(j), "not at these hours".into(), String::new()],
        ));
    }
    rows.sort_by_key(|(place, _)| *place);
    rows.into_iter().for_each(|(_, row)| table.row(row));
    table.text()
}

/// Targets that were judged before and are not then, because the playing moved out of their hours.
fn no_longer_asked<'a>(before: &'a Outcome, then: &'a Outcome) -> impl Iterator<Item = &'a Judged> {
    let stays =
        |b: &Judged| then.judged.iter().any(|j| (j.source, j.target) == (b.source, b.target));
    before.judged.iter().filter(move |b| !stays(b))
}

fn quantity(value: f64, unit: &str) -> String {
    let places = if matches!(unit, "m" | "m²") { 1 } else { 0 };
    // The units that are counted are plurals in s.
    let unit = if value == 1.0 { unit.trim_end_matches('s') } else { unit };
    format!("{} {unit}", decimals(value, places))
}

fn buying_text(building: &Building, b: &Buying) -> String {
    if b.items.is_empty() {
        return String::new();
    }
    let mut out = String::from("\nBuying list, counted with waste\n\n");
    let mut table = Table::new(2, &["Trade", "Item", "quantity", "price"]);
    for i in &b.items {
        table.row(vec![
            i.trade.word().to_owned(),
            i.item.clone(),
            quantity(i.quantity, i.unit),
            i.cost.map_or_else(
                || "not on file".into(),
                |c| {
                    let mark = if i.cost_invented { " (invented)" } else { "" };
                    format!("{}{mark}", money(building, c))
                },
            ),
        ]);
    }
    out.push_str(&table.text());
    for i in b.items.iter().filter(|i| i.note.is_some()) {
        let note = format!("{}: {}", i.item, i.note.as_deref().unwrap_or(""));
        for (k, line) in wrap(&note, 92).iter().enumerate() {
            out.push_str(if k == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    let hours = match (b.hours > 0.0, b.without_hours.is_empty()) {
        (_, true) => format!("hours of work: {}", one(b.hours)),
        (true, false) => format!(
            "hours of work: {} and those of what states none: {}",
            one(b.hours),
            titles(building, &b.without_hours)
        ),
        (false, false) => "hours of work: none are stated".to_owned(),
    };
    out.push_str(&format!("  {}\n", wrap(&hours, 92).join("\n    ")));
    out
}

fn limits_text(all: &[LimitCheck]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut out = String::from("\nLimits\n\n");
    let mut table = Table::new(2, &["Limit", "Where", "value", "stated"]);
    for l in all {
        table.row(vec![
            l.kind.to_owned(),
            l.place.clone(),
            l.value.clone(),
            l.stated.clone().unwrap_or_else(|| "nothing".into()),
        ]);
    }
    out.push_str(&table.text());
    let mut by_flag: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for l in all.iter().filter(|l| l.kind != "budget") {
        by_flag.entry(&l.flag).or_default().push(&l.place);
    }
    for (flag, places) in by_flag {
        let line = format!("{}: {flag}", places.join(", "));
        out.push_str(&format!("  · {}\n", wrap(&line, 92).join("\n    ")));
    }
    out
}

fn sequence_text(all: &[Stage]) -> String {
    let mut out = String::from("\nThe work, stage by stage\n");
    for (i, s) in all.iter().enumerate() {
        out.push_str(&format!("\n  {}. {}\n", i + 1, s.title));
        for task in &s.tasks {
            out.push_str(&format!("     [ ] {}\n", wrap(task, 86).join("\n         ")));
        }
        out.push_str(&format!("     hold until: {}\n", wrap(s.hold, 78).join("\n         ")));
        for photo in &s.photograph {
            out.push_str(&format!("     photo: {}\n", wrap(photo, 84).join("\n         ")));
        }
    }
    out
}

fn frontier_text(building: &Building, f: &Frontier) -> String {
    let mut out = String::from("\nWhat each further sum buys\n\n");
    let mut table = Table::new(0, &["from", "worst margin", "probability", "proven"]);
    for p in &f.points {
        table.row(vec![
            money(building, p.plan.cost),
            margin_words(p.worst_margin),
            p.plan.outcome.probability_met().map(percent).unwrap_or_default(),
            if p.proven { "yes".into() } else { "no".into() },
        ]);
    }
    out.push_str(&table.text());
    let mut before: &[usize] = &[];
    for p in &f.points {
        let new: Vec<usize> =
            p.plan.changes.iter().copied().filter(|c| !before.contains(c)).collect();
        let gone: Vec<usize> =
            before.iter().copied().filter(|c| !p.plan.changes.contains(c)).collect();
        if !new.is_empty() {
            let without = match gone.is_empty() {
                true => String::new(),
                false => format!("; without {}", titles(building, &gone)),
            };
            let line =
                format!("{}: {}{without}", money(building, p.plan.cost), titles(building, &new));
            out.push_str(&format!("  · {}\n", wrap(&line, 92).join("\n    ")));
        }
        before = &p.plan.changes;
    }
    out.push_str(if f.complete {
        "  nothing on offer within the budget and the limits reaches more\n"
    } else {
        "  the list stops here; more would be reached\n"
    });
    out
}

fn compared_text(building: &Building, sets: &[Vec<usize>; 2], rows: &[ComparedAt]) -> String {
    let cost =
        |set: &[usize]| -> Option<f64> { set.iter().map(|&c| building.changes[c].cost).sum() };
    let costs = [cost(&sets[0]), cost(&sets[1])];
    let mut out = String::from("\nOne against the other\n\n");
    for ((name, set), cost) in ["A", "B"].iter().zip(sets).zip(costs) {
        let price = cost.map_or_else(|| "no price on file".into(), |c| money(building, c));
        let what = if set.is_empty() { "as it is".into() } else { titles(building, set) };
        let line = format!("{name}: {what} ({price})");
        out.push_str(&format!("  {}\n", wrap(&line, 92).join("\n     ")));
        for said in set.iter().filter_map(|&c| breaks_limit(building, c)) {
            out.push_str(&format!("     {}\n", wrap(&said.text, 90).join("\n     ")));
        }
    }
    out.push('\n');
    let mut table = Table::new(
        1,
        &["Room", "now", "A", "B", "margin now", "A", "B", "A per 1000", "B per 1000"],
    );
    for r in rows {
        let level =
            |i: usize| r.level_a[i].map(|l| format!("{} dBA", one(l.0))).unwrap_or_default();
        let margin = |i: usize| r.margin_db[i].map(margin_words).unwrap_or_default();
        let per_cost = |i: usize| -> String {
            let cost = costs[i - 1].filter(|c| *c > 0.0);
            let gain = r.level_a[0].zip(r.level_a[i]).map(|(now, then)| now.0 - then.0);
            gain.zip(cost).map(|(g, c)| format!("{} dB", one(g / c * 1000.0))).unwrap_or_default()
        };
        table.row(vec![
            place(building, r.target, r.source),
            level(0),
            level(1),
            level(2),
            margin(0),
            margin(1),
            margin(2),
            per_cost(1),
            per_cost(2),
        ]);
    }
    out.push_str(&table.text());
    out.push_str("  per 1000: what the A-weighted level falls by for each thousand spent\n");
    let octaves: Vec<Octave> = Octave::all()
        .filter(|o| rows.iter().any(|r| r.levels[0].to_octaves().get(*o).is_some()))
        .collect();
    if !octaves.is_empty() && !rows.is_empty() {
        out.push_str("\nHow much quieter than now, dB, by octaves\n\n");
        let mut headings = vec!["Room", ""];
        let names: Vec<String> = octaves.iter().map(|o| format!("{} Hz", o.nominal())).collect();
        headings.extend(names.iter().map(String::as_str));
        let mut table = Table::new(2, &headings);
        for r in rows {
            for (i, name) in [(1, "A"), (2, "B")] {
                let [now, then] = [0, i].map(|k: usize| r.levels[k].to_octaves());
                let room = if i == 1 { place(building, r.target, r.source) } else { String::new() };
                let mut row = vec![room, name.to_owned()];
                row.extend(octaves.iter().map(|o| {
                    let gain = now.get(*o).zip(then.get(*o)).map(|(a, b)| a.0 - b.0);
                    gain.map(one).unwrap_or_default()
                }));
                table.row(row);
            }
        }
        out.push_str(&table.text());
    }
    for r in rows {
        let by = r.parts_most.and_then(|b| Some((b, r.first_better_by.get(b)?)));
        let Some((band, d)) = by else { continue };
        let (quieter, other) = if d.0 > 0.0 { ("A", "B") } else { ("B", "A") };
        out.push_str(&format!(
            "  {}: most apart at {} Hz, where {quieter} is {} dB quieter than {other}\n",
            place(building, r.target, r.source),
            band.nominal(),
            one(d.0.abs())
        ));
    }
    if rows.iter().all(|r| r.parts_most.is_none()) {
        out.push_str("  nobody hears a difference between A and B in any of these rooms\n");
    }
    out
}

/// A room with a target, and the room of the source where there are several.
fn place(building: &Building, target: usize, source: usize) -> String {
    let room = building.rooms[building.targets[target].room.0].name();
    match building.sources.len() {
        0 | 1 => room.to_owned(),
        _ => format!("{room}, from {}", building.rooms[building.sources[source].room.0].name()),
    }
}

/// A margin in words: none where no target holds at the hours that are left.
fn margin_words(margin: f64) -> String {
    if margin.is_finite() { format!("{} dB", one(margin)) } else { "none applies".into() }
}

/// Quantities, hours, what is provisional, what is promised.
fn quote_text(building: &Building, r: &Remedies) -> String {
    let mut out = String::from("\nQuote sheet\n\n");
    let mut table = Table::new(1, &["Work", "hours", "price"]);
    for &c in &r.plan.changes {
        let change = &building.changes[c];
        let mark = if change.cost_invented { " (invented)" } else { "" };
        table.row(vec![
            change.title.clone(),
            change.hours.map_or_else(|| "to be given".into(), one),
            change
                .cost
                .map_or_else(|| "to be given".into(), |p| format!("{}{mark}", money(building, p))),
        ]);
    }
    let part = if r.plan.cost_incomplete { ", prices are missing" } else { "" };
    table.row(vec![
        format!("sum of what has a price{part}"),
        match (r.buying.hours > 0.0, r.buying.without_hours.is_empty()) {
            (_, true) => one(r.buying.hours),
            (true, false) => format!("{} and more", one(r.buying.hours)),
            (false, false) => "to be given".into(),
        },
        money(building, r.plan.cost),
    ]);
    for provisional in [
        "provisional: engineer's check of added weight",
        "provisional: licensed electrician",
        "provisional: air, fire blocking, permits",
        "provisional: skip, lift hire, making good",
        "provisional: measurement before and after",
    ] {
        table.row(vec![provisional.into(), "to be given".into(), "to be given".into()]);
    }
    out.push_str(&table.text());
    out.push_str(
        "  quantities: the buying list below. Date, validity and taxes: to be filled in.\n",
    );
    out.push_str("  what the calculation says, and how surely:\n");
    for j in &r.plan.outcome.judged {
        let t = &building.targets[j.target];
        let chance = j.assessment.probability_met.map_or_else(|| "unknown".into(), percent);
        let from = building.rooms[building.sources[j.source].room.0].name();
        let band =
            j.assessment.governing_band.map(|b| format!(", decided at {b} Hz")).unwrap_or_default();
        out.push_str(&format!(
            "  · {} in {}, from {from}: probability {chance}{band}\n",
            t.text,
            building.rooms[t.room.0].name()
        ));
    }
    out.push_str(
        "  Promise only what the probability allows, name positions, method and hour, and leave out \
         what\n  is tied to the structure. Prices are as good as their source; invented ones are \
         marked.\n",
    );
    out
}
