//! How frames travel over the browser's WebSocket: as they are in an open lesson,
//! through encryption of the page's own in a locked one.
//!
//! Locked, each message of the browser's WebSocket is a piece of a byte stream. In
//! it stands what a terminal sends over its socket: TLS 1.3, and within that a
//! WebSocket's frames (RFC 6455), without the opening request.

use core::fmt;
use std::io::{self, Read, Write};

use fifthpeg_lock::ChannelBinding;
use fifthpeg_tls::{nobody, student_binding, student_config};
use fifthpeg_wire::{Bound as _, ClientFrameBytes, HostFrameBytes};
use rustls::ClientConnection;
use tungstenite::protocol::{Message, Role, WebSocketConfig};
use tungstenite::{Error, WebSocket};

/// What travels within, as bytes in memory.
#[derive(Debug, Default)]
struct Pipe {
    come: Vec<u8>,
    read: usize,
    go: Vec<u8>,
}

impl Read for Pipe {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let rest = &self.come[self.read..];
        if rest.is_empty() {
            return Err(io::ErrorKind::WouldBlock.into());
        }
        let many = rest.len().min(into.len());
        into[..many].copy_from_slice(&rest[..many]);
        self.read += many;
        if self.read == self.come.len() {
            self.come.clear();
            self.read = 0;
        }
        Ok(many)
    }
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.go.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// What came is not what a host says.
#[derive(Debug, thiserror::Error)]
#[error("what the host says cannot be read ({0})")]
pub(crate) struct Broken(String);

fn broken(e: impl fmt::Display) -> Broken {
    Broken(e.to_string())
}

/// Encryption within the browser's WebSocket.
pub(crate) struct Sealed {
    tls: ClientConnection,
    frames: WebSocket<Pipe>,
}

/// The way for frames.
pub(crate) enum Carrier {
    /// In the clear.
    Open,
    /// Encrypted.
    Sealed(Box<Sealed>),
}

impl Carrier {
    /// Begins to encrypt.
    pub(crate) fn sealed() -> Result<Self, Broken> {
        let config = student_config().map_err(broken)?;
        let tls = ClientConnection::new(config, nobody()).map_err(broken)?;
        let longest = HostFrameBytes::LIMIT.most;
        let config = WebSocketConfig::default()
            .read_buffer_size(4096)
            .write_buffer_size(0)
            .max_write_buffer_size(ClientFrameBytes::LIMIT.most + 1024)
            .max_message_size(Some(longest))
            .max_frame_size(Some(longest));
        let frames = WebSocket::from_raw_socket(Pipe::default(), Role::Client, Some(config));
        Ok(Self::Sealed(Box::new(Sealed { tls, frames })))
    }

    /// What the proof at the lock is bound to; `None` in the clear.
    pub(crate) fn binding(&self) -> Option<ChannelBinding> {
        match self {
            Self::Open => None,
            Self::Sealed(sealed) => student_binding(&sealed.tls).ok(),
        }
    }

    /// A frame on its way out, as messages of the browser's WebSocket.
    pub(crate) fn send(&mut self, frame: Vec<u8>) -> Result<Vec<u8>, Broken> {
        match self {
            Self::Open => Ok(frame),
            Self::Sealed(sealed) => {
                sealed
                    .frames
                    .send(Message::Binary(frame.into()))
                    .map_err(broken)?;
                sealed.written()
            }
        }
    }

    /// Takes in a message of the browser's WebSocket: the frames in it, and what
    /// is to be said at once.
    pub(crate) fn receive(&mut self, message: Vec<u8>) -> Result<(Vec<Vec<u8>>, Vec<u8>), Broken> {
        match self {
            Self::Open => Ok((vec![message], Vec::new())),
            Self::Sealed(sealed) => {
                let frames = sealed.receive(&message)?;
                Ok((frames, sealed.written()?))
            }
        }
    }
}

impl Sealed {
    fn receive(&mut self, mut bytes: &[u8]) -> Result<Vec<Vec<u8>>, Broken> {
        while !bytes.is_empty() {
            self.tls.read_tls(&mut bytes).map_err(broken)?;
            let state = self.tls.process_new_packets().map_err(broken)?;
            let mut plain = vec![0; state.plaintext_bytes_to_read()];
            self.tls.reader().read_exact(&mut plain).map_err(broken)?;
            self.frames.get_mut().come.extend_from_slice(&plain);
        }
        let mut frames = Vec::new();
        loop {
            match self.frames.read() {
                Ok(Message::Binary(frame)) => frames.push(frame.to_vec()),
                Ok(_) => {}
                Err(Error::Io(e)) if e.kind() == io::ErrorKind::WouldBlock => return Ok(frames),
                // The browser's WebSocket closes as well, and says so.
                Err(Error::ConnectionClosed | Error::AlreadyClosed) => return Ok(frames),
                Err(e) => return Err(broken(e)),
            }
        }
    }

    /// What is to go out by now.
    fn written(&mut self) -> Result<Vec<u8>, Broken> {
        let plain = core::mem::take(&mut self.frames.get_mut().go);
        self.tls.writer().write_all(&plain).map_err(broken)?;
        let mut out = Vec::new();
        while self.tls.wants_write() {
            self.tls.write_tls(&mut out).map_err(broken)?;
        }
        Ok(out)
    }
}
