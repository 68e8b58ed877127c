//! `wythe measure`: recordings to level differences with their validity.

use serde_json::{Map, Value, json};
use wythe_bands::{Band, Spectrum};
use wythe_building::Building;
use wythe_findings::{Measured, MeasuredPair, MeasuredPosition};

use crate::args::{Common, Folder};
use crate::failure::Failure;
use crate::output::{
    self, Done, Table, by_band, decimals, differences, levels, one, print, print_json, remarks,
    remarks_text, rounded,
};
use crate::{load, measuring};

/// Runs the command.
pub fn run(args: &Folder, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let measured = measuring::measure(&args.folder, &project)?;
    if common.json {
        print_json(&record(&project.building, &measured))?;
    } else {
        print(&text(&project.building, &measured))?;
    }
    Ok(Done { attention: !measured.remarks.is_empty() })
}

fn record(building: &Building, m: &Measured) -> Value {
    json!({
        "positions": m.positions.iter().map(|p| position(building, p)).collect::<Vec<_>>(),
        "pairs": m.pairs.iter().map(|p| pair(building, p)).collect::<Vec<_>>(),
        "decays": m.decays.iter().map(|(room, d)| json!({
            "room": building.rooms[room.0].id,
            "t20_s": by_band(&d.times, |(t, _)| rounded(t.0, 3)),
        })).collect::<Vec<_>>(),
        "remarks": remarks(&m.remarks),
    })
}

fn position(building: &Building, p: &MeasuredPosition) -> Value {
    let mut object = Map::new();
    object.insert("id".into(), json!(p.id));
    object.insert("room".into(), json!(building.rooms[p.room.0].id));
    object.insert("channel".into(), json!(p.channel));
    object.insert("state".into(), json!(p.state));
    object.insert("calibrated".into(), json!(p.calibrated));
    object.insert("calibration".into(), json!(p.calibration));
    let l = &p.levels;
    let value = |v: Option<wythe_bands::Level>| v.map_or(Value::Null, |l| rounded(l.0, 2));
    if p.calibrated {
        object.insert("leq_db".into(), levels(&l.leq));
        object.insert("laeq_db".into(), value(l.a));
        object.insert("lceq_db".into(), value(l.c));
        object.insert("lzeq_db".into(), value(l.z));
        object.insert("lafmax_db".into(), value(l.a_fast_max));
        let percentiles = l.a_percentiles.map_or(Value::Null, |[l10, l50, l90]| {
            json!({ "LA10": rounded(l10.0, 2), "LA50": rounded(l50.0, 2), "LA90": rounded(l90.0, 2) })
        });
        object.insert("percentiles_db".into(), percentiles);
        object.insert("background_db".into(), levels(&p.background));
    } else {
        // Relative to full scale: other keys, so that nobody takes them for sound pressure.
        object.insert("relative_leq_dbfs".into(), levels(&l.leq));
        object.insert("relative_laeq_dbfs".into(), value(l.a));
        object.insert("relative_lceq_dbfs".into(), value(l.c));
        object.insert("relative_lzeq_dbfs".into(), value(l.z));
        object.insert("relative_background_dbfs".into(), levels(&p.background));
    }
    object.insert("used_seconds".into(), rounded(p.used.0, 2));
    let excluded: Vec<Value> = p
        .excluded
        .iter()
        .map(|e| {
            json!({
                "from_s": rounded(e.from.0, 3), "to_s": rounded(e.to.0, 3), "why": e.why,
                "found_by": if e.found { "program" } else { "user" },
            })
        })
        .collect();
    object.insert("excluded".into(), Value::Array(excluded));
    object.insert("sha256".into(), json!(p.fingerprint));
    Value::Object(object)
}

fn pair(building: &Building, p: &MeasuredPair) -> Value {
    let r = &p.result;
    let mut ratings = Map::new();
    for rating in &p.ratings {
        let name = rating.symbol.replace(',', "");
        ratings.insert(name, rating.number().map_or(Value::Null, |v| json!(v.round() as i64)));
        if rating.symbol == "DnT,w" {
            for term in &rating.terms {
                let value = term.value.map_or(Value::Null, |v| json!(v.decibels().round() as i64));
                ratings.insert(term.key.into(), value);
            }
        }
    }
    let bounds: Vec<&str> = p
        .ratings
        .iter()
        .filter(|r| r.bound == wythe_rating::Bound::AtLeast)
        .map(|r| r.symbol)
        .collect();
    json!({
        "source_room": building.rooms[p.source.0].id,
        "receiving_room": building.rooms[p.receiver.0].id,
        "state": p.state,
        "source_level_db": levels(&r.source_level),
        "receiving_level_db": levels(&r.receiving_level),
        "difference_db": differences(&r.difference),
        "background_corrected": by_band(&r.state, |s| json!(s.word())),
        "standardized_difference_db": differences(&r.standardized),
        "normalized_difference_db": differences(&r.normalized),
        "apparent_reduction_db": differences(&r.apparent_reduction),
        "decay_time_s": by_band(&r.decay, |t| rounded(t.0, 3)),
        "decay_time_assumed": r.decay_assumed,
        "ratings": ratings,
        "ratings_at_least": bounds,
        "ratings_refused": p.refused.iter().map(|(name, why)| json!({ "rating": name, "why": why })).collect::<Vec<_>>(),
        "uncertainty_db": differences(&r.uncertainty),
    })
}

