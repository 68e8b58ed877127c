//! Every result of a folder as tables, for the files that are taken along.

use std::path::{Path, PathBuf};

use wythe_recording::columns::{Column, TableWriter};
use wythe_report::report::About;
use wythe_report::tables::{Cell, Sheet, curves, tables, workbook as bytes_of};

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

/// Every table as Parquet, and the page that explains them: names of files and their bytes.
///
/// # Errors
/// [`Failure`] where a table cannot be written so.
pub fn parquet(gathered: &Gathered, about: &About) -> Result<(Vec<Sheet>, Vec<Part>), Failure> {
    let sheets = tables(&gathered.results(about));
    let mut files = Vec::with_capacity(sheets.len() + 1);
    for sheet in &sheets {
        let bytes =
            columns(sheet).map_err(|e| Failure::new(e.to_string(), "take the CSV tables"))?;
        files.push((PathBuf::from(format!("{}.parquet", sheet.name)), bytes));
    }
    let text = read_me(gathered, about, &sheets, "parquet");
    files.push((PathBuf::from("read-me.txt"), text.into_bytes()));
    Ok((sheets, files))
}

/// A file by its path and its bytes.
pub type Part = (PathBuf, Vec<u8>);

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

/// What a column holds, by its head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Numbers.
    Number,
    /// Words.
    Text,
    /// Numbers, but for what has none.
    Either,
}

/// Ends of heads whose columns hold numbers.
const NUMBERS: [&str; 13] = [
    "_db", "_hz", "_s", "_m2", "_m3", "_mm", "_kg", "_kg_m2", "cost", "quantity", "price", "bytes",
    "storey",
];

/// What the column of this head holds.
pub fn kind_of(head: &str) -> Kind {
    let shares = head.starts_with("share_") || head.starts_with("probability");
    if shares
        || NUMBERS.iter().any(|e| head.ends_with(e))
        || head.ends_with("turn_in_plan")
        || head.ends_with("spent_by_then")
    {
        // Octaves outside the axis and bands of other names stand as words.
        if head == "governing_band_hz" { Kind::Either } else { Kind::Number }
    } else {
        Kind::Text
    }
}

/// A table as Parquet: a column of numbers where every cell is one or nothing, else of texts.
fn columns(sheet: &Sheet) -> std::io::Result<Vec<u8>> {
    let mut numbers: Vec<Option<Vec<Option<f64>>>> = Vec::new();
    let mut texts: Vec<Vec<Option<String>>> = Vec::new();
    for (c, head) in sheet.heads.iter().enumerate() {
        let cells = || sheet.rows.iter().map(|r| r.get(c).unwrap_or(&Cell::Nothing));
        let figures =
            matches!(kind_of(head), Kind::Number) && cells().all(|x| !matches!(x, Cell::Words(_)));
        if figures {
            let value = |x: &Cell| match x {
                Cell::Number(v) | Cell::Product(_, Some(v)) => Some(*v),
                _ => None,
            };
            numbers.push(Some(cells().map(value).collect()));
            texts.push(Vec::new());
        } else {
            let value = |x: &Cell| match x {
                Cell::Words(t) => Some(t.clone()),
                Cell::Number(v) | Cell::Product(_, Some(v)) => Some(v.to_string()),
                _ => None,
            };
            numbers.push(None);
            texts.push(cells().map(value).collect());
        }
    }
    let all: Vec<Column<'_>> = numbers
        .iter()
        .zip(&texts)
        .map(|(n, t)| n.as_ref().map_or(Column::Text(t), |n| Column::Number(n)))
        .collect();
    let mut bytes = Vec::new();
    let mut table = TableWriter::new(&mut bytes, sheet.heads.clone())?;
    table.rows(&all)?;
    table.finish()?;
    Ok(bytes)
}
