//! What each command does.

use std::{
    io::{self, Write},
    net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr},
    path::{Path, PathBuf},
    process::ExitCode,
    sync::Arc,
    time::Duration,
};

use tokio::{net::TcpListener, sync::watch};

use crate::{
    api::{
        keys::{self, Gate, Keys},
        openapi, serve,
    },
    config::{Command, Config, Probe, Serve},
};

/// Runs a command; says on standard error why it failed.
pub fn run(config: Config) -> ExitCode {
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
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
    let limits = serve::Limits { connections: flags.max_connections, ..serve::Limits::default() };
    let listener = TcpListener::bind(flags.listen).await.map_err(|error| {
        io::Error::new(error.kind(), format!("cannot listen on {}: {error}", flags.listen))
    })?;
    let address = listener.local_addr()?;
    let gate = match &flags.keys_file {
        Some(path) => guarded(path.clone())?,
        None => {
            if !address.ip().is_loopback() {
                // Where standard error is closed, there is nobody to warn.
                let _ =
                    writeln!(io::stderr(), "stopwright: warning: {address} is open to all; see --keys-file");
            }
            keys::open()
        }
    };
    let here = reachable(address);
    print(&format!(
        "listening on http://{address}\ntry: curl 'http://{here}/v1/stops/convert?from=f/8&to=f/11'\n"
    ))?;
    serve::serve(listener, limits, gate, serve::signal()).await
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
                    }
                    Err(error) => {
                        let _ = writeln!(io::stderr(), "stopwright: the keys stay as they are: {error}");
                    }
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
