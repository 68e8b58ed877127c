//! Notes of what happens now, put into the survey's log by the computer's clock.

use wythe_project::Document;

use crate::desk::Open;
use crate::edit::{Refused, quoted};
use crate::scene::Scene;
use crate::store::{StoreError, Texts};

/// Longest note, characters.
pub const LONGEST: usize = 200;
/// What the note of a recorder's start says; the desk offers its time for `begun`.
pub const RECORDER_STARTED: &str = "recorder started";
/// What talk is called in the log.
const TALKING: &str = "talking";

/// What is noted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Somebody talks from now on.
    Talking,
    /// The talk that this phone noted has ended.
    Quiet,
    /// Anything else, at this moment.
    Said(String),
}

/// Talk one phone noted and has not ended: when it began.
pub fn going_on(scene: &Scene, who: &str) -> Option<String> {
    unended(scene.texts.survey.as_deref()?, who).map(|(_, at)| at)
}

/// Its place in the log, and when it began.
fn unended(survey: &str, who: &str) -> Option<(usize, String)> {
    let document: toml_edit::DocumentMut = survey.parse().ok()?;
    let log = document.get("log")?.as_array_of_tables()?;
    let source = source(who);
    // Only the last of its talk can still go on.
    let (i, talk) =
        log.iter().enumerate().collect::<Vec<_>>().into_iter().rev().find(|(_, t)| {
            let text = |key: &str| t.get(key).and_then(toml_edit::Item::as_str);
            text("source") == Some(&source) && text("entry").is_some_and(|e| e.starts_with(TALKING))
        })?;
    if talk.contains_key("until") {
        return None;
    }
    Some((i, talk.get("at")?.as_str()?.to_owned()))
}

fn source(who: &str) -> String {
    format!("noted on {who}")
}

/// Takes a note. `room` is the id of the room it is noted in, `who` the phone.
///
/// # Errors
/// Why not, as a sentence without full stop.
pub fn take(open: &Open, what: &What, at: &str, room: &str, who: &str) -> Result<(), String> {
    let called = match what {
        What::Talking => "a note: talking".to_owned(),
        What::Quiet => "a note: the talking ended".to_owned(),
        What::Said(text) => format!("a note: {text}"),
    };
    change(open, &called, |scene| noted(scene, what, at, room, who)).map_err(|r| match r {
        Refused::Invalid { why, .. } => why,
        Refused::Conflict { .. } => "somebody else changed the log meanwhile".to_owned(),
    })
}

fn noted(scene: &Scene, what: &What, at: &str, room: &str, who: &str) -> Result<Texts, Refused> {
    let mut texts = scene.texts.clone();
    let old = texts.survey.unwrap_or_else(|| "wythe = 1\n".to_owned());
    let mut survey = Document::parse(&old)?;
    let name = scene
        .project
        .as_ref()
        .and_then(|p| p.building.room(room).map(|i| p.building.rooms[i.0].name()));
    let here = name.map_or(String::new(), |n| format!(" in {n}"));
    match what {
        What::Quiet => {
            let Some((i, _)) = unended(&old, who) else {
                return Err(Refused::new("no talk of this phone goes on", ""));
            };
            survey.set(&format!("log[{i}].until"), &quoted(at))?;
        }
        What::Talking if unended(&old, who).is_some() => {
            return Err(Refused::new("it is noted already; say when the talking stopped", ""));
        }
        What::Said(text) if text.is_empty() => return Err(Refused::new("the note is empty", "")),
        What::Talking | What::Said(_) => {
            let entry = match what {
                What::Said(text) => format!("{text}{here}"),
                _ => format!("{TALKING}{here}"),
            };
            survey.push("log", &[("at", at), ("entry", &entry), ("source", &source(who))])?;
        }
    }
    texts.survey = Some(survey.text());
    Ok(texts)
}

/// Makes a change of the files that no form guards: what others change meanwhile stays.
///
/// # Errors
/// [`Refused`] where the project could not be read any more, or the change cannot be made.
pub fn change(
    open: &Open,
    called: &str,
    make: impl Fn(&Scene) -> Result<Texts, Refused>,
) -> Result<(), Refused> {
    // Somebody may save between reading and saving; then it is looked at once more.
    for _ in 0..5 {
        let scene = open.scene().map_err(|e| Refused::new(e.to_string(), ""))?;
        let texts = make(&scene)?;
        let mut cache = open.cache.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let new = Scene::new(open.store.folder(), texts, None, &mut cache);
        drop(cache);
        if let Some(first) = new.new_errors(&scene).first() {
            let help = first.help.clone().unwrap_or_default();
            return Err(Refused::new(first.text.clone(), help));
        }
        match open.store.save(&scene.texts, &new.texts, called) {
            Ok(()) => return Ok(()),
            Err(StoreError::ChangedUnderneath) => {}
            Err(e) => return Err(Refused::new(e.to_string(), "")),
        }
    }
    Err(Refused::new("another program keeps changing the files", "try again"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use wythe_transmission::Cache;

    fn scene(survey: Option<&str>) -> Scene {
        let texts = Texts { project: wythe_project::template(), survey: survey.map(Into::into) };
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    const AT: &str = "2031-04-02 18:42:10.0+02:00";
    const LATER: &str = "2031-04-02 18:42:40.0+02:00";

    #[test]
    fn talk_begins_and_ends_and_other_notes_come_between() {
        let first = noted(&scene(None), &What::Talking, AT, "", "one").unwrap();
        let begun = scene(first.survey.as_deref());
        assert!(begun.reading.errors.is_empty(), "{:?}", begun.reading.errors);
        assert_eq!(going_on(&begun, "one"), Some(AT.into()));
        assert_eq!(going_on(&begun, "two"), None);
        assert!(noted(&begun, &What::Talking, LATER, "", "one").is_err());
        assert!(noted(&begun, &What::Quiet, LATER, "", "two").is_err());
        let said = noted(&begun, &What::Said("door \"1\"\nclosed".into()), AT, "", "two").unwrap();
        let between = scene(said.survey.as_deref());
        let ended = noted(&between, &What::Quiet, LATER, "", "one").unwrap();
        let done = scene(ended.survey.as_deref());
        assert!(done.reading.errors.is_empty(), "{:?}", done.reading.errors);
        assert_eq!(going_on(&done, "one"), None);
        let survey = done.project.unwrap().survey.unwrap();
        assert_eq!(survey.noted.len(), 2);
        assert_eq!(survey.noted[0].until.as_deref(), Some(LATER));
        assert_eq!(survey.noted[1].text, "door \"1\"\nclosed");
    }
}
