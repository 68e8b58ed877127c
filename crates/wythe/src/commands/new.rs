//! `wythe new`: an empty, commented project.

use serde_json::json;

use crate::args::{Common, Folder};
use crate::failure::Failure;
use crate::output::{Done, print, print_json};
use crate::write;

/// Runs the command.
pub fn run(args: &Folder, common: &Common) -> Result<Done, Failure> {
    write::fresh_folder(&args.folder)?;
    write::text(&args.folder.join(wythe_project::PROJECT_FILE), &wythe_project::template())?;
    let folder = args.folder.display();
    if common.json {
        print_json(&json!({ "folder": folder.to_string(), "remarks": [] }))?;
        return Ok(Done::default());
    }
    print(&format!(
        "Started a project in {folder}\n\n  Describe your rooms in {folder}/{}, then\n    \
         wythe check {folder}\n    wythe predict {folder}\n",
        wythe_project::PROJECT_FILE
    ))?;
    Ok(Done::default())
}
