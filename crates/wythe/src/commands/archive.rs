//! `wythe archive`: a project in one file, and out of it again.

use serde_json::json;
use wythe_folder::archive::{Contents, open, pack};

use crate::args::{self, Common};
use crate::failure::Failure;
use crate::output::{Done, print, print_json};

/// Runs the command.
pub fn run(args: &args::Archive, common: &Common) -> Result<Done, Failure> {
    let out = args.output.display();
    let (contents, heading) = match (&args.open, &args.folder) {
        (Some(archive), _) => (open(archive, &args.output)?, format!("Opened into {out}")),
        (None, Some(folder)) => {
            (pack(folder, &args.output, !args.without_recordings)?, format!("Packed into {out}"))
        }
        // The command line asks for one of the two before it comes here.
        (None, None) => {
            return Err(Failure::new("nothing to pack", "give a project folder, or --open FILE"));
        }
    };
    if common.json {
        print_json(&record(&contents, &out.to_string()))?;
    } else {
        let bytes: u64 = contents.files.iter().map(|f| f.bytes).sum();
        let mut text = format!(
            "{heading}: {} files, {:.1} MB, each compared with its fingerprint{}\n",
            contents.files.len(),
            bytes as f64 / 1e6,
            match contents.files.iter().filter(|f| f.samples.is_some()).count() {
                0 => String::new(),
                n => format!("; samples of {n} recordings as FLAC, without loss"),
            }
        );
        for (name, why) in &contents.left_out {
            text.push_str(&format!("  not in it: {name} {why}\n"));
        }
        print(&text)?;
    }
    Ok(Done::default())
}

fn record(contents: &Contents, written: &str) -> serde_json::Value {
    json!({
        "written": written,
        "files": contents.files.iter().map(|f| json!({
            "name": f.name, "bytes": f.bytes, "sha256": f.sha256, "as_flac": f.samples.is_some(),
        })).collect::<Vec<_>>(),
        "left_out": contents.left_out.iter().map(|(name, why)| json!({
            "name": name, "why": why,
        })).collect::<Vec<_>>(),
        "remarks": [],
    })
}
