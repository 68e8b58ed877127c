//! `wythe report`: the document, as one HTML file and on request as PDF.

use std::path::Path;

use serde_json::{Map, Value, json};
use wythe_project::{FileText, inputs};
use wythe_report::Language;
use wythe_report::page::{Block, Document, Paper, Verdict};
use wythe_report::report::{About, Results, Units, judged};

use crate::args::{self, Common};
use wythe_folder::day::today;

use crate::browser;
use crate::failure::Failure;
use crate::gather::Gathered;
use crate::output::{Done, print, print_json, rounded, wrap};
use crate::write;

/// Runs the command.
pub fn run(args: &args::Report, common: &Common) -> Result<Done, Failure> {
    let language = language(args)?;
    let gathered = Gathered::new(&args.folder)?;
    let about = About {
        date: today(),
        version: env!("CARGO_PKG_VERSION").into(),
        paper: match args.paper {
            None => Paper::Any,
            Some(args::PaperSize::A4) => Paper::A4,
            Some(args::PaperSize::Letter) => Paper::Letter,
        },
        units: match common.units {
            args::Units::Metric => Units::Metric,
            args::Units::Imperial => Units::UsCustomary,
        },
        language,
    };
    let results = gathered.results(&about);
    let document = match args.reader {
        args::Reader::Owner => wythe_report::owner(&results),
        args::Reader::Builder => wythe_report::builder(&results),
        args::Reader::File => wythe_report::file(&results),
    };
    if let Some(path) = &args.verify {
        return verify(path, &record(&results, &document, &gathered.reading.texts, &[]), common);
    }
    let mut out = String::new();
    let mut written = Vec::new();
    if let Some(path) = &args.output {
        write::text(path, &document.html())?;
        out.push_str(&format!("Written: {}\n", path.display()));
        written.push(path.display().to_string());
        if args.pdf {
            let pdf = path.with_extension("pdf");
            browser::print(path, &pdf)?;
            out.push_str(&format!("Printed: {}\n", pdf.display()));
            written.push(pdf.display().to_string());
        }
    }
    out.push_str(&format!("\n{}\n", answer(&document)));
    for gap in results.gaps {
        for line in wrap(&format!("No {}: {}; {}", gap.part, gap.why, gap.to_do), 96) {
            out.push_str(&format!("  {line}\n"));
        }
    }
    if common.json {
        print_json(&record(&results, &document, &gathered.reading.texts, &written))?;
    } else {
        print(&out)?;
    }
    let attention = verdict(&document) != Some(Verdict::Met) || !results.gaps.is_empty();
    Ok(Done { attention })
}

/// The language asked for, by its tag or as a table of the user's own; refused before anything is
/// computed where there is none.
fn language(args: &args::Report) -> Result<Language, Failure> {
    let path = Path::new(&args.language);
    let language = match Language::of_tag(&args.language) {
        Some(language) => language,
        None if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) => {
            let size = std::fs::metadata(path).map_err(|e| Failure::unreadable(path, &e))?.len();
            let remedy =
                "copy what `wythe catalogue sentences` prints and translate the right-hand sides";
            if size > LARGEST_TABLE {
                return Err(Failure::file(path, "is too large for a table of sentences", remedy));
            }
            let text = std::fs::read_to_string(path).map_err(|e| Failure::unreadable(path, &e))?;
            Language::read(&text).map_err(|e| Failure::file(path, e.to_string(), remedy))?
        }
        None => {
            let tags: Vec<&str> = Language::ALL.iter().map(|l| l.tag()).collect();
            return Err(Failure::new(
                format!("there is no table for the language `{}`", args.language),
                format!("one of: {}; or a table of your own, FILE.toml", tags.join(", ")),
            ));
        }
    };
    if language != Language::English && args.reader == args::Reader::File {
        return Err(Failure::new(
            "the document for the file is in English only",
            "leave --language out, or write the one for the owner or for the builder",
        ));
    }
    Ok(language)
}

