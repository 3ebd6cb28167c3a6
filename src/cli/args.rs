//! Flags and environment variables, with their defaults. The doc comments are the help texts.

use std::{ffi::OsStr, path::PathBuf};

use clap::{
    Arg, Args, Parser, Subcommand, ValueHint,
    builder::{PossibleValue, StringValueParser, TypedValueParser},
};
use clap_complete::Shell;
use ipnet::IpNet;

use crate::{
    cli::{
        ask::calculations::CALCULATIONS,
        log::{Format, MinLevel},
    },
    request::format::AnswerFormat,
    server::{client_ip::parse_network, host_port::HostPort, rate_limit, state::CONNECTIONS},
};

/// The lighting arithmetic of a flash studio, as an HTTP JSON API.
#[derive(Debug, Parser)]
#[command(
    version,
    about = "Works out flash power, apertures and lighting ratios: an HTTP service, and in the shell",
    args_conflicts_with_subcommands = true
)]
pub struct Cli {
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
    /// Ask a calculation, without a server.
    Ask(Ask),
    /// Print the OpenAPI document.
    Spec,
    /// Ask a running server whether it is ready: exit status 0 or 1.
    Probe(Probe),
    /// Tell the story of a studio day, played through a server on a free port.
    Tour(Tour),
    /// Print the script that completes commands, flags and paths in a shell.
    Completions {
        /// The shell.
        shell: Shell,
    },
    /// Print the manual page, for man.
    Man,
}

/// How to serve: addresses, limits, keys, logs.
#[derive(Debug, Args)]
pub struct Serve {
    /// Address and port; port 0 picks a free one. For a host's name (localhost:8080) the first of its addresses that
    /// can be listened on.
    #[arg(long, value_name = "HOST:PORT", env = "STOPWRIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: HostPort,
    /// Connections at once; those beyond are answered with 503. Fewer where the system lets the process open too few
    /// descriptors (ulimit -n).
    #[arg(long, env = "STOPWRIGHT_MAX_CONNECTIONS", default_value_t = CONNECTIONS, value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub max_connections: u32,
    /// File of keys: a name and the SHA-256 of a key on each line; read again on SIGHUP. Without it no key is needed.
    #[arg(long, env = "STOPWRIGHT_KEYS_FILE")]
    pub keys_file: Option<PathBuf>,
    /// Calls a second for each key, or else for each client address; ten seconds' worth may come at once. Without it
    /// there is no limit.
    #[arg(long, env = "STOPWRIGHT_RATE_LIMIT", value_parser = clap::value_parser!(u32).range(1..=i64::from(rate_limit::MAX_PER_SECOND)))]
    pub rate_limit: Option<u32>,
    /// Trusted proxies, whose X-Forwarded-For counts: addresses or networks, as 10.0.0.1 or 10.0.0.0/8, with commas between.
    #[arg(long, env = "STOPWRIGHT_TRUSTED_PROXIES", value_delimiter = ',', value_parser = parse_network)]
    pub trusted_proxies: Vec<IpNet>,
    /// Origins whose pages may read answers, as https://set.example, with commas between; * for all.
    #[arg(long, env = "STOPWRIGHT_CORS_ORIGIN", value_delimiter = ',')]
    pub cors_origin: Vec<String>,
    /// Address and port that serve metrics at /metrics; port 0 picks a free one. Without it there are none.
    #[arg(long, value_name = "HOST:PORT", env = "STOPWRIGHT_METRICS_LISTEN")]
    pub metrics_listen: Option<HostPort>,
    /// The format of the log, which goes to standard error.
    #[arg(long, env = "STOPWRIGHT_LOG_FORMAT", value_enum, default_value_t = Format::Text)]
    pub log_format: Format,
    /// The lowest level that is logged; debug logs every answer.
    #[arg(long, env = "STOPWRIGHT_LOG_LEVEL", value_enum, default_value_t = MinLevel::Info)]
    pub log_level: MinLevel,
}

