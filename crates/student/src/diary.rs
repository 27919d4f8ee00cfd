//! What a terminal says of itself for the log: kinds, numbers and times.

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, ToStudent};
use fifthpeg_link::LinkError;
use fifthpeg_log::{Chain, Kind, Shortened};
use fifthpeg_sound::{SoundError, Started};
use tracing::{debug, info, trace, warn};

use crate::Status;
use crate::ear::EarStatus;

/// How it stands with the lesson.
pub(crate) fn status(status: &Status) {
    let kind = Kind(status);
    match status {
        Status::Lost { retry_in, .. } => {
            warn!(name: "status", %kind, retry_ms = retry_in.as_millis() as u64);
        }
        Status::In { address, locked } => {
            info!(name: "status", %kind, at = %Shortened::from(*address), locked);
        }
        Status::Connecting { addresses } => {
            for address in addresses {
                debug!(name: "address", at = %Shortened::from(*address));
            }
            info!(name: "status", %kind, count = addresses.len());
        }
        Status::Several { lessons } => info!(name: "status", %kind, count = lessons.len()),
        _ => info!(name: "status", %kind),
    }
}

/// A host that was not reached, or did not let this terminal in.
pub(crate) fn not_in(e: &LinkError) {
    warn!(name: "not-in", error = %Chain(e));
}

/// A connection that was up is gone.
pub(crate) fn link_lost(e: &LinkError) {
    warn!(name: "link-lost", error = %Chain(e));
}

/// A host that was reached.
pub(crate) fn reached(address: SocketAddr, took: Duration) {
    let took_us = took.as_micros() as u64;
    debug!(name: "reached", at = %Shortened::from(address), took_us);
}

/// One exchange of clocks: how long it was on the way, both ways together.
pub(crate) fn clock(t1: Moment, t2: Moment, t3: Moment, t4: Moment) {
    let away = t4.micros().saturating_sub(t1.micros());
    let there = t3.micros().saturating_sub(t2.micros());
    debug!(name: "clock", delay_us = away.saturating_sub(there));
}

/// Something said to the host. An answer that is sent again has the same serial.
pub(crate) fn said(message: &FromStudent) {
    match message {
        FromStudent::Answer(answer) => {
            debug!(name: "answer-sent", call = answer.call.0, serial = answer.serial);
        }
        message => trace!(name: "said", kind = %Kind(message)),
    }
}

/// Something that the host said.
pub(crate) fn heard(message: &ToStudent) {
    trace!(name: "heard", kind = %Kind(message));
}

/// What came of a tone.
pub(crate) fn sounded(started: &Result<Started, SoundError>) {
    match started {
        Ok(started) => debug!(
            name: "sounded",
            audible = started.audible,
            uncertainty_us = started.uncertainty.as_micros() as u64,
        ),
        Err(error) => warn!(name: "not-sounded", error = %Chain(error)),
    }
}

/// This machine was asleep.
pub(crate) fn slept() {
    info!(name: "machine", kind = "slept");
}

/// How the microphone fares.
pub(crate) fn ear(before: &EarStatus, now: &EarStatus) {
    if core::mem::discriminant(&before.state) != core::mem::discriminant(&now.state) {
        info!(name: "microphone", kind = %Kind(&now.state));
    }
    if let (Some(room), true) = (&now.room, before.room != now.room) {
        let kind = if room.trouble.is_some() {
            "trouble"
        } else {
            "well"
        };
        info!(name: "room", kind);
    }
}
