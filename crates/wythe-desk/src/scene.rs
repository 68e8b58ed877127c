//! The project as it stands now: read, and predicted where it can be.

use std::io;
use std::path::{Path, PathBuf};

use wythe_building::RoomIndex;
use wythe_findings::{Arrived, FromSource, Predicted, predict};
use wythe_folder::load::DiskFiles;
use wythe_project::{
    Document, Files, PROJECT_FILE, Problem, Project, Reading, SURVEY_FILE, fingerprint, read,
};
use wythe_transmission::Cache;

use crate::store::Texts;

/// The project's files with the two texts of the desk laid over them, so that a change can be
/// looked at before it is saved.
pub struct Overlay<'a> {
    disk: DiskFiles,
    texts: &'a Texts,
}

impl<'a> Overlay<'a> {
    /// These texts over the files of a folder.
    pub fn new(folder: &Path, texts: &'a Texts) -> Overlay<'a> {
        Overlay { disk: DiskFiles::new(folder), texts }
    }

    fn text(&self, name: &str) -> Option<io::Result<&str>> {
        match name {
            PROJECT_FILE => Some(Ok(&self.texts.project)),
            SURVEY_FILE => Some(match &self.texts.survey {
                Some(text) => Ok(text),
                None => Err(io::ErrorKind::NotFound.into()),
            }),
            _ => None,
        }
    }
}

impl Files for Overlay<'_> {
    fn read(&self, relative: &str) -> io::Result<Vec<u8>> {
        match self.text(relative) {
            Some(text) => text.map(|t| t.as_bytes().to_vec()),
            None => self.disk.read(relative),
        }
    }

    fn size(&self, relative: &str) -> Option<u64> {
        match self.text(relative) {
            Some(text) => text.ok().map(|t| t.len() as u64),
            None => self.disk.size(relative),
        }
    }
}

/// Everything a page needs at once.
pub struct Scene {
    /// The project folder.
    pub folder: PathBuf,
    /// The texts it was made from.
    pub texts: Texts,
    /// What was noted while reading.
    pub reading: Reading,
    /// The project, where it can be used.
    pub project: Option<Project>,
    /// What its sources make, or why that cannot be said.
    pub predicted: Result<Predicted, String>,
    /// The project file for looking values up; `None` where it is no TOML.
    pub document: Option<Document>,
    /// The same of the survey.
    pub survey: Option<Document>,
}

impl Scene {
    /// Reads the texts, with whatever else they name on the disk, and predicts in the state of
    /// that name, where it is one of the building's.
    pub fn new(folder: &Path, texts: Texts, state: Option<&str>, cache: &mut Cache) -> Scene {
        let files = Overlay::new(folder, &texts);
        let mut reading = read(&files);
        let mut project = reading.project.take();
        if let Some(p) = &mut project
            && let Some(in_state) = state.and_then(|s| p.building.in_state(s))
        {
            p.building = in_state;
        }
        let predicted = match &project {
            None => Err("the project file cannot be used yet".to_owned()),
            Some(p) if p.building.sources.is_empty() => {
                Err("no sound source is described yet".to_owned())
            }
            Some(p) => predict(&p.building, cache).map_err(|e| e.to_string()),
        };
        let document = Document::parse(&texts.project).ok();
        let survey = texts.survey.as_deref().and_then(|t| Document::parse(t).ok());
        let folder = folder.to_owned();
        Scene { folder, texts, reading, project, predicted, document, survey }
    }

    /// Whether the disk still holds what this was made from.
    pub fn fresh(&self, folder: &Path, texts: &Texts) -> bool {
        let disk = DiskFiles::new(folder);
        self.texts == *texts
            && self
                .reading
                .texts
                .iter()
                .filter(|t| t.name != PROJECT_FILE && t.name != SURVEY_FILE)
                .all(|t| disk.read(&t.name).is_ok_and(|b| b == t.text.as_bytes()))
    }

    /// A short text that differs when the project or the survey differ.
    pub fn mark(&self) -> String {
        let survey = self.texts.survey.as_deref().unwrap_or_default();
        format!("{}.{}", fingerprint(&self.texts.project), fingerprint(survey))
    }

    /// Errors that another reading of the project did not have.
    pub fn new_errors(&self, before: &Scene) -> Vec<&Problem> {
        self.reading
            .errors
            .iter()
            .filter(|e| {
                let known = |o: &&Problem| o.code == e.code && o.text == e.text;
                before.reading.errors.iter().find(known).is_none()
            })
            .collect()
    }

    /// What the source of that id makes, else what the first makes.
    pub fn played_from(&self, id: Option<&str>) -> Option<&FromSource> {
        let (project, predicted) = (self.project.as_ref()?, self.predicted.as_ref().ok()?);
        let named = predicted
            .sources
            .iter()
            .find(|s| Some(project.building.sources[s.source].id.as_str()) == id);
        named.or(predicted.sources.first())
    }

    /// What arrives of a source in a room.
    pub fn arrived(from: &FromSource, room: RoomIndex) -> Option<&Arrived> {
        from.arrived.iter().find(|a| a.room == room)
    }
}
