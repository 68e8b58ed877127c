//! What is said when something cannot be used: all of it, at once, with a correct example.

use crate::{messages, project, remarks};
use wythe_project::{MemoryFiles, read, template};

#[test]
fn every_mistake_is_named_at_once() {
    let text = r#"
wythe = 1

[[room]]
id = "hall"
hieght = "2.5 m"
volume = "60,5 m3"

[[room]]
id = "bedroom"
volume = 42
decay_time = "400"

[[build_up]]
id = "frame"
layers = [
  { board = "gipsum board", thickness = "15.9" },
  { cavity = "90 mm", fill = "mineral wool", fill_depth = "120 mm" },
  { board = "plywood", thickness = "5 m" },
  { cavity = "50 mm", thickness = "50 mm" },
]

[[boundary]]
between = ["hall", "bedrom"]
build_up = "fram"
area = "-4 m2"

[[source]]
room = "hall"
spectrum = "drum kit hard"
level = "300 dB"

[[target]]
room = "bedroom"
criterion = "quiet"
hours = "at night"
"#;
    insta::assert_snapshot!(messages(&project(text)), @r#"
    wythe.toml:6:1: room `hall`: there is no key `hieght` here
      = did you mean `height`?
      = project::unknown-key
    wythe.toml:7:10: room `hall`: `volume` `60,5 m3` has a comma in a number; decimals are written with a point
      = write `"60.5 m3"`
      = project::decimal-comma
    wythe.toml:11:10: room `bedroom`: `volume` is the bare number 42; it needs a unit
      = write `"42 m3"` if that is meant; for example `volume = "105 m3"`
      = project::unit
    wythe.toml:12:14: room `bedroom`: `decay_time` `400` has no unit
      = for example `decay_time = { unit = "s", 125 = 0.9, 250 = 0.7, 500 = 0.6, 1000 = 0.6 }`; time is written as `"0.5 s"`, `"350 ms"`, `"2 min"`, `"1:10"`, `"1:02:10.5"`
      = project::unit
    wythe.toml:17:13: build-up `frame`, layer `gipsum board`: there is no material `gipsum board`
      = did you mean `gypsum board`?
      = project::unknown-material
    wythe.toml:17:41: build-up `frame`, layer `gipsum board`: `thickness` `15.9` has no unit
      = for example `thickness = "15.9 mm"`; length is written as `"2.7 m"`, `"27 cm"`, `"15.9 mm"`, `"8 ft 2 in"`, `"8' 2\""`, `"5/8 in"`, `"1 1/2 in"`
      = project::unit
    wythe.toml:18:59: build-up `frame`, layer: the fill is 120 mm deep in a cavity of 90 mm
      = a fill is at most as deep as its cavity
      = project::fill-depth
    wythe.toml:19:36: build-up `frame`, layer `plywood`: `thickness` cannot be 5 m; it lies between 0.0001 m and 2.5 m
      = for example `thickness = "15.9 mm"`
      = project::range
    wythe.toml:20:35: build-up `frame`, layer: `thickness` belongs to a board, this layer is a cavity
      = write it in the layer it belongs to
      = project::misplaced
    wythe.toml:24:20: boundary `hall`/`bedrom`: there is no room `bedrom`
      = did you mean `bedroom`?
      = project::unknown-room
    wythe.toml:26:8: boundary `hall`/`bedrom`: `area` cannot be -4 m2; it lies between 0.01 m2 and 100000 m2
      = for example `area = "12.4 m2"`
      = project::range
    wythe.toml:30:12: source in `hall`: there is no spectrum `drum kit hard`
      = did you mean `drum kit, hard`?
      = project::unknown-spectrum
    wythe.toml:31:9: source in `hall`: `level` cannot be 300 dB; it lies between -20 dB and 194 dB
      = for example `level = "108 dB Leq"`
      = project::range
    wythe.toml:35:13: target in `bedroom`: criterion `quiet` is not known
      = it may be `NR 20`, `NC 25`, `30 dBA`, `45 dBC`, `45 dB LAFmax`, `not audible`, `DnT,w + C50-3150 >= 55`, `Dw >= 50`, `D >= 60 dBA`, or highest levels per band
      = project::criterion
    wythe.toml:36:9: target in `bedroom`: hours `at night` cannot be read
      = for example `hours = "22:00-07:00"`
      = project::hours
    "#);
}

#[test]
fn slips_of_the_text_itself_do_not_hide_the_rest() {
    let text = r#"
wythe = 1
title = The Ropewalk
[[room]]
id = "hall"
volume = "60 m3"
volume = "61 m3"
[[room]]
id = "lobby
volume = 12
"#;
    insta::assert_snapshot!(messages(&project(text)), @r#"
    wythe.toml:3:9: the text cannot be read here: string values must be quoted, expected literal string
      = texts stand in double quotes, lists in [ ], tables in { } on one line; a key stands once in a table
      = project::syntax
    wythe.toml:7:1: the text cannot be read here: duplicate key
      = texts stand in double quotes, lists in [ ], tables in { } on one line; a key stands once in a table
      = project::syntax
    wythe.toml:9:12: the text cannot be read here: invalid basic string, expected `"`
      = texts stand in double quotes, lists in [ ], tables in { } on one line; a key stands once in a table
      = project::syntax
    wythe.toml:10:10: room: `volume` is the bare number 12; it needs a unit
      = write `"12 m3"` if that is meant; for example `volume = "105 m3"`
      = project::unit
    "#);
}

#[test]
fn numbers_that_cannot_be() {
    let text = r#"
wythe = 1
[[room]]
id = "a"
outline = [["0 m", "0 m"], ["10 km", "0 m"], ["10 km", "4 m"], ["0 m", "4 m"]]
height = "0 m"
[[room]]
id = "b"
outline = [["0 m", "0 m"], ["4 m", "4 m"], ["4 m", "0 m"], ["0 m", "4 m"]]
height = "nan m"
[[room]]
id = "c"
volume = "1e999 m3"
decay_time = { 125 = nan, 110 = "1 s" }
[limits]
budget = -4
"#;
    insta::assert_snapshot!(messages(&project(text)), @r#"
    wythe.toml:5:29: room `a`: `outline` cannot be 10 km; it lies between -1000 m and 1000 m
      = for example `outline = [["0 m", "0 m"], ["7.2 m", "0 m"], ["7.2 m", "5.4 m"], ["0 m", "5.4 m"]]`
      = project::range
    wythe.toml:5:47: room `a`: `outline` cannot be 10 km; it lies between -1000 m and 1000 m
      = for example `outline = [["0 m", "0 m"], ["7.2 m", "0 m"], ["7.2 m", "5.4 m"], ["0 m", "5.4 m"]]`
      = project::range
    wythe.toml:6:10: room `a`: `height` cannot be 0 m; it lies between 0.2 m and 100 m
      = for example `height = "2.7 m"`
      = project::range
    wythe.toml:9:12: room `b`: the walls from corner 1 and from corner 3 cross or touch
      = list the corners in the order one walks along the walls
      = project::outline
    wythe.toml:10:10: room `b`: `height` `nan m` does not begin with a number
      = for example `height = "2.7 m"`; length is written as `"2.7 m"`, `"27 cm"`, `"15.9 mm"`, `"8 ft 2 in"`, `"8' 2\""`, `"5/8 in"`, `"1 1/2 in"`
      = project::unit
    wythe.toml:13:10: room `c`: `volume` `1e999 m3` is no finite number
      = for example `volume = "105 m3"`; volume is written as `"60 m3"`, `"2100 ft3"`
      = project::range
    wythe.toml:14:22: room `c`: `decay_time` is no finite number
      = for example `decay_time = { unit = "s", 125 = 0.9, 250 = 0.7, 500 = 0.6, 1000 = 0.6 }`
      = project::range
    wythe.toml:14:27: room `c`, decay_time: `110` is no band
      = bands are named by their nominal frequency in hertz, 20 to 20000: 63, 80, 100, 125, …; beside them `unit`, `bands`, `status`, `source`
      = project::band
    wythe.toml:16:10: limits: `budget` cannot be -4; it lies between 0 and 1000000000000
      = for example `budget = 4000`
      = project::range
    "#);
}

#[test]
fn a_newer_format_is_refused() {
    insta::assert_snapshot!(messages(&project("wythe = 2\n[[chamber]]\nsize = 3\n")), @r"
    wythe.toml:1:9: this file has format 2; this program reads formats up to 1
      = read it with a newer wythe
      = project::version
    ");
}

#[test]
fn an_empty_folder_says_how_to_start() {
    insta::assert_snapshot!(messages(&read(&MemoryFiles::new())), @r"
    wythe.toml:1:1: there is no `wythe.toml` in this folder
      = a project is a folder with a `wythe.toml`; `wythe new DIR` starts one
      = project::file
    ");
}

#[test]
fn includes_in_a_circle_and_out_of_the_folder() {
    let files = MemoryFiles::new()
        .with(
            "wythe.toml",
            "wythe = 1\ninclude = [\"more.toml\", \"../secret.toml\", \"/etc/x\", \"gone.toml\"]\n",
        )
        .with("more.toml", "include = [\"./wythe.toml\"]\n");
    insta::assert_snapshot!(messages(&read(&files)), @r#"
    wythe.toml:2:25: include `../secret.toml` leaves the project folder
      = for example `include = ["build-ups.toml"]`
      = project::include
    wythe.toml:2:43: include `/etc/x` is absolute; paths are relative to the project folder
      = for example `include = ["build-ups.toml"]`
      = project::include
    wythe.toml:2:53: there is no file `gone.toml`
      = paths are relative to the project folder
      = project::file
    more.toml:1:12: includes run in a circle: wythe.toml → more.toml → wythe.toml
      = take one of these lines out
      = project::include
    "#);
}

#[test]
fn included_files_add_to_the_lists() {
    let whole = template();
    let (head, tail) = whole.split_at(whole.find("# ---- Build-ups").unwrap());
    let files = MemoryFiles::new()
        .with("wythe.toml", format!("include = [\"rest.toml\"]\n{head}"))
        .with("rest.toml", tail);
    let reading = read(&files);
    assert_eq!(messages(&reading), "");
    let split = reading.project.unwrap().building;
    assert_eq!(split, crate::project(&whole).project.unwrap().building);
}

#[test]
fn a_file_of_100_mb_is_not_read() {
    struct Huge;
    impl wythe_project::Files for Huge {
        fn read(&self, _: &str) -> std::io::Result<Vec<u8>> {
            panic!("a file this large is refused by its size");
        }
        fn size(&self, _: &str) -> Option<u64> {
            Some(100_000_000)
        }
    }
    let reading = read(&Huge);
    assert!(reading.project.is_none());
    assert!(messages(&reading).contains("100.0 MB"), "{}", messages(&reading));
    // And by its length, where the size cannot be asked.
    let files = MemoryFiles::new().with("wythe.toml", vec![b'#'; 5_000_000]);
    assert!(messages(&read(&files)).contains("5.0 MB"));
}

#[test]
fn a_data_sheet_with_slips() {
    let text = r#"
wythe = 1
[[build_up]]
id = "door"
table = "door.csv"
source = "maker's sheet 12, page 3"
"#;
    let sheet = "# measured\nfrequency_hz,reduction_db\n100,20.5\n125,22\n120,21\n160,abc\n125,23\n200,24,1\n315,30\n250,28\n";
    let files = MemoryFiles::new().with("wythe.toml", text).with("door.csv", sheet);
    insta::assert_snapshot!(messages(&read(&files)), @r"
    door.csv:5:1: `120` is no band
      = bands are named by their nominal frequency in hertz: 63, 80, 100, 125, …
      = project::sheet
    door.csv:6:1: `abc` is no value in decibels between -10 and 120
      = leave the line out where the sheet has no value
      = project::sheet
    door.csv:7:1: 125 Hz stands twice
      = keep one of the lines
      = project::sheet
    door.csv:8:1: two columns expected, here are 3
      = decimals are written with a point: `125,32.5`
      = project::sheet
    door.csv:10:1: 250 Hz comes after 315 Hz
      = bands run from low to high, each once
      = project::sheet
    ");
    let good = "frequency_hz,reduction_db\n125,22\n250,28\n500,31.5\n2000,36\n";
    let files = MemoryFiles::new().with("wythe.toml", text).with("door.csv", good);
    let reading = read(&files);
    assert_eq!(messages(&reading), "");
    let building = reading.project.unwrap().building;
    let wythe_partition::Construction::Measured(sheet) = &building.build_ups[0].construction else {
        panic!("a table was given")
    };
    assert_eq!(sheet.octaves.len(), 4, "missing bands stay missing");
    assert!(sheet.thirds.is_empty());
}

#[test]
fn openings_larger_than_their_wall_and_changes_of_nothing() {
    let text = template()
        .replace("width = \"0.8 m\"", "width = \"6 m\"")
        .replace("opening = \"door\", sill", "opening = \"dor\", sill")
        .replace("leaf = \"solid timber door 68 mm\"", "leaf = \"paper door\"");
    insta::assert_snapshot!(messages(&project(&text)), @r"
    wythe.toml:47:1: boundary `wall`: its openings take 12.00 m2 of 10.00 m2
      = check the sizes of the openings and the area of the boundary
      = project::openings
    wythe.toml:79:36: change `drop-seal`, action: there is no opening `dor`
      = did you mean `door`?
      = project::unknown-opening
    wythe.toml:88:43: change `heavier-door`, action: `paper door` is neither a build-up nor a known leaf
      = known here: `solid timber door 44 mm`, `hollow-core door 40 mm`, `steel door 45 mm`, `glass door 10 mm`, `single glazing 4 mm`, `laminated glazing 8 mm`, `double glazing 4/16/4 mm`, `partition`
      = project::leaf
    ");
}

#[test]
fn values_may_say_how_well_they_are_known() {
    let text = template()
        .replace(
            "height = \"2.5 m\"\nfinishes",
            "height = { value = \"2.5 m\", standing = \"unknown\", source = \"guess\" }\nfinishes",
        )
        .replace("decay_time = \"0.4 s\" ", "decay_time = { standing = \"unknown\" } ");
    let reading = project(&text);
    assert_eq!(messages(&reading), "");
    assert_eq!(remarks(&reading), "");
    let unknown: Vec<String> = reading
        .unknown
        .iter()
        .map(|n| format!("{}:{} {}: {}", n.file, n.line, n.what, n.text))
        .collect();
    insta::assert_snapshot!(unknown.join("\n"), @r"
    wythe.toml:15 room `music-room`, height: stated as unknown
    wythe.toml:25 room `bedroom`, decay_time: no value stated
    wythe.toml:38 build-up `partition`: stated as unknown
    ");
    let standing = reading.project.unwrap().building.rooms[0].standpoint.standing;
    assert_eq!(standing, wythe_bands::Standing::Unknown);
}

#[test]
fn files_that_are_no_text_and_paths_that_leave_the_folder() {
    let sheet = |path: &str| {
        format!("wythe = 1\n[[build_up]]\nid = \"a\"\nsource = \"x\"\ntable = \"{path}\"\n")
    };
    for path in ["../a.csv", "/a.csv", "C:/a.csv", "x/../../a.csv", "~/a.csv", ""] {
        let reading = project(&sheet(path));
        assert_eq!(reading.errors.len(), 1, "{path}: {}", messages(&reading));
        assert_eq!(reading.errors[0].code, "project::file", "{path}");
    }
    let files =
        MemoryFiles::new().with("wythe.toml", sheet("a.csv")).with("a.csv", b"\xff\xfe".to_vec());
    insta::assert_snapshot!(messages(&read(&files)), @r"
    wythe.toml:5:9: build-up `a`: `a.csv` is not UTF-8 text at byte 0, line 1; save it as UTF-8
      = project::file
    ");
    let files = MemoryFiles::new().with("wythe.toml", b"wythe = 1\n\xff\n".to_vec());
    insta::assert_snapshot!(messages(&read(&files)), @r"
    wythe.toml:1:1: `wythe.toml` is not UTF-8 text at byte 10, line 2; save it as UTF-8
      = project::file
    ");
}
