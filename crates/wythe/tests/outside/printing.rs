//! The printed documents: how many sheets, what stands on them, page numbers, running foot.

use std::path::Path;
use std::process::Command;

use crate::run::{Folder, on};
use crate::there;

/// The house of the documents' own tests. Invented.
const HOUSE: &str = include_str!("../../../wythe-report/tests/data/house.toml");

/// A building of many rooms with long names, nine of them to be quiet, and eight changes. Invented.
fn many() -> String {
    let mut out =
        String::from("wythe = 1\ntitle = \"A building with a rather long name by the river\"\n");
    for i in 0..60 {
        let (x, y) = ((i % 10) * 5, (i / 10) * 5);
        out.push_str(&format!(
            "[[room]]\nid = \"r{i}\"\ntitle = \"Rehearsal room number {i} at the end of the long corridor\"\n\
             storey = {}\noutline = [[\"{x} m\", \"{y} m\"], [\"{} m\", \"{y} m\"], [\"{} m\", \"{} m\"], [\"{x} m\", \"{} m\"]]\n\
             height = \"2.5 m\"\ndecay_time = \"0.6 s\"\n",
            i % 3, x + 4, x + 4, y + 4, y + 4
        ));
    }
    for id in ["wall", "better"] {
        let t = if id == "wall" { 115 } else { 300 };
        out.push_str(&format!(
            "[[build_up]]\nid = \"{id}\"\nlayers = [{{ board = \"brick\", thickness = \"{t} mm\" }}]\n"
        ));
    }
    for i in 1..60 {
        out.push_str(&format!(
            "[[boundary]]\nid = \"b{i}\"\nbetween = [\"r{}\", \"r{i}\"]\narea = \"10 m2\"\nbuild_up = \"wall\"\n",
            (i - 1) / 9
        ));
        if i < 10 {
            out.push_str(&format!(
                "[[target]]\nroom = \"r{i}\"\ncriterion = \"NR 15\"\nhours = \"22:00-07:00\"\n"
            ));
            out.push_str(&format!(
                "[[change]]\nid = \"c{i}\"\ntitle = \"take down the wall number {i} and build it again twice as heavy as before\"\n\
                 element = \"b{i}\"\ncost = {i}00\nhours = 20\n\
                 action = [{{ do = \"rebuild\", boundary = \"b{i}\", build_up = \"better\" }}]\n"
            ));
        }
    }
    out.push_str("[[source]]\nroom = \"r0\"\nspectrum = \"drum kit, hard\"\nlevel = \"104 dB Leq\"\n[limits]\ncurrency = \"crowns\"\n");
    out
}

