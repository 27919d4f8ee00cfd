//! What can be wrong with a frame.

use fifthpeg_core::Cause;
use fifthpeg_core::bounded::Limit;

/// Why a frame was not made or not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum WireError {
    /// A length goes beyond its limit.
    #[error(
        "a message holds {0}, which fifthpeg never sends: make sure the other end is fifthpeg, of the same version"
    )]
    OverLimit(Limit),
    /// The frame ends in the middle of a value.
    #[error("a message was cut short: make sure the other end is fifthpeg, of the same version")]
    CutShort,
    /// Bytes are left over after the value.
    #[error(
        "a message is {extra_bytes} bytes too long: make sure the other end is fifthpeg, of the same version"
    )]
    Trailing {
        /// How many.
        extra_bytes: usize,
    },
    /// The first frame does not begin as it must.
    #[error("the other end does not speak fifthpeg: check the address and the port")]
    NotFifthpeg,
    /// A tag, truth value or text that cannot be.
    #[error(
        "a message makes no sense ({0}): make sure the other end is fifthpeg, of the same version"
    )]
    Malformed(#[source] Cause),
}
