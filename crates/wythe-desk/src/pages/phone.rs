//! The phone in the other room: how it is paired, shown on the desk; and its own two pages.

use std::time::Duration;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcodegen::{QrCode, QrCodeEcc};
use wythe_bands::weighting::Weighting;
use wythe_building::{Building, RoomIndex};
use wythe_report::chart::{Format, Words};
use wythe_report::report::{Units, parts};

use super::{Ctx, Page, Query, Sheet, about, verdicts};
use crate::desk::Open;
use crate::note;
use crate::scene::Scene;
use crate::share::{Phone, Share};
use crate::trials;

/// Notes shown on the phone.
const LAST_NOTES: usize = 8;
/// Light modules round a code that readers need (ISO/IEC 18004, from memory: four).
const QUIET_ZONE: i32 = 4;

/// The page of the desk.
pub fn sheet(ctx: &Ctx<'_>, share: Option<&Share>) -> Sheet {
    let Some(share) = share else {
        return Sheet {
            title: "Take a phone into the other room".into(),
            middle: html! {
                p { "A phone can show the plan and what to do next, and take notes such as \u{201c}talking now\u{201d} by this computer's clock, while you record." }
                p { "The desk was started for this machine alone. End it, and start it with " code { "wythe desk FOLDER --share" } "." }
            },
            answer: verdicts(ctx),
        };
    };
    let now = share.now();
    let phones = share.phones(now);
    let middle = html! {
        div #pairing data-live {
            @match share.code(now) {
                Some((code, left)) => {
                    div.pair {
                        (qr(&format!("{}?code={code}", share.address)))
                        div {
                            p { "Scan this with the phone's camera, or open" br; strong { (share.address) } br; "there and type" }
                            p.digits { (code[..3]) "\u{2009}" (code[3..]) }
                            p { "It lets one phone in and holds for " (minutes(left)) "." }
                        }
                    }
                }
                None => p { "No code holds now: it was used, it ran out, or somebody guessed wrong five times." },
            }
            div.presses {
                (press("code", "Make a new code", None))
                @if share.code(now).is_some() { (press("no-code", "Take the code away", None)) }
            }
        }
        div #phones data-live {
            h2 { "Phones" }
            @if phones.is_empty() { p { "None is paired." } } @else {
                table {
                    caption { "Who may read the phone page and send notes" }
                    thead { tr { th scope="col" { "Phone" } th scope="col" { "In" } th scope="col" { "Last heard" } th scope="col" { span.ears { "Send away" } } } }
                    tbody { @for p in &phones { tr {
                        th scope="row" dir="auto" { (p.name) }
                        td dir="auto" { (room_name(ctx.building(), &p.room).unwrap_or("not said")) }
                        td { (ago(now.saturating_sub(p.seen))) }
                        td { (press("revoke", "Send away", Some(p))) }
                    } } }
                }
                @if phones.len() > 1 { (press("revoke-all", "Send every phone away", None)) }
            }
        }
        div #noted data-live { h2 { "Noted by the clock" } (notes(ctx.scene, 40)) }
    };
    let answer = html! {
        p { "A phone sees the phone page and nothing else of the desk. It stays paired for twelve hours at most; ending the desk sends every phone away." }
        p { "The line between phone and computer is not encrypted: whoever can listen in on this network can read what it shows. Use a network whose members you trust." }
        p { "Notes find their place in a recording once its beginning is stated; see " a href="/recordings" { "Recordings" } "." }
    };
    Sheet { title: "A phone in the other room".into(), middle, answer }
}

fn press(what: &str, name: &str, phone: Option<&Phone>) -> Markup {
    html! {
        form.press method="post" action=(format!("/share/{what}")) data-step=(what) {
            input type="hidden" name="back" value=(Page::Phone.address());
            @if let Some(p) = phone { input type="hidden" name="id" value=(p.id); }
            button aria-label=[phone.map(|p| format!("{name}: {}", p.name))] { (name) }
        }
    }
}

fn minutes(left: Duration) -> String {
    match left.as_secs().div_ceil(60) {
        0 | 1 => "less than a minute".into(),
        n => format!("{n} minutes"),
    }
}

fn ago(time: Duration) -> String {
    match time.as_secs() {
        0..60 => "just now".into(),
        60..120 => "a minute ago".into(),
        s => format!("{} minutes ago", s / 60),
    }
}

