//! Frames to bytes and back.
//!
//! The encoding is bincode's with little-endian, fixed-width integers: counts
//! of lists and bytes of texts as `u64`, tags of choices as `u32`, `Option` and
//! truth values as one byte, records field by field. It is what bincode 1 and
//! wincode do by default, so an independent reader is at hand.

use bincode::config::{Config, Configuration, Fixint, Limit as ReadLimit, LittleEndian};
use bincode::error::{DecodeError, EncodeError};
use fifthpeg_core::bounded::{Bound, Limit};
use serde::{Deserialize, Serialize};

use crate::error::WireError;
use crate::frames::{ClientFrame, HostFrame};
use crate::hello::{Hello, HelloReply, MAGIC};
use crate::limits::{ClientFrameBytes, HelloBytes, HostFrameBytes, LIMITS, LockBytes};
use crate::lock::{LockAsk, LockReply};

const fn limited<const N: usize>() -> Configuration<LittleEndian, Fixint, ReadLimit<N>> {
    bincode::config::legacy().with_limit::<N>()
}

/// A student's first frame.
///
/// # Errors
/// [`WireError::OverLimit`] if the program version is too long.
pub fn encode_hello(hello: &Hello) -> Result<Vec<u8>, WireError> {
    encode(hello, HelloBytes::LIMIT)
}

/// The host's answer to it.
///
/// # Errors
/// [`WireError::OverLimit`] if the program version is too long.
pub fn encode_hello_reply(reply: &HelloReply) -> Result<Vec<u8>, WireError> {
    encode(reply, HelloBytes::LIMIT)
}

/// A frame from a student at the lock.
///
/// # Errors
/// None that a frame of this type can have.
pub fn encode_lock_ask(ask: &LockAsk) -> Result<Vec<u8>, WireError> {
    encode(ask, LockBytes::LIMIT)
}

/// A frame from the host at the lock.
///
/// # Errors
/// [`WireError::OverLimit`] if the lesson's name is too long.
pub fn encode_lock_reply(reply: &LockReply) -> Result<Vec<u8>, WireError> {
    encode(reply, LockBytes::LIMIT)
}

/// A frame from a student.
///
/// # Errors
/// [`WireError::OverLimit`] if a length goes beyond its limit.
pub fn encode_client(frame: &ClientFrame) -> Result<Vec<u8>, WireError> {
    encode(frame, ClientFrameBytes::LIMIT)
}

/// A frame from the host.
///
/// # Errors
/// [`WireError::OverLimit`] if a length goes beyond its limit.
pub fn encode_host(frame: &HostFrame) -> Result<Vec<u8>, WireError> {
    encode(frame, HostFrameBytes::LIMIT)
}

/// Reads a student's first frame; bytes behind it are left unread, since a
/// later version may add to it.
///
/// # Errors
/// [`WireError::NotFifthpeg`] if it does not begin as it must; any other if it
/// is cut short, too long or makes no sense.
pub fn decode_hello(bytes: &[u8]) -> Result<Hello, WireError> {
    if !bytes.starts_with(&MAGIC) {
        return Err(WireError::NotFifthpeg);
    }
    let config = limited::<{ HelloBytes::LIMIT.most }>();
    decode(bytes, config, HelloBytes::LIMIT).map(|(hello, _)| hello)
}

/// Reads the host's answer to it; bytes behind it are left unread.
///
/// # Errors
/// Any [`WireError`].
pub fn decode_hello_reply(bytes: &[u8]) -> Result<HelloReply, WireError> {
    let config = limited::<{ HelloBytes::LIMIT.most }>();
    decode(bytes, config, HelloBytes::LIMIT).map(|(reply, _)| reply)
}

/// Reads a student's frame at the lock.
///
/// # Errors
/// Any [`WireError`].
pub fn decode_lock_ask(bytes: &[u8]) -> Result<LockAsk, WireError> {
    decode_whole(
        bytes,
        limited::<{ LockBytes::LIMIT.most }>(),
        LockBytes::LIMIT,
    )
}

/// Reads the host's frame at the lock.
///
/// # Errors
/// Any [`WireError`].
pub fn decode_lock_reply(bytes: &[u8]) -> Result<LockReply, WireError> {
    decode_whole(
        bytes,
        limited::<{ LockBytes::LIMIT.most }>(),
        LockBytes::LIMIT,
    )
}

/// Reads a frame from a student.
///
/// # Errors
/// Any [`WireError`].
pub fn decode_client(bytes: &[u8]) -> Result<ClientFrame, WireError> {
    decode_whole(
        bytes,
        limited::<{ ClientFrameBytes::LIMIT.most }>(),
        ClientFrameBytes::LIMIT,
    )
}

/// Reads a frame from the host.
///
/// # Errors
/// Any [`WireError`].
pub fn decode_host(bytes: &[u8]) -> Result<HostFrame, WireError> {
    decode_whole(
        bytes,
        limited::<{ HostFrameBytes::LIMIT.most }>(),
        HostFrameBytes::LIMIT,
    )
}

fn encode<T: Serialize>(value: &T, limit: Limit) -> Result<Vec<u8>, WireError> {
    let bytes = bincode::serde::encode_to_vec(value, bincode::config::legacy()).map_err(unmade)?;
    if bytes.len() > limit.most {
        return Err(WireError::OverLimit(limit));
    }
    Ok(bytes)
}

fn decode_whole<'b, T: Deserialize<'b>, C: Config>(
    bytes: &'b [u8],
    config: C,
    limit: Limit,
) -> Result<T, WireError> {
    let (value, read) = decode(bytes, config, limit)?;
    match bytes.len() - read {
        0 => Ok(value),
        extra_bytes => Err(WireError::Trailing { extra_bytes }),
    }
}

fn decode<'b, T: Deserialize<'b>, C: Config>(
    bytes: &'b [u8],
    config: C,
    limit: Limit,
) -> Result<(T, usize), WireError> {
    if bytes.len() > limit.most {
        return Err(WireError::OverLimit(limit));
    }
    // Borrowed, so that a text is measured before it is copied.
    bincode::serde::borrow_decode_from_slice(bytes, config).map_err(|e| unread(e, limit))
}

fn unmade(error: EncodeError) -> WireError {
    match error {
        EncodeError::OtherString(text) => named(text),
        other => WireError::Malformed(other.into()),
    }
}

fn unread(error: DecodeError, limit: Limit) -> WireError {
    match error {
        DecodeError::OtherString(text) => named(text),
        DecodeError::UnexpectedEnd { .. } => WireError::CutShort,
        DecodeError::LimitExceeded => WireError::OverLimit(limit),
        other => WireError::Malformed(other.into()),
    }
}

/// A bounded list or text complains through serde, which carries words only;
/// its words lead back to the limit.
fn named(text: String) -> WireError {
    match LIMITS.into_iter().find(|l| l.to_string() == text) {
        Some(limit) => WireError::OverLimit(limit),
        None => WireError::Malformed(text.into()),
    }
}
