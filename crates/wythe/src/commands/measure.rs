//! `wythe measure`: recordings to level differences with their validity.

use serde_json::{Map, Value, json};
use wythe_bands::{Band, Spectrum};
use wythe_building::Building;
use wythe_findings::{
    Measured, MeasuredFacade, MeasuredImpact, MeasuredPair, MeasuredPosition, ReadFile, RecoveredBy,
};
use wythe_report::chart::Format;
use wythe_report::report::parts;

use crate::args::{Common, Measure};
use crate::failure::Failure;
use crate::output::{
    self, Done, Table, by_band, decimals, differences, levels, one, print, print_json, remarks,
    remarks_text, rounded,
};
use crate::{cautions, load, measuring, pictures};

/// Runs the command.
pub fn run(args: &Measure, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let wish = measuring::Wish { save: args.save };
    let measured = measuring::measure_with(&args.folder, &project, wish)?;
    let charts = || {
        let all = parts::recorded_charts(&project.building, &measured);
        all.into_iter().map(|(name, chart)| (name, chart.draw(Format::Screen))).collect()
    };
    let drawn = pictures::write(&args.charts, charts, "no pair of rooms could be compared")?;
    let (dose, warned) = cautions::measured_dose(&project.building, &measured);
    let mut object = record(&project.building, &measured);
    object["cautions"] = dose;
    if args.save {
        measuring::save(&args.folder, &object)?;
    }
    if common.json {
        print_json(&object)?;
    } else {
        let said = text(&project.building, &measured);
        print(&format!("{said}{warned}{}", pictures::text(&drawn)))?;
    }
    Ok(Done { attention: !measured.remarks.is_empty() })
}

fn record(building: &Building, m: &Measured) -> Value {
    json!({
        "positions": m.positions.iter().map(|p| position(building, p)).collect::<Vec<_>>(),
        "pairs": m.pairs.iter().map(|p| pair(building, p)).collect::<Vec<_>>(),
        "impacts": m.impacts.iter().map(|i| impact(building, i)).collect::<Vec<_>>(),
        "facades": m.facades.iter().map(|f| facade(building, f)).collect::<Vec<_>>(),
        "decays": m.decays.iter().map(|(room, d)| json!({
            "room": building.rooms[room.0].id,
            "t20_s": by_band(&d.times, |(t, _)| rounded(t.0, 3)),
        })).collect::<Vec<_>>(),
        "files": m.files.iter().map(read_file).collect::<Vec<_>>(),
        "remarks": remarks(&m.remarks),
    })
}

fn read_file(f: &ReadFile) -> Value {
    json!({
        "file": f.file,
        "sha256": f.fingerprint,
        "rate_hz": f.rate,
        "channels": f.channels,
        "length_s": rounded(f.length.0, 3),
        "stretches": f.stretches.iter().map(|s| json!({
            "from_s": rounded(s.from.0, 3), "to_s": rounded(s.to.0, 3), "kind": s.kind,
            "found_by": by(s.found),
        })).collect::<Vec<_>>(),
    })
}

fn by(found: bool) -> &'static str {
    if found { "program" } else { "user" }
}

fn ratings_of(all: &[wythe_rating::Rating]) -> Value {
    let mut ratings = Map::new();
    for rating in all {
        let name = rating.symbol.replace(',', "");
        ratings.insert(name, rating.number().map_or(Value::Null, |v| json!(v.round() as i64)));
        for term in &rating.terms {
            let value = term.value.map_or(Value::Null, |v| json!(v.decibels().round() as i64));
            ratings.entry(term.key).or_insert(value);
        }
    }
    Value::Object(ratings)
}

fn refusals(all: &[(String, String)]) -> Value {
    all.iter().map(|(name, why)| json!({ "rating": name, "why": why })).collect()
}

