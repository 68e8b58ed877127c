//! The demonstration: an invented building and invented recordings with hidden faults.

mod as_built;
mod recordings;

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use wythe_project::Project;

use crate::failure::Failure;
use crate::progress::{self, Progress};
use crate::{load, write};

pub use recordings::{MakeError, Recording, make};

/// Text of the demonstration's project file.
pub const PROJECT: &str = include_str!("../demo/wythe.toml");
/// Text of the demonstration's survey.
pub const SURVEY: &str = include_str!("../demo/survey.toml");

/// Writes the whole demonstration into a folder that is new or empty.
///
/// # Errors
/// [`Failure`] when the folder holds something, cannot be written, or the work was stopped.
pub fn lay_out(folder: &Path) -> Result<Project, Failure> {
    write::fresh_folder(folder)?;
    write::text(&folder.join(wythe_project::PROJECT_FILE), PROJECT)?;
    write::text(&folder.join(wythe_project::SURVEY_FILE), SURVEY)?;
    let (project, _) = load::project(folder)?;
    record(folder, &project)?;
    Ok(project)
}

/// Makes the recordings the survey names.
fn record(folder: &Path, project: &Project) -> Result<(), Failure> {
    let Some(survey) = &project.survey else { return Ok(()) };
    for (number, recording) in survey.recordings.iter().enumerate() {
        if progress::stopped() {
            return Err(Failure::Stopped);
        }
        let path = folder.join(&recording.file);
        let plan = Recording {
            state: recording.state.as_deref(),
            rooms: recording.channels.iter().map(|c| c.room).collect(),
            talk: project.building.room("mixing-room").filter(|_| number == 0),
            number: number as u64,
        };
        if let Some(inside) = path.parent() {
            std::fs::create_dir_all(inside).map_err(|e| Failure::unwritable(inside, &e))?;
        }
        let file = File::create(&path).map_err(|e| Failure::unwritable(&path, &e))?;
        let mut progress = Progress::new("making", &recording.file);
        make(BufWriter::new(file), &project.building, &plan, &mut |share| progress.tell(share))
            .map_err(|e| match e {
                MakeError::Stopped => Failure::Stopped,
                e => Failure::file(&path, e.to_string(), "make room on the disk and try again"),
            })?;
        progress.done();
    }
    Ok(())
}
