//! Results as JSON and Parquet, read by programs of others.

use std::process::Command;

use crate::run::{Folder, on, wythe};

/// The house of the documents' own tests, with names no program likes. Invented.
fn house() -> String {
    include_str!("../../../wythe-report/tests/data/house.toml")
        .replace("title = \"Quiet room\"", "title = \"חדר \\\"שקט\\\", =1+1\"")
}

/// A python with the two readers: named by the script that installed it, else that of the machine.
pub fn python(module: &str) -> Option<String> {
    let name = std::env::var("WYTHE_PYTHON").unwrap_or_else(|_| "python3".into());
    let asked = Command::new(&name).args(["-c", &format!("import {module}")]).output();
    if asked.is_ok_and(|o| o.status.success()) {
        return Some(name);
    }
    assert!(std::env::var_os("WYTHE_OUTSIDE").is_none(), "python with {module} is missing");
    eprintln!("left out: no python with {module}");
    None
}

pub fn asked(python: &str, program: &str, words: &[&str]) -> String {
    let output = Command::new(python).arg("-c").arg(program).args(words).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn what_is_printed_is_as_the_schema_says() {
    let Some(python) = python("jsonschema") else { return };
    let folder = Folder::new();
    folder.write("house/wythe.toml", house());
    let said = on("export", &folder.file("house"), &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let mut results = said.json();
    assert!(results["tables"]["levels"].as_array().unwrap().len() > 1);
    let schema = wythe(["export", "--schema"]);
    assert_eq!(schema.code, 0, "{}", schema.err);
    let schema = folder.write("schema.json", &schema.out);
    let check = "import json, sys, jsonschema\n\
        schema = json.load(open(sys.argv[1]))\n\
        jsonschema.Draft202012Validator.check_schema(schema)\n\
        v = jsonschema.Draft202012Validator(schema)\n\
        print([e.json_path + ': ' + e.message[:300] for e in v.iter_errors(json.load(open(sys.argv[2])))][:20])";
    let errors = |name: &str, value: &serde_json::Value| {
        let file = folder.write(name, value.to_string());
        asked(&python, check, &[schema.to_str().unwrap(), file.to_str().unwrap()])
    };
    assert_eq!(errors("good.json", &results).trim(), "[]");
    // The schema is one that can be failed.
    results["tables"]["levels"][0]["level_a_db"] = "loud".into();
    assert!(errors("bad.json", &results).contains("level_a_db"));
}

#[test]
fn parquet_is_read_by_another_program_cell_by_cell() {
    let Some(python) = python("pyarrow") else { return };
    let folder = Folder::new();
    folder.write("house/wythe.toml", house());
    let said = on("export", &folder.file("house"), &["--json"]);
    let results = said.json();
    let out = folder.file("tables");
    let written = on("export", &folder.file("house"), &["--parquet", "-o", out.to_str().unwrap()]);
    assert_eq!(written.code, 0, "{}", written.err);
    let read = "import json, sys, pyarrow.parquet as p\n\
        print(json.dumps(p.read_table(sys.argv[1]).to_pylist()))";
    let mut rows = 0;
    for (name, table) in results["tables"].as_object().unwrap() {
        let file = out.join(format!("{name}.parquet"));
        let said = asked(&python, read, &[file.to_str().unwrap()]);
        let there: serde_json::Value = serde_json::from_str(&said).unwrap();
        let (there, table) = (there.as_array().unwrap(), table.as_array().unwrap());
        assert_eq!(there.len(), table.len(), "{name}");
        for (a, b) in there.iter().zip(table) {
            for (head, value) in b.as_object().unwrap() {
                let got = &a[head];
                // A column that holds words anywhere holds its numbers as words.
                let same = match (got.as_f64(), value.as_f64()) {
                    (Some(x), Some(y)) => x == y,
                    (None, Some(y)) => got.as_str().and_then(|t| t.parse().ok()) == Some(y),
                    _ => got == value,
                };
                assert!(same, "{name}, {head}: {got} instead of {value}");
            }
            rows += 1;
        }
    }
    assert!(rows > 40, "{rows}");
}
