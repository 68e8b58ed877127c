//! The pages: what stands on each, and the sheet they share.

mod build_ups;
mod fields;
mod file;
mod findings;
mod house;
mod keys;
mod paths;
mod phone;
mod recordings;
mod remedies;
mod report;
mod sheet;
mod start;
mod tracing;
mod wall;

use std::collections::BTreeMap;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use wythe_building::Building;
use wythe_findings::caution::cautions_of;
use wythe_report::page::{Block, Paper, fragment};
use wythe_report::report::{About, Results, Units, judged, parts};

use crate::desk::Open;
use crate::scene::Scene;
use crate::share::Share;
use crate::work::{Done, Standing};

pub use build_ups::while_sliding;
pub use phone::{handset, pairing};
pub use remedies::heard;
pub use report::document;
pub use start::start;

/// What stands behind the question mark of an address.
pub type Query = BTreeMap<String, String>;

/// Everything a page is made from.
pub struct Ctx<'a> {
    /// The open project.
    pub open: &'a Open,
    /// It as it stands.
    pub scene: &'a Scene,
    /// What the address asks for.
    pub query: &'a Query,
    /// The address, for forms to come back to.
    pub address: String,
    /// The last results of the background work.
    pub done: Option<Done>,
    /// How the background work stands.
    pub standing: Standing,
    /// What stands on every sheet.
    pub about: About,
    /// Phones, where the desk is shared.
    pub share: Option<&'a Share>,
}

/// One page's own content.
pub struct Sheet {
    /// The result as a sentence.
    pub title: String,
    /// The subject.
    pub middle: Markup,
    /// The few figures that answer the question.
    pub answer: Markup,
}

/// The pages in the order of the loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Page {
    /// Rooms and levels.
    House,
    /// Walls and ceilings.
    BuildUps,
    /// Which way the sound comes.
    Paths,
    /// What was recorded.
    Recordings,
    /// Predicted and measured.
    Findings,
    /// What to change.
    Remedies,
    /// The documents.
    Report,
    /// Phones in the other rooms.
    Phone,
    /// The text itself.
    File,
    /// All keys.
    Keys,
}

impl Page {
    /// Every page.
    pub const ALL: [Page; 10] = [
        Page::House,
        Page::BuildUps,
        Page::Paths,
        Page::Recordings,
        Page::Findings,
        Page::Remedies,
        Page::Report,
        Page::Phone,
        Page::File,
        Page::Keys,
    ];

    /// Its address.
    pub fn address(self) -> &'static str {
        match self {
            Page::House => "/house",
            Page::BuildUps => "/build-ups",
            Page::Paths => "/paths",
            Page::Recordings => "/recordings",
            Page::Findings => "/findings",
            Page::Remedies => "/remedies",
            Page::Report => "/report",
            Page::Phone => "/phone",
            Page::File => "/file",
            Page::Keys => "/keys",
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Page::House => "House",
            Page::BuildUps => "Build-ups",
            Page::Paths => "Paths",
            Page::Recordings => "Recordings",
            Page::Findings => "Findings",
            Page::Remedies => "Remedies",
            Page::Report => "Report",
            Page::Phone => "Phone",
            Page::File => "File",
            Page::Keys => "Keys",
        }
    }

    /// Key that leads there, after `g`.
    pub fn key(self) -> &'static str {
        match self {
            Page::House => "h",
            Page::BuildUps => "b",
            Page::Paths => "p",
            Page::Recordings => "r",
            Page::Findings => "f",
            Page::Remedies => "m",
            Page::Report => "d",
            Page::Phone => "o",
            Page::File => "t",
            Page::Keys => "k",
        }
    }

    /// Whether it shows results of the background work.
    pub fn needs_work(self) -> bool {
        matches!(self, Page::Recordings | Page::Findings | Page::Remedies | Page::Report)
    }
}

impl<'a> Ctx<'a> {
    /// The building, where the project can be used.
    pub fn building(&self) -> Option<&'a Building> {
        self.scene.project.as_ref().map(|p| &p.building)
    }

    /// A word of the address.
    pub fn asked(&self, name: &str) -> Option<&str> {
        self.query.get(name).map(String::as_str).filter(|v| !v.is_empty())
    }

    /// Whether the background results are of the project as it stands now.
    pub fn fresh(&self) -> bool {
        self.done.as_ref().is_some_and(|d| d.mark == self.scene.mark())
    }

    /// The prediction alone, as the documents take it.
    pub fn quick<'b>(&'b self) -> Option<Results<'b>> {
        Some(Results {
            predicted: self.scene.predicted.as_ref().ok(),
            ..Results::of(self.building()?, &self.about)
        })
    }

    /// The address with some of its words changed; an empty word is left out.
    pub fn here_with(&self, page: Page, changes: &[(&str, &str)]) -> String {
        let mut query = self.query.clone();
        for (name, value) in changes {
            query.insert((*name).to_owned(), (*value).to_owned());
        }
        address(page, &query)
    }
}

