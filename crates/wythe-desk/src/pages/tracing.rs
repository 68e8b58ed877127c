//! Scans of plans under the rooms: brought, scaled, shown more or less, taken out.

use maud::{Markup, html};
use wythe_report::report::parts;

use super::Ctx;
use super::fields::{Field, Press, hidden};
use crate::tracing::Traced;
use crate::units;

/// The part of the page for pictures to trace from.
pub fn tracing(ctx: &Ctx<'_>, all: &[Traced], storey: i32) -> Markup {
    let units = ctx.about.units;
    html! {
        section #tracing data-live {
            details open[!all.is_empty()] {
                summary { "A scan or photo of a plan to trace from" }
                @for t in all {
                    @let path = |key: &str| format!("tracing[{}].{key}", t.index);
                    @let text = |key: &str| ctx.scene.document.as_ref().and_then(|d| d.text_at(&path(key))).unwrap_or_default().to_owned();
                    fieldset.opening {
                        legend { (t.file) " under the " (parts::storey_name(t.storey).to_lowercase()) }
                        @if t.size.is_none() { p.notice { "The picture cannot be shown: it is not in the project folder, or neither PNG nor JPEG." } }
                        form.grid #{"scale-" (t.index)} method="post" action="/edit" data-edit data-scale=(t.index) data-storey=(t.storey) {
                            (hidden(ctx, "tracing-scale", "", &format!("tracing[{}]", t.index), units::unit("m", units), &format!("scale of {}", t.file)))
                            input type="hidden" name="from" value="";
                            input type="hidden" name="like" value="";
                            button.wide-only type="button" data-points { "Show two points…" }
                            label { "Length between them" input name="value" required autocomplete="off"; }
                            button { "Set the scale" }
                            p.error role="alert" {}
                        }
                        div.fields {
                            (Field::new(format!("tracing-{}-width", t.index), "Width of the whole picture", path("width"), text("width")).kind("m").form(ctx))
                            (Field::new(format!("tracing-{}-x", t.index), "Left edge", path("x"), text("x")).kind("m").form(ctx))
                            (Field::new(format!("tracing-{}-y", t.index), "Lower edge", path("y"), text("y")).kind("m").form(ctx))
                            (Field::new(format!("tracing-{}-opacity", t.index), "How strongly shown", path("opacity"), t.opacity.to_string()).kind("number").slide(0.05, 1.0, 0.05).form(ctx))
                            (Field::new(format!("tracing-{}-storey", t.index), "Storey", path("storey"), t.storey.to_string()).kind("number").form(ctx))
                        }
                        (Press { what: "remove", file: "", path: "tracing".into(), value: String::new(), at: t.index, to: 0,
                            name: "Take it out", called: format!("take out {}", t.file) }.form(ctx, &format!("tracing-{}-remove", t.index)))
                    }
                }
                div.drop data-tracing=(storey) {
                    label for="tracing-file" { "Drop a PNG or JPEG here, or choose one (up to 12 MB); it is kept in the project folder" }
                    input #tracing-file type="file" accept="image/png,image/jpeg";
                    p #tracing-said .error role="alert" {}
                }
                p.notes { "Taken out, a picture stays in the folder drawings of the project." }
            }
        }
    }
}
