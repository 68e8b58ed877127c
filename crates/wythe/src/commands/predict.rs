//! `wythe predict`: levels in every room, which way they came, and whether that is enough.

mod beside;

use serde_json::{Map, Value, json};
use wythe_bands::{Band, Remark, weighting::Weighting};
use wythe_building::{Building, RoomIndex};
use wythe_findings::caution::requirements::{Asked, NOT_LAW, asked_of};
use wythe_findings::caution::{Caution, Topic, cautions_of};
use wythe_findings::{
    Arrived, Assessment, Predicted, deviation_of_weighted, predict, sentences, shares_of_weighted,
};
use wythe_rating::audibility::{self, AudibleBand};
use wythe_report::chart::{
    BandChart, DominanceStrip, Format, PathShare, Quantity, Role, Trace, Words,
};
use wythe_report::report::parts;
use wythe_transmission::{Cache, Model};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::output::{
    self, Done, Table, decimals, differences, levels, one, print, print_json, remarks,
    remarks_text, rounded, wrap,
};
use crate::pictures;
use crate::{cautions, load};

/// Ways listed per receiver; the strip of a room with more is no longer read.
const MOST_LISTED: usize = 8;

/// Runs the command.
pub fn run(args: &args::Predict, common: &Common) -> Result<Done, Failure> {
    let (project, _) = load::project(&args.folder)?;
    let building = &project.building;
    if building.sources.is_empty() {
        return Err(Failure::file(
            &args.folder.join(wythe_project::PROJECT_FILE),
            "there is no source, so there is nothing to predict",
            "add one, for example:\n      [[source]]\n      room = \"drum-hall\"\n      \
             spectrum = \"pink noise\"\n      level = \"95 dB Leq\"",
        ));
    }
    let chosen = |word: &Option<String>| match word {
        None => Ok(None),
        Some(w) => room_named(building, w).map(Some).ok_or_else(|| no_room(building, w)),
    };
    let (from, to) = (chosen(&args.from)?, chosen(&args.to)?);
    let mut states: Vec<(Option<&str>, Building)> = Vec::new();
    if args.state.is_empty() {
        states.push((None, building.clone()));
    }
    for name in &args.state {
        match building.in_state(name) {
            Some(b) => states.push((Some(name), b)),
            None => return Err(no_state(building, name)),
        }
    }
    let mut cache = Cache::default();
    let mut attention = false;
    let mut out = String::new();
    let mut record = Map::new();
    let mut by_state = Vec::new();
    let mut compared = Vec::new();
    // Of the building as described; a state moves doors, not what can hurt.
    let cautions = cautions_of(building, None);
    for (name, in_state) in &states {
        let mut predicted = predict(in_state, &mut cache)
            .map_err(|e| Failure::file(&args.folder, e.to_string(), ""))?;
        predicted.sources.retain(|s| from.is_none_or(|r| building.sources[s.source].room == r));
        for s in &mut predicted.sources {
            s.arrived.retain(|a| to.is_none_or(|r| a.room == r));
        }
        attention |= !predicted.model.remarks.is_empty()
            || predicted.sources.iter().flat_map(|s| &s.arrived).any(missed);
        if common.json {
            let mut object = self::record(in_state, &predicted);
            object.insert("impact".into(), beside::impact_records(in_state, &mut cache));
            if by_state.is_empty() {
                record = object.clone();
            }
            let mut named = Map::new();
            named.insert("state".into(), json!(name));
            named.extend(object);
            by_state.push(Value::Object(named));
        } else {
            if let Some(name) = name {
                out.push_str(&format!("State: {name}\n\n"));
            }
            // What does not change with the doors is said once, after the first state.
            out.push_str(&text(in_state, &predicted, &mut cache, compared.is_empty()));
        }
        compared.push((name.unwrap_or("as described").to_owned(), in_state.clone(), predicted));
    }
    let drawn = pictures::write(
        &args.charts,
        || {
            let named = |state| Some(state).filter(|_| !args.state.is_empty());
            compared.iter().flat_map(|(state, b, p)| charts(b, p, named(state.as_str()))).collect()
        },
        "no room is reached by a described way from what was asked for",
    )?;
    if common.json {
        if states.len() > 1 {
            record.insert("states".into(), Value::Array(by_state));
        }
        record.insert("cautions".into(), cautions::records(&cautions));
        print_json(&Value::Object(record))?;
    } else {
        if compared.len() > 1 {
            out.push_str(&beside::states(&compared));
        }
        let levels = |c: &Caution| matches!(c.topic, Topic::Hearing | Topic::Alarm);
        out.push_str(&cautions::text(&cautions, levels));
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    Ok(Done { attention })
}

fn missed(arrived: &Arrived) -> bool {
    arrived.targets.iter().any(|t| t.met == Some(false))
}

/// Room a word on the command line means: an id, or the title in any case.
fn room_named(building: &Building, word: &str) -> Option<RoomIndex> {
    building.room(word).or_else(|| {
        building
            .rooms
            .iter()
            .position(|r| r.name().to_lowercase() == word.to_lowercase())
            .map(RoomIndex)
    })
}

/// There is no such room; the ones there are.
pub fn no_room(building: &Building, word: &str) -> Failure {
    let known: Vec<&str> = building.rooms.iter().map(|r| r.id.as_str()).collect();
    Failure::new(format!("there is no room `{word}`"), format!("rooms: {}", known.join(", ")))
}

fn no_state(building: &Building, name: &str) -> Failure {
    let known: Vec<String> = building.states.iter().map(|s| format!("\"{}\"", s.name)).collect();
    Failure::new(
        format!("there is no state \"{name}\""),
        if known.is_empty() {
            "the project names no states; add one with [[state]]".to_owned()
        } else {
            format!("states: {}", known.join(", "))
        },
    )
}

fn record(building: &Building, predicted: &Predicted) -> Map<String, Value> {
    let sources: Vec<Value> = predicted
        .sources
        .iter()
        .map(|s| {
            let source = &building.sources[s.source];
            let receivers: Vec<Value> =
                s.arrived.iter().map(|a| receiver(building, &predicted.model, a)).collect();
            json!({
                "id": source.id,
                "room": building.rooms[source.room.0].id,
                "level_db": levels(&source.levels),
                "invented": source.invented,
                "receivers": receivers,
            })
        })
        .collect();
    let mut out = Map::new();
    out.insert("sources".into(), Value::Array(sources));
    beside::add_records(building, predicted, &mut out);
    out.insert("remarks".into(), remarks(&predicted.model.remarks));
    out
}

fn receiver(building: &Building, model: &Model, a: &Arrived) -> Value {
    let mut object = Map::new();
    object.insert("room".into(), json!(building.rooms[a.room.0].id));
    object.insert("level_db".into(), levels(&a.levels));
    object.insert("standard_deviation_db".into(), differences(&a.received.deviation));
    object.insert("level_dba".into(), a.level_a.map_or(Value::Null, |l| rounded(l.0, 2)));
    object.insert("level_dbc".into(), a.level_c.map_or(Value::Null, |l| rounded(l.0, 2)));
    object.insert("ways_listed_from_share".into(), rounded(a.received.listed_from, 3));
    object.insert("difference_db".into(), differences(&a.received.difference));
    let bands = |f: &dyn Fn(&AudibleBand) -> Value| -> Value {
        let heard = a.heard.iter().flat_map(|h| &h.bands);
        heard.map(|b| (b.band.nominal().to_owned(), f(b))).collect::<Map<_, _>>().into()
    };
    object.insert("audible".into(), bands(&|b| json!(b.excess > 0.0)));
    object.insert("over_threshold_and_background_db".into(), bands(&|b| rounded(b.excess, 2)));
    object.insert("heard".into(), json!(a.heard.as_ref().map(|h| h.sentence.as_str())));
    if let Some(first) = a.targets.first() {
        object.insert("target".into(), target(first));
    }
    if a.targets.len() > 1 {
        object.insert("targets".into(), a.targets.iter().map(target).collect());
    }
    let paths: Vec<Value> = a
        .received
        .ways
        .iter()
        .map(|w| {
            let share: Map<String, Value> = a
                .received
                .difference
                .iter()
                .map(|(b, _)| (b.nominal().to_owned(), rounded(w.share[b.index()], 6)))
                .collect();
            let through: Vec<&str> =
                w.rooms.iter().map(|r| building.rooms[r.0].id.as_str()).collect();
            json!({
                "id": w.id(model),
                "title": w.title(model),
                "kind": if w.is_rest() { "direct" } else { w.kind(model).word() },
                "through": through,
                "level_db": levels(&w.level(&a.levels)),
                "share": share,
            })
        })
        .collect();
    object.insert("paths".into(), Value::Array(paths));
    object.insert("near".into(), beside::near_records(a));
    Value::Object(object)
}

/// A target's verdict as a record.
pub fn target(t: &Assessment) -> Value {
    json!({
        "criterion": t.criterion,
        "met": t.met,
        "margin_db": t.margin_db.map_or(Value::Null, |m| rounded(m, 2)),
        "governing_band": t.governing_band,
        "probability_met": t.probability_met.map_or(Value::Null, |p| rounded(p, 3)),
        "remarks": remarks(&t.remarks),
    })
}

fn text(building: &Building, predicted: &Predicted, cache: &mut Cache, first: bool) -> String {
    let mut out = String::new();
    for s in &predicted.sources {
        let source = &building.sources[s.source];
        let invented = if source.invented { " (invented spectrum)" } else { "" };
        let room = building.rooms[source.room.0].name();
        let total = source.levels.total().map_or(String::new(), |l| format!(", {:.0} dB", l.0));
        out.push_str(&format!("{} in {room}{total}{invented}\n\n", source.name()));
        out.push_str(&level_table(building, s.arrived.iter()));
        out.push_str(
            "\n  octave levels in dB; dBC − dBA above 10 dB means that the A figure hides bass\n",
        );
        let judged = targets_text(building, &s.arrived);
        if !judged.is_empty() {
            out.push_str(&format!("\nTargets\n\n{judged}"));
        }
        out.push_str(&beside::near(building, &s.arrived));
        out.push_str(&heard_text(building, &s.arrived));
        out.push_str(&guidance_text(building, &s.arrived));
        for a in s.arrived.iter().filter(|a| !a.received.ways.is_empty()) {
            out.push_str(&format!("\nWhich way it comes into {}\n\n", name(building, a)));
            out.push_str(&strip(&predicted.model, a));
            out.push_str(&beside::dotted(&sentences(&predicted.model, &a.received)));
            out.push_str(&beside::dotted(&beside::trusted(building, a)));
        }
        let silent: Vec<&str> = s
            .arrived
            .iter()
            .filter(|a| a.received.ways.is_empty())
            .map(|a| name(building, a))
            .collect();
        if !silent.is_empty() {
            out.push_str(&format!(
                "\nNo way is described into {}; nothing can be said about it.\n",
                silent.join(", ")
            ));
        }
    }
    out.push_str(&beside::together(building, predicted));
    out.push_str(&beside::between(building, predicted));
    if first {
        out.push_str(&beside::ventilation(building, predicted));
        out.push_str(&beside::impact(building, cache));
    }
    let mut all = predicted.model.remarks.clone();
    all.push(Remark::new(
        "predict::small-rooms",
        "below about 100 Hz few modes rule a small room: the ± holds their spread, and a single \
         position may differ by more",
    ));
    out.push_str(&remarks_text(&all));
    out
}

fn name<'a>(building: &'a Building, a: &Arrived) -> &'a str {
    building.rooms[a.room.0].name()
}