/// Largest table of sentences that is read, bytes: many times the English one.
const LARGEST_TABLE: u64 = 1_000_000;

fn first_answer(document: &Document) -> Option<&wythe_report::page::Answer> {
    document.blocks.iter().find_map(|b| match b {
        Block::Answer(a) => Some(a),
        _ => None,
    })
}

fn verdict(document: &Document) -> Option<Verdict> {
    first_answer(document).map(|a| a.verdict)
}

fn answer(document: &Document) -> String {
    let Some(a) = first_answer(document) else { return String::new() };
    let text = format!("{} {}", a.sentence.plain(), a.more.plain());
    wrap(&text, 96).join("\n")
}

fn record(r: &Results<'_>, document: &Document, texts: &[FileText], written: &[String]) -> Value {
    let verdict = match verdict(document) {
        Some(Verdict::Met) => json!(true),
        Some(Verdict::Short) => json!(false),
        _ => Value::Null,
    };
    let number = |v: Option<f64>, places| v.map_or(Value::Null, |v| rounded(v, places));
    let targets: Vec<Value> = judged(r)
        .iter()
        .map(|j| {
            let v = j.verdict();
            json!({
                "room": r.building.rooms[j.arrived.room.0].id,
                "source": j.source.id,
                "criterion": j.target.text,
                "met": v.met,
                "margin_db": number(v.margin_db, 2),
                "governing_band": v.governing_band,
                "probability_met": number(v.probability_met, 3),
                "level_dba": number(j.level_a().map(|l| l.0), 2),
                "by": if j.by_recording() { "recording" } else { "calculation" },
                "margin_is_limit": j.recorded.as_ref().is_some_and(|x| x.decides && x.limit),
                "calculated_margin_db": number(j.calculated.margin_db, 2),
            })
        })
        .collect();
    json!({
        "version": r.about.version,
        "date": r.about.date,
        "title": document.title,
        "written": written,
        "met": verdict,
        "answer": answer(document).replace('\n', " "),
        "targets": targets,
        "plan": r.remedies.map(|m| json!({
            "met": m.plan.outcome.met(),
            "cost": m.plan.cost,
            "currency": r.building.limits.currency,
            "steps": m.order.iter().map(|s| json!({
                "change": r.building.changes[s.change].id,
                "spent": s.cost,
                "worst_margin_db": rounded(s.worst_margin, 2),
                "shortfall_db": rounded(s.shortfall, 2),
            })).collect::<Vec<_>>(),
        })),
        "missing": r.gaps.iter().map(|g| json!({
            "part": g.part, "why": g.why, "to_do": g.to_do,
        })).collect::<Vec<_>>(),
        "files": r.files.iter().map(|f| json!({
            "name": f.name, "sha256": f.sha256, "bytes": f.bytes,
        })).collect::<Vec<_>>(),
        "inputs": inputs_of(texts),
        "remarks": crate::output::remarks(r.remarks),
    })
}

/// The inputs of every text of the project, by file.
fn inputs_of(texts: &[FileText]) -> Value {
    Value::Object(texts.iter().map(|t| (t.name.clone(), json!(inputs(&t.text)))).collect())
}

/// Largest record that is read, bytes: a record of thousands of rooms is far smaller.
const LARGEST_RECORD: u64 = 50_000_000;

