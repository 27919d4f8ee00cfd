//! Announcing a lesson on the local network, and finding the lessons there,
//! by DNS service discovery over multicast (RFC 6762 and 6763).
//!
//! The service type is [`SERVICE_TYPE`]. The TXT record holds the lesson's
//! name, the protocol versions that the host speaks, whether it says that it is
//! locked or open, and the machine's name, for people. Whatever is found is a claim by a stranger and held within
//! limits: [`MAX_LESSONS`], [`MAX_ADDRESSES`], names without control signs.
//!
//! # Two lessons of the same name
//! The instance name is the lesson's name with a random number behind it, so
//! that the records of two lessons can never mix, on whatever networks they
//! are. The name that people see gets a number where it is taken: "Hall (2)".
//! A host looks first which names are taken, announces the lowest free one,
//! and looks again; of two that took the same at the same moment, the one whose
//! instance name sorts later moves on. Should two claims still be the same (two
//! networks joined later, say), the finding side numbers them in that order.

mod announce;
mod find;
mod name;

pub use crate::connect::MAX_ADDRESSES;
pub use announce::Announcement;
pub use find::{Finder, FoundLesson, MAX_LESSONS, find};
pub(crate) use name::machine_name;

/// The service type that hosts announce.
pub const SERVICE_TYPE: &str = "_fifthpeg._tcp.local.";

/// TXT key of the lesson's name in full.
const TXT_LESSON: &str = "lesson";
/// TXT key of the number that makes the name different; none for 1.
const TXT_NUMBER: &str = "number";
/// TXT key of the oldest protocol version.
const TXT_OLDEST: &str = "oldest";
/// TXT key of the newest protocol version.
const TXT_NEWEST: &str = "newest";
/// TXT key of whether the lesson is locked; a hint that decides nothing.
const TXT_DOOR: &str = "door";
/// What it says of an open lesson.
const DOOR_OPEN: &str = "open";
/// What it says of a locked one.
const DOOR_LOCKED: &str = "locked";
/// TXT key of the machine's name.
const TXT_MACHINE: &str = "machine";

#[cfg(test)]
mod tests;