/// An address with its words.
pub fn address(page: Page, query: &Query) -> String {
    let words: Vec<String> = query
        .iter()
        .filter(|(_, v)| !v.is_empty())
        .map(|(n, v)| format!("{}={}", in_address(n), in_address(v)))
        .collect();
    if words.is_empty() {
        page.address().to_owned()
    } else {
        format!("{}?{}", page.address(), words.join("&"))
    }
}

/// Text as it may stand in an address.
pub fn in_address(text: &str) -> String {
    text.bytes()
        .map(|b| match b {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => {
                char::from(b).to_string()
            }
            _ => format!("%{b:02X}"),
        })
        .collect()
}

/// What stands on every sheet.
pub fn about(units: Units) -> About {
    About {
        date: wythe_folder::day::today(),
        version: env!("CARGO_PKG_VERSION").into(),
        paper: Paper::Any,
        units,
        ..About::default()
    }
}

/// Blocks of a document on a page.
pub fn show(blocks: &[Block]) -> Markup {
    PreEscaped(fragment(blocks))
}

/// A page of the open project.
pub fn page(ctx: &Ctx<'_>, page: Page) -> String {
    let sheet = match (page, ctx.building()) {
        (Page::File, _) => file::sheet(ctx),
        (Page::Keys, _) => keys::sheet(ctx),
        (Page::Phone, _) => phone::sheet(ctx, ctx.share),
        (_, None) => file::mend(ctx),
        (Page::House, Some(b)) => house::sheet(ctx, b),
        (Page::BuildUps, Some(b)) => build_ups::sheet(ctx, b),
        (Page::Paths, Some(b)) => paths::sheet(ctx, b),
        (Page::Recordings, Some(b)) => recordings::sheet(ctx, b),
        (Page::Findings, Some(_)) => findings::sheet(ctx),
        (Page::Remedies, Some(b)) => remedies::sheet(ctx, b),
        (Page::Report, Some(_)) => report::sheet(ctx),
    };
    let title = ctx.building().map_or("Project", |b| b.title.as_str());
    let (undo, redo) = ctx.open.store.steps();
    let body = html! {
        header.top {
            p.name { a href="/house" dir="auto" { (title) } " " a.other href="/start" { "other project" } }
            nav aria-label="Pages" {
                @for p in Page::ALL {
                    a href=(p.address()) aria-current=[(p == page).then_some("page")]
                        data-after-g=(p.key()) { (p.name()) }
                }
            }
            div.tools {
                (step("undo", "Undo", undo.as_deref(), &ctx.address))
                (step("redo", "Redo", redo.as_deref(), &ctx.address))
                label.theme { span { "Light or dark" } select #theme {
                    option value="" { "as the system" }
                    option value="light" { "light" }
                    option value="dark" { "dark" }
                } }
            }
        }
        div #said role="status" aria-live="polite" {}
        div.desk {
            main #middle tabindex="-1" {
                (heading(&sheet.title))
                (errors(ctx, page))
                (sheet.middle)
            }
            aside #answer aria-label="The answer" data-live {
                (sheet.answer)
                (working(ctx, page))
            }
            nav #outline aria-label="Rooms and elements" data-live { (outline(ctx, page)) }
        }
    };
    whole(&format!("{} – {title}", page.name()), body, ctx.scene.mark(), ctx.about.units)
}

/// The result as a heading.
fn heading(title: &str) -> Markup {
    html! { h1 #title data-live data-try dir="auto" { (title) } }
}

/// The head of a page and the script that serves it.
fn head(title: &str, script: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) }
            link rel="icon" href="data:,";
            link rel="stylesheet" href="/assets/desk.css";
            script src="/assets/theme.js" {}
            script type="module" src=(format!("/assets/{script}.js")) {}
        }
    }
}

/// A whole page with its head.
fn whole(title: &str, body: Markup, mark: String, units: Units) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            (head(title, "desk"))
            body data-mark=(mark) data-units=[(units == Units::UsCustomary).then_some("US")] {
                a.skip href="#middle" { "Skip to the content" }
                (body)
            }
        }
    }
    .into_string()
}

fn step(what: &str, name: &str, of: Option<&str>, back: &str) -> Markup {
    let label = of.map_or_else(|| name.to_owned(), |of| format!("{name}: {of}"));
    html! {
        form method="post" action=(format!("/{what}")) data-step=(what) id=(what) data-live {
            input type="hidden" name="back" value=(back);
            button title=(label) aria-label=(label) disabled[of.is_none()] { (name) }
        }
    }
}

/// What cannot be used, with its line.
fn errors(ctx: &Ctx<'_>, page: Page) -> Markup {
    let all = &ctx.scene.reading.errors;
    html! {
        div #errors data-live {
            @if !all.is_empty() && page != Page::File {
                section.notice {
                    p { strong { (all.len()) @if all.len() == 1 { " thing" } @else { " things" } " in the files cannot be used." }
                        " What remains is shown. " a href="/file" { "Look at the file" } }
                }
            }
        }
    }
}

