//! The table of a data sheet, typed or pasted from a spreadsheet.
//!
//! Spreadsheets part columns by tabs, semicolons or commas and write decimals with a point or a
//! comma, as their country does; tables stand upright or lie down. All of that is read here;
//! whatever cannot be read is said by its cell, and nothing is guessed.

use std::collections::BTreeMap;

use serde::Serialize;
use wythe_bands::Band;

use crate::edit::{Edit, quoted};

/// What no reduction index is below or above, dB; the same as in the project file.
const RANGE_DB: std::ops::RangeInclusive<f64> = -10.0..=120.0;
/// Lines of the largest table that is looked at; there are 31 bands.
const MOST_LINES: usize = 400;

/// A cell that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Wrong {
    /// The band it belongs to, where that is known: `125`.
    pub band: Option<String>,
    /// Line of what was pasted, from 1; 0 in a typed table.
    pub line: usize,
    /// What stands there.
    pub text: String,
    /// Why it cannot be used, and what to do.
    pub why: String,
}

/// A table as read.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    /// Values in dB by band.
    pub values: BTreeMap<Band, f64>,
    /// Cells that cannot be used.
    pub wrong: Vec<Wrong>,
}

/// A number as any country writes it; `None` where it is none or might be two.
fn number(text: &str) -> Option<f64> {
    let text = text.replace('\u{2212}', "-").replace(['\u{a0}', '\u{202f}'], "");
    let text = match (text.matches(',').count(), text.contains('.')) {
        (0, _) => text,
        (1, false) => text.replace(',', "."),
        _ => return None,
    };
    let plain = text.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+'));
    (plain && !text.is_empty()).then(|| text.parse().ok()).flatten()
}

/// A band as sheets name it: `125`, `125 Hz`, `1k`, `1,25 kHz`.
fn band(text: &str) -> Option<Band> {
    let lower = text.trim().trim_matches('"').to_lowercase();
    let bare = lower.strip_suffix("hz").unwrap_or(&lower).trim_end();
    let (digits, factor) = match bare.strip_suffix('k') {
        Some(digits) => (digits.trim_end(), 1000.0),
        None => (bare, 1.0),
    };
    Band::from_hertz(wythe_bands::Hertz(number(digits)? * factor))
}

/// A value in decibels; `None` for an empty cell.
fn value(text: &str) -> Result<Option<f64>, String> {
    let plain = text.trim().trim_matches('"').trim();
    let lower = plain.to_lowercase();
    let bare = lower.strip_suffix("db").unwrap_or(&lower).trim_end();
    if bare.is_empty() || matches!(bare, "-" | "–" | "—" | "n/a") {
        return Ok(None);
    }
    if bare.starts_with(['>', '<', '≥', '≤', '~']) {
        return Err("a bound is no value; leave the cell empty".into());
    }
    match number(bare) {
        Some(v) if RANGE_DB.contains(&v) => Ok(Some(v)),
        Some(_) => Err("no reduction index lies below −10 or above 120 dB".into()),
        None => Err("write the decibels in figures, such as 32.5 or 32,5".into()),
    }
}

impl Table {
    fn wrong(&mut self, band: Option<Band>, line: usize, text: &str, why: impl Into<String>) {
        self.wrong.push(Wrong {
            band: band.map(|b| b.nominal().to_owned()),
            line,
            text: text.trim().chars().take(40).collect(),
            why: why.into(),
        });
    }

    fn put(&mut self, named: Band, line: usize, text: &str) {
        match value(text) {
            Ok(None) => {}
            Ok(Some(_)) if self.values.contains_key(&named) => {
                self.wrong(Some(named), line, text, "this band stands twice; keep one of them");
            }
            Ok(Some(v)) => {
                self.values.insert(named, v);
            }
            Err(why) => self.wrong(Some(named), line, text, why),
        }
    }
}

/// What parts the cells of a pasted text.
#[derive(Clone, Copy, PartialEq)]
enum Parting {
    Mark(char),
    Blanks,
}

fn parting(lines: &[&str]) -> Parting {
    for mark in ['\t', ';'] {
        if lines.iter().any(|l| l.contains(mark)) {
            return Parting::Mark(mark);
        }
    }
    // "125 32,5" is parted by the blank, "125, 32.5" by the comma.
    let by_blanks = |l: &&str| {
        let mut cells = l.split_whitespace();
        cells.next().is_some_and(|c| !c.ends_with(','))
            && cells.next().is_some_and(|c| number(c).is_some())
    };
    if lines.iter().filter(|l| by_blanks(l)).count() * 2 > lines.len() {
        Parting::Blanks
    } else {
        Parting::Mark(',')
    }
}

