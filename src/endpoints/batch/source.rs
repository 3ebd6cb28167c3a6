//! The items of a batch in chunks: the texts of a list, or the lines of a stream.

use std::{
    collections::VecDeque,
    time::{Duration, Instant},
};

use axum::body::{BodyDataStream, Bytes};
use futures_util::StreamExt;
use tokio::{
    sync::{OwnedSemaphorePermit, watch},
    time::timeout,
};

use crate::{
    endpoints::{batch::list, extract::BODY_LIMIT},
    server::{
        problem::{Kind, Problem},
        state::AppState,
    },
};

/// Maximum bytes of lines in a chunk, except that a single line may be longer.
const CHUNK_BYTES: usize = 64 * 1024;

/// Consecutive items.
pub type Chunk = VecDeque<Item>;

/// An item.
pub struct Item {
    /// Its number in the list, or its line number in the stream, from 1.
    pub number: usize,
    /// Its text, or the problem that it has none.
    pub text: Result<Bytes, Problem>,
}

/// A source of chunks.
pub trait Source: Send + 'static {
    /// The next chunk, of at most `limit` items; `None` at the end. Cancel-safe: dropping the future loses nothing. A
    /// stream may time out only while no answers are pending.
    fn next(&mut self, limit: usize, has_pending: bool) -> impl Future<Output = Option<Chunk>> + Send;

    /// The text of the defaults of the bodies, for the chunks that were taken.
    fn defaults(&self) -> Option<Bytes>;
}

/// The texts of a list.
pub struct Items {
    texts: VecDeque<Bytes>,
    taken: usize,
    defaults: Option<Bytes>,
}

impl Items {
    /// A source of these texts.
    pub fn new(texts: VecDeque<Bytes>, defaults: Option<Bytes>) -> Self {
        Self { texts, taken: 0, defaults }
    }
}

impl Source for Items {
    async fn next(&mut self, limit: usize, _: bool) -> Option<Chunk> {
        let count = self.texts.len().min(limit);
        let texts = self.texts.drain(..count).enumerate();
        let chunk: Chunk =
            texts.map(|(index, text)| Item { number: self.taken + index + 1, text: Ok(text) }).collect();
        self.taken += count;
        (!chunk.is_empty()).then_some(chunk)
    }

    fn defaults(&self) -> Option<Bytes> {
        self.defaults.clone()
    }
}

/// The lines of a stream.
pub struct Lines {
    body: BodyDataStream,
    /// How long the client may send nothing while no answers are pending.
    idle_timeout: Duration,
    /// Held for as long as the stream lasts.
    _permit: OwnedSemaphorePermit,
    stopping: watch::Receiver<bool>,
    /// Bytes read ahead by [`Self::read_first`].
    first: Option<Result<Bytes, axum::Error>>,
    /// Bytes received and not yet split into lines.
    received: Bytes,
    /// The start of a line that is not yet complete.
    partial: Vec<u8>,
    /// Complete lines so far.
    count: usize,
    /// Whether a line that is not blank has come.
    begun: bool,
    /// The text of the defaults, if the first line has them.
    defaults: Option<Bytes>,
    /// Whether the rest of a line that is too long is being skipped.
    skipping: bool,
    ended: bool,
}

impl Lines {
    /// The lines of a body; they end early if the service shuts down.
    pub fn new(body: BodyDataStream, state: &AppState, permit: OwnedSemaphorePermit) -> Self {
        Self {
            body,
            _permit: permit,
            idle_timeout: state.config.limits.stream_idle_timeout,
            stopping: state.stopping.subscribe(),
            first: None,
            received: Bytes::new(),
            partial: Vec::new(),
            count: 0,
            begun: false,
            defaults: None,
            skipping: false,
            ended: false,
        }
    }

    /// Waits for the first bytes.
    pub async fn read_first(&mut self) {
        self.first = self.body.next().await;
        self.ended = self.first.is_none();
    }

