//! `wythe explain`: predicted beside measured, what is probably wrong, what to try next.

use serde_json::{Map, Value, json};
use wythe_bands::{Band, Remark};
use wythe_building::Building;
use wythe_findings::caution::{Caution, Topic, cautions_of};
use wythe_findings::{
    Explained, ExplainedPair, Finding, Statement, Trial, explain, room_sentence, sentence,
    sentences, statements,
};
use wythe_report::chart::Format;
use wythe_report::report::{About, Results, parts};
use wythe_transmission::{Cache, Field, Model};

use crate::args::{self, Common};
use crate::commands::predict::percent;
use crate::failure::Failure;
use crate::output::{
    self, Done, Table, differences, one, print, print_json, remarks, remarks_text, rounded, wrap,
};
use crate::{cautions, load, measuring, pictures};

/// Runs the command.
pub fn run(args: &args::Explain, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let measured = measuring::measure(&args.folder, &project)?;
    let trials = measured.trials();
    if trials.is_empty() {
        let mut all = vec![crate::failure::message(
            "no pair of rooms was measured, so there is nothing to explain",
            Some(&args.folder.display().to_string()),
            "calibrate the channels and mark where the source played",
        )];
        all.extend(measured.remarks.iter().map(|r| format!("  {}", r.text)));
        return Err(Failure::Messages(all));
    }
    let building = &project.building;
    let found = explain(building, &trials, &mut Cache::default())
        .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
    let cautions = cautions_of(building, None);
    let drawn = pictures::write(
        &args.charts,
        || charts(building, &found),
        "microphones close to a surface alone make no comparison of rooms",
    )?;
    if common.json {
        let mut object = record(building, &found, &measured.remarks);
        object["cautions"] = cautions::records(&cautions);
        print_json(&object)?;
    } else {
        let mut out = text(building, &found, &measured.remarks);
        // A trial tapes, plugs and closes: that touches the air and the way out.
        let touched = |c: &Caution| matches!(c.topic, Topic::Air | Topic::WayOut);
        out.push_str(&cautions::text(&cautions, touched));
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    Ok(Done { attention: found.posterior.findings.iter().any(|f| f.probability >= 0.5) })
}

/// Recorded beside predicted, pair by pair.
fn charts(building: &Building, e: &Explained) -> Vec<pictures::Named> {
    let about = About::default();
    let results = Results { explained: Some(e), ..Results::of(building, &about) };
    let pairs = e.pairs.iter().filter(|p| p.trial.near.is_none()).enumerate();
    pairs
        .map(|(n, p)| {
            let t = &p.trial;
            let name = parts::file_name(building, "", t.source, t.receiver, t.state.as_deref());
            (name, parts::comparison_chart(&results, p, n).draw(Format::Screen))
        })
        .collect()
}

fn record(building: &Building, e: &Explained, said: &[Remark]) -> Value {
    let pairs: Vec<Value> = e
        .pairs
        .iter()
        .map(|p| {
            let findings: Vec<Value> =
                p.findings.iter().map(|&i| finding(e, &e.posterior.findings[i])).collect();
            let mut object = json!({
                "source_room": building.rooms[p.trial.source.0].id,
                "receiving_room": building.rooms[p.trial.receiver.0].id,
                "state": p.trial.state,
                "near": near(building, &p.trial),
                "predicted_db": differences(&p.predicted),
                "measured_db": output::by_band(&p.trial.bands, |o| rounded(o.difference.0, 2)),
                "measured_at_least": p.trial.bands.iter().filter(|(_, o)| o.at_least)
                    .map(|(b, _)| b.nominal()).collect::<Vec<_>>(),
                "explained_db": differences(&p.explained),
                "shares_before": shares(&p.model_before, &p.before, p),
                "shares_after": shares(&p.model_after, &p.after, p),
                "findings": findings,
            });
            if let Some(next) = &e.next {
                object["next_test"] = json!({
                    "do": next.what,
                    "separates": next.separates,
                    "expected_change_db": differences(&next.expected),
                    "source_room": next.pair.0, "receiving_room": next.pair.1,
                    "minutes": next.minutes, "bits": rounded(next.bits, 3),
                    "outcomes": next.outcomes.iter().map(|o| json!({
                        "probability": rounded(o.probability, 3),
                        "band": o.band.map(|b| b.nominal()),
                        "change_db": rounded(o.change_db, 1),
                        "means": o.means,
                    })).collect::<Vec<_>>(),
                });
            }
            object
        })
        .collect();
    json!({
        "pairs": pairs,
        "findings": e.posterior.findings.iter().map(|f| finding(e, f)).collect::<Vec<_>>(),
        "rooms": e.posterior.rooms.iter().map(|r| json!({
            "room": building.rooms[r.room.0].id, "parameter": "absorption",
            "estimate_db": rounded(r.more_db, 2),
            "interval_90_db": [rounded(r.interval_90.0, 2), rounded(r.interval_90.1, 2)],
            "probability": rounded(r.probability, 3),
            "sentence": room_sentence(building, r),
        })).collect::<Vec<_>>(),
        "misfit": rounded(e.posterior.misfit, 3),
        "remarks": remarks(said),
    })
}

/// The surface the microphone was close to, by id.
fn near(building: &Building, trial: &Trial) -> Option<String> {
    let near = trial.near.as_ref()?;
    let boundary = building.boundaries.get(near.boundary.0)?;
    Some(near.opening.clone().unwrap_or_else(|| boundary.id.clone()))
}

fn shares(model: &Model, field: &Field, p: &ExplainedPair) -> Value {
    let mut out = Map::new();
    if let Some(there) = field.at(p.trial.receiver) {
        for way in &there.ways {
            let by_band: Map<String, Value> = p
                .trial
                .bands
                .iter()
                .filter(|(b, _)| b.index() < way.share.len())
                .map(|(b, _)| (b.nominal().to_owned(), rounded(way.share[b.index()], 4)))
                .collect();
            out.insert(way.title(model), Value::Object(by_band));
        }
    }
    Value::Object(out)
}

fn finding(e: &Explained, f: &Finding) -> Value {
    json!({
        "element": f.cause.element,
        "parameter": f.cause.parameter,
        "estimate": f.cause.words(f.size),
        "interval_90": [f.cause.words(f.interval_90.0), f.cause.words(f.interval_90.1)],
        "probability": rounded(f.probability, 3),
        "effect_db": rounded(f.effect_db, 1),
        "bands": f.bands.iter().map(|b| b.nominal()).collect::<Vec<_>>(),
        "cannot_tell_from": rivals(e, f),
        "sentence": sentence(f),
    })
}

fn rivals(e: &Explained, f: &Finding) -> Vec<String> {
    f.rivals
        .iter()
        .map(|&c| {
            let cause = &e.posterior.causes[c];
            format!("{} ({})", cause.element, cause.parameter)
        })
        .collect()
}

/// Findings below this are listed only for programs: too many "perhaps" hide the one that counts.
const WORTH_SAYING: f64 = 0.2;

fn text(building: &Building, e: &Explained, said: &[Remark]) -> String {
    let mut out = String::from("What is probably not as described\n\n");
    let mut any = false;
    let worth = |s: &&Statement| s.probability >= WORTH_SAYING && s.effect_db >= 1.0;
    for s in statements(&e.posterior).iter().filter(worth) {
        any = true;
        let line = format!("{}: {}", percent(s.probability), s.text);
        for (i, part) in wrap(&line, 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(part);
            out.push('\n');
        }
        let mut rivals: Vec<String> =
            s.findings.iter().flat_map(|&i| rivals(e, &e.posterior.findings[i])).collect();
        let own: Vec<String> = s
            .findings
            .iter()
            .map(|&i| &e.posterior.findings[i].cause)
            .map(|c| format!("{} ({})", c.element, c.parameter))
            .collect();
        rivals.retain(|r| !own.contains(r));
        rivals.dedup();
        if s.probability < 0.95 && !rivals.is_empty() {
            for part in wrap(&format!("cannot be told from: {}", rivals.join(", ")), 88) {
                out.push_str(&format!("      {part}\n"));
            }
        }
    }
    for r in &e.posterior.rooms {
        let Some(line) = room_sentence(building, r) else { continue };
        any = true;
        for (i, part) in wrap(&format!("{}: {line}", percent(r.probability)), 92).iter().enumerate()
        {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(part);
            out.push('\n');
        }
    }
    if !any {
        out.push_str(
            "  nothing: the measurement agrees with the description within its uncertainty\n",
        );
    }
    if let Some(next) = &e.next {
        out.push_str("\nThe test to do next\n\n");
        // By the band the outcomes below are told by; else by the one that changes most.
        let told = next.outcomes.first().filter(|_| next.outcomes.len() > 1).and_then(|o| o.band);
        let changes = || next.expected.iter().filter(|(b, _)| told.is_none_or(|t| t == *b));
        let (band, most) = changes().fold((None, 0.0f64), |(band, most), (b, d)| {
            if d.0.abs() > f64::abs(most) { (Some(b), d.0) } else { (band, most) }
        });
        let expected = band
            .map(|b: Band| {
                format!(
                    "; if what was found is true, the difference changes by {} dB at {}",
                    one(most),
                    wythe_findings::frequency(b)
                )
            })
            .unwrap_or_default();
        for (i, part) in wrap(&format!("{}{expected}", next.what), 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(part);
            out.push('\n');
        }
        out.push_str(&format!("    about {:.0} minutes", next.minutes));
        if next.bits >= 0.02 {
            out.push_str(&format!(", {:.1} bits about which explanation holds", next.bits));
        }
        out.push('\n');
        for o in next.outcomes.iter().filter(|_| next.outcomes.len() > 1) {
            let at = o.band.map(|b| format!(" at {}", wythe_findings::frequency(b)));
            let line = format!(
                "{}, a change of {} dB{}: {}",
                percent(o.probability),
                one(o.change_db),
                at.unwrap_or_default(),
                o.means
            );
            for (i, part) in wrap(&line, 90).iter().enumerate() {
                out.push_str(if i == 0 { "    – " } else { "      " });
                out.push_str(part);
                out.push('\n');
            }
        }
    }
    let name = |r: wythe_building::RoomIndex| building.rooms[r.0].name();
    for p in &e.pairs {
        let mut state = p.trial.state.as_ref().map(|s| format!(", {s}")).unwrap_or_default();
        if let Some(at) = near(building, &p.trial) {
            state.push_str(&format!(", microphone close to {at}"));
        }
        out.push_str(&format!(
            "\n{} to {}{state}\n\n",
            name(p.trial.source),
            name(p.trial.receiver)
        ));
        let mut table = Table::new(
            0,
            &["Hz", "predicted", "measured", "±", "measured − predicted", "explained"],
        );
        for (band, o) in p.trial.bands.iter() {
            let (Some(predicted), Some(explained)) = (p.predicted.get(band), p.explained.get(band))
            else {
                continue;
            };
            let mark = if o.at_least { "≥ " } else { "" };
            table.row(vec![
                band.nominal().to_owned(),
                one(predicted.0),
                format!("{mark}{}", one(o.difference.0)),
                one(o.deviation.0),
                format!("{mark}{}", one(o.difference.0 - predicted.0)),
                one(explained.0),
            ]);
        }
        out.push_str(&table.text());
        if let Some(there) = p.after.at(p.trial.receiver).filter(|_| p.trial.near.is_none()) {
            out.push_str("  with what was found:\n");
            for s in sentences(&p.model_after, there) {
                for (i, part) in wrap(&s, 92).iter().enumerate() {
                    out.push_str(if i == 0 { "  · " } else { "    " });
                    out.push_str(part);
                    out.push('\n');
                }
            }
        }
    }
    out.push_str(&remarks_text(said));
    out
}
