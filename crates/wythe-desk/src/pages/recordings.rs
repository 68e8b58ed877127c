//! The recordings: which channel is which place, what is where in time, what each is worth.

mod calibrating;
mod decaying;
mod places;
mod validity;

use maud::{Markup, PreEscaped, html};
use wythe_bands::{Level, Remark, Seconds};
use wythe_building::Building;
use wythe_findings::Measured;
use wythe_project::survey::{self, PositionKind, Recording};
use wythe_report::chart::{
    Format, LevelTrace, Role, Stretch, StretchKind, TimeLine, Words, number,
};
use wythe_report::report::parts;

use super::fields::{Field, Press, hidden};
use super::{Ctx, Page, Sheet, show, staleness};
use crate::player;
use crate::sound::Traces;

/// Lines of one picture; more channels are chosen one by one.
const MOST_LINES: usize = 4;
/// Remarks that are read at once; on a phone they stand before the recordings.
const FIRST_REMARKS: usize = 3;

/// The page.
pub fn sheet(ctx: &Ctx<'_>, b: &Building) -> Sheet {
    let survey = ctx.scene.project.as_ref().and_then(|p| p.survey.as_ref());
    let all = survey.map(|s| s.recordings.as_slice()).unwrap_or_default();
    let chosen = ctx.asked("n").and_then(|n| n.parse::<usize>().ok()).filter(|n| *n < all.len());
    let loose = unnamed(ctx, all);
    let results = ctx.done.as_ref().map(|d| d.gathered.results(&ctx.about));
    let measured = results.as_ref().and_then(|r| r.measured);
    let title = match (chosen.map(|n| &all[n]), all.len()) {
        (Some(r), _) => r.title.clone().unwrap_or_else(|| r.file.clone()),
        (None, 0) => "Nothing has been recorded yet".into(),
        (None, 1) => "One recording".into(),
        (None, n) => format!("{n} recordings"),
    };
    let middle = html! {
        @if all.is_empty() {
            p { "Record in the loud room and in the quiet ones at once, with a fixed gain and a minute of quiet. Then bring the files here: each channel is given a room, and everything else is worked out." }
        }
        (staleness(ctx))
        div #list data-live {
            @if !all.is_empty() {
                ul.files {
                    @for (i, r) in all.iter().enumerate() {
                        li { a href=(ctx.here_with(Page::Recordings, &[("n", &i.to_string()), ("channel", "")]))
                            aria-current=[(chosen == Some(i)).then_some("true")] dir="auto" { (r.title.as_deref().unwrap_or(&r.file)) }
                            " " span.notes { @if r.title.is_some() { (r.file) ", " } (channels(r.channels.len())) @if let Some(s) = &r.state { ", " (s) } } }
                    }
                }
            }
            @if !loose.is_empty() {
                h2 { "Files nobody has described" }
                ul.files {
                    @for (i, f) in loose.iter().enumerate() {
                        li { (f) " " (describe(ctx, b, f, i)) }
                    }
                }
            }
        }
        @if let Some(n) = chosen { (one(ctx, b, &all[n], n, measured)) }
        (drop_here())
        (validity::trials(ctx, b, all, measured))
        @if let (Some(r), Some(m)) = (&results, measured) {
            div #positions-part data-live {
                h2 { "What each position heard" }
                (show(&parts::ratings_table(r, m).into_iter().collect::<Vec<_>>()))
                (show(&parts::positions_table(r, m).into_iter().collect::<Vec<_>>()))
                (validity::table(b, m))
            }
        }
    };
    let answer = html! {
        @if let Some(m) = measured {
            h2 { "What they are worth" }
            @if m.pairs.is_empty() { p { "No pair of rooms could be measured." } }
            ul {
                @for p in m.pairs.iter().filter(|p| p.state.is_none()) {
                    @let hidden = p.result.state.iter().filter(|(_, s)| s.is_bound()).count();
                    li dir="auto" { (b.rooms[p.source.0].name()) " to " (b.rooms[p.receiver.0].name()) ": "
                        (p.result.difference.iter().count()) " bands"
                        @if hidden > 0 { ", " (hidden) " of them only a bound, because the background was too near" } "." }
                }
            }
            @if !m.remarks.is_empty() {
                h2 { "To be said" }
                (remarks(&m.remarks[..m.remarks.len().min(FIRST_REMARKS)]))
                @if m.remarks.len() > FIRST_REMARKS {
                    details #more-remarks { summary { (m.remarks.len() - FIRST_REMARKS) " more" } (remarks(&m.remarks[FIRST_REMARKS..])) }
                }
            }
        } @else { p { "Not measured yet." } }
    };
    Sheet { title, middle, answer }
}

