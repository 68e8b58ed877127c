//! The desk: the whole job in the browser, for one machine.
//!
//! [`serve`] runs a server bound to this machine that shows one project at a time. Pages are HTML
//! made here, pictures come from `wythe-report`, every figure from the crates below; the scripts
//! in `web/` handle what a hand does and compute no acoustics.
//!
//! Where each piece of state lives:
//!
//! | state | lives in |
//! | --- | --- |
//! | everything described | `wythe.toml`, `survey.toml` |
//! | earlier versions, undo | `.wythe/history/` in the project folder |
//! | recordings | `recordings/` in the project folder |
//! | scans of plans | `drawings/` in the project folder |
//! | which source, room, state, build-up is looked at | the address |
//! | projects opened lately | a list in the user's configuration folder |
//! | light or dark | the browser |
//! | results | memory; computed again from the files |
//! | paired phones and their code | memory; ending the desk sends them away |
//!
//! Not here: acoustics, the project's format, and anything that needs a network.

mod assets;
mod desk;
mod downloads;
mod edit;
mod first;
mod guard;
mod making;
mod note;
mod pages;
mod player;
mod recent;
mod routes;
mod scene;
mod shape;
mod share;
mod sheet;
mod slide;
mod sound;
mod store;
mod survey_edit;
mod tracing;
mod trials;
mod units;
mod upload;
mod walls;
mod work;

pub use desk::{DeskError, Options, Started, serve};
pub use share::ShareError;

use wythe_folder::failure::Failure;

/// A failure laid out for a terminal as one line for a page.
fn words_of(failure: &Failure) -> String {
    match failure {
        Failure::Messages(all) => all
            .iter()
            .map(|m| {
                m.lines()
                    .map(|l| l.trim().trim_start_matches("error: ").trim_start_matches("= "))
                    .filter(|l| !l.starts_with("at "))
                    .collect::<Vec<_>>()
                    .join("; ")
            })
            .collect::<Vec<_>>()
            .join(" "),
        Failure::PipeClosed => "the output went away".into(),
        Failure::Stopped => "stopped as asked".into(),
    }
}
