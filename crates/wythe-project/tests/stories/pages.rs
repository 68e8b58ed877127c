//! What the program writes about its own format.

use serde_json::Value;
use wythe_project::{MemoryFiles, read, reference_markdown, schema, survey_schema, template};

#[test]
fn the_reference_on_disk_is_the_one_the_program_writes() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/project-file.md");
    let written = reference_markdown();
    if std::env::var_os("WYTHE_WRITE_DOCS").is_some() {
        std::fs::write(path, &written).expect("docs can be written");
    }
    let on_disk = std::fs::read_to_string(path).expect("docs/project-file.md is there");
    assert!(
        on_disk == written,
        "docs/project-file.md differs from the table of keys; \
         run this test once with WYTHE_WRITE_DOCS=1"
    );
}

#[test]
fn the_template_reads_without_errors_and_remarks() {
    let reading = read(&MemoryFiles::new().with("wythe.toml", template()));
    assert_eq!(reading.errors, []);
    assert_eq!(reading.remarks, []);
    let project = reading.project.expect("no errors");
    assert_eq!(project.building.boundaries[0].area.0, 10.0);
    assert_eq!(project.building.changes.len(), 2);
}

/// Every key's own example is accepted by the reader of that key: no example in the reference
/// can be wrong.
#[test]
fn the_examples_in_the_reference_are_toml() {
    for section in wythe_project::keys::SECTIONS {
        for key in section.keys {
            let parsed = key.example.parse::<toml_edit::DocumentMut>();
            assert!(parsed.is_ok(), "{}.{}: {}", section.name, key.name, key.example);
            let document = parsed.expect("just checked");
            let leaf = document.contains_key(key.name) || key.example.starts_with("[[");
            assert!(leaf, "{}.{}: {}", section.name, key.name, key.example);
        }
    }
}

/// The parts of JSON Schema that our schema uses, as plainly as can be.
fn fits(schema: &Value, root: &Value, value: &Value) -> bool {
    if let Some(reference) = schema["$ref"].as_str() {
        let name = reference.trim_start_matches("#/$defs/");
        return fits(&root["$defs"][name], root, value);
    }
    if let Some(any) = schema["anyOf"].as_array() {
        return any.iter().any(|s| fits(s, root, value));
    }
    if let Some(words) = schema["enum"].as_array() {
        return words.contains(value);
    }
    let number = value.as_f64();
    let within = |key: &str, ok: fn(f64, f64) -> bool| match (schema[key].as_f64(), number) {
        (Some(limit), Some(n)) => ok(n, limit),
        _ => true,
    };
    match schema["type"].as_str() {
        Some("string") => value.is_string(),
        Some("boolean") => value.is_boolean(),
        Some("integer") => {
            value.is_i64() && within("minimum", |n, l| n >= l) && within("maximum", |n, l| n <= l)
        }
        Some("number") => {
            number.is_some() && within("minimum", |n, l| n >= l) && within("maximum", |n, l| n <= l)
        }
        Some("array") => value
            .as_array()
            .is_some_and(|items| items.iter().all(|i| fits(&schema["items"], root, i))),
        Some("object") => value.as_object().is_some_and(|object| {
            let known = &schema["properties"];
            let needed = schema["required"].as_array().cloned().unwrap_or_default();
            needed.iter().all(|k| object.contains_key(k.as_str().unwrap_or_default()))
                && object.iter().all(|(key, inner)| match known.get(key) {
                    Some(schema) => fits(schema, root, inner),
                    None => match &schema["additionalProperties"] {
                        Value::Bool(free) => *free,
                        Value::Null => true,
                        other => fits(other, root, inner),
                    },
                })
        }),
        _ => panic!("the test does not know this schema: {schema}"),
    }
}

