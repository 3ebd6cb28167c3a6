//! Lines on their way to standard error. Who logs never waits: lines go into a queue that one thread writes out, and a
//! line that finds the queue full is dropped and counted. So an answer never waits for whoever reads the log.

use std::{
    io::{self, Write},
    mem,
    sync::{Condvar, Mutex, MutexGuard, PoisonError},
    time::Duration,
};

use crate::server::metrics;

/// Bytes that may wait: some 7000 lines of answers.
const MOST: usize = 1024 * 1024;
/// Bytes that a pipe takes whole or not at all, on Linux (POSIX: `PIPE_BUF`).
const WHOLE: usize = 4096;

/// A queue of lines.
#[derive(Debug)]
pub struct Queue {
    waiting: Mutex<Waiting>,
    /// There is something to write.
    more: Condvar,
    /// All is written.
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
        if waiting.lines.len() + line.len() > MOST {
            drop(waiting);
            metrics::lines_dropped(1);
            return;
        }
        let was_empty = waiting.lines.is_empty();
        waiting.lines.extend_from_slice(line);
        drop(waiting);
        if was_empty {
            self.more.notify_one();
        }
    }

    /// Writes out what comes, for ever. After lines that were taken, `tell` tells how many were dropped until then, if
    /// any were.
    pub fn write_out(&self, out: &mut impl Write, mut tell: impl FnMut(u64)) -> ! {
        let mut told = 0;
        let mut lines = Vec::new();
        loop {
            self.take(&mut lines);
            match write_whole_lines(out, &lines) {
                Ok(()) => {
                    let dropped = metrics::lines_dropped_so_far();
                    if dropped > told {
                        tell(dropped - told);
                        told = dropped;
                    }
                }
                Err(unwritten) => metrics::lines_dropped(unwritten),
            }
            lines.clear();
        }
    }

    /// Waits until all is written, but not for long: who does not read the log does not hold up the end.
    pub fn flush(&self, at_most: Duration) {
        let is_busy = |waiting: &mut Waiting| waiting.is_writing || !waiting.lines.is_empty();
        drop(self.done.wait_timeout_while(self.lock(), at_most, is_busy));
    }

    /// Takes all that waits, once there is any.
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

/// Writes lines in pieces that a pipe takes whole, so that none is torn where others write to it, or where the process
/// ends meanwhile. Fails with how many lines were not written.
fn write_whole_lines(out: &mut impl Write, mut lines: &[u8]) -> Result<(), u64> {
    let count = |lines: &[u8]| lines.iter().fold(0, |count, byte| count + u64::from(*byte == b'\n'));
    while !lines.is_empty() {
        let most = lines.len().min(WHOLE);
        let end = lines[..most].iter().rposition(|byte| *byte == b'\n').map_or(most, |last| last + 1);
        let (piece, rest) = lines.split_at(end);
        write(out, piece).map_err(|_| count(lines))?;
        lines = rest;
    }
    Ok(())
}

/// As `write_all`, but waits where another process has made the pipe one that does not block.
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

    /// Takes a piece each time that it may.
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
    fn who_logs_does_not_wait_for_who_reads() {
        const LINES: usize = 40_000;
        const LINE: usize = 64;
        let queue: &Queue = Box::leak(Box::new(Queue::new()));
        let (allow, allowed) = mpsc::channel();
        let written = Arc::new(Mutex::new(Vec::new()));
        let (tell, told) = mpsc::channel();
        let mut out = Slow(allowed, Arc::clone(&written));
        let before = metrics::lines_dropped_so_far();
        std::thread::spawn(move || {
            queue.write_out(&mut out, move |dropped| {
                let _ = tell.send(dropped);
            })
        });
        let begun = Instant::now();
        for number in 0..LINES {
            queue.push(format!("{number:0>63}\n").as_bytes());
        }
        queue.flush(Duration::from_millis(100));
        assert!(begun.elapsed() < Duration::from_secs(5), "{:?}", begun.elapsed());
        let dropped = metrics::lines_dropped_so_far() - before;
        // What waits, and at most as much that the thread has taken before.
        let kept = LINES - usize::try_from(dropped).unwrap_or_default();
        assert!((MOST / LINE..=2 * MOST / LINE).contains(&kept), "{kept}");
        // From now on it takes all.
        drop(allow);
        queue.flush(Duration::from_secs(20));
        let written = written.lock().unwrap_or_else(PoisonError::into_inner);
        assert_eq!(written.len(), kept * LINE);
        assert!(written.chunks(LINE).all(|line| line.ends_with(b"\n")), "no line is torn");
        assert_eq!(told.try_iter().sum::<u64>(), before + dropped);
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
