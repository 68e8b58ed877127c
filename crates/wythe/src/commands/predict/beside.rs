//! What stands beside the levels: rooms among each other, all sources at once, fans, footsteps,
//! states of the doors, and how far a level may be trusted.

use serde_json::{Map, Value, json};
use wythe_bands::{Band, Hertz, Level, LevelDifference, Octave, Spectrum, weighting::Weighting};
use wythe_building::modes::FieldTrust;
use wythe_building::{BoundaryIndex, BoundaryKind, Building, RoomIndex};
use wythe_findings::{Arrived, Assessment, Predicted, curve};
use wythe_rating::{Method, Options, rate};
use wythe_transmission::{
    Cache, ImpactInto, ImpactLevel, LEAST_SHARE, Near, impact_level, impact_rooms, position_spread,
    trust,
};

use super::{percent, target};
use crate::output::{Table, decimals, levels, one, rounded, wrap};

/// More rooms than this make a table nobody reads; then only the sources' rooms stand in it.
const MOST_ROWS: usize = 14;

/// Weighted level difference and that of the 63 Hz octave between all rooms, from a row's room to
/// a column's.
pub fn between(building: &Building, predicted: &Predicted) -> String {
    let rooms: Vec<usize> = (0..building.rooms.len()).collect();
    if rooms.len() < 2 || rooms.len() > 2 * MOST_ROWS {
        return String::new();
    }
    let loud = |r: &usize| building.sources.iter().any(|s| s.room.0 == *r);
    let from: Vec<usize> = if rooms.len() > MOST_ROWS {
        rooms.iter().copied().filter(loud).collect()
    } else {
        rooms.clone()
    };
    let all = predicted.model.all_energies();
    let mut headings = vec!["From".to_owned()];
    headings.extend(rooms.iter().map(|r| (r + 1).to_string()));
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(1, &headings);
    for i in from {
        let mut row = vec![format!("{} {}", i + 1, building.rooms[i].name())];
        for j in &rooms {
            let difference = difference(&all[i][*j]);
            row.push(if i == *j || difference.is_empty() {
                "–".to_owned()
            } else {
                format!(
                    "{}·{}",
                    weighted(&difference).map_or("?".into(), |d| decimals(d, 0)),
                    at_63(&difference).map_or("?".into(), |d| decimals(d, 0))
                )
            });
        }
        table.row(row);
    }
    format!(
        "\nRoom to room\n\n{}  Dw · difference in the 63 Hz octave, dB, from the row's room to the column's; \
         unlike both ways because\n  the rooms swallow unlike; from outdoors the level is the one 2 m before the wall\n",
        table.text()
    )
}

/// The same as records.
pub fn between_records(building: &Building, predicted: &Predicted) -> Value {
    if building.rooms.len() > 4 * MOST_ROWS {
        return Value::Array(Vec::new());
    }
    let all = predicted.model.all_energies();
    let id = |r: usize| building.rooms[r].id.as_str();
    let mut out = Vec::new();
    for (i, row) in all.iter().enumerate() {
        for (j, energy) in row.iter().enumerate().filter(|(j, _)| *j != i) {
            let d = difference(energy);
            if d.is_empty() {
                continue;
            }
            out.push(json!({
                "from": id(i),
                "to": id(j),
                "Dw": weighted(&d).map_or(Value::Null, |d| rounded(d, 0)),
                "difference_63_octave_db": at_63(&d).map_or(Value::Null, |d| rounded(d, 1)),
            }));
        }
    }
    Value::Array(out)
}

fn difference(energy: &[f64]) -> Spectrum<LevelDifference> {
    Band::all()
        .zip(energy)
        .filter(|(_, x)| **x > 0.0)
        .map(|(b, x)| (b, LevelDifference(-10.0 * x.log10())))
        .collect()
}

fn weighted(difference: &Spectrum<LevelDifference>) -> Option<f64> {
    rate(&curve(difference), Method::Iso717Part1, &Options::default()).ok()?.number()
}

/// Difference of the 63 Hz octave for a source with as much in each of its thirds.
fn at_63(difference: &Spectrum<LevelDifference>) -> Option<f64> {
    let octave = Octave::from_nominal("63")?;
    let flat: Spectrum<Level> = difference.map(|_, _| Level(0.0));
    let there = flat.zip_with(difference, |l, d| l - d);
    Some(flat.to_octaves().get(octave)?.0 - there.to_octaves().get(octave)?.0)
}

