//! Figures and words as the charts print them.

use wythe_bands::Band;

/// Thin space between number and unit, U+2009 made unbreakable: U+202F.
pub const THIN: char = '\u{202F}';

/// A number with the given decimals and a real minus sign; `not known` when it is not a number.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}

/// A number that always shows its sign, for differences.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let zero = text.chars().all(|c| c == '0' || c == '.');
    if value > 0.0 && value.is_finite() && !zero { format!("+{text}") } else { text }
}

/// A value in decibels to a tenth, with its unit.
pub fn decibels(value: f64) -> String {
    if value.is_finite() { format!("{}{THIN}dB", number(value, 1)) } else { number(value, 1) }
}

/// A share of one as a percentage without decimals; `under 1 %` for what would round to nothing.
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        "not known".to_owned()
    } else if share > 0.0 && share < 0.005 {
        format!("under 1{THIN}%")
    } else {
        format!("{}{THIN}%", number(share * 100.0, 0))
    }
}

/// Nominal frequency as an axis carries it: 63, 125, 1k, 1.25k.
pub fn short_nominal(band: Band) -> String {
    let nominal = band.nominal();
    match nominal.parse::<f64>() {
        Ok(hz) if hz >= 1000.0 => format!("{}k", hz / 1000.0),
        _ => nominal.to_owned(),
    }
}

/// Nominal frequency in a sentence: 63 Hz, 1.25 kHz.
pub fn nominal(band: Band) -> String {
    let nominal = band.nominal();
    match nominal.parse::<f64>() {
        Ok(hz) if hz >= 1000.0 => format!("{}{THIN}kHz", hz / 1000.0),
        _ => format!("{nominal}{THIN}Hz"),
    }
}

/// Estimated width of a text in pixels, on the generous side: the faces of the reader's system
/// are not known here, so the widths are those of a wide sans (common practice, no source).
pub(crate) fn width(text: &str, size: f64) -> f64 {
    let em: f64 = text
        .chars()
        .map(|c| match c {
            'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.32,
            ' ' | '\u{A0}' | 't' | 'f' | 'r' | '(' | ')' | '[' | ']' | '-' | '/' => 0.40,
            THIN | '\u{2009}' => 0.2,
            'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.95,
            c if c.is_ascii_uppercase() => 0.70,
            c if (c as u32) < 0x0530 => 0.61,
            c if (c as u32) < 0x1100 => 0.65,
            _ => 1.05,
        })
        .sum();
    em * size
}

/// Longest label a chart draws; the full text stays in the table beside it.
const LONGEST_LABEL: usize = 90;

/// A label cut to a drawable length.
pub(crate) fn clip(text: &str) -> String {
    clip_to(text, LONGEST_LABEL)
}

/// A text cut to at most `longest` characters, with dots where something is missing.
pub(crate) fn clip_to(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        text.to_owned()
    } else {
        let mut out: String = text.chars().take(longest.saturating_sub(1)).collect();
        out.push('…');
        out
    }
}

/// Units that stay with the figure before them.
const UNITS: [&str; 15] =
    ["mm", "cm", "m", "m²", "m³", "in", "ft", "dB", "Hz", "kHz", "%", "kg", "kg/m²", "s", "lb"];

/// The words of a text, each unit joined to its figure by a space that does not break.
fn words_with_units(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let breaks = |c: char| c.is_whitespace() && c != THIN && c != '\u{A0}';
    for word in text.split(breaks).filter(|w| !w.is_empty()) {
        let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
        match out.last_mut() {
            Some(before)
                if UNITS.contains(&bare) && before.ends_with(|c: char| c.is_ascii_digit()) =>
            {
                before.push('\u{A0}');
                before.push_str(word);
            }
            _ => out.push(word.to_owned()),
        }
    }
    out
}

/// `text` broken into lines no wider than `room`, at spaces where there are any.
pub(crate) fn wrap(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words_with_units(text) {
        let word = word.as_str();
        let joined = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&joined, size) <= room {
            line = joined;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A single word wider than the line is broken between letters.
        for c in word.chars() {
            if !line.is_empty() && width(&line, size) + width(&c.to_string(), size) > room {
                lines.push(std::mem::take(&mut line));
            }
            line.push(c);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minus_is_a_minus_and_zero_has_none() {
        assert_eq!(number(-3.12, 1), "\u{2212}3.1");
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(number(f64::NAN, 1), "not known");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(2.0, 1), "+2.0");
        assert_eq!(percent(0.001), format!("under 1{THIN}%"));
        assert_eq!(percent(0.0), format!("0{THIN}%"));
    }

    #[test]
    fn frequencies_as_the_trade_writes_them() {
        assert_eq!(short_nominal(Band::HZ_3150), "3.15k");
        assert_eq!(short_nominal(Band::HZ_1000), "1k");
        assert_eq!(nominal(Band::HZ_63), format!("63{THIN}Hz"));
    }

    #[test]
    fn wrapped_lines_keep_every_word_and_their_width() {
        let text =
            "mineral wool between separate timber studs, Dampfbremsbahnenverklebungsstreifen";
        let lines = wrap(text, 12.0, 90.0);
        assert!(lines.iter().all(|l| width(l, 12.0) <= 90.0), "{lines:?}");
        let squeezed: String = text.split_whitespace().collect();
        assert_eq!(lines.concat().replace(' ', ""), squeezed);
    }

    #[test]
    fn a_unit_stays_with_its_figure() {
        let lines = wrap("cavity 240 mm, mineral wool 180 mm", 14.0, 190.0);
        assert!(lines.iter().all(|l| !l.starts_with("mm")), "{lines:?}");
    }
}
