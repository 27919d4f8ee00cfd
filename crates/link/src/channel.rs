//! Frames over a WebSocket, with small bounded buffers.
//!
//! Everything here takes any byte stream, so that encryption can wrap the
//! socket before it comes here: [`host_socket`] and [`student_socket`] are the
//! only two places where a byte stream becomes a channel.

use core::marker::PhantomData;
use core::pin::Pin;
use core::task::{Context, Poll, Waker};

use fifthpeg_wire::{
    Bound, ClientFrame, ClientFrameBytes, HelloBytes, HostFrame, HostFrameBytes, LockAsk,
    LockBytes, LockReply, WireError, decode_client, decode_host, decode_lock_ask,
    decode_lock_reply, encode_client, encode_host, encode_lock_ask, encode_lock_reply,
};
use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{Sink, SinkExt, StreamExt};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Error as SocketError;
use tokio_tungstenite::tungstenite::handshake::server::{
    Callback, ErrorResponse, Request, Response,
};
use tokio_tungstenite::tungstenite::http::StatusCode;
use tokio_tungstenite::tungstenite::protocol::{Message, Role, WebSocketConfig};

/// Bytes that many connections can share.
pub use tokio_tungstenite::tungstenite::Bytes;

use crate::LinkError;
use crate::origin::{OriginGate, Stranger};

/// Bytes of a read buffer; allocated for every connection.
pub const READ_BUFFER_BYTES: usize = 4 * 1024;

/// Bytes that gather before they are written; every frame is flushed anyway.
pub const WRITE_BUFFER_BYTES: usize = 1024;

/// Room for a WebSocket frame's head.
const HEAD_BYTES: usize = 64;

/// Any byte stream: a TCP socket, or one wrapped in encryption.
pub trait ByteStream: AsyncRead + AsyncWrite + Unpin + Send {}

impl<S: AsyncRead + AsyncWrite + Unpin + Send> ByteStream for S {}

/// A frame that knows its bytes.
pub trait Frame: Sized {
    /// The longest of its kind, in bytes.
    const MAX_BYTES: usize;

    /// To bytes.
    ///
    /// # Errors
    /// If a length goes beyond its limit.
    fn encode(&self) -> Result<Vec<u8>, WireError>;

    /// From bytes.
    ///
    /// # Errors
    /// If the bytes are not such a frame.
    fn decode(bytes: &[u8]) -> Result<Self, WireError>;
}

impl Frame for ClientFrame {
    const MAX_BYTES: usize = ClientFrameBytes::LIMIT.most;

    fn encode(&self) -> Result<Vec<u8>, WireError> {
        encode_client(self)
    }

    fn decode(bytes: &[u8]) -> Result<Self, WireError> {
        decode_client(bytes)
    }
}

impl Frame for HostFrame {
    const MAX_BYTES: usize = HostFrameBytes::LIMIT.most;

    fn encode(&self) -> Result<Vec<u8>, WireError> {
        encode_host(self)
    }

    fn decode(bytes: &[u8]) -> Result<Self, WireError> {
        decode_host(bytes)
    }
}

impl Frame for LockAsk {
    const MAX_BYTES: usize = LockBytes::LIMIT.most;

    fn encode(&self) -> Result<Vec<u8>, WireError> {
        encode_lock_ask(self)
    }

    fn decode(bytes: &[u8]) -> Result<Self, WireError> {
        decode_lock_ask(bytes)
    }
}

impl Frame for LockReply {
    const MAX_BYTES: usize = LockBytes::LIMIT.most;

    fn encode(&self) -> Result<Vec<u8>, WireError> {
        encode_lock_reply(self)
    }

    fn decode(bytes: &[u8]) -> Result<Self, WireError> {
        decode_lock_reply(bytes)
    }
}

/// The socket's limits for one side that reads `In` and writes `Out`.
pub fn socket_config<In: Frame, Out: Frame>() -> WebSocketConfig {
    let longest_in = In::MAX_BYTES.max(HelloBytes::LIMIT.most);
    let longest_out = Out::MAX_BYTES.max(HelloBytes::LIMIT.most);
    WebSocketConfig::default()
        .read_buffer_size(READ_BUFFER_BYTES)
        .write_buffer_size(WRITE_BUFFER_BYTES)
        // One frame of the longest kind beside what may have gathered.
        .max_write_buffer_size(WRITE_BUFFER_BYTES + longest_out + HEAD_BYTES)
        .max_message_size(Some(longest_in))
        .max_frame_size(Some(longest_in))
}

/// The host's end of a byte stream, before any frame.
///
/// # Errors
/// [`LinkError::Socket`] if the peer does not open a WebSocket,
/// [`LinkError::Stranger`] if the gate does not let it.
pub async fn host_socket<S: ByteStream>(
    stream: S,
    gate: &OriginGate,
) -> Result<WebSocketStream<S>, LinkError> {
    opened(stream, gate, socket_config::<ClientFrame, HostFrame>()).await
}

