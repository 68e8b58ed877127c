//! The whole loop on one folder: everything computed that can be, and what is missing said.

use std::io::BufReader;
use std::path::Path;

use wythe_building::Building;
use wythe_findings::caution::{Caution, cautions_of};
use wythe_findings::{Explained, Measured, Predicted, explain, predict};
use wythe_project::{PROJECT_FILE, Project, Reading, SURVEY_FILE, Survey};
use wythe_remedy::{Asked, Remedies, apply, as_found, remedies};
use wythe_report::Language;
use wythe_report::report::{About, DecayDrawn, FileRead, Found, Gap, Note, Papers, Results};
use wythe_transmission::Cache;

use crate::decay_curves;
use crate::failure::Failure;
use crate::found::{count_as_described, with_prices};
use crate::load::{self, DiskFiles};
use crate::measuring;
use crate::progress;

/// Every result of the loop for one project.
pub struct Gathered {
    /// The project.
    pub project: Project,
    /// What was noted while reading it.
    pub reading: Reading,
    predicted: Option<Predicted>,
    found: Option<(Building, Predicted, Vec<usize>)>,
    measured: Option<Measured>,
    explained: Option<Explained>,
    remedies: Option<Remedies>,
    after: Option<Predicted>,
    decays: Vec<DecayDrawn>,
    cautions: Vec<Caution>,
    gaps: Vec<Gap>,
    notes: Vec<Note>,
    files: Vec<FileRead>,
    papers: Option<Papers>,
}

impl Gathered {
    /// Reads a folder and computes everything it allows. Only a project file that cannot be used
    /// is an error; everything else that is missing becomes a gap. Tells the watch of its thread
    /// what it is doing and ends with [`Failure::Stopped`] once that wants no more.
    pub fn new(folder: &Path) -> Result<Gathered, Failure> {
        let mut reading = load::reading(folder)?;
        let Some(mut project) = reading.project.take() else {
            return Err(Failure::Messages(
                reading.errors.iter().map(|p| load::draw(p, &reading.texts)).collect(),
            ));
        };
        let mut gaps = Vec::new();
        if reading.errors.iter().any(|e| e.file != SURVEY_FILE) {
            return Err(Failure::Messages(
                reading.errors.iter().map(|p| load::draw(p, &reading.texts)).collect(),
            ));
        }
        for e in &reading.errors {
            let why = format!("{} (line {} of {})", e.text, e.line, e.file);
            gaps.push(gap("recordings", why, e.help.as_deref().unwrap_or("mend the survey file")));
        }
        project.building = with_prices(project.building);
        let building = &project.building;
        let next = |doing: &str| {
            progress::doing(doing);
            if progress::stopped() { Err(Failure::Stopped) } else { Ok(()) }
        };
        next("predicting")?;
        let predicted = predicted(building, &mut gaps);
        let measured = measured(folder, &project, reading.errors.is_empty(), &mut gaps);
        let surveyed = measured.as_ref().and(project.survey.as_ref());
        let decays = surveyed.map(|s| decay_curves::of_survey(folder, building, s));
        next("comparing what was recorded with what was predicted")?;
        let explained = explained(building, measured.as_ref(), &mut gaps);
        let found = explained.as_ref().and_then(|e| {
            let (as_found, which) = as_found(building, &e.posterior);
            let again = predict(&as_found, &mut Cache::default()).ok()?;
            (!which.is_empty() && predicted.is_some()).then_some((as_found, again, which))
        });
        next("searching the cheapest changes")?;
        let mut remedies = remedied(found.as_ref().map_or(building, |f| &f.0), &mut gaps);
        if let (Some(plan), true) = (&mut remedies, found.is_some()) {
            count_as_described(plan, building, &Asked::default());
        }
        let after = remedies.as_ref().filter(|m| !m.plan.changes.is_empty()).and_then(|m| {
            let built = apply(found.as_ref().map_or(building, |f| &f.0), &m.plan.changes);
            predict(&built, &mut Cache::default()).ok()
        });
        next("gathering what could hurt somebody")?;
        let cautions = cautions_of(building, predicted.as_ref().map(|p| &p.model));
        let notes = notes(&reading);
        let files = files(folder, &reading, &project, measured.as_ref());
        let papers = project.survey.as_ref().map(papers);
        Ok(Gathered {
            project,
            reading,
            predicted,
            found,
            measured,
            explained,
            remedies,
            after,
            decays: decays.unwrap_or_default(),
            cautions,
            gaps,
            notes,
            files,
            papers,
        })
    }

    /// The same as the documents take it.
    pub fn results<'a>(&'a self, about: &'a About) -> Results<'a> {
        Results {
            building: &self.project.building,
            predicted: self.predicted.as_ref(),
            found: self.found.as_ref().map(|(building, predicted, findings)| Found {
                building,
                predicted,
                findings,
            }),
            measured: self.measured.as_ref(),
            explained: self.explained.as_ref(),
            remedies: self.remedies.as_ref(),
            after: self.after.as_ref(),
            decays: &self.decays,
            cautions: &self.cautions,
            gaps: &self.gaps,
            notes: &self.notes,
            remarks: &self.reading.remarks,
            papers: self.papers.as_ref(),
            files: &self.files,
            about,
        }
    }
}

/// A gap whose reason is a message of the program.
fn gap(part: &str, why: impl Into<String>, to_do: &str) -> Gap {
    Gap { part: part.into(), key: "", why: why.into(), to_do: to_do.into() }
}

/// A gap whose reason has a sentence of its own in every language.
fn known_gap(part: &str, key: &'static str) -> Gap {
    let say = |key: String| Language::English.say(&key, &[]);
    let (why, to_do) = (say(format!("gap.{key}")), say(format!("gap.{key}_to_do")));
    Gap { part: part.into(), key, why, to_do }
}

