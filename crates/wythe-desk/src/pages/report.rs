//! The documents for the owner, the builder and the file, as printed.

use maud::{Markup, html};
use wythe_report::page::Document;

use super::{Ctx, Page, Sheet, staleness};

const READERS: [(&str, &str, &str); 3] = [
    ("owner", "Owner", "the answer, what to do and what it costs"),
    ("builder", "Builder", "what can be promised, details, buying list, checklist"),
    ("file", "File", "every figure and how it came about"),
];

/// The page.
pub fn sheet(ctx: &Ctx<'_>) -> Sheet {
    let asked = ctx.asked("for").unwrap_or("owner");
    let (word, name, what) = READERS.into_iter().find(|r| r.0 == asked).unwrap_or(READERS[0]);
    let ready = ctx.done.is_some();
    let middle = html! {
        (staleness(ctx))
        div #choice.choices data-live {
            p { span.lead { "For" }
                @for r in READERS {
                    a.choice href=(ctx.here_with(Page::Report, &[("for", r.0)])) aria-current=[(r.0 == word).then_some("true")] { (r.1) }
                }
            }
        }
        div #document data-live {
            @if ready {
                iframe.document src=(format!("/report/{word}.html?of={}", ctx.done.as_ref().map_or("", |d| d.mark.as_str())))
                    title=(format!("The document for the {word}")) {}
            }
        }
    };
    let answer = html! {
        p { (name) ": " (what) "." }
        @if ready {
            ul.downloads {
                li { a href=(format!("/report/{word}.html?download=1")) download { "Download HTML" } }
                li { a href=(format!("/report/{word}.pdf")) download { "Download PDF" } }
            }
            h2 { "Every figure as tables" }
            ul.downloads {
                li { a href="/tables/results.xlsx" download { "Download XLSX" } ", one workbook" }
                li { a href="/tables/results.zip" download { "Download CSV" } ", a zip with every table and curve" }
                li { a href="/tables/results-parquet.zip" download { "Download Parquet" } ", a zip with every table for programs" }
            }
            (histories(ctx))
            p { "The PDF is printed by a Chromium, Chrome or Edge found on this machine; where there is none, open the HTML in any browser and print it." }
        }
    };
    Sheet { title: format!("The document for the {word}"), middle, answer }
}

/// The levels of every recording against time.
fn histories(ctx: &Ctx<'_>) -> Markup {
    let survey = ctx.scene.project.as_ref().and_then(|p| p.survey.as_ref());
    let folder = ctx.open.store.folder();
    let all: Vec<_> = survey
        .map(|s| s.recordings.as_slice())
        .unwrap_or_default()
        .iter()
        .enumerate()
        .filter(|(_, r)| folder.join(&r.file).exists())
        .collect();
    html! {
        @if !all.is_empty() {
            h2 { "Levels against time" }
            ul.downloads { @for (i, r) in all {
                li { a href=(format!("/tables/history-{i}.parquet")) download aria-label=(format!("Download Parquet of {}", r.file)) { "Download Parquet" } ", "
                    span dir="auto" { (r.title.as_deref().unwrap_or(&r.file)) } }
            } }
            p.notes { "Every tenth of a second of every channel and band; the recording is read for it, which takes a moment." }
        }
    }
}

/// One document.
pub fn document(ctx: &Ctx<'_>, word: &str) -> Option<Document> {
    let done = ctx.done.as_ref()?;
    let r = done.gathered.results(&ctx.about);
    match word {
        "owner" => Some(wythe_report::owner(&r)),
        "builder" => Some(wythe_report::builder(&r)),
        "file" => Some(wythe_report::file(&r)),
        _ => None,
    }
}