/// The host's end of a byte stream within a page's encryption: a WebSocket's frames,
/// without the opening request, which was judged already.
pub async fn host_socket_within<S: ByteStream>(stream: S) -> WebSocketStream<S> {
    let config = socket_config::<ClientFrame, HostFrame>();
    WebSocketStream::from_raw_socket(stream, Role::Server, Some(config)).await
}

/// Opens a WebSocket, if the gate lets it.
pub(crate) async fn opened<S: ByteStream>(
    stream: S,
    gate: &OriginGate,
    config: WebSocketConfig,
) -> Result<WebSocketStream<S>, LinkError> {
    let mut stranger = None;
    let judge = JudgedBy {
        gate,
        stranger: &mut stranger,
    };
    let socket = tokio_tungstenite::accept_hdr_async_with_config(stream, judge, Some(config)).await;
    match stranger {
        Some(stranger) => Err(LinkError::Stranger(stranger)),
        None => Ok(socket?),
    }
}

/// Looks at the opening request.
struct JudgedBy<'a> {
    gate: &'a OriginGate,
    stranger: &'a mut Option<Stranger>,
}

impl Callback for JudgedBy<'_> {
    fn on_request(self, request: &Request, response: Response) -> Result<Response, ErrorResponse> {
        let Err(stranger) = self.gate.admits(request.uri(), request.headers()) else {
            return Ok(response);
        };
        let mut refused = ErrorResponse::new(Some(format!("{stranger}\n")));
        *refused.status_mut() = match stranger {
            Stranger::Path(_) => StatusCode::NOT_FOUND,
            Stranger::Page(_) => StatusCode::FORBIDDEN,
        };
        *self.stranger = Some(stranger);
        Err(refused)
    }
}

/// The student's end of a byte stream, before any frame. `authority` is the
/// host and port that the opening request names.
///
/// # Errors
/// [`LinkError::Socket`] if the peer does not answer as a WebSocket.
pub async fn student_socket<S: ByteStream>(
    stream: S,
    authority: &str,
) -> Result<WebSocketStream<S>, LinkError> {
    let config = socket_config::<HostFrame, ClientFrame>();
    let request = format!("ws://{authority}/");
    let (socket, _) =
        tokio_tungstenite::client_async_with_config(request, stream, Some(config)).await?;
    Ok(socket)
}

/// A connection after the handshake: writes `Out`, reads `In`.
#[derive(Debug)]
pub struct Channel<S, Out, In> {
    sender: Sender<S, Out>,
    receiver: Receiver<S, In>,
}

/// The host's end.
pub type HostChannel<S> = Channel<S, HostFrame, ClientFrame>;

/// The student's end.
pub type StudentChannel<S> = Channel<S, ClientFrame, HostFrame>;

/// The writing half.
#[derive(Debug)]
pub struct Sender<S, Out> {
    sink: SplitSink<WebSocketStream<S>, Message>,
    frames: PhantomData<fn(Out)>,
}

/// What became of bytes that were to be sent without waiting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AtOnce {
    /// They are written.
    Written,
    /// They are taken; [`Sender::flush`] writes the rest of them.
    Unflushed,
    /// They are not taken: something else is being written.
    Refused(Bytes),
}

/// What comes over a connection.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Incoming<In> {
    /// A frame.
    Frame(In),
    /// A ping or pong, which says nothing but costs something.
    Ping,
}

/// The reading half.
#[derive(Debug)]
pub struct Receiver<S, In> {
    stream: SplitStream<WebSocketStream<S>>,
    frames: PhantomData<fn() -> In>,
}

impl<S: ByteStream, Out: Frame, In: Frame> Channel<S, Out, In> {
    pub(crate) fn over(socket: WebSocketStream<S>) -> Self {
        let (sink, stream) = socket.split();
        Self {
            sender: Sender {
                sink,
                frames: PhantomData,
            },
            receiver: Receiver {
                stream,
                frames: PhantomData,
            },
        }
    }

    /// The same connection for frames of other kinds, as at and after the lock.
    pub fn speaking<Out2: Frame, In2: Frame>(self) -> Channel<S, Out2, In2> {
        Channel {
            sender: Sender {
                sink: self.sender.sink,
                frames: PhantomData,
            },
            receiver: Receiver {
                stream: self.receiver.stream,
                frames: PhantomData,
            },
        }
    }

    /// Writes one frame and flushes it; waits while the peer is slow.
    ///
    /// # Errors
    /// If the frame goes beyond a limit, or the connection is lost.
    pub async fn send(&mut self, frame: &Out) -> Result<(), LinkError> {
        self.sender.send(frame).await
    }

    /// The next frame; `None` once the peer has closed.
    ///
    /// # Errors
    /// If the peer sends what is not allowed, or the connection is lost.
    pub async fn recv(&mut self) -> Result<Option<In>, LinkError> {
        self.receiver.recv().await
    }

