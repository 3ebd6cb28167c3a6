//! The log: lines of text or of JSON on standard error. Nothing that a caller wrote is in it, but ids of a fixed form.

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

/// The lines of this process.
static QUEUE: Queue = Queue::new();

thread_local! {
    /// Whether this is the thread that writes the lines out.
    static WRITES_OUT: Cell<bool> = const { Cell::new(false) };
}

/// How lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    Text,
    /// For machines, one object a line.
    Json,
}

/// From which level on lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Least {
    /// What failed.
    Error,
    /// And what an operator should look at.
    Warn,
    /// And starts, stops and new keys.
    Info,
    /// And every answer.
    Debug,
}

impl From<Least> for LevelFilter {
    fn from(least: Least) -> Self {
        Self::from_level(match least {
            Least::Error => Level::ERROR,
            Least::Warn => Level::WARN,
            Least::Info => Level::INFO,
            Least::Debug => Level::DEBUG,
        })
    }
}

/// A line as it is logged. The thread that writes lines out has only one of its own, which goes past the queue.
struct Line;

impl Write for Line {
    fn write(&mut self, line: &[u8]) -> io::Result<usize> {
        if WRITES_OUT.get() {
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

/// Waits until all lines are written, but no longer than this.
pub fn flush(at_most: Duration) {
    QUEUE.flush(at_most);
}

/// Begins the log of this process; a second time changes nothing.
pub fn begin(format: Format, least: Least) -> io::Result<()> {
    // Only our own lines: libraries have others' data in theirs.
    let ours = Targets::new().with_target("stopwright", LevelFilter::from(least));
    let lines = tracing_subscriber::fmt::layer().with_writer(|| Line).with_target(false).with_ansi(false);
    let begun = match format {
        Format::Text => tracing_subscriber::registry().with(lines.with_filter(ours)).try_init(),
        Format::Json => {
            tracing_subscriber::registry().with(lines.json().flatten_event(true).with_filter(ours)).try_init()
        }
    };
    if begun.is_err() {
        return Ok(());
    }
    std::thread::Builder::new().name("log".to_owned()).spawn(|| {
        WRITES_OUT.set(true);
        QUEUE.write_out(&mut io::stderr(), |lines| tracing::warn!(lines, "lines of the log were dropped"))
    })?;
    // Where, not what: the message of a panic may quote a request.
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string).unwrap_or_default();
        tracing::error!(place, "panicked");
    }));
    Ok(())
}
