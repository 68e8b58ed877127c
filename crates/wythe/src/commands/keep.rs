//! `wythe keep`: a library of comparisons across projects, as plain files in a folder of the
//! user's choice.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use wythe_bands::Remark;
use wythe_building::{Comparison, Experience, experience};
use wythe_findings::comparisons;
use wythe_project::write_comparison;
use wythe_transmission::Cache;

use crate::args::{Common, Keep};
use crate::failure::Failure;
use crate::found::Found;
use crate::library::{self, Shelf};
use crate::load;
use crate::output::{Done, Table, differences, one, print, print_json, remarks, remarks_text};
use crate::write;

/// Runs the command.
pub fn run(args: &Keep, common: &Common) -> Result<Done, Failure> {
    let mut said = Vec::new();
    let mut kept = Vec::new();
    let project = match &args.folder {
        None => None,
        Some(folder) => Some((folder, load::project(folder)?.0)),
    };
    let shelf = match (&args.library, &project) {
        (Some(path), _) => path.clone(),
        (None, Some((folder, project))) => match &project.library {
            Some(used) => library::folder(folder, &used.folder),
            None => {
                return Err(Failure::new(
                    "nobody says where the library is",
                    "name a folder with --in, or state `[library]` in the project",
                ));
            }
        },
        (None, None) => {
            return Err(Failure::new(
                "neither a project nor a library is named",
                "for example `wythe keep ropewalk --in ../kept`, or `wythe keep --in ../kept` to \
                 list it",
            ));
        }
    };
    if let Some((folder, project)) = &project {
        let found = Found::new(folder, project, false);
        let Some(measured) = &found.measured else {
            let why = found.said.first().map_or_else(
                || "nothing was recorded, so nothing can be kept".to_owned(),
                |r| r.text.clone(),
            );
            return Err(Failure::file(
                folder,
                why,
                "record in the loud room and beyond the wall, and see `wythe measure`",
            ));
        };
        let all = comparisons(
            &project.building,
            &found.building,
            &measured.trials(),
            &mut Cache::default(),
        )
        .map_err(|e| Failure::file(folder, e.to_string(), ""))?;
        if all.is_empty() {
            said.push(Remark::new(
                "keep::nothing",
                "no wall or floor carried half of the sound in any measured band, so the \
                 recordings say nothing about one by itself",
            ));
        }
        let stem = name_of(folder, &project.building.title);
        for mut c in all {
            c.name = format!("{stem}-{}", slug(&c.name));
            c.note.clone_from(&args.note);
            write::text(&file(&shelf, &c.name), &write_comparison(&c))?;
            kept.push(c.name);
        }
    }
    for path in &args.add {
        let text = library::text(path)?;
        let c = wythe_project::read_comparison(&text)
            .map_err(|e| Failure::file(path, e.to_string(), ""))?;
        let place = file(&shelf, &c.name);
        if place.exists() {
            return Err(Failure::file(
                &place,
                "is there already, and nothing is written over",
                "change the name in the file that is to be added",
            ));
        }
        write::text(&place, &write_comparison(&c))?;
        kept.push(c.name);
    }
    let mut library = Shelf::read(&shelf)?;
    for (names, out) in [(&args.leave_out, true), (&args.take_in, false)] {
        for name in names {
            let Some(c) = library.comparisons.iter_mut().find(|c| &c.name == name) else {
                let known: Vec<&str> =
                    library.comparisons.iter().map(|c| c.name.as_str()).collect();
                return Err(Failure::new(
                    format!("the library holds no `{name}`"),
                    format!("it holds: {}", known.join(", ")),
                ));
            };
            c.left_out = out;
            write::text(&file(&shelf, &c.name), &write_comparison(c))?;
        }
    }
    let mut shared = Vec::new();
    if let Some(folder) = &args.share {
        for (number, c) in library.comparisons.iter().filter(|c| !c.left_out).enumerate() {
            // Names and notes tell whose house it was; the numbers do not.
            let name = format!("{}-{}", slug(&c.kind), number + 1);
            let copy = Comparison { name: name.clone(), note: None, ..c.clone() };
            let place = file(folder, &name);
            if place.exists() {
                return Err(Failure::file(
                    &place,
                    "is there already, and nothing is written over",
                    "share into an empty folder",
                ));
            }
            write::text(&place, &write_comparison(&copy))?;
            shared.push(place.display().to_string());
        }
    }
    said.extend(library.said.clone());
    let learnt = experience(&library.comparisons, &[]);
    if common.json {
        print_json(&json!({
            "library": shelf.display().to_string(),
            "kept": kept,
            "shared": shared,
            "comparisons": library.comparisons.iter().map(record).collect::<Vec<_>>(),
            "kinds": learnt.iter().map(kind_record).collect::<Vec<_>>(),
            "remarks": remarks(&said),
        }))?;
    } else {
        print(&text(&library.comparisons, &learnt, &kept, &shared, &said))?;
    }
    Ok(Done { attention: !said.is_empty() })
}