/// Reads what was pasted.
pub fn pasted(text: &str) -> Table {
    let mut table = Table::default();
    let numbered: Vec<(usize, &str)> = text
        .lines()
        .enumerate()
        .map(|(i, l)| (i + 1, l.trim_matches([' ', '\r', '\u{feff}'])))
        .filter(|(_, l)| !l.trim().is_empty() && !l.starts_with('#'))
        .take(MOST_LINES)
        .collect();
    let lines: Vec<&str> = numbered.iter().map(|(_, l)| *l).collect();
    let by = parting(&lines);
    let cells = |line: &str| -> Vec<String> {
        match by {
            Parting::Mark(mark) => line.split(mark).map(|c| c.trim().to_owned()).collect(),
            Parting::Blanks => line.split_whitespace().map(str::to_owned).collect(),
        }
    };
    // A table lying down has its bands in one line.
    let bands_in = |cells: &[String]| cells.iter().filter(|c| band(c).is_some()).count();
    let lying = numbered.iter().position(|(_, l)| bands_in(&cells(l)) >= 3);
    if let (Some(at), Some((line, values))) =
        (lying, lying.and_then(|at| numbered.get(at + 1).copied()))
    {
        let (named, values) = (cells(numbered[at].1), cells(values));
        for (name, value) in named.iter().zip(&values) {
            match band(name) {
                Some(b) => table.put(b, line, value),
                // The name of the row.
                None if name.is_empty() || number(name).is_none() => {}
                None => table.wrong(None, line - 1, name, NO_BAND),
            }
        }
        return table;
    }
    for (i, (line, text)) in numbered.iter().enumerate() {
        let mut row = cells(text);
        while row.len() > 2 && row.last().is_some_and(String::is_empty) {
            row.pop();
        }
        match (row.as_slice(), band(&row[0])) {
            ([_, value], Some(b)) => table.put(b, *line, value),
            ([_], Some(_)) => {}
            ([_, _, ..], Some(b)) => table.wrong(
                Some(b),
                *line,
                text,
                if by == Parting::Mark(',') {
                    "more than two columns; where decimals have commas, part the columns with tabs or semicolons"
                } else {
                    "more than two columns; copy the column of bands and one column of values"
                },
            ),
            // A head is no mistake.
            (_, None) if i == 0 && number(&row[0]).is_none() => {}
            (_, None) => table.wrong(None, *line, &row[0], NO_BAND),
            ([], _) => {}
        }
    }
    if table.values.is_empty() && table.wrong.is_empty() {
        table.wrong(None, 0, "", "no band was found; copy two columns, such as 125 and 32.5");
    }
    table
}

const NO_BAND: &str =
    "no third-octave band; bands are named 63, 80, 100, 125 and so on, in hertz or as 1k";

/// Reads a table typed into cells named `r-125`.
pub fn typed(form: &BTreeMap<String, String>) -> Table {
    let mut table = Table::default();
    for (name, text) in form {
        let Some(named) = name.strip_prefix("r-").and_then(Band::from_nominal) else { continue };
        table.put(named, 0, text);
    }
    table
}

/// The table as the project file spells it.
pub fn toml(values: &BTreeMap<Band, f64>) -> String {
    let cells: Vec<String> =
        values.iter().map(|(b, v)| format!("{} = {v}", quoted(b.nominal()))).collect();
    format!("{{ unit = \"dB\", {} }}", cells.join(", "))
}

/// The form as a change of the project file.
///
/// # Errors
/// The cells that cannot be used.
pub fn edit(form: &BTreeMap<String, String>) -> Result<Edit, Vec<Wrong>> {
    let word = |name: &str| form.get(name).cloned().unwrap_or_default();
    let mut table = match word("pasted") {
        text if text.trim().is_empty() => typed(form),
        text => pasted(&text),
    };
    if table.values.is_empty() && table.wrong.is_empty() {
        table.wrong(None, 0, "", "the table holds no value yet; type or paste one");
    }
    if !table.wrong.is_empty() {
        return Err(table.wrong);
    }
    let id = word("id");
    let value = toml(&table.values);
    if id.is_empty() {
        // A new build-up that is known by its sheet alone.
        return Ok(Edit {
            what: "new-sheet".into(),
            value: word("name"),
            like: value,
            called: "a new build-up from a data sheet".into(),
            back: word("back"),
            ..Edit::default()
        });
    }
    Ok(Edit {
        what: "set".into(),
        path: format!("build_up[{id}].table"),
        kind: "raw".into(),
        value,
        seen: word("seen"),
        called: format!("data sheet of {id}"),
        back: word("back"),
        ..Edit::default()
    })
}

