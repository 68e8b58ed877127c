//! A project from the disk, and its messages drawn beside the lines they are about.

use std::io;
use std::path::{Path, PathBuf};

use miette::{LabeledSpan, MietteDiagnostic, NamedSource, Report};
use wythe_project::{FileText, Files, PROJECT_FILE, Problem, Project, Reading, read};

use crate::failure::Failure;

/// The files of one folder; nothing outside it is read.
pub struct DiskFiles {
    folder: PathBuf,
}

impl DiskFiles {
    /// Files of a folder.
    pub fn new(folder: &Path) -> DiskFiles {
        DiskFiles { folder: folder.to_owned() }
    }

    /// Path of a file of the project; refused when it leaves the folder, by a link as well.
    pub fn path(&self, relative: &str) -> io::Result<PathBuf> {
        if wythe_project::refused_path(relative).is_some() {
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        let path = self.folder.join(relative);
        let (inside, whole) = (self.folder.canonicalize()?, path.canonicalize()?);
        if whole.starts_with(&inside) {
            Ok(path)
        } else {
            Err(io::ErrorKind::PermissionDenied.into())
        }
    }
}

impl Files for DiskFiles {
    fn read(&self, relative: &str) -> io::Result<Vec<u8>> {
        std::fs::read(self.path(relative)?)
    }

    fn size(&self, relative: &str) -> Option<u64> {
        self.path(relative).and_then(std::fs::metadata).ok().map(|m| m.len())
    }
}

/// Reads a project folder with everything it says.
pub fn reading(folder: &Path) -> Result<Reading, Failure> {
    if !folder.exists() {
        return Err(Failure::file(
            folder,
            "there is no such folder",
            "give the folder that holds wythe.toml, or start one with `wythe new DIR`",
        ));
    }
    if !folder.is_dir() {
        return Err(Failure::file(
            folder,
            "is a file, not a project folder",
            "give the folder that holds wythe.toml",
        ));
    }
    if !folder.join(PROJECT_FILE).exists() {
        return Err(Failure::file(
            folder,
            format!("holds no {PROJECT_FILE}"),
            "start a project with `wythe new DIR`, or look at one with `wythe demo DIR`",
        ));
    }
    let mut reading = read(&DiskFiles::new(folder));
    if let Some(project) = &mut reading.project {
        reading.remarks.extend(crate::library::learn(folder, project));
    }
    Ok(reading)
}

/// Reads a project that has to be usable.
pub fn project(folder: &Path) -> Result<(Project, Reading), Failure> {
    let mut reading = reading(folder)?;
    if !reading.errors.is_empty() {
        return Err(Failure::Messages(
            reading.errors.iter().map(|p| draw(p, &reading.texts)).collect(),
        ));
    }
    match reading.project.take() {
        Some(project) => Ok((project, reading)),
        None => Err(Failure::file(folder, "cannot be read as a project", "run `wythe check DIR`")),
    }
}

/// A message with the line it is about.
pub fn draw(problem: &Problem, texts: &[FileText]) -> String {
    let mut diagnostic = MietteDiagnostic::new(problem.text.clone()).with_code(problem.code);
    if let Some(help) = &problem.help {
        diagnostic = diagnostic.with_help(help.clone());
    }
    let Some(text) = texts.iter().find(|t| t.name == problem.file) else {
        return format!("error: {problem}");
    };
    let start = problem.span.start.min(text.text.len());
    let end = problem.span.end.clamp(start, text.text.len());
    let label = LabeledSpan::new(None, start, (end - start).max(1));
    let report = Report::new(diagnostic.with_label(label))
        .with_source_code(NamedSource::new(&text.name, text.text.clone()));
    format!("{report:?}")
}
