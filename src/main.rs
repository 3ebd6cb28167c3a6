//! The command line of Stopwright.

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    stopwright::cli::run(stopwright::cli::args::Cli::parse())
}
