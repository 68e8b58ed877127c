//! `wythe demo`: the whole job on an invented building.

use std::fs::File;
use std::io::BufWriter;

use crate::args::{Common, Folder};
use crate::demo;
use crate::failure::Failure;
use crate::load;
use crate::output::Done;
use crate::write;

/// Runs the command.
pub fn run(args: &Folder, _common: &Common) -> Result<Done, Failure> {
    let folder = &args.folder;
    write::fresh_folder(folder)?;
    write::text(&folder.join(wythe_project::PROJECT_FILE), demo::PROJECT)?;
    write::text(&folder.join(wythe_project::SURVEY_FILE), demo::SURVEY)?;
    let (project, _) = load::project(folder)?;
    let Some(survey) = &project.survey else { return Ok(Done::default()) };
    for (number, recording) in survey.recordings.iter().enumerate() {
        let path = folder.join(&recording.file);
        let talk = project.building.room("mixing-room").filter(|_| number == 0);
        let plan = demo::Recording {
            state: recording.state.as_deref(),
            rooms: recording.channels.iter().map(|c| c.room).collect(),
            talk,
            number: number as u64,
        };
        let failed = |e: String| Failure::file(&path, e, "make room on the disk and try again");
        if let Some(inside) = path.parent() {
            std::fs::create_dir_all(inside).map_err(|e| Failure::unwritable(inside, &e))?;
        }
        let file = File::create(&path).map_err(|e| Failure::unwritable(&path, &e))?;
        demo::make(BufWriter::new(file), &project.building, &plan, &mut |_| {})
            .map_err(|e| failed(e.to_string()))?;
    }
    Ok(Done::default())
}
