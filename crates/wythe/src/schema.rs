//! What `--json` prints, as JSON Schema: made from the table of forms in `schema/forms.txt`.
//!
//! The tests hold the output of every command against its schema in both directions: no key that
//! the table lacks, and no key in the table that is never printed.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

const FORMS: &str = include_str!("schema/forms.txt");

/// A line of the table with the lines further in.
#[derive(Debug, Default)]
struct Line {
    key: String,
    kind: String,
    said: String,
    inner: Vec<Line>,
}

/// Names of all forms, in the order of the table; `export` is made from the tables themselves.
pub fn names() -> Vec<&'static str> {
    FORMS.lines().filter_map(|l| l.strip_prefix("form ")?.split(' ').next()).collect()
}

/// JSON Schema (draft 2020-12) of a form; `None` where there is no such form.
pub fn of(name: &str) -> Option<Value> {
    let mut shapes: BTreeMap<String, Line> = BTreeMap::new();
    let mut form = None;
    for top in read(FORMS) {
        match top.kind.as_str() {
            "form" if top.key == name => form = Some(top),
            "shape" => {
                shapes.insert(top.key.clone(), top);
            }
            _ => {}
        }
    }
    let form = form?;
    let mut out = Map::new();
    out.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    out.insert("title".into(), json!(format!("What wythe prints: {name}")));
    let more = "A value that does not exist is absent or null, never 0. Names of keys carry their \
                unit; levels are re 20 µPa unless a key says otherwise.";
    out.insert("description".into(), json!(format!("{}. {more}", form.said)));
    let mut used = Vec::new();
    object(&form.inner, &mut used, &mut out);
    let mut shown = Map::new();
    // A shape may use further shapes, so the list grows while it is walked.
    let mut next = 0;
    while let Some(shape) = used.get(next).cloned() {
        next += 1;
        let Some(line) = shapes.get(&shape) else { continue };
        let mut inner = Map::new();
        if !line.said.is_empty() {
            inner.insert("description".into(), json!(line.said));
        }
        object(&line.inner, &mut used, &mut inner);
        shown.insert(shape, Value::Object(inner));
    }
    if !shown.is_empty() {
        out.insert("$defs".into(), Value::Object(shown));
    }
    Some(Value::Object(out))
}

/// The table as a tree. Forms and shapes are the outermost lines; their kind is that word.
fn read(text: &str) -> Vec<Line> {
    let mut open: Vec<Line> = vec![Line::default()];
    let close = |open: &mut Vec<Line>, depth: usize| {
        while open.len() > depth + 1 {
            let Some(done) = open.pop() else { break };
            if let Some(outer) = open.last_mut() {
                outer.inner.push(done);
            }
        }
    };
    for line in text.lines().filter(|l| !l.starts_with('#') && !l.trim().is_empty()) {
        let depth = (line.len() - line.trim_start().len()) / 2;
        let (words, said) = line.trim().split_once(" — ").unwrap_or((line.trim(), ""));
        let (key, kind) = words.split_once(' ').unwrap_or((words, ""));
        let (key, kind) = if depth == 0 { (kind, key) } else { (key, kind) };
        close(&mut open, depth);
        open.push(Line {
            key: key.trim().to_owned(),
            kind: kind.trim().to_owned(),
            said: said.to_owned(),
            inner: Vec::new(),
        });
    }
    close(&mut open, 0);
    open.pop().map(|root| root.inner).unwrap_or_default()
}

/// The keys of an object: closed, so that a key nobody described is found.
fn object(lines: &[Line], used: &mut Vec<String>, out: &mut Map<String, Value>) {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for line in lines {
        let key = line.key.trim_end_matches('?');
        if key == line.key {
            required.push(key);
        }
        let mut value = kind(&line.kind, &line.inner, used);
        if let (Some(of_it), false) = (value.as_object_mut(), line.said.is_empty()) {
            of_it.insert("description".into(), json!(line.said));
        }
        properties.insert(key.to_owned(), value);
    }
    out.insert("type".into(), json!("object"));
    out.insert("properties".into(), Value::Object(properties));
    out.insert("required".into(), json!(required));
    out.insert("additionalProperties".into(), json!(false));
}