/// An address as a square of modules.
fn qr(address: &str) -> Markup {
    let Ok(code) = QrCode::encode_text(address, QrCodeEcc::Medium) else { return html! {} };
    let mut path = String::new();
    for y in 0..code.size() {
        for x in 0..code.size() {
            if code.get_module(x, y) {
                path.push_str(&format!("M{x} {y}h1v1h-1z"));
            }
        }
    }
    let side = code.size() + 2 * QUIET_ZONE;
    let view = format!("{} {} {side} {side}", -QUIET_ZONE, -QUIET_ZONE);
    html! {
        svg.qr viewBox=(view) role="img" aria-label="The address and the code for the phone's camera" {
            rect x=(-QUIET_ZONE) y=(-QUIET_ZONE) width=(side) height=(side) class="qr-ground" {}
            path d=(path) class="qr-ink" {}
        }
    }
}

fn room_name<'a>(building: Option<&'a Building>, id: &str) -> Option<&'a str> {
    let b = building?;
    b.room(id).map(|i| b.rooms[i.0].name())
}

/// The last notes by the clock.
fn notes(scene: &Scene, most: usize) -> Markup {
    let survey = scene.project.as_ref().and_then(|p| p.survey.as_ref());
    let all = survey.map(|s| s.noted.as_slice()).unwrap_or_default();
    html! {
        @if all.is_empty() { p { "Nothing yet." } } @else {
            ul.log { @for n in all.iter().rev().take(most) { li {
                span.when { (shown(&n.at)) @if let Some(until) = &n.until { "–" (time_of(until)) } }
                " " span dir="auto" { (n.text) }
            } } }
        }
    }
}

/// A moment without its distance from universal time.
fn shown(moment: &str) -> String {
    let (day, _) = moment.split_once([' ', 'T']).unwrap_or((moment, ""));
    format!("{day} {}", time_of(moment))
}

fn time_of(moment: &str) -> &str {
    let time = moment.split_once([' ', 'T']).map_or(moment, |(_, t)| t);
    time.split(['.', '+', '-', 'Z']).next().unwrap_or(time)
}

/// Where a phone types its code.
pub fn pairing(code: &str, said: Option<&str>) -> String {
    whole(
        "Pair this phone",
        html! {
            main #middle.handset tabindex="-1" {
                h1 { "Pair this phone" }
                @if let Some(said) = said { p.notice role="alert" { (parts::capital(said)) "." } }
                form.big method="post" action="/pair" {
                    label { "Six digits shown on the desk"
                        input.digits name="code" value=(code) inputmode="numeric" autocomplete="one-time-code" pattern="[0-9 ]*" maxlength="7" required; }
                    label { "Name of this phone" input name="name" value="" maxlength="40" autocomplete="off" placeholder="phone"; }
                    button { "Pair it" }
                }
                p.notes { "The line to the computer is not encrypted: pair only in a network whose members you trust." }
            }
        },
    )
}

/// The phone page.
pub fn handset(open: Option<&Open>, phone: &Phone, said: Option<&str>) -> String {
    let scene = open.and_then(|o| o.scene().ok());
    let (Some(open), Some(scene)) = (open, scene) else {
        let body = html! { main #middle.handset { h1 { "No project is open at the desk" } } };
        return whole("wythe", body);
    };
    let query = Query::new();
    let ctx = Ctx {
        open,
        scene: &scene,
        query: &query,
        address: String::new(),
        done: open.work.done(),
        standing: open.work.standing(),
        about: about(Units::Metric),
        share: None,
    };
    let going_on = note::going_on(&scene, &phone.name);
    let title = ctx.building().map_or("Project", |b| b.title.as_str());
    let body = html! {
        main #middle.handset tabindex="-1" {
            p.strip { span dir="auto" { (title) } " " time #clock data-clock=(crate::share::clock()) { (time_of(&crate::share::clock())) } }
            p #phone-said role="status" aria-live="polite" { @if let Some(said) = said { "Not noted: " (said) "." } }
            h1 { "What to do next" }
            ol.next { @for step in next_steps(&ctx) { li { (step) } } }
            h2 { "Note what happens" }
            form.big #log method="post" action="/note" data-note {
                @if let Some(b) = ctx.building() {
                    label { "This phone is in"
                        select #where name="room" data-room { option value="" { "not said" }
                            @for r in &b.rooms { option value=(r.id) selected[r.id == phone.room] { (r.name()) } } } }
                }
                @if let Some(at) = &going_on {
                    button.across.going-on name="what" value="quiet" { "Talking since " (time_of(at)) ": it stopped" }
                } @else {
                    button.across name="what" value="talking" { "Talking now" }
                }
                button name="what" value="closed" { "Door closed" }
                button name="what" value="opened" { "Door opened" }
                button.across name="what" value="recorder" { "Recorder started" }
            }
            form.big #free method="post" action="/note" data-note {
                label { "Anything else" input name="text" maxlength=(note::LONGEST) autocomplete="off" required; }
                button name="what" value="text" { "Note it" }
            }
            h2 { "Noted" }
            (notes(&scene, LAST_NOTES))
            @if let Some(b) = ctx.building() { (plans(&ctx, b, phone)) }
            form.big method="post" action="/leave" { button { "Unpair this phone" } }
        }
    };
    whole(title, body)
}