/// Holds an earlier record against a new calculation.
fn verify(path: &Path, now: &Value, common: &Common) -> Result<Done, Failure> {
    let size = std::fs::metadata(path).map_err(|e| Failure::unreadable(path, &e))?.len();
    let remedy = "give a file written by `wythe report DIR --json`";
    if size > LARGEST_RECORD {
        return Err(Failure::file(path, "is too large for a record of a report", remedy));
    }
    let text = std::fs::read_to_string(path).map_err(|e| Failure::unreadable(path, &e))?;
    let then: Value = serde_json::from_str(&text)
        .map_err(|e| Failure::file(path, format!("is no JSON record: {e}"), remedy))?;
    if !(then["targets"].is_array() && then["files"].is_array()) {
        return Err(Failure::file(path, "is no record of a report", remedy));
    }
    let Compared { why, changes } = compared(&then, now);
    let same = why.is_empty() && changes.is_empty();
    let records = |all: &[Change]| -> Vec<Value> {
        all.iter().map(|c| json!({ "what": c.what, "was": c.was, "is": c.is })).collect()
    };
    if common.json {
        print_json(&json!({
            "same": same, "why": records(&why), "changes": records(&changes), "remarks": [],
        }))?;
    } else if same {
        print("The same: version, files, inputs and every figure agree with the record.\n")?;
    } else {
        let mut out = String::from("Not the same as in the record.\n\nWhy\n");
        let list = |out: &mut String, all: &[Change]| {
            for c in all {
                let line = format!("{}: was {}, is {}", c.what, c.was, c.is);
                for (i, part) in wrap(&line, 92).iter().enumerate() {
                    out.push_str(if i == 0 { "  · " } else { "    " });
                    out.push_str(part);
                    out.push('\n');
                }
            }
        };
        list(&mut out, &why);
        if why.is_empty() {
            out.push_str(
                "  · not by the version, a file or an input: all are those of the record. Was it \
                 edited by hand?\n",
            );
        }
        out.push_str("\nFigures\n");
        list(&mut out, &changes);
        if changes.is_empty() {
            out.push_str("  · no figure of the record changed\n");
        }
        print(&out)?;
    }
    Ok(Done { attention: !same })
}

/// Something that differs between a record and now.
#[derive(Debug, PartialEq)]
struct Change {
    what: String,
    was: String,
    is: String,
}

/// What differs between two records: the reasons (version, files, inputs), then the figures.
struct Compared {
    why: Vec<Change>,
    changes: Vec<Change>,
}

fn words(v: &Value) -> String {
    match v {
        Value::Null => "nothing".to_owned(),
        Value::String(s) => s.clone(),
        other => other.to_string(),
    }
}

fn compared(then: &Value, now: &Value) -> Compared {
    let compare = |out: &mut Vec<Change>, what: String, was: &Value, is: &Value| {
        if was != is {
            out.push(Change { what, was: words(was), is: words(is) });
        }
    };
    let mut why = Vec::new();
    compare(&mut why, "version of the program".into(), &then["version"], &now["version"]);
    by_name(&mut why, &then["files"], &now["files"], &["name"], &["sha256", "bytes"]);
    for (file, inputs) in now["inputs"].as_object().into_iter().flatten() {
        // A record of a version that kept no inputs says by its fingerprints that a file changed.
        let Some(before) = then["inputs"][file].as_object() else { continue };
        let empty = Map::new();
        let after = inputs.as_object().unwrap_or(&empty);
        let new = after.keys().filter(|k| !before.contains_key(*k));
        for key in before.keys().chain(new) {
            let of = |map: &Map<String, Value>| map.get(key).cloned().unwrap_or(Value::Null);
            compare(&mut why, format!("{file}, {key}"), &of(before), &of(after));
        }
    }
    let mut changes = Vec::new();
    by_name(
        &mut changes,
        &then["targets"],
        &now["targets"],
        &["room", "source", "criterion"],
        &["met", "margin_db", "governing_band", "probability_met", "level_dba", "by"],
    );
    compare(&mut changes, "plan".into(), &then["plan"], &now["plan"]);
    Compared { why, changes }
}