fn as_json(item: &toml_edit::Item) -> Value {
    fn value(v: &toml_edit::Value) -> Value {
        match v {
            toml_edit::Value::String(s) => Value::from(s.value().as_str()),
            toml_edit::Value::Integer(n) => Value::from(*n.value()),
            toml_edit::Value::Float(n) => Value::from(*n.value()),
            toml_edit::Value::Boolean(b) => Value::from(*b.value()),
            toml_edit::Value::Array(a) => a.iter().map(value).collect(),
            toml_edit::Value::InlineTable(t) => {
                Value::Object(t.iter().map(|(k, v)| (k.to_owned(), value(v))).collect())
            }
            toml_edit::Value::Datetime(d) => Value::from(d.to_string()),
        }
    }
    match item {
        toml_edit::Item::None => Value::Null,
        toml_edit::Item::Value(v) => value(v),
        toml_edit::Item::Table(t) => {
            Value::Object(t.iter().map(|(k, v)| (k.to_owned(), as_json(v))).collect())
        }
        toml_edit::Item::ArrayOfTables(a) => {
            a.iter().map(|t| as_json(&toml_edit::Item::Table(t.clone()))).collect()
        }
    }
}

#[test]
fn the_schema_takes_what_the_reader_takes_and_refuses_what_it_refuses() {
    let schema = schema();
    let json = |text: &str| as_json(text.parse::<toml_edit::DocumentMut>().unwrap().as_item());
    assert!(fits(&schema, &schema, &json(&template())));
    assert!(fits(&schema, &schema, &json(crate::sketch::ROPEWALK)));
    for (from, to) in [
        ("wythe = 1", "wythe = 2"),
        ("height = \"2.5 m\"", "hieght = \"2.5 m\""),
        ("height = \"2.5 m\"", "height = 2.5"),
        ("id = \"bedroom\"\n", ""),
        ("sill = \"none\"", "sill = \"felt\""),
        ("cost = 90", "cost = -90"),
        ("do = \"seal\"", "do = \"paint\""),
    ] {
        let broken = template().replacen(from, to, 1);
        assert!(!fits(&schema, &schema, &json(&broken)), "{to}");
        let reading = read(&MemoryFiles::new().with("wythe.toml", broken));
        assert!(!reading.errors.is_empty(), "{to}");
    }
    // How well a value is known may be said in both.
    let known = template().replacen(
        "height = \"2.5 m\"",
        "height = { value = \"2.5 m\", standing = \"known\" }",
        1,
    );
    assert!(fits(&schema, &schema, &json(&known)));
    assert_eq!(read(&MemoryFiles::new().with("wythe.toml", known)).errors, []);
}

/// Every leaf named in the reference can be predicted, so no word leads to a dead end later.
#[test]
fn leaves_by_words_can_be_predicted() {
    for leaf in [
        "solid timber door 44 mm",
        "solid timber door",
        "solid timber door 1 3/4 in",
        "hollow-core door 40 mm",
        "steel door",
        "glass door 10 mm",
        "single glazing 4 mm",
        "laminated glazing 8 mm",
        "double glazing 4/16/4 mm",
        "double glazing 6/12/4 mm",
    ] {
        let text =
            template().replace("leaf = \"solid timber door 44 mm\"", &format!("leaf = \"{leaf}\""));
        let reading = read(&MemoryFiles::new().with("wythe.toml", text));
        assert_eq!(reading.errors, [], "{leaf}");
        let building = reading.project.unwrap().building;
        let leaf = building.boundaries[0].openings[0].leaf.clone().unwrap();
        let prediction = wythe_partition::predict(&leaf, &wythe_partition::Conditions::default());
        assert!(prediction.is_ok(), "{}: {:?}", leaf.id, prediction.err());
    }
    for leaf in [
        "solid timber door 44 m",
        "solid timber door 0 mm",
        "double glazing 4/16 mm",
        "steel door 1 mm",
    ] {
        let text =
            template().replace("leaf = \"solid timber door 44 mm\"", &format!("leaf = \"{leaf}\""));
        let reading = read(&MemoryFiles::new().with("wythe.toml", text));
        assert_eq!(reading.errors[0].code, "project::leaf", "{leaf}");
    }
}

#[test]
fn the_schema_knows_every_section_and_key() {
    for (schema, root) in [(schema(), "project"), (survey_schema(), "survey")] {
        for section in wythe_project::keys::SECTIONS {
            let place = if section.name == root { &schema } else { &schema["$defs"][section.name] };
            for key in section.keys {
                assert!(place["properties"][key.name].is_object(), "{}.{}", section.name, key.name);
            }
        }
    }
    let text = schema().to_string();
    for reference in text.split("#/$defs/").skip(1) {
        let name: String = reference.chars().take_while(|c| *c != '"').collect();
        assert!(schema()["$defs"][&name].is_object(), "{name}");
    }
}
