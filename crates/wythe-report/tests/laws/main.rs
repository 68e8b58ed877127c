//! What must hold for any picture and any page.

#[allow(dead_code)]
#[path = "../../examples/gallery.rs"]
mod gallery;

mod colours;
mod gaps;
mod hostile_input;
mod pages;
mod pictures;
mod xml;

use wythe_report::chart::Drawing;
use wythe_report::page::{Block, Figure};

/// Every picture of the gallery in both forms.
fn drawings() -> Vec<Drawing> {
    fn figures(blocks: Vec<Block>) -> Vec<Figure> {
        blocks
            .into_iter()
            .flat_map(|b| match b {
                Block::Figure(f) => vec![*f],
                Block::Details(_, inner) => figures(inner),
                _ => Vec::new(),
            })
            .collect()
    }
    let all: Vec<Drawing> = figures(gallery::document().blocks)
        .into_iter()
        .flat_map(|f| std::iter::once(f.wide).chain(f.narrow))
        .collect();
    assert!(all.len() >= 20, "the gallery shows every kind of picture in two forms");
    all
}
