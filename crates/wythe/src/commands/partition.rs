//! `wythe partition`: what a build-up does, by itself.

use std::path::Path;

use serde_json::{Map, Value, json};
use wythe_bands::{Air, Band, LevelDifference, OctaveSpectrum, SquareMetre};
use wythe_findings::caution::cautions_of_build_ups;
use wythe_findings::curve;
use wythe_partition::{
    BuildUp, Cavity, Conditions, Construction, InputEffect, Joint, Layer, MountKind, Prediction,
    Side, limits, predict, rank_inputs,
};
use wythe_project::BuildUpReading;
use wythe_project::quantity::{Quantity, parse};
use wythe_rating::{Method, Options, Rating, rate};
use wythe_report::chart::{BandChart, Format, Quantity as Axis, Role, Trace, Words, id, signed};

use crate::args::{self, Common};
use crate::cautions;
use crate::failure::Failure;
use crate::load::{DiskFiles, draw};
use crate::output::{
    self, Done, Table, by_octave, differences, one, print, print_json, remarks, remarks_text,
    rounded,
};
use crate::pictures;

/// A build-up with everything said about it.
struct Judged {
    build_up: BuildUp,
    prediction: Prediction,
    octaves: OctaveSpectrum<LevelDifference>,
    octave_deviation: OctaveSpectrum<LevelDifference>,
    iso: Option<Rating>,
    stc: Option<Rating>,
    oitc: Option<Rating>,
    /// What nobody has looked at and moves the result, the strongest first.
    unknowns: Vec<InputEffect>,
}

/// Runs the command.
pub fn run(args: &args::Partition, common: &Common) -> Result<Done, Failure> {
    let area = parse(Quantity::Area, &args.area).map_err(|e| {
        Failure::new(format!("--area: {e}"), "write it as \"10 m2\" or \"107 ft2\"")
    })?;
    if !(0.05..=10_000.0).contains(&area) {
        return Err(Failure::new(
            format!("--area of {area} m² is not that of a wall"),
            "give an area between 0.05 and 10000 m²",
        ));
    }
    let reading = read(&args.file)?;
    if !reading.errors.is_empty() {
        return Err(Failure::Messages(
            reading.errors.iter().map(|p| draw(p, &reading.texts)).collect(),
        ));
    }
    let conditions = Conditions { air: Air::default(), area: SquareMetre(area) };
    let mut judged = Vec::new();
    let mut failures = Vec::new();
    for build_up in &reading.build_ups {
        match predict(build_up, &conditions) {
            Ok(prediction) => judged.push(judge(build_up.clone(), prediction, &conditions)),
            Err(e) => failures.push(crate::failure::message(
                &e.to_string(),
                Some(&args.file.display().to_string()),
                "",
            )),
        }
    }
    if !failures.is_empty() {
        return Err(Failure::Messages(failures));
    }
    let charts = || {
        let mut all = vec![("build-ups".to_owned(), chart(&judged, area).draw(Format::Screen))];
        if judged.len() > 1 {
            let alone = |j| chart(std::slice::from_ref(j), area).draw(Format::Screen);
            all.extend(judged.iter().map(|j| (id(&j.build_up.id), alone(j))));
        }
        all
    };
    let drawn = pictures::write(&args.charts, charts, "the file holds no build-up")?;
    let attention =
        !reading.remarks.is_empty() || judged.iter().any(|j| !j.prediction.remarks.is_empty());
    let warned = cautions_of_build_ups(&reading.build_ups);
    if common.json {
        print_json(&json!({
            "area_m2": area,
            "cautions": cautions::records(&warned),
            "build_ups": judged.iter().map(record).collect::<Vec<Value>>(),
            "remarks": remarks(&reading.remarks),
        }))?;
    } else {
        let mut out = String::new();
        for j in &judged {
            out.push_str(&text(j, common));
        }
        if judged.len() > 1 {
            out.push_str(&side_by_side(&judged));
        }
        out.push_str(&remarks_text(&reading.remarks));
        out.push_str(&cautions::full(&warned));
        out.push_str(&pictures::text(&drawn));
        print(&out)?;
    }
    Ok(Done { attention })
}

/// Reads a file of build-ups with whatever data sheets stand beside it.
pub(super) fn read(file: &Path) -> Result<BuildUpReading, Failure> {
    let name = file.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let folder = file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if !file.exists() {
        return Err(Failure::unreadable(file, &std::io::ErrorKind::NotFound.into()));
    }
    Ok(wythe_project::read_build_ups(&DiskFiles::new(folder), &name))
}

