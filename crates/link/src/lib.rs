//! What host and student share at the edge of the network: sockets, the
//! handshake, discovery, and the monotonic clock behind every [`fifthpeg_lesson::Moment`].

pub mod channel;
pub mod clock;
pub mod connect;
pub mod discovery;
pub mod error;
pub mod handshake;
pub mod inside;
pub mod origin;
pub mod rate;
pub mod request;
pub mod secure;
pub mod tunnel;

pub use error::LinkError;
