//! The `stopwright` binary: parses the command line and runs the command.

use std::process::ExitCode;

use clap::Parser;
use stopwright::cli::{self, args::Cli};

fn main() -> ExitCode {
    match Cli::try_parse() {
        Ok(config) => cli::run(config),
        Err(error) => cli::help::show(&error),
    }
}
