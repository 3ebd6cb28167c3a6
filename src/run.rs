//! What each command does.

use std::{
    io::{self, Write},
    net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr},
    num::NonZeroU32,
    path::{Path, PathBuf},
    process::ExitCode,
    sync::Arc,
    time::Duration,
};

use tokio::{net::TcpListener, sync::watch};

use crate::{
    api::{
        caller::Proxies,
        front::Front,
        heavy,
        keys::{self, Gate, Keys},
        openapi,
        origins::Origins,
        rate::Rate,
        running::{Limits, Terms},
        serve,
    },
    config::{Command, Config, Probe, Serve},
    logs,
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
            Command::Serve(flags) => serve_at(flags).await,
            Command::Spec => print(openapi::document()),
            Command::Probe(flags) => probe(flags).await,
            Command::Tour => crate::tour::play().await,
        }
    });
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => failed(&error),
    }
}

fn failed(error: &io::Error) -> ExitCode {
    // Where standard error is closed, there is nobody to tell.
    let _ = writeln!(io::stderr(), "stopwright: {error}");
    ExitCode::FAILURE
}

/// Prints to standard output; a closed pipe is an error, not a panic.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}

async fn serve_at(flags: Serve) -> io::Result<()> {
    logs::begin(flags.log_format, flags.log_level);
    let listener = listen(flags.listen).await?;
    let address = listener.local_addr()?;
    let is_open = flags.keys_file.is_none() && !address.ip().is_loopback();
    let front = Front::new(terms(&flags)?);
    let here = reachable(address);
    let stop = serve::signal();
    if is_open {
        tracing::warn!("{address} is open to all; see --keys-file and --rate-limit");
    }
    print(&format!(
        "listening on http://{address}\ntry: curl 'http://{here}/v1/stops/convert?from=f/8&to=f/11'\n"
    ))?;
    if let Some(counts) = flags.metrics_listen {
        let listener = listen(counts).await?;
        print(&format!("counts at http://{}/metrics\n", listener.local_addr()?))?;
        tokio::spawn(serve::serve_counts(listener, Arc::clone(front.traffic())));
    }
    tracing::info!(version = env!("CARGO_PKG_VERSION"), %address, "started");
    let served = serve::serve(listener, front, stop).await;
    tracing::info!("stopped");
    served
}

async fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    TcpListener::bind(address)
        .await
        .map_err(|error| io::Error::new(error.kind(), format!("cannot listen on {address}: {error}")))
}

fn terms(flags: &Serve) -> io::Result<Terms> {
    let wrong = |error: String| io::Error::other(error);
    Ok(Terms {
        limits: Limits { connections: flags.max_connections, ..Limits::default() },
        gate: flags.keys_file.clone().map_or_else(|| Ok(keys::open()), guarded)?,
        rate: flags.rate_limit.and_then(NonZeroU32::new).map(Rate::per_second),
        proxies: Proxies::new(flags.trusted_proxies.clone()),
        origins: Origins::read(&flags.cors_origin).map_err(wrong)?,
    })
}

/// A gate by a file of keys, read anew on SIGHUP; a file that cannot be read leaves the keys as they are.
fn guarded(path: PathBuf) -> io::Result<Gate> {
    let (set, gate) = watch::channel(Some(Arc::new(read_keys(&path)?)));
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let mut hangups = signal(SignalKind::hangup())?;
        tokio::spawn(async move {
            while hangups.recv().await.is_some() {
                match read_keys(&path) {
                    Ok(keys) => {
                        let _ = set.send(Some(Arc::new(keys)));
                        tracing::info!("the keys are read anew");
                    }
                    Err(error) => tracing::warn!("the keys stay as they are: {error}"),
                }
            }
        });
    }
    Ok(gate)
}

fn read_keys(path: &Path) -> io::Result<Keys> {
    let wrong = |error: &str| io::Error::other(format!("{}: {error}", path.display()));
    let text = std::fs::read_to_string(path).map_err(|error| wrong(&error.to_string()))?;
    Keys::read(&text).map_err(|error| wrong(&error))
}

/// The address at which this machine reaches a server that listens on `address`.
fn reachable(mut address: SocketAddr) -> SocketAddr {
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