/// Unknowns listed: the sixth never decided anything.
const MOST_UNKNOWNS: usize = 5;

fn judge(build_up: BuildUp, prediction: Prediction, conditions: &Conditions) -> Judged {
    let octaves = prediction.reduction.to_octaves();
    let curve = curve(&prediction.reduction);
    let rating = |method| rate(&curve, method, &Options::default()).ok();
    Judged {
        octaves,
        octave_deviation: octave_deviation(&prediction),
        iso: rating(Method::Iso717Part1),
        stc: rating(Method::E413),
        oitc: rating(Method::E1332),
        // A data sheet without layers has no inputs to rank; that is no fault of the reader's.
        unknowns: rank_inputs(&build_up, conditions)
            .unwrap_or_default()
            .into_iter()
            .filter(|i| i.standing != wythe_bands::Standing::Known && i.moves.0 >= 0.1)
            .take(MOST_UNKNOWNS)
            .collect(),
        build_up,
        prediction,
    }
}

/// Standard deviation of an octave: errors of its thirds go mostly together, so the deviation is
/// their mean weighted by what each lets through.
fn octave_deviation(prediction: &Prediction) -> OctaveSpectrum<LevelDifference> {
    wythe_bands::Octave::all()
        .filter_map(|o| {
            let (mut sum, mut weights) = (0.0, 0.0);
            for band in o.thirds() {
                let tau = prediction.reduction.get(band)?.transmittance().0;
                sum += tau * prediction.deviation.get(band)?.0;
                weights += tau;
            }
            Some((o, LevelDifference(sum / weights)))
        })
        .collect()
}

fn record(j: &Judged) -> Value {
    let p = &j.prediction;
    let mut ratings = Map::new();
    if let Some(iso) = &j.iso {
        ratings.insert("Rw".into(), whole(iso.number()));
        for term in &iso.terms {
            ratings.insert(term.key.into(), whole(term.value.map(|v| v.decibels())));
        }
    }
    if let Some(stc) = &j.stc {
        ratings.insert("STC".into(), whole(stc.number()));
    }
    if let Some(oitc) = &j.oitc {
        ratings.insert("OITC".into(), whole(oitc.number()));
    }
    let paths: Map<String, Value> = p
        .paths
        .iter()
        .map(|path| (path.kind.word().to_owned(), differences(&path.reduction)))
        .collect();
    let filled: Vec<&str> = p.filled_in.iter().map(|(b, ())| b.nominal()).collect();
    json!({
        "id": j.build_up.id,
        "surface_mass_kg_m2": p.surface_mass.map_or(Value::Null, |m| rounded(m.0, 2)),
        "thickness_mm": p.thickness.map_or(Value::Null, |t| rounded(1000.0 * t.0, 2)),
        "reduction_index_db": differences(&p.reduction),
        "standard_deviation_db": differences(&p.deviation),
        "octave_db": by_octave(&j.octaves, |v| rounded(v.0, 2)),
        "octave_standard_deviation_db": by_octave(&j.octave_deviation, |v| rounded(v.0, 2)),
        "ratings": ratings,
        "paths_db": paths,
        "resonance_hz": p.resonances.iter().map(|f| rounded(f.0, 1)).collect::<Vec<_>>(),
        "critical_hz": p.critical.iter().map(|f| rounded(f.0, 0)).collect::<Vec<_>>(),
        "filled_in_bands": filled,
        "cost_per_m2": j.build_up.cost_per_m2,
        "limits": limits(p).iter().map(|l| json!({
            "from_band": l.from.nominal(), "to_band": l.to.nominal(), "text": l.words,
        })).collect::<Vec<_>>(),
        "unknowns": j.unknowns.iter().map(|i| json!({
            "layer": i.layer, "input": i.input, "spread": i.spread,
            "standing": i.standing.word(), "moves_db": rounded(i.moves.0, 2),
        })).collect::<Vec<_>>(),
        "method": p.method,
        "methods_that_apply": p.methods_that_apply,
        "remarks": remarks(&p.remarks),
    })
}

fn whole(value: Option<f64>) -> Value {
    value.map_or(Value::Null, |v| json!(v.round() as i64))
}

