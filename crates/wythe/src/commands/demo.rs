//! `wythe demo`: the whole job on an invented building, from the description to the report.

use serde_json::json;
use wythe_findings::{Measured, Predicted, statements};
use wythe_folder::day::today;
use wythe_project::Project;
use wythe_report::Language;
use wythe_report::page::Paper;
use wythe_report::report::{About, Results, Units};

use crate::args::{self, Common, Folder};
use crate::failure::Failure;
use crate::gather::Gathered;
use crate::output::{Done, decimals, print, print_json, wrap};
use crate::{demo, write};

/// Name of the report in the project folder.
const REPORT: &str = "results/report.html";

/// Runs the command.
pub fn run(args: &Folder, common: &Common) -> Result<Done, Failure> {
    let folder = &args.folder;
    let project = demo::lay_out(folder)?;

    let gathered = Gathered::new(folder)?;
    let about = About {
        date: today(),
        version: env!("CARGO_PKG_VERSION").into(),
        paper: Paper::Any,
        units: match common.units {
            args::Units::Metric => Units::Metric,
            args::Units::Imperial => Units::UsCustomary,
        },
        language: Language::English,
    };
    let results = gathered.results(&about);
    let report = folder.join(REPORT);
    write::text(&report, &wythe_report::owner(&results).html())?;
    let lines = [
        predicted_line(&project, results.predicted),
        measured_line(&project, results.measured),
        found_line(&results),
        test_line(&results),
        remedy_line(&results),
    ];
    if common.json {
        print_json(&json!({
            "folder": folder.display().to_string(),
            "report": report.display().to_string(),
            "invented": true,
            "lines": lines,
            "remarks": [],
        }))?;
        return Ok(Done::default());
    }
    let mut out = format!(
        "{}, an invented building with invented recordings, is in {}\n\n",
        project.building.title,
        folder.display()
    );
    let heads = ["Predicted", "Measured", "Explained", "Test next", "Remedy"];
    for (head, line) in heads.iter().zip(&lines) {
        for (i, part) in wrap(line, 82).iter().enumerate() {
            let head = if i == 0 { *head } else { "" };
            out.push_str(&format!("  {head:<10} {part}\n"));
        }
    }
    out.push_str(&format!("\nReport: {}\n", report.display()));
    out.push_str(&format!(
        "\nLook closer with\n  wythe predict {0}\n  wythe measure {0}\n  wythe explain {0}\n  \
         wythe remedy {0}\nand change {0}/{1} to see what follows.\n",
        folder.display(),
        wythe_project::PROJECT_FILE
    ));
    print(&out)?;
    Ok(Done::default())
}

fn predicted_line(project: &Project, predicted: Option<&Predicted>) -> String {
    let building = &project.building;
    let worst = predicted
        .into_iter()
        .flat_map(|p| &p.sources)
        .flat_map(|s| &s.arrived)
        .flat_map(|a| a.targets.iter().map(move |t| (a, t)))
        .filter_map(|(a, t)| Some((a, t, t.margin_db?)))
        .min_by(|x, y| x.2.total_cmp(&y.2));
    match worst {
        Some((a, t, margin)) => {
            let room = building.rooms[a.room.0].name();
            let band = t.governing_band.map(|b| format!(" at {b} Hz")).unwrap_or_default();
            let verdict = if margin < 0.0 { "short of" } else { "inside" };
            format!(
                "as described, {room} is {} dB {verdict} {}{band}",
                decimals(margin.abs(), 0),
                t.criterion
            )
        }
        None => "nothing could be predicted".into(),
    }
}

fn measured_line(project: &Project, measured: Option<&Measured>) -> String {
    let Some(m) = measured else { return "no recordings could be read".into() };
    let name = |r: wythe_building::RoomIndex| project.building.rooms[r.0].name();
    let pairs: Vec<String> = m
        .pairs
        .iter()
        .filter(|p| p.state.is_none())
        .filter_map(|p| {
            let rating = p.ratings.iter().find(|r| r.symbol == "DnT,w")?;
            let bound = if rating.bound == wythe_rating::Bound::Exact { "" } else { "at least " };
            Some(format!("{} {bound}{:.0}", name(p.receiver), rating.number()?))
        })
        .collect();
    format!(
        "DnT,w from the {}: {} dB",
        m.pairs.first().map_or("hall", |p| name(p.source)),
        pairs.join(", ")
    )
}

/// Statements told in the summary: what is likelier than not and can be heard.
const LIKELY: f64 = 0.5;

fn found_line(results: &Results<'_>) -> String {
    let Some(e) = results.explained else { return "nothing could be compared".into() };
    let found: Vec<String> = statements(&e.posterior)
        .into_iter()
        .filter(|s| s.probability >= LIKELY && s.effect_db >= 1.0)
        .map(|s| s.text.split("; it counts").next().unwrap_or_default().to_owned())
        .collect();
    if found.is_empty() {
        "the measurement agrees with the description".into()
    } else {
        found.join("; ")
    }
}

fn test_line(results: &Results<'_>) -> String {
    match results.explained.and_then(|e| e.next.as_ref()) {
        Some(next) => next.what.clone(),
        None => "no test on offer would tell more".into(),
    }
}

fn remedy_line(results: &Results<'_>) -> String {
    match results.remedies {
        Some(r) => {
            let building = results.found.as_ref().map_or(results.building, |f| f.building);
            wythe_remedy::headline(building, r)
        }
        None => "no change is on offer".into(),
    }
}
