//! Tables that leave the program, and what comes back in.

use std::path::Path;

use crate::run::{Folder, on};

/// Two rooms with names no spreadsheet and no shell likes, and no recording. Invented.
const NAMES: &str = r#"wythe = 1
title = "The \"Quoted\", House"
[[room]]
id = "loud"
title = "=HYPERLINK(\"x\"), \"drums\""
volume = "60 m3"
decay_time = "0.6 s"
[[room]]
id = "quiet"
title = "חדר שקט"
volume = "40 m3"
decay_time = "0.5 s"
[[build_up]]
id = "wall"
layers = [{ board = "brick", thickness = "215 mm" }]
[[boundary]]
between = ["loud", "quiet"]
area = "10 m2"
build_up = "wall"
[[source]]
room = "loud"
spectrum = "pink noise"
level = "95 dB Leq"
[[target]]
room = "quiet"
criterion = "NR 25"
"#;

/// Rows of a CSV text by RFC 4180, read by a reader of the test's own.
fn rows(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut cell, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut signs = text.chars().peekable();
    while let Some(c) = signs.next() {
        match c {
            '"' if quoted && signs.peek() == Some(&'"') => {
                signs.next();
                cell.push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => row.push(std::mem::take(&mut cell)),
            '\r' if !quoted => {}
            '\n' if !quoted => {
                row.push(std::mem::take(&mut cell));
                rows.push(std::mem::take(&mut row));
            }
            c => cell.push(c),
        }
    }
    assert!(!quoted && row.is_empty() && cell.is_empty(), "the text ends within a row");
    rows
}

struct Csv(Vec<Vec<String>>);

impl Csv {
    fn read(path: &Path) -> Csv {
        let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        let rows = rows(&text);
        for r in &rows {
            assert_eq!(r.len(), rows[0].len(), "{path:?}: {r:?}");
        }
        Csv(rows)
    }

    fn column(&self, head: &str) -> usize {
        self.0[0].iter().position(|h| h == head).unwrap_or_else(|| panic!("no {head}"))
    }

    fn get<'a>(&'a self, row: &'a [String], head: &str) -> &'a str {
        &row[self.column(head)]
    }

    fn rows(&self) -> &[Vec<String>] {
        &self.0[1..]
    }
}

/// Twelve seconds of noise in the loud room and 30 dB less of it in the quiet one, then four of
/// nothing but a faint noise. Invented.
fn recording() -> Vec<u8> {
    use wythe_recording::test_signal::white;
    const RATE: u32 = 16_000;
    let n = 16 * RATE as usize;
    let (loud, here, there) = (white(1, 0.2, n), white(2, 1e-4, n), white(3, 1e-4, n));
    let samples: Vec<f64> = (0..n)
        .flat_map(|k| {
            let x = if k < 12 * RATE as usize { loud[k] } else { 0.0 };
            [x + here[k], x * 10f64.powf(-1.5) + there[k]]
        })
        .collect();
    let depth = wythe_recording::wav::Depth::Int24;
    wythe_recording::wav::to_bytes(RATE, 2, depth, &samples).unwrap()
}

/// What the recording is.
const SURVEY: &str = r#"wythe = 1
[[recording]]
file = "recordings/both.wav"
gain = "fixed"
calibration = { full_scale = "1 Pa" }
[[recording.channel]]
number = 1
room = "loud"
[[recording.channel]]
number = 2
room = "quiet"
[[recording.stretch]]
kind = "source"
room = "loud"
from = "1 s"
to = "11 s"
[[recording.stretch]]
kind = "background"
from = "12.5 s"
to = "15.5 s"
"#;

#[test]
fn the_tables_agree_with_every_other_command() {
    let folder = Folder::new();
    let project = folder.file("house");
    folder.write("house/wythe.toml", NAMES);
    folder.write("house/survey.toml", SURVEY);
    folder.write("house/recordings/both.wav", recording());
    let out = folder.file("tables");
    let said = on("export", &project, &["-o", out.to_str().unwrap(), "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    for t in said.json()["tables"].as_array().unwrap() {
        let csv = Csv::read(&out.join(t["file"].as_str().unwrap()));
        assert_eq!(csv.rows().len() as u64, t["rows"].as_u64().unwrap(), "{t}");
        // No decay was measured, and no change is on offer.
        let none = ["decays.csv", "remedies.csv", "buying.csv", "findings.csv"];
        let name = t["file"].as_str().unwrap();
        assert!(!csv.rows().is_empty() || none.contains(&name), "{t}");
    }

    // The shares of one room, source and band are the whole.
    let paths = Csv::read(&out.join("paths.csv"));
    let mut sums = std::collections::BTreeMap::<_, f64>::new();
    for row in paths.rows() {
        let key = ["basis", "source", "room"].map(|h| paths.get(row, h).to_owned());
        let share = paths.get(row, "share_500_hz");
        *sums.entry(key).or_default() += share.parse::<f64>().unwrap_or(0.0);
    }
    assert!(!sums.is_empty());
    for (key, sum) in sums {
        assert!((sum - 1.0).abs() < 1e-3, "{key:?}: {sum}");
    }

    // `wythe rate` reads what was written, and comes to the number that was measured.
    let curves = Csv::read(&out.join("curves.csv"));
    let ratings = Csv::read(&out.join("ratings.csv"));
    let mut rated = 0;
    for curve in curves.rows() {
        let method = curves.get(curve, "rate_by");
        let symbol = match curves.get(curve, "quantity") {
            "DnT" => "DnT,w",
            "R'" => "R'w",
            _ => continue,
        };
        let same = |r: &&Vec<String>| {
            ratings.get(r, "symbol").replace('′', "'") == symbol
                && ["source_room", "receiving_room", "state"]
                    .iter()
                    .all(|h| ratings.get(r, h) == curves.get(curve, h))
        };
        let Some(r) = ratings.rows().iter().find(same) else { continue };
        let Ok(measured) = ratings.get(r, "value_db").parse::<f64>() else { continue };
        let file = out.join(curves.get(curve, "file"));
        let said = on("rate", &file, &["--by", method, "--json"]);
        assert_eq!(said.code, 0, "{}", said.err);
        assert_eq!(said.json()["rating"].as_f64(), Some(measured), "{curve:?}");
        rated += 1;
    }
    assert!(rated > 0, "no curve was rated");

    // Again into the same place: refused, and what was there is still there.
    let before = std::fs::read(out.join("levels.csv")).unwrap();
    let said = on("export", &project, &["-o", out.to_str().unwrap()]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("nothing is written over"), "{}", said.err);
    assert_eq!(std::fs::read(out.join("levels.csv")).unwrap(), before);
}

#[test]
fn an_unfinished_build_up_is_said_with_its_line_and_the_report_of_before_stays() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", NAMES);
    let file = folder.file("r.html");
    let report = || on("report", &folder.file("house"), &["-o", file.to_str().unwrap()]);
    assert_eq!(report().code, 0);
    let before = std::fs::read(&file).unwrap();
    let brick = "{ board = \"brick\", thickness = \"215 mm\" }";
    for unfinished in ["", "{ cavity = \"90 mm\" }", "{ board = \"brick\" }"] {
        folder.write("house/wythe.toml", NAMES.replace(brick, unfinished));
        let said = report();
        assert_eq!(said.code, 2, "{unfinished}: {}", said.out);
        assert!(said.err.contains("wythe.toml:") && said.err.contains("wall"), "{}", said.err);
        assert_eq!(std::fs::read(&file).unwrap(), before);
    }
}

#[test]
fn names_with_quotes_and_from_right_to_left_survive_and_calculate_nothing() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", NAMES);
    let out = folder.file("tables");
    let said = on("export", &folder.file("house"), &["-o", out.to_str().unwrap()]);
    assert_eq!(said.code, 0, "{}", said.err);
    // Without recordings the tables say so.
    assert!(said.out.contains("nothing has been recorded"), "{}", said.out);
    let grounds = Csv::read(&out.join("grounds.csv"));
    assert!(grounds.rows().iter().any(|r| grounds.get(r, "standing") == "missing"));
    assert!(Csv::read(&out.join("differences.csv")).rows().is_empty());
    let rooms = Csv::read(&out.join("rooms.csv"));
    let titles: Vec<&str> = rooms.rows().iter().map(|r| rooms.get(r, "title")).collect();
    assert_eq!(titles, ["'=HYPERLINK(\"x\"), \"drums\"", "חדר שקט"]);
}