fn text(j: &Judged, common: &Common) -> String {
    let p = &j.prediction;
    let title = j.build_up.title.as_deref().unwrap_or(&j.build_up.id);
    let mut out = format!("{title}\n\n{}", section(&j.build_up, common));
    let rated = [&j.iso, &j.stc, &j.oitc]
        .into_iter()
        .flatten()
        .map(|r| r.statement.clone())
        .collect::<Vec<_>>()
        .join("   ");
    out.push_str(&format!("  {rated}\n"));
    let mut facts = Vec::new();
    if let Some(mass) = p.surface_mass {
        facts.push(output::surface_mass(mass, common.units));
    }
    if let Some(t) = p.thickness {
        facts.push(format!("{} thick", output::thickness(t, common.units)));
    }
    if let Some(cost) = j.build_up.cost_per_m2 {
        facts.push(format!("{cost:.0} per m²"));
    }
    if !p.resonances.is_empty() {
        let all: Vec<String> = p.resonances.iter().map(|f| format!("{:.0}", f.0)).collect();
        facts.push(format!("mass–air–mass resonance {} Hz", all.join(" and ")));
    }
    if !p.critical.is_empty() {
        let all: Vec<String> = p.critical.iter().map(|f| format!("{:.0}", f.0)).collect();
        facts.push(format!("critical frequency {} Hz", all.join(" and ")));
    }
    for line in output::wrap(&facts.join("; "), 96) {
        out.push_str(&format!("  {line}\n"));
    }
    out.push_str(&format!("  method {}\n\n", p.method));
    let mut headings = vec!["Hz", "R", "±"];
    headings.extend(p.paths.iter().map(|path| path.kind.word()));
    let mut table = Table::new(0, &headings);
    for band in output::table_bands() {
        let Some(r) = p.reduction.get(band) else { continue };
        let mark = if p.filled_in.get(band).is_some() { "*" } else { "" };
        let mut row = vec![
            format!("{}{mark}", band.nominal()),
            one(r.0),
            p.deviation.get(band).map(|d| one(d.0)).unwrap_or_default(),
        ];
        for path in &p.paths {
            row.push(
                path.reduction
                    .get(band)
                    .map(|r| if r.0 > 120.0 { "> 120".into() } else { one(r.0) })
                    .unwrap_or_default(),
            );
        }
        table.row(row);
    }
    out.push_str(&table.text());
    if !p.filled_in.is_empty() {
        out.push_str("  * not on the data sheet; filled in by the model beside it\n");
    }
    let ranges = limits(p);
    if !ranges.is_empty() {
        out.push_str("\nWhat limits it\n");
        for range in ranges {
            for (i, line) in output::wrap(&range.words, 92).iter().enumerate() {
                out.push_str(if i == 0 { "  · " } else { "    " });
                out.push_str(line);
                out.push('\n');
            }
        }
    }
    if !j.unknowns.is_empty() {
        out.push_str("\nWhat is not known for certain, by how much it moves R\n");
        for i in &j.unknowns {
            let layer = i.layer.map(|l| format!("layer {l}, ")).unwrap_or_default();
            out.push_str(&format!(
                "  · {layer}{}, {} ({}): {} dB\n",
                i.input,
                i.spread,
                i.standing.word(),
                one(i.moves.0)
            ));
        }
    }
    out.push_str(&remarks_text(&p.remarks));
    out.push('\n');
    out
}

/// Columns of the drawn section.
const SECTION_WIDTH: f64 = 64.0;