/// Verdicts as one line each.
fn verdicts(all: &[Assessment]) -> String {
    let words: Vec<String> = all
        .iter()
        .filter_map(|t| {
            let margin = t.margin_db?;
            let word = if margin >= 0.0 { "meets" } else { "short of" };
            let band = t.governing_band.map_or(String::new(), |b| format!(" at {b} Hz"));
            let chance = t.probability_met.map_or(String::new(), |p| format!(", {}", percent(p)));
            Some(format!("{word} {} by {} dB{band}{chance}", t.criterion, one(margin.abs())))
        })
        .collect();
    words.join("; ")
}

/// Rooms that hear several sources.
pub fn together(building: &Building, predicted: &Predicted) -> String {
    let mut table = Table::new(4, &["All sources together", "dBA", "dBC", ""]);
    for t in &predicted.together {
        table.row(vec![
            building.rooms[t.room.0].name().to_owned(),
            t.level_a.map_or("–".into(), |l| decimals(l.0, 0)),
            t.level_c.map_or("–".into(), |l| decimals(l.0, 0)),
            verdicts(&t.targets),
        ]);
    }
    if predicted.together.is_empty() { String::new() } else { format!("\n{}", table.text()) }
}

/// Levels with an excess per band on top.
fn raised(a: &Arrived, by: &[f64]) -> Spectrum<Level> {
    a.levels.filter_map(|b, l| by.get(b.index()).map(|more| Level(l.0 + more)))
}

/// Openings before which it is louder than in the room.
pub fn near(building: &Building, all: &[Arrived]) -> String {
    let mut table = Table::new(2, &["Close to", "in", "at the leaf", "1 m off", "in the room"]);
    for a in all {
        for n in &a.near {
            let dba = |levels: Spectrum<Level>| {
                let whole = levels.weighted_total(Weighting::A);
                whole.map_or("–".into(), |l| format!("{} dBA", decimals(l.0, 0)))
            };
            table.row(vec![
                n.title.clone(),
                building.rooms[a.room.0].name().to_owned(),
                dba(raised(a, &n.at_leaf)),
                dba(raised(a, &n.at_a_metre)),
                dba(a.levels),
            ]);
        }
    }
    if all.iter().all(|a| a.near.is_empty()) {
        return String::new();
    }
    format!(
        "\nClose to what leaks\n\n{}\n  derived: ½ τ of the level behind at the leaf, falling with distance; a seat there hears more than the room\n",
        table.text()
    )
}

/// The same as records.
pub fn near_records(a: &Arrived) -> Value {
    let dba = |levels: Spectrum<Level>| {
        levels.weighted_total(Weighting::A).map_or(Value::Null, |l| rounded(l.0, 2))
    };
    let of = |n: &Near| {
        let (leaf, metre) = (raised(a, &n.at_leaf), raised(a, &n.at_a_metre));
        json!({
            "opening": n.opening,
            "at_leaf_db": levels(&leaf),
            "at_leaf_dba": dba(leaf),
            "at_1_m_db": levels(&metre),
            "at_1_m_dba": dba(metre),
        })
    };
    a.near.iter().map(of).collect()
}

/// Rooms into which ducts bring noise.
pub fn ventilation(building: &Building, predicted: &Predicted) -> String {
    let mut table = Table::new(3, &["Fans and air streams", "dBA", ""]);
    for v in &predicted.ventilation {
        table.row(vec![
            building.rooms[v.room.0].name().to_owned(),
            v.level_a.map_or("–".into(), |l| decimals(l.0, 0)),
            verdicts(&v.targets),
        ]);
    }
    if predicted.ventilation.is_empty() {
        return String::new();
    }
    format!(
        "\n{}  counted as background wherever something is asked to be inaudible\n",
        table.text()
    )
}

/// Floors between rooms, with the impact level of each.
fn floors(building: &Building, cache: &mut Cache) -> Vec<Floor> {
    let mut out = Vec::new();
    for (index, boundary) in building.boundaries.iter().enumerate() {
        let indoors = boundary.rooms.iter().all(|r| !building.rooms[r.0].outdoors);
        if boundary.kind != BoundaryKind::Floor || !indoors {
            continue;
        }
        let at = BoundaryIndex(index);
        // What cannot be predicted was refused when the building was put together.
        let Ok(Some(level)) = impact_level(building, at, cache) else { continue };
        let rooms = impact_rooms(building, at, cache).unwrap_or_default();
        out.push(Floor { at, rating: impact_rating(&level.below), level, rooms });
    }
    out
}