/// How the background work stands, with the button that stops it.
fn working(ctx: &Ctx<'_>, page: Page) -> Markup {
    let s = &ctx.standing;
    html! {
        section.work #work {
            @if let Some((doing, share)) = &s.doing {
                p #doing { (doing) "…" }
                progress #share max="1" value=(format!("{share:.2}")) aria-label="Share done" {}
                form method="post" action="/job/stop" data-step="stop" {
                    input type="hidden" name="back" value=(ctx.address);
                    button { "Stop" }
                }
            } @else {
                @if let Some(why) = &s.failed { p { "Nothing could be computed: " (why) "." } }
                @if s.stopped { p { "Stopped." } }
                @if page.needs_work() && !ctx.fresh() {
                    form method="post" action="/job/begin" data-step="begin" {
                        input type="hidden" name="back" value=(ctx.address);
                        button { "Compute it" }
                    }
                }
            }
        }
    }
}

/// Rooms and elements as a plain outline.
fn outline(ctx: &Ctx<'_>, page: Page) -> Markup {
    let Some(b) = ctx.building() else { return html! { p { "Nothing can be listed yet." } } };
    let mut storeys: Vec<i32> = b.rooms.iter().filter(|r| !r.outdoors).map(|r| r.storey).collect();
    storeys.sort_unstable();
    storeys.dedup();
    let marked = |name: &str, id: &str, p: Page| {
        (page == p && ctx.asked(name) == Some(id)).then_some("true")
    };
    let room = |r: &wythe_building::Room| {
        html! {
            li { a href=(format!("/house?room={}", in_address(&r.id)))
                aria-current=[marked("room", &r.id, Page::House)] dir="auto" { (r.name()) } }
        }
    };
    html! {
        h2 { "Rooms" }
        @for storey in storeys.iter().rev() {
            h3 { (parts::storey_name(*storey)) }
            ul { @for r in b.rooms.iter().filter(|r| !r.outdoors && r.storey == *storey) { (room(r)) } }
        }
        @if b.rooms.iter().any(|r| r.outdoors) {
            h3 { "Outdoors" }
            ul { @for r in b.rooms.iter().filter(|r| r.outdoors) { (room(r)) } }
        }
        h2 { "Walls, ceilings, floors" }
        ul {
            @for e in &b.boundaries {
                li { a href=(format!("/build-ups?id={}", in_address(b.build_ups.get(e.build_up.0).map_or("", |u| u.id.as_str()))))
                    dir="auto" { (parts::capital(e.name())) } }
            }
        }
        h2 { "Build-ups" }
        ul {
            @for u in &b.build_ups {
                li { a href=(format!("/build-ups?id={}", in_address(&u.id)))
                    aria-current=[marked("id", &u.id, Page::BuildUps)] dir="auto" {
                    (u.title.as_deref().unwrap_or(&u.id)) } }
            }
        }
    }
}

/// The verdicts by calculation alone: what follows at once from every change.
pub fn verdicts(ctx: &Ctx<'_>) -> Markup {
    let Some(mut r) = ctx.quick() else { return html! {} };
    let cautions = cautions_of(r.building, r.predicted.map(|p| &p.model));
    r.cautions = &cautions;
    // What stops the work stands open; on a telephone the rest would bury the page.
    let mut brief = parts::care_in_brief(&r);
    let rest = brief.split_off(brief.len().min(1));
    let all = judged(&r);
    html! {
        (show(&[Block::Answer(parts::answer(&r, &all))]))
        @if !all.is_empty() {
            table.short {
                caption { "Requirements, by calculation from the description alone" }
                thead { tr { th scope="col" { "Room" } th.n scope="col" { "dBA" } th scope="col" { "How it stands" } } }
                tbody {
                    @for j in &all {
                        tr {
                            th scope="row" dir="auto" { a href=(format!("/paths?from={}&to={}",
                                in_address(&j.source.id), in_address(&r.building.rooms[j.arrived.room.0].id))) {
                                (r.building.rooms[j.arrived.room.0].name()) } }
                            td.n { (j.arrived.level_a.map_or("–".into(), |l| wythe_report::chart::number(l.0, 0))) }
                            td { (if j.margin() < 0.0 { "▮ " } else if j.margin().is_finite() { "✓ " } else { "? " })
                                (parts::lacking(j)) }
                        }
                    }
                }
            }
        }
        (show(&brief))
        details {
            summary { "All cautions (" (cautions.len()) ")" }
            (show(&rest))
            (show(&parts::care(&r, true)))
        }
    }
}

/// What is shown while results are of an earlier state, or are not there yet.
pub fn staleness(ctx: &Ctx<'_>) -> Markup {
    html! {
        div #staleness data-live {
            @if ctx.done.is_none() {
                p { @if ctx.standing.doing.is_some() { "Being computed; this page fills itself when it is ready." }
                    @else { "Not computed yet." } }
            } @else if !ctx.fresh() {
                p.notice { "These results are of the project as it was before the last change." }
            }
        }
    }
}
