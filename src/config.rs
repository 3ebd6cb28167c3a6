//! Flags and environment, each with its default.

use std::{net::SocketAddr, path::PathBuf};

use clap::{Args, Parser, Subcommand};

use crate::api::serve::Limits;

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
    #[arg(long, env = "STOPWRIGHT_MAX_CONNECTIONS", default_value_t = Limits::default().connections)]
    pub max_connections: usize,
    /// File of who may call: a name and the SHA-256 of a key on each line; read anew on SIGHUP. Without it all may.
    #[arg(long, env = "STOPWRIGHT_KEYS_FILE")]
    pub keys_file: Option<PathBuf>,
}

/// Whom to ask.
#[derive(Debug, Args)]
pub struct Probe {
    /// Address and port that the server listens on.
    #[arg(long, env = "STOPWRIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: SocketAddr,
}