fn remarks(all: &[Remark]) -> Markup {
    html! { ul { @for r in all { li { @if let Some(p) = &r.place { (p) ": " } (r.text) } } } }
}

fn channels(n: usize) -> String {
    if n == 1 { "1 channel".into() } else { format!("{n} channels") }
}

/// Sound files in `recordings/` that the survey does not name.
fn unnamed(ctx: &Ctx<'_>, all: &[Recording]) -> Vec<String> {
    let folder = ctx.open.store.folder().join("recordings");
    let mut out: Vec<String> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|e| e.file_name().into_string().ok())
        .filter(|n| crate::upload::checked_name(n).is_ok())
        .map(|n| format!("recordings/{n}"))
        .filter(|n| all.iter().all(|r| r.file != *n))
        .collect();
    out.sort();
    out
}

fn describe(ctx: &Ctx<'_>, b: &Building, file: &str, i: usize) -> Markup {
    html! {
        form.inline method="post" action="/edit" data-edit {
            (hidden(ctx, "describe-recording", "survey", "", "", &format!("describe {file}")))
            input type="hidden" name="value" value=(file);
            label for=(format!("loose-{i}")) { "Every channel at first in" }
            select id=(format!("loose-{i}")) name="like" { @for r in &b.rooms { option value=(r.id) { (r.name()) } } }
            button { "Describe it" }
            p.error role="alert" {}
        }
    }
}

fn drop_here() -> Markup {
    html! {
        section.drop #drop data-upload {
            h2 { "Bring recordings" }
            label for="files" { "WAV or FLAC; they are copied into the project and never altered" }
            input #files type="file" multiple accept=".wav,.flac,.rf64,.bw64,audio/wav,audio/flac";
            p #upload-said role="status" aria-live="polite" {}
            progress #upload-share max="1" value="0" hidden aria-label="Share sent" {}
            button #upload-stop type="button" hidden { "Stop" }
        }
    }
}

fn clock(s: f64) -> String {
    let tenths = (s.max(0.0) * 10.0).round() as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

/// One recording with its channels and stretches.
fn one(
    ctx: &Ctx<'_>,
    b: &Building,
    r: &Recording,
    n: usize,
    measured: Option<&Measured>,
) -> Markup {
    let rooms: Vec<(String, String)> =
        b.rooms.iter().map(|x| (x.id.clone(), x.name().to_owned())).collect();
    let kinds: Vec<(String, String)> =
        ["", "position", "corner", "near source", "on facade", "before facade", "near surface"]
            .iter()
            .map(|k| ((*k).to_owned(), if k.is_empty() { "in the room" } else { k }.to_owned()))
            .collect();
    let kind = |k: PositionKind| match k {
        PositionKind::Position => "",
        PositionKind::Corner => "corner",
        PositionKind::NearSource => "near source",
        PositionKind::OnFacade => "on facade",
        PositionKind::BeforeFacade => "before facade",
        PositionKind::NearSurface => "near surface",
    };
    let traces = ctx.open.histories.of(ctx.open.store.folder(), &r.file);
    let states: Vec<(String, String)> = std::iter::once((String::new(), "as described".to_owned()))
        .chain(b.states.iter().map(|s| (s.name.clone(), s.name.clone())))
        .collect();
    html! {
        section #one data-live {
            (match &traces {
                Ok(t) => history(ctx, b, r, n, t, measured),
                Err(why) => html! { p.notice { (why) "." } },
            })
            (listen(ctx, b, r, n))
            (places::plans(ctx, b, r, n))
            h2 { "Channels" }
            div.scroll tabindex="0" role="region" aria-label="Channels" {
                table.edit {
                    caption { "Which channel stood where" }
                    thead { tr { th scope="col" { "Channel" } th scope="col" { "Name" } th scope="col" { "Room" } th scope="col" { "Good for" } th scope="col" { "Where in the room" } } }
                    tbody {
                        @for (i, c) in r.channels.iter().enumerate() {
                            @let path = |key: &str| format!("recording[{n}].channel[{i}].{key}");
                            tr {
                                th scope="row" { a href=(ctx.here_with(Page::Recordings, &[("channel", &c.number.to_string())])) { (c.number) } }
                                td { (Field::new(format!("c{i}-name"), "Name", path("position"), c.position.clone()).survey().quiet().form(ctx)) }
                                td { (Field::new(format!("c{i}-room"), "Room", path("room"), b.rooms[c.room.0].id.clone()).survey().quiet().choose(rooms.clone()).form(ctx)) }
                                td { (Field::new(format!("c{i}-kind"), "Good for", path("kind"), kind(c.kind).into()).survey().quiet().choose(kinds.clone()).form(ctx)) }
                                td { (Field::new(format!("c{i}-place"), "Where in the room", path("place"), c.place.clone().unwrap_or_default()).survey().quiet().form(ctx)) }
                            }
                        }
                    }
                }
            }
            h2 { "How it was taken" }
            div.fields {
                (Field::new("rec-title", "Name", format!("recording[{n}].title"), r.title.clone().unwrap_or_default()).survey().form(ctx))
                (Field::new("rec-gain", "Gain of the recorder", format!("recording[{n}].gain"), gain(r)).survey()
                    .choose([("fixed", "fixed"), ("unknown", "not known"), ("automatic", "changed by itself")].map(|(a, b)| (a.into(), b.into()))).form(ctx))
                (Field::new("rec-state", "Doors", format!("recording[{n}].state"), r.state.clone().unwrap_or_default()).survey().choose(states).form(ctx))
            }
            (began(ctx, r, n))
            (calibrating::part(ctx, r, n, measured))
            (stretches(ctx, r, n))
            (decaying::part(ctx, b, r, n))
        }
    }
}