fn record(c: &Comparison) -> Value {
    json!({
        "name": c.name, "kind": c.kind, "construction": c.construction, "with": c.with,
        "note": c.note, "left_out": c.left_out,
        "predicted_db": differences(&c.predicted), "measured_db": differences(&c.measured),
        "deviation_db": differences(&c.deviation),
        "stated_deviation_db": differences(&c.stated),
    })
}

fn kind_record(e: &Experience) -> Value {
    json!({
        "kind": e.kind, "comparisons": e.comparisons, "bias_db": differences(&e.bias),
        "variance_left": crate::output::by_band(&e.variance_left, |v| crate::output::rounded(v, 3)),
    })
}

fn text(
    all: &[Comparison],
    learnt: &[Experience],
    kept: &[String],
    shared: &[String],
    said: &[Remark],
) -> String {
    let mut out = String::new();
    for name in kept {
        out.push_str(&format!("kept {name}\n"));
    }
    for place in shared {
        out.push_str(&format!("shared {place}\n"));
    }
    if all.is_empty() {
        out.push_str("the library is empty\n");
    } else {
        out.push_str("\nWhat is in the library\n\n");
        let mut table = Table::new(2, &["Name", "Kind", "bands", "measured − predicted", "counts"]);
        for c in all {
            let off: Vec<f64> =
                c.measured.iter().filter_map(|(b, m)| Some(m.0 - c.predicted.get(b)?.0)).collect();
            let mean = off.iter().sum::<f64>() / off.len().max(1) as f64;
            let ends = (c.measured.iter().next(), c.measured.iter().last());
            let bands = match ends {
                (Some((a, _)), Some((z, _))) => format!("{} to {} Hz", a.nominal(), z.nominal()),
                _ => "none".into(),
            };
            table.row(vec![
                c.name.clone(),
                c.kind.clone(),
                bands,
                format!("{} dB", one(mean)),
                if c.left_out { "left out".into() } else { "yes".into() },
            ]);
        }
        out.push_str(&table.text());
    }
    if !learnt.is_empty() {
        out.push_str("\nWhat it says about each kind\n\n");
        let mut table =
            Table::new(1, &["Kind", "from", "moved by, mean", "at most", "spread left"]);
        for e in learnt {
            let n = e.bias.iter().count().max(1) as f64;
            let mean = e.bias.iter().map(|(_, d)| d.0).sum::<f64>() / n;
            let most = e
                .bias
                .iter()
                .map(|(_, d)| d.0)
                .fold(0.0f64, |a, b| if b.abs() > a.abs() { b } else { a });
            let left = e.variance_left.iter().map(|(_, v)| v.sqrt()).sum::<f64>() / n;
            table.row(vec![
                e.kind.clone(),
                format!("{}", e.comparisons),
                format!("{} dB", one(mean)),
                format!("{} dB", one(most)),
                format!("{:.0} %", 100.0 * left),
            ]);
        }
        out.push_str(&table.text());
        out.push_str(
            "  used by projects that state `[library] folder = \"…\"`; more than nothing, less than \
             a\n  laboratory: the fewer comparisons, the less it moves\n",
        );
    }
    out.push_str(&remarks_text(said));
    out
}

fn file(shelf: &Path, name: &str) -> PathBuf {
    shelf.join(format!("{}.toml", slug(name)))
}

fn name_of(folder: &Path, title: &str) -> String {
    let base = folder
        .canonicalize()
        .ok()
        .and_then(|p| p.file_name().map(|n| n.to_string_lossy().into_owned()))
        .unwrap_or_default();
    let own = slug(title);
    if own.is_empty() { slug(&base) } else { own }
}

/// Letters and digits joined by hyphens; what any file system takes.
fn slug(words: &str) -> String {
    let plain: String = words
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let joined = plain.split('-').filter(|w| !w.is_empty()).collect::<Vec<_>>().join("-");
    joined.chars().take(80).collect()
}
