//! The cautions as every command prints them: in full where the command touches their matter,
//! counted by topic where it does not, never left out.

use serde_json::{Value, json};
use wythe_bands::Level;
use wythe_building::{Action, Building};
use wythe_findings::Measured;
use wythe_findings::caution::{Caution, Concern, STANDING_NOTICE, Topic};
use wythe_rating::dose::allowances;

use crate::output::{one, rounded, wrap};

/// Whether a caution is about one of these changes.
pub fn about_changes(caution: &Caution, building: &Building, changes: &[usize]) -> bool {
    let chosen = || changes.iter().filter_map(|&i| building.changes.get(i));
    caution.concerns.iter().any(|concern| match concern {
        Concern::Change(id) => chosen().any(|c| c.id == *id),
        Concern::Opening(id) => chosen().flat_map(|c| &c.actions).any(|a| match a {
            Action::Leaf { opening, .. } | Action::Seal { opening, .. } => opening == id,
            _ => false,
        }),
        _ => false,
    })
}

/// Cautions as records.
pub fn records(all: &[Caution]) -> Value {
    all.iter()
        .map(|c| {
            json!({
                "code": c.code,
                "topic": c.topic.word(),
                "where": c.place,
                "why": c.why,
                "number": c.number.map(|(v, unit)| json!({ "value": rounded(v, 2), "unit": unit })),
                "figures": c.figures.iter().map(|f| json!({
                    "name": f.name, "value": rounded(f.value, 3), "unit": f.unit,
                })).collect::<Vec<_>>(),
                "sources": c.sources.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "what_to_do": c.what_to_do,
                "decides": c.who_decides(),
                "assumed": c.assumed,
                "stop": c.stop,
                "not_known": c.not_known,
            })
        })
        .collect()
}

/// All cautions in full, with the notice that ends them.
pub fn full(all: &[Caution]) -> String {
    text(all, |_| true)
}

/// Those a command touches in full, the others counted by topic.
pub fn text(all: &[Caution], touches: impl Fn(&Caution) -> bool) -> String {
    let (here, elsewhere): (Vec<&Caution>, Vec<&Caution>) = all.iter().partition(|c| touches(c));
    if all.is_empty() {
        return String::new();
    }
    let mut out = String::from("\nCautions\n");
    for c in here {
        let stop = if c.stop { "STOP: " } else { "" };
        let taken = match c.assumed.as_slice() {
            [] => String::new(),
            all => format!(" Taken for granted: {}.", all.join("; ")),
        };
        item(&mut out, &format!("{stop}{}: {}{taken} {}", c.place, c.why, c.what_to_do));
    }
    if !elsewhere.is_empty() {
        let mut topics: Vec<Topic> = elsewhere.iter().map(|c| c.topic).collect();
        topics.sort_by_key(|t| t.word());
        topics.dedup();
        let words: Vec<&str> = topics.iter().map(|t| t.word()).collect();
        let n = elsewhere.len();
        let stops = elsewhere.iter().filter(|c| c.stop).count();
        let stop = match stops {
            0 => String::new(),
            1 => ", one of them a STOP".to_owned(),
            n => format!(", {n} of them a STOP"),
        };
        item(
            &mut out,
            &format!(
                "{n} more about {}{stop}: `wythe check` prints {} in full.",
                words.join(", "),
                if n == 1 { "it" } else { "them" }
            ),
        );
    }
    out.push('\n');
    for line in wrap(STANDING_NOTICE, 96) {
        out.push_str(&format!("  {line}\n"));
    }
    out
}

fn item(out: &mut String, text: &str) {
    for (i, line) in wrap(text, 92).iter().enumerate() {
        out.push_str(if i == 0 { "  · " } else { "    " });
        out.push_str(line);
        out.push('\n');
    }
}

/// Levels from here on are named as a dose when measured: the lower action value of Directive
/// 2003/10/EC, Art. 3.
const NAMED_FROM: Level = wythe_rating::dose::EU_ACTION_LOWER;

/// What was measured where somebody may stand, against the time allowed there.
pub fn measured_dose(building: &Building, measured: &Measured) -> (Value, String) {
    let loud = measured.positions.iter().filter(|p| p.calibrated).filter_map(|p| {
        let level = p.levels.a.filter(|l| l.0 >= NAMED_FROM.0)?;
        let least = allowances(level).ok()?.into_iter().next()?;
        Some((p, level, least))
    });
    let mut record = Vec::new();
    let mut out = String::new();
    for (p, level, allowed) in loud {
        let room = building.rooms.get(p.room.0).map_or("", |r| r.name());
        let why = format!(
            "{} ({room}): {} dBA were measured here; {} allows {:.0} min a day of it.",
            p.id,
            one(level.0),
            allowed.rule,
            allowed.minutes
        );
        record.push(json!({
            "code": "caution::measured-dose", "topic": Topic::Hearing.word(), "where": p.id,
            "why": why,
            "number": { "value": rounded(allowed.minutes, 2), "unit": "min" },
            "figures": [], "sources": [],
            "what_to_do": HEARING,
            "decides": Topic::Hearing.who_decides(),
            "assumed": [], "stop": false, "not_known": false,
        }));
        item(&mut out, &why);
    }
    if out.is_empty() {
        return (Value::Array(record), out);
    }
    item(&mut out, HEARING);
    let mut text = format!("\nCautions\n{out}\n");
    for line in wrap(STANDING_NOTICE, 96) {
        text.push_str(&format!("  {line}\n"));
    }
    (Value::Array(record), text)
}

/// What to do about a dose.
const HEARING: &str = "Wear protection that fits, shorten the stay, or play quieter; `wythe dose` \
                       gives the times by other rules. Ears differ: have them tested.";
