//! What travels between host and students: message types, frames with limits,
//! the version handshake.
//!
//! Every frame is one WebSocket binary message holding one value in bincode,
//! little endian with fixed-width integers. `PROTOCOL.md` beside this crate is
//! the written protocol, generated from these types and compared with them by
//! a test. The types here are not the lesson's; `fifthpeg-link` converts and
//! validates between the two, so either may change without the other.
//!
//! This crate is pure: bytes in, values out.

#[macro_use]
mod describe;

mod answer;
mod bounded;
mod call;
mod client;
mod error;
mod frame;
mod hello;
mod host;
mod limits;
mod lock;
mod refusal;
mod rules;

#[cfg(test)]
mod crosscheck;
#[cfg(test)]
mod page;
#[cfg(test)]
mod roundtrip;
#[cfg(test)]
mod sample;

pub use answer::{Answer, Mark, MissKind, Side, Source, SungMark};
pub use call::{CallNotice, HeldAnswer, Progress, StudentProgress, Target, Tone, Voice};
pub use client::ClientFrame;
pub use describe::{FieldDoc, TypeDoc, VariantDoc};
pub use error::WireError;
pub use frame::{
    decode_client, decode_hello, decode_hello_reply, decode_host, decode_lock_ask,
    decode_lock_reply, encode_client, encode_hello, encode_hello_reply, encode_host,
    encode_lock_ask, encode_lock_reply,
};
pub use hello::{Hello, HelloReply, MAGIC, PROTOCOL_NEWEST, PROTOCOL_OLDEST, UpdateSide, agree};
pub use host::{HostFrame, LastCall, NumberedMark, Tally, Welcome};
pub use limits::{
    Limit, MAX_CLIENT_FRAME_BYTES, MAX_COURSE, MAX_HELD, MAX_HELLO_BYTES, MAX_HOST_FRAME_BYTES,
    MAX_LOCK_BYTES, MAX_MARKS, MAX_NAME_BYTES, MAX_PLACES, MAX_PROGRAM_BYTES, MAX_PROGRESS,
    MAX_REACH_BYTES, MAX_SHARES, MAX_STRINGS, MAX_TEXT_BYTES,
};
pub use lock::{LockAsk, LockReply};
pub use refusal::Refusal;
pub use rules::{Capo, Marking, Mode, Neck, NeckString, Place, Rules, Sounding, Telling};

/// Every type of the protocol, in the order the protocol page shows them.
pub fn types() -> Vec<TypeDoc> {
    vec![
        Hello::describe(),
        HelloReply::describe(),
        UpdateSide::describe(),
        LockAsk::describe(),
        LockReply::describe(),
        ClientFrame::describe(),
        HostFrame::describe(),
        Welcome::describe(),
        LastCall::describe(),
        Rules::describe(),
        Mode::describe(),
        Marking::describe(),
        Telling::describe(),
        Sounding::describe(),
        Voice::describe(),
        Neck::describe(),
        NeckString::describe(),
        Capo::describe(),
        Place::describe(),
        CallNotice::describe(),
        HeldAnswer::describe(),
        Tone::describe(),
        Target::describe(),
        Answer::describe(),
        Source::describe(),
        NumberedMark::describe(),
        Mark::describe(),
        MissKind::describe(),
        Side::describe(),
        SungMark::describe(),
        Tally::describe(),
        StudentProgress::describe(),
        Progress::describe(),
        Refusal::describe(),
    ]
}
