//! Curves in CSV files: `frequency_hz` and one value column.

use wythe_bands::{Band, OctaveSpectrum, Spectrum};

use crate::problem::{Notes, Place};
use crate::record::{BandTable, short};

/// Reads a CSV curve that is already in `notes.texts[file]`. The header is `frequency_hz` and
/// `column`; lines starting with `#` are notes. Bands rise; missing ones stay missing.
pub(crate) fn read(
    notes: &mut Notes,
    file: usize,
    column: &str,
    least: f64,
    most: f64,
) -> Option<BandTable> {
    let text = notes.texts.get(file)?.text.clone();
    let header = format!("frequency_hz,{column}");
    let example = format!("the file begins with `{header}`, then one band a line: `125,32.5`");
    let before = notes.problems.len() + notes.dropped;
    let mut seen_header = false;
    let mut entries: Vec<(Band, f64)> = Vec::new();
    let mut offset = 0;
    for raw in text.split_inclusive('\n') {
        let start = offset;
        offset += raw.len();
        let line = raw.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let indent = raw.len() - raw.trim_start().len();
        let place = Place { file, span: start + indent..start + indent + line.len() };
        let cells: Vec<&str> = line.split(',').map(|c| c.trim().trim_matches('"')).collect();
        if !seen_header {
            seen_header = true;
            if cells.len() == 2
                && cells[0].eq_ignore_ascii_case("frequency_hz")
                && (cells[1].eq_ignore_ascii_case(column)
                    || cells[1].eq_ignore_ascii_case("value_db"))
            {
                continue;
            }
            if line.contains(';') {
                let help = "columns are parted by commas, decimals written with a point";
                notes.problem(
                    "project::sheet",
                    &place,
                    "the columns are parted by semicolons",
                    help,
                );
            } else {
                let text = format!("the header is `{}`, expected `{header}`", short(line));
                notes.problem("project::sheet", &place, text, example);
            }
            return None;
        }
        if cells.len() != 2 {
            let text = format!("two columns expected, here are {}", cells.len());
            let help = "decimals are written with a point: `125,32.5`";
            notes.problem("project::sheet", &place, text, help);
            continue;
        }
        let Some(band) = Band::from_nominal(cells[0]) else {
            let text = format!("`{}` is no band", short(cells[0]));
            let help = "bands are named by their nominal frequency in hertz: 63, 80, 100, 125, …";
            notes.problem("project::sheet", &place, text, help);
            continue;
        };
        if cells[1].is_empty() {
            continue;
        }
        let value = match crate::quantity::number(cells[1]) {
            Some(v) if v >= least && v <= most => v,
            _ => {
                let text = format!(
                    "`{}` is no value in decibels between {least} and {most}",
                    short(cells[1])
                );
                let help = "leave the line out where the sheet has no value";
                notes.problem("project::sheet", &place, text, help);
                continue;
            }
        };
        match entries.last() {
            Some((last, _)) if *last == band => {
                let text = format!("{band} Hz stands twice");
                notes.problem("project::sheet", &place, text, "keep one of the lines");
            }
            Some((last, _)) if *last > band => {
                let twice = entries.iter().any(|(b, _)| *b == band);
                let text = if twice {
                    format!("{band} Hz stands twice")
                } else {
                    format!("{band} Hz comes after {last} Hz")
                };
                notes.problem(
                    "project::sheet",
                    &place,
                    text,
                    "bands run from low to high, each once",
                );
            }
            _ => entries.push((band, value)),
        }
    }
    if notes.problems.len() + notes.dropped > before {
        return None;
    }
    if entries.is_empty() {
        let place = Place { file, span: 0..0 };
        notes.problem("project::sheet", &place, "the file holds no band", example);
        return None;
    }
    let by_octaves = entries.iter().all(|(b, _)| b.octave().is_some_and(|o| o.centre_band() == *b));
    let mut thirds = Spectrum::empty();
    let mut octaves = OctaveSpectrum::empty();
    for (band, value) in entries {
        match band.octave() {
            Some(octave) if by_octaves => octaves.set(octave, value),
            _ => thirds.set(band, value),
        }
    }
    Some(BandTable { thirds, octaves, by_octaves })
}