fn level_table<'a>(building: &Building, all: impl Iterator<Item = &'a Arrived>) -> String {
    let octaves: Vec<_> = output::table_octaves().collect();
    let mut headings = vec!["Room"];
    headings.extend(octaves.iter().map(|o| o.nominal()));
    headings.extend(["dBA", "±", "dBC − dBA"]);
    let mut table = Table::new(1, &headings);
    for a in all {
        let octave_levels = a.levels.to_octaves();
        let mut row = vec![name(building, a).to_owned()];
        for o in &octaves {
            row.push(octave_levels.get(*o).map(|l| decimals(l.0, 0)).unwrap_or_default());
        }
        row.push(a.level_a.map(|l| decimals(l.0, 0)).unwrap_or("–".into()));
        let deviation = deviation_of_weighted(&a.levels, &a.received.deviation, Weighting::A);
        row.push(deviation.map(|d| decimals(d.0, 0)).unwrap_or_default());
        row.push(a.level_c.zip(a.level_a).map(|(c, l)| decimals((c - l).0, 0)).unwrap_or_default());
        table.row(row);
    }
    table.text()
}

/// Published guidance for the rooms whose use is stated.
fn guidance_text(building: &Building, all: &[Arrived]) -> String {
    let mut out = String::new();
    for a in all {
        for asked in asked_of(building, a.room) {
            if let Asked::Published(row) = asked {
                let line = format!("{}: {}", name(building, a), row.text());
                out.push_str(&format!("  · {}\n", wrap(&line, 92).join("\n    ")));
            }
        }
    }
    if out.is_empty() {
        return out;
    }
    format!("\nPublished guidance for such rooms\n\n{out}\n  {}\n", wrap(NOT_LAW, 94).join("\n  "))
}

