//! A byte stream that is read no faster than a student may send.
//!
//! [`fifthpeg_link::rate`] counts what comes out of the socket. What a peer can make
//! the socket swallow on its own, such as empty pieces of a message that never
//! ends, only shows in the bytes that go in.

use core::pin::{Pin, pin};
use core::task::{Context, Poll, ready};
use core::time::Duration;
use std::io;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep, sleep_until};

use crate::Limits;

/// Bytes that one frame of the rate stands for: more than most frames of a
/// lesson have, heads included.
const BYTES_PER_FRAME: u32 = 64;

/// Fewer bytes than this at once would not hold a handshake and a join.
const LEAST_BURST_BYTES: u32 = 4 * 1024;

/// The stream.
#[derive(Debug)]
pub(crate) struct ThrottledStream<S> {
    stream: S,
    /// What one byte costs.
    per_byte: Duration,
    burst: Duration,
    /// Up to when the bytes so far are paid for.
    owed: Instant,
    pause: Pin<Box<Sleep>>,
}

impl<S> ThrottledStream<S> {
    pub(crate) fn new(stream: S, limits: &Limits) -> Self {
        let now = Instant::now();
        let a_second = limits
            .frames_per_second
            .max(1)
            .saturating_mul(BYTES_PER_FRAME);
        let burst = limits
            .burst
            .saturating_mul(BYTES_PER_FRAME)
            .max(LEAST_BURST_BYTES);
        let per_byte = Duration::from_secs(1) / a_second;
        Self {
            stream,
            per_byte,
            burst: per_byte * burst,
            owed: now,
            pause: Box::pin(sleep_until(now)),
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for ThrottledStream<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = &mut *self;
        if this.owed > Instant::now() + this.burst {
            this.pause.as_mut().reset(this.owed - this.burst);
            ready!(this.pause.as_mut().poll(cx));
        }
        let before = buf.filled().len();
        ready!(pin!(&mut this.stream).poll_read(cx, buf))?;
        let bytes = u32::try_from(buf.filled().len() - before).unwrap_or(u32::MAX);
        this.owed = this.owed.max(Instant::now()) + this.per_byte * bytes;
        Poll::Ready(Ok(()))
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for ThrottledStream<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buf: &[u8],
    ) -> Poll<io::Result<usize>> {
        pin!(&mut self.stream).poll_write(cx, buf)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        pin!(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        pin!(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    use super::*;

    #[tokio::test]
    async fn a_burst_is_read_at_once_and_the_rest_at_its_pace() {
        let limits = Limits {
            frames_per_second: 1000,
            burst: 100,
            ..Limits::default()
        };
        let (mut peer, stream) = duplex(1024 * 1024);
        peer.write_all(&[0; 6_400 + 16_000]).await.unwrap();
        let mut throttled = ThrottledStream::new(stream, &limits);
        let mut bytes = [0; 64];
        let began = Instant::now();
        for _ in 0..100 {
            throttled.read_exact(&mut bytes).await.unwrap();
        }
        // 250 frames' worth at 1000 a second.
        for _ in 0..250 {
            throttled.read_exact(&mut bytes).await.unwrap();
        }
        let took = began.elapsed();
        assert!(took >= Duration::from_millis(240), "{took:?}");
        // What is written is not held up by what was read.
        throttled.write_all(&bytes).await.unwrap();
        peer.read_exact(&mut bytes).await.unwrap();
    }
}