    /// Takes complete lines out of the received bytes, up to one chunk.
    fn take_lines(&mut self, limit: usize) -> Option<Chunk> {
        let mut chunk = Chunk::new();
        let mut size = 0;
        while chunk.len() < limit && size < CHUNK_BYTES {
            let Some(end) = self.received.iter().position(|byte| *byte == b'\n') else {
                let too_long = self.store_partial().err();
                chunk.extend(too_long.map(|problem| Item { number: self.count + 1, text: Err(problem) }));
                break;
            };
            let mut line = self.received.split_to(end + 1);
            line.truncate(end);
            self.count += 1;
            if !self.partial.is_empty() {
                self.partial.extend_from_slice(&line);
                line = std::mem::take(&mut self.partial).into();
            }
            size += line.len() + 1;
            let number = self.count;
            if std::mem::take(&mut self.skipping) {
                // The end of a line that was already rejected.
            } else if line.len() > BODY_LIMIT {
                chunk.push_back(Item { number, text: Err(too_long()) });
            } else if !line.iter().all(u8::is_ascii_whitespace) {
                // Read here, once a stream, because all that follows depends on it.
                let is_first = !std::mem::replace(&mut self.begun, true);
                match is_first.then(|| list::defaults_line(&line)).flatten() {
                    Some(Ok(defaults)) => self.defaults = Some(defaults),
                    Some(Err(problem)) => {
                        self.end();
                        return Some(Chunk::from([Item { number, text: Err(problem) }]));
                    }
                    None => chunk.push_back(Item { number, text: Ok(line) }),
                }
            }
        }
        (!chunk.is_empty()).then_some(chunk)
    }

    /// Reads no more.
    fn end(&mut self) {
        self.ended = true;
        self.received = Bytes::new();
        self.partial = Vec::new();
    }

    /// Stores the start of an incomplete line, or drops it if the line is too long.
    fn store_partial(&mut self) -> Result<(), Problem> {
        let part = std::mem::take(&mut self.received);
        if self.skipping {
            return Ok(());
        }
        if self.partial.len() + part.len() > BODY_LIMIT {
            self.skipping = true;
            self.partial = Vec::new();
            return Err(too_long());
        }
        self.partial.extend_from_slice(&part);
        Ok(())
    }
}

/// Completes when the service starts to shut down.
async fn stopped(stopping: &mut watch::Receiver<bool>) {
    if stopping.wait_for(|stop| *stop).await.is_err() {
        // The sender is gone, so the signal can no longer come.
        std::future::pending::<()>().await;
    }
}

fn too_long() -> Problem {
    Problem::new(Kind::TooLarge, format!("A line may have {BODY_LIMIT} bytes; this one was passed over."))
}

impl Source for Lines {
    async fn next(&mut self, limit: usize, has_pending: bool) -> Option<Chunk> {
        let start = Instant::now();
        loop {
            // The timeout runs until a complete line arrives; blank lines and parts of a line do not reset it.
            let remaining =
                if has_pending { Duration::MAX } else { self.idle_timeout.saturating_sub(start.elapsed()) };
            if let Some(chunk) = self.take_lines(limit) {
                return Some(chunk);
            }
            if !self.received.is_empty() {
                continue;
            }
            if self.ended {
                return None;
            }
            let event = match self.first.take() {
                Some(first) => Some(Ok(Some(first))),
                None => tokio::select! {
                    next = timeout(remaining, self.body.next()) => Some(next),
                    () = stopped(&mut self.stopping) => None,
                },
            };
            let (kind, why) = match event {
                Some(Ok(Some(Ok(bytes)))) => {
                    self.received = bytes;
                    continue;
                }
                Some(Ok(None)) => {
                    self.ended = true;
                    // The last line may lack its line feed.
                    self.received = Bytes::from_static(b"\n");
                    continue;
                }
                Some(Ok(Some(Err(_)))) => (Kind::Malformed, "The stream broke off here.".to_owned()),
                Some(Err(_)) => {
                    (Kind::Timeout, format!("No question came for {} s.", self.idle_timeout.as_secs_f64()))
                }
                None => (Kind::Unavailable, "The service is stopping.".to_owned()),
            };
            self.end();
            let why = format!("{why} The whole lines before are answered; this is the last answer.");
            let last = Item { number: self.count + 1, text: Err(Problem::new(kind, why)) };
            return Some(Chunk::from([last]));
        }
    }

    fn defaults(&self) -> Option<Bytes> {
        self.defaults.clone()
    }
}
