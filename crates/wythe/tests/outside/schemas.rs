//! What every command prints with `--json`, held against its published schema by an outside
//! validator, in both directions: nothing the schema lacks, nothing in the schema that is never
//! printed.

use std::path::Path;

use serde_json::Value;
use wythe_recording::test_signal::{SplitMix64, white};
use wythe_recording::wav::{Depth, to_bytes};

use crate::data::{asked, python};
use crate::run::{Folder, on, wythe};

const RATE: u32 = 16_000;

/// Keys the projects below have no occasion for, by form; everything else in a schema has to be
/// printed by one of the commands.
const NOT_SHOWN: &[&str] = &[
    // A plan that moves music to other hours.
    "remedy cheapest.not_at_these_hours.criterion",
    "remedy cheapest.not_at_these_hours.room",
    // A fan in a duct.
    "predict ventilation.level_db",
    "predict ventilation.level_dba",
    "predict ventilation.room",
    "predict ventilation.targets",
    // A rating a standard refuses.
    "measure refused.rating",
    "measure refused.why",
];

/// Sees every form printed and asks python about all of them at once.
struct Forms {
    folder: Folder,
    /// Form and file of each output.
    printed: Vec<(String, String)>,
}

impl Forms {
    fn take(&mut self, form: &str, value: &Value) {
        let name = format!("out-{}.json", self.printed.len());
        let file = self.folder.write(&name, value.to_string());
        self.printed.push((form.to_owned(), file.to_str().unwrap().to_owned()));
    }

    fn say(&mut self, form: &str, command: &str, path: &Path, more: &[&str]) -> Value {
        let mut words = vec!["--json"];
        words.extend(more);
        let said = on(command, path, &words);
        let broken = form == "check" && said.code == 2;
        assert!(said.code == 0 || broken, "{command} {more:?}: {}", said.err);
        let value = said.json();
        self.take(form, &value);
        value
    }
}

