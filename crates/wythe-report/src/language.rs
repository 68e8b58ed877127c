//! Languages of the documents: one table file each, in `language/`.
//!
//! Every sentence of the owner's document, and of what the builder works by in the builder's, has a
//! key such as `answer.yes`; a language is a file with the same keys. To add one: copy `en.toml`,
//! translate the right-hand sides, and hand the file over ([`Language::read`]): it is refused with the
//! keys it lacks and the names in braces it lost. Two languages come with the program.
//!
//! Not here: the document for the file and the evidence in the builder's, which are in English and
//! marked so, and the user's own words, which are never translated.

use std::collections::{BTreeMap, BTreeSet};
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
    /// A table of the user's own.
    Own(&'static Sentences),
}

/// Sentences by key.
pub type Sentences = BTreeMap<String, String>;

/// Why a table of sentences cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LanguageError {
    /// No TOML, or something else than sentences in it.
    #[error("is no table of sentences: {0}")]
    Unreadable(String),
    /// Keys of the English table that it lacks.
    #[error("lacks {} of the English table: {}", count(.0), some(.0))]
    Missing(Vec<String>),
    /// Keys the English table does not have.
    #[error("has {} nobody reads: {}", count(.0), some(.0))]
    Strange(Vec<String>),
    /// Sentences whose names in braces are not those of the English one.
    #[error("has other names in braces than the English table at: {}", some(.0))]
    Braces(Vec<String>),
    /// Sentences without a word.
    #[error("has nothing to say at: {}", some(.0))]
    Empty(Vec<String>),
    /// A tag that is none by BCP 47, or one of a language the program has.
    #[error(
        "has the tag `{0}`; a language needs one of its own by BCP 47, such as `nl` or `pt-BR`"
    )]
    Tag(String),
}

fn count(keys: &[String]) -> String {
    match keys.len() {
        1 => "a key".into(),
        n => format!("{n} keys"),
    }
}

