//! `wythe dose`: how much of a day's hearing dose a stay makes, and how long is allowed.

use serde_json::{Value, json};
use wythe_bands::{Level, Remark, weighting::Weighting};
use wythe_project::quantity::{Quantity, parse, parse_level};
use wythe_rating::dose::{DoseRule, Stay, allowances, dose, lex_8h};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::output::{Done, Table, one, print, print_json, remarks, remarks_text, rounded};
use crate::{load, measuring};

/// A place and its level.
struct Place {
    name: String,
    level: Level,
}

/// Runs the command.
pub fn run(args: &args::Dose, common: &Common) -> Result<Done, Failure> {
    let minutes = parse(Quantity::Time, &args.time)
        .map(|s| s / 60.0)
        .map_err(|e| Failure::new(format!("--time: {e}"), "write it as \"90 min\" or \"2 h\""))?;
    let places = places(&args.level)?;
    let mut said: Vec<Remark> = Vec::new();
    let mut records = Vec::new();
    let mut table = Table::new(1, &["Where", "LAeq", "of a day's dose", "allowed", "by"]);
    let mut over = false;
    for place in &places {
        let stays = [Stay { level: place.level, minutes }];
        let refuse = |e: wythe_rating::dose::DoseError| Failure::new(e.to_string(), "");
        let niosh = dose(DoseRule::Niosh, &stays).map_err(refuse)?;
        let osha = dose(DoseRule::OshaConservation, &stays).map_err(refuse)?;
        let eu = lex_8h(&stays).map_err(refuse)?;
        let allowed = allowances(place.level).map_err(refuse)?;
        over |= niosh.percent >= 100.0;
        for remark in niosh
            .remarks
            .iter()
            .chain(args.osha.then_some(&osha.remarks).into_iter().flatten())
            .chain(args.eu.then_some(&eu.remarks).into_iter().flatten())
        {
            if !said.contains(remark) {
                said.push(remark.clone());
            }
        }
        let shown = allowed
            .iter()
            .filter(|a| {
                a.rule.starts_with("NIOSH")
                    || (args.osha && a.rule.starts_with("OSHA"))
                    || (args.eu && a.rule.starts_with("EU"))
            })
            .collect::<Vec<_>>();
        for (i, a) in shown.iter().enumerate() {
            table.row(vec![
                if i == 0 { place.name.clone() } else { String::new() },
                if i == 0 { format!("{} dB", one(place.level.0)) } else { String::new() },
                if a.rule.starts_with("NIOSH") {
                    format!("{:.0} %", niosh.percent)
                } else if a.rule.starts_with("OSHA") {
                    format!("{:.0} %", osha.percent)
                } else {
                    eu.lex_8h.map(|l| format!("LEX,8h {}", one(l.0))).unwrap_or_default()
                },
                duration(a.minutes),
                a.rule.to_owned(),
            ]);
        }
        records.push(json!({
            "where": place.name,
            "level_dba": rounded(place.level.0, 2),
            "minutes": rounded(minutes, 3),
            "niosh_percent": rounded(niosh.percent, 2),
            "niosh_twa_dba": niosh.twa.map_or(Value::Null, |l| rounded(l.0, 2)),
            "osha_percent": rounded(osha.percent, 2),
            "eu_lex_8h_dba": eu.lex_8h.map_or(Value::Null, |l| rounded(l.0, 2)),
            "allowed_minutes": allowed.iter()
                .map(|a| (a.rule.to_owned(), rounded(a.minutes, 3)))
                .collect::<serde_json::Map<_, _>>(),
        }));
    }
    if common.json {
        print_json(&json!({ "doses": records, "remarks": remarks(&said) }))?;
    } else {
        print(&format!(
            "A stay of {}\n\n{}{}",
            duration(minutes),
            table.text(),
            remarks_text(&said)
        ))?;
    }
    Ok(Done { attention: over })
}

/// A level as text, or the positions of a project's recordings.
fn places(text: &str) -> Result<Vec<Place>, Failure> {
    let folder = std::path::Path::new(text);
    if folder.is_dir() {
        let (project, _) = load::project(folder)?;
        let measured = measuring::measure(folder, &project)?;
        let places: Vec<Place> = measured
            .positions
            .iter()
            .filter(|p| p.calibrated)
            .filter_map(|p| {
                let room = project.building.rooms[p.room.0].name();
                Some(Place {
                    name: format!("{} ({room}), {}", p.id, p.channel),
                    level: p.levels.a?,
                })
            })
            .collect();
        if places.is_empty() {
            return Err(Failure::file(
                folder,
                "no calibrated position with a source was recorded",
                "calibrate the channels and mark where the source played, or give a level",
            ));
        }
        return Ok(places);
    }
    let (level, weighting) = parse_level(text).map_err(|e| {
        Failure::new(
            format!("`{text}` is neither a folder nor a level: {e}"),
            "write \"98 dBA\", or give the project folder with recordings",
        )
    })?;
    if weighting != Weighting::A {
        return Err(Failure::new(
            format!("`{text}` is not A-weighted"),
            "a dose counts A-weighted levels: write \"98 dBA\"",
        ));
    }
    Ok(vec![Place { name: "stated".into(), level: Level(level) }])
}

/// Minutes as people say them.
fn duration(minutes: f64) -> String {
    if minutes >= 24.0 * 60.0 {
        "more than a day".into()
    } else if minutes >= 90.0 {
        format!("{} h", one(minutes / 60.0))
    } else if minutes >= 1.0 {
        format!("{minutes:.0} min")
    } else {
        format!("{:.0} s", 60.0 * minutes)
    }
}
