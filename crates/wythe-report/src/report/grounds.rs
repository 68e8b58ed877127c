//! What it all rests on: what is assumed, not known or invented, by which methods, from which files.

use wythe_bands::{Remark, Standing};

use super::results::{Note, Results};
use super::words::{capital, count, marked, sentence_case};
use crate::page::{Block, Column, ListKind, Table, Text};

/// What is missing of the whole, said plainly.
pub fn gaps(r: &Results<'_>) -> Vec<Block> {
    r.gaps
        .iter()
        .map(|g| {
            let todo = if g.to_do.is_empty() {
                String::new()
            } else {
                format!(" {}", sentence_case(&g.to_do))
            };
            Block::Notice(
                Text::new()
                    .strong(format!("No {}.", g.part))
                    .then(format!(" {}{todo}", sentence_case(&g.why))),
            )
        })
        .collect()
}

/// Lists of what is not known and what is assumed.
pub fn known(r: &Results<'_>) -> Vec<Block> {
    let mut out = Vec::new();
    let unknown: Vec<&Note> = r.notes.iter().filter(|n| n.standing == Standing::Unknown).collect();
    let yours: Vec<&Note> =
        r.notes.iter().filter(|n| n.standing != Standing::Unknown && !n.by_program).collect();
    let ours: Vec<&Note> =
        r.notes.iter().filter(|n| n.standing != Standing::Unknown && n.by_program).collect();
    if unknown.is_empty() && yours.is_empty() && ours.is_empty() {
        out.push(Block::Paragraph(
            "Nothing in the description is marked as assumed or unknown.".into(),
        ));
    }
    if !unknown.is_empty() {
        out.push(table("unknown", "Not known. Look here first.", &unknown));
    }
    if !yours.is_empty() {
        out.push(table("assumed", "Assumed in the description, and who says so.", &yours));
    }
    if !ours.is_empty() {
        let title = format!(
            "{} the program took for itself",
            capital(&count(ours.len(), "value", "values"))
        );
        let caption = "Taken by the program because the description says nothing; write the true \
                       value into the project file to replace it.";
        out.push(Block::Details(title, vec![table("taken", caption, &ours)]));
    }
    out
}

fn table(id: &str, caption: &str, notes: &[&Note]) -> Block {
    let rows = notes
        .iter()
        .map(|n| {
            vec![
                marked(&n.what),
                marked(&n.text),
                n.source.clone().unwrap_or_default().into(),
                Text::new().code(n.place.clone()),
            ]
        })
        .collect();
    Block::Table(Table {
        id: id.into(),
        caption: caption.into(),
        columns: vec![
            Column::words("What"),
            Column::words("Taken as"),
            Column::words("Who says so"),
            Column::words("Where"),
        ],
        rows,
        ..Table::default()
    })
}

/// What was invented for a demonstration.
pub fn invented(r: &Results<'_>) -> Option<Block> {
    let mut items: Vec<Text> = Vec::new();
    for s in r.building.sources.iter().filter(|s| s.invented) {
        items.push(format!("The spectrum of “{}”.", s.name()).into());
    }
    let prices = r.building.changes.iter().filter(|c| c.cost_invented).count();
    if prices > 0 {
        items.push(
            format!("{} of changes on offer.", capital(&count(prices, "price", "prices"))).into(),
        );
    }
    let says = |t: &Option<String>| t.as_ref().is_some_and(|t| t.contains("invented"));
    for t in r.building.targets.iter().filter(|t| says(&t.standpoint.source)) {
        let room = r.building.rooms[t.room.0].name();
        items.push(format!("The requirement {} for {room}.", t.text).into());
    }
    (!items.is_empty()).then_some(Block::List(ListKind::Plain, items))
}

/// Remarks of the calculation and of the recordings, each text once.
pub fn remarks(r: &Results<'_>) -> Vec<Text> {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    let mut add = |remark: &Remark| {
        let place = remark.place.clone().unwrap_or_default();
        match all.iter_mut().find(|(t, _)| *t == remark.text) {
            Some((_, places)) if !places.contains(&place) => places.push(place),
            Some(_) => {}
            None => all.push((remark.text.clone(), vec![place])),
        }
    };
    r.remarks.iter().for_each(&mut add);
    if let Some(p) = r.best() {
        p.model.remarks.iter().for_each(&mut add);
    }
    if let Some(m) = r.measured {
        m.remarks.iter().for_each(&mut add);
    }
    all.into_iter()
        .map(|(text, mut places)| {
            places.retain(|p| !p.is_empty());
            let rest = places.len().saturating_sub(MOST_PLACES);
            places.truncate(MOST_PLACES);
            let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
            let text = marked(&sentence_case(&text));
            if places.is_empty() {
                text
            } else {
                text.then(format!(" ({}{more})", places.join("; ")))
            }
        })
        .collect()
}

/// Places listed behind a remark.
const MOST_PLACES: usize = 4;

/// Methods used, in words with their sources.
pub fn methods(r: &Results<'_>) -> Block {
    let mut items: Vec<Text> = vec![
        "Levels in all rooms: a power balance of all coupled rooms in third-octave bands, 20 Hz to \
         10 kHz, with every way the sound takes and its share."
            .into(),
        "Walls, floors, doors and gaps: published methods by author and year, chosen by what the \
         element is made of; each band carries a standard deviation measured against published \
         laboratory tests."
            .into(),
        "Chances: a Monte Carlo calculation with errors that rise and fall together over about \
         an octave."
            .into(),
    ];
    if let Some(m) = r.measured {
        items.push(
            "Recordings: calibrated third-octave levels, energy means over positions, correction \
             for background; where the background is too near, a limit instead of a value."
                .into(),
        );
        let mut standards: Vec<&str> =
            m.pairs.iter().flat_map(|p| &p.ratings).map(|x| x.standard).collect();
        standards.sort_unstable();
        standards.dedup();
        if !standards.is_empty() {
            items.push(format!("Ratings: {}.", standards.join(", ")).into());
        }
    }
    if r.explained.is_some() {
        items.push(
            "What the recordings point to: each possible fault is weighed by how well it explains \
             all recordings at once, beside the error of the prediction itself."
                .into(),
        );
    }
    Block::List(ListKind::Plain, items)
}

/// Files with their fingerprints.
pub fn files(r: &Results<'_>) -> Option<Block> {
    (!r.files.is_empty()).then(|| {
        Block::Table(Table {
            id: "files".into(),
            caption: "The files this was computed from, with the SHA-256 fingerprint of their \
                      bytes: the same files give the same figures."
                .into(),
            columns: vec![
                Column::words("File"),
                Column::figures("Bytes"),
                Column::words("Fingerprint"),
            ],
            rows: r
                .files
                .iter()
                .map(|f| {
                    vec![
                        Text::new().code(f.name.clone()),
                        f.bytes.to_string().into(),
                        Text::new().code(f.sha256.clone()),
                    ]
                })
                .collect(),
            ..Table::default()
        })
    })
}

/// Names of the methods for the running foot.
pub fn method_names(r: &Results<'_>) -> Vec<String> {
    let mut out = vec!["power balance of coupled rooms".to_owned()];
    if let Some(m) = r.measured {
        for p in m.pairs.iter().flat_map(|p| &p.ratings) {
            if !out.iter().any(|x| x == p.standard) {
                out.push(p.standard.to_owned());
            }
        }
    }
    out
}
