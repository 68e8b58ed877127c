//! `wythe desk`: the workbench in the browser.

use std::process::{Command, Stdio};

use serde_json::json;
use wythe_desk::{DeskError, Options, Started, serve};

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
    let options =
        Options { folder: args.folder.clone(), port: args.port, share: args.share.clone() };
    let started = |started: &Started| {
        let address = &started.address;
        let told = if common.json {
            print_json(&json!({
                "address": address,
                "phones": started.share.as_ref().map(|(a, code)| json!({
                    "address": a, "code": code,
                })),
                "remarks": [],
            }))
        } else {
            let phones = started.share.as_ref().map_or(String::new(), |(a, code)| {
                format!(
                    "Phones of the local network find it at\n  {a}   with the code {code}, for ten \
                     minutes; a new one is made on the page Phone.\n"
                )
            });
            print(&format!("The desk is at\n  {address}\n{phones}End it with Ctrl C.\n"))
        };
        // Nobody reading the address does not stop the desk.
        drop(told);
        if !args.no_browser && !common.json {
            open_browser(address);
        }
    };
    serve(&options, started).map_err(|e| {
        let help = match e {
            DeskError::Share(_) => "leave --share out, or give --share=ADDRESS",
            _ => "try another --port, or close the other desk",
        };
        Failure::new(e.to_string(), help)
    })?;
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
