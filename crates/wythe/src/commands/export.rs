//! `wythe export`: every result as tables.

use std::fs::File;
use std::io::Write as _;

use serde_json::{Map, Value, json};
use wythe_folder::tables as together;
use wythe_recording::columns::{Column, TableWriter};
use wythe_report::Language;
use wythe_report::page::Paper;
use wythe_report::report::{About, Gap, Results, Units};
use wythe_report::tables::{Cell, Sheet, tables};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::gather::Gathered;
use crate::output::{Done, print, print_json, remarks, wrap};
use crate::{schema, write};

/// Runs the command.
pub fn run(args: &args::Export, common: &Common) -> Result<Done, Failure> {
    if let Some(name) = &args.schema {
        print_json(&schema_of(name)?)?;
        return Ok(Done::default());
    }
    // The command line asks for a folder before it comes here.
    let Some(folder) = &args.folder else {
        return Err(Failure::new("nothing to export", "give a project folder"));
    };
    // Before minutes of measuring, not after.
    if let Some(output) = &args.output {
        if args.xlsx {
            write::free_for_file(output)?;
        } else {
            write::free_for_folder(output)?;
        }
    }
    let gathered = Gathered::new(folder)?;
    let about = About {
        date: wythe_folder::day::today(),
        version: env!("CARGO_PKG_VERSION").into(),
        paper: Paper::Any,
        units: match common.units {
            args::Units::Metric => Units::Metric,
            args::Units::Imperial => Units::UsCustomary,
        },
        language: Language::English,
    };
    let results = gathered.results(&about);
    let attention = !results.gaps.is_empty();
    let Some(output) = &args.output else {
        print_json(&everything(&results, &tables(&results)))?;
        return Ok(Done { attention });
    };
    let sheets = if args.xlsx {
        let (sheets, bytes) = together::workbook(&gathered, &about)?;
        write::free_for_file(output)?;
        write::atomically(output, |file| file.write_all(&bytes))?;
        sheets
    } else if args.parquet {
        let sheets = tables(&results);
        write::folder_with(output, |beside| {
            for s in &sheets {
                let path = beside.join(format!("{}.parquet", s.name));
                write::atomically(&path, |file| columns(s, file))?;
            }
            let text = together::read_me(&gathered, &about, &sheets, "parquet");
            write::text(&beside.join("read-me.txt"), &text)
        })?;
        sheets
    } else {
        let (sheets, texts) = together::texts(&gathered, &about);
        write::folder(output, &texts)?;
        sheets
    };
    let name = |s: &Sheet| match (args.xlsx, args.parquet) {
        (true, _) => s.name.to_owned(),
        (_, true) => format!("{}.parquet", s.name),
        _ => format!("{}.csv", s.name),
    };
    if common.json {
        let list: Vec<_> =
            sheets.iter().map(|s| json!({ "file": name(s), "rows": s.rows.len() })).collect();
        print_json(&json!({
            "written": output.display().to_string(),
            "tables": list,
            "missing": missing(&results),
            "remarks": remarks(results.remarks),
        }))?;
    } else {
        let mut out = format!("Written: {}\n\n", output.display());
        for s in &sheets {
            out.push_str(&format!("  {:<18}{:>7} rows\n", name(s), s.rows.len()));
        }
        if !args.xlsx && !args.parquet {
            out.push_str("  curves/*.csv       every curve, for `wythe rate FILE --by METHOD`\n");
        }
        for gap in results.gaps {
            for line in wrap(&format!("No {}: {}; {}", gap.part, gap.why, gap.to_do), 96) {
                out.push_str(&format!("  {line}\n"));
            }
        }
        print(&out)?;
    }
    Ok(Done { attention })
}

fn missing(results: &Results<'_>) -> Vec<Value> {
    let one = |g: &Gap| json!({ "part": g.part, "why": g.why, "to_do": g.to_do });
    results.gaps.iter().map(one).collect()
}

