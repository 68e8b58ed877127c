//! `wythe report`: the document, as one HTML file and on request as PDF.

use std::path::Path;

use serde_json::{Value, json};
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
        return verify(path, &record(&results, &document, &[]), common);
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
        print_json(&record(&results, &document, &written))?;
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
            let remedy = "copy what `wythe catalogue sentences` prints and translate the right-hand sides";
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

fn record(r: &Results<'_>, document: &Document, written: &[String]) -> Value {
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
        "remarks": crate::output::remarks(r.remarks),
    })
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
    let changes = changes(&then, now);
    if common.json {
        let list: Vec<Value> = changes
            .iter()
            .map(|(what, was, is)| json!({ "what": what, "was": was, "is": is }))
            .collect();
        print_json(&json!({ "same": changes.is_empty(), "changes": list, "remarks": [] }))?;
    } else if changes.is_empty() {
        print("The same: version, files and every figure agree with the record.\n")?;
    } else {
        let mut out = String::from("Not the same as in the record:\n\n");
        for (what, was, is) in &changes {
            out.push_str(&format!("  · {what}: was {was}, is {is}\n"));
        }
        print(&out)?;
    }
    Ok(Done { attention: !changes.is_empty() })
}

/// What differs between two records: why first (version, files), then the figures.
fn changes(then: &Value, now: &Value) -> Vec<(String, String, String)> {
    let mut out = Vec::new();
    let mut compare = |what: String, was: &Value, is: &Value| {
        if was != is {
            let words = |v: &Value| match v {
                Value::Null => "nothing".to_owned(),
                Value::String(s) => s.clone(),
                other => other.to_string(),
            };
            out.push((what, words(was), words(is)));
        }
    };
    compare("version of the program".into(), &then["version"], &now["version"]);
    let listed = |v: &Value| v.as_array().cloned().unwrap_or_default();
    // Entries are matched by what they are about, not by where they stand.
    for (list, keys, figures) in [
        ("files", &["name"][..], &["sha256", "bytes"][..]),
        (
            "targets",
            &["room", "source", "criterion"][..],
            &["met", "margin_db", "governing_band", "probability_met", "level_dba", "by"][..],
        ),
    ] {
        let (a, b) = (listed(&then[list]), listed(&now[list]));
        let same = |x: &Value, y: &Value| keys.iter().all(|k| x[*k] == y[*k]);
        let name = |x: &Value| {
            let parts: Vec<&str> = keys.iter().filter_map(|k| x[*k].as_str()).collect();
            parts.join(", ")
        };
        for x in &a {
            match b.iter().find(|y| same(x, y)) {
                Some(y) => {
                    for f in figures {
                        compare(format!("{}, {f}", name(x)), &x[*f], &y[*f]);
                    }
                }
                None => compare(name(x), &json!("in the record"), &json!("gone")),
            }
        }
        for y in b.iter().filter(|y| !a.iter().any(|x| same(x, y))) {
            compare(name(y), &json!("not in the record"), &json!("new"));
        }
    }
    compare("plan".into(), &then["plan"], &now["plan"]);
    out
}

#[cfg(test)]
mod tests {
    use super::changes;
    use serde_json::json;

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
        assert!(changes(&then, &now).is_empty());
        now["files"][1]["sha256"] = json!("z");
        now["targets"][1]["margin_db"] = json!(0.5);
        let what: Vec<String> = changes(&then, &now).into_iter().map(|c| c.0).collect();
        assert_eq!(what, ["a, sha256", "r, s, NR 25, margin_db"]);
        now["targets"] = json!([]);
        assert_eq!(changes(&then, &now).len(), 3);
    }
}
