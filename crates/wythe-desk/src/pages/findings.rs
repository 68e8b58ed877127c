//! Predicted beside measured: what is probably not as described, and the test that would settle it.

use maud::{Markup, html};
use wythe_report::report::parts;

use super::fields::Press;
use super::{Ctx, Sheet, show, staleness, verdicts};
use crate::trials;

/// Pairs with a chart; the rest stand in the document for the file.
const MOST_PAIRS: usize = 8;

/// The page.
pub fn sheet(ctx: &Ctx<'_>) -> Sheet {
    let Some(done) = &ctx.done else {
        return Sheet {
            title: "What the recordings say".into(),
            middle: staleness(ctx),
            answer: html! { (waiting_trials(ctx)) (verdicts(ctx)) },
        };
    };
    let r = done.gathered.results(&ctx.about);
    let title = match r.explained {
        None => "There is nothing to compare yet",
        Some(_) if r.found.is_some() => "The building is not quite as described",
        Some(_) => "What was recorded beside what was predicted",
    };
    let next = r.explained.and_then(|e| e.next.as_ref());
    let middle = html! {
        (staleness(ctx))
        div #found data-live {
            (show(&parts::gaps(&r)))
            (show(&parts::findings(&r)))
            (show(&parts::comparisons(&r, MOST_PAIRS, true)))
        }
    };
    let answer = html! {
        (waiting_trials(ctx))
        @if let Some(next) = next {
            h2 { "The test that tells most" }
            p { (parts::capital(&next.what)) "." }
            @if !next.separates.is_empty() { p { "It tells apart: " (next.separates.join("; ")) "." } }
            @if let Some((band, d)) = next.expected.iter().max_by(|a, b| a.1.0.abs().total_cmp(&b.1.0.abs())) {
                p { "If it is so, the difference between the rooms " @if d.0 < 0.0 { "falls" } @else { "rises" } " by up to " (parts::rough_db(d.0.abs())) " at " (band.nominal()) " Hz." }
            }
            @if ctx.fresh() && trials::prepared(ctx.scene, next).is_ok() {
                form.press method="post" action="/prepare" data-step="prepare" {
                    input type="hidden" name="back" value=(ctx.address);
                    button #prepare { "Prepare it" }
                    p.error role="alert" {}
                }
                p.notes { "Adds the state of the building and the recording to come to the files, and shows what to record; it can be undone." }
            }
        } @else { p { "No test on offer would tell more." } }
    };
    Sheet { title: title.into(), middle, answer }
}

/// Recordings that are prepared and not there yet, with what to do for each.
fn waiting_trials(ctx: &Ctx<'_>) -> Markup {
    let (Some(b), Some(survey)) =
        (ctx.building(), ctx.scene.project.as_ref().and_then(|p| p.survey.as_ref()))
    else {
        return html! {};
    };
    html! {
        @for (n, r) in trials::waiting(ctx.open.store.folder(), survey) {
            section.trial {
                h2 dir="auto" { "To be recorded: " (r.title.as_deref().unwrap_or(&r.file)) }
                ol { @for step in trials::what_to_record(b, r) { li dir="auto" { (step) } } }
                p { a href="/recordings" { "Bring the file" } }
                (Press { what: "remove-stretch", file: "survey", path: "recording".into(), value: String::new(), at: n, to: 0,
                    name: "Take it out again", called: format!("take out the planned recording {}", r.file) }.form(ctx, &format!("trial-out-{n}")))
            }
        }
    }
}
