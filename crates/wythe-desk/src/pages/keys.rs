//! Every key on one page.

use maud::html;

use super::{Ctx, Page, Sheet, verdicts};

/// The page.
pub fn sheet(ctx: &Ctx<'_>) -> Sheet {
    let rows: [(&str, &str); 10] = [
        ("u or Ctrl z", "undo"),
        ("Shift u or Ctrl Shift z", "redo"),
        ("1 … 9", "House: the state of the doors with that number"),
        ("Tab, Shift Tab", "next and previous field or button"),
        ("Enter", "save the field and stay in it"),
        ("Escape", "put back what stood in the field"),
        ("Arrow keys on a slider", "try a little more or less; it is saved when you leave it"),
        ("Alt ↑, Alt ↓", "Build-ups: move the layer you are in up or down"),
        ("/", "go to the outline"),
        ("?", "this page"),
    ];
    let middle = html! {
        table {
            caption { "Keys; none of them works while you type into a field" }
            thead { tr { th scope="col" { "Key" } th scope="col" { "Does" } } }
            tbody {
                @for p in Page::ALL { tr { th scope="row" { kbd { "g" } " then " kbd { (p.key()) } } td { (p.name()) } } }
                @for (key, does) in rows { tr { th scope="row" { kbd { (key) } } td { (does) } } }
            }
        }
        p { "Every picture has its figures in a table below it, and everything that can be dragged can also be typed." }
    };
    Sheet { title: "Everything by keyboard".into(), middle, answer: verdicts(ctx) }
}