/// A floor with what the tapping machine on it makes below and elsewhere.
struct Floor {
    at: BoundaryIndex,
    level: ImpactLevel,
    rating: Option<f64>,
    rooms: Vec<ImpactInto>,
}

fn impact_rating(levels: &[f64]) -> Option<f64> {
    let thirds: Spectrum<LevelDifference> =
        Band::all().zip(levels).map(|(b, l)| (b, LevelDifference(*l))).collect();
    rate(&curve(&thirds), Method::Iso717Part2, &Options::default()).ok()?.number()
}

/// Footsteps: every floor by the standard tapping machine.
pub fn impact(building: &Building, cache: &mut Cache) -> String {
    let all = floors(building, cache);
    let mut table = Table::new(6, &["Floor", "heard in", "Ln,w", "L'n,w", "±", ""]);
    let mut framed = false;
    for Floor { at, level, rating, rooms } in &all {
        let boundary = &building.boundaries[at.0];
        framed |= level.struck.is_none();
        let (better, worse) = level.bands();
        let range = |b: &[Band]| match (b.first(), b.last()) {
            (Some(a), Some(z)) => Some(format!("{} to {} Hz", a.nominal(), z.nominal())),
            _ => None,
        };
        let floats = level.floating.map_or(String::new(), |f0| {
            let mut text = format!("floats at {:.0} Hz on its air alone", f0.0);
            if let Some(worse) = range(&worse) {
                text.push_str(&format!(", worse {worse}"));
            }
            if let Some(first) = better.first() {
                text.push_str(&format!(", better from {} Hz", first.nominal()));
            }
            text
        });
        for into in rooms {
            let below = into.room == boundary.rooms[0];
            table.row(vec![
                boundary.name().to_owned(),
                building.rooms[into.room.0].name().to_owned(),
                rating.filter(|_| below).map_or("–".into(), |r| decimals(r, 0)),
                impact_rating(&into.level).map_or("–".into(), |r| decimals(r, 0)),
                decimals(into.deviation, 0),
                if below { floats.clone() } else { "along walls and floors".to_owned() },
            ]);
        }
    }
    if all.is_empty() {
        return String::new();
    }
    let range = if framed {
        "; framed floors are a range, and what goes along their walls is left out unless a junction states it"
    } else {
        ""
    };
    let note = format!(
        "standard tapping machine on the floor, dB; Ln,w of the floor alone, L'n,w with what goes along walls and floors{range}"
    );
    format!("\n{}  {}\n", table.text(), wrap(&note, 94).join("\n  "))
}

