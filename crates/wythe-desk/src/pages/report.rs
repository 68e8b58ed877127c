//! The documents for the owner, the builder and the file, as printed.

use maud::html;
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
            p { "The PDF is printed by a Chromium, Chrome or Edge found on this machine; where there is none, open the HTML in any browser and print it." }
        }
    };
    Sheet { title: format!("The document for the {word}"), middle, answer }
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
