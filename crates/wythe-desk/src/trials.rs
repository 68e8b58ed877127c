//! A trial prepared: the state of the building and the recordings to come, written into the files.

use std::path::Path;

use wythe_building::{Building, State};
use wythe_findings::{NextTest, Setup};
use wythe_partition::OpeningState;
use wythe_project::Document;
use wythe_project::survey::{PositionKind, Recording, Survey};

use crate::edit::{Refused, quoted};
use crate::scene::Scene;
use crate::store::Texts;

/// Corner positions the low-frequency procedure asks for (ISO 16283-1:2014, 8.3, from memory).
const CORNERS: usize = 4;

/// Recordings that are planned and not there yet, with their place in the survey.
pub fn waiting<'a>(folder: &Path, survey: &'a Survey) -> Vec<(usize, &'a Recording)> {
    let all = survey.recordings.iter().enumerate();
    all.filter(|(_, r)| r.planned && !folder.join(&r.file).exists()).collect()
}

/// The texts with a test prepared; says under which name its recording is expected.
///
/// # Errors
/// [`Refused`] where it is prepared already or the files cannot take it.
pub fn prepared(scene: &Scene, test: &NextTest) -> Result<(Texts, String), Refused> {
    let unusable = || Refused::new("the project cannot be used yet", "mend it first");
    let project = scene.project.as_ref().ok_or_else(unusable)?;
    let b = &project.building;
    let empty = Survey::default();
    let survey = project.survey.as_ref().unwrap_or(&empty);
    let title = title(b, &test.setup);
    let mut texts = scene.texts.clone();
    let state = state_for(b, &test.setup, &title);
    if let Some((_, toml)) = &state
        && !toml.is_empty()
    {
        let mut document = Document::parse(&texts.project)?;
        document.append(toml)?;
        texts.project = document.text();
    }
    let file = format!("recordings/{}.wav", slug(&title));
    if survey.recordings.iter().any(|r| r.file == file) {
        return Err(Refused::new(
            "this trial is prepared already",
            "record it, and bring the file",
        ));
    }
    let text = texts.survey.take().unwrap_or_else(|| "wythe = 1\n".to_owned());
    let mut document = Document::parse(&text)?;
    document.append(&recording(b, survey, test, &title, &file, state.map(|s| s.0).as_deref()))?;
    texts.survey = Some(document.text());
    Ok((texts, file))
}

fn opening<'a>(b: &'a Building, id: &'a str) -> &'a str {
    let mut all = b.boundaries.iter().flat_map(|x| &x.openings);
    all.find(|o| o.id == id).map_or(id, |o| o.title.as_deref().unwrap_or(&o.id))
}

fn title(b: &Building, setup: &Setup) -> String {
    match setup {
        Setup::Tape(id) => format!("{} taped", opening(b, id)),
        Setup::Open(id) => format!("{} open", opening(b, id)),
        Setup::Plug(id) => format!("{id} plugged"),
        Setup::Near(surface) => format!(
            "close to {}",
            match &surface.opening {
                Some(id) => opening(b, id),
                None => b.boundaries[surface.boundary.0].name(),
            }
        ),
        Setup::Corners => "with corner positions".into(),
        Setup::Source(room) => format!("source in {}", b.rooms[room.0].name()),
    }
}

/// The state a test is made in: one that is there already where it says the same.
fn state_for(b: &Building, setup: &Setup, title: &str) -> Option<(String, String)> {
    let (openings, plugged, toml) = match setup {
        Setup::Tape(id) => (
            vec![(id.clone(), OpeningState::Taped)],
            vec![],
            format!("openings = {{ {id} = \"taped\" }}"),
        ),
        Setup::Open(id) => (
            vec![(id.clone(), OpeningState::Open)],
            vec![],
            format!("openings = {{ {id} = \"open\" }}"),
        ),
        Setup::Plug(id) => (vec![], vec![id.clone()], format!("plugged = [{}]", quoted(id))),
        Setup::Near(_) | Setup::Corners | Setup::Source(_) => return None,
    };
    let same = |s: &&State| s.openings == openings && s.plugged == plugged && s.made.is_empty();
    if let Some(there) = b.states.iter().find(same) {
        return Some((there.name.clone(), String::new()));
    }
    let mut name = title.to_owned();
    let mut number = 2;
    while b.states.iter().any(|s| s.name == name) {
        name = format!("{title} {number}");
        number += 1;
    }
    let toml = format!("[[state]]\nname = {}\n{toml}\n", quoted(&name));
    Some((name, toml))
}

