//! Figures and small words as the documents print them.

use wythe_bands::{Metre, SquareMetre, SurfaceMass};

use super::results::Units;
use crate::chart::{THIN, number};
use crate::page::{Span, Text};

/// Decibels as finely as they are known: whole ones, tenths below one.
pub fn rough_db(value: f64) -> String {
    let places = if value.abs() < 0.95 { 1 } else { 0 };
    if value.is_finite() {
        format!("{}{THIN}dB", number(value, places))
    } else {
        number(value, places)
    }
}

/// A probability as people say it; never 0 or 100 %.
pub fn chance(p: f64) -> String {
    match p {
        p if !p.is_finite() => "not known".to_owned(),
        p if p < 0.01 => format!("under 1{THIN}%"),
        p if p > 0.99 => format!("over 99{THIN}%"),
        p => format!("{:.0}{THIN}%", 100.0 * p),
    }
}

/// First letter large, for a clause that starts a sentence.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// A sentence: first letter large, full stop at the end.
pub fn sentence_case(text: &str) -> String {
    let text = capital(text.trim());
    if text.ends_with(['.', '?', '!']) || text.is_empty() { text } else { format!("{text}.") }
}

/// A text of other crates with the marks they write for the terminal set as a page does: what
/// stands between backticks as code, `D_nT` with its index below the line.
pub fn marked(text: &str) -> Text {
    let mut out = Text::new();
    for (i, part) in text.split('`').enumerate() {
        if i % 2 == 1 {
            out = out.code(part);
            continue;
        }
        let mut rest = part;
        while let Some(at) = rest.find('_') {
            let before = rest[..at].chars().next_back();
            let index: String =
                rest[at + 1..].chars().take_while(|c| c.is_ascii_alphanumeric()).collect();
            if before.is_some_and(char::is_uppercase) && !index.is_empty() {
                out = out.then(&rest[..at]).index(index.clone());
            } else {
                out = out.then(&rest[..=at]);
                rest = &rest[at + 1..];
                continue;
            }
            rest = &rest[at + 1 + index.len()..];
        }
        out = out.then(rest);
    }
    out.0.retain(|s| !matches!(s, Span::Plain(t) if t.is_empty()));
    out
}

/// `a, b and c`.
pub fn listed(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// `1 room`, `3 rooms`.
pub fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// A nominal frequency given as digits, with its unit: `63 Hz`, `1.25 kHz`.
pub fn frequency(nominal: &str) -> String {
    match nominal.parse::<f64>() {
        Ok(hz) if hz >= 1000.0 => format!("{}{THIN}kHz", hz / 1000.0),
        _ => format!("{nominal}{THIN}Hz"),
    }
}

/// Millimetres or inches.
pub fn thickness(value: Metre, units: Units) -> String {
    match units {
        Units::Metric => {
            let mm = value.0 * 1000.0;
            let places = if (mm - mm.round()).abs() < 0.05 { 0 } else { 1 };
            format!("{}{THIN}mm", number(mm, places))
        }
        Units::UsCustomary => format!("{}{THIN}in", number(value.0 / 0.0254, 2)),
    }
}

/// Square metres or square feet.
pub fn area(value: SquareMetre, units: Units) -> String {
    match units {
        Units::Metric => format!("{}{THIN}m²", number(value.0, 1)),
        Units::UsCustomary => format!("{}{THIN}ft²", number(value.0 / (0.3048 * 0.3048), 0)),
    }
}

/// Cubic metres or cubic feet.
pub fn volume(value: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{}{THIN}m³", number(value, 0)),
        Units::UsCustomary => format!("{}{THIN}ft³", number(value / 0.3048f64.powi(3), 0)),
    }
}

/// Kilograms per square metre or pounds per square foot.
pub fn surface_mass(value: SurfaceMass, units: Units) -> String {
    match units {
        Units::Metric => format!("{}{THIN}kg/m²", number(value.0, 0)),
        Units::UsCustomary => format!("{}{THIN}lb/ft²", number(value.0 * 0.204_816, 1)),
    }
}

/// The symbol of a rated quantity with its index below the line: `DnT,w` becomes D with index.
pub fn symbol(text: Text, symbol: &str) -> Text {
    let mut letters = symbol.chars();
    // A class such as NIC is a word of capitals, not a letter with an index.
    let indexed = symbol.chars().any(char::is_lowercase);
    match letters.next() {
        Some(first) if indexed => {
            let rest: String = letters.collect();
            match rest.strip_prefix(['\'', '′']) {
                Some(rest) => text.then(format!("{first}′")).index(rest),
                None => text.then(first).index(rest),
            }
        }
        _ => text.then(symbol),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_certain() {
        assert_eq!(chance(0.0), format!("under 1{THIN}%"));
        assert_eq!(chance(1.0), format!("over 99{THIN}%"));
        assert_eq!(chance(f64::NAN), "not known");
    }

    #[test]
    fn decibels_as_finely_as_known() {
        assert_eq!(rough_db(-11.6), format!("\u{2212}12{THIN}dB"));
        assert_eq!(rough_db(0.42), format!("0.4{THIN}dB"));
        assert_eq!(rough_db(0.97), format!("1{THIN}dB"));
        assert_eq!(rough_db(f64::INFINITY), "not known");
    }

    #[test]
    fn symbols_have_their_index_below() {
        assert_eq!(symbol(Text::new(), "DnT,w"), Text::new().then("D").index("nT,w"));
        assert_eq!(symbol(Text::new(), "R'w"), Text::new().then("R′").index("w"));
        assert_eq!(symbol(Text::new(), "NIC"), Text::from("NIC"));
    }

    #[test]
    fn marks_of_the_terminal() {
        let got = marked("`a_b` needs D_nT, not x_y");
        let want = Text::new().code("a_b").then(" needs D").index("nT").then(", not x_").then("y");
        assert_eq!(got, want);
        assert_eq!(marked("plain"), Text::from("plain"));
        assert_eq!(marked(""), Text::new());
    }

    #[test]
    fn lists() {
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
        assert_eq!(listed(&[]), "");
        assert_eq!(sentence_case("ok"), "Ok.");
        assert_eq!(sentence_case(""), "");
    }
}
