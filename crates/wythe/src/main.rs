//! The command line of wythe: reads files, asks the crates, prints tables or JSON.
//!
//! Not here: any acoustics.

mod args;
mod cautions;
mod commands;
mod output;
mod pictures;
mod schema;

use std::process::ExitCode;

use clap::Parser;
use wythe_folder::{browser, demo, failure, found, gather, library, load, measuring, write};

use crate::args::{Args, Command};
use crate::failure::Failure;
use crate::output::Done;

fn main() -> ExitCode {
    let args = Args::parse();
    let result = match &args.command {
        Command::Demo(a) => commands::demo::run(a, &args.common),
        Command::New(a) => commands::new::run(a, &args.common),
        Command::Check(a) => commands::check::run(a, &args.common),
        Command::Predict(a) => commands::predict::run(a, &args.common),
        Command::Measure(a) => commands::measure::run(a, &args.common),
        Command::Protocol(a) => commands::protocol::run(a, &args.common),
        Command::Sweep(a) => commands::sweep::run(a, &args.common),
        Command::Explain(a) => commands::explain::run(a, &args.common),
        Command::Keep(a) => commands::keep::run(a, &args.common),
        Command::Remedy(a) => commands::remedy::run(a, &args.common),
        Command::Listen(a) => commands::listen::run(a, &args.common),
        Command::Report(a) => commands::report::run(a, &args.common),
        Command::Export(a) => commands::export::run(a, &args.common),
        Command::Archive(a) => commands::archive::run(a, &args.common),
        Command::Desk(a) => commands::desk::run(a, &args.common),
        Command::Partition(a) => commands::partition::run(a, &args.common),
        Command::Catalogue(a) => commands::catalogue::run(a, &args.common),
        Command::Dose(a) => commands::dose::run(a, &args.common),
        Command::Rate(a) => commands::rate::run(a, &args.common),
    };
    match result {
        Ok(Done { attention: true }) if args.common.strict => ExitCode::from(1),
        Ok(_) => ExitCode::SUCCESS,
        // A reader that went away (`wythe … | head`) is no failure of ours.
        Err(Failure::PipeClosed | Failure::Stopped) => ExitCode::SUCCESS,
        Err(failure) => {
            failure.print();
            ExitCode::from(2)
        }
    }
}
