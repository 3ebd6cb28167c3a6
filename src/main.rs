//! The command line of Stopwright.

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    stopwright::run::run(stopwright::config::Config::parse())
}
