//! The `serve` command: configuration from flags, listeners, reloading of keys, and log lines for the operator.

use std::{
    fmt::Write as _,
    io,
    net::SocketAddr,
    num::NonZeroU32,
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};

use clap::CommandFactory;
use tokio::{net::TcpListener, sync::watch};

use crate::{
    app::App,
    cli::{
        args::{Cli, Serve},
        io::print,
        log,
    },
    server::{
        auth::Keys,
        client_ip::Proxies,
        cors::Origins,
        descriptors,
        host_port::{HostPort, reachable},
        listener::{self, Signals},
        metrics::{Metrics, Refusal},
        rate_limit::Rate,
        state::{Config, Limits},
    },
};

/// The prefix of our environment variables.
const ENV_PREFIX: &str = "STOPWRIGHT_";
/// Time between log lines about refused calls.
const REFUSAL_LOG_INTERVAL: Duration = Duration::from_secs(10);
/// How long to wait for the last log lines to be written.
const LOG_FLUSH_TIMEOUT: Duration = Duration::from_secs(1);
/// The same if the process must exit at once.
const LOG_FLUSH_ON_EXIT: Duration = Duration::from_millis(100);

/// Serves until SIGTERM or SIGINT.
pub async fn serve(flags: Serve) -> io::Result<()> {
    log::init(flags.log_format, flags.log_level)?;
    let served = run(flags).await;
    log::flush(LOG_FLUSH_TIMEOUT);
    served
}

async fn run(flags: Serve) -> io::Result<()> {
    let limits = limits(flags.max_connections as usize)?;
    let listener = listen("--listen", &flags.listen).await?;
    let metrics_listener = match &flags.metrics_listen {
        Some(host_port) => Some(listen("--metrics-listen", host_port).await?),
        None => None,
    };
    let keys = flags.keys_file.as_deref().map(read_keys).transpose()?;
    keys.iter().for_each(warn_if_no_keys);
    let keys = keys.map(Arc::new);
    let (keys_sender, keys_receiver) = watch::channel(keys.clone());
    let app = App::new(Config {
        limits,
        keys: keys_receiver,
        rate: flags.rate_limit.and_then(NonZeroU32::new).map(|calls| Arc::new(Rate::per_second(calls))),
        proxies: Proxies::new(flags.trusted_proxies.clone()),
        origins: Origins::read(&flags.cors_origin)
            .map_err(|error| io::Error::other(format!("--cors-origin {error}")))?,
        ..Config::default()
    });
    if let Some(keys) = &keys {
        app.state().metrics.set_keys(keys);
    }
    reload_keys(flags.keys_file.clone(), keys_sender, Arc::clone(&app.state().metrics))?;
    let address = listener.local_addr()?;
    let mut signals = Signals::new();
    warn_about_config(&flags, address);
    let reachable = reachable(address);
    let mut text = format!(
        "listening on http://{address}\ntry: curl 'http://{reachable}/v1/stops/convert?from=f/8&to=f/11'\n"
    );
    if let Some(listener) = metrics_listener {
        let address = listener.local_addr()?;
        if address.ip().is_unspecified() {
            tracing::warn!("counts at {address} are open to all who reach it; see --metrics-listen");
        }
        // Writing to a String cannot fail.
        let _ = writeln!(text, "counts at http://{address}/metrics");
        let stopping = app.state().stopping.subscribe();
        let metrics = Arc::clone(&app.state().metrics);
        tokio::spawn(listener::serve_metrics(listener, limits.metrics_connections, metrics, stopping));
    }
    announce(text)?;
    tokio::spawn(log_refusals(Arc::clone(&app.state().metrics)));
    tracing::info!(
        version = env!("CARGO_PKG_VERSION"),
        %address,
        connections_most = limits.connections,
        keys = keys.map_or(0, |keys| keys.count()),
        rate_limit = flags.rate_limit,
        trusted_proxies = flags.trusted_proxies.len(),
        cors_origins = flags.cors_origin.len(),
        "started"
    );
    let stop = async move {
        signals.next().await;
        tracing::info!("stopping");
        tokio::spawn(exit_on_next_signal(signals));
    };
    let served = app.serve(listener, stop).await;
    tracing::info!("stopped");
    served
}

async fn listen(flag: &str, host_port: &HostPort) -> io::Result<TcpListener> {
    let named = |error: io::Error| {
        io::Error::new(error.kind(), format!("{flag}: cannot listen on {host_port}: {error}"))
    };
    host_port.listen().await.map_err(named)
}

