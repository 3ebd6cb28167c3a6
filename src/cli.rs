//! The command line: the flags and the commands `serve`, `ask`, `spec`, `probe`, `tour`, `completions` and `man`.
//!
//! `args.rs` declares the flags, `help.rs` prints their help, one file holds each command, `io.rs` prints. `ask` and `tour` go through the whole
//! application, so a person at a shell gets the same answers as a client of the API.

pub mod args;
pub mod ask;
pub mod help;
pub(crate) mod io;
pub mod log;
pub(crate) mod man;
pub(crate) mod probe;
pub(crate) mod serve;
pub(crate) mod tour;

use std::{
    io::{Error, Write, stderr},
    process::ExitCode,
};

use self::{
    args::{Cli, Command},
    io::print,
};
use crate::{openapi, server::worker_pool, wording::visible::visible};

/// Blocking threads beyond those of the worker pool: for name look-ups, and because a job ends a moment before its
/// thread is free. Without a limit, many clients that disconnect at once would start hundreds of threads in that
/// moment.
const SPARE_THREADS: usize = 4;

/// Runs a command. If it fails, prints the reason to standard error.
pub fn run(config: Cli) -> ExitCode {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .max_blocking_threads(worker_pool::threads() + SPARE_THREADS)
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => return report_failure(&error),
    };
    let result = runtime.block_on(async {
        match config.command.unwrap_or(Command::Serve(config.serve)) {
            Command::Serve(flags) => serve::serve(flags).await,
            Command::Ask(flags) => return ask::ask(flags).await,
            Command::Spec => print(openapi::document()),
            Command::Probe(flags) => probe::probe(flags).await,
            Command::Tour(flags) => tour::play(flags).await,
            Command::Completions { shell } => print(&man::completions(shell)),
            Command::Man => print(&man::page()?),
        }
        .map(|()| ExitCode::SUCCESS)
    });
    result.unwrap_or_else(|error| report_failure(&error))
}

fn report_failure(error: &Error) -> ExitCode {
    // If standard error is closed, there is nowhere to report it.
    let _ = writeln!(stderr(), "stopwright: {}", visible(&error.to_string()));
    ExitCode::FAILURE
}