/// All tables as one object; the form is [`schema`].
fn everything(results: &Results<'_>, sheets: &[Sheet]) -> Value {
    let row = |s: &Sheet, cells: &Vec<Cell>| {
        let pairs = s.heads.iter().zip(cells).map(|(head, cell)| {
            let value = match cell {
                Cell::Nothing | Cell::Product(_, None) => Value::Null,
                Cell::Words(text) => json!(text),
                Cell::Number(v) | Cell::Product(_, Some(v)) => json!(v),
            };
            (head.clone(), value)
        });
        Value::Object(pairs.collect())
    };
    let tables: Map<String, Value> = sheets
        .iter()
        .map(|s| (s.name.to_owned(), s.rows.iter().map(|r| row(s, r)).collect()))
        .collect();
    json!({
        "version": results.about.version,
        "date": results.about.date,
        "title": results.building.title,
        "invented": results.invented(),
        "tables": tables,
        "missing": missing(results),
        "remarks": remarks(results.remarks),
    })
}

/// The schema of what a command prints, by its name.
fn schema_of(name: &str) -> Result<Value, Failure> {
    if name == "export" {
        return Ok(schema());
    }
    schema::of(name).ok_or_else(|| {
        Failure::new(
            format!("no command prints a form called `{name}`"),
            format!("there are: export, {}", schema::names().join(", ")),
        )
    })
}

/// JSON Schema (draft 2020-12) of what `wythe export DIR --json` prints.
pub fn schema() -> Value {
    let building = wythe_building::Building::default();
    let about = About::default();
    let sheets = tables(&Results::of(&building, &about));
    let text = || json!({ "type": "string" });
    let tables: Map<String, Value> = sheets
        .iter()
        .map(|s| {
            let columns: Map<String, Value> = s
                .heads
                .iter()
                .map(|h| {
                    let kind = match kind_of(h) {
                        Kind::Number => json!({ "type": ["number", "null"] }),
                        Kind::Text => json!({ "type": ["string", "null"] }),
                        Kind::Either => json!({ "type": ["number", "string", "null"] }),
                    };
                    (h.clone(), kind)
                })
                .collect();
            let row = json!({
                "type": "object", "properties": columns, "required": s.heads,
                "additionalProperties": false,
            });
            (s.name.to_owned(), json!({ "type": "array", "description": s.about, "items": row }))
        })
        .collect();
    let names: Vec<&str> = sheets.iter().map(|s| s.name).collect();
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Results of wythe, as `wythe export DIR --json` prints them",
        "description": "A value that does not exist is null, never 0. Names of columns carry their \
                        unit; levels are re 20 µPa unless a column says otherwise.",
        "type": "object",
        "properties": {
            "version": text(), "date": text(), "title": text(),
            "invented": { "type": "boolean" },
            "tables": {
                "type": "object", "properties": tables, "required": names,
                "additionalProperties": false,
            },
            "missing": { "type": "array", "items": {
                "type": "object",
                "properties": { "part": text(), "why": text(), "to_do": text() },
                "required": ["part", "why", "to_do"],
                "additionalProperties": false,
            } },
            "remarks": { "type": "array", "items": {
                "type": "object",
                "properties": { "code": text(), "text": text(), "where": text() },
                "required": ["code", "text"],
                "additionalProperties": false,
            } },
        },
        "required": ["version", "date", "title", "invented", "tables", "missing", "remarks"],
        "additionalProperties": false,
    })
}

/// What a column holds, by its head.
enum Kind {
    Number,
    Text,
    Either,
}

/// Ends of heads whose columns hold numbers.
const NUMBERS: [&str; 13] = [
    "_db", "_hz", "_s", "_m2", "_m3", "_mm", "_kg", "_kg_m2", "cost", "quantity", "price", "bytes",
    "storey",
];

fn kind_of(head: &str) -> Kind {
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
fn columns(sheet: &Sheet, file: &mut File) -> std::io::Result<()> {
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
    let mut table = TableWriter::new(std::io::BufWriter::new(file), sheet.heads.clone())?;
    table.rows(&all)?;
    table.finish()?;
    Ok(())
}
