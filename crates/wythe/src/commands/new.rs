//! `wythe new`: an empty, commented project.

use crate::args::{Common, Folder};
use crate::failure::Failure;
use crate::output::{Done, print};
use crate::write;

/// Runs the command.
pub fn run(args: &Folder, _common: &Common) -> Result<Done, Failure> {
    write::fresh_folder(&args.folder)?;
    write::text(&args.folder.join(wythe_project::PROJECT_FILE), &wythe_project::template())?;
    let folder = args.folder.display();
    print(&format!(
        "Started a project in {folder}\n\n  Describe your rooms in {folder}/{}, then\n    \
         wythe check {folder}\n    wythe predict {folder}\n",
        wythe_project::PROJECT_FILE
    ))?;
    Ok(Done::default())
}