/// When the recording began, for notes by the clock.
fn began(ctx: &Ctx<'_>, r: &Recording, n: usize) -> Markup {
    let survey = ctx.scene.project.as_ref().and_then(|p| p.survey.as_ref());
    let noted = survey.map(|s| s.noted.as_slice()).unwrap_or_default();
    let path = format!("recording[{n}].begun");
    let there = ctx.scene.survey.as_ref().and_then(|d| d.get(&path)).unwrap_or_default();
    let there = there.trim_matches('"').to_owned();
    let own = noted.iter().filter(|e| e.files.contains(&r.file)).count();
    html! {
        div.fields {
            (Field::new("rec-begun", "Began, by the computer's clock", path.clone(), there).survey().form(ctx))
        }
        @if !noted.is_empty() {
            p.notes { @if r.begun.is_some() { (own) " of " (noted.len()) " notes by the clock fall into it; their time is left out." }
                @else { "There are notes by the clock; they fall into place once this is stated to the second, such as 2031-04-02 18:30:05." } }
            @for (i, e) in noted.iter().enumerate().filter(|(_, e)| e.text.starts_with(crate::note::RECORDER_STARTED)) {
                form.press method="post" action="/edit" data-edit {
                    (hidden(ctx, "set", "survey", &path, "text", "when the recording began"))
                    input type="hidden" name="seen" value=(crate::edit::seen(ctx.scene.survey.as_ref(), &path));
                    input type="hidden" name="value" value=(e.at);
                    button id=(format!("begun-{i}")) { "It began at " (e.at.split('.').next().unwrap_or(&e.at)) ", as noted" }
                    p.error role="alert" {}
                }
            }
        }
    }
}

