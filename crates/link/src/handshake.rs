//! The first frames: which version both sides speak, or which side to update.

use core::time::Duration;

use fifthpeg_core::text::tamed;
use fifthpeg_wire::{
    Hello, HelloReply, PROTOCOL_NEWEST, PROTOCOL_OLDEST, WireError, agree, decode_hello,
    decode_hello_reply, encode_hello, encode_hello_reply,
};
use futures_util::SinkExt;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Bytes;
use tokio_tungstenite::tungstenite::protocol::Message;

use crate::LinkError;
use crate::channel::{
    ByteStream, Channel, HostChannel, StudentChannel, host_socket, host_socket_within, next_binary,
    student_socket,
};
use crate::origin::OriginGate;

/// This program's version, as told in the handshake.
pub const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// The versions one side speaks, and its name for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Speaks<'a> {
    /// The oldest protocol version.
    pub oldest: u16,
    /// The newest protocol version.
    pub newest: u16,
    /// The program version.
    pub program: &'a str,
}

impl Speaks<'static> {
    /// What this program speaks.
    pub const OURS: Self = Self {
        oldest: PROTOCOL_OLDEST,
        newest: PROTOCOL_NEWEST,
        program: PROGRAM,
    };
}

/// The host's side of a fresh byte stream, for terminals alone.
///
/// # Errors
/// If the peer is no fifthpeg, speaks no common version (it has been told so),
/// or takes longer than `timeout`.
pub async fn accept<S: ByteStream>(
    stream: S,
    timeout: Duration,
) -> Result<HostChannel<S>, LinkError> {
    accept_as(stream, timeout, Speaks::OURS).await
}

/// [`accept`], for whatever a gate lets in.
///
/// # Errors
/// As [`accept`].
pub async fn accept_at<S: ByteStream>(
    stream: S,
    timeout: Duration,
    gate: &OriginGate,
) -> Result<HostChannel<S>, LinkError> {
    accepted(stream, timeout, (Speaks::OURS, gate)).await
}

/// [`accept`], for a page within its own encryption.
///
/// # Errors
/// As [`accept`].
pub async fn accept_within<S: ByteStream>(
    stream: S,
    timeout: Duration,
) -> Result<HostChannel<S>, LinkError> {
    within(timeout, async {
        greet(host_socket_within(stream).await, Speaks::OURS).await
    })
    .await
}

/// [`accept`], for a host that speaks other versions.
///
/// # Errors
/// As [`accept`].
pub async fn accept_as<S: ByteStream>(
    stream: S,
    timeout: Duration,
    host: Speaks<'_>,
) -> Result<HostChannel<S>, LinkError> {
    accepted(stream, timeout, (host, &OriginGate::for_terminals())).await
}

async fn accepted<S: ByteStream>(
    stream: S,
    timeout: Duration,
    (host, gate): (Speaks<'_>, &OriginGate),
) -> Result<HostChannel<S>, LinkError> {
    within(timeout, async {
        greet(host_socket(stream, gate).await?, host).await
    })
    .await
}

async fn greet<S: ByteStream>(
    mut socket: WebSocketStream<S>,
    host: Speaks<'_>,
) -> Result<HostChannel<S>, LinkError> {
    let bytes = next_binary(&mut socket).await?.ok_or(LinkError::HungUp)?;
    let hello = decode_hello(&bytes)?;
    let reply = agree(&hello, host.oldest, host.newest, host.program);
    let bytes = encode_hello_reply(&reply)?;
    socket.send(Message::Binary(Bytes::from(bytes))).await?;
    match reply {
        HelloReply::Ready { .. } => Ok(Channel::over(socket)),
        HelloReply::Locked { .. } => Err(LinkError::Locked),
        HelloReply::Outdated { update, .. } => {
            close(&mut socket).await;
            Err(LinkError::Outdated {
                update,
                host: host.program.to_owned(),
                student: tamed(&hello.program),
            })
        }
    }
}

/// The side of a host whose lesson is locked, towards a student that came
/// without encryption: says so, or which program is too old. Always an error,
/// [`LinkError::Locked`] where the two could talk.
pub async fn turn_away<S: ByteStream>(
    stream: S,
    timeout: Duration,
    gate: &OriginGate,
) -> LinkError {
    let host = Speaks::OURS;
    let told = within(timeout, async {
        let mut socket = host_socket(stream, gate).await?;
        let bytes = next_binary(&mut socket).await?.ok_or(LinkError::HungUp)?;
        let hello = decode_hello(&bytes)?;
        let program = host.program.to_owned();
        let (reply, why) = match agree(&hello, host.oldest, host.newest, host.program) {
            HelloReply::Outdated { update, .. } => (
                agree(&hello, host.oldest, host.newest, host.program),
                LinkError::Outdated {
                    update,
                    host: program,
                    student: tamed(&hello.program),
                },
            ),
            _ => (HelloReply::Locked { program }, LinkError::Locked),
        };
        let bytes = encode_hello_reply(&reply)?;
        socket.send(Message::Binary(Bytes::from(bytes))).await?;
        close(&mut socket).await;
        // So that what was written arrives before the socket is dropped.
        while let Ok(Some(_)) = next_binary(&mut socket).await {}
        Ok(why)
    });
    told.await.unwrap_or_else(|e| e)
}

/// The student's side of a fresh byte stream. `authority` is the host and
/// port, such as `192.168.1.20:4750`.
///
/// # Errors
/// If the peer is no fifthpeg, speaks no common version, or takes longer than
/// `timeout`.
pub async fn connect<S: ByteStream>(
    stream: S,
    authority: &str,
    timeout: Duration,
) -> Result<StudentChannel<S>, LinkError> {
    connect_as(stream, authority, timeout, Speaks::OURS).await
}

/// [`connect`], for a student that speaks other versions.
///
/// # Errors
/// As [`connect`].
pub async fn connect_as<S: ByteStream>(
    stream: S,
    authority: &str,
    timeout: Duration,
    student: Speaks<'_>,
) -> Result<StudentChannel<S>, LinkError> {
    within(timeout, async {
        let mut socket = student_socket(stream, authority).await?;
        let hello = Hello {
            oldest: student.oldest,
            newest: student.newest,
            ..Hello::ours(student.program)
        };
        let bytes = encode_hello(&hello)?;
        socket.send(Message::Binary(Bytes::from(bytes))).await?;
        let bytes = next_binary(&mut socket).await?.ok_or(LinkError::HungUp)?;
        match decode_hello_reply(&bytes)? {
            HelloReply::Ready { version, .. }
                if (student.oldest..=student.newest).contains(&version) =>
            {
                Ok(Channel::over(socket))
            }
            HelloReply::Ready { .. } => {
                Err(WireError::Malformed("a protocol version that was not offered".into()).into())
            }
            HelloReply::Locked { .. } => {
                close(&mut socket).await;
                Err(LinkError::Locked)
            }
            HelloReply::Outdated {
                update, program, ..
            } => {
                close(&mut socket).await;
                Err(LinkError::Outdated {
                    update,
                    host: tamed(&program),
                    student: student.program.to_owned(),
                })
            }
        }
    })
    .await
}

async fn close<S: ByteStream>(socket: &mut WebSocketStream<S>) {
    // It is over either way.
    let _ = socket.close(None).await;
}

async fn within<T>(
    timeout: Duration,
    work: impl Future<Output = Result<T, LinkError>>,
) -> Result<T, LinkError> {
    tokio::time::timeout(timeout, work)
        .await
        .unwrap_or(Err(LinkError::TimedOut(timeout)))
}