fn predicted(building: &Building, gaps: &mut Vec<Gap>) -> Option<Predicted> {
    if building.sources.is_empty() {
        gaps.push(known_gap("prediction", "no_source"));
        return None;
    }
    match predict(building, &mut Cache::default()) {
        Ok(predicted) => Some(predicted),
        Err(e) => {
            gaps.push(gap("prediction", e.to_string(), ""));
            None
        }
    }
}

fn measured(
    folder: &Path,
    project: &Project,
    usable: bool,
    gaps: &mut Vec<Gap>,
) -> Option<Measured> {
    let part = "recordings";
    match &project.survey {
        None if !usable => return None,
        None => {
            gaps.push(known_gap(part, "nothing_recorded"));
            return None;
        }
        Some(survey) if survey.recordings.is_empty() => {
            gaps.push(known_gap(part, "no_recording_named"));
            return None;
        }
        Some(_) => {}
    }
    match measuring::measure(folder, project) {
        Ok(measured) => Some(measured),
        Err(Failure::Messages(all)) => {
            for message in all {
                gaps.push(plain_gap(part, &message));
            }
            None
        }
        Err(Failure::PipeClosed | Failure::Stopped) => None,
    }
}

/// A message laid out for the terminal as one sentence with its remedy.
fn plain_gap(part: &str, message: &str) -> Gap {
    let mut why = String::new();
    let mut to_do = String::new();
    for line in message.lines().map(str::trim) {
        if let Some(remedy) = line.strip_prefix("= ") {
            to_do = remedy.to_owned();
        } else if let Some(place) = line.strip_prefix("at ") {
            let name = Path::new(place).file_name().map(|n| n.to_string_lossy().into_owned());
            why = format!("{}: {why}", name.unwrap_or_else(|| place.to_owned()));
        } else if why.is_empty() {
            why = line.strip_prefix("error: ").unwrap_or(line).to_owned();
        }
    }
    Gap { part: part.into(), key: "", why, to_do }
}

fn explained(
    building: &Building,
    measured: Option<&Measured>,
    gaps: &mut Vec<Gap>,
) -> Option<Explained> {
    let measured = measured?;
    let part = "comparison with what was recorded";
    let trials = measured.trials();
    if trials.is_empty() {
        gaps.push(known_gap(part, "no_pair"));
        return None;
    }
    match explain(building, &trials, &mut Cache::default()) {
        Ok(explained) => Some(explained),
        Err(e) => {
            gaps.push(gap(part, e.to_string(), ""));
            None
        }
    }
}

fn remedied(building: &Building, gaps: &mut Vec<Gap>) -> Option<Remedies> {
    if building.targets.is_empty() || building.sources.is_empty() {
        return None;
    }
    match remedies(building, building.limits.budget) {
        Ok(remedies) => Some(remedies),
        Err(e) => {
            gaps.push(gap("plan of changes", e.to_string(), ""));
            None
        }
    }
}

fn notes(reading: &Reading) -> Vec<Note> {
    reading
        .unknown
        .iter()
        .chain(&reading.assumed)
        .map(|n| Note {
            standing: n.standing,
            what: n.what.clone(),
            text: n.text.clone(),
            source: n.source.clone(),
            by_program: n.by_program,
            place: format!("{}:{}", n.file, n.line),
        })
        .collect()
}

/// What the user states of the survey.
fn papers(survey: &Survey) -> Papers {
    let spots = survey.recordings.iter().flat_map(|r| {
        r.channels.iter().filter_map(|c| Some((format!("{}:{}", r.file, c.number), c.spot?)))
    });
    let taken = survey.recordings.iter().filter(|r| !r.planned).map(|r| {
        let said = |t: &Option<String>| t.clone().unwrap_or_default();
        [r.file.clone(), said(&r.taken), said(&r.source_position)]
    });
    let instruments = survey.instruments.iter().map(|i| {
        [&i.kind, &i.make, &i.model, &i.serial, &i.class, &i.calibrated, &i.used_for]
            .map(String::clone)
    });
    Papers {
        said: survey.test.clone(),
        instruments: instruments.collect(),
        spots: spots.collect(),
        taken: taken.collect(),
    }
}

/// Fingerprints of the project's texts and of the recordings that were read.
fn files(
    folder: &Path,
    reading: &Reading,
    project: &Project,
    measured: Option<&Measured>,
) -> Vec<FileRead> {
    let disk = DiskFiles::new(folder);
    let mut names: Vec<String> = reading.texts.iter().map(|t| t.name.clone()).collect();
    if names.is_empty() {
        names.push(PROJECT_FILE.to_owned());
    }
    let mut out = Vec::new();
    for name in names {
        let Ok(path) = disk.path(&name) else { continue };
        let Ok(file) = std::fs::File::open(&path) else { continue };
        let bytes = file.metadata().map(|m| m.len()).unwrap_or(0);
        if let Ok(print) = wythe_recording::fingerprint::of(BufReader::new(file)) {
            out.push(FileRead { name, sha256: print.to_string(), bytes });
        }
    }
    let recordings = project.survey.iter().flat_map(|s| &s.recordings).enumerate();
    for (number, recording) in recordings {
        // Hashed once already while it was measured.
        let print = measured
            .and_then(|m| m.positions.iter().find(|p| p.recording == number))
            .map(|p| p.fingerprint.clone());
        let Some(sha256) = print else { continue };
        let bytes =
            disk.path(&recording.file).and_then(std::fs::metadata).map(|m| m.len()).unwrap_or(0);
        out.push(FileRead { name: recording.file.clone(), sha256, bytes });
    }
    out
}
