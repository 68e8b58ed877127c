//! Languages of the documents: one table file each, in `language/`.
//!
//! Every sentence of the owner's document has a key such as `answer.yes`; a language is a file with
//! the same keys. To add one: copy `en.toml`, translate the right-hand sides, name the file in
//! [`Language`]. The tests then say which key is missing and which name in braces was lost.
//!
//! Not here: the documents for the builder and for the file, which are in English only, and the
//! user's own words, which are never translated.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use wythe_bands::Metre;

use crate::chart::{THIN, number};
use crate::report::Units;

/// A language with a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Language {
    /// English, the language of the keys.
    #[default]
    English,
    /// German.
    German,
}

/// Sentences by key.
type Sentences = BTreeMap<String, String>;

impl Language {
    /// All languages.
    pub const ALL: [Language; 2] = [Language::English, Language::German];

    /// Its tag by BCP 47.
    pub fn tag(self) -> &'static str {
        match self {
            Language::English => "en",
            Language::German => "de",
        }
    }

    /// The language of a tag.
    pub fn of_tag(tag: &str) -> Option<Language> {
        Language::ALL.into_iter().find(|l| l.tag() == tag)
    }

    fn file(self) -> &'static str {
        match self {
            Language::English => include_str!("language/en.toml"),
            Language::German => include_str!("language/de.toml"),
        }
    }

    /// All sentences by key.
    pub fn sentences(self) -> &'static Sentences {
        static TABLES: [OnceLock<Sentences>; 2] = [OnceLock::new(), OnceLock::new()];
        TABLES[self as usize].get_or_init(|| table(self.file()))
    }

    /// The sentence of a key with its names in braces filled in. A key the table lacks comes back
    /// in angle brackets, so that it is seen; the tests find every one.
    pub fn say(self, key: &str, values: &[(&str, &str)]) -> String {
        let Some(sentence) = self.sentences().get(key) else { return format!("⟨{key}⟩") };
        let mut out = String::with_capacity(sentence.len() + 32);
        let mut rest = sentence.as_str();
        // Filled in one pass: what is filled in may itself hold braces.
        while let Some((before, after)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, after)) = after.split_once('}') else {
                rest = after;
                break;
            };
            let value = values.iter().find(|(n, _)| *n == name).map(|(_, v)| *v);
            out.push_str(value.unwrap_or("⟨?⟩"));
            rest = after;
        }
        out.push_str(rest);
        out
    }

    /// A sentence that counts: `key.one` for 1, `key.many` else, with `{n}` filled in.
    pub fn count(self, key: &str, n: usize, values: &[(&str, &str)]) -> String {
        let digits = n.to_string();
        let mut all = vec![("n", digits.as_str())];
        all.extend_from_slice(values);
        self.say(&format!("{key}.{}", if n == 1 { "one" } else { "many" }), &all)
    }

    /// A number with the language's decimal sign.
    pub fn number(self, value: f64, places: usize) -> String {
        if !value.is_finite() {
            return self.say("unit.not_known", &[]);
        }
        self.pointed(&number(value, places))
    }

    /// A number that stands as text, with the language's decimal sign.
    fn pointed(self, text: &str) -> String {
        text.replace('.', &self.say("decimal_point", &[]))
    }

    /// Decibels as finely as they are known: whole ones, tenths below one.
    pub fn rough_db(self, value: f64) -> String {
        let text = self.number(value, if value.abs() < 0.95 { 1 } else { 0 });
        if value.is_finite() { format!("{text}{THIN}dB") } else { text }
    }

    /// A pure ratio in percent.
    pub fn percent(self, ratio: f64) -> String {
        format!("{}{THIN}%", self.number(100.0 * ratio, 0))
    }

    /// A probability as people say it; never 0 or 100 %.
    pub fn chance(self, p: f64) -> String {
        match p {
            p if !p.is_finite() => self.say("unit.not_known", &[]),
            p if p < 0.01 => {
                self.say("unit.under_one_percent", &[("percent", &self.percent(0.01))])
            }
            p if p > 0.99 => self.say("unit.over_percent", &[("percent", &self.percent(0.99))]),
            p => self.percent(p),
        }
    }

    /// A nominal frequency given as digits, with its unit: `63 Hz`, `1.25 kHz`.
    pub fn frequency(self, nominal: &str) -> String {
        match nominal.parse::<f64>() {
            Ok(hz) if hz >= 1000.0 => {
                format!("{}{THIN}kHz", self.pointed(&(hz / 1000.0).to_string()))
            }
            _ => format!("{}{THIN}Hz", self.pointed(nominal)),
        }
    }

    /// A gap: millimetres, tenths below one, or inches to the hundredth.
    pub fn gap(self, value: Metre, units: Units) -> String {
        match units {
            Units::Metric => {
                let mm = 1000.0 * value.0;
                format!("{}{THIN}mm", self.number(mm, if mm < 0.95 { 1 } else { 0 }))
            }
            Units::UsCustomary => format!("{}{THIN}in", self.number(value.0 / 0.0254, 2)),
        }
    }

    /// `a, b and c`.
    pub fn listed(self, all: &[String]) -> String {
        match all {
            [] => String::new(),
            [one] => one.clone(),
            [rest @ .., last] => {
                self.say("unit.and", &[("list", &rest.join(", ")), ("last", last)])
            }
        }
    }
}

/// Sentences of a table file by dotted key.
fn table(text: &str) -> Sentences {
    fn walk(prefix: &str, table: &dyn toml_edit::TableLike, out: &mut Sentences) {
        for (key, item) in table.iter() {
            let name = if prefix.is_empty() { key.to_owned() } else { format!("{prefix}.{key}") };
            if let Some(inner) = item.as_table_like() {
                walk(&name, inner, out);
            } else if let Some(sentence) = item.as_str() {
                out.insert(name, sentence.to_owned());
            }
        }
    }
    let mut out = Sentences::new();
    // The files are part of the program; that they can be read is a test, and a key that is
    // not there is seen on the page.
    if let Ok(document) = text.parse::<toml_edit::DocumentMut>() {
        walk("", document.as_table(), &mut out);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_filled_in_is_left_as_it_is() {
        let said = Language::English.say("plan.room", &[("room", "{level}"), ("level", "40 dBA")]);
        assert_eq!(said, "{level}: 40 dBA.");
        assert_eq!(Language::English.say("no.such", &[]), "⟨no.such⟩");
    }

    #[test]
    fn numbers_have_the_sign_of_the_language() {
        assert_eq!(Language::German.number(-0.44, 1), "−0,4");
        assert_eq!(Language::German.frequency("1250"), format!("1,25{THIN}kHz"));
        assert_eq!(Language::English.frequency("31.5"), format!("31.5{THIN}Hz"));
        assert_eq!(Language::German.frequency("31.5"), format!("31,5{THIN}Hz"));
        let inch = Language::English.gap(Metre(0.006), Units::UsCustomary);
        assert_eq!(inch, format!("0.24{THIN}in"));
        assert_eq!(Language::German.chance(0.0), format!("unter 1{THIN}%"));
        assert_eq!(Language::German.number(f64::NAN, 1), "nicht bekannt");
    }
}