/// Whether it can be heard, room by room.
fn heard_text(building: &Building, all: &[Arrived]) -> String {
    let mut table = Table::new(2, &["Room", "heard?"]);
    for a in all {
        if let Some(heard) = &a.heard {
            table.row(vec![name(building, a).to_owned(), heard.sentence.clone()]);
        }
    }
    let rows = table.text();
    if all.iter().all(|a| a.heard.is_none()) {
        return String::new();
    }
    let basis = wrap(&format!("by the mean prediction; {}", audibility::BASIS), 94);
    format!("\nCan it be heard\n\n{rows}\n  {}\n", basis.join("\n  "))
}

fn targets_text(building: &Building, all: &[Arrived]) -> String {
    let mut table = Table::new(3, &["Room", "required", "", "margin", "decided at", "probability"]);
    let mut any = false;
    // A reason too long for a cell is said below, once.
    let mut reasons: Vec<String> = Vec::new();
    for a in all {
        for t in &a.targets {
            any = true;
            table.row(vec![
                name(building, a).to_owned(),
                t.criterion.clone(),
                match t.met {
                    Some(true) => "meets".into(),
                    Some(false) => "short".into(),
                    None => match t.remarks.first() {
                        Some(r) if r.text.chars().count() > 50 => {
                            let reason = format!("{}: {}", t.criterion, r.text);
                            if !reasons.contains(&reason) {
                                reasons.push(reason);
                            }
                            "not judged, see below".into()
                        }
                        Some(r) => r.text.clone(),
                        None => "not judged".into(),
                    },
                },
                t.margin_db.map(|m| format!("{} dB", one(m))).unwrap_or_default(),
                t.governing_band.map(|b| format!("{b} Hz")).unwrap_or_default(),
                t.probability_met.map(percent).unwrap_or_default(),
            ]);
        }
    }
    if any { table.text() + &beside::dotted(&reasons) } else { String::new() }
}