/// Two rooms, a garden and a floor above, recorded: music through a wall into noise, a tapping
/// machine above, a loudspeaker outside, claps. All of it invented.
fn recorded(project: &Path) {
    let text = std::fs::read_to_string(project.join("wythe.toml")).unwrap();
    let text = format!(
        "{text}\n[[state]]\nname = \"door taped\"\nopenings = {{ door = \"taped\" }}\n\
         [[state]]\nname = \"door open\"\nopenings = {{ door = \"open\" }}\n\
         [[source]]\nid = \"song\"\nroom = \"above\"\nspectrum = \"pink noise\"\nlevel = \"80 dB Leq\"\n\
         [[target]]\nroom = \"quiet\"\ncriterion = \"60 dBA\"\n\
         [[room]]\nid = \"garden\"\noutdoors = true\ndistance = \"5 m\"\n\
         [[boundary]]\nid = \"front\"\nbetween = [\"quiet\", \"garden\"]\narea = \"8 m2\"\n\
         build_up = \"stud-wall\"\n"
    );
    std::fs::write(project.join("wythe.toml"), text).unwrap();
    let n = 60 * RATE as usize;
    let mut r = SplitMix64::new(7);
    let at = |k: usize| k as f64 / f64::from(RATE);
    let music: Vec<f64> = white(1, 0.1, n)
        .iter()
        .enumerate()
        .map(|(k, v)| if (20.0..50.0).contains(&at(k)) { *v } else { 0.0 })
        .collect();
    let hum: Vec<f64> = white(2, 0.0004, n);
    let behind: Vec<f64> =
        (0..n).map(|k| hum[k] + if k > 200 { 0.004 * music[k - 200] } else { 0.0 }).collect();
    let claps: Vec<f64> = (0..n)
        .map(|k| {
            let since = at(k) % 8.0;
            let decay = if at(k) > 5.0 { 10f64.powf(-3.0 * since / 0.5) } else { 0.0 };
            0.3 * r.gauss() * decay + 1e-5 * r.gauss()
        })
        .collect();
    let put = |name: &str, channels: &[&Vec<f64>]| {
        let mixed: Vec<f64> = (0..n).flat_map(|k| channels.iter().map(move |c| c[k])).collect();
        let bytes = to_bytes(RATE, channels.len(), Depth::Int24, &mixed).unwrap();
        std::fs::create_dir_all(project.join("recordings")).unwrap();
        std::fs::write(project.join("recordings").join(name), bytes).unwrap();
    };
    put("claps.wav", &[&claps]);
    let scale = "calibration = { full_scale = \"5 Pa\" }";
    let mut survey = String::from("wythe = 1\n");
    for (name, more, source, into) in [
        ("wall", scale.to_owned(), "loud", "quiet"),
        // A relative comparison needs gains that are stated equal.
        ("equal", "state = \"door taped\"\nequal_gains = true".into(), "loud", "quiet"),
        ("steps", format!("excitation = \"tapping machine\"\n{scale}"), "above", "loud"),
        ("front", format!("excitation = \"loudspeaker outside\"\n{scale}"), "garden", "quiet"),
    ] {
        put(&format!("{name}.wav"), &[&music, &behind]);
        let first = if source == "above" { into } else { source };
        let kind = if source == "garden" { "kind = \"before facade\"\n" } else { "" };
        survey.push_str(&format!(
            "[[recording]]\nfile = \"recordings/{name}.wav\"\n{more}\n\
             [[recording.channel]]\nnumber = 1\nroom = \"{first}\"\n{kind}\
             [[recording.channel]]\nnumber = 2\nroom = \"{into}\"\n\
             [[recording.stretch]]\nfrom = \"21 s\"\nto = \"49 s\"\nkind = \"source\"\nroom = \"{source}\"\n\
             [[recording.stretch]]\nfrom = \"1 s\"\nto = \"19 s\"\nkind = \"background\"\n\
             [[recording.stretch]]\nfrom = \"30 s\"\nto = \"32 s\"\nkind = \"excluded\"\nwhy = \"talking\"\nchannels = [2]\n"
        ));
    }
    survey.push_str(&format!(
        "[[recording]]\nfile = \"recordings/claps.wav\"\n{scale}\n\
         [[recording.channel]]\nnumber = 1\nroom = \"quiet\"\n\
         [[recording.stretch]]\nfrom = \"5 s\"\nto = \"55 s\"\nkind = \"decay\"\nroom = \"quiet\"\n"
    ));
    std::fs::write(project.join("survey.toml"), survey).unwrap();
}

/// A room in a room, and two that are too near for a wall.
const ODD: &str = r#"wythe = 1
[[room]]
id = "a"
outline = [["0 m", "0 m"], ["4 m", "0 m"], ["4 m", "4 m"], ["0 m", "4 m"]]
height = "2.5 m"
decay_time = "0.5 s"
[[room]]
id = "b"
outline = [["1 m", "1 m"], ["3 m", "1 m"], ["3 m", "3 m"], ["1 m", "3 m"]]
height = "2.5 m"
decay_time = "0.5 s"
[[room]]
id = "c"
outline = [["4.01 m", "1 m"], ["6 m", "1 m"], ["6 m", "3 m"], ["4.01 m", "3 m"]]
height = "2.5 m"
decay_time = "0.5 s"
"#;

const CURVE: &str = "frequency_hz,value_db\n100,20\n125,22\n160,25\n200,28\n250,31\n315,33\n400,35\n\
    500,37\n630,39\n800,41\n1000,43\n1250,44\n1600,45\n2000,46\n2500,44\n3150,42\n";