fn text(building: &Building, m: &Measured) -> String {
    let name = |r: wythe_building::RoomIndex| building.rooms[r.0].name();
    let mut out = String::from("Positions, source on\n\n");
    let octaves: Vec<_> = output::table_octaves().collect();
    let mut headings = vec!["Position", "Room", "State", "Channel"];
    headings.extend(octaves.iter().map(|o| o.nominal()));
    headings.extend(["LAeq", "LCeq", "LAFmax", "used", "left out"]);
    let mut table = Table::new(4, &headings);
    for p in &m.positions {
        let thirds: Spectrum<wythe_bands::Level> = p.levels.leq;
        let by_octave = thirds.to_octaves();
        let mut row = vec![
            p.id.clone(),
            name(p.room).to_owned(),
            p.state.clone().unwrap_or_default(),
            p.channel.clone(),
        ];
        for o in &octaves {
            row.push(by_octave.get(*o).map(|l| decimals(l.0, 0)).unwrap_or_default());
        }
        let level = |v: Option<wythe_bands::Level>| v.map(|l| one(l.0)).unwrap_or_default();
        row.push(level(p.levels.a));
        row.push(level(p.levels.c));
        row.push(level(p.levels.a_fast_max));
        row.push(format!("{:.0} s", p.used.0));
        let left: f64 = p.excluded.iter().map(|e| e.to.0 - e.from.0).sum();
        row.push(if left > 0.0 { format!("{left:.1} s") } else { String::new() });
        table.row(row);
    }
    out.push_str(&table.text());
    if m.positions.iter().any(|p| !p.calibrated) {
        out.push_str(
            "  positions without calibration: relative to full scale, no sound pressure\n",
        );
    }
    let mut reasons: Vec<String> = Vec::new();
    for p in &m.positions {
        for e in &p.excluded {
            let by = if e.found { "found" } else { "yours" };
            let line = format!(
                "{}: {:.1} to {:.1} s left out, {} ({by})",
                p.channel, e.from.0, e.to.0, e.why
            );
            if !reasons.contains(&line) {
                reasons.push(line);
            }
        }
    }
    for line in reasons {
        out.push_str(&format!("  · {line}\n"));
    }
    for p in &m.pairs {
        let state = p.state.as_ref().map(|s| format!(", {s}")).unwrap_or_default();
        out.push_str(&format!("\n{} to {}{state}\n\n", name(p.source), name(p.receiver)));
        out.push_str(&pair_table(p));
        for rating in &p.ratings {
            out.push_str(&format!("  {}\n", rating.statement));
        }
        for (rating, why) in &p.refused {
            for (i, line) in output::wrap(&format!("no {rating}: {why}"), 92).iter().enumerate() {
                out.push_str(if i == 0 { "  · " } else { "    " });
                out.push_str(line);
                out.push('\n');
            }
        }
    }
    out.push_str(&remarks_text(&m.remarks));
    out
}

fn pair_table(p: &MeasuredPair) -> String {
    let r = &p.result;
    let mut table = Table::new(0, &["Hz", "L1", "L2", "D", "±", "DnT", "R'", ""]);
    for band in output::table_bands() {
        let Some(d) = r.difference.get(band) else { continue };
        let state = r.state.get(band);
        let bound = state.is_some_and(|s| matches!(s.word(), "bound" | "missing"));
        let mark = if bound { "≥ " } else { "" };
        let value = |s: &Spectrum<wythe_bands::LevelDifference>, b: Band| {
            s.get(b).map(|v| format!("{mark}{}", one(v.0))).unwrap_or_default()
        };
        table.row(vec![
            band.nominal().to_owned(),
            r.source_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            r.receiving_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            format!("{mark}{}", one(d.0)),
            r.uncertainty.get(band).map(|u| one(u.0)).unwrap_or_default(),
            value(&r.standardized, band),
            value(&r.apparent_reduction, band),
            state.map(|s| s.word().to_owned()).unwrap_or_default(),
        ]);
    }
    table.text()
}
