//! The document for the owner-builder: the answer, the picture of the house, what to do and what
//! it costs, the cautions; behind it the evidence.

use super::results::Results;
use super::words::{capital, count};
use super::{answer, build_ups, care, changes, compared, grounds, house, judged, rooms};
use crate::page::{Block, Document, Text};

/// Rooms with a chart of their own; the table has them all.
const MOST_ROOMS: usize = 4;
/// Recorded pairs with a chart of their own.
const MOST_PAIRS: usize = 3;
/// Sections drawn.
const MOST_SECTIONS: usize = 4;

/// The owner's document.
pub fn owner(r: &Results<'_>) -> Document {
    let judged = judged::judged(r);
    let mut blocks = Vec::new();
    blocks.push(Block::Answer(answer::answer(r, &judged)));
    blocks.extend(answer::facts(r, &judged));
    if r.invented() {
        blocks.push(Block::Notice(Text::new().invented().then(
            " marks what was made up for a demonstration: it belongs to no real building, and \
                 no decision may rest on it.",
        )));
    }
    let steps = answer::steps(r, &judged);
    if !steps.is_empty() {
        blocks.push(heading("What to do, in this order"));
        blocks.push(answer::steps_block(steps));
    }
    blocks.extend(care::on_the_first_page(r));
    blocks.extend(grounds::gaps(r));

    let mut picture = house::plans(r, &judged);
    picture.extend(house::levels_table(r, &judged));
    picture.extend(house::explain_criteria(&judged));
    part(&mut blocks, "How loud it is in every room", picture);
    let charts = rooms::charts(r, &judged, MOST_ROOMS, false);
    part(&mut blocks, "Where it is too loud, and which way it comes", charts);
    part(&mut blocks, "What the recordings say", recordings(r));
    part(&mut blocks, "What the next money buys", changes::blocks(r));
    part(&mut blocks, "How it is built", build_ups::drawings(r, &judged, MOST_SECTIONS));
    part(&mut blocks, "Where somebody could be hurt", care::blocks(r, false));
    part(&mut blocks, "What is assumed and what is not known", grounds::known(r));
    part(&mut blocks, "What is invented", grounds::invented(r).into_iter().collect());
    let mut method = vec![grounds::methods(r)];
    let remarks = grounds::remarks(r).len();
    if remarks > 0 {
        let which = count(remarks, "remark", "remarks");
        method.push(Block::Paragraph(
            format!("{} made on the way stand in the document for the file.", capital(&which))
                .into(),
        ));
    }
    method.extend(grounds::files(r));
    part(&mut blocks, "How this was computed, and from what", method);
    document(r, format!("{}: is it quiet enough?", r.building.title), blocks)
}

/// What was recorded and what it points to.
fn recordings(r: &Results<'_>) -> Vec<Block> {
    let Some(measured) = r.measured else { return Vec::new() };
    let mut out = compared::findings(r);
    out.extend(compared::charts(r, MOST_PAIRS, false));
    out.extend(compared::ratings_table(r, measured));
    out
}

/// A heading with what stands under it; nothing without content.
pub fn part(blocks: &mut Vec<Block>, title: &str, inside: Vec<Block>) {
    if !inside.is_empty() {
        blocks.push(heading(title));
        blocks.extend(inside);
    }
}

pub fn heading(text: &str) -> Block {
    Block::Heading { level: 2, text: text.into() }
}

/// The sheet all documents share.
pub fn document(r: &Results<'_>, title: String, blocks: Vec<Block>) -> Document {
    Document {
        title,
        language: "en".into(),
        project: r.building.title.clone(),
        date: r.about.date.clone(),
        version: r.about.version.clone(),
        methods: grounds::method_names(r),
        paper: r.about.paper,
        contents: false,
        blocks,
    }
}
