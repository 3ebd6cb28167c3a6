//! What each command does.

use std::{
    io::{self, Write},
    net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr},
    process::ExitCode,
    time::Duration,
};

use crate::{
    api::{heavy, openapi},
    ask,
    config::{Command, Config, Probe},
    manual, serving,
    visible::visible,
};

/// Threads beside those that heavy work has places for: to pack answers, and because a place is free a moment before
/// its thread is. Without a bound that moment makes threads by the hundred where many clients go away.
const SPARE_THREADS: usize = 4;

/// Runs a command; says on standard error why it failed.
pub fn run(config: Config) -> ExitCode {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .max_blocking_threads(heavy::cores() + SPARE_THREADS)
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => return failed(&error),
    };
    let result = runtime.block_on(async {
        match config.command.unwrap_or(Command::Serve(config.serve)) {
            Command::Serve(flags) => serving::serve(flags).await,
            Command::Ask(flags) => return ask::ask(flags).await,
            Command::Spec => print(openapi::document()),
            Command::Probe(flags) => probe(flags).await,
            Command::Tour => crate::tour::play().await,
            Command::Completions { shell } => print(&manual::completions(shell)),
            Command::Man => print(&manual::page()?),
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

/// Prints to standard output; a closed pipe is an error, not a panic.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}

/// The address at which this machine reaches a server that listens on `address`.
pub fn reachable(mut address: SocketAddr) -> SocketAddr {
    match address.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => address.set_ip(Ipv4Addr::LOCALHOST.into()),
        IpAddr::V6(ip) if ip.is_unspecified() => address.set_ip(Ipv6Addr::LOCALHOST.into()),
        _ => {}
    }
    address
}

async fn probe(flags: Probe) -> io::Result<()> {
    let url = format!("http://{}/readyz", reachable(flags.listen));
    let client =
        reqwest::Client::builder().timeout(Duration::from_secs(5)).build().map_err(io::Error::other)?;
    let response = client.get(&url).send().await.map_err(io::Error::other)?;
    if response.status().is_success() {
        Ok(())
    } else {
        Err(io::Error::other(format!("{url} answers {}", response.status())))
    }
}
