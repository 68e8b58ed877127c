//! The forms outside programs rely on.

use crate::run::{Folder, on, wythe};

/// ISO 717-1:2013/2020 Annex C Table C.1 (public transcription): Rw(C;Ctr) = 30(-2;-3), sum 31.8.
const C1: &str = "frequency_hz,value_db\n100,20.4\n125,16.3\n160,17.7\n200,22.6\n250,22.4\n315,22.7\n400,24.8\n500,26.6\n630,28.0\n800,30.5\n1000,31.8\n1250,32.5\n1600,33.4\n2000,33.0\n2500,31.0\n3150,25.5\n";

#[test]
fn rate_gives_the_published_numbers() {
    let folder = Folder::new();
    let file = folder.write("c1.csv", C1);
    let said = on("rate", &file, &["--by", "iso717-1", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(said.err, "");
    let r = said.json();
    assert_eq!(r["method"], "iso717-1");
    assert_eq!(r["rating"], 30);
    assert_eq!(r["terms"]["C"], -2);
    assert_eq!(r["terms"]["Ctr"], -3);
    assert!(r["terms"]["C50-3150"].is_null());
    assert_eq!(r["sum_unfavourable_db"], 31.8);
    assert_eq!(r["worst_band"], "3150");
    assert_eq!(r["reference_db"]["100"], 11);
    assert!(r["remarks"].is_array());
    // The same for a person.
    let said = on("rate", &file, &["--by", "iso717-1"]);
    assert!(said.out.starts_with("Rw(C;Ctr) = 30(-2;-3) dB"), "{}", said.out);
}

#[test]
fn every_method_answers_or_says_why_not() {
    let folder = Folder::new();
    let file = folder.write("c1.csv", C1);
    for method in ["iso717-1", "iso717-2", "e413", "e1332", "e989", "nc", "nr"] {
        let said = on("rate", &file, &["--by", method, "--json"]);
        match said.code {
            0 => assert!(said.json()["rating"].is_number(), "{method}"),
            2 => {
                assert!(said.err.contains("missing") || said.err.contains("needs"), "{}", said.err)
            }
            other => panic!("{method}: {other}"),
        }
    }
}

const BUILD_UP: &str = r#"[[build_up]]
id = "example"
layers = [
  { board = "gypsum board", thickness = "16 mm", count = 2, joined = "screwed", surface_mass = "11.5 kg/m2" },
  { cavity = "90 mm", fill = "mineral wool", fill_depth = "90 mm", flow_resistivity = "6000 Pa s/m2",
    frame = "light steel studs", gauge = 25, spacing = "600 mm", mount = "resilient channel", mount_side = "b" },
  { board = "gypsum board", thickness = "16 mm", count = 1 },
]
"#;

#[test]
fn partition_keeps_its_keys() {
    let folder = Folder::new();
    let file = folder.write("wall.toml", BUILD_UP);
    let said = on("partition", &file, &["--area", "10 m2", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let b = &record["build_ups"][0];
    assert_eq!(b["id"], "example");
    for key in ["surface_mass_kg_m2", "thickness_mm"] {
        assert!(b[key].is_number(), "{key}");
    }
    for key in ["reduction_index_db", "standard_deviation_db"] {
        assert!(b[key]["500"].is_number(), "{key}");
    }
    assert!(
        b["octave_db"]["125"].is_number() && b["octave_standard_deviation_db"]["125"].is_number()
    );
    for key in ["Rw", "C", "Ctr", "STC"] {
        assert!(b["ratings"][key].is_i64(), "{key}");
    }
    assert!(b["paths_db"]["airborne"]["500"].is_number());
    assert!(b["resonance_hz"][0].is_number() && b["critical_hz"][1].is_number());
    assert!(b["method"].is_string() && b["methods_that_apply"].is_array());
    // Paths add up to the whole.
    let r = b["reduction_index_db"]["1000"].as_f64().unwrap();
    let sum: f64 = b["paths_db"]
        .as_object()
        .unwrap()
        .values()
        .map(|p| 10f64.powf(-p["1000"].as_f64().unwrap() / 10.0))
        .sum();
    assert!((r + 10.0 * sum.log10()).abs() < 0.1, "{r}");
}

#[test]
fn new_starts_a_project_that_checks_and_predicts() {
    let folder = Folder::new();
    let project = folder.file("house");
    assert_eq!(on("new", &project, &[]).code, 0);
    let said = on("check", &project, &["--json"]);
    assert_eq!(said.code, 0, "{}{}", said.out, said.err);
    let record = said.json();
    for key in ["errors", "assumed", "unknown", "remarks"] {
        assert!(record[key].is_array(), "{key}");
    }
    let said = on("predict", &project, &["--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let record = said.json();
    let receiver = &record["sources"][0]["receivers"][0];
    let sum: f64 = receiver["paths"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["share"]["500"].as_f64().unwrap())
        .sum();
    assert!((sum - 1.0).abs() < 1e-4, "{sum}");
    // Nothing is ever written over.
    let again = on("new", &project, &[]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("not empty"), "{}", again.err);
}

#[test]
fn help_and_version_are_there() {
    assert_eq!(wythe(["--version"]).code, 0);
    let help = wythe(["--help"]);
    for command in [
        "demo",
        "new",
        "check",
        "predict",
        "measure",
        "explain",
        "remedy",
        "report",
        "partition",
        "rate",
    ] {
        assert!(help.out.contains(command), "{command}");
        assert_eq!(wythe([command, "--help"]).code, 0);
    }
    assert_eq!(wythe(["nonsense"]).code, 2);
}

/// A loud room with a door, a change that hangs boards, nothing said of fuel.
const RISKY: &str = r#"wythe = 1
[[room]]
id = "loud"
volume = "60 m3"
decay_time = "0.6 s"
[[room]]
id = "quiet"
volume = "40 m3"
decay_time = "0.5 s"
storey = 1
[[build_up]]
id = "floor"
layers = [
  { board = "gypsum board", thickness = "12.5 mm" },
  { cavity = "220 mm", frame = "timber studs", spacing = "400 mm" },
  { board = "particleboard", thickness = "22 mm" },
]
[[build_up]]
id = "floor-more"
layers = [
  { board = "gypsum board", thickness = "15.9 mm", count = 3 },
  { cavity = "220 mm", frame = "timber studs", spacing = "400 mm" },
  { board = "particleboard", thickness = "22 mm" },
]
[[boundary]]
id = "ceiling"
between = ["loud", "quiet"]
area = "20 m2"
build_up = "floor"
[[source]]
room = "loud"
spectrum = "pink noise"
level = "105 dB Leq"
[[target]]
room = "quiet"
criterion = "30 dBA"
[[change]]
id = "boards"
title = "three boards"
element = "ceiling"
cost = 500
action = [{ do = "rebuild", boundary = "ceiling", build_up = "floor-more" }]
"#;

#[test]
fn cautions_are_in_every_face_and_cannot_be_left_out() {
    let folder = Folder::new();
    let text = |command: &str| {
        let said = on(command, folder.path(), &[]).out;
        said.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    folder.write("wythe.toml", RISKY);
    for command in ["check", "predict", "remedy"] {
        let said = on(command, folder.path(), &["--json"]).json();
        let codes: Vec<&str> = said["cautions"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|c| c["code"].as_str())
            .collect();
        for code in [
            "caution::hearing-dose",
            "caution::fuel-not-said",
            "caution::dead-load",
            "caution::tight-room",
        ] {
            assert!(codes.contains(&code), "{command}: no {code} in {codes:?}");
        }
        for c in said["cautions"].as_array().unwrap() {
            for key in ["code", "topic", "where", "why", "what_to_do", "decides", "stop"] {
                assert!(!c[key].is_null(), "{command}: {key}");
            }
        }
        assert!(text(command).contains("licensed engineer"), "{command}: no notice");
    }
    // Each names in full what it touches.
    assert!(text("predict").contains("allowance is spent after"));
    assert!(text("remedy").contains("ask an engineer"));
    let report = folder.path().join("r.html");
    let html = |reader: &str| {
        let words = ["-o", report.to_str().unwrap(), "--for", reader];
        let said = on("report", folder.path(), &words);
        assert_eq!(said.code, 0, "{}", said.err);
        std::fs::read_to_string(&report).unwrap()
    };
    for reader in ["builder", "file"] {
        let html = html(reader);
        assert!(html.contains("allowance is spent after"), "{reader}");
        assert!(html.contains("licensed"), "{reader}");
    }
    // The owner's sheet counts them and says where they stand.
    let sheet = html("owner");
    assert!(sheet.contains("cautions are on file") && sheet.contains("people licensed"));
    // Facts take the place of assumptions, and the list shrinks by facts alone.
    folder
        .write("wythe.toml", format!("{RISKY}\n[caution]\nno_fuel = true\nsession = \"30 min\"\n"));
    let said = text("check");
    assert!(!said.contains("Nobody has said where a boiler"), "{said}");
    assert!(said.contains("session of 30 min"), "{said}");
}

#[test]
fn rate_takes_what_the_curve_holds() {
    let folder = Folder::new();
    let file = folder.write("c1.csv", C1);
    let nnic = |volumes: &[&str]| {
        let mut args = vec!["--by", "e413", "--as", "NNIC"];
        args.extend(volumes);
        on("rate", &folder.write("d.csv", C1.replace("20.4", "20").as_str()), &args)
    };
    // E413 needs 125 Hz to 4 kHz, which C1 lacks: asked with volumes it says so.
    let said = nnic(&[]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("volumes"), "{}", said.err);
    // A receiving room under 25 m³ gets no NNIC (ASTM E336, by its public abstract).
    let said = nnic(&["--volumes", "60 m3", "24.9 m3"]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("25"), "{}", said.err);
    let said = on("rate", &file, &["--by", "iso717-1", "--as", "DnT,w"]);
    assert!(said.out.starts_with("DnT,w(C;Ctr) = 30(-2;-3) dB"), "{}", said.out);
    // The prime is another quantity.
    let said = on("rate", &file, &["--by", "iso717-1", "--as", "R'w"]);
    assert!(said.out.starts_with("R'w"), "{}", said.out);
    let said = on("rate", &file, &["--by", "iso717-1", "--as", "Rx"]);
    assert!(said.code == 2 && said.err.contains("STC"), "{}", said.err);
    // A method that does not rate it.
    assert_eq!(on("rate", &file, &["--by", "iso717-1", "--as", "STC"]).code, 2);
}

#[test]
fn rate_adds_levels_up() {
    let folder = Folder::new();
    // One band at 1 kHz weighs nothing by definition (IEC 61672-1); two of 60 dB make 63.0.
    let one = folder.write("one.csv", "frequency_hz,value_db\n1000,60\n");
    let said = on("rate", &one, &["--by", "levels", "--json"]).json();
    for key in ["LA", "LC", "LZ"] {
        assert!((said["totals_db"][key].as_f64().unwrap() - 60.0).abs() < 0.01, "{said}");
    }
    let two = folder.write("two.csv", "frequency_hz,value_db\n1000,60\n1250,>=60\n");
    let said = on("rate", &two, &["--by", "levels"]);
    assert!(said.out.contains("LZ = \u{2265} 63.0 dB"), "{}", said.out);
}

/// ISO 717-1 Annex E: a lining of nothing improves nothing.
#[test]
fn rate_rates_linings() {
    let folder = Folder::new();
    let rows: String = C1
        .lines()
        .skip(1)
        .map(|l| format!("{},{}\n", l.split(',').next().unwrap(), "5.0"))
        .collect();
    let file = folder.write("lining.csv", format!("frequency_hz,value_db\n{rows}"));
    let said = on("rate", &file, &["--by", "iso717-1", "--lining", "heavy-wall", "--json"]).json();
    assert_eq!(said["rating"], 5);
    assert_eq!(
        said["lined"]["rating"].as_i64().unwrap() - said["alone"]["rating"].as_i64().unwrap(),
        5
    );
    assert_eq!(on("rate", &file, &["--by", "e413", "--lining", "heavy-wall"]).code, 2);
}
