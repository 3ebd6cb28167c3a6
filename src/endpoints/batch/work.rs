//! Answers chunks concurrently on the worker pool, and sends the answers in order.

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
    request::json,
    server::{
        negotiation,
        problem::{Kind, Problem},
        worker_pool::{self, WorkerPool, caller_info::CallerInfo},
    },
};

/// Items in the first chunk.
const CHUNK_FIRST: usize = 16;
/// Maximum items in a chunk.
const MAX_CHUNK: usize = 512;
/// Time after which a chunk yields its worker to other jobs.
const SLICE: Duration = Duration::from_millis(20);
/// Bytes of answers after which a chunk yields and its answers so far are sent.
const SLICE_BYTES: usize = 256 * 1024;

/// How the answers are laid out.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// `{"answers": […]}`.
    List,
    /// One per line.
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

    /// What an item is called in messages.
    pub const fn item(self) -> &'static str {
        match self {
            Self::List => "Question",
            Self::Lines => "Line",
        }
    }
}

/// The result of one slice of work on a chunk: its answers, and the items left over.
struct Slice {
    out: Vec<u8>,
    rest: Chunk,
    /// Whether it ended before its time was up.
    is_quick: bool,
}

type SliceFuture = Pin<Box<dyn Future<Output = Slice> + Send>>;

struct Answers<S> {
    source: S,
    /// Whether the source has ended.
    is_exhausted: bool,
    /// The slices being worked on, in the order of their items.
    slices: FuturesOrdered<SliceFuture>,
    job: Job,
    /// Items in the next chunk. It doubles while chunks finish within their slice, and drops to 1 for heavy items, so that
    /// the cores share them.
    size: usize,
    /// Whether any answer has been sent.
    started: bool,
    done: bool,
}

/// What every slice needs.
#[derive(Clone)]
pub struct Job {
    /// The id of the request.
    pub request_id: Arc<str>,
    /// The client, for fair queueing.
    pub caller: CallerInfo,
    /// The workers.
    pub workers: WorkerPool,
    /// How the answers are laid out.
    pub layout: Layout,
    /// The time after which waiting items are answered with 408.
    pub deadline: Option<Instant>,
    /// The text of the defaults of the bodies, which all chunks share.
    pub defaults: Option<Bytes>,
}

/// The answers in order, as they become ready. Backpressure applies throughout: items are read only when workers are
/// free, and worked on only while answers are taken. Dropping the stream stops all work.
pub fn answers(source: impl Source, job: Job) -> impl Stream<Item = io::Result<Bytes>> + Send {
    let state = Answers {
        source,
        is_exhausted: false,
        slices: FuturesOrdered::new(),
        job,
        size: CHUNK_FIRST,
        started: false,
        done: false,
    };
    stream::unfold(state, |mut state| async move { state.next().await.map(|bytes| (Ok(bytes), state)) })
}

impl<S: Source> Answers<S> {
    async fn next(&mut self) -> Option<Bytes> {
        // One more than can run, so that no worker waits for the next.
        let limit = worker_pool::workers() + 1;
        while !self.done {
            let has_room = !self.is_exhausted && self.slices.len() < limit;
            let has_pending = !self.slices.is_empty();
            tokio::select! {
                biased;
                Some(slice) = self.slices.next(), if has_pending => {
                    self.size = if slice.is_quick { (self.size * 2).min(MAX_CHUNK) } else { 1 };
                    if !slice.rest.is_empty() {
                        self.slices.push_front(self.job.clone().run_slice(slice.rest));
                    }
                    if !slice.out.is_empty() {
                        return Some(self.frame(slice.out));
                    }
                }
                chunk = self.source.next(self.size, has_pending), if has_room => match chunk {
                    Some(chunk) => {
                        self.job.defaults = self.source.defaults();
                        self.slices.push_back(self.job.clone().run_slice(chunk));
                    }
                    None => self.is_exhausted = true,
                },
                else => {
                    self.done = true;
                    if self.job.layout == Layout::List {
                        let end: &[u8] = if self.started { b"]}" } else { b"{\"answers\":[]}" };
                        return Some(Bytes::from_static(end));
                    }
                }
            }
        }
        None
    }

    /// Frames answers for sending. Each ends in a line feed, which a list turns into a comma.
    fn frame(&mut self, mut lines: Vec<u8>) -> Bytes {
        if self.job.layout == Layout::List {
            let head: &[u8] = if self.started { b"," } else { b"{\"answers\":[" };
            lines.pop();
            lines.iter_mut().filter(|byte| **byte == b'\n').for_each(|byte| *byte = b',');
            lines.splice(0..0, head.iter().copied());
            self.started = true;
        }
        lines.into()
    }
}

impl Job {
    /// Works on a chunk for one slice of time on the worker pool.
    fn run_slice(self, chunk: Chunk) -> SliceFuture {
        Box::pin(async move {
            let (request_id, workers) = (Arc::clone(&self.request_id), self.workers.clone());
            let count = chunk.len();
            let (caller, deadline) = (self.caller.clone(), self.deadline);
            let run = workers.run_slice(caller, deadline, move |interrupt| self.work(chunk, interrupt)).await;
            run.unwrap_or_else(|problem| {
                // The items are gone, but each still gets an answer in its place.
                let mut out = Vec::new();
                for _ in 0..count {
                    item::write_problem(None, &problem, &request_id, &mut out);
                    out.push(b'\n');
                }
                Slice { out, rest: Chunk::new(), is_quick: true }
            })
        })
    }

    /// Answers items until the slice is used up.
    fn work(&self, mut chunk: Chunk, interrupt: &dyn Interrupt) -> Slice {
        let mut now = Instant::now();
        let slice_end = now + SLICE;
        let mut out = Vec::new();
        // Its faults were found when it was taken.
        let defaults = self.defaults.as_deref().and_then(|text| json::parse(text).ok());
        while let Some(Item { number, text }) = chunk.pop_front() {
            match text {
                Err(problem) => {
                    let problem = problem.for_item(self.layout.item(), number);
                    item::write_problem(None, &problem, &self.request_id, &mut out);
                }
                Ok(text) if self.deadline.is_some_and(|deadline| now > deadline) => {
                    item::reject(&text, &too_late(), &self.request_id, &mut out);
                }
                Ok(text) => {
                    let place = (self.layout.item(), number);
                    item::answer(&text, defaults.as_ref(), place, &self.request_id, interrupt, &mut out);
                }
            }
            out.push(b'\n');
            now = Instant::now();
            if now > slice_end || out.len() > SLICE_BYTES {
                break;
            }
        }
        Slice { is_quick: now <= slice_end && chunk.is_empty(), out, rest: chunk }
    }
}

fn too_late() -> Problem {
    Problem::new(
        Kind::Timeout,
        "The turn of this question did not come within the time limit. Send it again.",
    )
}
