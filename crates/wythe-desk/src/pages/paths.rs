//! Which way the sound comes: room to room, then one pair with every way.

use maud::{Markup, PreEscaped, html};
use wythe_bands::weighting::Weighting;
use wythe_building::Building;
use wythe_findings::{Arrived, FromSource, shares_of_weighted};
use wythe_report::chart::{
    BandChart, Quantity, Role, RoomCell, RoomTable, Trace, Words, number, percent,
};
use wythe_report::page::{Block, Figure};
use wythe_report::report::{judged, parts};

use super::{Ctx, Page, Sheet, address, show, verdicts};
use crate::scene::Scene;

/// Levels of single ways below this would squeeze the rest of the chart and are heard by nobody, dB.
const LEAST_DRAWN_DB: f64 = -10.0;

/// The page.
pub fn sheet(ctx: &Ctx<'_>, b: &Building) -> Sheet {
    let predicted = match &ctx.scene.predicted {
        Ok(p) => p,
        Err(why) => {
            return Sheet {
                title: "No way of the sound is known yet".into(),
                middle: html! { p.notice { (parts::sentence_case(why)) "." } },
                answer: verdicts(ctx),
            };
        }
    };
    let from = ctx.scene.played_from(ctx.asked("from"));
    let pair = from.and_then(|f| {
        let room = ctx.asked("to").and_then(|id| b.room(id))?;
        Some((f, Scene::arrived(f, room)?))
    });
    let table = room_table(b, &predicted.sources);
    let title = match pair {
        Some((f, a)) => between(b, f, a),
        None => "How loud it gets, room by room".into(),
    };
    let middle = html! {
        div #rooms data-live { (show(&[Block::Rooms(table)])) }
        div #pair data-live {
            @match pair {
                Some((f, a)) => (one_pair(ctx, b, f, a)),
                None => @if let Some((f, a)) = furthest_off(ctx) {
                    h2 { "Furthest from its requirement: " (between(b, f, a)) }
                    (one_pair(ctx, b, f, a))
                } @else {
                    p { "Choose a figure in the table to see which way the sound comes." }
                }
            }
        }
    };
    let answer = html! {
        @if let Some((f, a)) = pair { (about_pair(ctx, b, f, a)) } @else { (verdicts(ctx)) }
    };
    Sheet { title, middle, answer }
}

/// Where it is played and where it is heard.
fn between(b: &Building, f: &FromSource, a: &Arrived) -> String {
    format!("{} to {}", b.rooms[b.sources[f.source].room.0].name(), b.rooms[a.room.0].name())
}

/// What is shown before a pair is chosen.
fn furthest_off<'a>(ctx: &Ctx<'a>) -> Option<(&'a FromSource, &'a Arrived)> {
    let r = ctx.quick()?;
    let all = judged(&r);
    let worst = all.first()?;
    let f = ctx.scene.played_from(Some(&worst.source.id))?;
    Some((f, Scene::arrived(f, worst.arrived.room)?))
}

fn room_table(b: &Building, sources: &[FromSource]) -> RoomTable {
    let receivers: Vec<usize> = (0..b.rooms.len())
        .filter(|r| sources.iter().any(|f| f.arrived.iter().any(|a| a.room.0 == *r)))
        .collect();
    let cells = sources
        .iter()
        .map(|f| {
            receivers
                .iter()
                .map(|r| {
                    let a = f.arrived.iter().find(|a| a.room.0 == *r)?;
                    let query = [
                        ("from".to_owned(), b.sources[f.source].id.clone()),
                        ("to".to_owned(), b.rooms[*r].id.clone()),
                    ];
                    Some(RoomCell {
                        text: a.level_a.map_or("–".into(), |l| number(l.0, 0)),
                        value: a.level_a.map(|l| l.0),
                        figure: None,
                        address: Some(address(Page::Paths, &query.into())),
                    })
                })
                .collect()
        })
        .collect();
    RoomTable {
        caption: "Levels in dBA, calculated from the description. The stronger the tint, the \
                  louder. Each figure leads to its ways."
            .into(),
        sources: sources.iter().map(|f| b.sources[f.source].name().to_owned()).collect(),
        receivers: receivers.iter().map(|r| b.rooms[*r].name().to_owned()).collect(),
        cells,
    }
}