#[test]
fn every_command_prints_what_its_schema_says_and_all_of_it() {
    let Some(python) = python("jsonschema") else { return };
    let mut f = Forms { folder: Folder::new(), printed: Vec::new() };
    f.folder.write("house/wythe.toml", include_str!("../../../wythe-report/tests/data/house.toml"));
    let house = f.folder.file("house");
    recorded(&house);
    let at = |f: &Forms, name: &str| f.folder.file(name).to_str().unwrap().to_owned();

    let started = f.folder.file("started");
    f.say("new", "new", &started, &[]);
    f.say("check", "check", &house, &[]);
    f.folder.write("broken/wythe.toml", "wythe = 1\n[[room]]\nid = 3\n");
    let broken = f.folder.file("broken");
    f.say("check", "check", &broken, &[]);
    f.folder.write("odd/wythe.toml", ODD);
    let odd = f.folder.file("odd");
    f.say("check", "check", &odd, &[]);
    f.say("predict", "predict", &house, &["--state", "door taped", "--state", "door open"]);
    let drawn = f.folder.file("drawn");
    let into = drawn.to_str().unwrap();
    f.say("measure", "measure", &house, &["--svg", into]);
    f.say("protocol", "protocol", &house, &[]);
    f.say("explain", "explain", &house, &["--svg", &format!("{into}/explained")]);
    let library = at(&f, "library");
    f.say("keep", "keep", &house, &["--in", &library]);
    f.say(
        "remedy",
        "remedy",
        &house,
        &["--frontier", "--compare", "boards", "seal", "--substitute", "gypsum board=8 kg/m2"],
    );
    f.say("remedy-suggest", "remedy", &house, &["--suggest"]);
    let heard = at(&f, "heard.wav");
    f.say(
        "listen",
        "listen",
        &house,
        &["--from", "source", "--in-room", "loud", "--room", "quiet", "-o", &heard],
    );
    let plain = f.folder.file("plain");
    f.folder.write("plain/wythe.toml", include_str!("../../../wythe-report/tests/data/house.toml"));
    f.say("report", "report", &plain, &[]);
    let record = f.say("report", "report", &house, &[]);
    let mut earlier = record.clone();
    earlier["version"] = "0.0.1".into();
    earlier["targets"][0]["margin_db"] = 99.into();
    let file = f.folder.write("earlier.json", earlier.to_string());
    f.say("report-verify", "report", &house, &["--verify", file.to_str().unwrap()]);
    f.say("export", "export", &house, &[]);
    let tables = at(&f, "tables");
    f.say("export-written", "export", &plain, &["-o", &tables]);
    let packed = at(&f, "house.zip");
    f.say("archive", "archive", &house, &["-o", &packed, "--without-recordings"]);
    let again = at(&f, "again");
    let said = wythe(["archive", "--open", &packed, "-o", &again, "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    f.take("archive", &said.json());

    let sweep = f.folder.file("sweep.wav");
    f.say("sweep", "sweep", &sweep, &["--length", "2"]);
    let folded = f.folder.file("answer.wav");
    let sweep = sweep.to_str().unwrap();
    f.say("sweep-fold", "sweep", &folded, &["--fold", sweep, "--length", "2"]);
    let walls = f.folder.write(
        "wall.toml",
        "[[build_up]]\nid = \"wall\"\nlayers = [\n  { board = \"gypsum board\", thickness = \"12.5 mm\" },\n  \
         { cavity = \"90 mm\", frame = \"timber studs\", spacing = \"600 mm\" },\n  \
         { board = \"gypsum board\", thickness = \"12.5 mm\" },\n]\n",
    );
    f.say("partition", "partition", &walls, &[]);
    let curve = f.folder.write("curve.csv", CURVE);
    f.say("rate", "rate", &curve, &["--by", "iso717-1", "--promise", "35"]);
    f.say("rate-levels", "rate", &curve, &["--by", "levels"]);
    f.say("rate-lining", "rate", &curve, &["--by", "iso717-1", "--lining", "heavy-wall"]);
    f.say("catalogue", "catalogue", Path::new("gypsum"), &[]);
    f.say("catalogue", "catalogue", Path::new("mineral wool"), &[]);
    f.say("catalogue-guidance", "catalogue", Path::new("guidance"), &[]);
    f.say("catalogue-sentences", "catalogue", Path::new("sentences"), &[]);
    f.say("dose", "dose", Path::new("98 dBA"), &["--time", "90 min"]);

    for name in [
        "loud-to-quiet.svg",
        "footsteps-above-to-loud.svg",
        "facade-garden-to-quiet.svg",
        "explained/loud-to-quiet.svg",
    ] {
        let svg =
            std::fs::read_to_string(drawn.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(svg.starts_with("<svg") && svg.contains("recorded"), "{name}");
    }

    let mut schemas = Vec::new();
    let mut forms: Vec<String> = f.printed.iter().map(|p| p.0.clone()).collect();
    forms.dedup();
    for form in forms {
        let said = wythe(["export".to_owned(), format!("--schema={form}")]);
        assert_eq!(said.code, 0, "{}", said.err);
        let file = f.folder.write(&format!("{form}.schema.json"), said.out);
        schemas.push((form, file.to_str().unwrap().to_owned()));
    }
    let asks = f.folder.write("asks.json", serde_json::json!([schemas, f.printed]).to_string());
    let told = asked(&python, CHECK, &[asks.to_str().unwrap()]);
    let told: Value = serde_json::from_str(&told).unwrap();
    assert_eq!(told["wrong"], serde_json::json!([]), "{told:#}");
    let mut never: Vec<&str> =
        told["never"].as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect();
    let mut expected = NOT_SHOWN.to_vec();
    never.sort_unstable();
    expected.sort_unstable();
    assert_eq!(never, expected, "in a schema and never printed");
    // A schema that takes everything would be none.
    assert_eq!(told["spoilt_and_taken"], serde_json::json!([]), "{told:#}");
}

/// Validates; collects the keys of each schema that occur; spoils one key of each output.
const CHECK: &str = r##"
import json, sys, jsonschema
schemas, printed = json.load(open(sys.argv[1]))
schemas = {name: json.load(open(path)) for name, path in schemas}
wrong, seen, spoilt = [], {}, []
def keys(schema, root, at, out):
    if "$ref" in schema:
        name = schema["$ref"].split("/")[-1]
        if (name, "") not in out:
            out.add((name, ""))
            keys(root["$defs"][name], root, name, out)
        return
    for s in schema.get("anyOf", []): keys(s, root, at, out)
    for key, s in schema.get("properties", {}).items():
        out.add((at, key)); keys(s, root, at + "." + key, out)
    for key in ("items", "additionalProperties"):
        if isinstance(schema.get(key), dict): keys(schema[key], root, at, out)
    for s in schema.get("patternProperties", {}).values(): keys(s, root, at, out)
def walk(value, schema, root, at, out):
    if "$ref" in schema:
        at = schema["$ref"].split("/")[-1]; out.add((at, "")); schema = root["$defs"][at]
    for s in schema.get("anyOf", []):
        if value is not None and s.get("type") != "null": walk(value, s, root, at, out)
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in schema.get("properties", {}):
                out.add((at, key)); walk(inner, schema["properties"][key], root, at + "." + key, out)
            elif isinstance(schema.get("additionalProperties"), dict):
                walk(inner, schema["additionalProperties"], root, at, out)
            else:
                for s in schema.get("patternProperties", {}).values(): walk(inner, s, root, at, out)
    if isinstance(value, list) and isinstance(schema.get("items"), dict):
        for inner in value: walk(inner, schema["items"], root, at, out)
for name, schema in schemas.items():
    jsonschema.Draft202012Validator.check_schema(schema)
for name, path in printed:
    value, schema = json.load(open(path)), schemas[name]
    v = jsonschema.Draft202012Validator(schema)
    wrong += [name + " " + e.json_path + ": " + e.message[:200] for e in list(v.iter_errors(value))[:8]]
    walk(value, schema, schema, "", seen.setdefault(name, set()))
    for key in list(value):
        without = {k: x for k, x in value.items() if k != key}
        if key in schema["required"] and v.is_valid(without): spoilt.append(name + " without " + key)
    if v.is_valid({**value, "no such key": 1}): spoilt.append(name + " with another key")
never, anywhere = [], set()
for name in seen: anywhere |= {k for k in seen[name] if k[0] and not k[0].startswith(".")}
for name, schema in schemas.items():
    wanted = set(); keys(schema, schema, "", wanted)
    if name == "export": continue
    never += sorted(name + " " + (a + "." + k).lstrip(".") for a, k in wanted - seen[name] - anywhere if k)
print(json.dumps({"wrong": wrong, "never": never, "spoilt_and_taken": spoilt}))
"##;