fn kind(words: &str, inner: &[Line], used: &mut Vec<String>) -> Value {
    if let Some(some) = words.strip_suffix("|null") {
        let mut value = kind(some, inner, used);
        match value.get("type") {
            Some(Value::String(one)) => value["type"] = json!([one, "null"]),
            _ => value = json!({ "anyOf": [value, { "type": "null" }] }),
        }
        return value;
    }
    if let Some(shape) = words.strip_prefix('@') {
        if !used.iter().any(|u| u == shape) {
            used.push(shape.to_owned());
        }
        return json!({ "$ref": format!("#/$defs/{shape}") });
    }
    let within = |open: &str| words.strip_prefix(open).and_then(|w| w.strip_suffix(')'));
    let mut closed = || {
        let mut out = Map::new();
        object(inner, used, &mut out);
        Value::Object(out)
    };
    match words {
        "text" => json!({ "type": "string" }),
        "number" => json!({ "type": "number" }),
        "whole" => json!({ "type": "integer" }),
        "yes-no" => json!({ "type": "boolean" }),
        "any" => json!({}),
        "bands" => by_band(json!({ "type": ["number", "null"] })),
        "bands{}" => by_band(closed()),
        "names{}" => json!({ "type": "object", "additionalProperties": closed() }),
        "{}" => closed(),
        "[]" => json!({ "type": "array", "items": closed() }),
        _ => {
            if let Some(some) = within("bands(") {
                by_band(kind(some, inner, used))
            } else if let Some(some) = within("names(") {
                json!({ "type": "object", "additionalProperties": kind(some, inner, used) })
            } else if let Some(some) = words.strip_prefix('[').and_then(|w| w.strip_suffix(']')) {
                json!({ "type": "array", "items": kind(some, inner, used) })
            } else {
                // Matches nothing, so that the test of whatever prints it says where the table is wrong.
                json!({ "not": {}, "description": format!("no kind is called {words}") })
            }
        }
    }
}

/// An object keyed by nominal frequency.
fn by_band(value: Value) -> Value {
    json!({
        "type": "object",
        "patternProperties": { "^[0-9]+(\\.[0-9]+)?$": value },
        "additionalProperties": false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_is_made_and_every_shape_it_names_is_there() {
        for name in names() {
            let text = of(name).unwrap().to_string();
            assert!(!text.contains("no kind is called"), "{name}: {text}");
            let schema: Value = serde_json::from_str(&text).unwrap();
            for part in text.split("#/$defs/").skip(1) {
                let shape = part.split('"').next().unwrap();
                assert!(schema["$defs"][shape]["properties"].is_object(), "{name}: {shape}");
            }
        }
        assert!(of("nonsense").is_none());
    }

    /// The schemas beside the documentation are the ones the program prints.
    #[test]
    fn the_published_schemas_are_those_of_the_program() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/schema");
        let mut all: Vec<(String, Value)> =
            names().iter().map(|n| ((*n).to_owned(), of(n).unwrap())).collect();
        all.push(("export".into(), crate::commands::export::schema()));
        for (name, schema) in &all {
            let path = format!("{folder}/{name}.schema.json");
            let text = serde_json::to_string_pretty(schema).unwrap() + "\n";
            if std::env::var_os("WYTHE_WRITE_DOCS").is_some() {
                std::fs::create_dir_all(folder).unwrap();
                std::fs::write(&path, text).unwrap();
            } else {
                let there = std::fs::read_to_string(&path).unwrap_or_default();
                assert!(there == text, "{path} is not what the program prints; WYTHE_WRITE_DOCS=1");
            }
        }
        assert_eq!(std::fs::read_dir(folder).unwrap().count(), all.len(), "a schema of nothing");
    }
}
