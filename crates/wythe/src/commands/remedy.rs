//! `wythe remedy`: what each change on offer buys, and the cheapest set that is enough.

use serde_json::{Value, json};
use wythe_building::Building;
use wythe_remedy::{Outcome, Remedies, headline, money, remedies};

use crate::args::{self, Common};
use crate::commands::predict::{percent, target};
use crate::failure::Failure;
use crate::load;
use crate::output::{Done, Table, one, print, print_json, remarks, remarks_text, rounded, wrap};

/// Runs the command.
pub fn run(args: &args::Remedy, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let building = &project.building;
    let budget = args.budget.or(building.limits.budget);
    if budget.is_some_and(|b| b.is_nan() || b < 0.0) {
        return Err(Failure::new("a budget cannot be negative", "give a sum of money, 0 or more"));
    }
    let found =
        remedies(building, budget).map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
    if common.json {
        print_json(&record(building, &found))?;
    } else {
        print(&text(building, &found, budget))?;
    }
    Ok(Done { attention: !found.plan.outcome.met() || !found.remarks.is_empty() })
}

fn record(building: &Building, r: &Remedies) -> Value {
    let choice = |&c: &usize| {
        let change = &building.changes[c];
        json!({ "element": change.element, "option": change.title, "id": change.id, "cost": change.cost })
    };
    let judged = |o: &Outcome| -> Value {
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
    };
    let singles: Vec<Value> = r
        .gains
        .iter()
        .map(|g| {
            let change = &building.changes[g.change];
            json!({
                "id": change.id, "element": change.element, "option": change.title,
                "cost": g.cost,
                "worst_margin_before_db": rounded(g.worst_margin_before, 2),
                "worst_margin_after_db": rounded(g.worst_margin_after, 2),
                "shortfall_gain_db": rounded(g.shortfall_gain_db, 2),
                "targets": judged(&g.outcome),
            })
        })
        .collect();
    let mut choices_so_far = Vec::new();
    let steps: Vec<Value> = r
        .steps
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
            "targets": judged(&r.baseline),
        },
        "cheapest": {
            "choices": r.plan.changes.iter().map(choice).collect::<Vec<_>>(),
            "cost": r.plan.cost,
            "cost_incomplete": r.plan.cost_incomplete,
            "met": r.plan.outcome.met(),
            "worst_margin_db": r.plan.outcome.worst_margin().map_or(Value::Null, |m| rounded(m, 2)),
            "probability_met": r.plan.outcome.probability_met().map_or(Value::Null, |p| rounded(p, 3)),
            "proven_optimal": r.plan.proven_optimal,
            "targets": judged(&r.plan.outcome),
        },
        "single_changes": singles,
        "steps": steps,
        "buying": [],
        "limits": [],
        "remarks": remarks(&r.remarks),
    })
}

fn text(building: &Building, r: &Remedies, budget: Option<f64>) -> String {
    let mut out = String::new();
    out.push_str(&format!("{}\n\n", wrap(&headline(building, r), 96).join("\n")));
    if let Some(b) = budget {
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
                format!("{} dB", one(g.worst_margin_after)),
                g.gain_per_thousand
                    .filter(|v| v.is_finite() && v.abs() >= 0.05)
                    .map(one)
                    .unwrap_or_default(),
            ]);
        }
        out.push_str(&table.text());
        out.push_str("  the shortfall is what all missed targets lack together\n");
    }
    if !r.steps.is_empty() {
        out.push_str("\nIn which order to buy\n\n");
        let mut table = Table::new(2, &["", "Step", "spent", "worst margin", "lacking"]);
        for (i, s) in r.steps.iter().enumerate() {
            table.row(vec![
                format!("{}", i + 1),
                building.changes[s.change].title.clone(),
                money(building, s.cost),
                format!("{} dB", one(s.worst_margin)),
                format!("{} dB", one(s.shortfall)),
            ]);
        }
        out.push_str(&table.text());
    }
    out.push_str("\nWhat the cheapest set reaches\n\n");
    let mut table = Table::new(2, &["Room", "required", "margin now", "then", "probability"]);
    for j in &r.plan.outcome.judged {
        let before = r
            .baseline
            .judged
            .iter()
            .find(|b| (b.target, b.source) == (j.target, j.source))
            .and_then(|b| b.assessment.margin_db);
        let t = &building.targets[j.target];
        table.row(vec![
            building.rooms[t.room.0].name().to_owned(),
            t.text.clone(),
            before.map(|m| format!("{} dB", one(m))).unwrap_or_default(),
            j.assessment.margin_db.map(|m| format!("{} dB", one(m))).unwrap_or_default(),
            j.assessment.probability_met.map(percent).unwrap_or_default(),
        ]);
    }
    out.push_str(&table.text());
    out.push_str(&remarks_text(&r.remarks));
    out
}
