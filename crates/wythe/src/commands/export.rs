//! `wythe export`: every result as tables.

use std::io::Write as _;

use serde_json::json;
use wythe_folder::tables;
use wythe_report::Language;
use wythe_report::page::Paper;
use wythe_report::report::{About, Units};
use wythe_report::tables::Sheet;

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::gather::Gathered;
use crate::output::{Done, print, print_json, remarks, wrap};
use crate::write;

/// Runs the command.
pub fn run(args: &args::Export, common: &Common) -> Result<Done, Failure> {
    // Before minutes of measuring, not after.
    if args.xlsx {
        write::free_for_file(&args.output)?;
    } else {
        write::free_for_folder(&args.output)?;
    }
    let gathered = Gathered::new(&args.folder)?;
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
    let sheets = if args.xlsx {
        let (sheets, bytes) = tables::workbook(&gathered, &about)?;
        write::free_for_file(&args.output)?;
        write::atomically(&args.output, |file| file.write_all(&bytes))?;
        sheets
    } else {
        let (sheets, texts) = tables::texts(&gathered, &about);
        write::folder(&args.output, &texts)?;
        sheets
    };
    let name = |s: &Sheet| {
        if args.xlsx { s.name.to_owned() } else { format!("{}.csv", s.name) }
    };
    if common.json {
        let list: Vec<_> =
            sheets.iter().map(|s| json!({ "file": name(s), "rows": s.rows.len() })).collect();
        print_json(&json!({
            "written": args.output.display().to_string(),
            "tables": list,
            "missing": results.gaps.iter().map(|g| json!({
                "part": g.part, "why": g.why, "to_do": g.to_do,
            })).collect::<Vec<_>>(),
            "remarks": remarks(results.remarks),
        }))?;
    } else {
        let mut out = format!("Written: {}\n\n", args.output.display());
        for s in &sheets {
            out.push_str(&format!("  {:<18}{:>7} rows\n", name(s), s.rows.len()));
        }
        if !args.xlsx {
            out.push_str("  curves/*.csv       every curve, for `wythe rate FILE --by METHOD`\n");
        }
        for gap in results.gaps {
            for line in wrap(&format!("No {}: {}; {}", gap.part, gap.why, gap.to_do), 96) {
                out.push_str(&format!("  {line}\n"));
            }
        }
        print(&out)?;
    }
    Ok(Done { attention: !results.gaps.is_empty() })
}
