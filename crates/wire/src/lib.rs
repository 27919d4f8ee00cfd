//! What travels between host and students: message types, frames with limits, the version handshake.
