//! The tables of sentences: complete, used, and nothing of another language on the page.

use std::collections::BTreeSet;
use std::path::Path;

use super::*;
use wythe_report::Language;

/// Names in braces of a sentence.
fn names(sentence: &str) -> BTreeSet<&str> {
    sentence.split('{').skip(1).filter_map(|p| p.split_once('}')).map(|(n, _)| n).collect()
}

#[test]
fn every_language_has_every_key_and_every_name_in_braces() {
    let english = Language::English.sentences();
    assert!(english.len() > 150, "{}", english.len());
    for l in Language::ALL {
        let own = l.sentences();
        assert_eq!(own["tag"], l.tag());
        let missing: Vec<&String> = english.keys().filter(|k| !own.contains_key(*k)).collect();
        let strange: Vec<&String> = own.keys().filter(|k| !english.contains_key(*k)).collect();
        assert!(missing.is_empty() && strange.is_empty(), "{l:?}: {missing:?} {strange:?}");
        for (key, sentence) in own {
            // German has the same word for one and for many in places, and says so twice.
            assert_eq!(names(sentence), names(&english[key]), "{l:?}, {key}: {sentence}");
            assert!(!sentence.trim().is_empty(), "{l:?}, {key}");
        }
    }
    // A sentence that is the same in both languages is one that was forgotten.
    let german = Language::German.sentences();
    let same: Vec<&String> = english.keys().filter(|k| english[*k] == german[*k]).collect();
    let words_of_both =
        ["detail.absorber", "topic.alarm", "found.element", "plan.room", "stop.item", "step.short"];
    for key in same {
        let letters = english[key].split(['{', '}']).step_by(2).collect::<String>();
        let said = letters.chars().any(char::is_alphabetic);
        assert!(!said || words_of_both.contains(&key.as_str()), "not translated: {key}");
    }
}

/// All Rust files under a folder, as text.
fn sources(folder: &Path, out: &mut String) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push_str(&std::fs::read_to_string(&path).unwrap());
        }
    }
}

#[test]
fn every_key_of_the_program_is_in_the_table_and_every_key_of_the_table_in_the_program() {
    let mut code = String::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut code);
    let english = Language::English.sentences();
    let sections: BTreeSet<&str> =
        english.keys().filter_map(|k| k.split_once('.')).map(|k| k.0).collect();
    let mut used = BTreeSet::new();
    for literal in code.split('"').filter(|t| t.len() < 40) {
        let Some((section, rest)) = literal.split_once('.') else { continue };
        let a_key = |c: char| c.is_ascii_alphanumeric() || "_-".contains(c);
        if sections.contains(section) && !rest.is_empty() && rest.chars().all(a_key) {
            let there =
                english.contains_key(literal) || english.contains_key(&format!("{literal}.one"));
            assert!(there || literal == "no.such", "{literal} is in no table");
            used.insert(literal.to_owned());
        }
    }
    for key in english.keys() {
        let base = key.trim_end_matches(".one").trim_end_matches(".many");
        // Of these the last part is put together at run time.
        let made = ["gap.", "stop.", "rooms."].iter().any(|p| key.starts_with(p));
        let whole = ["tag", "decimal_point"].contains(&key.as_str());
        assert!(used.contains(base) || made || whole, "{key} is used nowhere");
    }
}

#[test]
fn every_reason_to_stop_has_a_sentence() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../wythe-findings/src/caution");
    let mut code = String::new();
    sources(&folder, &mut code);
    let mut seen = 0;
    for before in code.split(".stop(").collect::<Vec<_>>().windows(2).map(|w| w[0]) {
        let Some((_, after)) = before.rsplit_once("\"caution::") else { continue };
        let name = after.split('"').next().unwrap();
        let key = format!("stop.{name}");
        assert!(Language::English.sentences().contains_key(&key), "{key}");
        seen += 1;
    }
    assert!(seen > 5, "{seen}");
    assert!(Language::English.sentences().contains_key("stop.dead-load"));
}

/// The house with names that belong to no language.
fn nameless(toml: &str) -> String {
    let mut n = 0;
    let line = |l: &str| {
        if l.starts_with("title = ") {
            n += 1;
            format!("title = \"Q{n}\"\n")
        } else {
            format!("{l}\n")
        }
    };
    toml.lines().map(line).collect()
}

