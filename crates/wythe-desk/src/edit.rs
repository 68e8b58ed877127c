//! What a form asks to be changed, made into new texts.
//!
//! A form says what stood there when its page was made. Where something else stands there now,
//! nothing is changed and both are shown; everything else that changed meanwhile stays.

use serde::Deserialize;
use wythe_project::{Document, EditError, fingerprint};

use crate::scene::Scene;
use crate::store::Texts;

/// A form.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Edit {
    /// What to do: see [`apply`].
    #[serde(rename = "do")]
    pub what: String,
    /// `survey` for the survey, else the project file.
    pub file: String,
    /// Where, as [`Document`] writes it.
    pub path: String,
    /// The value.
    pub value: String,
    /// `text`, `raw` (TOML), or a unit that follows a bare number.
    pub kind: String,
    /// Position in a list, from 0.
    pub at: usize,
    /// Position to move to.
    pub to: usize,
    /// What a new thing is to be like.
    pub like: String,
    /// Where a stretch begins.
    pub from: String,
    /// Where it ends, for calibrations.
    pub until: String,
    /// Frequency of a calibrator.
    pub frequency: String,
    /// Where on a plan, x and y in metres.
    pub spot: String,
    /// Sizes of a new room.
    pub width: String,
    /// See `width`.
    pub depth: String,
    /// See `width`.
    pub height: String,
    /// To the right on the plan.
    pub x: String,
    /// Up on the plan.
    pub y: String,
    /// Storey of a new room.
    pub storey: String,
    /// Fingerprint of what stood there.
    pub seen: String,
    /// What it is called in the history.
    pub called: String,
    /// Page to go back to.
    pub back: String,
}

/// Why a form was not carried out.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// The value cannot be used: why, and what to do.
    Invalid {
        /// Why.
        why: String,
        /// What to do; may be empty.
        help: String,
    },
    /// Something else stands there now.
    Conflict {
        /// What stands there; empty for nothing.
        theirs: String,
    },
}

impl Refused {
    /// Why, with what to do.
    pub fn new(why: impl Into<String>, help: impl Into<String>) -> Refused {
        Refused::Invalid { why: why.into(), help: help.into() }
    }
}

impl From<EditError> for Refused {
    fn from(error: EditError) -> Refused {
        Refused::new(error.to_string(), "")
    }
}

/// What stands at a place, as a form remembers it.
pub fn seen(document: Option<&Document>, path: &str) -> String {
    fingerprint(&document.and_then(|d| d.get(path)).unwrap_or_default())
}

/// Makes the new texts.
///
/// `set` sets a value (an empty one takes the key out), `insert`, `shift` and `remove` change a
/// list, `place` and `calibrate` see to a channel, `copy-build-up` makes a second version, `text`
/// replaces the file; `wall`, `new-room`, `move-room`, `new-boundary`, `new-opening`,
/// `new-tracing`, `tracing-scale`, `remove-room`, `new-build-up`, `new-sheet`,
/// `describe-recording`, `mark-stretch` and `remove-stretch` do what
/// they say.
///
/// # Errors
/// [`Refused`]; whether the new texts describe a usable project is for the caller to look at.
pub fn apply(scene: &Scene, edit: &Edit) -> Result<Texts, Refused> {
    let survey = edit.file == "survey";
    let mut texts = scene.texts.clone();
    let old = if survey {
        texts.survey.clone().unwrap_or_else(|| "wythe = 1\n".into())
    } else {
        texts.project.clone()
    };
    let new = if edit.what == "text" {
        if edit.seen != fingerprint(&old) {
            return Err(Refused::Conflict { theirs: "another text".into() });
        }
        // Browsers send lines ended as on Windows.
        let text = edit.value.replace("\r\n", "\n");
        if old.contains("\r\n") { text.replace('\n', "\r\n") } else { text }
    } else {
        let mut document = Document::parse(&old)?;
        change(&mut document, scene, edit)?;
        document.text()
    };
    if survey {
        texts.survey = Some(new);
    } else {
        texts.project = new;
    }
    Ok(texts)
}

