//! What the host says of itself for the log: kinds, numbers and times.

use std::net::IpAddr;
use std::time::Instant;

use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{Refusal, StudentId};
use fifthpeg_link::LinkError;
use fifthpeg_log::{Chain, Kind, Shortened};
use tracing::{debug, info, trace, warn};

use crate::engine::{ConnectionId, GoneWhy};
use crate::{Counter, Notice};

/// A round of the lesson's task that takes longer than this keeps somebody waiting.
const LONG_ROUND_US: u64 = 50_000;

pub(crate) fn micros(since: Instant) -> u64 {
    u64::try_from(since.elapsed().as_micros()).unwrap_or(u64::MAX)
}

/// Something that whoever holds the lesson is told.
pub(crate) fn notice(notice: &Notice) {
    match from(notice) {
        Some(ip) => warn!(name: "notice", kind = %Kind(notice), at = %Shortened::from(ip)),
        None => warn!(name: "notice", kind = %Kind(notice)),
    }
}

fn from(notice: &Notice) -> Option<IpAddr> {
    match notice {
        Notice::NotJoined { address, .. }
        | Notice::WrongVersion { address, .. }
        | Notice::TooManyConnections { address, .. } => Some(address.ip()),
        Notice::WrongPassphrase { ip, .. }
        | Notice::GuessesWait { ip, .. }
        | Notice::TooManyJoining { ip, .. }
        | Notice::TooSoon { ip } => Some(*ip),
        _ => None,
    }
}

/// Notices that were not told one by one.
pub(crate) fn more(counter: Counter, times: u64) {
    warn!(name: "more-notices", kind = %Kind(&counter), count = times);
}

/// A connection that came as far as being looked at.
pub(crate) fn connection(connection: ConnectionId, ip: IpAddr) {
    debug!(name: "connection", connection = connection.0, at = %Shortened::from(ip));
}

/// How it ended before anybody was let in.
pub(crate) fn came_to_nothing(connection: ConnectionId, since: Instant) {
    debug!(name: "connection-ended", connection = connection.0, took_us = micros(since));
}

/// Why somebody did not get as far as asking to join.
pub(crate) fn not_through(e: &LinkError, ip: IpAddr) {
    debug!(name: "not-through", error = %Chain(e), at = %Shortened::from(ip));
}

/// How somebody got through the lock.
pub(crate) fn through_lock(kind: &'static str, ip: IpAddr) {
    debug!(name: "through-lock", kind, at = %Shortened::from(ip));
}

/// What the lesson said to somebody who asked to join.
pub(crate) fn asked(connection: ConnectionId, joined: &Result<StudentId, Refusal>, since: Instant) {
    let (connection, took_us) = (connection.0, micros(since));
    match joined {
        Ok(student) => info!(name: "joined", connection, student = student.0, took_us),
        Err(refusal) => warn!(name: "refused", connection, kind = %Kind(refusal), took_us),
    }
}

/// A student's connection has ended; without a reason in good order or by the network.
pub(crate) fn gone(connection: ConnectionId, student: StudentId, why: Option<&GoneWhy>) {
    let (connection, student) = (connection.0, student.0);
    match why {
        Some(why) => warn!(name: "gone", connection, student, kind = %Kind(why)),
        None => info!(name: "gone", connection, student),
    }
}

/// Something in the lesson.
pub(crate) fn event(event: &LessonEvent) {
    debug!(name: "lesson", kind = %Kind(event));
}

/// A round of the lesson's task.
pub(crate) fn round(took_us: u64, count: usize) {
    if took_us > LONG_ROUND_US {
        warn!(name: "long-round", took_us, count);
    } else {
        trace!(name: "round", took_us, count);
    }
}
