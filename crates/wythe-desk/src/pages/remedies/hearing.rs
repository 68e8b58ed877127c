//! A room before and after the chosen changes, to be listened to.

use maud::{Markup, html};
use wythe_bands::Level;
use wythe_building::{Building, RoomIndex};
use wythe_report::chart::number;

use crate::pages::{Ctx, Page, in_address};
use crate::player::{COMPARED, Compared, TURN};

/// The source and the room that are asked for, else the first source and the first room that has
/// to be quiet.
fn asked(ctx: &Ctx<'_>, b: &Building) -> Option<(usize, RoomIndex)> {
    let named = |id: &str| b.sources.iter().position(|s| s.id == id);
    let source = ctx.asked("source").and_then(named).unwrap_or(0);
    let from = b.sources.get(source)?.room;
    let wanted = ctx.asked("hear").and_then(|id| b.room(id));
    let first = || b.targets.iter().map(|t| t.room).find(|r| *r != from);
    let other = || (0..b.rooms.len()).map(RoomIndex).find(|r| *r != from && !b.rooms[r.0].outdoors);
    Some((source, wanted.filter(|r| *r != from).or_else(first).or_else(other)?))
}

/// The part of the page.
pub fn part(ctx: &Ctx<'_>, b: &Building, changes: &[usize]) -> Markup {
    let Some((source, room)) = asked(ctx, b) else { return html! {} };
    if changes.is_empty() {
        return html! {
            section #hearing data-live { h2 { "Before and after" } p { "Choose a sum that buys something; then it can be heard." } }
        };
    }
    let from = b.sources[source].room;
    let link = |name: &str, id: &str, on: bool, shown: &str| {
        html! { a.choice href=(ctx.here_with(Page::Remedies, &[(name, id)])) aria-current=[on.then_some("true")] dir="auto" { (shown) } }
    };
    let compared = Compared::new(b, source, room, changes.to_vec());
    let list: Vec<String> = changes.iter().map(usize::to_string).collect();
    html! {
        section #hearing data-live {
            h2 { "Before and after" }
            @if b.sources.len() > 1 {
                p.choices { span.lead { "Playing" } @for (i, s) in b.sources.iter().enumerate() { (link("source", &s.id, i == source, s.name())) } }
            }
            p.choices { span.lead { "Heard in" }
                @for (i, r) in b.rooms.iter().enumerate().filter(|(i, _)| RoomIndex(*i) != from) { (link("hear", &r.id, RoomIndex(i) == room, r.name())) } }
            @match compared {
                Err(why) => p.notice { (why) "." },
                Ok(c) => {
                    @let [now, after] = c.levels(b);
                    p { "By calculation " strong { (level(now)) } " now, " strong { (level(after)) } " with the chosen changes." }
                    audio controls preload="none" data-turn=(TURN) data-names="Now|After the changes" data-says="hearing-said"
                        aria-label=(format!("{} before and after", b.rooms[room.0].name()))
                        src=(format!("/heard.wav?hear={}&source={}&changes={}&of={}", in_address(&b.rooms[room.0].id), in_address(&b.sources[source].id), list.join("."), ctx.scene.mark())) {}
                    p #hearing-said.turn role="status" { "Now" }
                    p.notes { (number(COMPARED, 0)) " s of beaten noise with the levels of the source, in turns of " (number(TURN, 0)) " s: now, after, now, after"
                        @if b.rooms[room.0].background.is_some() { ", with the background of the room" } "." }
                    p.notes { "Only the difference is true: the loudest peak lies 20 dB below full scale, whatever the level would be. Calculated band levels without the reverberation of the room, as uncertain as the prediction. Begin with the volume down." }
                }
            }
        }
    }
}

fn level(level: Option<Level>) -> String {
    level.map_or("no level".into(), |l| format!("{}\u{2009}dBA", number(l.0, 0)))
}

/// The sound of it.
///
/// # Errors
/// Why not, as a sentence without full stop.
pub fn heard(ctx: &Ctx<'_>) -> Result<Vec<u8>, String> {
    let done = ctx.done.as_ref().ok_or("nothing is computed yet")?;
    let r = done.gathered.results(&ctx.about);
    let b = r.best_building();
    let (source, room) = asked(ctx, b).ok_or("there is no source or no other room")?;
    let changes: Vec<usize> = ctx
        .asked("changes")
        .unwrap_or_default()
        .split('.')
        .map(|n| n.parse().ok().filter(|n| *n < b.changes.len()))
        .collect::<Option<_>>()
        .ok_or("there is no such change")?;
    Compared::new(b, source, room, changes)?.sound(b, room)
}