/// The recording to come, like the last one of the same two rooms as far as it can be.
fn recording(
    b: &Building,
    survey: &Survey,
    test: &NextTest,
    title: &str,
    file: &str,
    state: Option<&str>,
) -> String {
    let (source, receiver) = (&test.pair.0, &test.pair.1);
    let rooms = [b.room(source), b.room(receiver)];
    let like = survey.recordings.iter().find(|r| {
        r.state.is_none()
            && rooms.iter().all(|room| r.channels.iter().any(|c| Some(c.room) == *room))
    });
    let mut out = format!(
        "[[recording]]\nfile = {}\ntitle = {}\nplanned = true\ngain = \"fixed\"\n",
        quoted(file),
        quoted(&wythe_report::report::parts::capital(title))
    );
    if let Some(state) = state {
        out.push_str(&format!("state = {}\n", quoted(state)));
    }
    let mut number = 0;
    let mut channel = |room: &str, name: Option<&str>, place: Option<&str>, more: &str| {
        number += 1;
        out.push_str(&format!("\n[[recording.channel]]\nnumber = {number}\n"));
        if let Some(name) = name {
            out.push_str(&format!("position = {}\n", quoted(name)));
        }
        out.push_str(&format!("room = {}\n", quoted(room)));
        if let Some(place) = place {
            out.push_str(&format!("place = {}\n", quoted(place)));
        }
        out.push_str(more);
    };
    let stood = |room: &str| {
        let index = b.room(room);
        let channels = like.map(|r| r.channels.as_slice()).unwrap_or_default();
        channels.iter().filter(move |c| {
            Some(c.room) == index
                && matches!(c.kind, PositionKind::Position | PositionKind::NearSource)
        })
    };
    let near_source = |kind: PositionKind| {
        if kind == PositionKind::NearSource { "kind = \"near source\"\n" } else { "" }
    };
    let old: Vec<_> = stood(source).collect();
    if old.is_empty() {
        channel(source, None, None, "");
    }
    for c in old {
        channel(source, Some(&c.position), c.place.as_deref(), near_source(c.kind));
    }
    match &test.setup {
        Setup::Near(surface) => {
            let id = surface.opening.as_deref().unwrap_or(&b.boundaries[surface.boundary.0].id);
            let place = format!("a hand's breadth from {}", title.trim_start_matches("close to "));
            let more = format!("kind = \"near surface\"\nat = {}\n", quoted(id));
            channel(receiver, None, Some(&place), &more);
        }
        Setup::Corners => {
            for n in 1..=CORNERS {
                let place = format!("corner {n}, 0.3 to 0.4 m from each of its surfaces");
                let name = format!("{receiver}-corner-{n}");
                channel(receiver, Some(&name), Some(&place), "kind = \"corner\"\n");
            }
        }
        _ => {
            let old: Vec<_> = stood(receiver).collect();
            if old.is_empty() {
                channel(receiver, None, None, "");
            }
            for c in old {
                channel(receiver, Some(&c.position), c.place.as_deref(), "");
            }
        }
    }
    out
}