/// Lists of records; entries are matched by what they are about, not by where they stand, and only
/// figures the record has are compared.
fn by_name(out: &mut Vec<Change>, then: &Value, now: &Value, keys: &[&str], figures: &[&str]) {
    let listed = |v: &Value| v.as_array().cloned().unwrap_or_default();
    let (a, b) = (listed(then), listed(now));
    let same = |x: &Value, y: &Value| keys.iter().all(|k| x[*k] == y[*k]);
    let name = |x: &Value| {
        let parts: Vec<&str> = keys.iter().filter_map(|k| x[*k].as_str()).collect();
        parts.join(", ")
    };
    for x in &a {
        match b.iter().find(|y| same(x, y)) {
            Some(y) => {
                for f in figures {
                    if x.get(*f).is_some_and(|was| was != &y[*f]) {
                        let what = format!("{}, {f}", name(x));
                        out.push(Change { what, was: words(&x[*f]), is: words(&y[*f]) });
                    }
                }
            }
            None => {
                out.push(Change { what: name(x), was: "in the record".into(), is: "gone".into() })
            }
        }
    }
    for y in b.iter().filter(|y| !a.iter().any(|x| same(x, y))) {
        out.push(Change { what: name(y), was: "not in the record".into(), is: "new".into() });
    }
}

#[cfg(test)]
mod tests {
    use super::{Change, compared};
    use serde_json::json;
    use wythe_project::inputs;

    fn named(all: &[Change]) -> Vec<&str> {
        all.iter().map(|c| c.what.as_str()).collect()
    }

    #[test]
    fn a_changed_file_and_figure_are_found_and_order_does_not_matter() {
        let file = |name: &str, print: &str| json!({ "name": name, "sha256": print, "bytes": 1 });
        let target = |room: &str, margin: f64| json!({ "room": room, "source": "s", "criterion": "NR 25", "margin_db": margin });
        let then = json!({
            "version": "1", "files": [file("a", "x"), file("b", "y")],
            "targets": [target("r", 1.0), target("q", 2.0)], "plan": null,
        });
        let mut now = json!({
            "version": "1", "files": [file("b", "y"), file("a", "x")],
            "targets": [target("q", 2.0), target("r", 1.0)], "plan": null,
        });
        let found = compared(&then, &now);
        assert!(found.why.is_empty() && found.changes.is_empty());
        now["files"][1]["sha256"] = json!("z");
        now["targets"][1]["margin_db"] = json!(0.5);
        // A figure the record never had is no change.
        now["targets"][0]["level_dba"] = json!(31.0);
        let found = compared(&then, &now);
        assert_eq!(named(&found.why), ["a, sha256"]);
        assert_eq!(named(&found.changes), ["r, s, NR 25, margin_db"]);
        now["targets"] = json!([]);
        assert_eq!(compared(&then, &now).changes.len(), 2);
    }

    #[test]
    fn the_input_that_changed_is_named() {
        let toml = |area: &str, order: bool| {
            let (a, b) = ("[[room]]\nid = \"a\"\n", "[[room]]\nid = \"b\"\n");
            let rooms = if order { format!("{a}{b}") } else { format!("{b}{a}") };
            format!(
                "title = \"T\" # said\n{rooms}[[boundary]]\nid = \"wall\"\narea = \"{area}\"\n\
                 [[boundary.opening]]\nid = \"door\"\nseals = {{ gap = \"6 mm\" }}\n[limits]\nbudget = 3\n"
            )
        };
        let record = |text: String| {
            json!({ "version": "1", "files": [], "targets": [], "plan": null,
                    "inputs": { "wythe.toml": inputs(&text) } })
        };
        let then = record(toml("10 m2", true));
        assert_eq!(
            then["inputs"]["wythe.toml"]["boundary wall, opening door, seals"],
            "{ gap = \"6 mm\" }"
        );
        assert!(compared(&then, &record(toml("10 m2", false))).why.is_empty(), "order is no input");
        let found = compared(&then, &record(toml("12 m2", true)));
        assert_eq!(
            found.why,
            [Change {
                what: "wythe.toml, boundary wall, area".into(),
                was: "10 m2".into(),
                is: "12 m2".into()
            }]
        );
        // A record of an earlier version has none.
        let mut old = then.clone();
        old.as_object_mut().unwrap().remove("inputs");
        assert!(compared(&old, &then).why.is_empty());
        assert!(inputs("no = toml = at all").is_empty());
    }
}
