//! `wythe export`: every result as tables.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde_json::json;
use wythe_report::Language;
use wythe_report::page::Paper;
use wythe_report::report::{About, Units};
use wythe_report::tables::{Sheet, curves, tables, workbook};

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
    let mut sheets = tables(&results);
    let (index, curves) = curves(&results);
    sheets.push(index);
    if args.xlsx {
        // A workbook has no place for the curves; their bands are in the other sheets.
        sheets.pop();
        let bytes =
            workbook(&sheets).map_err(|e| Failure::new(e.to_string(), "leave --xlsx out"))?;
        write::free_for_file(&args.output)?;
        write::atomically(&args.output, |file| file.write_all(&bytes))?;
    } else {
        let mut texts: Vec<(PathBuf, String)> =
            sheets.iter().map(|s| (PathBuf::from(format!("{}.csv", s.name)), s.csv())).collect();
        texts.extend(curves.into_iter().map(|c| (Path::new("curves").join(c.name), c.text)));
        texts.push((PathBuf::from("read-me.txt"), read_me(&gathered, &about, &sheets)));
        write::folder(&args.output, &texts)?;
    }
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

fn read_me(gathered: &Gathered, about: &About, sheets: &[Sheet]) -> String {
    let mut out = format!(
        "{}\nTables of results, written by wythe {} on {}.\n\n\
         UTF-8, columns parted by commas, decimal point; heads carry the unit; an empty cell means\n\
         that there is no value. Levels are re 20 µPa unless a column says otherwise. Words that\n\
         begin with = + - @ have an apostrophe in front, so that no spreadsheet calculates them.\n\n",
        gathered.project.building.title, about.version, about.date
    );
    if gathered.results(about).invented() {
        out.push_str("Spectra or prices in here were invented for a demonstration.\n\n");
    }
    for s in sheets {
        out.push_str(&format!("{}.csv\n", s.name));
        for line in wrap(s.about, 84) {
            out.push_str(&format!("    {line}\n"));
        }
    }
    out
}