/// A probability as people say it; never 0 or 100 %.
pub fn percent(p: f64) -> String {
    if p < 0.01 {
        "< 1 %".into()
    } else if p > 0.99 {
        "> 99 %".into()
    } else {
        format!("{:.0} %", 100.0 * p)
    }
}

/// Five steps of ink for a share.
const INK: [char; 6] = ['·', '░', '▒', '▓', '█', '█'];

fn strip(model: &Model, a: &Arrived) -> String {
    let bands: Vec<Band> =
        output::table_bands().filter(|b| a.received.difference.get(*b).is_some()).collect();
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let mut out = String::new();
    // Each mark stands at its band and takes the room of those after it.
    let mut ruler: Vec<char> = vec![' '; 2 * bands.len() + 4];
    for (i, b) in bands.iter().enumerate() {
        let mark = match b.nominal() {
            "63" | "125" | "250" | "500" => b.nominal().to_owned(),
            "1000" => "1k".into(),
            "2000" => "2k".into(),
            "4000" => "4k".into(),
            _ => continue,
        };
        for (k, c) in mark.chars().enumerate() {
            ruler[2 * i + k] = c;
        }
    }
    let ruler: String = ruler.into_iter().collect();
    out.push_str(&format!("     {}\n", ruler.trim_end()));
    let mut ways: Vec<(usize, &wythe_transmission::Way)> =
        a.received.ways.iter().enumerate().collect();
    ways.sort_by(|x, y| {
        let rest = x.1.is_rest().cmp(&y.1.is_rest());
        rest.then(totals[y.0].total_cmp(&totals[x.0]))
    });
    for (place, (index, way)) in ways.iter().take(MOST_LISTED).enumerate() {
        let letter = if way.is_rest() { ' ' } else { letter(place) };
        let cells: String = bands
            .iter()
            .map(|b| {
                let s = way.share[b.index()];
                let step = match s {
                    s if s < 0.02 => 0,
                    s if s < 0.10 => 1,
                    s if s < 0.30 => 2,
                    s if s < 0.60 => 3,
                    _ => 4,
                };
                format!("{0}{0}", INK[step])
            })
            .collect();
        out.push_str(&format!(
            "  {letter}  {cells}  {:>4}  {}\n",
            percent(totals[*index]).replace(" %", "%"),
            way.title(model)
        ));
    }
    out.push_str("     darker: carries more of the band; the figure is its share of the dBA\n");
    out
}

