//! `wythe desk`: the workbench in the browser.

use std::process::{Command, Stdio};

use serde_json::json;
use wythe_desk::{Options, serve};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::load;
use crate::output::{Done, print, print_json};

/// Runs the command; it ends with the process.
pub fn run(args: &args::Desk, common: &Common) -> Result<Done, Failure> {
    if let Some(folder) = &args.folder {
        // A folder without a project is refused with the usual words.
        load::reading(folder)?;
    }
    let options = Options { folder: args.folder.clone(), port: args.port };
    let started = |address: &str| {
        let told = if common.json {
            print_json(&json!({ "address": address, "remarks": [] }))
        } else {
            print(&format!("The desk is at\n  {address}\nEnd it with Ctrl C.\n"))
        };
        // Nobody reading the address does not stop the desk.
        drop(told);
        if !args.no_browser && !common.json {
            open_browser(address);
        }
    };
    serve(&options, started)
        .map_err(|e| Failure::new(e.to_string(), "try another --port, or close the other desk"))?;
    Ok(Done::default())
}

/// Asks the system to show an address; where it cannot, the address is printed anyway.
fn open_browser(address: &str) {
    let mut command = if cfg!(target_os = "macos") {
        Command::new("open")
    } else if cfg!(target_os = "windows") {
        let mut start = Command::new("rundll32");
        start.arg("url.dll,FileProtocolHandler");
        start
    } else {
        Command::new("xdg-open")
    };
    let _ = command.arg(address).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
}
