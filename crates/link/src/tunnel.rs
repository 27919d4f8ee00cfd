//! A byte stream within a WebSocket: what a page in a browser has in place of a
//! socket. Each binary message is a piece of it.

use core::pin::Pin;
use core::task::{Context, Poll, ready};
use std::io;

use futures_util::{Sink, Stream};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::protocol::{Message, WebSocketConfig};
use tokio_tungstenite::tungstenite::{Bytes, Error};

use crate::LinkError;
use crate::channel::{ByteStream, READ_BUFFER_BYTES, WRITE_BUFFER_BYTES, opened};
use crate::origin::OriginGate;

/// The longest piece, either way: a few records of TLS.
pub const PIECE_BYTES: usize = 16 * 1024;

/// The stream.
#[derive(Debug)]
pub struct Tunnel<S> {
    socket: WebSocketStream<S>,
    /// What is left of the piece that came last.
    rest: Bytes,
}

/// The host's end of it.
///
/// # Errors
/// [`LinkError::Socket`] if the peer does not open a WebSocket,
/// [`LinkError::Stranger`] if the gate does not let it.
pub async fn accept<S: ByteStream>(stream: S, gate: &OriginGate) -> Result<Tunnel<S>, LinkError> {
    let config = WebSocketConfig::default()
        .read_buffer_size(READ_BUFFER_BYTES)
        .write_buffer_size(WRITE_BUFFER_BYTES)
        .max_write_buffer_size(WRITE_BUFFER_BYTES + 2 * PIECE_BYTES)
        .max_message_size(Some(PIECE_BYTES))
        .max_frame_size(Some(PIECE_BYTES));
    let socket = opened(stream, gate, config).await?;
    Ok(Tunnel {
        socket,
        rest: Bytes::new(),
    })
}

fn failed(e: Error) -> io::Error {
    match e {
        Error::Io(e) => e,
        other => io::Error::other(other),
    }
}

impl<S: ByteStream> AsyncRead for Tunnel<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        while self.rest.is_empty() {
            self.rest = match ready!(Pin::new(&mut self.socket).poll_next(cx)) {
                Some(Ok(Message::Binary(piece))) => piece,
                Some(Ok(Message::Ping(_) | Message::Pong(_))) => continue,
                None | Some(Ok(Message::Close(_)) | Err(Error::ConnectionClosed)) => {
                    return Poll::Ready(Ok(()));
                }
                Some(Ok(_)) => {
                    return Poll::Ready(Err(io::ErrorKind::InvalidData.into()));
                }
                Some(Err(e)) => return Poll::Ready(Err(failed(e))),
            };
        }
        let many = self.rest.len().min(into.remaining());
        into.put_slice(&self.rest.split_to(many));
        Poll::Ready(Ok(()))
    }
}

impl<S: ByteStream> AsyncWrite for Tunnel<S> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let piece = &bytes[..bytes.len().min(PIECE_BYTES)];
        let mut socket = Pin::new(&mut self.socket);
        ready!(socket.as_mut().poll_ready(cx)).map_err(failed)?;
        let message = Message::Binary(Bytes::copy_from_slice(piece));
        socket.start_send(message).map_err(failed)?;
        Poll::Ready(Ok(piece.len()))
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.socket).poll_flush(cx).map_err(failed)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        match ready!(Pin::new(&mut self.socket).poll_close(cx)) {
            Ok(()) | Err(Error::ConnectionClosed | Error::AlreadyClosed) => Poll::Ready(Ok(())),
            Err(e) => Poll::Ready(Err(failed(e))),
        }
    }
}

#[cfg(test)]
mod tests {
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    use super::*;
    use futures_util::{SinkExt, StreamExt};

    #[tokio::test]
    async fn pieces_make_one_stream_and_a_goodbye_ends_it() {
        let (here, there) = duplex(64 * 1024);
        let gate = OriginGate::at(
            "192.168.1.20:4750".parse().unwrap(),
            false,
            Vec::new().into(),
        );
        let browser = async {
            let request = "ws://192.168.1.20:4750/within";
            let (mut socket, _) = tokio_tungstenite::client_async(request, there)
                .await
                .unwrap();
            for piece in [&b"ab"[..], b"", b"cdef"] {
                let message = Message::Binary(Bytes::from_static(piece));
                socket.send(message).await.unwrap();
            }
            let mut back = Vec::new();
            while back.len() < 3 * PIECE_BYTES {
                let Some(Ok(Message::Binary(piece))) = socket.next().await else {
                    panic!("a piece")
                };
                assert!(piece.len() <= PIECE_BYTES);
                back.extend_from_slice(&piece);
            }
            socket.close(None).await.unwrap();
            back
        };
        let host = async {
            let mut tunnel = accept(here, &gate).await.unwrap();
            let mut came = [0; 6];
            tunnel.read_exact(&mut came).await.unwrap();
            assert_eq!(&came, b"abcdef");
            tunnel.write_all(&vec![7; 3 * PIECE_BYTES]).await.unwrap();
            tunnel.flush().await.unwrap();
            assert_eq!(tunnel.read(&mut came).await.unwrap(), 0);
        };
        let (back, ()) = tokio::join!(browser, host);
        assert_eq!(back, vec![7; 3 * PIECE_BYTES]);
    }
}
