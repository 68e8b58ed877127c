//! Tables for people and records for programs.

use std::io::Write;

use serde_json::{Map, Value, json};
use wythe_bands::{
    Band, CubicMetre, Level, LevelDifference, Metre, Octave, OctaveSpectrum, Remark, Spectrum,
    SquareMetre, SurfaceMass,
};

use crate::args::Units;
use crate::failure::Failure;

/// What a command that did its work says about it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Done {
    /// A target is missed or a remark needs attention; exit code 1 with `--strict`.
    pub attention: bool,
}

/// Writes text to standard output.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())?;
    if !text.ends_with('\n') {
        out.write_all(b"\n")?;
    }
    out.flush()?;
    Ok(())
}

/// Writes one JSON object to standard output.
pub fn print_json(value: &Value) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).unwrap_or_default();
    print(&text)
}

/// A table with aligned columns: the first to the left, the others to the right.
#[derive(Clone, Debug, Default)]
pub struct Table {
    rows: Vec<Vec<String>>,
    rules: Vec<usize>,
    left: usize,
}

impl Table {
    /// A table with its headings; the first `left` columns are set to the left.
    pub fn new(left: usize, headings: &[&str]) -> Table {
        let mut table = Table { rows: Vec::new(), rules: Vec::new(), left };
        table.row(headings.iter().map(|h| (*h).to_owned()).collect());
        table.rules.push(1);
        table
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// The table as text, indented by two.
    pub fn text(&self) -> String {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let width = |c: usize| {
            self.rows.iter().filter_map(|r| r.get(c)).map(|t| t.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
        let mut out = String::new();
        for (i, row) in self.rows.iter().enumerate() {
            if self.rules.contains(&i) {
                let total: usize = widths.iter().sum::<usize>() + 2 * columns.saturating_sub(1);
                out.push_str(&format!("  {}\n", "─".repeat(total)));
            }
            let mut line = String::from("  ");
            for (c, cell) in row.iter().enumerate() {
                let pad = widths[c].saturating_sub(cell.chars().count());
                if c > 0 {
                    line.push_str("  ");
                }
                if c < self.left {
                    line.push_str(cell);
                    line.push_str(&" ".repeat(pad));
                } else {
                    line.push_str(&" ".repeat(pad));
                    line.push_str(cell);
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out
    }
}

/// One decimal with a true minus sign.
pub fn one(value: f64) -> String {
    decimals(value, 1)
}

/// So many decimals with a true minus sign; never `−0.0`.
pub fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let zero = text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    match text.strip_prefix('-') {
        Some(rest) if !zero => format!("−{rest}"),
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

/// Rounds for JSON, so that 31.7 does not print as 31.699999999999996.
pub fn rounded(value: f64, places: i32) -> Value {
    if !value.is_finite() {
        return Value::Null;
    }
    let factor = 10f64.powi(places);
    json!((value * factor).round() / factor)
}

/// Band values keyed by nominal frequency.
pub fn by_band<T: Copy>(spectrum: &Spectrum<T>, value: impl Fn(T) -> Value) -> Value {
    let map: Map<String, Value> =
        spectrum.iter().map(|(b, v)| (b.nominal().to_owned(), value(v))).collect();
    Value::Object(map)
}

/// Octave values keyed by nominal frequency.
pub fn by_octave<T: Copy>(spectrum: &OctaveSpectrum<T>, value: impl Fn(T) -> Value) -> Value {
    let map: Map<String, Value> =
        spectrum.iter().map(|(o, v)| (o.nominal().to_owned(), value(v))).collect();
    Value::Object(map)
}

/// Differences keyed by band, two decimals.
pub fn differences(spectrum: &Spectrum<LevelDifference>) -> Value {
    by_band(spectrum, |v| rounded(v.0, 2))
}

/// Levels keyed by band, two decimals.
pub fn levels(spectrum: &Spectrum<Level>) -> Value {
    by_band(spectrum, |v| rounded(v.0, 2))
}

/// Remarks as records.
pub fn remarks(all: &[Remark]) -> Value {
    Value::Array(
        all.iter()
            .map(|r| match &r.place {
                Some(place) => json!({ "code": r.code, "text": r.text, "where": place }),
                None => json!({ "code": r.code, "text": r.text }),
            })
            .collect(),
    )
}

/// Remarks as text under a heading; empty when there are none.
pub fn remarks_text(all: &[Remark]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut out = String::from("\nRemarks\n");
    // The same word about six doors is one remark with six places.
    let mut grouped: Vec<(&str, Vec<&str>)> = Vec::new();
    for r in all {
        let place = r.place.as_deref();
        match grouped.iter_mut().find(|(text, places)| *text == r.text && !places.is_empty()) {
            Some((_, places)) if place.is_some() => places.extend(place),
            _ => grouped.push((&r.text, place.into_iter().collect())),
        }
    }
    for (text, places) in grouped {
        let place = if places.is_empty() { String::new() } else { places.join(", ") + ": " };
        for (i, line) in wrap(&format!("{place}{text}"), 92).iter().enumerate() {
            out.push_str(if i == 0 { "  · " } else { "    " });
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

/// Breaks text into lines of at most `width` characters at spaces, but not between a figure and its unit.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    const UNITS: [&str; 16] = [
        "%", "dB", "dBA", "Hz", "kHz", "mm", "m", "m²", "m³", "kg", "kg/m²", "s", "ms", "cu", "ft",
        "in",
    ];
    let unit = |word: &str| UNITS.contains(&word.trim_end_matches([',', ';', '.', ':', ')']));
    let mut pieces: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match pieces.last_mut() {
            Some(last) if unit(word) && last.ends_with(|c: char| c.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => pieces.push(word.to_owned()),
        }
    }
    let mut lines: Vec<String> = Vec::new();
    for piece in pieces {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + piece.chars().count() <= width => {
                line.push(' ');
                line.push_str(&piece);
            }
            _ => lines.push(piece),
        }
    }
    lines
}

/// The octaves whose values stand in tables by default, 63 Hz to 4 kHz.
pub fn table_octaves() -> impl Iterator<Item = Octave> {
    Octave::all().filter(|o| o.index() >= 1 && o.index() <= 7)
}

/// The bands whose values stand in tables by default.
pub fn table_bands() -> impl Iterator<Item = Band> {
    Band::results()
}

/// Metres or feet.
pub fn length(value: Metre, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.2} m", value.0),
        Units::Imperial => format!("{:.1} ft", value.0 / 0.3048),
    }
}

/// Millimetres or inches.
pub fn thickness(value: Metre, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.0} mm", value.0 * 1000.0),
        Units::Imperial => format!("{:.1} in", value.0 / 0.0254),
    }
}

/// Square metres or square feet.
pub fn area(value: SquareMetre, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.1} m²", value.0),
        Units::Imperial => format!("{:.0} ft²", value.0 / (0.3048 * 0.3048)),
    }
}

/// Cubic metres or cubic feet.
pub fn volume(value: CubicMetre, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.0} m³", value.0),
        Units::Imperial => format!("{:.0} ft³", value.0 / 0.3048f64.powi(3)),
    }
}

/// Kilograms per square metre or pounds per square foot.
pub fn surface_mass(value: SurfaceMass, units: Units) -> String {
    match units {
        Units::Metric => format!("{:.1} kg/m²", value.0),
        Units::Imperial => format!("{:.1} lb/ft²", value.0 * 0.204_816),
    }
}

/// Millimetres to the tenth or sixteenths of an inch as decimals.
pub fn fine_thickness(value: Metre, units: Units) -> String {
    match units {
        Units::Metric => {
            let mm = (value.0 * 10_000.0).round() / 10.0;
            format!("{mm} mm")
        }
        Units::Imperial => format!("{:.3} in", value.0 / 0.0254),
    }
}

#[cfg(test)]
mod tests {
    use super::wrap;

    #[test]
    fn a_figure_keeps_its_unit() {
        assert_eq!(wrap("it carries 64 %, by far", 13), ["it carries", "64 %, by far"]);
        assert_eq!(wrap("  one\n two ", 80), ["one two"]);
        assert_eq!(wrap("longer than the line", 6), ["longer", "than", "the", "line"]);
    }
}
