//! Every result of a folder as tables, for the files that are taken along.

use std::path::{Path, PathBuf};

use wythe_report::report::About;
use wythe_report::tables::{Sheet, curves, tables, workbook as bytes_of};

use crate::failure::Failure;
use crate::gather::Gathered;

/// Longest line of a text for people, characters.
const WIDE: usize = 84;

/// The tables and curves as texts with their paths, with a page that explains them.
pub fn texts(gathered: &Gathered, about: &About) -> (Vec<Sheet>, Vec<(PathBuf, String)>) {
    let results = gathered.results(about);
    let mut sheets = tables(&results);
    let (index, curves) = curves(&results);
    sheets.push(index);
    let mut texts: Vec<(PathBuf, String)> =
        sheets.iter().map(|s| (PathBuf::from(format!("{}.csv", s.name)), s.csv())).collect();
    texts.extend(curves.into_iter().map(|c| (Path::new("curves").join(c.name), c.text)));
    texts.push((PathBuf::from("read-me.txt"), read_me(gathered, about, &sheets, "csv")));
    (sheets, texts)
}

/// One workbook of all tables. The curves have no place in it; their bands are in the sheets.
///
/// # Errors
/// [`Failure`] where a table is too large for one.
pub fn workbook(gathered: &Gathered, about: &About) -> Result<(Vec<Sheet>, Vec<u8>), Failure> {
    let sheets = tables(&gathered.results(about));
    let bytes =
        bytes_of(&sheets).map_err(|e| Failure::new(e.to_string(), "take the CSV tables"))?;
    Ok((sheets, bytes))
}

/// The page that explains tables written with this ending, `csv` or `parquet`.
pub fn read_me(gathered: &Gathered, about: &About, sheets: &[Sheet], ending: &str) -> String {
    let form = if ending == "csv" {
        "UTF-8, columns parted by commas, decimal point; heads carry the unit; an empty cell means\n\
         that there is no value. Words that begin with = + - @ have an apostrophe in front, so that no\n\
         spreadsheet calculates them."
    } else {
        "Apache Parquet, one file a table; names of columns carry the unit; null means that there is\n\
         no value."
    };
    let mut out = format!(
        "{}\nTables of results, written by wythe {} on {}.\n\n\
         {form}\nLevels are re 20 µPa unless a column says otherwise.\n\n",
        gathered.project.building.title, about.version, about.date
    );
    if gathered.results(about).invented() {
        out.push_str("Spectra or prices in here were invented for a demonstration.\n\n");
    }
    for s in sheets {
        out.push_str(&format!("{}.{ending}\n", s.name));
        let mut line = String::new();
        for word in s.about.split_whitespace() {
            if !line.is_empty() && line.chars().count() + word.chars().count() >= WIDE {
                out.push_str(&format!("    {line}\n"));
                line.clear();
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        out.push_str(&format!("    {line}\n"));
    }
    out
}
