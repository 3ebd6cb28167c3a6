//! A batch taken apart into chunks of items: the texts of a list, or the lines of a stream.

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
    endpoints::extract::BODY_LIMIT,
    server::{
        problem::{Kind, Problem},
        state::AppState,
    },
};

/// Bytes of lines of one chunk, save that one line may be longer.
const CHUNK_BYTES: usize = 64 * 1024;

/// Items in a row.
pub type Chunk = VecDeque<Item>;

/// An item.
pub struct Item {
    /// Which of the list, or of the stream's lines, from 1 on.
    pub number: usize,
    /// Its text, or why there is none.
    pub text: Result<Bytes, Problem>,
}

/// Where chunks come from.
pub trait Source: Send + 'static {
    /// The next chunk, of so many items at the most. Nothing is lost with a future that is dropped: it may be
    /// asked for again. Silence counts only where the caller owes no answer.
    fn next(&mut self, most: usize, is_owing: bool) -> impl Future<Output = Option<Chunk>> + Send;
}

/// The texts of a list.
pub struct Items {
    texts: VecDeque<Bytes>,
    taken: usize,
}

impl Items {
    /// A list of texts.
    pub fn of(texts: VecDeque<Bytes>) -> Self {
        Self { texts, taken: 0 }
    }
}

impl Source for Items {
    async fn next(&mut self, most: usize, _: bool) -> Option<Chunk> {
        let count = self.texts.len().min(most);
        let texts = self.texts.drain(..count).enumerate();
        let chunk: Chunk =
            texts.map(|(index, text)| Item { number: self.taken + index + 1, text: Ok(text) }).collect();
        self.taken += count;
        (!chunk.is_empty()).then_some(chunk)
    }
}

/// The lines of a stream.
pub struct Lines {
    body: BodyDataStream,
    silence: Duration,
    _place: OwnedSemaphorePermit,
    stopping: watch::Receiver<bool>,
    /// What came before anything was asked for.
    first: Option<Result<Bytes, axum::Error>>,
    /// What came last and is not taken yet.
    came: Bytes,
    /// The beginning of a line whose end has not come.
    begun: Vec<u8>,
    /// Lines that have ended.
    count: usize,
    /// Within a line that is too long.
    skipping: bool,
    ended: bool,
}

impl Lines {
    /// The lines of a body; ends early when the service stops.
    pub fn of(body: BodyDataStream, running: &AppState, place: OwnedSemaphorePermit) -> Self {
        Self {
            body,
            _place: place,
            silence: running.config.limits.stream_idle_timeout,
            stopping: running.stopping.subscribe(),
            first: None,
            came: Bytes::new(),
            begun: Vec::new(),
            count: 0,
            skipping: false,
            ended: false,
        }
    }

    /// Waits for the first bytes.
    pub async fn begin(&mut self) {
        self.first = self.body.next().await;
        self.ended = self.first.is_none();
    }

    /// Whole lines out of what came, as many as go into a chunk.
    fn take(&mut self, most: usize) -> Option<Chunk> {
        let mut chunk = Chunk::new();
        let mut size = 0;
        while chunk.len() < most && size < CHUNK_BYTES {
            let Some(end) = self.came.iter().position(|byte| *byte == b'\n') else {
                let too_long = self.keep_beginning().err();
                chunk.extend(too_long.map(|problem| Item { number: self.count + 1, text: Err(problem) }));
                break;
            };
            let mut line = self.came.split_to(end + 1);
            line.truncate(end);
            self.count += 1;
            if !self.begun.is_empty() {
                self.begun.extend_from_slice(&line);
                line = std::mem::take(&mut self.begun).into();
            }
            size += line.len() + 1;
            let number = self.count;
            if std::mem::take(&mut self.skipping) {
                // The end of a line that was refused.
            } else if line.len() > BODY_LIMIT {
                chunk.push_back(Item { number, text: Err(too_long()) });
            } else if !line.iter().all(u8::is_ascii_whitespace) {
                chunk.push_back(Item { number, text: Ok(line) });
            }
        }
        (!chunk.is_empty()).then_some(chunk)
    }

    /// Keeps what came of a line whose end has not come; of one that is too long nothing is kept.
    fn keep_beginning(&mut self) -> Result<(), Problem> {
        let part = std::mem::take(&mut self.came);
        if self.skipping {
            return Ok(());
        }
        if self.begun.len() + part.len() > BODY_LIMIT {
            self.skipping = true;
            self.begun = Vec::new();
            return Err(too_long());
        }
        self.begun.extend_from_slice(&part);
        Ok(())
    }
}

/// Ready when the service stops.
async fn stopped(stopping: &mut watch::Receiver<bool>) {
    if stopping.wait_for(|stop| *stop).await.is_err() {
        // Nobody is left to stop it.
        std::future::pending::<()>().await;
    }
}

fn too_long() -> Problem {
    Problem::new(Kind::TooLarge, format!("A line may have {BODY_LIMIT} bytes; this one was passed over."))
}

impl Source for Lines {
    async fn next(&mut self, most: usize, is_owing: bool) -> Option<Chunk> {
        let begun = Instant::now();
        loop {
            // Until a whole line has come: neither blank lines nor parts of one are a sign of life.
            let patience =
                if is_owing { Duration::MAX } else { self.silence.saturating_sub(begun.elapsed()) };
            if let Some(chunk) = self.take(most) {
                return Some(chunk);
            }
            if !self.came.is_empty() {
                continue;
            }
            if self.ended {
                return None;
            }
            let came = match self.first.take() {
                Some(first) => Some(Ok(Some(first))),
                None => tokio::select! {
                    came = timeout(patience, self.body.next()) => Some(came),
                    () = stopped(&mut self.stopping) => None,
                },
            };
            let (kind, why) = match came {
                Some(Ok(Some(Ok(bytes)))) => {
                    self.came = bytes;
                    continue;
                }
                Some(Ok(None)) => {
                    self.ended = true;
                    // The last line may have no end.
                    self.came = Bytes::from_static(b"\n");
                    continue;
                }
                Some(Ok(Some(Err(_)))) => (Kind::Malformed, "The stream broke off here.".to_owned()),
                Some(Err(_)) => {
                    (Kind::Timeout, format!("No question came for {} s.", self.silence.as_secs_f64()))
                }
                None => (Kind::Unavailable, "The service is stopping.".to_owned()),
            };
            self.ended = true;
            self.begun = Vec::new();
            let why = format!("{why} The whole lines before are answered; this is the last answer.");
            let last = Item { number: self.count + 1, text: Err(Problem::new(kind, why)) };
            return Some(Chunk::from([last]));
        }
    }
}
