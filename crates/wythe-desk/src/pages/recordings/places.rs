//! Where the microphones of a recording stood: dots on the plan, placed by a click.

use maud::{Markup, PreEscaped, html};
use wythe_building::Building;
use wythe_project::survey::Recording;
use wythe_report::chart::{Format, Plan, Words};
use wythe_report::report::parts;

use crate::pages::Ctx;
use crate::pages::fields::hidden;

/// Radius of a dot, px.
const DOT: f64 = 9.0;

/// The plans with the dots, and the form that a click fills in.
pub fn plans(ctx: &Ctx<'_>, b: &Building, r: &Recording, n: usize) -> Markup {
    if b.rooms.iter().all(|x| x.outline.is_none()) || r.channels.is_empty() {
        return html! {};
    }
    let chosen = ctx.asked("place").and_then(|p| p.parse::<usize>().ok()).unwrap_or(0);
    let chosen = chosen.min(r.channels.len() - 1);
    let mut storeys: Vec<i32> =
        b.rooms.iter().filter(|x| x.outline.is_some()).map(|x| x.storey).collect();
    storeys.sort_unstable();
    storeys.dedup();
    let missing = r.channels.iter().filter(|c| c.spot.is_none()).count();
    html! {
        div #places-part data-live {
            h2 { "Where the microphones stood" }
            p.choices { span.lead { "Place" }
                @for (i, c) in r.channels.iter().enumerate() {
                    a.choice href=(ctx.here_with(crate::pages::Page::Recordings, &[("place", &i.to_string())])) aria-current=[(i == chosen).then_some("true")] {
                        (c.number) " " span dir="auto" { (c.position) } @if c.spot.is_none() { " (no spot)" } }
                }
            }
            p.notes { "Choose a channel and click where it stood; the room follows."
                @if missing > 0 { " " (missing) " of " (r.channels.len()) " have no spot yet." } }
            form.inline #place method="post" action="/edit" data-edit {
                (hidden(ctx, "place", "survey", &format!("recording[{n}]"), "", &format!("where channel {} stood", r.channels[chosen].number)))
                input type="hidden" name="at" value=(chosen);
                label for="place-spot" { "Or type metres to the right and up on the plan" }
                input #place-spot name="spot" value="" placeholder="1.20 3.40" autocomplete="off" required;
                label for="place-storey" { "Storey" }
                select #place-storey name="storey" { @for s in &storeys { option value=(s) selected[*s == b.rooms[r.channels[chosen].room.0].storey] { (parts::storey_name(*s)) } } }
                button { "Put it there" }
                p.error role="alert" {}
            }
            div.plan-row {
                @for storey in storeys.iter().rev() {
                    @let plan = plan(b, *storey);
                    figure.plan {
                        p.says { (parts::storey_name(*storey)) }
                        div.wide { (drawn(&plan, b, r, *storey, chosen, Format::Screen)) }
                        div.narrow { (drawn(&plan, b, r, *storey, chosen, Format::Phone)) }
                    }
                }
            }
        }
    }
}

fn plan(b: &Building, storey: i32) -> Plan {
    let mut plan = parts::storey_plan(b, storey, None, |_| None);
    plan.words = Words::new(format!("places-{storey}"), parts::storey_name(storey), String::new());
    plan
}

fn drawn(
    plan: &Plan,
    b: &Building,
    r: &Recording,
    storey: i32,
    chosen: usize,
    format: Format,
) -> Markup {
    let frame = plan.frame(format);
    let words = serde_json::json!({
        "x": frame.low.0, "y": frame.high.1, "scale": frame.scale, "margin": frame.margin
    })
    .to_string();
    let dots = html! {
        g.dots aria-hidden="true" {
            @for (i, c) in r.channels.iter().enumerate().filter(|(_, c)| b.rooms[c.room.0].storey == storey) {
                @if let Some(spot) = c.spot {
                    @let corner = b.rooms[c.room.0].outline.as_ref().and_then(|o| o.bounds()).map_or((0.0, 0.0), |(low, _)| (low.x.0, low.y.0));
                    @let (x, y) = frame.on_sheet((corner.0 + spot[0].0, corner.1 + spot[1].0));
                    circle cx=(format!("{x:.1}")) cy=(format!("{y:.1}")) r=(DOT) class=(if i == chosen { "dot chosen" } else { "dot" }) {}
                    text x=(format!("{x:.1}")) y=(format!("{:.1}", y + 4.0)) class=(if i == chosen { "dot-name chosen" } else { "dot-name" }) { (c.number) }
                }
            }
        }
    };
    let picture = plan.draw(format).inline();
    let end = picture.rfind("</svg>").unwrap_or(picture.len());
    let (before, after) = picture.split_at(end);
    html! {
        div.place-sheet data-places=(words) data-storey=(storey) {
            (PreEscaped(before.to_owned())) (dots) (PreEscaped(after.to_owned()))
        }
    }
}