/// Makes the change in a document.
///
/// # Errors
/// [`Refused`]; whether the new text describes a usable project is for the caller to look at.
pub fn change(document: &mut Document, scene: &Scene, edit: &Edit) -> Result<(), Refused> {
    let there = document.get(&edit.path).unwrap_or_default();
    let guarded =
        matches!(edit.what.as_str(), "set" | "insert" | "shift" | "remove" | "wall" | "move-room");
    if guarded && fingerprint(&there) != edit.seen {
        return Err(Refused::Conflict { theirs: there });
    }
    match edit.what.as_str() {
        "set" if edit.value.trim().is_empty() => {
            if !there.is_empty() {
                document.remove(&edit.path)?;
            }
        }
        "set" => document.set(&edit.path, &toml(edit)?)?,
        "insert" => document.insert(&edit.path, edit.at, &toml(edit)?)?,
        "shift" => document.shift(&edit.path, edit.at, edit.to)?,
        "remove" => document.remove(&format!("{}[{}]", edit.path, edit.at))?,
        "copy-build-up" => copy_build_up(document, scene, &edit.value)?,
        "wall" => document.set(&edit.path, &crate::shape::moved(scene, edit)?)?,
        "new-room" => document.append(&crate::shape::room(scene, edit)?)?,
        "move-room" => document.set(&edit.path, &crate::shape::moved_room(scene, edit)?)?,
        "remove-room" => crate::shape::remove_room(document, &edit.value)?,
        "new-boundary" => document.append(&crate::shape::boundary(scene, edit)?)?,
        "new-opening" => crate::shape::opening(document, edit)?,
        "tracing-scale" => {
            let apart = crate::shape::length(&edit.value, "the length", &edit.kind)?;
            crate::tracing::scale(document, edit, apart)?;
        }
        "new-tracing" => {
            let storey = crate::shape::storey(&edit.storey)?;
            document.append(&crate::tracing::described(scene, &edit.value, storey))?;
        }
        "new-sheet" => {
            let id = crate::shape::build_up_id(scene, &edit.value)?;
            document.append(&crate::sheet::build_up(&id, &edit.value, &edit.like))?;
        }
        "new-build-up" => document.append(&crate::shape::build_up(scene, edit)?)?,
        "describe-recording" => document.append(&crate::shape::recording(scene, edit)?)?,
        "place" => crate::survey_edit::place(document, scene, edit)?,
        "calibrate" => crate::survey_edit::calibrate(document, edit)?,
        "mark-stretch" => crate::shape::stretch(document, edit)?,
        "remove-stretch" => document.remove(&format!("{}[{}]", edit.path, edit.at))?,
        other => return Err(Refused::new(format!("`{other}` is nothing the desk can do"), "")),
    }
    Ok(())
}

/// The value of a form as TOML. Text stands in quotes whatever is in it.
fn toml(edit: &Edit) -> Result<String, Refused> {
    let value = edit.value.trim();
    Ok(match edit.kind.as_str() {
        "raw" => value.to_owned(),
        "number" => {
            let number = value.replace('\u{2212}', "-").replace(',', ".");
            if number.parse::<f64>().is_ok_and(f64::is_finite) {
                number
            } else {
                return Err(Refused::new(
                    format!("`{value}` is no number"),
                    "write it in figures, such as 2 or 14.5",
                ));
            }
        }
        // A bare number takes the unit beside the field.
        unit if !unit.is_empty() && unit != "text" && value.parse::<f64>().is_ok() => {
            quoted(&format!("{value} {unit}"))
        }
        _ => quoted(value),
    })
}

