//! What travels between host and students: frames with limits, and the version
//! handshake.
//!
//! Every frame is one WebSocket binary message holding one value in bincode,
//! little endian with fixed-width integers. `PROTOCOL.md` beside this crate is
//! the written protocol, made from the text of the types and compared with it by
//! a test. What the lesson says is of `fifthpeg-vocab`; what comes from a peer is
//! held against what there can be while it is read, and nowhere else.
//!
//! This crate is pure: bytes in, values out.

mod error;
mod frame;
mod frames;
mod hello;
mod limits;
mod lock;

#[cfg(test)]
mod crosscheck;
#[cfg(test)]
mod impossible;
#[cfg(test)]
mod page;
#[cfg(test)]
mod roundtrip;
#[cfg(test)]
mod samples;

pub use error::WireError;
pub use fifthpeg_core::bounded::{Bound, Limit};
pub use frame::{
    decode_client, decode_hello, decode_hello_reply, decode_host, decode_lock_ask,
    decode_lock_reply, encode_client, encode_hello, encode_hello_reply, encode_host,
    encode_lock_ask, encode_lock_reply,
};
pub use frames::{ClientFrame, HostFrame, KeyOffer};
pub use hello::{
    Hello, HelloReply, MAGIC, OPEN_PATH, PROTOCOL_NEWEST, PROTOCOL_OLDEST, UpdateSide, WITHIN_PATH,
    agree, path_of,
};
pub use limits::{
    ClientFrameBytes, HelloBytes, HostFrameBytes, LIMITS, LockBytes, ProgramBytes, Shares,
};
pub use lock::{LockAsk, LockReply};
