//! Results drawn into files: one chart or a folder of all.

use std::path::Path;

use crate::run::{Folder, on};

const HOUSE: &str = include_str!("../../../wythe-report/tests/data/house.toml");

fn names(folder: &Path) -> Vec<String> {
    let mut out: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    out.sort();
    out
}

#[test]
fn a_name_takes_the_first_chart_and_a_folder_takes_all() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE);
    let house = folder.file("house");
    let at = |name: &str| folder.file(name).to_str().unwrap().to_owned();
    for (command, more, wanted) in [
        ("check", vec![], vec!["storey-0.svg", "storey-1.svg"]),
        ("predict", vec![], vec!["loud-to-above.svg", "loud-to-quiet.svg"]),
        ("remedy", vec!["--frontier"], vec!["costs.svg", "frontier.svg"]),
    ] {
        let all = at(&format!("{command}-all"));
        let mut words = more.clone();
        words.extend(["--svg", &all]);
        let said = on(command, &house, &words);
        assert_eq!(said.code, 0, "{command}: {}", said.err);
        assert_eq!(names(Path::new(&all)), wanted, "{command}");
        assert!(
            said.out.contains("Drawn") && said.out.contains(wanted[0]),
            "{command}: {}",
            said.out
        );
        // With a program reading, the object stands alone.
        let one = at(&format!("{command}.svg"));
        let mut words = more.clone();
        words.extend(["--json", "--svg", &one]);
        let said = on(command, &house, &words);
        assert!(said.json().is_object());
        let svg = std::fs::read_to_string(&one).unwrap();
        assert!(svg.starts_with("<svg") && svg.contains("<title>"), "{command}");
        if command != "predict" || names(Path::new(&all)).len() > 1 {
            let same = names(Path::new(&all))
                .iter()
                .any(|n| std::fs::read_to_string(Path::new(&all).join(n)).unwrap() == svg);
            assert!(same, "{command}: one chart is none of all");
        }
    }
    // The older word for the same.
    let plans = at("plans");
    assert_eq!(on("check", &house, &["--plans", &plans]).code, 0);
    assert_eq!(names(Path::new(&plans)), names(&folder.file("check-all")));
    // The receiver asked for.
    let one = at("to.svg");
    assert_eq!(on("predict", &house, &["--to", "quiet", "--svg", &one]).code, 0);
    let svg = std::fs::read_to_string(&one).unwrap();
    assert!(svg.contains("Drums in Quiet room"), "{svg}");
}

#[test]
fn what_has_no_chart_says_so() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE.replace("\"NR 45\"", "\"120 dBA\""));
    let house = folder.file("house");
    let out = folder.file("x.svg");
    let svg = out.to_str().unwrap();
    // Everything is met: nothing is to be bought.
    let said = on("remedy", &house, &["--svg", svg]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("nothing to draw"), "{}", said.err);
    // Suggestions are a list.
    assert_eq!(on("remedy", &house, &["--suggest", "--svg", svg]).code, 2);
    assert!(!out.exists());
}

#[test]
fn rated_curves_linings_and_levels_are_drawn() {
    let folder = Folder::new();
    let rows: String = (0..16)
        .map(|i| {
            let hz = [
                "100", "125", "160", "200", "250", "315", "400", "500", "630", "800", "1000",
                "1250", "1600", "2000", "2500", "3150",
            ][i];
            format!("{hz},{}\n", 20 + i)
        })
        .collect();
    let curve = folder.write("curve.csv", format!("frequency_hz,value_db\n{rows}"));
    let draw = |words: &[&str], name: &str| {
        let path = folder.file(name);
        let mut all = words.to_vec();
        all.extend(["--svg", path.to_str().unwrap()]);
        let said = on("rate", &curve, &all);
        assert_eq!(said.code, 0, "{}", said.err);
        path
    };
    let rated = std::fs::read_to_string(draw(&["--by", "iso717-1"], "rated.svg")).unwrap();
    assert!(rated.contains("reference") && rated.contains("Rw(C;Ctr)"));
    let lined = draw(&["--by", "iso717-1", "--lining", "heavy-wall"], "linings");
    assert_eq!(names(&lined), ["alone.svg", "lined.svg"]);
    let levels = std::fs::read_to_string(draw(&["--by", "levels"], "levels.svg")).unwrap();
    assert!(levels.contains("Sound pressure level") && levels.contains("LA = "), "{levels}");
}

#[test]
fn a_language_is_a_file() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE);
    let house = folder.file("house");
    let english = on("catalogue", Path::new("sentences"), &[]).out;
    let report = folder.file("r.html");
    let out = report.to_str().unwrap();
    let with = |text: &str, reader: &str| {
        let table = folder.write("own.toml", text);
        let words = ["-o", out, "--for", reader, "--language", table.to_str().unwrap()];
        on("report", &house, &words)
    };
    let own = english
        .replace("tag = \"en\"", "tag = \"nl\"")
        .replace("\"How loud it gets\"", "\"Hoe luid het wordt\"")
        .replace("\"What to buy\"", "\"Wat te kopen\"");
    for (reader, heading) in [("owner", "Hoe luid het wordt"), ("builder", "Wat te kopen")] {
        let said = with(&own, reader);
        assert_eq!(said.code, 0, "{}", said.err);
        let html = std::fs::read_to_string(&report).unwrap();
        assert!(html.contains("<html lang=\"nl\">") && html.contains(heading), "{reader}");
    }
    // The document for the file stays as it is, and says why.
    let said = with(&own, "file");
    assert!(said.code == 2 && said.err.contains("in English only"), "{}", said.err);
    // What is not whole is refused with what it lacks.
    let before = std::fs::read(&report).unwrap();
    let said = with(&own.replace("how_loud = \"Hoe luid het wordt\"\n", ""), "owner");
    assert!(said.code == 2 && said.err.contains("owner.how_loud"), "{}", said.err);
    let said = with("tag = ", "owner");
    assert_eq!(said.code, 2);
    assert_eq!(std::fs::read(&report).unwrap(), before);
}

#[test]
fn a_record_says_which_input_changed() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE);
    let house = folder.file("house");
    let record = folder.write("record.json", on("report", &house, &["--json"]).out);
    let record = record.to_str().unwrap();
    let verify = || on("report", &house, &["--verify", record]);
    assert!(verify().out.starts_with("The same"), "{}", verify().out);
    folder.write("house/wythe.toml", HOUSE.replace("area = \"10 m2\"", "area = \"14 m2\""));
    let said = verify().out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("wythe.toml, boundary wall, area: was 10 m2, is 14 m2"), "{said}");
    assert!(said.contains("wythe.toml, sha256") && said.contains("margin_db"), "{said}");
    let why = said.find("boundary wall").unwrap();
    assert!(why < said.find("Figures").unwrap() && said.find("Figures") < said.find("margin_db"));
    // A comment changes the file and no figure.
    folder.write("house/wythe.toml", format!("{HOUSE}# a word\n"));
    let said = verify().out;
    assert!(said.contains("no figure of the record changed"), "{said}");
    assert_eq!(on("report", &house, &["--verify", record, "--strict"]).code, 1);
}