    /// Says goodbye, and waits until the peer has taken it. A peer that is gone
    /// already is no error.
    pub async fn close(&mut self) {
        self.sender.close().await;
        while let Ok(Some(_)) = self.receiver.recv().await {}
    }

    /// The two halves, to be driven by themselves.
    pub fn split(self) -> (Sender<S, Out>, Receiver<S, In>) {
        (self.sender, self.receiver)
    }
}

impl<S: ByteStream, Out: Frame> Sender<S, Out> {
    /// Writes one frame and flushes it; waits while the peer is slow.
    ///
    /// # Errors
    /// If the frame goes beyond a limit, or the connection is lost.
    pub async fn send(&mut self, frame: &Out) -> Result<(), LinkError> {
        self.send_encoded(Bytes::from(frame.encode()?)).await
    }

    /// Writes bytes that [`Frame::encode`] made, so that one encoding can
    /// serve many connections.
    ///
    /// # Errors
    /// If the connection is lost.
    pub async fn send_encoded(&mut self, bytes: Bytes) -> Result<(), LinkError> {
        Ok(self.sink.send(Message::Binary(bytes)).await?)
    }

    /// Writes bytes that [`Frame::encode`] made, as far as the connection takes
    /// them without waiting.
    ///
    /// # Errors
    /// If the connection is lost.
    pub fn send_at_once(&mut self, bytes: Bytes) -> Result<AtOnce, LinkError> {
        // Whoever flushes later is the one to be woken.
        let mut cx = Context::from_waker(Waker::noop());
        let mut sink = Pin::new(&mut self.sink);
        match sink.as_mut().poll_ready(&mut cx) {
            Poll::Ready(ready) => ready?,
            Poll::Pending => return Ok(AtOnce::Refused(bytes)),
        }
        sink.as_mut().start_send(Message::Binary(bytes))?;
        Ok(match sink.poll_flush(&mut cx) {
            Poll::Ready(flushed) => {
                flushed?;
                AtOnce::Written
            }
            Poll::Pending => AtOnce::Unflushed,
        })
    }

    /// Writes what is left of what was sent.
    ///
    /// # Errors
    /// If the connection is lost.
    pub async fn flush(&mut self) -> Result<(), LinkError> {
        Ok(self.sink.flush().await?)
    }

    /// Says goodbye. A peer that is gone already is no error.
    pub async fn close(&mut self) {
        // Nothing is left to be done about a failure here.
        let _ = self.sink.close().await;
    }
}

impl<S: ByteStream, In: Frame> Receiver<S, In> {
    /// The next frame; `None` once the peer has closed. Dropping the future
    /// loses nothing.
    ///
    /// # Errors
    /// If the peer sends what is not allowed, or the connection is lost.
    pub async fn recv(&mut self) -> Result<Option<In>, LinkError> {
        match next_binary(&mut self.stream).await? {
            Some(bytes) => Ok(Some(In::decode(&bytes)?)),
            None => Ok(None),
        }
    }

    /// [`Receiver::recv`], for who counts everything that comes.
    ///
    /// # Errors
    /// As [`Receiver::recv`].
    pub async fn hear(&mut self) -> Result<Option<Incoming<In>>, LinkError> {
        Ok(match next_heard(&mut self.stream).await? {
            Some(Incoming::Frame(bytes)) => Some(Incoming::Frame(In::decode(&bytes)?)),
            Some(Incoming::Ping) => Some(Incoming::Ping),
            None => None,
        })
    }
}

/// The next binary message; `None` once the peer has closed.
pub(crate) async fn next_binary<T>(stream: &mut T) -> Result<Option<Bytes>, LinkError>
where
    T: StreamExt<Item = Result<Message, SocketError>> + Unpin,
{
    loop {
        match next_heard(stream).await? {
            Some(Incoming::Frame(bytes)) => return Ok(Some(bytes)),
            Some(Incoming::Ping) => {}
            None => return Ok(None),
        }
    }
}

/// The next message of either kind. Pings are answered by the socket itself.
async fn next_heard<T>(stream: &mut T) -> Result<Option<Incoming<Bytes>>, LinkError>
where
    T: StreamExt<Item = Result<Message, SocketError>> + Unpin,
{
    match stream.next().await {
        None | Some(Ok(Message::Close(_)) | Err(SocketError::ConnectionClosed)) => Ok(None),
        Some(Ok(Message::Binary(bytes))) => Ok(Some(Incoming::Frame(bytes))),
        Some(Ok(Message::Ping(_) | Message::Pong(_))) => Ok(Some(Incoming::Ping)),
        Some(Ok(_)) => Err(WireError::Malformed("text instead of bytes".into()).into()),
        Some(Err(e)) => Err(e.into()),
    }
}
