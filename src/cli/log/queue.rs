//! The queue of log lines on their way to standard error. Logging never blocks: one thread writes the queue out, and a
//! line that finds the queue full is dropped and counted. So no request waits for a slow reader of the log.

use std::{
    io::{self, Write},
    mem,
    sync::{Condvar, Mutex, MutexGuard, PoisonError},
    time::Duration,
};

use crate::server::metrics;

/// Bytes that may wait: some 7000 lines about responses.
const MAX_SIZE: usize = 1024 * 1024;
/// Bytes that a pipe takes whole or not at all, on Linux (POSIX: `PIPE_BUF`).
const ATOMIC_WRITE: usize = 4096;

/// A queue of lines.
#[derive(Debug)]
pub struct Queue {
    waiting: Mutex<Waiting>,
    /// Signals that there are lines to write.
    more: Condvar,
    /// Signals that all lines are written.
    done: Condvar,
}

#[derive(Debug)]
struct Waiting {
    lines: Vec<u8>,
    is_writing: bool,
}

impl Queue {
    /// An empty queue.
    pub const fn new() -> Self {
        let waiting = Waiting { lines: Vec::new(), is_writing: false };
        Self { waiting: Mutex::new(waiting), more: Condvar::new(), done: Condvar::new() }
    }

    /// Puts a line into the queue, or drops it.
    pub fn push(&self, line: &[u8]) {
        let mut waiting = self.lock();
        if waiting.lines.len() + line.len() > MAX_SIZE {
            drop(waiting);
            metrics::count_dropped_lines(1);
            return;
        }
        let was_empty = waiting.lines.is_empty();
        waiting.lines.extend_from_slice(line);
        drop(waiting);
        if was_empty {
            self.more.notify_one();
        }
    }

    /// Writes lines out for ever. After each successful write, calls `report` with the number of lines dropped since
    /// the last report, if any were.
    pub fn write_out(&self, out: &mut impl Write, mut report: impl FnMut(u64)) -> ! {
        let mut reported = 0;
        let mut lines = Vec::new();
        loop {
            self.take(&mut lines);
            match write_whole_lines(out, &lines) {
                Ok(()) => {
                    let dropped = metrics::dropped_lines();
                    if dropped > reported {
                        report(dropped - reported);
                        reported = dropped;
                    }
                }
                Err(unwritten) => metrics::count_dropped_lines(unwritten),
            }
            lines.clear();
        }
    }

    /// Waits until all lines are written, up to a timeout, so that an unread log does not delay shutdown.
    pub fn flush(&self, timeout: Duration) {
        let is_busy = |waiting: &mut Waiting| waiting.is_writing || !waiting.lines.is_empty();
        drop(self.done.wait_timeout_while(self.lock(), timeout, is_busy));
    }

    /// Waits for lines and takes all of them.
    fn take(&self, lines: &mut Vec<u8>) {
        let mut waiting = self.lock();
        if waiting.lines.is_empty() {
            waiting.is_writing = false;
            self.done.notify_all();
            let is_empty = |waiting: &mut Waiting| waiting.lines.is_empty();
            waiting = self.more.wait_while(waiting, is_empty).unwrap_or_else(PoisonError::into_inner);
        }
        waiting.is_writing = true;
        mem::swap(lines, &mut waiting.lines);
    }

    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Writes lines in pieces that a pipe takes whole, so that no line is torn if others write to the pipe or the process
/// ends meanwhile. The error is the number of lines not written.
fn write_whole_lines(out: &mut impl Write, mut lines: &[u8]) -> Result<(), u64> {
    let count = |lines: &[u8]| lines.iter().fold(0, |count, byte| count + u64::from(*byte == b'\n'));
    while !lines.is_empty() {
        let limit = lines.len().min(ATOMIC_WRITE);
        let end = lines[..limit].iter().rposition(|byte| *byte == b'\n').map_or(limit, |last| last + 1);
        let (piece, rest) = lines.split_at(end);
        write(out, piece).map_err(|_| count(lines))?;
        lines = rest;
    }
    Ok(())
}

/// Like `write_all`, but retries if another process has made the pipe non-blocking.
fn write(out: &mut impl Write, mut piece: &[u8]) -> io::Result<()> {
    while !piece.is_empty() {
        match out.write(piece) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(written) => piece = &piece[written..],
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                std::thread::sleep(Duration::from_millis(10));
            }
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::{
        sync::{Arc, mpsc},
        time::Instant,
    };

    use super::*;

    /// Accepts one write for each message received, and any once the sender is dropped.
    struct Slow(mpsc::Receiver<()>, Arc<Mutex<Vec<u8>>>);

    impl Write for Slow {
        fn write(&mut self, piece: &[u8]) -> io::Result<usize> {
            let _ = self.0.recv();
            self.1.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(piece);
            Ok(piece.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn logging_does_not_wait_for_a_slow_reader() {
        const LINES: usize = 40_000;
        const LINE: usize = 64;
        let queue: &Queue = Box::leak(Box::new(Queue::new()));
        let (allow, allowed) = mpsc::channel();
        let written = Arc::new(Mutex::new(Vec::new()));
        let (report, reports) = mpsc::channel();
        let mut out = Slow(allowed, Arc::clone(&written));
        let before = metrics::dropped_lines();
        std::thread::spawn(move || {
            queue.write_out(&mut out, move |dropped| {
                let _ = report.send(dropped);
            })
        });
        let start = Instant::now();
        for number in 0..LINES {
            queue.push(format!("{number:0>63}\n").as_bytes());
        }
        queue.flush(Duration::from_millis(100));
        assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
        let dropped = metrics::dropped_lines() - before;
        // A full queue, and at most another that the thread had already taken.
        let kept = LINES - usize::try_from(dropped).unwrap_or_default();
        assert!((MAX_SIZE / LINE..=2 * MAX_SIZE / LINE).contains(&kept), "{kept}");
        // From now on every write is accepted.
        drop(allow);
        queue.flush(Duration::from_secs(20));
        let written = written.lock().unwrap_or_else(PoisonError::into_inner);
        assert_eq!(written.len(), kept * LINE);
        assert!(written.chunks(LINE).all(|line| line.ends_with(b"\n")), "no line is torn");
        assert_eq!(reports.try_iter().sum::<u64>(), before + dropped);
    }

    #[test]
    fn pieces_end_with_a_line() {
        #[derive(Default)]
        struct Pieces(Vec<Vec<u8>>);
        impl Write for Pieces {
            fn write(&mut self, piece: &[u8]) -> io::Result<usize> {
                if self.0.len() == 2 {
                    return Err(io::ErrorKind::BrokenPipe.into());
                }
                self.0.push(piece.to_vec());
                Ok(piece.len())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let mut out = Pieces::default();
        let lines = format!("{}\n", "x".repeat(999)).repeat(10);
        assert_eq!(write_whole_lines(&mut out, lines.as_bytes()), Err(2));
        assert_eq!(out.0.iter().map(Vec::len).collect::<Vec<_>>(), [4000, 4000]);
        assert!(out.0.iter().all(|piece| piece.ends_with(b"\n")));
    }
}
