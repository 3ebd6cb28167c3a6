//! Serving: terms out of flags, listeners, keys that are read anew, and what an operator is told.

use std::{
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
    api::{
        caller::Proxies,
        front::Front,
        keys::Keys,
        origins::Origins,
        rate::Rate,
        running::{Limits, Terms},
        serve,
        traffic::{Refusal, Traffic},
    },
    config::{Config, Serve},
    logs,
    run::{print, reachable},
};

/// What environment variables of ours begin with.
const OURS: &str = "STOPWRIGHT_";
/// Time between lines of the log that tell of calls refused.
const REFUSALS_EVERY: Duration = Duration::from_secs(10);
/// Descriptors that are not for connections: listeners, standard streams, the runtime's own.
const DESCRIPTORS_BESIDE: usize = 64;

/// Serves by these flags until a signal.
pub async fn serve(flags: Serve) -> io::Result<()> {
    logs::begin(flags.log_format, flags.log_level);
    let listener = listen("--listen", flags.listen).await?;
    let counts = match flags.metrics_listen {
        Some(address) => Some(listen("--metrics-listen", address).await?),
        None => None,
    };
    let keys = flags.keys_file.as_deref().map(read_keys).transpose()?;
    keys.iter().for_each(warn_of_no_key);
    let count = keys.as_ref().map_or(0, Keys::count);
    let (set, gate) = watch::channel(keys.map(Arc::new));
    let front = Front::new(Terms {
        limits: Limits { connections: flags.max_connections as usize, ..Limits::default() },
        gate,
        rate: flags.rate_limit.and_then(NonZeroU32::new).map(Rate::per_second),
        proxies: Proxies::new(flags.trusted_proxies.clone()),
        origins: Origins::read(&flags.cors_origin)
            .map_err(|error| io::Error::other(format!("--cors-origin {error}")))?,
    });
    front.traffic().keys_read(Some(count));
    read_anew(flags.keys_file.clone(), set, Arc::clone(front.traffic()))?;
    let address = listener.local_addr()?;
    let stop = serve::signal();
    warn_of_what_is_odd(&flags, address);
    let here = reachable(address);
    print(&format!(
        "listening on http://{address}\ntry: curl 'http://{here}/v1/stops/convert?from=f/8&to=f/11'\n"
    ))?;
    if let Some(listener) = counts {
        print(&format!("counts at http://{}/metrics\n", listener.local_addr()?))?;
        let stopping = front.running().stopping.subscribe();
        tokio::spawn(serve::serve_counts(listener, Arc::clone(front.traffic()), stopping));
    }
    tokio::spawn(tell_refusals(Arc::clone(front.traffic())));
    tracing::info!(
        version = env!("CARGO_PKG_VERSION"),
        %address,
        connections_most = flags.max_connections,
        keys = count,
        rate_limit = flags.rate_limit,
        trusted_proxies = flags.trusted_proxies.len(),
        cors_origins = flags.cors_origin.len(),
        "started"
    );
    let stop = async move {
        stop.await;
        tracing::info!("stopping");
    };
    let served = serve::serve(listener, front, stop).await;
    tracing::info!("stopped");
    served
}

async fn listen(flag: &str, address: SocketAddr) -> io::Result<TcpListener> {
    TcpListener::bind(address)
        .await
        .map_err(|error| io::Error::new(error.kind(), format!("{flag}: cannot listen on {address}: {error}")))
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
    traffic: Arc<Traffic>,
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
                        traffic.keys_read(Some(keys.count()));
                        warn_of_no_key(&keys);
                        tracing::info!(keys = keys.count(), "the keys are read anew");
                        let _ = set.send(Some(Arc::new(keys)));
                    }
                    Err(error) => {
                        traffic.keys_read(None);
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
    if let Some(counts) = flags.metrics_listen.filter(|counts| counts.ip().is_unspecified()) {
        tracing::warn!("counts at {counts} are open to all who reach it; see --metrics-listen");
    }
    let command = Config::command();
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
    #[cfg(unix)]
    if let Some(most) = rustix::process::getrlimit(rustix::process::Resource::Nofile).current
        && most < u64::from(flags.max_connections) + DESCRIPTORS_BESIDE as u64
    {
        tracing::warn!(
            "the system lets this process open {most} descriptors, too few for {} connections; see --max-connections",
            flags.max_connections
        );
    }
}

/// Tells now and then how many calls were refused, if any were.
async fn tell_refusals(traffic: Arc<Traffic>) {
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