fn letter(place: usize) -> char {
    char::from(b'A' + (place % 26) as u8)
}

/// A chart of every receiver of every source in one state of the building.
fn charts(building: &Building, predicted: &Predicted, state: Option<&str>) -> Vec<pictures::Named> {
    let mut out = Vec::new();
    for s in &predicted.sources {
        let source = &building.sources[s.source];
        // Sources of one room differ by their id.
        let several = building.sources.iter().filter(|x| x.room == source.room).count() > 1;
        let before = if several { format!("{}-", source.id) } else { String::new() };
        for a in s.arrived.iter().filter(|a| !a.levels.is_empty()) {
            let name = parts::file_name(building, &before, source.room, a.room, state);
            let drawing = chart(building, &predicted.model, source.name(), a).draw(Format::Screen);
            out.push((name, drawing));
        }
    }
    out
}

/// The chart of one receiver: level, background, ways and their shares.
pub fn chart(building: &Building, model: &Model, source: &str, a: &Arrived) -> BandChart {
    let room = &building.rooms[a.room.0];
    let words = Words::new(
        format!("levels-{}", room.id),
        format!("{source} in {}", room.name()),
        format!(
            "Predicted third-octave levels in {}, with standard deviation; power balance of all \
             rooms. Lower is better.",
            room.name()
        ),
    );
    let mut chart = BandChart::new(words, Quantity::new("Sound pressure level", "L", "p"));
    if let Some(background) = &room.background {
        chart.traces.push(Trace::levels(Role::Background, "background", background));
    }
    chart.traces.push(
        Trace::levels(Role::Predicted, "predicted", &a.levels)
            .with_uncertainty(&a.received.deviation),
    );
    let totals = shares_of_weighted(&a.received, &a.levels, Weighting::A);
    let paths = a
        .received
        .ways
        .iter()
        .zip(&totals)
        .filter(|(w, _)| !w.is_rest())
        .take(MOST_LISTED)
        .enumerate()
        .map(|(place, (w, total))| PathShare {
            letter: letter(place),
            name: w.title(model),
            shares: a.received.difference.map(|b, _| w.share[b.index()]),
            total: Some(*total),
        })
        .collect();
    chart.strip = Some(DominanceStrip { paths });
    chart
}