/// Limits for so many connections, reduced to what the process's limit of descriptors allows.
fn limits(connections: usize) -> io::Result<Limits> {
    let wanted = Limits { connections, ..Limits::default() };
    let Some(most) = descriptors::limit() else { return Ok(wanted) };
    let Some(limits) = descriptors::fit(most, wanted) else {
        let error =
            format!("the system lets this process open {most} descriptors, too few to serve; see ulimit -n");
        return Err(io::Error::other(error));
    };
    if limits.connections < connections {
        tracing::warn!(
            "the system lets this process open {most} descriptors, so it takes {} connections at once, not \
             {connections}; see ulimit -n and --max-connections",
            limits.connections
        );
    }
    Ok(limits)
}

/// Prints where the service listens. On a thread of its own, so that it serves even if nobody reads standard output.
fn announce(text: String) -> io::Result<()> {
    std::thread::Builder::new().name("announce".to_owned()).spawn(move || {
        if let Err(error) = print(&text) {
            tracing::warn!("standard output: {error}");
        }
    })?;
    Ok(())
}

/// Exits at the next signal, whatever is in flight: a second signal means that the operator does not want to wait.
async fn exit_on_next_signal(mut signals: Signals) {
    let status = signals.next().await;
    tracing::warn!("second signal: requests in flight are dropped");
    log::flush(LOG_FLUSH_ON_EXIT);
    std::process::exit(status);
}

/// An empty keys file means that nobody may call, which may be a mistake.
fn warn_if_no_keys(keys: &Keys) {
    if keys.count() == 0 {
        tracing::warn!("no key is in the file: nobody may call");
    }
}

fn read_keys(path: &Path) -> io::Result<Keys> {
    let named = |error: &str| io::Error::other(format!("--keys-file {}: {error}", path.display()));
    let text = std::fs::read_to_string(path).map_err(|error| named(&error.to_string()))?;
    Keys::read(&text).map_err(|error| named(&error))
}

/// Reloads the keys on each SIGHUP. If the file cannot be read, the keys stay unchanged. Without a keys file the signal
/// only logs a warning, rather than end the process.
fn reload_keys(
    path: Option<PathBuf>,
    sender: watch::Sender<Option<Arc<Keys>>>,
    metrics: Arc<Metrics>,
) -> io::Result<()> {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let mut hangups = signal(SignalKind::hangup())?;
        tokio::spawn(async move {
            while hangups.recv().await.is_some() {
                let Some(path) = &path else {
                    tracing::warn!("there is no file of keys to read anew; see --keys-file");
                    continue;
                };
                match read_keys(path) {
                    Ok(keys) => {
                        // Before the new keys are valid, so that no call with a new name goes uncounted.
                        metrics.set_keys(&keys);
                        warn_if_no_keys(&keys);
                        tracing::info!(keys = keys.count(), "the keys are read anew");
                        let _ = sender.send(Some(Arc::new(keys)));
                    }
                    Err(error) => {
                        metrics.count_failed_key_reload();
                        tracing::warn!("the keys stay as they are: {error}");
                    }
                }
            }
        });
    }
    Ok(())
}

/// Warns about configuration that works and may be a mistake: no keys on a public address, unknown variables.
fn warn_about_config(flags: &Serve, address: SocketAddr) {
    if flags.keys_file.is_none() && !address.ip().is_loopback() {
        tracing::warn!("{address} is open to all; see --keys-file and --rate-limit");
    }
    let command = Cli::command();
    let known = |name: &str| {
        let arguments =
            command.get_arguments().chain(command.get_subcommands().flat_map(clap::Command::get_arguments));
        arguments.filter_map(clap::Arg::get_env).any(|variable| variable == name)
    };
    for (name, _) in std::env::vars_os() {
        if let Some(name) = name.to_str().filter(|name| name.starts_with(ENV_PREFIX) && !known(name)) {
            tracing::warn!("the environment variable {name} is none of this service's");
        }
    }
}

/// Logs at intervals how many calls were refused, if any were.
async fn log_refusals(metrics: Arc<Metrics>) {
    let mut before = metrics.refusals();
    loop {
        tokio::time::sleep(REFUSAL_LOG_INTERVAL).await;
        let now = metrics.refusals();
        let since_last = |reason: Refusal| now[reason as usize] - before[reason as usize];
        if now != before {
            tracing::warn!(
                connections = since_last(Refusal::Connections),
                busy = since_last(Refusal::Busy),
                rate = since_last(Refusal::Rate),
                key = since_last(Refusal::Key),
                "calls were refused in the last {} s",
                REFUSAL_LOG_INTERVAL.as_secs()
            );
        }
        before = now;
    }
}