/// Any stretch of any channel, to be listened to.
fn listen(ctx: &Ctx<'_>, b: &Building, r: &Recording, n: usize) -> Markup {
    let channel = ctx
        .asked("hear")
        .and_then(|c| c.parse::<u16>().ok())
        .filter(|c| r.channels.iter().any(|x| x.number == *c))
        .or_else(|| r.channels.first().map(|c| c.number));
    let Some(channel) = channel else { return html! {} };
    let (from, to) = (ctx.asked("from").unwrap_or("0:00"), ctx.asked("to").unwrap_or("0:20"));
    let times = (player::time(from), player::time(to));
    let kept: Vec<(&String, &String)> = ctx
        .query
        .iter()
        .filter(|(k, _)| !matches!(k.as_str(), "hear" | "from" | "to" | "n"))
        .collect();
    html! {
        div #listen data-live {
            h2 { "Listen" }
            form.grid method="get" action="/recordings" {
                input type="hidden" name="n" value=(n);
                @for (k, v) in kept { input type="hidden" name=(k) value=(v); }
                label { "Channel" select #hear name="hear" { @for c in &r.channels {
                    option value=(c.number) selected[c.number == channel] { (c.number) " " (b.rooms[c.room.0].name()) } } } }
                label { "From" input #hear-from name="from" value=(from) autocomplete="off" required; }
                label { "To" input #hear-to name="to" value=(to) autocomplete="off" required; }
                button { "Fetch it" }
            }
            @match times {
                (Some(a), Some(z)) if z > a => {
                    audio controls preload="none" data-says="hear-said" aria-label=(format!("Channel {channel} from {from} to {to}"))
                        src=(format!("/piece.wav?n={n}&channel={channel}&from={a}&to={z}&of={}", crate::pages::in_address(&r.file))) {}
                    p #hear-said.notes role="status" {}
                    @if z - a > player::LONGEST { p.notes { "The first " (player::LONGEST) " s of it." } }
                }
                _ => p.notice { "A stretch begins at 0:00 or later and ends after it begins; write 1:30 for a minute and a half." },
            }
            p.notes { "Not calibrated: whatever was recorded is brought to one moderate loudness (peaks 20 dB below full scale), comes up from silence, and says nothing about how loud it was. Begin with the volume down, above all with headphones." }
        }
    }
}

fn gain(r: &Recording) -> String {
    match r.gain {
        survey::Gain::Fixed => "fixed",
        survey::Gain::Unknown => "unknown",
        survey::Gain::Automatic => "automatic",
    }
    .into()
}

fn word(kind: survey::StretchKind) -> &'static str {
    match kind {
        survey::StretchKind::Source => "source",
        survey::StretchKind::Background => "background",
        survey::StretchKind::Calibration => "calibration",
        survey::StretchKind::Decay => "decay",
        survey::StretchKind::Excluded => "excluded",
        survey::StretchKind::Keep => "keep",
    }
}

/// What is where in the recording, as fields; the picture drags the same figures.
fn stretches(ctx: &Ctx<'_>, r: &Recording, n: usize) -> Markup {
    let kinds: Vec<(String, String)> =
        ["source", "background", "calibration", "decay", "excluded", "keep"]
            .iter()
            .map(|k| ((*k).to_owned(), (*k).to_owned()))
            .collect();
    html! {
        h2 { "Stretches" }
        @if r.stretches.is_empty() { p { "None is marked; the program looks for the source and for quiet by itself." } }
        @else {
            div.scroll tabindex="0" role="region" aria-label="Stretches" {
                table.edit {
                    caption { "What is where, in minutes and seconds from the beginning" }
                    thead { tr { th scope="col" { "From" } th scope="col" { "To" } th scope="col" { "What" } th scope="col" { "Why" } th scope="col" { span.ears { "Take out" } } } }
                    tbody {
                        @for (i, s) in r.stretches.iter().enumerate() {
                            @let path = |key: &str| format!("recording[{n}].stretch[{i}].{key}");
                            tr {
                                td { (Field::new(format!("s{i}-from"), "From", path("from"), clock(s.from.0)).survey().quiet().form(ctx)) }
                                td { (Field::new(format!("s{i}-to"), "To", path("to"), clock(s.to.0)).survey().quiet().form(ctx)) }
                                td { (Field::new(format!("s{i}-kind"), "What", path("kind"), word(s.kind).into()).survey().quiet().choose(kinds.clone()).form(ctx)) }
                                td { (Field::new(format!("s{i}-why"), "Why", path("why"), s.why.clone().unwrap_or_default()).survey().quiet().form(ctx)) }
                                td { (Press { what: "remove-stretch", file: "survey", path: format!("recording[{n}].stretch"), value: String::new(),
                                    at: i, to: 0, name: "Take out", called: format!("take out the stretch from {}", clock(s.from.0)) }.form(ctx, &format!("stretch-out-{i}")))
                                    " " a href=(ctx.here_with(Page::Recordings, &[("from", &clock(s.from.0)), ("to", &clock(s.to.0))])) aria-label=(format!("Listen from {}", clock(s.from.0))) { "Listen" } }
                            }
                        }
                    }
                }
            }
        }
        details {
            summary { "Mark a stretch" }
            form.grid #mark method="post" action="/edit" data-edit {
                (hidden(ctx, "mark-stretch", "survey", &format!("recording[{n}]"), "", "mark a stretch"))
                input type="hidden" name="at" value=(n);
                label { "From" input name="from" required autocomplete="off" placeholder="0:10"; }
                label { "To" input name="value" required autocomplete="off" placeholder="0:40"; }
                label { "What" select name="like" { @for (v, name) in &kinds { option value=(v) { (name) } } } }
                button { "Mark it" }
                p.error role="alert" {}
            }
        }
    }
}

