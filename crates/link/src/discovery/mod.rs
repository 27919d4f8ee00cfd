//! Announcing a lesson on the local network, and finding the lessons there,
//! by DNS service discovery over multicast (RFC 6762 and 6763).
//!
//! The service type is [`SERVICE_TYPE`]; the instance name is the lesson's
//! name, made different by a number if two lessons on a network have the same;
//! the TXT record holds the lesson's name in full, the protocol versions that
//! the host speaks, and the machine's name, for people. Whatever is found is a
//! claim by a stranger and held within limits: [`MAX_LESSONS`],
//! [`MAX_ADDRESSES`], names without control signs.

mod announce;
mod find;
mod name;

pub use announce::Announcement;
pub use find::{FoundLesson, MAX_LESSONS, find, find_until};
pub use name::MAX_INSTANCE_BYTES;

pub use crate::connect::MAX_ADDRESSES;

/// The service type that hosts announce.
pub const SERVICE_TYPE: &str = "_fifthpeg._tcp.local.";

/// TXT key of the lesson's name in full.
const TXT_LESSON: &str = "lesson";
/// TXT key of the oldest protocol version.
const TXT_OLDEST: &str = "oldest";
/// TXT key of the newest protocol version.
const TXT_NEWEST: &str = "newest";
/// TXT key of the machine's name.
const TXT_MACHINE: &str = "machine";

#[cfg(test)]
mod tests;
