//! How wrong a prediction usually is: read from a table of residuals, never guessed here.

use std::sync::OnceLock;

use toml_edit::{DocumentMut, Item};
use wythe_bands::{Band, LevelDifference, Spectrum};

use crate::Family;

const TABLE: &str = include_str!("../../../reference/deviation.toml");
const OCTAVES: [(&str, f64); 9] = [
    ("31", 31.6),
    ("63", 63.1),
    ("125", 125.9),
    ("250", 251.2),
    ("500", 501.2),
    ("1000", 1000.0),
    ("2000", 1995.3),
    ("4000", 3981.1),
    ("8000", 7943.3),
];

type Table = Vec<(Family, [f64; 9])>;

/// Standard deviation of a family's error at a band, dB; between the octaves of the table it is
/// interpolated over the logarithm of frequency, outside it is held.
///
/// A third-octave value scatters more about its prediction than the octave it belongs to; the
/// table is of octaves, so it is a lower bound in narrow dips (coincidence).
pub(crate) fn of_family(family: Family) -> Spectrum<LevelDifference> {
    static READ: OnceLock<Table> = OnceLock::new();
    // The table is part of the program and a test reads it.
    let table = READ.get_or_init(|| read(TABLE).expect("the embedded deviations are well-formed"));
    let row = table.iter().find(|(f, _)| *f == family).map_or([8.0; 9], |(_, row)| *row);
    Band::range(Band::FIRST, Band::HZ_10000)
        .map(|band| (band, LevelDifference(interpolate(&row, band.centre().0))))
        .collect()
}

fn interpolate(row: &[f64; 9], frequency: f64) -> f64 {
    let x = frequency.ln();
    for i in 0..8 {
        let (x0, x1) = (OCTAVES[i].1.ln(), OCTAVES[i + 1].1.ln());
        if x <= x0 {
            return row[i];
        }
        if x < x1 {
            return row[i] + (row[i + 1] - row[i]) * (x - x0) / (x1 - x0);
        }
    }
    row[8]
}

fn read(text: &str) -> Result<Table, String> {
    let document: DocumentMut = text.parse().map_err(|e| format!("{e}"))?;
    let tables = document
        .get("deviation")
        .and_then(Item::as_array_of_tables)
        .ok_or_else(|| "no [[deviation]]".to_owned())?;
    tables
        .iter()
        .map(|t| {
            let word = t.get("family").and_then(Item::as_str).unwrap_or_default();
            let family = Family::ALL
                .into_iter()
                .find(|f| f.word() == word)
                .ok_or_else(|| format!("family `{word}`"))?;
            let values = t
                .get("octave_db")
                .and_then(Item::as_inline_table)
                .ok_or_else(|| format!("{word}: no octave_db"))?;
            let mut row = [0.0; 9];
            for (slot, (octave, _)) in row.iter_mut().zip(OCTAVES) {
                *slot = values
                    .get(octave)
                    .and_then(|v| v.as_float())
                    .filter(|v| *v > 0.0)
                    .ok_or_else(|| format!("{word}: {octave} Hz"))?;
            }
            Ok((family, row))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_table_has_every_family() {
        let table = read(TABLE).unwrap();
        assert!(Family::ALL.iter().all(|f| table.iter().any(|(g, _)| g == f)));
    }
}
