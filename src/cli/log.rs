//! The log: lines of text or JSON on standard error. Nothing that a client wrote is in it, except ids of a fixed form.

mod queue;

use std::{
    cell::Cell,
    io::{self, Write},
    time::Duration,
};

use clap::ValueEnum;
use tracing::Level;
use tracing_subscriber::{
    Layer,
    filter::{LevelFilter, Targets},
    layer::SubscriberExt,
    util::SubscriberInitExt,
};

use self::queue::Queue;

/// The log lines of this process.
static QUEUE: Queue = Queue::new();

thread_local! {
    /// Whether this is the thread that writes the queue to standard error.
    static IS_WRITER: Cell<bool> = const { Cell::new(false) };
}

/// The format of log lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    Text,
    /// For machines, one object a line.
    Json,
}

/// The lowest level that is logged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MinLevel {
    /// What failed.
    Error,
    /// And what an operator should look at.
    Warn,
    /// And starts, stops and new keys.
    Info,
    /// And every answer.
    Debug,
}

impl From<MinLevel> for LevelFilter {
    fn from(level: MinLevel) -> Self {
        Self::from_level(match level {
            MinLevel::Error => Level::ERROR,
            MinLevel::Warn => Level::WARN,
            MinLevel::Info => Level::INFO,
            MinLevel::Debug => Level::DEBUG,
        })
    }
}

/// Writes a log line to the queue. The writer thread's own line, about dropped lines, goes straight to standard error.
struct Line;

impl Write for Line {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        if IS_WRITER.get() {
            io::stderr().write_all(line)?;
        } else {
            QUEUE.push(line);
        }
        Ok(line.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Waits until all lines are written, up to a timeout.
pub fn flush(timeout: Duration) {
    QUEUE.flush(timeout);
}

/// Starts the log of this process. A second call does nothing.
pub fn init(format: Format, min_level: MinLevel) -> io::Result<()> {
    // Only our own lines: those of libraries may hold clients' data.
    let ours = Targets::new().with_target("stopwright", LevelFilter::from(min_level));
    let lines = tracing_subscriber::fmt::layer().with_writer(|| Line).with_target(false).with_ansi(false);
    let result = match format {
        Format::Text => tracing_subscriber::registry().with(lines.with_filter(ours)).try_init(),
        Format::Json => {
            tracing_subscriber::registry().with(lines.json().flatten_event(true).with_filter(ours)).try_init()
        }
    };
    if result.is_err() {
        return Ok(());
    }
    std::thread::Builder::new().name("log".to_owned()).spawn(|| {
        IS_WRITER.set(true);
        QUEUE.write_out(&mut io::stderr(), |lines| tracing::warn!(lines, "lines of the log were dropped"))
    })?;
    // The location only: the message of a panic may quote a request.
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string).unwrap_or_default();
        tracing::error!(place, "panicked");
    }));
    Ok(())
}