/// What is read of a page: text and descriptions of pictures.
fn read_of(document: &Document) -> String {
    let html = document.html();
    let body = &html[html.find("<body").unwrap()..];
    let mut out = String::new();
    for part in body.split('<') {
        let (tag, text) = part.split_once('>').unwrap_or(("", part));
        out.push_str(text);
        out.push(' ');
        if let Some((_, label)) = tag.split_once("aria-label=\"") {
            out.push_str(label.split('"').next().unwrap());
            out.push(' ');
        }
    }
    out
}

/// No English word, and a comma where decibels have a decimal.
fn only_german(said: &str) {
    let words: Vec<&str> = said.split(|c: char| !c.is_alphabetic()).collect();
    for english in [
        "the",
        "The",
        "of",
        "and",
        "is",
        "are",
        "with",
        "by",
        "By",
        "to",
        "not",
        "Not",
        "room",
        "Room",
        "Level",
        "level",
        "calculated",
        "Table",
        "Figure",
        "floor",
        "invented",
        "what",
        "Caution",
        "stands",
        "price",
        "too",
        "than",
        "which",
        "at",
    ] {
        assert!(!words.contains(&english), "{english}: {said}");
    }
    // Decibels have a comma where they have a decimal.
    let pointed = said.split_whitespace().find(|w| {
        w.split_once('.').is_some_and(|(a, b)| {
            a.ends_with(|c: char| c.is_ascii_digit())
                && b.starts_with(|c: char| c.is_ascii_digit())
                && !w.starts_with("0.0.0")
        })
    });
    assert_eq!(pointed, None, "{said}");
}

#[test]
fn the_german_page_is_german() {
    let bare = nameless(HOUSE);
    let mut all = vec![
        House::recorded(&bare, 18.0, -20.0),
        House::recorded(&bare, 18.0, 120.0),
        House::new(&bare),
        House::new(&bare.replace("\"NR 45\"", "\"120 dBA\"").replace("\"90 dBA\"", "\"120 dBA\"")),
        House::new(bare.split("[[change]]").next().unwrap()),
        House::new(bare.split("[[target]]").next().unwrap()),
        House::new(bare.split("[[source]]").next().unwrap()),
        House::new("wythe = 1\ntitle = \"Q\"\n"),
    ];
    for (part, key) in [("recordings", "nothing_recorded"), ("prediction", "no_source")] {
        let gap = Gap { part: part.into(), key, why: "the".into(), to_do: "the".into() };
        all[2].gaps.push(gap);
    }
    for house in &mut all {
        house.about.language = Language::German;
        let document = owner(&house.results());
        assert_eq!(document.language, "de");
        let said = read_of(&document).replace(wythe_report::report::CAUTIONS, "");
        assert!(!said.contains('⟨'), "{said}");
        only_german(&said);
        // The builder's is German where it is worked by; the rest says that it is English.
        let mut whole = builder(&house.results());
        assert_eq!(whole.language, "de");
        well_formed(&whole).unwrap();
        let english = whole.blocks.iter().filter(|b| matches!(b, Block::InLanguage(..))).count();
        let notice = Language::German.say("builder.in_english", &[]);
        assert!(english > 0 && whole.html().contains("<div lang=\"en\" dir=\"ltr\">"));
        assert_eq!(read_of(&whole).matches(&notice).count(), english);
        whole.blocks.retain(|b| !matches!(b, Block::InLanguage(..)));
        only_german(&read_of(&whole));
        if house.remedies.as_ref().is_some_and(|m| !m.order.is_empty()) {
            let said = read_of(&whole);
            for word in ["Zusagen?", "Einkaufsliste", "Foto 1", "Blatt für das Angebot"] {
                assert!(said.contains(word), "{word}: {said}");
            }
        }
        // The file is in English, whole.
        let record = file(&house.results());
        let said = read_of(&record);
        assert_eq!(record.language, "en");
        assert!(!said.contains("zu laut") && !said.contains("Erdgeschoss"));
    }
}