/// Text as a TOML string.
pub fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Adds a second version of a build-up under a new id.
fn copy_build_up(document: &mut Document, scene: &Scene, id: &str) -> Result<(), Refused> {
    let layers = document.get(&format!("build_up[{id}].layers")).ok_or_else(|| {
        Refused::new(
            "only a build-up whose layers stand in brackets in the project file can be copied here",
            "copy it in the file",
        )
    })?;
    let title = document
        .get(&format!("build_up[{id}].title"))
        .and_then(|t| t.parse::<toml_edit::Value>().ok())
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_else(|| id.to_owned());
    let taken = |new: &str| {
        scene.project.as_ref().is_some_and(|p| p.building.build_up(new).is_some())
            || document.get(&format!("build_up[{new}].id")).is_some()
    };
    let Some(number) = (2..1000).find(|n| !taken(&format!("{id}-{n}"))) else {
        return Err(Refused::new("there are too many versions of it already", ""));
    };
    Ok(document.append(&format!(
        "[[build_up]]\nid = {}\ntitle = {}\nlayers = {layers}\n",
        quoted(&format!("{id}-{number}")),
        quoted(&format!("{title}, version {number}")),
    ))?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use wythe_transmission::Cache;

    const PROJECT: &str = "wythe = 1\n\n[[build_up]]\nid = \"wall\"\nlayers = [\n  { board = \
        \"brick\", thickness = \"215 mm\" },  # old\n  { board = \"plaster\", thickness = \
        \"15 mm\" },\n]\n";

    fn scene() -> Scene {
        let texts = Texts { project: PROJECT.into(), survey: None };
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    fn edit(what: &str, path: &str, value: &str) -> Edit {
        let seen = seen(scene().document.as_ref(), path);
        Edit { what: what.into(), path: path.into(), value: value.into(), seen, ..Edit::default() }
    }

    #[test]
    fn a_bare_number_takes_the_unit_beside_the_field() {
        let e = Edit {
            kind: "mm".into(),
            ..edit("set", "build_up[wall].layers[0].thickness", "102.5")
        };
        let got = apply(&scene(), &e).unwrap().project;
        assert!(got.contains("\"102.5 mm\" },  # old"), "{got}");
        let inches = Edit { value: "4 in".into(), ..e };
        assert!(apply(&scene(), &inches).unwrap().project.contains("\"4 in\""));
    }

    #[test]
    fn text_cannot_leave_its_quotes() {
        let e = edit("set", "build_up[wall].title", "x\"\n[[room]]\nid = \"y");
        let got = apply(&scene(), &e).unwrap().project;
        assert!(Document::parse(&got).unwrap().get("room[y].id").is_none(), "{got}");
    }

    #[test]
    fn every_text_comes_back_as_it_was() {
        let odd = ["", "8' 6\"", "a\\b", "\u{0}\u{1b}\u{7f}\u{85}", "x\ny\tz\r", "é 漢", "\"\"\""];
        for text in odd {
            let value: toml_edit::Value = quoted(text).parse().unwrap();
            assert_eq!(value.as_str(), Some(text));
        }
    }

    #[test]
    fn layers_move_come_and_go() {
        let path = "build_up[wall].layers";
        let e = Edit { at: 1, to: 0, ..edit("shift", path, "") };
        let got = apply(&scene(), &e).unwrap().project;
        assert!(got.find("plaster").unwrap() < got.find("brick").unwrap(), "{got}");
        let board = "{ board = \"gypsum board\", thickness = \"12.5 mm\" }";
        let e = Edit { at: 2, kind: "raw".into(), ..edit("insert", path, board) };
        let got = apply(&scene(), &e).unwrap().project;
        assert_eq!(Document::parse(&got).unwrap().count(path), Some(3), "{got}");
        let e = Edit { at: 0, ..edit("remove", path, "") };
        assert!(!apply(&scene(), &e).unwrap().project.contains("brick"));
        let e = Edit { at: 9, ..edit("remove", path, "") };
        assert!(matches!(apply(&scene(), &e), Err(Refused::Invalid { .. })));
    }

    #[test]
    fn what_somebody_else_wrote_meanwhile_is_shown_not_replaced() {
        let path = "build_up[wall].layers[0].thickness";
        let e = Edit { seen: fingerprint("\"102 mm\""), ..edit("set", path, "300 mm") };
        let theirs = "\"215 mm\"".to_owned();
        assert_eq!(apply(&scene(), &e), Err(Refused::Conflict { theirs }));
    }

    #[test]
    fn a_copy_has_a_name_of_its_own() {
        let e = Edit { what: "copy-build-up".into(), value: "wall".into(), ..Edit::default() };
        let got = apply(&scene(), &e).unwrap();
        assert!(got.project.contains("id = \"wall-2\""));
    }
}
