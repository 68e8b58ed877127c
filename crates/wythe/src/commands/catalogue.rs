//! `wythe catalogue`: the words a build-up may be made of, and where their numbers come from.

use serde_json::{Map, Value, json};
use wythe_findings::caution::requirements::{GUIDANCE, NOT_LAW, Receiver, guidance};
use wythe_partition::{Entry, Material, OwnCatalogue, catalogue};
use wythe_report::Language;
use wythe_report::language::ENGLISH_TABLE;

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::load;
use crate::output::{self, Done, Table, print, print_json, rounded};

/// Runs the command.
pub fn run(args: &args::Catalogue, common: &Common) -> Result<Done, Failure> {
    if args.search.as_deref().is_some_and(|s| s.eq_ignore_ascii_case("guidance")) {
        return guidance_listed(common);
    }
    if args.search.as_deref() == Some("sentences") {
        return sentences(common);
    }
    let all = catalogue();
    let own = own(args)?;
    let wanted = args.search.as_deref().unwrap_or_default();
    // The user's own stand first: they are what is looked for.
    let found: Vec<Entry<'_>> =
        own.entries().chain(all.entries()).filter(|entry| entry.matches(wanted)).collect();
    if found.is_empty() {
        let text = args.search.as_deref().unwrap_or_default();
        let near: Vec<String> =
            all.nearest_materials(text).into_iter().chain(all.nearest_fills(text)).collect();
        return Err(Failure::new(
            format!("nothing in the catalogue is called `{text}`"),
            if near.is_empty() {
                "list everything with `wythe catalogue`".to_owned()
            } else {
                format!("near it: {}", near.join(", "))
            },
        ));
    }
    if common.json {
        let entries: Vec<Value> = found.iter().map(|e| record(*e)).collect();
        print_json(&json!({ "entries": entries, "remarks": [] }))?;
    } else {
        print(&text(&found, common))?;
    }
    Ok(Done::default())
}

/// Materials and fills of the folder or file that was named.
fn own(args: &args::Catalogue) -> Result<OwnCatalogue, Failure> {
    let Some(path) = &args.with else { return Ok(OwnCatalogue::default()) };
    let (errors, texts, own) = if path.is_dir() {
        let reading = load::reading(path)?;
        (reading.errors, reading.texts, reading.project.map(|p| p.building.own).unwrap_or_default())
    } else {
        let reading = super::partition::read(path)?;
        (reading.errors, reading.texts, reading.own)
    };
    if !errors.is_empty() {
        return Err(Failure::Messages(errors.iter().map(|p| load::draw(p, &texts)).collect()));
    }
    Ok(own)
}

fn sources(all: &[(String, String)]) -> Value {
    let map: Map<String, Value> = all.iter().map(|(k, v)| (k.clone(), json!(v))).collect();
    Value::Object(map)
}

fn record(entry: Entry<'_>) -> Value {
    let mut object = json!({ "name": entry.name(), "kind": entry.kind() });
    match entry {
        Entry::Material(m) => {
            object["synonyms"] = json!(m.synonyms);
            object["density_kg_m3"] = rounded(m.density.0, 1);
            object["critical_frequency_times_thickness_m_s"] = rounded(m.fc_times_h, 2);
            object["spread_percent"] = rounded(100.0 * m.spread, 1);
            object["loss_factor"] = rounded(m.loss, 5);
            object["sources"] = sources(&m.sources);
        }
        Entry::Fill(f) => {
            object["synonyms"] = json!(f.synonyms);
            object["flow_resistivity_pa_s_m2"] = rounded(f.flow_resistivity.0, 0);
            object["spread_factor"] = rounded(f.spread_factor, 2);
            object["density_kg_m3"] = rounded(f.density.0, 1);
            if let Some(modulus) = f.dynamic_modulus {
                object["dynamic_stiffness_times_thickness_pa"] = rounded(modulus, 0);
            }
            object["sources"] = sources(&f.sources);
        }
        Entry::Ready(r) => object["synonyms"] = json!(r.synonyms),
    }
    object
}

