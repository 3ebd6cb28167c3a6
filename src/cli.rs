//! What each command does.

pub mod args;
pub mod ask;
pub mod log;
pub(crate) mod man;
pub(crate) mod serve;
pub(crate) mod tour;

use std::{
    io::{self, Write},
    process::ExitCode,
    time::Duration,
};

use self::args::{Command, Config, Probe};
use crate::{openapi, server::worker_pool, wording::visible::visible};

/// Threads beside those of slow calculations: to pack answers, and because a calculation has ended a moment before its
/// thread is free. Without a bound that moment makes threads by the hundred where many clients go away.
const SPARE_THREADS: usize = 4;

/// Runs a command; says on standard error why it failed.
pub fn run(config: Config) -> ExitCode {
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
            Command::Probe(flags) => probe(flags).await,
            Command::Tour => crate::cli::tour::play().await,
            Command::Completions { shell } => print(&man::completions(shell)),
            Command::Man => print(&man::page()?),
        }
        .map(|()| ExitCode::SUCCESS)
    });
    result.unwrap_or_else(|error| failed(&error))
}

fn failed(error: &io::Error) -> ExitCode {
    // Where standard error is closed, there is nobody to tell.
    let _ = writeln!(io::stderr(), "stopwright: {}", visible(&error.to_string()));
    ExitCode::FAILURE
}

/// Prints to standard output. Who closes the pipe has read enough, as `head` does: that is no error.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        printed => printed,
    }
}

async fn probe(flags: Probe) -> io::Result<()> {
    let url = format!("http://{}/readyz", flags.listen.reachable());
    // A proxy in the environment is for the world outside, and may not reach this machine's own addresses.
    let client = reqwest::Client::builder().timeout(Duration::from_secs(5)).no_proxy();
    let client = client.build().map_err(io::Error::other)?;
    let response = client.get(&url).send().await.map_err(io::Error::other)?;
    if response.status().is_success() {
        Ok(())
    } else {
        Err(io::Error::other(format!("{url} answers {}", response.status())))
    }
}
