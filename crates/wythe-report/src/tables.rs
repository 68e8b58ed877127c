//! Every result as plain tables, for spreadsheets and other programs.
//!
//! [`tables`] gives all of them, [`curves()`] every band curve in the form `wythe rate` reads. Heads
//! carry the unit; a value that does not exist is an empty cell, never 0.

mod content;
mod curves;
mod workbook;

pub use content::tables;
pub use curves::{CurveFile, curves};
pub use workbook::{WorkbookError, workbook};

/// One table.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Name of its file and of its sheet, at most 31 signs.
    pub name: &'static str,
    /// What it holds, in one sentence.
    pub about: &'static str,
    /// Heads with their unit: `level_a_db`.
    pub heads: Vec<String>,
    /// Rows, each as long as the heads.
    pub rows: Vec<Vec<Cell>>,
    /// Column whose sum a reader wants below, if any.
    pub total: Option<usize>,
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing is known or nothing applies.
    Nothing,
    /// Words.
    Words(String),
    /// A number in the unit of the head.
    Number(f64),
    /// The product of two other cells of the row, by column; `None` while one of them is empty.
    Product([usize; 2], Option<f64>),
}

impl Cell {
    /// Words; empty ones are nothing.
    pub fn words(text: impl Into<String>) -> Cell {
        let text = text.into();
        if text.is_empty() { Cell::Nothing } else { Cell::Words(text) }
    }

    /// A number with so many decimals; what is no finite number is nothing.
    pub fn number(value: impl Into<Option<f64>>, places: i32) -> Cell {
        let scale = 10f64.powi(places);
        match value.into() {
            // Adding zero turns −0 into 0.
            Some(v) if v.is_finite() => Cell::Number((v * scale).round() / scale + 0.0),
            _ => Cell::Nothing,
        }
    }

    /// `yes`, `no` or nothing.
    pub fn truth(value: impl Into<Option<bool>>) -> Cell {
        match value.into() {
            Some(true) => Cell::Words("yes".into()),
            Some(false) => Cell::Words("no".into()),
            None => Cell::Nothing,
        }
    }
}

impl Sheet {
    /// An empty table.
    pub fn new(name: &'static str, about: &'static str, heads: &[&str]) -> Sheet {
        let heads = heads.iter().map(|h| (*h).to_owned()).collect();
        Sheet { name, about, heads, rows: Vec::new(), total: None }
    }

    /// The table as CSV (RFC 4180: commas, lines ended by CR LF, quotes doubled; UTF-8).
    ///
    /// Words that a spreadsheet would take for a formula (they begin with `=`, `+`, `-`, `@`) get an
    /// apostrophe in front: a project that came from elsewhere must not calculate on its reader's
    /// machine.
    pub fn csv(&self) -> String {
        let mut out = String::new();
        let mut line = |cells: Vec<String>| {
            out.push_str(&cells.join(","));
            out.push_str("\r\n");
        };
        line(self.heads.iter().map(|h| quoted(h)).collect());
        for row in &self.rows {
            line(row.iter().map(csv_cell).collect());
        }
        out
    }
}

fn csv_cell(cell: &Cell) -> String {
    match cell {
        Cell::Nothing | Cell::Product(_, None) => String::new(),
        Cell::Number(v) | Cell::Product(_, Some(v)) => v.to_string(),
        Cell::Words(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
            quoted(&format!("'{text}"))
        }
        Cell::Words(text) => quoted(text),
    }
}

fn quoted(text: &str) -> String {
    let edges = text.starts_with(' ') || text.ends_with(' ');
    if edges || text.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