/// Which server to probe.
#[derive(Debug, Args)]
pub struct Probe {
    /// Address or name, and port, that the server listens on.
    #[arg(long, value_name = "HOST:PORT", env = "STOPWRIGHT_LISTEN", default_value = "127.0.0.1:8080")]
    pub listen: HostPort,
}

/// How to tell the story.
#[derive(Debug, Args)]
pub struct Tour {
    /// Show questions and answers in JSON.
    #[arg(long)]
    pub json: bool,
    /// A folder to write the pictures of the day to, as SVG.
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    pub pictures: Option<PathBuf>,
}

/// Which calculation to ask, and with what.
#[derive(Debug, Args)]
#[command(after_help = "\
Exit status:
  0 with an answer, 2 if the request is at fault, 1 for anything else

Examples:
  stopwright ask
  stopwright ask f/8 to f/11
  stopwright ask GN 40 at 5 m
  stopwright ask stops/convert from=f/8 to=f/11
  stopwright ask lights/falloff source.disc_m=0.9 distances='0.5 m, 1 m, 2 m'
  stopwright ask ratios/balance --body set.json lights.0.unit.energy='1000 J'")]
pub struct Ask {
    /// The path of a calculation, as stops/convert, or a question in words, as f/8 to f/11; without it all are listed.
    #[arg(value_parser = Paths, hide_possible_values = true)]
    pub path: Option<String>,
    /// The request: name=value as the trade writes it (from=f/8), the elements of a list with commas between
    /// (distances=1,2,4), dots into objects and lists (lights.0.setting=7.3); name:=JSON for JSON (gels:=[]).
    #[arg(value_name = "NAME=VALUE", allow_negative_numbers = true)]
    pub arguments: Vec<String>,
    /// A file with the request as JSON, or - for standard input; arguments are put over it.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, requires = "path")]
    pub body: Option<PathBuf>,
    /// A file with a question on each line, in words or as an item of a batch, or - for standard input; each is answered on
    /// a line, as a batch answers it.
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath, conflicts_with_all = ["path", "arguments", "body"])]
    pub lines: Option<PathBuf>,
    /// List the fields of the path's request instead of asking.
    #[arg(long, requires = "path", conflicts_with_all = ["arguments", "body", "example"])]
    pub fields: bool,
    /// Print an example of its request, as --body takes it, instead of asking.
    #[arg(long, requires = "path", conflicts_with_all = ["arguments", "body"])]
    pub example: bool,
    /// The format of the answer.
    #[command(flatten)]
    pub format: FormatFlags,
}

/// The format of an answer: one flag for each.
#[derive(Debug, Args)]
#[group(multiple = false)]
pub struct FormatFlags {
    /// Answer in text, as without a flag.
    #[arg(long)]
    text: bool,
    /// Answer in JSON; a fault is a problem document.
    #[arg(long)]
    json: bool,
    /// Answer with a picture, as SVG, if the calculation has one.
    #[arg(long)]
    svg: bool,
}

impl FormatFlags {
    /// The format.
    pub const fn format(&self) -> AnswerFormat {
        match self {
            Self { json: true, .. } => AnswerFormat::Json,
            Self { svg: true, .. } => AnswerFormat::Svg,
            _ => AnswerFormat::Text,
        }
    }
}

/// Accepts any path, since the application answers unknown ones, and offers the known ones for completion.
#[derive(Clone)]
struct Paths;

impl TypedValueParser for Paths {
    type Value = String;

    fn parse_ref(
        &self,
        command: &clap::Command,
        argument: Option<&Arg>,
        value: &OsStr,
    ) -> Result<String, clap::Error> {
        StringValueParser::new().parse_ref(command, argument, value)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue>>> {
        let values = CALCULATIONS
            .iter()
            .map(|calculation| PossibleValue::new(calculation.path.as_str()).help(&calculation.summary));
        Some(Box::new(values))
    }
}
