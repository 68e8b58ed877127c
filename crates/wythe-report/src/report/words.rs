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
    if text.ends_with(['.', '?', '!', '…']) || text.is_empty() {
        text
    } else {
        format!("{text}.")
    }
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

/// A sentence of another crate, which speaks in metric units, in the units of the page: every
/// number followed by a metric unit becomes the US number with its unit, as finely as it was said.
pub fn in_units(text: &str, units: Units) -> String {
    if units == Units::Metric {
        return text.to_owned();
    }
    let signs: Vec<char> = text.chars().collect();
    let digit = |i: usize| signs.get(i).is_some_and(char::is_ascii_digit);
    let mut out = String::new();
    let mut i = 0;
    while i < signs.len() {
        let within = i > 0 && (signs[i - 1].is_alphanumeric() || ".,-".contains(signs[i - 1]));
        if !digit(i) || within {
            out.push(signs[i]);
            i += 1;
            continue;
        }
        let mut end = i;
        while digit(end) || (signs.get(end) == Some(&'.') && digit(end + 1)) {
            end += 1;
        }
        let number: String = signs[i..end].iter().collect();
        let gap = signs.get(end).filter(|c| " \u{A0}\u{202F}".contains(**c));
        let from = end + usize::from(gap.is_some());
        let unit: String =
            signs[from..].iter().take_while(|c| c.is_alphabetic() || "²³/".contains(**c)).collect();
        let us = METRIC.iter().find(|u| u.0 == unit).zip(number.parse::<f64>().ok());
        match (gap, us) {
            (Some(_), Some(((_, factor, sign), value))) => {
                out.push_str(&format!("{}{THIN}{sign}", three_figures(value * factor)));
                i = from + unit.chars().count();
            }
            _ => {
                out.push_str(&number);
                i = end;
            }
        }
    }
    out
}

/// Metric units of the sentences of other crates, what makes a US unit of one, and its sign.
/// Exact by the definitions of inch and pound; cfm per litre per second from them.
const METRIC: [(&str, f64, &str); 9] = [
    ("mm", 1.0 / 25.4, "in"),
    ("m", 1.0 / 0.3048, "ft"),
    ("m²", 1.0 / (0.3048 * 0.3048), "ft²"),
    ("m³", 1.0 / (0.3048 * 0.3048 * 0.3048), "ft³"),
    ("kg", 1.0 / 0.453_592_37, "lb"),
    ("kg/m²", 0.3048 * 0.3048 / 0.453_592_37, "lb/ft²"),
    ("kg/m", 0.3048 / 0.453_592_37, "lb/ft"),
    ("L/s", 60.0 / (1000.0 * 0.3048 * 0.3048 * 0.3048), "cfm"),
    ("m/s", 196.850_393_7, "ft/min"),
];

/// Three figures, at most two decimals, without trailing noughts.
fn three_figures(value: f64) -> String {
    let places = match value.abs() {
        v if v >= 100.0 => 0,
        v if v >= 10.0 => 1,
        _ => 2,
    };
    let text = number(value, places);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
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
    fn sentences_in_us_units() {
        let us = |t: &str| in_units(t, Units::UsCustomary);
        assert_eq!(us("Adds 21.1 kg/m² to it."), format!("Adds 4.32{THIN}lb/ft² to it."));
        assert_eq!(
            us("sheets of 1.2 m by 2.4 m"),
            format!("sheets of 3.94{THIN}ft by 7.87{THIN}ft")
        );
        assert_eq!(us("some 12 L/s"), format!("some 25.4{THIN}cfm"));
        // No unit, another unit, or part of a name: left as it is.
        for same in ["85 dBA in 8 h", "ISO 16283-1 m", "room 3mm", "1500 ppm", "2.1 men", "é 3"] {
            assert_eq!(us(same), same);
        }
        assert_eq!(in_units("21.1 kg/m²", Units::Metric), "21.1 kg/m²");
    }

    #[test]
    fn lists() {
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
        assert_eq!(listed(&[]), "");
        assert_eq!(sentence_case("ok"), "Ok.");
        assert_eq!(sentence_case(""), "");
    }
}
