//! The demonstration, from an empty folder to faults found from its recordings alone.

use crate::run::{Folder, on};

#[test]
fn the_whole_loop_on_the_ropewalk() {
    let folder = Folder::new();
    let project = folder.file("ropewalk");
    let said = on("demo", &project, &[]);
    assert_eq!(said.code, 0, "{}", said.err);
    for file in ["wythe.toml", "survey.toml", "recordings/first-survey.wav"] {
        assert!(project.join(file).is_file(), "{file}");
    }

    let said = on("check", &project, &["--json"]);
    assert_eq!(said.code, 0);
    assert_eq!(said.json()["errors"].as_array().unwrap().len(), 0);

    // Everything invented says so.
    let said = on("predict", &project, &[]);
    assert!(said.out.contains("invented"), "{}", said.out);

    let said = on("measure", &project, &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let measured = said.json();
    assert!(measured["pairs"].as_array().unwrap().len() >= 4);
    // The hall's level is what was played into it, within what few modes and a calibrator leave.
    let hall = &measured["positions"][0];
    assert!((hall["lzeq_db"].as_f64().unwrap() - 103.0).abs() < 1.5, "{hall}");
    // Where the background hides what comes through, the value is a bound.
    assert!(said.out.contains("\"bound\""));

    // The hidden faults: an open sill, a bridged stud, a thin ceiling.
    let said = on("explain", &project, &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let explained = said.json();
    let findings = explained["findings"].as_array().unwrap();
    let probability = |element: &str, parameter: &str| -> f64 {
        findings
            .iter()
            .filter(|f| {
                f["element"].as_str().unwrap().starts_with(element)
                    && f["parameter"].as_str().unwrap() == parameter
            })
            .map(|f| f["probability"].as_f64().unwrap())
            .sum()
    };
    // Which edge leaks may not be told, that the door does must be; so with the ceiling's leaves.
    assert!(probability("hall door", "gap") > 0.8, "{findings:#?}");
    assert!(
        probability("wall between drum hall and mixing room", "rigid bridges") > 0.8,
        "{findings:#?}"
    );
    assert!(probability("ceiling under the bedroom", "mass") > 0.5, "{findings:#?}");

    let said = on("remedy", &project, &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let remedy = said.json();
    // A set is in reach that meets every target within the budget and the weight there is; what it
    // costs may change with what is calculated.
    let set = &remedy["cheapest"];
    assert_eq!(set["met"], true, "{set}");
    assert_eq!(set["proven_optimal"], true, "{set}");
    let targets = set["targets"].as_array().unwrap();
    assert!(targets.len() >= 4 && targets.iter().all(|t| t["met"] == true), "{targets:#?}");
    assert!(set["not_at_these_hours"].as_array().unwrap().is_empty(), "{set}");
    let over =
        |l: &serde_json::Value| l["flag"].as_str().unwrap().contains("above what was stated");
    assert!(!remedy["limits"].as_array().unwrap().iter().any(over), "{}", remedy["limits"]);
    assert!(remedy["baseline"]["met"] == false, "something has to be done");
    let cost = set["cost"].as_f64().unwrap();
    assert!(cost > 0.0 && cost <= 8000.0, "{cost}");
    // Half a chance is not what anybody promises: asked for more, it says what that costs, or that
    // nothing on offer is so sure and what comes nearest.
    let said = on("remedy", &project, &["--json", "--as-described", "--probability", "90"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let surer = said.json();
    let chance = surer["cheapest"]["probability_met"].as_f64().unwrap();
    let remarked = said.out.contains("remedy::not-likely-enough");
    assert!(chance >= 0.9 || remarked, "{chance}: {}", surer["remarks"]);
    assert!(!remedy["single_changes"].as_array().unwrap().is_empty());
    assert!(said.out.contains("invented"), "prices are invented and say so");
}