fn one_pair(ctx: &Ctx<'_>, b: &Building, f: &FromSource, a: &Arrived) -> Markup {
    let Some(r) = ctx.quick() else { return html! {} };
    let source = &b.sources[f.source];
    let all = judged(&r);
    let here = all.iter().find(|j| j.arrived.room == a.room && j.source.id == source.id);
    let Ok(predicted) = &ctx.scene.predicted else { return html! {} };
    let model = &predicted.model;
    let mut chart = match here {
        Some(j) => parts::room_chart(&r, j, 0),
        None => {
            let words = Words::new(
                "pair",
                format!("What arrives in {}", b.rooms[a.room.0].name()),
                format!(
                    "Third-octave levels, playing: {}. {}",
                    source.name(),
                    parts::ways_in_words(model, &a.received)
                ),
            );
            let mut chart = BandChart::new(words, Quantity::new("Sound pressure level", "L", "p"));
            chart.rating_range = None;
            chart.traces.push(
                Trace::levels(Role::Predicted, "calculated", &a.levels)
                    .with_uncertainty(&a.received.deviation),
            );
            chart.strip = Some(parts::strip(model, a));
            chart
        }
    };
    // What the strongest ways deliver by themselves.
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let ranked = parts::ranked(a, &totals);
    for (place, (way, _)) in ranked.iter().take(3).enumerate() {
        let letter = char::from(b'A' + place as u8);
        let level = way.level(&a.levels).filter_map(|_, l| (l.0 >= LEAST_DRAWN_DB).then_some(l));
        chart.traces.push(Trace::levels(Role::Path, way.title(model), &level).lettered(letter));
    }
    let table = chart.table();
    let mut figure = Figure {
        wide: chart.draw(wythe_report::chart::Format::Screen),
        narrow: Some(chart.draw(wythe_report::chart::Format::Phone)),
        table: Some(table),
        invented: false,
    };
    figure.invented = source.invented;
    html! {
        (show(&[figure.into()]))
        h2 { "Every way" }
        div.scroll tabindex="0" role="region" aria-label="Every way" {
            table {
                caption { "Ways of the sound, what carries most of the A-weighted energy first" }
                thead { tr { th scope="col" { "Way" } th scope="col" { "Kind" } th.n scope="col" { "Share" } th scope="col" { "Build-up" } } }
                tbody {
                    @for (way, share) in &ranked {
                        @let link = way.links.first().and_then(|l| model.links.get(*l));
                        tr {
                            th scope="row" dir="auto" { (parts::capital(&way.title(model))) }
                            td { (way.kind(model).word()) }
                            td.n { (percent(*share)) }
                            td {
                                @if let Some(u) = link.and_then(|l| b.boundaries.get(l.boundary.0)).and_then(|e| b.build_ups.get(e.build_up.0)) {
                                    a href=(format!("/build-ups?id={}", super::in_address(&u.id))) { "Change it" }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn about_pair(ctx: &Ctx<'_>, b: &Building, f: &FromSource, a: &Arrived) -> Markup {
    let Some(r) = ctx.quick() else { return html! {} };
    let source = &b.sources[f.source];
    let all = judged(&r);
    let words = ctx.scene.predicted.as_ref().map(|p| parts::ways_in_words(&p.model, &a.received));
    html! {
        @for j in all.iter().filter(|j| j.arrived.room == a.room && j.source.id == source.id) {
            div class=(if j.margin() < 0.0 { "answer short" } else { "answer met" }) {
                p.sentence { (parts::room_heading(&r, j)) }
                p.more { "Required: " (parts::requirement(j)) ". "
                    @if let Some(p) = j.calculated.probability_met { "Chance that it is met: " (parts::chance(p)) "." } }
            }
        }
        p { (words.unwrap_or_default()) }
        dl.facts {
            div { dt { "Level" } dd { span.value { (PreEscaped(a.level_a.map_or("–".into(), |l| format!("{} dBA", number(l.0, 0))))) } } }
            div { dt { "Weighed for bass" } dd { span.value { (a.level_c.map_or("–".into(), |l| format!("{} dBC", number(l.0, 0)))) } } }
        }
        p { a href=(format!("/house?source={}&to={}", super::in_address(&source.id), super::in_address(&b.rooms[a.room.0].id))) { "See it on the plan" } }
    }
}