/// Level against time of a few channels, with what was marked and what was found.
fn history(
    ctx: &Ctx<'_>,
    b: &Building,
    r: &Recording,
    n: usize,
    t: &Traces,
    measured: Option<&Measured>,
) -> Markup {
    let only = ctx.asked("channel").and_then(|c| c.parse::<u16>().ok());
    let shown: Vec<&survey::Channel> = r
        .channels
        .iter()
        .filter(|c| only.is_none_or(|o| o == c.number))
        .take(if only.is_some() { 1 } else { MOST_LINES })
        .collect();
    let lines: Vec<TimeLine> = shown
        .iter()
        .filter_map(|c| {
            let values = t.channels.get(usize::from(c.number).checked_sub(1)?)?;
            Some(TimeLine {
                role: if shown.len() == 1 { Role::Measured } else { Role::Position },
                label: format!("{} {}", c.number, b.rooms[c.room.0].name()),
                start: Seconds(0.0),
                step: t.step,
                values: values.iter().map(|v| v.map(|l| Level(l.0))).collect(),
            })
        })
        .collect();
    let kind = |k: survey::StretchKind| match k {
        survey::StretchKind::Background => StretchKind::Background,
        survey::StretchKind::Calibration => StretchKind::Calibration,
        survey::StretchKind::Excluded => StretchKind::Excluded,
        _ => StretchKind::Used,
    };
    let mut marked: Vec<Stretch> = r
        .stretches
        .iter()
        .map(|s| Stretch {
            kind: kind(s.kind),
            from: s.from,
            to: s.to,
            label: s.why.clone().unwrap_or_else(|| word(s.kind).into()),
        })
        .collect();
    if ctx.fresh()
        && let Some(file) = measured.and_then(|m| m.files.iter().find(|f| f.file == r.file))
    {
        marked.extend(file.stretches.iter().filter(|s| s.found).map(|s| Stretch {
            kind: match s.kind {
                "background" => StretchKind::Background,
                "calibration" => StretchKind::Calibration,
                _ => StretchKind::Used,
            },
            from: s.from,
            to: s.to,
            label: format!("{}, found by the program", s.kind),
        }));
    }
    let trace = LevelTrace {
        words: Words::new(
            format!("history-{n}"),
            format!("Level against time, {}", clock(t.length.0)),
            format!(
                "A-weighted level, time weighting F, of {}; {} Hz, against the recorder's full scale, \
                 not calibrated. The largest value of every {} s.",
                r.file,
                t.rate,
                number(t.step.0, 1)
            ),
        ),
        quantity: "Level re full scale, dB".into(),
        lines,
        stretches: marked,
    };
    let wide = trace.draw(Format::Screen);
    let drag: Vec<serde_json::Value> = r
        .stretches
        .iter()
        .enumerate()
        .map(|(i, s)| serde_json::json!({ "i": i, "from": s.from.0, "to": s.to.0, "kind": word(s.kind) }))
        .collect();
    html! {
        figure {
            p.says { (wide.title()) }
            div.wide {
                div.time-sheet data-length=(t.length.0) data-left=(LevelTrace::LEFT_PX) data-width=(LevelTrace::WIDTH_PX)
                    data-stretches=(serde_json::Value::Array(drag).to_string()) { (PreEscaped(wide.inline())) }
            }
            div.narrow { (PreEscaped(trace.draw(Format::Phone).inline())) }
            figcaption { (wide.caption()) " " span.wide-only { "Drag the ends of a marked stretch, or type its times below." } }
        }
        @if r.channels.len() > 1 {
            p.choices { span.lead { "Channel" }
                a.choice href=(format!("/recordings?n={n}")) aria-current=[only.is_none().then_some("true")] { "the first " (MOST_LINES.min(r.channels.len())) }
                @for c in &r.channels {
                    a.choice href=(format!("/recordings?n={n}&channel={}", c.number)) aria-current=[(only == Some(c.number)).then_some("true")] {
                        (c.number) " " (b.rooms[c.room.0].name()) }
                }
            }
        }
    }
}
