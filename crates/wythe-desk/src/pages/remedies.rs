//! What each further sum of money buys, the plan in steps, the buying list.

mod hearing;

use std::sync::PoisonError;

use maud::{Markup, html};
use wythe_building::Building;
use wythe_remedy::{Frontier, frontier, money};
use wythe_report::chart::{Format, number, signed};
use wythe_report::page::Figure;
use wythe_report::report::parts;

use super::fields::Field;
use super::{Ctx, Page, Sheet, show, staleness, verdicts};

pub use hearing::heard;

/// The page.
pub fn sheet(ctx: &Ctx<'_>, b: &Building) -> Sheet {
    let limits = limits(ctx, b);
    let Some(done) = &ctx.done else {
        return Sheet {
            title: "What to change".into(),
            middle: html! { (limits) (staleness(ctx)) },
            answer: verdicts(ctx),
        };
    };
    let r = done.gathered.results(&ctx.about);
    let judged_on = &within_limits(r.best_building(), b);
    let edge = edge(ctx, judged_on);
    let chosen = edge.as_ref().and_then(|e| Some(&e.points.get(chosen(ctx, e)?)?.plan.changes));
    let title = match r.remedies {
        Some(m) if m.plan.outcome.met() => {
            format!("{} is enough, by the most probable figures", money(b, m.plan.cost))
        }
        Some(m) if m.plan.changes.is_empty() => "Nothing on offer helps".to_owned(),
        Some(_) => "What is on offer is not enough".to_owned(),
        None => "No change is on offer yet".to_owned(),
    };
    let middle = html! {
        (limits)
        (staleness(ctx))
        div #plan data-live {
            @if b.changes.is_empty() { p { "Say in " a href="/file" { "the file" } " what could be changed, with your prices: one [[change]] each." } }
            div #frontier data-try { @if let Some(edge) = &edge { (on_the_edge(ctx, judged_on, edge)) } }
            (show(&parts::changes(&r)))
        }
        (hearing::part(ctx, judged_on, chosen.map_or(&[], |c| c.as_slice())))
        div #buying-part data-live { h2 { "Buying list" } (show(&parts::buying(&r)))
            @if r.remedies.is_none_or(|m| m.plan.changes.is_empty()) { p { "Nothing to buy." } } }
        div #care data-live { h2 { "Where somebody could be hurt" } (show(&parts::care(&r, false))) }
    };
    let answer = html! {
        @if let Some(m) = r.remedies {
            p { (wythe_remedy::headline(judged_on, m)) }
            @if let Some(stop) = &m.stop { p { (parts::sentence_case(stop)) } }
            @if r.prices_invented() { p { span.badge { "invented" } " The prices are invented." } }
        }
        (verdicts(ctx))
    };
    Sheet { title, middle, answer }
}

/// The building the results are about, within the limits as they are set now.
fn within_limits(judged_on: &Building, b: &Building) -> Building {
    Building { limits: b.limits.clone(), ..judged_on.clone() }
}

/// What each further sum buys, where changes are on offer and something is required.
fn edge(ctx: &Ctx<'_>, judged_on: &Building) -> Option<Frontier> {
    if judged_on.changes.is_empty() || judged_on.targets.is_empty() {
        return None;
    }
    let mut cache = ctx.open.cache.lock().unwrap_or_else(PoisonError::into_inner);
    frontier(judged_on, &mut cache, judged_on.limits.budget).ok()
}

/// The point that is asked for, else the first that is enough, else the last.
fn chosen(ctx: &Ctx<'_>, edge: &Frontier) -> Option<usize> {
    let enough = || edge.points.iter().position(|p| p.worst_margin >= 0.0);
    ctx.asked("point")
        .and_then(|p| p.parse::<usize>().ok())
        .filter(|p| *p < edge.points.len())
        .or_else(enough)
        .or_else(|| edge.points.len().checked_sub(1))
}

fn limits(ctx: &Ctx<'_>, b: &Building) -> Markup {
    let dear: f64 = b.changes.iter().filter_map(|c| c.cost).sum();
    let top = dear.max(b.limits.budget.unwrap_or(0.0)).max(100.0);
    let there = |key: &str| {
        let value = ctx
            .scene
            .document
            .as_ref()
            .and_then(|d| d.get(&format!("limits.{key}")))
            .unwrap_or_default();
        value
            .parse::<toml_edit::Value>()
            .ok()
            .and_then(|v| v.as_str().map(str::to_owned))
            .unwrap_or(value)
    };
    let field = |id: &'static str, label: &'static str, key: &str, kind: &'static str| {
        Field::new(id, label, format!("limits.{key}"), there(key)).kind(kind)
    };
    html! {
        section #limits data-live {
            h2 { "Within which limits" }
            div.fields {
                (field("budget", "Budget", "budget", "number").slide_open(0.0, top, (top / 100.0).max(1.0).round()).form(ctx))
                (field("added-mass", "Weight a floor may take on", "added_mass", "kg/m2").slide_open(0.0, 150.0, 1.0).form(ctx))
                (field("thickness", "Thickness a wall may grow by", "thickness", "mm").slide_open(0.0, 300.0, 5.0).form(ctx))
            }
        }
    }
}

/// The frontier as a picture and as a list of points to choose.
fn on_the_edge(ctx: &Ctx<'_>, b: &Building, edge: &Frontier) -> Markup {
    let chosen = chosen(ctx, edge);
    let chart = parts::frontier_chart(b, edge, chosen);
    let figure = Figure {
        wide: chart.draw(Format::Screen),
        narrow: Some(chart.draw(Format::Phone)),
        table: None,
        invented: b.changes.iter().any(|c| c.cost_invented),
    };
    html! {
        div.frontier data-points { (show(&[figure.into()])) }
        div.scroll tabindex="0" role="region" aria-label="Sums of money and what they buy" {
            table {
                caption { "Choose a sum to see what it is spent on" }
                thead { tr { th.n scope="col" { "Cost" } th.n scope="col" { "Worst margin, dB" } th scope="col" { "Changes" } } }
                tbody {
                    @for (i, p) in edge.points.iter().enumerate() {
                        tr aria-current=[(chosen == Some(i)).then_some("true")] {
                            th.n scope="row" { a data-point href=(ctx.here_with(Page::Remedies, &[("point", &i.to_string())])) { (money(b, p.plan.cost)) } }
                            td.n { @if p.worst_margin.is_finite() { (signed(p.worst_margin, 1)) } @else { "none applies" } }
                            td { @if chosen == Some(i) {
                                    @if p.plan.changes.is_empty() { "nothing" } @else {
                                        ul { @for c in &p.plan.changes { li dir="auto" { (parts::capital(&b.changes[*c].title))
                                            @if let Some(cost) = b.changes[*c].cost { ", " (money(b, cost)) } } } }
                                    }
                                    @if let Some(c) = p.plan.outcome.probability_met() { p { "Chance that the worst room meets it: " (parts::chance(c)) "." } }
                                } @else { (number(p.plan.changes.len() as f64, 0)) @if p.plan.changes.len() == 1 { " change" } @else { " changes" } } }
                        }
                    }
                }
            }
        }
        @if !edge.complete { p.notes { "The list ends here; more sums would not be read." } }
    }
}
