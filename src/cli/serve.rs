//! Serving: terms out of flags, listeners, keys that are read anew, and what an operator is told.

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

/// What environment variables of ours begin with.
const OURS: &str = "STOPWRIGHT_";
/// Time between lines of the log that tell of calls refused.
const REFUSALS_EVERY: Duration = Duration::from_secs(10);
/// Time that the last lines of the log have to be written.
const LAST_LINES: Duration = Duration::from_secs(1);
/// The same where the process is to end at once.
const LAST_LINES_IN_HASTE: Duration = Duration::from_millis(100);

/// Serves by these flags until a signal.
pub async fn serve(flags: Serve) -> io::Result<()> {
    log::begin(flags.log_format, flags.log_level)?;
    let served = begun(flags).await;
    log::flush(LAST_LINES);
    served
}

async fn begun(flags: Serve) -> io::Result<()> {
    let limits = limits(flags.max_connections as usize)?;
    let listener = listen("--listen", &flags.listen).await?;
    let counts = match &flags.metrics_listen {
        Some(place) => Some(listen("--metrics-listen", place).await?),
        None => None,
    };
    let keys = flags.keys_file.as_deref().map(read_keys).transpose()?;
    keys.iter().for_each(warn_of_no_key);
    let keys = keys.map(Arc::new);
    let (set, gate) = watch::channel(keys.clone());
    let app = App::new(Config {
        limits,
        gate,
        rate: flags.rate_limit.and_then(NonZeroU32::new).map(|calls| Arc::new(Rate::per_second(calls))),
        proxies: Proxies::new(flags.trusted_proxies.clone()),
        origins: Origins::read(&flags.cors_origin)
            .map_err(|error| io::Error::other(format!("--cors-origin {error}")))?,
    });
    if let Some(keys) = &keys {
        app.state().metrics.keys_are(keys);
    }
    read_anew(flags.keys_file.clone(), set, Arc::clone(&app.state().metrics))?;
    let address = listener.local_addr()?;
    let mut signals = Signals::new();
    warn_of_what_is_odd(&flags, address);
    let here = reachable(address);
    let mut told = format!(
        "listening on http://{address}\ntry: curl 'http://{here}/v1/stops/convert?from=f/8&to=f/11'\n"
    );
    if let Some(listener) = counts {
        let address = listener.local_addr()?;
        if address.ip().is_unspecified() {
            tracing::warn!("counts at {address} are open to all who reach it; see --metrics-listen");
        }
        // Writing to a String cannot fail.
        let _ = writeln!(told, "counts at http://{address}/metrics");
        let stopping = app.state().stopping.subscribe();
        let traffic = Arc::clone(&app.state().metrics);
        tokio::spawn(listener::serve_counts(listener, limits.scrapers, traffic, stopping));
    }
    announce(told)?;
    tokio::spawn(tell_refusals(Arc::clone(&app.state().metrics)));
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
        tokio::spawn(end_at_the_next(signals));
    };
    let served = app.serve(listener, stop).await;
    tracing::info!("stopped");
    served
}

async fn listen(flag: &str, place: &HostPort) -> io::Result<TcpListener> {
    let wrong =
        |error: io::Error| io::Error::new(error.kind(), format!("{flag}: cannot listen on {place}: {error}"));
    place.listen().await.map_err(wrong)
}

/// The limits of a service that may have so many connections, as far as the system lets it open them.
fn limits(connections: usize) -> io::Result<Limits> {
    let wanted = Limits { connections, ..Limits::default() };
    let Some(most) = descriptors::most() else { return Ok(wanted) };
    let Some(limits) = descriptors::within(most, wanted) else {
        let told =
            format!("the system lets this process open {most} descriptors, too few to serve; see ulimit -n");
        return Err(io::Error::other(told));
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

/// Prints where the service is, from a thread of its own: it serves even where nobody takes what is printed.
fn announce(text: String) -> io::Result<()> {
    std::thread::Builder::new().name("announce".to_owned()).spawn(move || {
        if let Err(error) = print(&text) {
            tracing::warn!("standard output: {error}");
        }
    })?;
    Ok(())
}

/// Ends the process at the next signal, whatever is in flight: who asks twice does not want to wait.
async fn end_at_the_next(mut signals: Signals) {
    let status = signals.next().await;
    tracing::warn!("told to stop once more: what is in flight is given up");
    log::flush(LAST_LINES_IN_HASTE);
    std::process::exit(status);
}

/// A file that is emptied takes all keys back, and one that is empty from the start gives none out.
fn warn_of_no_key(keys: &Keys) {
    if keys.count() == 0 {
        tracing::warn!("no key is in the file: nobody may call");
    }
}

fn read_keys(path: &Path) -> io::Result<Keys> {
    let wrong = |error: &str| io::Error::other(format!("--keys-file {}: {error}", path.display()));
    let text = std::fs::read_to_string(path).map_err(|error| wrong(&error.to_string()))?;
    Keys::read(&text).map_err(|error| wrong(&error))
}

/// Reads the keys anew on each SIGHUP; a file that cannot be read leaves them as they are. Without a file the signal
/// does nothing, rather than end the process.
fn read_anew(
    path: Option<PathBuf>,
    set: watch::Sender<Option<Arc<Keys>>>,
    traffic: Arc<Metrics>,
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
                        // Before any of them is taken, so that no call with a new name goes uncounted.
                        traffic.keys_are(&keys);
                        warn_of_no_key(&keys);
                        tracing::info!(keys = keys.count(), "the keys are read anew");
                        let _ = set.send(Some(Arc::new(keys)));
                    }
                    Err(error) => {
                        traffic.keys_not_read();
                        tracing::warn!("the keys stay as they are: {error}");
                    }
                }
            }
        });
    }
    Ok(())
}

/// Tells of what starts well and may not be meant.
fn warn_of_what_is_odd(flags: &Serve, address: SocketAddr) {
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
        if let Some(name) = name.to_str().filter(|name| name.starts_with(OURS) && !known(name)) {
            tracing::warn!("the environment variable {name} is none of this service's");
        }
    }
}

/// Tells now and then how many calls were refused, if any were.
async fn tell_refusals(traffic: Arc<Metrics>) {
    let mut before = traffic.refused();
    loop {
        tokio::time::sleep(REFUSALS_EVERY).await;
        let now = traffic.refused();
        let of = |reason: Refusal| now[reason as usize] - before[reason as usize];
        if now != before {
            tracing::warn!(
                connections = of(Refusal::Connections),
                busy = of(Refusal::Busy),
                rate = of(Refusal::Rate),
                key = of(Refusal::Key),
                "calls were refused in the last {} s",
                REFUSALS_EVERY.as_secs()
            );
        }
        before = now;
    }
}