/// The build-up drawn to scale from side a to side b, with its layers named.
fn section(build_up: &BuildUp, common: &Common) -> String {
    let layers = match &build_up.construction {
        Construction::Layers(layers) => layers.as_slice(),
        Construction::Measured(sheet) => sheet.layers.as_slice(),
    };
    if layers.is_empty() {
        return String::new();
    }
    let depth = |l: &Layer| match l {
        Layer::Board(b) => b.thickness.0 * f64::from(b.count),
        Layer::Cavity(c) => c.depth.0,
    };
    let total: f64 = layers.iter().map(depth).sum();
    let (mut drawing, mut numbers) = (String::from("  a "), String::from("    "));
    let mut list = String::new();
    for (index, layer) in layers.iter().enumerate() {
        let columns = ((depth(layer) / total * SECTION_WIDTH).round() as usize).max(1);
        let number = (index + 1).to_string();
        match layer {
            Layer::Board(b) => {
                drawing.push_str(&"█".repeat(columns));
                let sheets = if b.count > 1 { format!("{} × ", b.count) } else { String::new() };
                let joined = match b.joined {
                    Joint::Screwed => "",
                    Joint::Bonded => ", bonded",
                    Joint::DampingLayer => ", with damping layers",
                };
                let mass = b
                    .surface_mass
                    .map(|m| format!(", {} a sheet", output::surface_mass(m, common.units)))
                    .unwrap_or_default();
                list.push_str(&format!(
                    "  {number}  {sheets}{} {}{joined}{mass}\n",
                    output::fine_thickness(b.thickness, common.units),
                    b.material
                ));
            }
            Layer::Cavity(c) => {
                let filled = c.fill.as_ref().map_or(0.0, |f| f.depth.0 / c.depth.0).min(1.0);
                let fill = (columns as f64 * filled).round() as usize;
                drawing.push_str(&"▒".repeat(fill));
                drawing.push_str(&"·".repeat(columns - fill.min(columns)));
                list.push_str(&format!("  {number}  {}\n", cavity(c, common)));
            }
        }
        let mut marked = number;
        while marked.chars().count() < columns {
            marked.push(' ');
        }
        numbers.push_str(&marked.chars().take(columns).collect::<String>());
    }
    drawing.push_str(" b");
    format!("{drawing}\n{}\n{list}\n", numbers.trim_end())
}

fn cavity(c: &Cavity, common: &Common) -> String {
    let mut words = vec![format!("{} cavity", output::fine_thickness(c.depth, common.units))];
    match &c.fill {
        Some(fill) => words.push(format!(
            "{} {}",
            output::fine_thickness(fill.depth, common.units),
            fill.material
        )),
        None => words.push("empty".into()),
    }
    match &c.frame {
        None => words.push("nothing across".into()),
        Some(frame) => {
            let kind = frame.kind.word();
            let gauge = frame.gauge.map(|g| format!(", gauge {g}")).unwrap_or_default();
            words.push(format!(
                "{kind}{gauge} at {}",
                output::fine_thickness(frame.spacing, common.units)
            ));
            if let Some(mount) = frame.mount {
                let kind = match mount.kind {
                    MountKind::ResilientChannel => "resilient channel",
                    MountKind::IsolationClips => "isolation clips",
                };
                let side = if mount.side == Side::A { "a" } else { "b" };
                words.push(format!("{kind} on side {side}"));
            }
        }
    }
    words.join(", ")
}

fn side_by_side(all: &[Judged]) -> String {
    let mut headings = vec!["Hz"];
    headings.extend(all.iter().map(|j| j.build_up.id.as_str()));
    let mut table = Table::new(0, &headings);
    for octave in output::table_octaves() {
        let mut row = vec![octave.nominal().to_owned()];
        row.extend(all.iter().map(|j| j.octaves.get(octave).map(|r| one(r.0)).unwrap_or_default()));
        table.row(row);
    }
    let mut row = vec!["Rw".to_owned()];
    row.extend(all.iter().map(|j| {
        j.iso.as_ref().and_then(Rating::number).map(|n| format!("{n:.0}")).unwrap_or_default()
    }));
    table.row(row);
    format!("Side by side, octaves\n\n{}", table.text())
}

fn chart(all: &[Judged], area: f64) -> BandChart {
    let title = match all {
        [j] => j.build_up.title.clone().unwrap_or_else(|| j.build_up.id.clone()),
        _ => "Build-ups side by side".to_owned(),
    };
    let words = Words::new(
        "partition",
        title,
        format!("Predicted sound reduction index R, {area} m², diffuse field; higher is better."),
    );
    let mut chart = BandChart::new(words, Axis::new("Sound reduction index", "R", ""));
    chart.bands = (Band::HZ_50, Band::HZ_5000);
    for j in all {
        let label = match j.iso.as_ref().and_then(|iso| Some((iso, iso.number()?))) {
            // The whole statement is too long for a line's end; the text beside has it.
            Some((iso, rw)) => {
                let term = |key: &str| iso.terms.iter().find(|t| t.key == key)?.value;
                let terms = ["C", "Ctr"]
                    .iter()
                    .filter_map(|k| Some(format!("{k} {}", signed(term(k)?.decibels(), 0))));
                let terms = terms.collect::<Vec<_>>().join("; ");
                format!("{} Rw {rw:.0}; {terms}", j.build_up.id)
            }
            None => j.build_up.id.clone(),
        };
        chart.traces.push(
            Trace::differences(Role::Predicted, label, &j.prediction.reduction)
                .with_uncertainty(&j.prediction.deviation),
        );
    }
    chart
}