/// What to do for a recording that is planned, step by step.
pub fn what_to_record(b: &Building, r: &Recording) -> Vec<String> {
    let mut out = Vec::new();
    let state = r.state.as_ref().and_then(|n| b.states.iter().find(|s| s.name == *n));
    for (id, how) in state.iter().flat_map(|s| &s.openings) {
        let name = opening(b, id);
        out.push(match how {
            OpeningState::Closed => format!("Close the {name}."),
            OpeningState::Open => format!("Open the {name} wide."),
            OpeningState::Ajar(by) => format!("Let the {name} stand {:.0} mm ajar.", 1000.0 * by.0),
            OpeningState::Taped => format!(
                "Close the {name} and tape all its edges. Nobody stays behind a taped door; take the tape off at once afterwards."
            ),
        });
    }
    for id in state.iter().flat_map(|s| &s.plugged) {
        out.push(format!(
            "Plug {id} for a few minutes with something as heavy as the wall, with the fan and everything that burns off and nobody staying in the room."
        ));
    }
    for id in state.iter().flat_map(|s| &s.made) {
        let title =
            b.changes.iter().find(|c| c.id == *id).map_or(id.as_str(), |c| c.title.as_str());
        out.push(format!("With this change made: {title}."));
    }
    for c in &r.channels {
        let place = c.place.as_ref().map_or(String::new(), |p| format!(", {p}"));
        out.push(format!(
            "Channel {}: a microphone in {}{place} ({}).",
            c.number,
            b.rooms[c.room.0].name(),
            c.position
        ));
    }
    out.push(
        "The same gains as before, fixed; a calibrator tone on each channel, or note what full scale is."
            .into(),
    );
    out.push(
        "Start the recorder, keep half a minute of quiet, then play as loud as before for a minute, with hearing protection; whoever is in a quiet room says nothing."
            .into(),
    );
    out.push(format!(
        "Bring the file here under the name {}.",
        r.file.trim_start_matches("recordings/")
    ));
    out
}

fn slug(words: &str) -> String {
    let plain: String = words
        .to_lowercase()
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let joined = plain.split('-').filter(|w| !w.is_empty()).collect::<Vec<_>>().join("-");
    if joined.is_empty() { "trial".into() } else { joined.chars().take(60).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use wythe_bands::Spectrum;
    use wythe_findings::NearSurface;
    use wythe_transmission::Cache;

    fn scene(texts: Texts) -> Scene {
        Scene::new(&std::env::temp_dir(), texts, None, &mut Cache::default())
    }

    fn demo() -> Scene {
        scene(Texts {
            project: wythe_folder::demo::PROJECT.into(),
            survey: Some(wythe_folder::demo::SURVEY.into()),
        })
    }

    fn test(setup: Setup) -> NextTest {
        NextTest {
            what: "x".into(),
            setup,
            separates: vec![],
            expected: Spectrum::empty(),
            pair: ("drum-hall".into(), "bedroom".into()),
            minutes: 10.0,
            bits: 1.0,
            outcomes: vec![],
        }
    }

    #[test]
    fn every_kind_of_test_is_written_as_the_project_reads_it_and_waits() {
        let before = demo();
        let b = &before.project.as_ref().unwrap().building;
        let door = b.boundaries.iter().flat_map(|x| &x.openings).next().unwrap().id.clone();
        let at = b
            .boundaries
            .iter()
            .position(|x| x.rooms.contains(&b.room("bedroom").unwrap()))
            .unwrap();
        let surface = NearSurface { boundary: wythe_building::BoundaryIndex(at), opening: None };
        let lobby = b.room("lobby").unwrap();
        for setup in [
            Setup::Tape(door.clone()),
            Setup::Open(door),
            Setup::Near(surface),
            Setup::Corners,
            Setup::Source(lobby),
        ] {
            let (texts, file) = prepared(&before, &test(setup.clone())).unwrap();
            let after = scene(texts);
            assert!(
                after.new_errors(&before).is_empty(),
                "{setup:?}: {:?}",
                after.new_errors(&before)
            );
            let project = after.project.as_ref().unwrap();
            let survey = project.survey.as_ref().unwrap();
            let waits = waiting(Path::new("/nowhere"), survey);
            let [(_, r)] = &waits[..] else { panic!("{setup:?}: {}", waits.len()) };
            assert_eq!(r.file, file);
            assert!(r.channels.len() >= 2, "{setup:?}");
            assert!(what_to_record(&project.building, r).len() >= 5);
            // Twice is once too often.
            assert!(matches!(prepared(&after, &test(setup)), Err(Refused::Invalid { .. })));
        }
    }

    #[test]
    fn a_state_that_is_there_is_not_described_twice() {
        let before = demo();
        let (texts, _) = prepared(&before, &test(Setup::Tape("hall-door".into()))).unwrap();
        assert_eq!(texts.project, before.texts.project);
        assert!(texts.survey.unwrap().contains("state = \"hall door taped\""));
    }
}