fn whole(title: &str, body: Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            (super::head(title, "phone"))
            body { (body) }
        }
    }
    .into_string()
}

/// Every storey with its levels, as on the desk.
fn plans(ctx: &Ctx<'_>, b: &Building, phone: &Phone) -> Markup {
    let mut storeys: Vec<i32> =
        b.rooms.iter().filter(|r| r.outline.is_some()).map(|r| r.storey).collect();
    storeys.sort_unstable();
    storeys.dedup();
    let from = ctx.scene.played_from(None);
    let level = |room: RoomIndex| {
        let f = from?;
        let source = &b.sources[f.source];
        if source.room == room {
            return source.levels.weighted_total(Weighting::A).map(|l| l.0);
        }
        Scene::arrived(f, room).and_then(|a| a.level_a).map(|l| l.0)
    };
    let here = room_name(Some(b), &phone.room);
    html! {
        h2 { "Plan" }
        @if let Some(here) = here { p dir="auto" { "This phone is in " strong { (here) } "." } }
        @for storey in storeys.iter().rev() {
            @let plan = {
                let mut plan = parts::storey_plan(b, *storey, None, level);
                let what = from.map_or(String::new(), |f| {
                    format!("Levels by calculation while it is played: {}.", b.sources[f.source].name())
                });
                plan.words = Words::new(format!("phone-{storey}"), parts::storey_name(*storey), what);
                plan
            };
            figure.plan { p.says { (plan.words.title) } (PreEscaped(plan.draw(Format::Phone).inline())) figcaption { (plan.words.caption) } }
        }
    }
}

/// What somebody with a recorder in the hand does now, in the order of the loop.
pub fn next_steps(ctx: &Ctx<'_>) -> Vec<String> {
    let Some(b) = ctx.building() else {
        return vec!["The description cannot be used yet; mend it at the desk.".into()];
    };
    let survey = ctx.scene.project.as_ref().and_then(|p| p.survey.as_ref());
    let all = survey.map(|s| s.recordings.as_slice()).unwrap_or_default();
    if let Some((_, r)) =
        survey.and_then(|s| trials::waiting(ctx.open.store.folder(), s).into_iter().next())
    {
        return trials::what_to_record(b, r);
    }
    if all.is_empty() {
        let loud = b.sources.first().map(|s| b.rooms[s.room.0].name());
        return vec![
            format!(
                "Put one microphone into {} and one into each quiet room.",
                loud.unwrap_or("the loud room")
            ),
            "Set every gain by hand and leave it; record a calibrator tone or note what full scale is."
                .into(),
            "Start the recorder, press \u{201c}Recorder started\u{201d} at once, and keep a minute of quiet.".into(),
            "Play for two minutes. Whoever is in a quiet room says nothing, or notes it here.".into(),
        ];
    }
    if let Some(next) = ctx.done.as_ref().and_then(|d| {
        d.gathered
            .results(&ctx.about)
            .explained
            .and_then(|e| e.next.as_ref())
            .map(|n| n.what.clone())
    }) {
        return vec![
            format!("{}.", parts::capital(&next)),
            "Prepare it at the desk, on the page Findings; then this page says what to record."
                .into(),
        ];
    }
    if ctx.done.is_none() {
        return vec![
            "Open the page Findings at the desk: it works out which test tells most.".into(),
        ];
    }
    vec!["Everything that was asked for is recorded. What to change stands at the desk, on the page Remedies.".into()]
}
