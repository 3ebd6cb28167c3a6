//! The `stopwright` binary: parses the command line and runs the command.

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    stopwright::cli::run(stopwright::cli::args::Cli::parse())
}