#[test]
fn a_place_that_cannot_be_written_is_said_and_left_alone() {
    let folder = Folder::new();
    folder.write("house/wythe.toml", NAMES);
    // A file where a folder would have to be.
    let file = folder.write("taken", "mine");
    let inside = file.join("tables");
    let said = on("export", &folder.file("house"), &["-o", inside.to_str().unwrap()]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("cannot be written"), "{}", said.err);
    assert_eq!(std::fs::read(&file).unwrap(), b"mine");
    let said = on("export", &folder.file("house"), &["-o", file.to_str().unwrap()]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("is a file"), "{}", said.err);
}

/// The text of a part of a workbook, which is a ZIP of XML.
fn part(book: &Path, name: &str) -> String {
    let mut zip = zip::ZipArchive::new(std::fs::File::open(book).unwrap()).unwrap();
    let mut text = String::new();
    std::io::Read::read_to_string(&mut zip.by_name(name).unwrap(), &mut text).unwrap();
    text
}

#[test]
fn a_workbook_has_numbers_formulas_and_calculates_no_names() {
    let folder = Folder::new();
    // A change on offer, so that there is something to buy.
    let house = format!(
        "{NAMES}\n[[build_up]]\nid = \"lined\"\nlayers = [{{ board = \"brick\", thickness = \"215 mm\" }}, \
         {{ cavity = \"100 mm\", fill = \"mineral wool\", fill_depth = \"75 mm\" }}, \
         {{ board = \"gypsum board\", thickness = \"15.9 mm\", count = 2 }}]\n\
         [[boundary]]\nbetween = [\"loud\", \"quiet\"]\narea = \"4 m2\"\nbuild_up = \"wall\"\nid = \"second\"\n\
         [[change]]\nid = \"line\"\ntitle = \"lining\"\nelement = \"second\"\ncost = 100\n\
         action = [{{ do = \"rebuild\", boundary = \"second\", build_up = \"lined\" }}]\n"
    );
    folder.write("house/wythe.toml", house);
    let book = folder.file("results.xlsx");
    let said = on("export", &folder.file("house"), &["--xlsx", "-o", book.to_str().unwrap()]);
    assert_eq!(said.code, 0, "{}", said.err);
    // Sheets stand in the order of the tables behind the contents: rooms first.
    let rooms = part(&book, "xl/worksheets/sheet2.xml");
    assert!(rooms.contains("<v>60</v>"), "volume is a number: {rooms}");
    assert!(!rooms.contains("<f>"), "a name became a formula: {rooms}");
    let strings = part(&book, "xl/sharedStrings.xml");
    assert!(strings.contains("=HYPERLINK(") && strings.contains("חדר שקט"), "{strings}");
    let names = part(&book, "xl/workbook.xml");
    let at = names.split("<sheet ").position(|s| s.contains("name=\"buying\"")).unwrap();
    let buying = part(&book, &format!("xl/worksheets/sheet{at}.xml"));
    assert!(buying.contains("C2*E2"), "{buying}");
    // Nobody has given a price: neither it nor what it would make is a number.
    let mut cells = 0;
    for cell in buying.split("<c r=\"").skip(1) {
        let (name, rest) = cell.split_once('"').unwrap();
        let row: String = name.chars().filter(char::is_ascii_digit).collect();
        if row != "1" && name.starts_with('F') && rest.contains("*E") {
            assert!(!rest.contains("<v>0</v>"), "{name}: {rest}");
            cells += 1;
        }
        assert!(!(name.starts_with('E') && rest.contains("<v>0</v>")), "{name}: {rest}");
    }
    assert!(cells > 0, "{buying}");
    assert!(buying.contains("SUM(F2:"), "{buying}");
    // Once more: refused, and the workbook is still whole.
    let said = on("export", &folder.file("house"), &["--xlsx", "-o", book.to_str().unwrap()]);
    assert_eq!(said.code, 2);
    assert_eq!(part(&book, "xl/worksheets/sheet2.xml"), rooms);
}
