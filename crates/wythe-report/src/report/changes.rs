//! What the changes on offer buy.

use wythe_building::Building;
use wythe_remedy::{Frontier, headline, money};

use super::results::Results;
use super::words::{capital, chance, rough_db, sentence_case};
use crate::chart::{CostStep, CostSteps, Words};
use crate::page::{Block, Column, Figure, Table, Text};

/// Changes listed; a longer list is in the program's own output.
const MOST_CHANGES: usize = 40;

/// Purchases in order, each change by itself, and what the whole set reaches.
pub fn blocks(r: &Results<'_>) -> Vec<Block> {
    let Some(m) = r.remedies else { return Vec::new() };
    let b = r.building;
    let mut out = vec![Block::Paragraph(headline(b, m).into())];
    if r.found.is_some() {
        out.push(Block::Paragraph(
            "All gains are reckoned on the building with the faults the recordings point to. A \
             change is taken to be made as drawn, and where a wall or ceiling is rebuilt also the \
             layers that stay: a fault in those has to be found and put right too, or the gain is \
             smaller."
                .into(),
        ));
    }
    if let Some(chart) = cost_chart(r) {
        let table = chart.table();
        let mut figure = Figure::new(|f| chart.draw(f)).with_table(table);
        figure.invented = r.prices_invented();
        out.push(figure.into());
    }
    if let Some(table) = reached(r) {
        out.push(table);
    }
    if !m.gains.is_empty() {
        out.push(Block::Details("Each change by itself".into(), vec![singles(r)]));
    }
    for remark in &m.remarks {
        if remark.code != "remedy::not-reached" {
            out.push(Block::Notice(sentence_case(&remark.text).into()));
        }
    }
    out
}

/// How the worst room stands after each purchase of the plan; `None` where nothing is bought.
pub fn cost_chart(r: &Results<'_>) -> Option<CostSteps> {
    let m = r.remedies.filter(|m| !m.order.is_empty())?;
    let b = r.building;
    let start = m.baseline.worst_margin().unwrap_or(f64::NAN);
    let mut steps = vec![CostStep {
        label: "as it is".into(),
        cost: 0.0,
        margin_db: start,
        uncertainty_db: None,
    }];
    for (i, s) in m.order.iter().enumerate() {
        let title = &b.changes[s.change].title;
        let label = if i == 0 { title.clone() } else { format!("and {title}") };
        let margin_db = s.worst_margin;
        steps.push(CostStep { label, cost: s.cost, margin_db, uncertainty_db: None });
    }
    let stop_at = m.plan.outcome.met().then_some(steps.len() - 1);
    let end = m.plan.outcome.worst_margin().unwrap_or(f64::NAN);
    let title = if m.plan.outcome.met() {
        let p = m.plan.outcome.probability_met();
        let odds = p.map(|p| format!("; the chance that it is enough is {}", chance(p)));
        format!(
            "{} meets every requirement by the most probable figures{}",
            money(b, m.plan.cost),
            odds.unwrap_or_default()
        )
    } else {
        format!("{} leaves the worst room {} short", money(b, m.plan.cost), rough_db(-end))
    };
    Some(CostSteps {
        words: Words::new(
            "costs",
            title,
            "How the worst room stands after each purchase, against the money spent so far. \
             Above zero every requirement is met. The line moves only when the worst room \
             gains; a step that helps another room leaves it where it is.",
        ),
        currency: b.limits.currency.clone().unwrap_or_else(|| "money".into()),
        steps,
        stop_at,
    })
}

/// What each further sum of money buys, with the point somebody chose.
pub fn frontier_chart(b: &Building, edge: &Frontier, chosen: Option<usize>) -> CostSteps {
    let titles = |changes: &[usize]| {
        changes.iter().map(|c| b.changes[*c].title.as_str()).collect::<Vec<_>>().join(", ")
    };
    let step = |p: &wythe_remedy::Point| CostStep {
        label: match p.plan.changes.is_empty() {
            true => "as it is".into(),
            false => titles(&p.plan.changes),
        },
        cost: p.plan.cost,
        margin_db: p.worst_margin,
        uncertainty_db: None,
    };
    CostSteps {
        words: Words::new(
            "frontier",
            "What each further sum of money buys",
            "Worst margin over all requirements against the cost of the cheapest set that reaches \
             it, by exact search over the changes on offer. Above the line every requirement is met \
             by the most probable figures.",
        ),
        currency: b.limits.currency.clone().unwrap_or_default(),
        steps: edge.points.iter().map(step).collect(),
        stop_at: chosen.filter(|c| *c < edge.points.len()),
    }
}

fn reached(r: &Results<'_>) -> Option<Block> {
    let m = r.remedies?;
    let b = r.building;
    if m.order.is_empty() {
        return None;
    }
    let rows = m
        .plan
        .outcome
        .judged
        .iter()
        .map(|j| {
            let before = m
                .baseline
                .judged
                .iter()
                .find(|x| (x.target, x.source) == (j.target, j.source))
                .and_then(|x| x.assessment.margin_db);
            let t = &b.targets[j.target];
            let stands = |margin: Option<f64>| match margin {
                None => "cannot be judged".to_owned(),
                Some(m) if m < 0.0 => format!("▮ {} short", rough_db(-m)),
                Some(m) => format!("✓ {} to spare", rough_db(m)),
            };
            vec![
                Text::from(capital(b.rooms[t.room.0].name())),
                t.text.clone().into(),
                stands(before).into(),
                stands(j.assessment.margin_db).into(),
                j.assessment.probability_met.map(chance).unwrap_or_default().into(),
            ]
        })
        .collect();
    Some(Block::Table(Table {
        id: "reached".into(),
        caption: "What all these purchases together reach, calculated.".into(),
        columns: vec![
            Column::words("Room"),
            Column::words("Required"),
            Column::words("Now"),
            Column::words("Then"),
            Column::figures("Chance"),
        ],
        rows,
        invented: r.invented(),
        ..Table::default()
    }))
}

fn singles(r: &Results<'_>) -> Block {
    let b = r.building;
    let gains = r.remedies.map(|m| m.gains.as_slice()).unwrap_or_default();
    let rows = gains
        .iter()
        .take(MOST_CHANGES)
        .map(|g| {
            let change = &b.changes[g.change];
            vec![
                Text::from(capital(&change.title)),
                g.cost.map_or_else(|| "no price".into(), |c| money(b, c)).into(),
                if g.shortfall_gain_db.abs() < 0.05 {
                    "nothing".into()
                } else {
                    rough_db(g.shortfall_gain_db).into()
                },
                if change.reversible { "yes".into() } else { "no".into() },
            ]
        })
        .collect();
    Block::Table(Table {
        id: "singles".into(),
        caption: "Each change alone, what pays most first. The gain is what all missed \
                  requirements together come nearer."
            .into(),
        columns: vec![
            Column::words("Change"),
            Column::figures("Cost"),
            Column::figures("Gain"),
            Column::words("Can be taken back"),
        ],
        rows,
        invented: r.prices_invented(),
        ..Table::default()
    })
}