/// The same as records.
pub fn impact_records(building: &Building, cache: &mut Cache) -> Value {
    floors(building, cache)
        .iter()
        .map(|Floor { at, level, rating, rooms }| {
            let below: Spectrum<Level> =
                Band::all().zip(level.below).map(|(b, l)| (b, Level(l))).collect();
            let (better, worse) = level.bands();
            let names = |b: &[Band]| b.iter().map(|b| b.nominal()).collect::<Vec<_>>();
            json!({
                "floor": building.boundaries[at.0].id,
                "Lnw": rating.map_or(Value::Null, |r| rounded(r, 0)),
                "normalised_impact_level_db": levels(&below),
                "standard_deviation_db": rounded(level.deviation, 1),
                "floating_hz": level.floating.map_or(Value::Null, |f: Hertz| rounded(f.0, 1)),
                "better": names(&better),
                "worse": names(&worse),
                "rooms": rooms.iter().map(|into| json!({
                    "room": building.rooms[into.room.0].id,
                    "L'nw": impact_rating(&into.level).map_or(Value::Null, |r| rounded(r, 0)),
                    "normalised_impact_level_db":
                        levels(&Band::all().zip(into.level).map(|(b, l)| (b, Level(l))).collect()),
                    "standard_deviation_db": rounded(into.deviation, 1),
                    "flanking_paths": into.paths,
                })).collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// Records of what several sources and fans make.
pub fn add_records(building: &Building, predicted: &Predicted, out: &mut Map<String, Value>) {
    let id = |r: RoomIndex| building.rooms[r.0].id.as_str();
    let together: Vec<Value> = predicted
        .together
        .iter()
        .map(|t| {
            let sources: Vec<&str> =
                t.sources.iter().map(|s| building.sources[*s].id.as_str()).collect();
            json!({
                "room": id(t.room), "sources": sources, "level_db": levels(&t.levels),
                "level_dba": t.level_a.map_or(Value::Null, |l| rounded(l.0, 2)),
                "level_dbc": t.level_c.map_or(Value::Null, |l| rounded(l.0, 2)),
                "targets": t.targets.iter().map(target).collect::<Vec<_>>(),
            })
        })
        .collect();
    let ventilation: Vec<Value> = predicted
        .ventilation
        .iter()
        .map(|v| {
            json!({
                "room": id(v.room), "level_db": levels(&v.levels),
                "level_dba": v.level_a.map_or(Value::Null, |l| rounded(l.0, 2)),
                "targets": v.targets.iter().map(target).collect::<Vec<_>>(),
            })
        })
        .collect();
    out.insert("together".into(), Value::Array(together));
    out.insert("ventilation".into(), Value::Array(ventilation));
    out.insert("room_to_room".into(), between_records(building, predicted));
}

/// How far the levels in a room may be trusted, as one sentence: by its modes, its spread from
/// place to place, and ways that were not followed.
pub fn trusted(building: &Building, arrived: &Arrived) -> Vec<String> {
    let room = &building.rooms[arrived.room.0];
    let mut out = Vec::new();
    if !room.outdoors {
        let spread = position_spread(room, building.air);
        let last = |worst: FieldTrust| {
            Band::results().rfind(|b| trust(room, building.air, *b) == worst).map(|b| b.nominal())
        };
        let at = |b: Band| spread.get(b.index()).copied().unwrap_or(0.0);
        let mut words = Vec::new();
        if let Some(b) = last(FieldTrust::OrderOnly) {
            words.push(format!("up to {b} Hz an order of magnitude only"));
        }
        if let Some(b) = last(FieldTrust::Indicative) {
            words.push(format!("indicative up to {b} Hz"));
        }
        let below =
            if words.is_empty() { String::new() } else { format!("{}; ", words.join(", ")) };
        out.push(format!(
            "{below}single modes rule below about {:.0} Hz; from place to place ± {} dB at 63 Hz, ± {} dB at 500 Hz on top",
            room.schroeder_frequency(building.air),
            Band::from_nominal("63").map_or("?".into(), |b| decimals(at(b), 0)),
            decimals(at(Band::HZ_500), 0)
        ));
    }
    let from = arrived.received.listed_from;
    if from >= 1.0 {
        out.push(
            "most of it comes through more rooms in a row than are followed; the level counts them, the list of ways does not".to_owned(),
        );
    } else if from > LEAST_SHARE {
        out.push(format!(
            "the building has so many ways that only those with {:.0} % or more of a band are listed",
            100.0 * from
        ));
    }
    out
}

/// A-weighted levels and worst margins of all rooms in several states side by side.
pub fn states(all: &[(String, Building, Predicted)]) -> String {
    let Some((_, building, first)) = all.first() else { return String::new() };
    let mut out = String::from("\nStates beside each other\n\n");
    for (k, (name, ..)) in all.iter().enumerate() {
        out.push_str(&format!("  {}  {name}\n", k + 1));
    }
    for (index, s) in first.sources.iter().enumerate() {
        let mut headings = vec![building.sources[s.source].name().to_owned()];
        headings.extend((1..=all.len()).map(|k| format!("{k}: dBA")));
        headings.push("worst margins, dB".into());
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        let mut table = Table::new(1, &headings);
        for (place, a) in s.arrived.iter().enumerate() {
            let mut row = vec![building.rooms[a.room.0].name().to_owned()];
            let mut margins = Vec::new();
            for (_, _, p) in all {
                let there = p.sources.get(index).and_then(|s| s.arrived.get(place));
                row.push(there.and_then(|a| a.level_a).map_or("–".into(), |l| decimals(l.0, 0)));
                let worst = there
                    .into_iter()
                    .flat_map(|a| a.targets.iter().filter_map(|t| t.margin_db))
                    .min_by(f64::total_cmp);
                margins.push(worst.map_or("–".into(), one));
            }
            let asked = margins.iter().any(|m| m != "–");
            row.push(if asked { margins.join("  ") } else { String::new() });
            table.row(row);
        }
        out.push_str(&format!("\n{}", table.text()));
    }
    out
}

/// Lines with a dot before each.
pub fn dotted(lines: &[String]) -> String {
    let mut out = String::new();
    for line in lines {
        for (i, part) in wrap(line, 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(part);
            out.push('\n');
        }
    }
    out
}
