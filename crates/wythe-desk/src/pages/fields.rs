//! Forms that change one thing each.

use maud::{Markup, html};

use super::Ctx;
use crate::edit::seen;
use crate::units;

/// One value with its form.
pub struct Field<'a> {
    /// Id on the page, unique.
    pub id: String,
    /// What it is.
    pub label: &'a str,
    /// Where it stands in the file.
    pub path: String,
    /// What stands there, for people.
    pub value: String,
    /// `text`, `number`, `raw` or a unit.
    pub kind: &'a str,
    /// What it is called in the history.
    pub called: String,
    /// Words to choose from; free text where empty.
    pub choices: Vec<(String, String)>,
    /// Slider beside it: lowest, highest, step, in the unit of the kind.
    pub slide: Option<(f64, f64, f64)>,
    /// Whether the slider is there also where nothing stands, at its highest: no limit.
    pub open: bool,
    /// `survey` or empty.
    pub file: &'a str,
    /// Whether the label is for ears only, as in a table with heads.
    pub quiet: bool,
}

impl<'a> Field<'a> {
    /// A text field.
    pub fn new(id: impl Into<String>, label: &'a str, path: String, value: String) -> Field<'a> {
        Field {
            id: id.into(),
            label,
            called: format!("{label} at {path}"),
            path,
            value,
            kind: "text",
            choices: Vec::new(),
            slide: None,
            open: false,
            file: "",
            quiet: false,
        }
    }

    /// With another kind.
    pub fn kind(mut self, kind: &'a str) -> Field<'a> {
        self.kind = kind;
        self
    }

    /// With words to choose from; what stands there now is always among them.
    pub fn choose(mut self, words: impl IntoIterator<Item = (String, String)>) -> Field<'a> {
        self.choices = words.into_iter().collect();
        if !self.choices.iter().any(|(v, _)| *v == self.value) {
            let name = if self.value.is_empty() { "–" } else { &self.value };
            self.choices.insert(0, (self.value.clone(), name.to_owned()));
        }
        self
    }

    /// With a slider.
    pub fn slide(mut self, lowest: f64, highest: f64, step: f64) -> Field<'a> {
        self.slide = Some((lowest, highest, step));
        self
    }

    /// With a slider that stands at its highest where nothing is stated.
    pub fn slide_open(mut self, lowest: f64, highest: f64, step: f64) -> Field<'a> {
        self.open = true;
        self.slide(lowest, highest, step)
    }

    /// In the survey.
    pub fn survey(mut self) -> Field<'a> {
        self.file = "survey";
        self
    }

    /// With its label for ears only.
    pub fn quiet(mut self) -> Field<'a> {
        self.quiet = true;
        self
    }

    /// The form.
    pub fn form(self, ctx: &Ctx<'_>) -> Markup {
        let document = if self.file == "survey" { &ctx.scene.survey } else { &ctx.scene.document };
        let error = format!("{}-error", self.id);
        let units = ctx.about.units;
        let stated = units::count(&self.value, self.kind, units);
        let slide = self.slide.map(|range| units::slide(range, self.kind, units));
        // A slider of what is not stated stands at its highest.
        let number = stated.or(slide.filter(|_| self.open).map(|(_, high, _)| high));
        let value = units::shown(&self.value, self.kind, units);
        let kind = units::unit(self.kind, units);
        html! {
            form.field method="post" action="/edit" data-edit {
                (hidden(ctx, "set", self.file, &self.path, kind, &self.called))
                input type="hidden" name="seen" value=(seen(document.as_ref(), &self.path));
                label for=(self.id) class=[self.quiet.then_some("ears")] { (self.label) }
                @if self.choices.is_empty() {
                    input id=(self.id) name="value" value=(value) autocomplete="off"
                        aria-describedby=(error) data-value=(value);
                } @else {
                    select id=(self.id) name="value" aria-describedby=(error) data-value=(self.value) {
                        @for (value, name) in &self.choices {
                            option value=(value) selected[*value == self.value] { (name) }
                        }
                    }
                }
                @if let (Some((low, high, step)), Some(number)) = (slide, number) {
                    input type="range" id=(format!("{}-slide", self.id)) min=(low) max=(stated.map_or(high, |s| high.max((s * 1.5 / step).round() * step))) step=(step)
                        value=(number) data-slide=(self.id) aria-label=(format!("{}, slider", self.label));
                }
                p.error id=(error) role="alert" {}
                noscript { button { "Save" } }
            }
        }
    }
}

/// The hidden part all forms share.
pub fn hidden(
    ctx: &Ctx<'_>,
    what: &str,
    file: &str,
    path: &str,
    kind: &str,
    called: &str,
) -> Markup {
    html! {
        input type="hidden" name="do" value=(what);
        input type="hidden" name="file" value=(file);
        input type="hidden" name="path" value=(path);
        input type="hidden" name="kind" value=(kind);
        input type="hidden" name="called" value=(called);
        input type="hidden" name="back" value=(ctx.address);
    }
}

/// A button that changes something by itself.
pub struct Press<'a> {
    /// What to do.
    pub what: &'a str,
    /// `survey` or empty.
    pub file: &'a str,
    /// Where.
    pub path: String,
    /// With what.
    pub value: String,
    /// Position.
    pub at: usize,
    /// Position to move to.
    pub to: usize,
    /// On the button.
    pub name: &'a str,
    /// Whole sentence for ears and history.
    pub called: String,
}

impl Press<'_> {
    /// The form.
    pub fn form(self, ctx: &Ctx<'_>, id: &str) -> Markup {
        let document = if self.file == "survey" { &ctx.scene.survey } else { &ctx.scene.document };
        html! {
            form.press method="post" action="/edit" data-edit {
                (hidden(ctx, self.what, self.file, &self.path, "raw", &self.called))
                input type="hidden" name="seen" value=(seen(document.as_ref(), &self.path));
                input type="hidden" name="value" value=(self.value);
                input type="hidden" name="at" value=(self.at);
                input type="hidden" name="to" value=(self.to);
                button id=(id) aria-label=(format!("{}: {}", self.name, self.called)) { (self.name) }
                p.error role="alert" {}
            }
        }
    }
}
