//! The ear: samples go in, plucked notes come out.
//!
//! [`Ear`] finds plucks by itself, names the pitch of each, tells how sure it is
//! of the moment, and later how far the note settled from its pitch. It never
//! knows which note anybody hopes for. Time is a sample position, counted from
//! the first sample heard; the crate reads no clock and does no I/O.

pub mod ear;
pub mod error;
pub mod heard;
pub mod loop_test;
pub mod room;
pub mod settings;
pub mod singing;
pub mod tuner;

mod attack;
mod company;
mod cut;
mod decide;
mod decimate;
mod dither;
mod floor;
mod gap;
mod gate;
mod kind;
mod network;
mod news;
mod onset;
mod outbox;
mod own;
mod period;
mod polyphony;
mod portrait;
mod readers;
mod refractory;
mod ring;
mod ringing;
mod score;
mod settle;
mod spectrum;
mod speech_gate;
mod string;
mod strum;
mod transform;
mod weights;
mod weights_kept;
mod workspace;

pub use ear::Ear;
pub use error::EarError;
pub use heard::{EarDoubt, Heard, Pluck, PluckId, Settled};
pub use portrait::{Portrait, TRAITS};
pub use room::{ROOM_SPAN, Room, RoomListener, RoomTrouble};
pub use settings::EarSettings;