/// A new build-up with this table, as the project file spells it.
pub fn build_up(id: &str, title: &str, table: &str) -> String {
    format!(
        "[[build_up]]\nid = {}\ntitle = {}\ntable = {table}\nstatus = \"assumed\"\nsource = \"typed from a data sheet\"\n",
        quoted(id),
        quoted(title.trim()),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Vec<(String, f64)> {
        let table = pasted(text);
        assert_eq!(table.wrong, vec![], "{text}");
        table.values.iter().map(|(b, v)| (b.nominal().to_owned(), *v)).collect()
    }

    fn three() -> Vec<(String, f64)> {
        vec![("100".into(), 21.5), ("125".into(), 24.0), ("1250".into(), 41.25)]
    }

    #[test]
    fn every_country_s_spreadsheet_is_read() {
        for text in [
            "100\t21.5\n125\t24\n1250\t41.25",
            "Frequenz\tR\r\n100 Hz\t21,5\r\n125 Hz\t24,0 dB\r\n1,25 kHz\t41,25\r\n",
            "f/Hz;R/dB\n100;21,5\n125;24\n1250;41,25\n",
            "frequency_hz,reduction_db\n100,21.5\n125,24.0\n1.25k,41.25\n",
            "100, 21.5\n125, 24\n1250, 41.25\n",
            "100 21,5\n125 24\n1250 41,25\n",
            "Hz\t100\t125\t1250\nR\t21,5\t24\t41,25\n",
            "100;125;1250\n21,5;24;41,25\n",
            "100;21,5\n125;24\n160;-\n200;\n1250;41,25\n",
        ] {
            assert_eq!(read(text), three(), "{text}");
        }
        assert_eq!(read("31,5;12\n63;\u{2212}1,5"), [("31.5".into(), 12.0), ("63".into(), -1.5)]);
    }

    #[test]
    fn what_is_wrong_is_said_by_its_cell() {
        let cases: [(&str, Option<&str>, usize, &str); 8] = [
            ("100\t21\n125\ttwenty", Some("125"), 2, "figures"),
            ("100\t21\n130\t22", None, 2, "no third-octave band"),
            ("100\t21\n125\t400", Some("125"), 2, "above 120"),
            ("100\t21\n125\t> 55", Some("125"), 2, "bound"),
            ("100\t21\n100\t22", Some("100"), 2, "twice"),
            ("100,21,5\n125,24,0", Some("100"), 1, "semicolons"),
            ("100;21;22\n125;23;24", Some("100"), 1, "one column"),
            ("nothing here", None, 0, "no band"),
        ];
        for (text, band, line, why) in cases {
            let wrong = &pasted(text).wrong;
            let first = wrong.first().unwrap_or_else(|| panic!("{text} was taken"));
            assert_eq!((first.band.as_deref(), first.line), (band, line), "{text}");
            assert!(first.why.contains(why), "{text}: {}", first.why);
        }
    }

    #[test]
    fn no_text_is_too_odd_to_be_refused() {
        for text in ["", "\0", ";;;;", "\t\t\n\t", "NaN;NaN", "1e999\t1", "100;1e3", "100;inf"] {
            let table = pasted(text);
            assert!(table.values.is_empty() && !table.wrong.is_empty(), "{text:?}");
        }
        let long = "100;20\n".repeat(100_000);
        assert_eq!(pasted(&long).values.len(), 1);
    }

    #[test]
    fn a_typed_table_becomes_the_project_s_key() {
        let form: BTreeMap<String, String> =
            [("id", "wall"), ("r-31.5", "12"), ("r-125", "24,5"), ("r-160", ""), ("seen", "x")]
                .map(|(a, b)| (a.to_owned(), b.to_owned()))
                .into();
        let edit = edit(&form).unwrap();
        assert_eq!(edit.path, "build_up[wall].table");
        assert_eq!(edit.value, "{ unit = \"dB\", \"31.5\" = 12, \"125\" = 24.5 }");
        let mut bad = form;
        bad.insert("r-200".into(), "x".into());
        assert_eq!(super::edit(&bad).unwrap_err()[0].band.as_deref(), Some("200"));
    }
}
