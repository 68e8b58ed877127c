//! The text itself, for whatever no field can change, and for mending what cannot be read.

use maud::{Markup, html};
use wythe_project::fingerprint;

use super::fields::hidden;
use super::{Ctx, Sheet, verdicts};

/// The page.
pub fn sheet(ctx: &Ctx<'_>) -> Sheet {
    let survey = ctx.asked("which") == Some("survey");
    let (name, text) = if survey {
        (
            wythe_project::SURVEY_FILE,
            ctx.scene.texts.survey.clone().unwrap_or_else(|| "wythe = 1\n".into()),
        )
    } else {
        (wythe_project::PROJECT_FILE, ctx.scene.texts.project.clone())
    };
    let middle = html! {
        p.choices {
            a.choice href="/file" aria-current=[(!survey).then_some("true")] { "The building" }
            a.choice href="/file?which=survey" aria-current=[survey.then_some("true")] { "The survey" }
        }
        div #problems data-live { (problems(ctx)) }
        form.whole method="post" action="/edit" data-edit {
            (hidden(ctx, "text", if survey { "survey" } else { "" }, "", "text", &format!("the text of {name}")))
            span #seen-text data-live { input type="hidden" name="seen" value=(fingerprint(&text)); }
            label for="text" { (name) }
            textarea #text data-live name="value" rows="30" spellcheck="false" autocapitalize="off" { "\n" (text) }
            p.error role="alert" {}
            button { "Save" }
        }
    };
    Sheet { title: format!("The text of {name}"), middle, answer: verdicts(ctx) }
}

/// In place of every other page while the project cannot be used.
pub fn mend(ctx: &Ctx<'_>) -> Sheet {
    Sheet {
        title: "The project cannot be used yet".into(),
        middle: html! {
            p { "Nothing is lost. Mend the lines below " a href="/file" { "in the file" } ", or undo the last change." }
            (problems(ctx))
        },
        answer: html! { p { "Not known: the description has mistakes." } },
    }
}

fn problems(ctx: &Ctx<'_>) -> Markup {
    let all = &ctx.scene.reading.errors;
    html! {
        @if !all.is_empty() {
            ul.problems {
                @for e in all {
                    li { strong { (e.file) " line " (e.line) } ": " (e.text)
                        @if let Some(help) = &e.help { ". " (help) } }
                }
            }
        }
    }
}
