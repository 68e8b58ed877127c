//! A changed value leaves comments, order and blanks alone.

use wythe_project::{Document, EditError, fingerprint};

const TEXT: &str = r#"# our rooms
wythe = 1

[[room]]
id = "bedroom"   # upstairs
height = "2.4 m" # measured twice

[[boundary]]
id = "wall"
between = ["hall", "bedroom"]

[[boundary.opening]]
id = "door"
seals = { head = "brush", sill = "none" }  # cheap

[[build_up]]
id = "frame"
layers = [
  { board = "brick", thickness = "100 mm" },  # old
]
"#;

#[test]
fn one_value_changes_and_nothing_else() {
    let mut document = Document::parse(TEXT).unwrap();
    document.set("boundary[wall].opening[door].seals.sill", "\"drop seal\"").unwrap();
    document.set_text("build_up[frame].layers[0].thickness", "215 mm").unwrap();
    document.set("room[0].storey", "1").unwrap();
    let expected = TEXT
        .replace("sill = \"none\"", "sill = \"drop seal\"")
        .replace("100 mm", "215 mm")
        .replace("# measured twice\n", "# measured twice\nstorey = 1\n");
    assert_eq!(document.text(), expected);
    assert_eq!(document.get("room[bedroom].height").as_deref(), Some("\"2.4 m\""));
}

#[test]
fn what_is_not_there_is_said_and_nothing_changes() {
    let mut document = Document::parse(TEXT).unwrap();
    let missing = |part: &str, path: &str| {
        Err(EditError::Missing { path: path.to_owned(), part: part.to_owned() })
    };
    assert_eq!(
        document.set("room[attic].height", "\"2 m\""),
        missing("attic", "room[attic].height")
    );
    assert!(matches!(document.set("room[bedroom].height", "2 m"), Err(EditError::Value(_))));
    assert!(matches!(document.set("boundary", "1"), Err(EditError::Table(_))));
    assert!(matches!(document.set("room[bedroom", "1"), Err(EditError::Path(_))));
    assert!(document.append("[[room]\nid = 3").is_err());
    assert_eq!(document.text(), TEXT);
}

#[test]
fn tables_can_be_taken_out_and_added() {
    let mut document = Document::parse(TEXT).unwrap();
    document.remove("boundary[wall].opening[door]").unwrap();
    assert!(!document.text().contains("cheap"));
    document.append("[[change]]\nid = \"x\"").unwrap();
    assert!(document.text().ends_with("\n\n[[change]]\nid = \"x\"\n"));
}

#[test]
fn fingerprints_differ_with_the_text() {
    // FNV-1a of nothing is its offset basis.
    assert_eq!(fingerprint(""), "cbf29ce484222325-0");
    // Published test value of FNV-1a 64 for "a".
    assert_eq!(fingerprint("a"), "af63dc4c8601ec8c-1");
    assert_ne!(fingerprint("wythe = 1\n"), fingerprint("wythe = 1"));
}

#[test]
fn line_ends_and_marks_of_other_systems_stay() {
    let text = format!("\u{feff}{}", TEXT.replace('\n', "\r\n"));
    let mut document = Document::parse(&text).unwrap();
    assert_eq!(document.text(), text);
    document.set("room[bedroom].height", "\"2.5 m\"").unwrap();
    assert_eq!(document.text(), text.replace("2.4 m", "2.5 m"));
    // And such a file reads like any other, with the same places.
    let files = |t: String| wythe_project::MemoryFiles::new().with("wythe.toml", t);
    let plain = wythe_project::read(&files(TEXT.to_owned()));
    let other = wythe_project::read(&files(text));
    let places = |r: &wythe_project::Reading| -> Vec<(usize, String)> {
        r.errors.iter().map(|p| (p.line, p.text.clone())).collect()
    };
    assert_eq!(places(&plain), places(&other));
    assert!(!plain.errors.is_empty());
}