fn text(found: &[Entry<'_>], common: &Common) -> String {
    let mut out = String::new();
    let boards: Vec<&Material> = found
        .iter()
        .filter_map(|e| match e {
            Entry::Material(m) => Some(*m),
            _ => None,
        })
        .collect();
    if !boards.is_empty() {
        out.push_str("Boards, sheets, slabs and panes\n\n");
        let mut table =
            Table::new(1, &["Name", "density", "fc × h", "spread", "loss", "usual thickness"]);
        for m in &boards {
            let usual: Vec<String> =
                m.usual.iter().map(|t| output::fine_thickness(*t, common.units)).collect();
            table.row(vec![
                m.name.clone(),
                format!("{:.0} kg/m³", m.density.0),
                if m.fc_times_h.is_finite() {
                    format!("{:.1} m/s", m.fc_times_h)
                } else {
                    "limp".into()
                },
                format!("± {:.0} %", 100.0 * m.spread),
                format!("{:.3}", m.loss),
                usual.join(", "),
            ]);
        }
        out.push_str(&table.text());
    }
    for (heading, kind) in [("Fills", true), ("Ready build-ups", false)] {
        let names: Vec<String> = found
            .iter()
            .filter(|e| matches!(e, Entry::Fill(_)) == kind && !matches!(e, Entry::Material(_)))
            .map(|e| match e {
                Entry::Fill(f) => {
                    let carries = f.dynamic_modulus.map_or(String::new(), |modulus| {
                        format!(", carries a floor: {:.0} MN/m³ at 20 mm", 1e-6 * modulus / 0.02)
                    });
                    format!(
                        "{} (fill, {:.0} Pa s/m², × {}{carries})",
                        f.name, f.flow_resistivity.0, f.spread_factor
                    )
                }
                _ => format!("{} ({})", e.name(), e.kind()),
            })
            .collect();
        if !names.is_empty() {
            out.push_str(&format!("\n{heading}\n\n"));
            for name in names {
                out.push_str(&format!("  {name}\n"));
            }
        }
    }
    let origin = match found {
        [Entry::Material(m)] => m.sources.as_slice(),
        [Entry::Fill(f)] => f.sources.as_slice(),
        _ => &[],
    };
    if !origin.is_empty() {
        out.push_str("\nWhere its figures come from\n\n");
        for (figure, source) in origin {
            out.push_str(&format!("  {figure}: {source}\n"));
        }
    }
    out
}

/// The table of sentences to translate.
fn sentences(common: &Common) -> Result<Done, Failure> {
    if common.json {
        let all = Language::English.sentences();
        print_json(&json!({ "sentences": all, "remarks": [] }))?;
    } else {
        print(ENGLISH_TABLE)?;
    }
    Ok(Done::default())
}

/// The table of published guidance on how quiet rooms should be.
fn guidance_listed(common: &Common) -> Result<Done, Failure> {
    if common.json {
        let rows: Vec<Value> = GUIDANCE
            .iter()
            .map(|g| {
                json!({
                    "for": g.receiver.words(), "quantity": g.quantity.words(),
                    "at_least": g.quantity.at_least(), "from": g.value.0, "to": g.value.1,
                    "hours": g.hours, "country": g.country, "edition": g.edition,
                    "source": g.key, "known": g.mark.words(), "note": g.note,
                })
            })
            .collect();
        print_json(&json!({ "guidance": rows, "notice": NOT_LAW, "remarks": [] }))?;
        return Ok(Done::default());
    }
    let mut out = String::new();
    for receiver in Receiver::ALL {
        out.push_str(&format!("{}\n", receiver.words()));
        for row in guidance(receiver) {
            let note = if row.note.is_empty() { String::new() } else { format!(". {}", row.note) };
            let line = format!("{}{note}", row.text());
            out.push_str(&format!("  · {}\n", output::wrap(&line, 92).join("\n    ")));
        }
        out.push('\n');
    }
    out.push_str(&format!("  {}\n", output::wrap(NOT_LAW, 94).join("\n  ")));
    print(&out)?;
    Ok(Done::default())
}
