//! What the program writes about its own format.

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
