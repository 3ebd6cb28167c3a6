//! Flags and environment, each with its default.

use std::{net::SocketAddr, path::PathBuf};

use clap::{Args, Parser, Subcommand};
use ipnet::IpNet;

use crate::{
    api::{rate, running::CONNECTIONS},
    logs::{Format, Least},
};

/// The lighting arithmetic of a flash studio, as an HTTP JSON API.
#[derive(Debug, Parser)]
#[command(version, about, args_conflicts_with_subcommands = true)]
pub struct Config {
    /// What to do; `serve` if left out.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Flags of `serve`.
    #[command(flatten)]
    pub serve: Serve,
}

/// What the program can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serve the API.
    Serve(Serve),
    /// Print the OpenAPI document.
    Spec,
    /// Ask a running server whether it is ready: exit status 0 or 1.
    Probe(Probe),
    /// Start a server on a free port and play a worked studio day through it.
    Tour,
}

/// Where to listen, and to how many.
#[derive(Debug, Args)]
pub struct Serve {
    /// Address and port; port 0 picks a free one.
    #[arg(long, env = "STOPWRIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: SocketAddr,
    /// Connections at once; those beyond are answered with 503.
    #[arg(long, env = "STOPWRIGHT_MAX_CONNECTIONS", default_value_t = CONNECTIONS, value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub max_connections: u32,
    /// File of who may call: a name and the SHA-256 of a key on each line; read anew on SIGHUP. Without it all may.
    #[arg(long, env = "STOPWRIGHT_KEYS_FILE")]
    pub keys_file: Option<PathBuf>,
    /// Calls a second that each key may make, else each client address, with ten seconds' worth at once. Without it
    /// there is no limit.
    #[arg(long, env = "STOPWRIGHT_RATE_LIMIT", value_parser = clap::value_parser!(u32).range(1..=i64::from(rate::MOST)))]
    pub rate_limit: Option<u32>,
    /// Networks of proxies whose X-Forwarded-For is believed, as 10.0.0.0/8, with commas between.
    #[arg(long, env = "STOPWRIGHT_TRUSTED_PROXIES", value_delimiter = ',')]
    pub trusted_proxies: Vec<IpNet>,
    /// Origins whose pages may read answers, as https://set.example, with commas between; * for all.
    #[arg(long, env = "STOPWRIGHT_CORS_ORIGIN", value_delimiter = ',')]
    pub cors_origin: Vec<String>,
    /// Address and port at which counts are served at /metrics; port 0 picks a free one. Without it they are not.
    #[arg(long, env = "STOPWRIGHT_METRICS_LISTEN")]
    pub metrics_listen: Option<SocketAddr>,
    /// How lines of the log are written, on standard error.
    #[arg(long, env = "STOPWRIGHT_LOG_FORMAT", value_enum, default_value_t = Format::Text)]
    pub log_format: Format,
    /// From which level on lines are logged; debug has every answer.
    #[arg(long, env = "STOPWRIGHT_LOG_LEVEL", value_enum, default_value_t = Least::Info)]
    pub log_level: Least,
}

/// Whom to ask.
#[derive(Debug, Args)]
pub struct Probe {
    /// Address and port that the server listens on.
    #[arg(long, env = "STOPWRIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: SocketAddr,
}