fn said(tool: &str, arguments: &[&str], file: &Path) -> String {
    let mut command = Command::new(tool);
    command.args(arguments).arg(file);
    if tool == "pdftotext" {
        command.arg("-");
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{tool}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

struct Pdf {
    pages: usize,
    /// Width and height, mm.
    size: (f64, f64),
    tagged: bool,
    /// Text of each page.
    text: Vec<String>,
}

fn print(folder: &Folder, house: &Path, more: &[&str]) -> Pdf {
    let html = folder.file("printed.html");
    let mut words = vec!["-o", html.to_str().unwrap(), "--pdf"];
    words.extend(more);
    let told = on("report", house, &words);
    assert_eq!(told.code, 0, "{}", told.err);
    let pdf = html.with_extension("pdf");
    let info = said("pdfinfo", &[], &pdf);
    let line = |key: &str| {
        let found = info.lines().find_map(|l| l.strip_prefix(key));
        found.unwrap_or_else(|| panic!("no {key} in {info}")).trim().to_owned()
    };
    let size = line("Page size:");
    let numbers: Vec<f64> = size.split_whitespace().filter_map(|w| w.parse().ok()).collect();
    let text = said("pdftotext", &["-layout"], &pdf);
    let mut text: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    text.pop();
    Pdf {
        pages: line("Pages:").parse().unwrap(),
        size: (numbers[0] * 25.4 / 72.0, numbers[1] * 25.4 / 72.0),
        tagged: line("Tagged:") == "yes",
        text,
    }
}

/// Every page has its number of so many and the version at its foot.
fn footed(pdf: &Pdf, project: &str) {
    assert_eq!(pdf.text.len(), pdf.pages);
    for (i, page) in pdf.text.iter().enumerate() {
        let number = format!("{} / {}", i + 1, pdf.pages);
        let foot: Vec<&str> = page.trim_end().lines().rev().take(3).collect();
        assert!(foot.iter().any(|l| l.contains(&number)), "no {number}: {foot:?}");
        let version = format!("wythe {}", env!("CARGO_PKG_VERSION"));
        assert!(foot.iter().any(|l| l.contains(&version)), "{foot:?}");
        assert!(foot.iter().any(|l| l.contains(project)), "{foot:?}");
    }
}

fn ready() -> bool {
    let browsers = ["chromium", "chromium-browser", "google-chrome", "google-chrome-stable"];
    let named = std::env::var_os("WYTHE_BROWSER").is_some();
    let some = named || browsers.iter().any(|b| Command::new(b).arg("--version").output().is_ok());
    (some || there("chromium", "--version")) && there("pdfinfo", "-v") && there("pdftotext", "-v")
}

#[test]
fn the_owner_gets_one_sheet_in_both_sizes_and_languages() {
    if !ready() {
        return;
    }
    let folder = Folder::new();
    folder.write("small/wythe.toml", HOUSE);
    folder.write("many/wythe.toml", many());
    let sizes = [("a4", 210.0, 297.0), ("letter", 215.9, 279.4)];
    for (name, project) in [("small", "A house"), ("many", "A building with a")] {
        for ((paper, width, height), language) in sizes.into_iter().zip(["de", "en"]) {
            let pdf =
                print(&folder, &folder.file(name), &["--paper", paper, "--language", language]);
            assert_eq!(pdf.pages, 1, "{name}, {paper}, {language}: {:#?}", pdf.text);
            assert!((pdf.size.0 - width).abs() < 1.0 && (pdf.size.1 - height).abs() < 1.0);
            assert!(pdf.tagged, "headings and pictures are not tagged");
            footed(&pdf, project);
            // From the first line to the last.
            let page = pdf.text[0].split_whitespace().collect::<Vec<_>>().join(" ");
            let (title, last) = match language {
                "de" => ("Ist es leise genug?", "Berechnet mit wythe"),
                _ => ("is it quiet enough?", "Computed by wythe"),
            };
            assert!(page.contains(title) && page.contains(last), "{page}");
            let notice = if language == "de" { "ungefährlich ist" } else { "something is safe" };
            assert!(page.contains(notice), "{page}");
        }
    }
}

#[test]
fn the_other_two_have_their_numbers_and_feet_on_every_sheet() {
    if !ready() {
        return;
    }
    let folder = Folder::new();
    folder.write("house/wythe.toml", HOUSE);
    for (reader, headings) in [
        ("builder", ["What can be promised", "What to buy", "What to look at before it is closed"]),
        ("file", ["What was described", "How to compute it again", "Predicted levels"]),
    ] {
        let pdf = print(&folder, &folder.file("house"), &["--paper", "letter", "--for", reader]);
        assert!((3..60).contains(&pdf.pages), "{reader}: {} pages", pdf.pages);
        footed(&pdf, "A house");
        let all = pdf.text.join(" ");
        for heading in headings {
            assert!(all.contains(heading), "{reader}: {heading}");
        }
        // Figures and tables keep their numbers, in order.
        for what in ["Figure", "Table"] {
            let mut next = 1;
            for word in all.split(&format!("{what} ")).skip(1) {
                let digits: String = word.chars().take_while(char::is_ascii_digit).collect();
                if word[digits.len()..].starts_with('.') && digits == next.to_string() {
                    next += 1;
                }
            }
            assert!(next > 2, "{reader}: fewer than two of {what}");
        }
        // Nothing folded away is lost on paper.
        if reader == "builder" {
            assert!(all.contains("the program took for itself"));
        }
        // No sheet is empty.
        for (i, page) in pdf.text.iter().enumerate() {
            assert!(page.split_whitespace().count() > 20, "page {} of {reader}: {page}", i + 1);
        }
    }
}

#[test]
fn a_chart_as_png_shows_the_whole_of_the_svg() {
    if !ready() {
        return;
    }
    let folder = Folder::new();
    let curve = folder.write(
        "curve.csv",
        "frequency_hz,value_db\n100,20\n125,22\n160,25\n200,28\n250,31\n315,33\n400,35\n500,37\n630,39\n\
         800,41\n1000,43\n1250,44\n1600,45\n2000,46\n2500,44\n3150,42\n",
    );
    let (svg, png) = (folder.file("c.svg"), folder.file("c.png"));
    let words =
        ["--by", "iso717-1", "--svg", svg.to_str().unwrap(), "--png", png.to_str().unwrap()];
    let said = on("rate", &curve, &words);
    assert_eq!(said.code, 0, "{}", said.err);
    let bytes = std::fs::read(&png).unwrap();
    let text = std::fs::read_to_string(&svg).unwrap();
    let side = |name: &str| -> f64 {
        let at = text.split_once(&format!(" {name}=\"")).unwrap().1;
        at.split('"').next().unwrap().parse().unwrap()
    };
    // PNG, 11.2.2: width and height are the first figures of the header.
    let figure = |i: usize| u32::from_be_bytes(bytes[i..i + 4].try_into().unwrap());
    assert_eq!(f64::from(figure(16)), 2.0 * side("width").ceil());
    assert_eq!(f64::from(figure(20)), 2.0 * side("height").ceil());
    // More than a blank sheet of that size would take.
    assert!(bytes.len() > 20_000, "{}", bytes.len());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3, "something was left behind");
}
