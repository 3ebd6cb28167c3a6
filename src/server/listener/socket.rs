//! A client's socket, which the connection reads and writes, and which is watched for a client that disconnects.

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

use crate::server::worker_pool::caller_info::Connection;

/// A socket shared by the HTTP connection and the watch for resets. Both run in the same task, so waking either polls
/// both.
#[derive(Debug, Clone)]
pub struct Socket(Arc<Mutex<TcpStream>>);

impl Socket {
    /// A client's socket.
    pub fn new(stream: TcpStream) -> Self {
        // Responses are written whole, so Nagle's algorithm would only delay them.
        let _ = stream.set_nodelay(true);
        Self(Arc::new(Mutex::new(stream)))
    }

    /// Completes when the client resets the connection while slow work is under way for it. The HTTP library does not
    /// read then, so it would not notice. A client that closes its sending side may still read, so that is only noted:
    /// to TCP a client that has gone looks the same until it is written to.
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
                // The next request has already arrived; there is nothing more to learn.
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
