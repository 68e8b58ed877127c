//! The data sheet of a build-up as a table to type or paste into.

use maud::{Markup, html};
use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_partition::{BuildUp, Construction};

use super::Ctx;
use super::fields::{Field, Press};
use crate::edit::seen;

/// What stands in the table now, by thirds; a sheet of octaves stands at its octaves' centres.
fn values(u: &BuildUp) -> Spectrum<LevelDifference> {
    match &u.construction {
        Construction::Layers(_) => Spectrum::empty(),
        Construction::Measured(sheet) => {
            let mut all = sheet.thirds;
            for (octave, r) in sheet.octaves.iter() {
                all.set(octave.centre_band(), r);
            }
            all
        }
    }
}

/// The table with its form.
pub fn sheet(ctx: &Ctx<'_>, u: &BuildUp) -> Markup {
    let document = ctx.scene.document.as_ref();
    let own = document.is_some_and(|d| d.get(&format!("build_up[{}].id", u.id)).is_some());
    if !own {
        return html! { section #sheet data-live {} };
    }
    let path = format!("build_up[{}].table", u.id);
    let stands = document.and_then(|d| d.get(&path));
    let file = document.and_then(|d| d.text_at(&path)).filter(|t| !t.is_empty());
    let values = values(u);
    let usual = |b: &Band| (Band::HZ_50..=Band::HZ_5000).contains(b) || values.get(*b).is_some();
    let rest: Vec<Band> = Band::all().filter(|b| !usual(b)).collect();
    let cell = |b: Band| {
        let id = format!("r-{}", b.nominal());
        let text = values.get(b).map_or(String::new(), |r| r.0.to_string());
        html! {
            div.cell {
                label for=(id) { (b.nominal()) span.ears { " hertz, decibels" } }
                input id=(id) name=(id) value=(text) data-value=(text) inputmode="decimal" autocomplete="off"
                    aria-describedby=(format!("{id}-error"));
                p.error id=(format!("{id}-error")) role="alert" {}
            }
        }
    };
    let layered = matches!(&u.construction, Construction::Layers(_))
        || matches!(&u.construction, Construction::Measured(m) if !m.layers.is_empty());
    html! {
        section #sheet data-live {
            details open[stands.is_some()] {
                summary { "Data sheet: measured values in place of the calculation" }
                p.notes {
                    "Type the sound reduction index per third-octave band in decibels, or copy two columns from a spreadsheet and paste them into any cell. "
                    "Leave a cell empty where the sheet has no value. "
                    @if layered { "Bands without a value are calculated from the layers." }
                    @if let Some(file) = file { " The values stand in the file " code { (file) } "; saved here they stand in the project file." }
                }
                form #sheet-form method="post" action="/sheet" data-sheet {
                    input type="hidden" name="id" value=(u.id);
                    input type="hidden" name="back" value=(ctx.address);
                    input type="hidden" name="seen" value=(seen(document, &path));
                    div.cells { @for b in Band::all().filter(usual) { (cell(b)) } }
                    @if !rest.is_empty() {
                        details { summary { "Bands below 50 Hz and above 5 kHz" }
                            div.cells { @for b in rest { (cell(b)) } } }
                    }
                    (paste("sheet-pasted"))
                    p.error role="alert" {}
                    div.presses { button { "Save the table" } }
                }
                div.fields {
                    (Field::new("sheet-source", "Where it comes from", format!("build_up[{}].source", u.id),
                        u.standpoint.source.clone().unwrap_or_default()).form(ctx))
                    @if !layered {
                        @for (key, label, kind) in [("surface_mass", "Mass by the sheet", "kg/m2"), ("thickness", "Thickness by the sheet", "mm")] {
                            @let path = format!("build_up[{}].{key}", u.id);
                            @let value = document.and_then(|d| d.text_at(&path)).unwrap_or_default().to_owned();
                            (Field::new(format!("sheet-{key}"), label, path, value).kind(kind).form(ctx))
                        }
                    }
                }
                @if stands.is_some() {
                    (Press { what: "set", file: "", path, value: String::new(), at: 0, to: 0, name: "Take the data sheet out",
                        called: format!("take out the data sheet of {}", u.id) }.form(ctx, "sheet-remove"))
                }
            }
        }
    }
}

fn paste(id: &str) -> Markup {
    html! {
        div.paste {
            label for=(id) { "Or paste here: bands and values, parted by tabs, semicolons or commas" }
            textarea id=(id) name="pasted" rows="2" spellcheck="false" autocapitalize="off" data-value="" {}
        }
    }
}

/// A new build-up that is known by its sheet alone.
pub fn new_from_sheet(ctx: &Ctx<'_>) -> Markup {
    html! {
        details #new-from-sheet {
            summary { "A new build-up from a data sheet" }
            form method="post" action="/sheet" data-sheet {
                input type="hidden" name="back" value=(ctx.address);
                div.grid { label { "Name" input name="name" required autocomplete="off"; } }
                (paste("new-pasted"))
                p.error role="alert" {}
                div.presses { button { "Add it" } }
            }
        }
    }
}