fn impact(building: &Building, i: &MeasuredImpact) -> Value {
    let r = &i.result;
    json!({
        "source_room": building.rooms[i.source.0].id,
        "receiving_room": building.rooms[i.receiver.0].id,
        "state": i.state,
        "excitation": match i.excitation {
            wythe_fieldtest::ImpactExcitation::TappingMachine => "tapping machine",
            wythe_fieldtest::ImpactExcitation::RubberBall => "rubber ball",
        },
        "level_db": levels(&r.level),
        "background_corrected": by_band(&r.state, |s| json!(s.word())),
        "standardized_level_db": levels(&r.standardized),
        "normalized_level_db": levels(&r.normalized),
        "decay_time_s": by_band(&r.decay, |t| rounded(t.0, 3)),
        "decay_time_assumed": r.decay_assumed,
        "ratings": ratings_of(&i.ratings),
        "ratings_refused": refusals(&i.refused),
        "uncertainty_db": differences(&r.uncertainty),
    })
}

fn facade(building: &Building, f: &MeasuredFacade) -> Value {
    let r = &f.result.field;
    json!({
        "outside": building.rooms[f.source.0].id,
        "receiving_room": building.rooms[f.receiver.0].id,
        "state": f.state,
        "quantity": f.result.quantity,
        "difference_db": differences(&r.difference),
        "background_corrected": by_band(&r.state, |s| json!(s.word())),
        "facade_reduction_db": differences(&f.result.reduction),
        "standardized_difference_2m_db": differences(&f.result.standardized_2m),
        "ratings": ratings_of(&f.ratings),
        "ratings_refused": refusals(&f.refused),
        "uncertainty_db": differences(&r.uncertainty),
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
    if let Some(delay) = p.delay {
        object.insert("delay_s".into(), rounded(delay.0, 5));
    }
    object.insert("used_seconds".into(), rounded(p.used.0, 2));
    if let Some(c) = &p.in_common {
        object.insert(
            "compared_over".into(),
            json!({
                "with": c.with,
                "seconds": rounded(c.time.0, 2),
                // How much louder the source was over all of its time.
                "source_louder_db": differences(&c.louder),
            }),
        );
    }
    let excluded: Vec<Value> = p
        .excluded
        .iter()
        .map(|e| {
            json!({
                "from_s": rounded(e.from.0, 3), "to_s": rounded(e.to.0, 3), "why": e.why,
                "found_by": by(e.found),
                // What L_Aeq would be more by, were the stretch used.
                "effect_db": e.effect.map_or(Value::Null, |d| rounded(d.0, 2)),
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
        "compared_by": p.relative,
        "source_level_db": if p.relative.is_some() { Value::Null } else { levels(&r.source_level) },
        "receiving_level_db":
            if p.relative.is_some() { Value::Null } else { levels(&r.receiving_level) },
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
        "recovered": by_band(&p.recovered, |d| json!({
            "by": match d.by {
                RecoveredBy::Coherence => "coherence",
                RecoveredBy::Following => "following",
            },
            "difference_db": d.difference.map_or(Value::Null, |v| rounded(v.0, 2)),
            "at_least_db": d.at_least.map_or(Value::Null, |v| rounded(v.0, 2)),
            "at_most_db": d.at_most.map_or(Value::Null, |v| rounded(v.0, 2)),
        })),
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
    out.push_str(&reasons(m));
    out.push_str(&compared(m));
    out.push_str(&heard(&m.files));
    for p in &m.pairs {
        let state = p.state.as_ref().map(|s| format!(", {s}")).unwrap_or_default();
        out.push_str(&format!("\n{} to {}{state}\n\n", name(p.source), name(p.receiver)));
        if let Some(why) = &p.relative {
            out.push_str(&format!("  not calibrated; compared by {why}: differences only\n"));
        }
        out.push_str(&pair_table(p));
        given(&mut out, &p.ratings, &p.refused);
    }
    for i in &m.impacts {
        let state = i.state.as_ref().map(|s| format!(", {s}")).unwrap_or_default();
        let (from, to) = (name(i.source), name(i.receiver));
        out.push_str(&format!("\nFootsteps: {from} to {to}{state}\n\n"));
        out.push_str(&impact_table(i));
        given(&mut out, &i.ratings, &i.refused);
    }
    for f in &m.facades {
        let state = f.state.as_ref().map(|s| format!(", {s}")).unwrap_or_default();
        let (from, to) = (name(f.source), name(f.receiver));
        out.push_str(&format!("\nFaçade: {from} to {to}{state}\n\n"));
        out.push_str(&facade_table(f));
        given(&mut out, &f.ratings, &f.refused);
    }
    out.push_str(&decays_text(building, m));
    out.push_str(&remarks_text(&m.remarks));
    out
}

/// Ratings and refusals below a table.
fn given(out: &mut String, ratings: &[wythe_rating::Rating], refused: &[(String, String)]) {
    for rating in ratings {
        out.push_str(&format!("  {}\n", rating.statement));
    }
    // One reason may stand behind several ratings.
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for (rating, why) in refused {
        match reasons.iter_mut().find(|(w, _)| w == why) {
            Some((_, names)) => names.push(rating),
            None => reasons.push((why, vec![rating])),
        }
    }
    for (why, names) in reasons {
        let text = format!("no {}: {why}", names.join(", no "));
        for (i, line) in output::wrap(&text, 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
}

/// What was left out, channels with the same reason together.
fn reasons(m: &Measured) -> String {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for p in &m.positions {
        let (file, channel) = p.channel.rsplit_once(':').unwrap_or((&p.channel, ""));
        for e in &p.excluded {
            let line = format!(
                "{:.1} to {:.1} s left out: {} ({})",
                e.from.0,
                e.to.0,
                e.why,
                if e.found { "found" } else { "yours" }
            );
            let key = format!("{file}\n{line}");
            let effect = e.effect.filter(|d| d.0.abs() >= 0.05).map_or_else(
                || channel.to_owned(),
                |d| format!("{channel} (used, its LAeq would be {:+.1} dB)", d.0),
            );
            match all.iter_mut().find(|(k, _)| *k == key) {
                Some((_, channels)) => channels.push(effect),
                None => all.push((key, vec![effect])),
            }
        }
    }
    let mut out = String::new();
    for (key, channels) in all {
        let (file, line) = key.split_once('\n').unwrap_or(("", &key));
        let text = format!("{file}, channel {}: {line}", channels.join(", "));
        for (i, line) in output::wrap(&text, 96).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

/// Over which time levels are compared, where it is not all the time of a position.
fn compared(m: &Measured) -> String {
    let mut out = String::new();
    for p in &m.positions {
        let Some(c) = p.in_common.as_ref().filter(|c| !c.levels.is_empty()) else { continue };
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for (_, d) in c.louder.within(Band::HZ_50, Band::HZ_5000).iter() {
            (least, most) = (least.min(-d.0), most.max(-d.0));
        }
        let same = least > -0.05 && most < 0.05;
        if same && (c.time.0 - p.used.0).abs() < 0.5 {
            continue;
        }
        let source = if same {
            "the source was as loud then as in all".to_owned()
        } else {
            format!("the source was {least:+.1} to {most:+.1} dB of its whole level then")
        };
        let text = format!(
            "{}: compared with {} over the {:.0} s that both can use; {source}",
            p.channel, c.with, c.time.0
        );
        for (i, line) in output::wrap(&text, 96).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

/// What the program took for what, where the user had not said it.
fn heard(files: &[ReadFile]) -> String {
    let mut out = String::new();
    for f in files {
        let found: Vec<String> = f
            .stretches
            .iter()
            .filter(|s| s.found)
            .map(|s| format!("{} {:.1} to {:.1} s", s.kind, s.from.0, s.to.0))
            .collect();
        if found.is_empty() {
            continue;
        }
        let text = format!("{}, found: {}", f.file, found.join(", "));
        for (i, line) in output::wrap(&text, 96).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

fn decays_text(building: &Building, m: &Measured) -> String {
    if m.decays.is_empty() {
        return String::new();
    }
    let octaves: Vec<_> = output::table_octaves().collect();
    let mut headings = vec!["Decay times, s"];
    headings.extend(octaves.iter().map(|o| o.nominal()));
    let mut table = Table::new(1, &headings);
    for (room, decay) in &m.decays {
        let mut row = vec![building.rooms[room.0].name().to_owned()];
        for o in &octaves {
            let value = Band::from_nominal(o.nominal()).and_then(|b| decay.times.get(b));
            row.push(value.map(|(t, _)| decimals(t.0, 2)).unwrap_or_default());
        }
        table.row(row);
    }
    format!("\n{}", table.text())
}

fn impact_table(i: &MeasuredImpact) -> String {
    let r = &i.result;
    let mut table = Table::new(0, &["Hz", "Li", "±", "L'nT", "L'n", ""]);
    for band in output::table_bands() {
        let Some(level) = r.level.get(band) else { continue };
        let state = r.state.get(band);
        let mark = if state.is_some_and(|s| s.is_bound()) { "≤ " } else { "" };
        let value = |s: &Spectrum<wythe_bands::Level>| {
            s.get(band).map(|v| format!("{mark}{}", one(v.0))).unwrap_or_default()
        };
        table.row(vec![
            band.nominal().to_owned(),
            format!("{mark}{}", one(level.0)),
            r.uncertainty.get(band).map(|u| one(u.0)).unwrap_or_default(),
            value(&r.standardized),
            value(&r.normalized),
            state.map(|s| s.word().to_owned()).unwrap_or_default(),
        ]);
    }
    table.text()
}

fn facade_table(f: &MeasuredFacade) -> String {
    let r = &f.result.field;
    let mut table = Table::new(0, &["Hz", "outside", "inside", "D", "±", f.result.quantity, ""]);
    for band in output::table_bands() {
        let Some(d) = r.difference.get(band) else { continue };
        let state = r.state.get(band);
        let mark = if state.is_some_and(|s| s.is_bound()) { "≥ " } else { "" };
        let named = f.result.standardized_2m.get(band).or(f.result.reduction.get(band));
        table.row(vec![
            band.nominal().to_owned(),
            r.source_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            r.receiving_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            format!("{mark}{}", one(d.0)),
            r.uncertainty.get(band).map(|u| one(u.0)).unwrap_or_default(),
            named.map(|v| format!("{mark}{}", one(v.0))).unwrap_or_default(),
            state.map(|s| s.word().to_owned()).unwrap_or_default(),
        ]);
    }
    table.text()
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
        let mut word = state.map(|s| s.word().to_owned()).unwrap_or_default();
        if let Some(found) = p.recovered.get(band) {
            let way = match found.by {
                RecoveredBy::Coherence => "coherence",
                RecoveredBy::Following => "following the source",
            };
            // Where a bound stays a bound the limits that were found say more.
            match (found.at_least, found.at_most) {
                (Some(least), Some(most)) => {
                    word.push_str(&format!(", {way}: {} to {}", one(least.0), one(most.0)));
                }
                (Some(least), None) if least.0 > d.0 + 0.5 => {
                    word.push_str(&format!(", {way}: at least {}", one(least.0)));
                }
                (None, Some(most)) => {
                    word.push_str(&format!(", {way}: at most {}", one(most.0)));
                }
                _ => {}
            }
        }
        table.row(vec![
            band.nominal().to_owned(),
            r.source_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            r.receiving_level.get(band).map(|l| one(l.0)).unwrap_or_default(),
            format!("{mark}{}", one(d.0)),
            r.uncertainty.get(band).map(|u| one(u.0)).unwrap_or_default(),
            value(&r.standardized, band),
            value(&r.apparent_reduction, band),
            word,
        ]);
    }
    table.text()
}
