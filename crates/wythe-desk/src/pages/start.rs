//! The start page: new, open, demonstration, recent.

use std::path::PathBuf;

use maud::{Markup, html};

use super::whole;

/// The page. `said` is why the last attempt did not work.
pub fn start(recent: &[PathBuf], said: Option<&str>, doing: Option<&str>) -> String {
    let suggestion = std::env::current_dir().unwrap_or_default();
    let at = |name: &str| suggestion.join(name).display().to_string();
    let folder = |what: &'static str,
                  label: &'static str,
                  value: String,
                  button: &'static str|
     -> Markup {
        html! {
            form.grid method="post" action=(format!("/start/{what}")) {
                label { (label) input name="folder" value=(value) required autocomplete="off" spellcheck="false"; }
                button { (button) }
            }
        }
    };
    let body = html! {
        header.top { p.name { "wythe" } }
        main #middle.start tabindex="-1" {
            h1 { "Which building?" }
            @if let Some(said) = said { p.notice role="alert" { (said) } }
            @if let Some(doing) = doing { p.notice role="status" { (doing) } }
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
                h2 { "Look at the demonstration" }
                p { "The Ropewalk, an invented building with invented recordings: the whole job from the description to the report. Making its recordings takes a while." }
                (folder("demo", "Into which new folder", at("ropewalk"), "Make it and open it"))
            }
            section {
                h2 { "Begin your own" }
                p { "A folder with one commented file: two rooms to be changed into yours." }
                (folder("new", "Into which new folder", at("my-building"), "Begin"))
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
