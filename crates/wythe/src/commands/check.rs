//! `wythe check`: everything that was read, and what of it cannot be used, is assumed or unknown.

mod plans;

use serde_json::{Value, json};
use wythe_building::Building;
use wythe_findings::caution::{Caution, STANDING_NOTICE, cautions_of};
use wythe_findings::{Unknown, unknowns};
use wythe_project::Noted;

use crate::args::{Charts, Check, Common};
use crate::failure::Failure;
use crate::output::{self, Done, print, print_json, remarks, remarks_text};
use crate::{cautions, load, pictures};

/// Runs the command.
pub fn run(args: &Check, common: &Common) -> Result<Done, Failure> {
    let reading = load::reading(&args.folder)?;
    let notes = |all: &[Noted]| -> Value {
        all.iter()
            .map(|n| {
                json!({
                    "what": n.what, "text": n.text, "where": format!("{}:{}", n.file, n.line),
                    "source": n.source, "by_program": n.by_program,
                })
            })
            .collect()
    };
    let mut drawn = Vec::new();
    if let Some(project) = reading.project.as_ref().filter(|_| reading.errors.is_empty()) {
        let plans = || plans::drawings(&project.building, common.units);
        let folder = Charts { svg: args.plans.clone(), png: None };
        for wish in [&folder, &args.charts] {
            drawn.extend(pictures::write(wish, plans, "no room has an outline")?);
        }
    }
    if common.json {
        let errors: Vec<Value> = reading
            .errors
            .iter()
            .map(|p| {
                json!({
                    "code": p.code, "text": p.text, "help": p.help,
                    "where": format!("{}:{}:{}", p.file, p.line, p.column),
                    "file": p.file, "line": p.line, "column": p.column,
                })
            })
            .collect();
        let unreadable = !errors.is_empty();
        let project = reading.project.as_ref();
        print_json(&json!({
            "errors": errors,
            "assumed": notes(&reading.assumed),
            "unknown": notes(&reading.unknown),
            "unknowns_by_effect": project.map_or_else(Vec::new, |p| {
                unknowns(&p.building).iter().take(MOST_UNKNOWNS).map(|u| {
                    let (boundary, input) = names_of(&p.building, u);
                    json!({
                        "boundary": boundary, "input": input, "spread": u.effect.spread,
                        "standing": u.standing.word(),
                        "moves_db": output::rounded(u.effect.moves.0, 2),
                        "rating_moves_db": u.rating,
                    })
                }).collect()
            }),
            "cautions":
                cautions::records(&project.map_or_else(Vec::new, |p| asked(&p.building))),
            "storeys": project.map_or(Value::Null, |p| plans::records(&p.building)),
            "low_notes": project.map_or(Value::Null, |p| plans::modes_records(&p.building)),
            "standing_notice": STANDING_NOTICE,
            "remarks": remarks(&reading.remarks),
        }))?;
        if unreadable {
            return Err(Failure::Messages(Vec::new()));
        }
        return Ok(Done { attention: !reading.remarks.is_empty() });
    }
    if !reading.errors.is_empty() {
        return Err(Failure::Messages(
            reading.errors.iter().map(|p| load::draw(p, &reading.texts)).collect(),
        ));
    }
    let Some(project) = &reading.project else {
        return Err(Failure::file(&args.folder, "cannot be read as a project", ""));
    };
    let b = &project.building;
    let mut out = format!("{}: can be used\n\n", b.title);
    let counted = [
        (b.rooms.len(), "room", "rooms"),
        (b.boundaries.len(), "boundary", "boundaries"),
        (b.build_ups.len(), "build-up", "build-ups"),
        (b.sources.len(), "source", "sources"),
        (b.targets.len(), "target", "targets"),
        (b.changes.len(), "change on offer", "changes on offer"),
    ]
    .map(|(n, one, many)| format!("{n} {}", if n == 1 { one } else { many }));
    out.push_str(&format!("  {}\n", counted.join(", ")));
    if let Some(survey) = &project.survey {
        let channels: usize = survey.recordings.iter().map(|r| r.channels.len()).sum();
        out.push_str(&format!(
            "  {} recordings with {channels} channels\n",
            survey.recordings.len()
        ));
    }
    out.push_str(&rooms(b, common));
    out.push_str(&plans::faults_text(b));
    out.push_str(&plans::modes_text(b));
    out.push_str(&pictures::text(&drawn));
    out.push_str(&list("Assumed", &reading.assumed));
    out.push_str(&list("Unknown", &reading.unknown));
    out.push_str(&unknowns_text(b));
    out.push_str(&cautions::full(&asked(b)));
    out.push_str(&remarks_text(&reading.remarks));
    print(&out)?;
    Ok(Done { attention: !reading.remarks.is_empty() })
}

