//! `docs/project-file.md`, from the table of keys.

use std::fmt::Write;

use wythe_building::finish;
use wythe_partition::catalogue;

use crate::keys::{Key, Kind, Need, SECTIONS, STANDING, SURVEY, Section};
use crate::quantity::Quantity;
use crate::{spectra, words};

const OPENING: &str = r#"# The project file

A project is a folder of plain text and recordings:

    ropewalk/
      wythe.toml          rooms, boundaries, build-ups, sources, targets, changes
      survey.toml         which file and channel is which position; what happened when
      recordings/*.wav    never altered
      results/            what the program wrote; can be deleted

Both files are TOML. This page is written by the program from the same table of keys it reads
with; a test fails when the two differ.

## Rules for every value

- **A quantity is a text with its unit.** A bare number where a unit is needed is an error. Decimals
  are written with a point; a comma is an error that shows the point form.
- **Any value may say how well it is known:** `height = { value = "2.7 m", standing = "assumed",
  source = "drawing of 1962" }`. With `standing = "unknown"` the value may be left out where the key
  may be left out. Most tables may carry `status` and `source` for the whole.
- **Names** (`id`) are yours, one line, unique in the project.
- **Unknown keys are errors**, with the nearest known name.
- **Sizes that cannot be** (a room of 10 km, a wall 5 m thick, 300 dB) are errors; the limits are
  in the tables below.
- **Paths** are relative to the project folder and stay inside it.
- **Values per band** are `{ unit = "s", 125 = 0.9, 250 = 0.7 }` or `{ 125 = "0.9 s" }`. Bands are
  named by nominal frequency in hertz; missing bands stay missing. If all bands named are octave
  centres they are octaves, else thirds; `bands = "thirds"` or `"octaves"` settles it. Octave levels
  are shared equally among three thirds; octave absorption and decay times hold in all three.
- **Data sheets** are CSV files of two columns: `frequency_hz,reduction_db` for build-ups,
  `frequency_hz,level_db` for sources and backgrounds. One band a line, rising; lines starting with
  `#` are notes; a band without value is left out.
- **Limits of size:** a text of more than 4 MiB, or 16 MiB in all, is not read; includes go 8 deep, 100 in all.

Errors are given all at once with file, line and column. After a slip of TOML itself the line is
left out and the rest is still read; then only messages about single values are shown.

"#;

/// The text of `docs/project-file.md`.
pub fn reference_markdown() -> String {
    let mut out = String::from(OPENING);
    out.push_str("## Units\n\n| quantity | written as |\n| --- | --- |\n");
    for quantity in [
        Quantity::Length,
        Quantity::Area,
        Quantity::Volume,
        Quantity::SurfaceMass,
        Quantity::Level,
        Quantity::Difference,
        Quantity::Time,
        Quantity::Frequency,
        Quantity::FlowResistivity,
        Quantity::DynamicStiffness,
        Quantity::Temperature,
        Quantity::Percent,
        Quantity::Pressure,
    ] {
        line(&mut out, &[quantity.plural(), quantity.forms()]);
    }
    out.push_str(
        "\nOverall levels of sources may be weighted: `\"108 dB Leq\"` (no weighting), `\"82 dBA\"`, \
         `\"95 dBC\"`. Money and counts are plain numbers.\n",
    );
    for section in SECTIONS {
        if std::ptr::eq(*section, &SURVEY) {
            out.push_str("\n---\n");
        }
        let _ = write!(out, "\n## `{}`", section.heading);
        let _ = write!(out, "\n\n{}\n\n", section.help);
        table(&mut out, section);
        if !section.example.is_empty() {
            let _ = write!(out, "\n```toml\n{}\n```\n", section.example);
        }
    }
    out.push_str("\n---\n\n## Words\n\n### Boards\n\n| word | also |\n| --- | --- |\n");
    for material in catalogue().materials() {
        line(&mut out, &[&material.name, &material.synonyms.join(", ")]);
    }
    out.push_str("\n### Fills\n\n| word | also |\n| --- | --- |\n");
    for fill in catalogue().fills() {
        line(&mut out, &[&fill.name, &fill.synonyms.join(", ")]);
    }
    out.push_str(
        "\n### Leaves\n\nA leaf is a build-up by its id, or one of these with its own thickness. Their \
         make-up is common practice, no source, and is listed as assumed.\n\n| words | taken as |\n| --- | --- |\n",
    );
    for (name, what) in words::LEAVES {
        line(&mut out, &[name, what]);
    }
    out.push_str(
        "\n### Finishes\n\nAbsorption coefficients at 125, 250, 500, 1000, 2000, 4000 Hz, the mean where \
         several sources were found. Below 100 Hz and above 5 kHz they are extrapolated.\n\n\
         | finish | also | coefficients | sources |\n| --- | --- | --- | --: |\n",
    );
    for finish in finish::FINISHES {
        let count = finish.rows.len();
        let means: Vec<String> = (0..6)
            .map(|i| {
                let sum: f64 = finish.rows.iter().map(|r| r.octaves[i]).sum();
                format!("{:.2}", sum / count as f64)
            })
            .collect();
        let each = if finish.each { " (m² each)" } else { "" };
        let values = format!("{}{each}", means.join(" "));
        line(&mut out, &[finish.name, &finish.synonyms.join(", "), &values, &count.to_string()]);
    }
    out.push_str("\n### Spectra\n\n| name | where from | dB in all |\n| --- | --- | --: |\n");
    for name in spectra::names() {
        if let Some(named) = spectra::named(name) {
            let total = named.levels.total().map_or(String::new(), |t| format!("{:.1}", t.0));
            let origin =
                if named.invented { "**invented** for the demonstration" } else { named.origin };
            line(&mut out, &[name, origin, &total]);
        }
    }
    out
}

fn table(out: &mut String, section: &'static Section) {
    out.push_str(
        "| key | value | if left out | meaning | example |\n| --- | --- | --- | --- | --- |\n",
    );
    for key in section.keys {
        row(out, key);
    }
    if section.standing {
        for key in &STANDING {
            row(out, key);
        }
    }
}

fn row(out: &mut String, key: &'static Key) {
    let need = match key.need {
        Need::Required => "**needed**".to_owned(),
        Need::Optional => "–".to_owned(),
        Need::Default(default) => default.to_owned(),
    };
    let name = format!("`{}`", key.name);
    let example = format!("`{}`", key.example);
    line(out, &[&name, &kind(&key.kind), &need, key.help, &example]);
}

fn line(out: &mut String, cells: &[&str]) {
    let cells: Vec<String> = cells.iter().map(|c| c.replace('|', "\\|")).collect();
    let _ = writeln!(out, "| {} |", cells.join(" | "));
}

fn kind(kind_: &'static Kind) -> String {
    let range = |q: &Quantity, least: &f64, most: &f64| {
        format!("{}, {least} to {most} {}", q.plural(), q.unit())
    };
    match kind_ {
        Kind::Text => "text".to_owned(),
        Kind::Id => "name".to_owned(),
        Kind::Word(words) => words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", "),
        Kind::Flag => "`true` or `false`".to_owned(),
        Kind::Whole(least, i64::MAX) => format!("whole number from {least}"),
        Kind::Whole(least, most) => format!("whole number, {least} to {most}"),
        Kind::Number(least, most) => format!("number, {least} to {most}"),
        Kind::Quantity(q, least, most) => range(q, least, most),
        Kind::Level => "sound level, weighted or not, -20 to 194 dB".to_owned(),
        Kind::Texts(..) => "list of texts".to_owned(),
        Kind::Wholes => "list of whole numbers".to_owned(),
        Kind::Points => "list of corners, two lengths each".to_owned(),
        Kind::Bands(q, least, most) => format!("{}, per band", range(q, least, most)),
        Kind::Pairs => "table of texts".to_owned(),
        Kind::Table(section) => format!("table `{}`", section.heading),
        Kind::Records(section) => format!("list of `{}`", section.heading),
        Kind::OneOf(kinds) => kinds.iter().map(kind).collect::<Vec<_>>().join("; or "),
    }
}
