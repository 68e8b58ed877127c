//! `wythe export`: every result as tables.

use std::io::Write as _;

use serde_json::{Map, Value, json};
use wythe_folder::tables::{self as together, Kind, kind_of};
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
        let (sheets, files) = together::parquet(&gathered, &about)?;
        write::folder_with(output, |beside| {
            for (name, bytes) in &files {
                write::atomically(&beside.join(name), |file| file.write_all(bytes))?;
            }
            Ok(())
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

/// All tables as one object; the form is [`schema()`].
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
