//! Predicted beside measured: what is probably not as described, and the test that would settle it.

use maud::html;
use wythe_report::report::parts;

use super::{Ctx, Sheet, show, staleness, verdicts};

/// Pairs with a chart; the rest stand in the document for the file.
const MOST_PAIRS: usize = 8;

/// The page.
pub fn sheet(ctx: &Ctx<'_>) -> Sheet {
    let Some(done) = &ctx.done else {
        return Sheet {
            title: "What the recordings say".into(),
            middle: staleness(ctx),
            answer: verdicts(ctx),
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
        @if let Some(next) = next {
            h2 { "The test that tells most" }
            p { (parts::capital(&next.what)) "." }
            @if !next.separates.is_empty() { p { "It tells apart: " (next.separates.join("; ")) "." } }
            @if let Some((band, d)) = next.expected.iter().max_by(|a, b| a.1.0.total_cmp(&b.1.0)) {
                p { "If it is so, the difference between the rooms rises by up to " (parts::rough_db(d.0)) " at " (band.nominal()) " Hz." }
            }
        } @else { p { "No test on offer would tell more." } }
    };
    Sheet { title: title.into(), middle, answer }
}
