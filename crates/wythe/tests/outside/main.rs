//! What leaves the program, opened by programs of others: a browser prints, poppler reads the PDF.
//!
//! `test.sh` installs these and sets `WYTHE_OUTSIDE=1`; then a missing tool is a failure. Without
//! it a test whose tool is missing says so on standard error and is left out.

mod data;
mod disk;
mod printing;
#[allow(dead_code)]
#[path = "../cli/run.rs"]
mod run;
mod schemas;

use std::process::{Command, Stdio};

/// Whether a tool can be called; a failure where all have to be there.
fn there(tool: &str, question: &str) -> bool {
    let asked = Command::new(tool)
        .arg(question)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    if asked.is_ok() {
        return true;
    }
    assert!(std::env::var_os("WYTHE_OUTSIDE").is_none(), "`{tool}` is missing; run ./test.sh");
    eprintln!("left out: `{tool}` is not on this machine");
    false
}