fn rooms(building: &wythe_building::Building, common: &Common) -> String {
    let mut table = output::Table::new(1, &["Room", "storey", "floor", "volume", "T at 500 Hz"]);
    for room in &building.rooms {
        if room.outdoors {
            let distance = room.distance.map(|d| output::length(d, common.units));
            table.row(vec![
                room.name().to_owned(),
                "outdoors".into(),
                distance.map(|d| format!("{d} away")).unwrap_or_default(),
            ]);
            continue;
        }
        let t = room.decay_time(building.air).get(wythe_bands::Band::HZ_500);
        table.row(vec![
            room.name().to_owned(),
            room.storey.to_string(),
            output::area(room.floor_area, common.units),
            output::volume(room.volume, common.units),
            t.map(|t| format!("{:.2} s", t.0)).unwrap_or_default(),
        ]);
    }
    let mut out = format!("\n{}", table.text());
    let mut table = output::Table::new(2, &["Boundary", "between", "area", "openings"]);
    for b in &building.boundaries {
        let names: Vec<&str> =
            b.rooms.iter().filter_map(|r| building.rooms.get(r.0)).map(|r| r.name()).collect();
        let found = if b.area_found { "" } else { " (stated)" };
        table.row(vec![
            b.name().to_owned(),
            names.join(" – "),
            format!("{}{found}", output::area(b.area, common.units)),
            b.openings.len().to_string(),
        ]);
    }
    out.push_str(&format!("\n{}", table.text()));
    out
}

fn list(heading: &str, all: &[Noted]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{heading}\n");
    for n in all {
        let by = n.source.as_ref().map(|s| format!(" ({s})")).unwrap_or_default();
        let text = format!("{}: {}{by}, {}:{}", n.what, n.text, n.file, n.line);
        for (i, line) in output::wrap(&text, 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

/// Unknowns listed; the hole worth drilling is among the first.
const MOST_UNKNOWNS: usize = 8;

/// Names of an unknown: its boundary, and the input with its layer.
fn names_of<'b>(building: &'b Building, u: &Unknown) -> (&'b str, String) {
    let boundary = u.boundary.and_then(|i| building.boundaries.get(i.0));
    let layer = u.effect.layer.map(|l| format!("layer {l}, ")).unwrap_or_default();
    (boundary.map_or("", |b| b.name()), format!("{layer}{}", u.effect.input))
}

fn unknowns_text(building: &Building) -> String {
    let all = unknowns(building);
    if all.is_empty() {
        return String::new();
    }
    let mut table =
        output::Table::new(3, &["Worth looking at first", "what", "spread", "moves R by"]);
    for u in all.iter().take(MOST_UNKNOWNS) {
        let (boundary, input) = names_of(building, u);
        table.row(vec![
            boundary.to_owned(),
            input,
            u.effect.spread.clone(),
            format!("{} dB", output::one(u.effect.moves.0)),
        ]);
    }
    format!("\n{}", table.text())
}

/// Cautions of the building, with predicted levels where it can be predicted.
fn asked(building: &Building) -> Vec<Caution> {
    cautions_of(building, None)
}
