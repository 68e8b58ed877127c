//! Lengths and masses as the project's people read and type them.
//!
//! The file keeps what was typed, with its unit; only what is shown is turned into feet and
//! inches, and only a bare number takes the unit of the project.

use wythe_project::Document;
use wythe_project::quantity::{Quantity, parse};
use wythe_report::chart::number;
use wythe_report::report::Units;

const FOOT_M: f64 = 0.3048;
const INCH_M: f64 = 0.0254;
/// Pounds per square foot in kilograms per square metre.
const POUND_PER_FT2: f64 = 4.882_427_6;

/// The units a project asks for.
pub fn of(document: Option<&Document>) -> Units {
    match document.and_then(|d| d.text_at("units")) {
        Some("US") => Units::UsCustomary,
        _ => Units::Metric,
    }
}

/// The unit a bare number takes where metric people would mean `metric`.
pub fn unit(metric: &str, units: Units) -> &str {
    match (units, metric) {
        (Units::UsCustomary, "m") => "ft",
        (Units::UsCustomary, "mm") => "in",
        (Units::UsCustomary, "kg/m2") => "lb/ft2",
        _ => metric,
    }
}

/// Inches in whole sixteenths, as a tape has them: `5 1/2`; `None` where it is none of those.
fn sixteenths(inches: f64) -> Option<String> {
    let count = (inches * 16.0).round();
    if (inches * 16.0 - count).abs() > 0.16 || !(0.0..1e6).contains(&count) {
        return None;
    }
    let count = count as u64;
    let (whole, mut top, mut bottom) = (count / 16, count % 16, 16);
    if top == 0 {
        return Some(whole.to_string());
    }
    while top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    Some(if whole == 0 { format!("{top}/{bottom}") } else { format!("{whole} {top}/{bottom}") })
}

/// A length of a building: `3.25 m`, or to the nearest sixteenth `10' 8"`.
pub fn length(metres: f64, units: Units) -> String {
    if units == Units::Metric {
        let text = format!("{metres:.3}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        return format!("{} m", if text == "-0" { "0" } else { text }.replace('-', "\u{2212}"));
    }
    let sign = if metres < 0.0 { "-" } else { "" };
    let all = (metres.abs() / INCH_M * 16.0).round() / 16.0;
    let feet = (all / 12.0).floor();
    let rest = sixteenths(all - 12.0 * feet).unwrap_or_default();
    match (feet > 0.0, rest.as_str()) {
        (true, "0" | "") => format!("{sign}{feet}'"),
        (true, _) => format!("{sign}{feet}' {rest}\""),
        (false, _) => format!("{sign}{rest}\""),
    }
}

/// A thickness: `5/8 in` where a tape has it, else in decimals.
fn thickness(metres: f64) -> String {
    let inches = metres / INCH_M;
    sixteenths(inches).map_or_else(|| format!("{} in", number(inches, 2)), |s| format!("{s} in"))
}

/// What stands in the file as a field shows it. Metric projects see what was typed.
pub fn shown(text: &str, metric: &str, units: Units) -> String {
    if units == Units::Metric {
        return text.to_owned();
    }
    let said = text.contains(['"', '\'']) || text.ends_with("in") || text.ends_with("ft");
    match metric {
        _ if said || text.is_empty() => text.to_owned(),
        "m" => parse(Quantity::Length, text).map_or(text.to_owned(), |m| length(m, units)),
        "mm" => parse(Quantity::Length, text).map_or(text.to_owned(), thickness),
        "kg/m2" => parse(Quantity::SurfaceMass, text)
            .map_or(text.to_owned(), |m| format!("{} lb/ft2", number(m / POUND_PER_FT2, 2))),
        _ => text.to_owned(),
    }
}

/// How many of the field's unit a text is, for a slider.
pub fn count(text: &str, metric: &str, units: Units) -> Option<f64> {
    let length = parse(Quantity::Length, text).ok();
    let per = match unit(metric, units) {
        "mm" => 0.001,
        "m" => 1.0,
        "in" => INCH_M,
        "ft" => FOOT_M,
        _ => return text.split_whitespace().next()?.parse().ok(),
    };
    length.map(|m| (m / per * 1e4).round() / 1e4)
}

/// A slider's lowest, highest and step in the field's unit.
pub fn slide(range: (f64, f64, f64), metric: &str, units: Units) -> (f64, f64, f64) {
    if units == Units::UsCustomary && metric == "mm" {
        let inches = |mm: f64| (mm / 25.4 * 8.0).round() / 8.0;
        let (low, high, step) = range;
        // A sixteenth for boards, a quarter for cavities.
        let step = if step < 1.0 { 0.0625 } else { 0.25 };
        return (inches(low).max(step), inches(high), step);
    }
    range
}

#[cfg(test)]
mod tests {
    use super::*;

    const US: Units = Units::UsCustomary;

    #[test]
    fn what_is_shown_in_feet_is_read_back_as_the_same_length() {
        for m in [0.0127, 0.3, 0.3048, 1.0, 2.4384, 2.7, 3.81, 12.0, 0.0] {
            let text = length(m, US);
            let back = if m == 0.0 { 0.0 } else { parse(Quantity::Length, &text).unwrap() };
            assert!((back - m).abs() <= INCH_M / 32.0 + 1e-9, "{m}: {text} is {back}");
        }
        assert_eq!(length(3.81, US), "12' 6\"");
        assert_eq!(length(3.6576, US), "12'");
        assert_eq!(length(-0.1524, US), "-6\"");
        assert_eq!(length(3.25, Units::Metric), "3.25 m");
        assert_eq!(length(-0.0, Units::Metric), "0 m");
    }

    #[test]
    fn fields_show_the_project_s_units_and_keep_what_was_typed_in_them() {
        assert_eq!(shown("15.9 mm", "mm", US), "5/8 in");
        assert_eq!(shown("240 mm", "mm", US), "9.45 in");
        assert_eq!(shown("8 ft 2 in", "m", US), "8 ft 2 in");
        assert_eq!(shown("2.4 m", "m", US), "7' 10 1/2\"");
        assert_eq!(shown("10 kg/m2", "kg/m2", US), "2.05 lb/ft2");
        assert_eq!(shown("nonsense", "m", US), "nonsense");
        assert_eq!(shown("5/8 in", "mm", Units::Metric), "5/8 in");
        assert_eq!(count("5/8 in", "mm", US), Some(0.625));
        assert_eq!(count("15.9 mm", "mm", Units::Metric), Some(15.9));
    }
}
