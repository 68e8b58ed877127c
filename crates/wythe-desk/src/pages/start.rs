//! The start page: new, open, demonstration, recent.

use std::path::PathBuf;

use maud::{Markup, html};

use wythe_partition::catalogue;

use super::whole;
use crate::first::{Answers, CRITERIA, DOORS, PLACES};
use crate::making::Standing;

/// The page. `said` is why the last attempt did not work.
pub fn start(
    recent: &[PathBuf],
    said: Option<&str>,
    making: &Standing,
    answers: &Answers,
) -> String {
    let suggestion = std::env::current_dir().unwrap_or_default();
    let at = |name: &str| suggestion.join(name).display().to_string();
    let folder = |what: &'static str,
                  label: &'static str,
                  value: String,
                  button: &'static str|
     -> Markup {
        html! {
            form.grid method="post" action=(format!("/start/{what}")) {
                label.place { (label) input name="folder" value=(value) required autocomplete="off" spellcheck="false"; }
                button { (button) }
            }
        }
    };
    let body = html! {
        header.top { p.name { "wythe" } }
        main #middle.start tabindex="-1" {
            h1 { "Which building?" }
            @if let Some(said) = said { p.notice role="alert" { (said) } }
            (being_made(making))
            @if recent.is_empty() { p { "Nothing is open yet. Five questions give a first answer in a minute; the demonstration shows the whole job." } }
            @if !recent.is_empty() {
                section {
                    h2 { "Opened lately" }
                    ul.files {
                        @for path in recent {
                            li { form method="post" action="/start/open" {
                                input type="hidden" name="folder" value=(path.display());
                                button { (path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned())) }
                                " " span.notes { (path.display()) }
                            } }
                        }
                    }
                }
            }
            section {
                h2 { "A first answer from five questions" }
                (questions(answers, &at("my-building")))
            }
            section {
                h2 { "Look at the demonstration" }
                p { "The Ropewalk, an invented building with invented recordings: the whole job from the description to the report. Making its recordings takes a while." }
                (folder("demo", "Into which new folder", at("ropewalk"), "Make it and open it"))
            }
            section {
                h2 { "Begin with a text file" }
                p { "A folder with one commented file: two rooms to be changed into yours." }
                (folder("new", "Into which new folder", at("my-project"), "Begin"))
            }
            section {
                h2 { "Open one that is there" }
                (folder("open", "Folder that holds wythe.toml", String::new(), "Open"))
            }
            p.notes { "Nothing leaves this machine." }
        }
    };
    whole("wythe", body, String::new(), Default::default())
}

/// How far the demonstration is.
fn being_made(making: &Standing) -> Markup {
    html! {
        @if let Some(doing) = &making.doing {
            section.notice #making data-making {
                p #making-doing role="status" { "The demonstration: " (doing) "…" }
                progress #making-share max="1" value=(format!("{:.2}", making.share)) aria-label="Share done" {}
                form method="post" action="/start/stop" { button { "Stop" } }
                noscript { p { a href="/start" { "Look again" } } }
            }
        }
        @if let Some(why) = &making.failed { p.notice role="alert" { "The demonstration was not made: " (why) "." } }
        @if making.done { p.notice role="status" { "The demonstration is ready: " a href="/house" { "look at it" } "." } }
    }
}

/// The five questions.
fn questions(a: &Answers, folder: &str) -> Markup {
    let choose = |name: &str, words: Vec<(String, String)>, now: &str| {
        html! { select name=(name) { @for (value, shown) in &words { option value=(value) selected[value == now] { (shown) } } } }
    };
    let own = |list: &[(&str, &str)]| {
        list.iter().map(|(v, n)| ((*v).to_owned(), (*n).to_owned())).collect::<Vec<_>>()
    };
    let spectra: Vec<(String, String)> = wythe_project::spectra::names()
        .into_iter()
        .map(|n| {
            let invented = wythe_project::spectra::named(n).is_some_and(|s| s.invented);
            (n.to_owned(), if invented { format!("{n} (invented spectrum)") } else { n.to_owned() })
        })
        .collect();
    let parts: Vec<(String, String)> = catalogue()
        .ready()
        .iter()
        .filter(|r| !matches!(r.kind.as_str(), "door" | "glazing"))
        .map(|r| (r.name.clone(), r.name.clone()))
        .collect();
    let text = |name: &str, value: &str| {
        html! { input name=(name) value=(value) required autocomplete="off"; }
    };
    html! {
        form #five method="post" action="/start/first" {
            ol.questions {
                li { fieldset { legend { "What is loud, and how loud in its own room?" } div.grid {
                    label { "Sound" (choose("spectrum", spectra, &a.spectrum)) }
                    label { "Level there, dB" (text("level", &a.level)) } } } }
                li { fieldset { legend { "How large is that room?" } div.grid {
                    label { "Width" (text("width", &a.width)) }
                    label { "Depth" (text("depth", &a.depth)) }
                    label { "Height" (text("height", &a.height)) } } } }
                li { fieldset { legend { "Who is not to hear it, and where?" } div.grid {
                    label { "Name of the quiet room" (text("quiet", &a.quiet)) }
                    label { "It lies" (choose("place", own(&PLACES), &a.place)) } } } }
                li { fieldset { legend { "What is between?" } div.grid {
                    label { "Wall, floor or ceiling" (choose("between", parts, &a.between)) }
                    label { "Door" (choose("door", own(&DOORS), &a.door)) } } } }
                li { fieldset { legend { "How quiet does it have to be?" } div.grid {
                    label { "Quiet enough" (choose("criterion", own(&CRITERIA), &a.criterion)) } } } }
            }
            div.grid {
                label { "Name of the building" (text("title", &a.title)) }
                label.place { "Into which new folder" input name="folder" value=(folder) required autocomplete="off" spellcheck="false"; }
                button { "Give the first answer" }
            }
            p.notes { "A first estimate by calculation; what you do not know yet is marked as assumed. Local rules decide what is allowed." }
        }
    }
}
