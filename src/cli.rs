//! What each command does.

pub mod args;
pub mod ask;
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

/// Threads beside those of slow calculations: to pack answers, and because a calculation has ended a moment before its
/// thread is free. Without a bound that moment makes threads by the hundred where many clients go away.
const SPARE_THREADS: usize = 4;

/// Runs a command; says on standard error why it failed.
pub fn run(config: Cli) -> ExitCode {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .max_blocking_threads(worker_pool::threads() + SPARE_THREADS)
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => return failed(&error),
    };
    let result = runtime.block_on(async {
        match config.command.unwrap_or(Command::Serve(config.serve)) {
            Command::Serve(flags) => serve::serve(flags).await,
            Command::Ask(flags) => return ask::ask(flags).await,
            Command::Spec => print(openapi::document()),
            Command::Probe(flags) => probe::probe(flags).await,
            Command::Tour => tour::play().await,
            Command::Completions { shell } => print(&man::completions(shell)),
            Command::Man => print(&man::page()?),
        }
        .map(|()| ExitCode::SUCCESS)
    });
    result.unwrap_or_else(|error| failed(&error))
}

fn failed(error: &Error) -> ExitCode {
    // Where standard error is closed, there is nobody to tell.
    let _ = writeln!(stderr(), "stopwright: {}", visible(&error.to_string()));
    ExitCode::FAILURE
}
