//! Chunks answered in order, some beside each other, on the threads of the worker pool.

use std::{
    future::Future,
    io,
    pin::Pin,
    sync::Arc,
    time::{Duration, Instant},
};

use axum::body::Bytes;
use futures_util::{
    Stream, StreamExt,
    stream::{self, FuturesOrdered},
};

use crate::{
    endpoints::batch::{
        item,
        source::{Chunk, Item, Source},
    },
    light::interrupt::Interrupt,
    server::{
        negotiation,
        problem::{Kind, Problem},
        worker_pool::{self, WorkerPool, caller_info::CallerInfo},
    },
};

/// Items of a stream's first chunk.
const CHUNK_FIRST: usize = 16;
/// Items of a chunk at the most.
const CHUNK_MOST: usize = 512;
/// Time after which a chunk lets other heavy work have its turn.
const SLICE: Duration = Duration::from_millis(20);
/// Bytes of answers after which a chunk hands over what it has.
const SLICE_BYTES: usize = 256 * 1024;

/// How answers are written.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// `{"answers": […]}`.
    List,
    /// One a line.
    Lines,
}

impl Layout {
    /// The media type.
    pub const fn media(self) -> &'static str {
        match self {
            Self::List => negotiation::JSON,
            Self::Lines => negotiation::NDJSON,
        }
    }

    /// What one of its items is called.
    pub const fn item(self) -> &'static str {
        match self {
            Self::List => "Question",
            Self::Lines => "Line",
        }
    }
}

/// A chunk that had its turn: what is answered, and what is left of it.
struct Turn {
    out: Vec<u8>,
    rest: Chunk,
}

type Turning = Pin<Box<dyn Future<Output = Turn> + Send>>;

struct State<S> {
    source: S,
    is_dry: bool,
    turns: FuturesOrdered<Turning>,
    job: Job,
    /// Items of the next chunk: more while chunks end within their slice, so that many cores share what is heavy.
    size: usize,
    begun: bool,
    done: bool,
}

/// What every chunk needs.
#[derive(Clone)]
pub struct Job {
    /// The id of the request.
    pub request_id: Arc<str>,
    /// Who asks.
    pub asker: CallerInfo,
    /// The workers.
    pub workers: WorkerPool,
    /// How answers are written.
    pub layout: Layout,
    /// When what waits is refused.
    pub deadline: Option<Instant>,
}

/// The answers, as they are ready, in order. No more is read than is worked on, and no more is worked on than
/// is taken: dropping the stream ends all of it.
pub fn answers(source: impl Source, job: Job) -> impl Stream<Item = io::Result<Bytes>> + Send {
    let state = State {
        source,
        is_dry: false,
        turns: FuturesOrdered::new(),
        job,
        size: CHUNK_FIRST,
        begun: false,
        done: false,
    };
    stream::unfold(state, |mut state| async move { state.next().await.map(|bytes| (Ok(bytes), state)) })
}

impl<S: Source> State<S> {
    async fn next(&mut self) -> Option<Bytes> {
        // One more than can run, so that no core waits for the next.
        let most = worker_pool::workers() + 1;
        while !self.done {
            let has_room = !self.is_dry && self.turns.len() < most;
            let has_turns = !self.turns.is_empty();
            tokio::select! {
                biased;
                Some(turn) = self.turns.next(), if has_turns => {
                    self.size = if turn.rest.is_empty() { (self.size * 2).min(CHUNK_MOST) } else { 1 };
                    if !turn.rest.is_empty() {
                        self.turns.push_front(self.job.clone().turn(turn.rest));
                    }
                    if !turn.out.is_empty() {
                        return Some(self.framed(turn.out));
                    }
                }
                chunk = self.source.next(self.size, has_turns), if has_room => match chunk {
                    Some(chunk) => self.turns.push_back(self.job.clone().turn(chunk)),
                    None => self.is_dry = true,
                },
                else => {
                    self.done = true;
                    if self.job.layout == Layout::List {
                        let end: &[u8] = if self.begun { b"]}" } else { b"{\"answers\":[]}" };
                        return Some(Bytes::from_static(end));
                    }
                }
            }
        }
        None
    }

    /// Answers as they are sent. Each comes with a line feed after it; a list has commas for them.
    fn framed(&mut self, mut lines: Vec<u8>) -> Bytes {
        if self.job.layout == Layout::List {
            let head: &[u8] = if self.begun { b"," } else { b"{\"answers\":[" };
            lines.pop();
            lines.iter_mut().filter(|byte| **byte == b'\n').for_each(|byte| *byte = b',');
            lines.splice(0..0, head.iter().copied());
            self.begun = true;
        }
        lines.into()
    }
}

impl Job {
    fn turn(self, chunk: Chunk) -> Turning {
        Box::pin(async move {
            let (request_id, workers) = (Arc::clone(&self.request_id), self.workers.clone());
            let count = chunk.len();
            let (asker, deadline) = (self.asker.clone(), self.deadline);
            let run = workers.run_slice(asker, deadline, move |interrupt| self.work(chunk, interrupt)).await;
            run.unwrap_or_else(|problem| {
                // The items are lost with it, but not their places.
                let mut out = Vec::new();
                for _ in 0..count {
                    item::write_problem(None, &problem, &request_id, &mut out);
                    out.push(b'\n');
                }
                Turn { out, rest: Chunk::new() }
            })
        })
    }

    fn work(&self, mut chunk: Chunk, interrupt: &dyn Interrupt) -> Turn {
        let until = Instant::now() + SLICE;
        let mut out = Vec::new();
        while let Some(Item { number, text }) = chunk.pop_front() {
            let now = Instant::now();
            match text {
                Err(problem) => {
                    let problem = problem.for_item(self.layout.item(), number);
                    item::write_problem(None, &problem, &self.request_id, &mut out);
                }
                Ok(text) if self.deadline.is_some_and(|deadline| now > deadline) => {
                    item::refuse(&text, &too_late(), &self.request_id, &mut out);
                }
                Ok(text) => {
                    item::answer(&text, (self.layout.item(), number), &self.request_id, interrupt, &mut out);
                }
            }
            out.push(b'\n');
            if now > until || out.len() > SLICE_BYTES {
                break;
            }
        }
        Turn { out, rest: chunk }
    }
}

fn too_late() -> Problem {
    Problem::new(
        Kind::Timeout,
        "The turn of this question did not come within the time limit. Send it again.",
    )
}
