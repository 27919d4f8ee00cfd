//! Encryption, and the lock: TLS 1.3 with the host's own key, and over it the
//! proof of [`fifthpeg_lock`] that both ends know the passphrase.
//!
//! The certificate proves nothing to a student who has never seen it; the
//! passphrase does, because the proof is bound to this channel and to this
//! certificate. What was proved once is remembered by its [`Fingerprint`].

mod key;
mod key_file;
mod tls;
mod unlock;
mod web;
mod working;

pub use fifthpeg_lock::{ChannelBinding, Fingerprint};
pub use key::HostKey;
pub use key_file::{KeptHostKey, keep_or_make};
pub use tls::{Answered, Greeted, begins_tls, greeted, host, student};
pub use unlock::{AtLock, LockChannel, Passed, chance, reach_lock};
pub use web::WebKey;

use crate::channel::ByteStream;

/// A byte stream of any kind: bare, encrypted, or within one program.
pub type Stream = Box<dyn ByteStream>;
