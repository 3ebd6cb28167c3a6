//! A client's socket. The connection reads and writes it, and beside that it is watched whether the client is there.

use std::{
    future::poll_fn,
    io::{self, IoSlice},
    pin::Pin,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    task::{Context, Poll},
};

use tokio::{
    io::{AsyncRead, AsyncWrite, ReadBuf},
    net::TcpStream,
};

use crate::server::worker_pool::asker::Connection;

/// A socket that two may use, both in the task of its connection: whoever waits last is woken, and wakes both.
#[derive(Debug, Clone)]
pub struct Socket(Arc<Mutex<TcpStream>>);

impl Socket {
    /// A client's socket.
    pub fn new(stream: TcpStream) -> Self {
        // Answers are written whole; waiting for more would only hold them back.
        let _ = stream.set_nodelay(true);
        Self(Arc::new(Mutex::new(stream)))
    }

    /// Ready when the client resets the connection while slow work is under way for it; the HTTP library does not
    /// read then, and would not notice. A client that closes its side may still read, so that is only noted: TCP says
    /// the same of one that has gone, until it is written to.
    pub async fn reset(&self, connection: &Connection) {
        poll_fn(|context| {
            if !connection.has_work() || connection.may_have_left() {
                return Poll::Pending;
            }
            let mut byte = [0];
            match self.lock().poll_peek(context, &mut ReadBuf::new(&mut byte)) {
                Poll::Ready(Err(_)) => Poll::Ready(()),
                Poll::Ready(Ok(0)) => {
                    connection.note_half_close();
                    Poll::Pending
                }
                // Its next request is here already: it is not looked further.
                Poll::Ready(Ok(_)) | Poll::Pending => Poll::Pending,
            }
        })
        .await;
    }

    fn lock(&self) -> MutexGuard<'_, TcpStream> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl AsyncRead for Socket {
    fn poll_read(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut *self.lock()).poll_read(context, buffer)
    }
}

impl AsyncWrite for Socket {
    fn poll_write(self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut *self.lock()).poll_write(context, bytes)
    }

    fn poll_write_vectored(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut *self.lock()).poll_write_vectored(context, pieces)
    }

    fn is_write_vectored(&self) -> bool {
        self.lock().is_write_vectored()
    }

    fn poll_flush(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut *self.lock()).poll_flush(context)
    }

    fn poll_shutdown(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut *self.lock()).poll_shutdown(context)
    }
}
