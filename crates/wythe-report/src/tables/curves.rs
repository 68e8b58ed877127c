//! Every measured and predicted curve as a file of its own that `wythe rate` reads.

use wythe_bands::{Band, LevelDifference, Spectrum};
use wythe_fieldtest::State;

use super::{Cell, Sheet};
use crate::report::Results;

/// A curve in the form `frequency_hz,value_db`.
#[derive(Clone, Debug, PartialEq)]
pub struct CurveFile {
    /// Name of its file: counted, so that no name of a room has to serve as one.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// What a curve is, besides its values.
struct About<'a> {
    basis: &'a str,
    from: &'a str,
    to: &'a str,
    state: Option<&'a str>,
    quantity: &'a str,
    method: &'a str,
}

/// All curves, and the table that says what each of them is.
pub fn curves(r: &Results<'_>) -> (Sheet, Vec<CurveFile>) {
    let mut sheet = Sheet::new(
        "curves",
        "Which file of the folder `curves` holds what; the last column names a method that rates it.",
        &["file", "basis", "source_room", "receiving_room", "state", "quantity", "rate_by"],
    );
    let mut files = Vec::new();
    let mut add = |about: About<'_>, values: Vec<(Band, &str, f64)>| {
        let values: Vec<_> = values.into_iter().filter(|(_, _, v)| v.is_finite()).collect();
        if values.is_empty() {
            return;
        }
        let name = format!("{:04}.csv", files.len() + 1);
        let mut text = String::from("frequency_hz,value_db\n");
        for (band, sign, value) in values {
            // All digits: a curve rounded here and rounded again by a standard's rule could be
            // rated a decibel apart.
            text.push_str(&format!("{},{sign}{value}\n", band.nominal()));
        }
        sheet.rows.push(vec![
            Cell::words(format!("curves/{name}")),
            Cell::words(about.basis),
            Cell::words(about.from),
            Cell::words(about.to),
            Cell::words(about.state.unwrap_or_default()),
            Cell::words(about.quantity),
            Cell::words(about.method),
        ]);
        files.push(CurveFile { name, text });
    };
    let room = |i: wythe_building::RoomIndex| r.building.rooms[i.0].id.as_str();
    let differences =
        |values: &Spectrum<LevelDifference>, state: &Spectrum<State>| -> Vec<(Band, &str, f64)> {
            values
                .iter()
                .map(|(b, v)| {
                    let bound = state.get(b).is_some_and(State::is_bound);
                    (b, if bound { ">= " } else { "" }, v.0)
                })
                .collect()
        };
    if let Some(m) = r.measured {
        for p in &m.pairs {
            let x = &p.result;
            for (quantity, values) in [
                ("D", &x.difference),
                ("DnT", &x.standardized),
                ("Dn", &x.normalized),
                ("R'", &x.apparent_reduction),
            ] {
                let about = About {
                    basis: "measured",
                    from: room(p.source),
                    to: room(p.receiver),
                    state: p.state.as_deref(),
                    quantity,
                    method: if quantity == "D" { "e413" } else { "iso717-1" },
                };
                add(about, differences(values, &x.state));
            }
        }
        for i in &m.impacts {
            for (quantity, values) in
                [("L'nT", &i.result.standardized), ("L'n", &i.result.normalized)]
            {
                let about = About {
                    basis: "measured",
                    from: room(i.source),
                    to: room(i.receiver),
                    state: i.state.as_deref(),
                    quantity,
                    method: "iso717-2",
                };
                let values = values
                    .iter()
                    .map(|(b, v)| {
                        let bound = i.result.state.get(b).is_some_and(State::is_bound);
                        (b, if bound { "<= " } else { "" }, v.0)
                    })
                    .collect();
                add(about, values);
            }
        }
        for f in &m.facades {
            for (quantity, values) in
                [(f.result.quantity, &f.result.standardized_2m), ("R'", &f.result.reduction)]
            {
                let about = About {
                    basis: "measured",
                    from: room(f.source),
                    to: room(f.receiver),
                    state: f.state.as_deref(),
                    quantity,
                    method: "iso717-1",
                };
                add(about, differences(values, &f.result.field.state));
            }
        }
    }
    let predictions =
        [("described", r.predicted), ("as found", r.found.map(|f| f.predicted)), ("plan", r.after)];
    for (basis, predicted) in predictions {
        let Some(predicted) = predicted else { continue };
        for from in &predicted.sources {
            let Some(source) = r.building.sources.get(from.source) else { continue };
            for a in &from.arrived {
                let about = |quantity, method| About {
                    basis,
                    from: room(source.room),
                    to: room(a.room),
                    state: None,
                    quantity,
                    method,
                };
                let levels = a.levels.iter().map(|(b, l)| (b, "", l.0)).collect();
                add(about("level", "nr"), levels);
                let difference = a.received.difference.iter().map(|(b, d)| (b, "", d.0)).collect();
                add(about("D", "e413"), difference);
            }
        }
    }
    (sheet, files)
}
