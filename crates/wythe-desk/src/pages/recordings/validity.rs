//! What was measured between two rooms, band by band, with how each band stands; and the states
//! of the building with their recordings.

use maud::{Markup, html};
use wythe_bands::Band;
use wythe_building::Building;
use wythe_fieldtest::State;
use wythe_findings::{Measured, MeasuredPair};
use wythe_project::survey::Recording;
use wythe_report::chart::number;

use crate::pages::{Ctx, Page};
use crate::trials;

/// Sign beside a value.
fn sign(state: State) -> &'static str {
    match state {
        State::Valid => "",
        State::Corrected | State::Followed => "c",
        State::Bound | State::Missing => "≥",
        State::Coherent => "m",
    }
}

/// Every pair of rooms with its bands.
pub fn table(b: &Building, m: &Measured) -> Markup {
    if m.pairs.is_empty() {
        return html! {};
    }
    let bands: Vec<Band> = Band::range(Band::HZ_50, Band::HZ_5000).collect();
    let name = |p: &MeasuredPair| {
        let rooms = format!("{} to {}", b.rooms[p.source.0].name(), b.rooms[p.receiver.0].name());
        match &p.state {
            Some(state) => format!("{rooms}, {state}"),
            None => rooms,
        }
    };
    html! {
        h2 { "How each band stands" }
        div.scroll tabindex="0" role="region" aria-label="How each band stands" {
            table.bands {
                caption { "Level difference D in dB. c: background taken off; ≥: at least this, the background was too near or is not known; m: recovered from under the background by what moves with the source; –: no value" }
                thead { tr { th scope="col" { "Rooms" } @for band in &bands { th.n scope="col" { (band.nominal()) } } } }
                tbody { @for p in &m.pairs { tr {
                    th scope="row" dir="auto" { (name(p)) }
                    @for band in &bands {
                        td.n { @match (p.result.difference.get(*band), p.result.state.get(*band)) {
                            (Some(d), Some(s)) => { @let mark = sign(s);
                                @if mark == "≥" { "≥\u{2009}" } (number(d.0, 1)) @if mark == "c" || mark == "m" { sup title=(s.word()) { (mark) } } }
                            (Some(d), None) => (number(d.0, 1)),
                            (None, _) => "–",
                        } }
                    }
                } } }
            }
        }
    }
}

/// Every state of the building with its recordings.
pub fn trials(ctx: &Ctx<'_>, b: &Building, all: &[Recording], m: Option<&Measured>) -> Markup {
    if all.is_empty() {
        return html! {};
    }
    let folder = ctx.open.store.folder();
    let states = std::iter::once(None).chain(b.states.iter().map(|s| Some(s.name.as_str())));
    html! {
        div #trials data-live {
            h2 { "Trials" }
            table {
                caption { "States of the building and what was recorded in them" }
                thead { tr { th scope="col" { "State" } th scope="col" { "Recordings" } th.n scope="col" { "Pairs of rooms" } } }
                tbody { @for state in states {
                    @let own: Vec<(usize, &Recording)> = all.iter().enumerate().filter(|(_, r)| r.state.as_deref() == state).collect();
                    tr {
                        th scope="row" dir="auto" { (state.unwrap_or("as described")) }
                        td { @if own.is_empty() { "none" } @else { ul.plain { @for (i, r) in own {
                            li { a href=(ctx.here_with(Page::Recordings, &[("n", &i.to_string()), ("channel", ""), ("place", "")])) dir="auto" { (r.title.as_deref().unwrap_or(&r.file)) }
                                @if r.planned && !folder.join(&r.file).exists() { ", to be recorded" } } } } } }
                        td.n { @if let Some(m) = m { (m.pairs.iter().filter(|p| p.state.as_deref() == state).count()) } @else { "–" } }
                    }
                } }
            }
            @if let Some((_, r)) = all.iter().enumerate().find(|(_, r)| r.planned && !folder.join(&r.file).exists()) {
                details open { summary { "What to record next: " span dir="auto" { (r.title.as_deref().unwrap_or(&r.file)) } }
                    ol { @for step in trials::what_to_record(b, r) { li dir="auto" { (step) } } } }
            }
        }
    }
}