/// The first keys of a list that may be long.
fn some(keys: &[String]) -> String {
    const MOST: usize = 6;
    let shown = keys.iter().take(MOST).cloned().collect::<Vec<_>>().join(", ");
    match keys.len().saturating_sub(MOST) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Names in braces of a sentence.
fn names(sentence: &str) -> BTreeSet<&str> {
    sentence.split('{').skip(1).filter_map(|p| p.split_once('}')).map(|(n, _)| n).collect()
}

/// Marks that keep a piece of text to itself, whichever way it runs (Unicode, UAX 9).
const FIRST_STRONG_ISOLATE: char = '\u{2068}';
const POP_ISOLATE: char = '\u{2069}';

/// Whether a letter runs from right to left: the blocks Unicode sets aside for such scripts.
fn runs_left(c: char) -> bool {
    matches!(c, '\u{590}'..='\u{8FF}' | '\u{FB1D}'..='\u{FDFF}' | '\u{FE70}'..='\u{FEFC}'
        | '\u{10800}'..='\u{10FFF}' | '\u{1E800}'..='\u{1EFFF}')
}

/// The English table as it stands in its file, for whoever translates it.
pub const ENGLISH_TABLE: &str = include_str!("language/en.toml");

impl Language {
    /// All languages that come with the program.
    pub const ALL: [Language; 2] = [Language::English, Language::German];

    /// Its tag by BCP 47.
    pub fn tag(self) -> &'static str {
        match self {
            Language::English => "en",
            Language::German => "de",
            Language::Own(sentences) => sentences.get("tag").map_or("und", String::as_str),
        }
    }

    /// A language out of a table of the user's own: the English one with its right-hand sides
    /// translated. It is kept until the program ends, as the languages that come with it are.
    ///
    /// # Errors
    /// [`LanguageError`] when a sentence is missing, strange, empty or lost a name in braces.
    pub fn read(text: &str) -> Result<Language, LanguageError> {
        let own = sentences(text)?;
        let english = Language::English.sentences();
        let keys = |all: Vec<&String>| all.into_iter().cloned().collect::<Vec<_>>();
        let missing = keys(english.keys().filter(|k| !own.contains_key(*k)).collect());
        if !missing.is_empty() {
            return Err(LanguageError::Missing(missing));
        }
        let strange = keys(own.keys().filter(|k| !english.contains_key(*k)).collect());
        if !strange.is_empty() {
            return Err(LanguageError::Strange(strange));
        }
        let lost = |k: &&String| names(&own[*k]) != names(&english[*k]);
        let braces = keys(own.keys().filter(lost).collect());
        if !braces.is_empty() {
            return Err(LanguageError::Braces(braces));
        }
        let empty = keys(own.iter().filter(|(_, s)| s.trim().is_empty()).map(|(k, _)| k).collect());
        if !empty.is_empty() {
            return Err(LanguageError::Empty(empty));
        }
        let tag = &own["tag"];
        if crate::page::language_tag(tag) == "und" || Language::of_tag(tag).is_some() {
            return Err(LanguageError::Tag(tag.clone()));
        }
        Ok(Language::Own(Box::leak(Box::new(own))))
    }

    /// Whether it is written from right to left, by the script its tag usually has (ISO 15924).
    pub fn right_to_left(self) -> bool {
        let mut parts = self.tag().split('-');
        let primary = parts.next().unwrap_or_default().to_ascii_lowercase();
        match parts.next().filter(|p| p.len() == 4).map(str::to_ascii_lowercase).as_deref() {
            Some(script) => ["arab", "hebr", "syrc", "thaa", "nkoo", "adlm"].contains(&script),
            None => ["ar", "he", "fa", "ur", "ps", "sd", "ug", "yi", "dv", "ckb"]
                .contains(&primary.as_str()),
        }
    }

    /// The language of a tag.
    pub fn of_tag(tag: &str) -> Option<Language> {
        Language::ALL.into_iter().find(|l| l.tag() == tag)
    }

    /// All sentences by key.
    pub fn sentences(self) -> &'static Sentences {
        static ENGLISH: OnceLock<Sentences> = OnceLock::new();
        static GERMAN: OnceLock<Sentences> = OnceLock::new();
        // That the program's own tables can be read is a test; a key that is not there is seen on
        // the page.
        match self {
            Language::English => {
                ENGLISH.get_or_init(|| sentences(ENGLISH_TABLE).unwrap_or_default())
            }
            Language::German => GERMAN
                .get_or_init(|| sentences(include_str!("language/de.toml")).unwrap_or_default()),
            Language::Own(sentences) => sentences,
        }
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
            match value {
                // A name that runs from right to left would draw the figures behind it along.
                Some(v) if v.chars().any(runs_left) => {
                    out.push(FIRST_STRONG_ISOLATE);
                    out.push_str(v);
                    out.push(POP_ISOLATE);
                }
                v => out.push_str(v.unwrap_or("⟨?⟩")),
            }
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
    pub(crate) fn pointed(self, text: &str) -> String {
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
fn sentences(text: &str) -> Result<Sentences, LanguageError> {
    fn walk(
        prefix: &str,
        table: &dyn toml_edit::TableLike,
        out: &mut Sentences,
    ) -> Result<(), LanguageError> {
        for (key, item) in table.iter() {
            let name = if prefix.is_empty() { key.to_owned() } else { format!("{prefix}.{key}") };
            if let Some(inner) = item.as_table_like() {
                walk(&name, inner, out)?;
            } else if let Some(sentence) = item.as_str() {
                out.insert(name, sentence.to_owned());
            } else {
                let why = format!("`{name}` is no sentence in quotation marks");
                return Err(LanguageError::Unreadable(why));
            }
        }
        Ok(())
    }
    let document = text
        .parse::<toml_edit::DocumentMut>()
        .map_err(|e| LanguageError::Unreadable(e.message().to_owned()))?;
    let mut out = Sentences::new();
    walk("", document.as_table(), &mut out)?;
    Ok(out)
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
    fn a_name_from_right_to_left_stays_to_itself() {
        let say = |room| Language::English.say("plan.room", &[("room", room), ("level", "40 dBA")]);
        assert_eq!(say("חדר"), "\u{2068}חדר\u{2069}: 40 dBA.");
        assert_eq!(say("Zimmer Ü"), "Zimmer Ü: 40 dBA.");
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

    #[test]
    fn a_table_of_the_users_own_is_a_language_once_it_is_whole() {
        let dutch = ENGLISH_TABLE.replace("tag = \"en\"", "tag = \"nl\"");
        let own = Language::read(&dutch.replace("\"Skip to the content\"", "\"Naar de inhoud\""));
        assert_eq!(own.unwrap().say("page.skip", &[]), "Naar de inhoud");
        let read = |text: &str| Language::read(text).unwrap_err();
        let without = dutch.replace("skip = \"Skip to the content\"", "");
        assert_eq!(read(&without), LanguageError::Missing(vec!["page.skip".into()]));
        let more = format!("{dutch}\nbuttered = \"x\"\n");
        assert!(matches!(read(&more), LanguageError::Strange(_)));
        let lost = dutch.replace("\"Figure {number}.\"", "\"Figuur.\"");
        assert_eq!(read(&lost), LanguageError::Braces(vec!["page.figure".into()]));
        let empty = dutch.replace("\"Skip to the content\"", "\" \"");
        assert_eq!(read(&empty), LanguageError::Empty(vec!["page.skip".into()]));
        assert!(matches!(read("tag ="), LanguageError::Unreadable(_)));
        assert!(matches!(read("tag = 3"), LanguageError::Unreadable(_)));
        assert!(matches!(read(""), LanguageError::Missing(_)));
        assert_eq!(read(ENGLISH_TABLE), LanguageError::Tag("en".into()));
        let no_tag = dutch.replace("tag = \"nl\"", "tag = \"n l\"");
        assert_eq!(read(&no_tag), LanguageError::Tag("n l".into()));
    }

    #[test]
    fn languages_from_right_to_left() {
        let tagged = |tag: &str| {
            let text = ENGLISH_TABLE.replace("tag = \"en\"", &format!("tag = \"{tag}\""));
            Language::read(&text).unwrap().right_to_left()
        };
        assert!(tagged("he") && tagged("fa-IR") && tagged("az-Arab"));
        assert!(!tagged("nl") && !tagged("ar-Latn") && !Language::German.right_to_left());
    }
}
