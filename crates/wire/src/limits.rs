//! How much a peer may send. Every length has a limit, and every limit a name.

use fifthpeg_core::bounded::{Bound, Limit, bound};
use fifthpeg_core::neck::{Course, NeckName, Strings};
use fifthpeg_vocab::written::{Friends, Held, Marks, Name, Places, ReachText, Text};

bound! {
    /// The first frame of either side. Fixed for ever.
    HelloBytes = (256, "bytes of a first frame");
    /// A frame of either side at the lock.
    LockBytes = (160, "bytes of a frame at the lock");
    /// A frame from a student.
    ClientFrameBytes = (512, "bytes of a frame from a student");
    /// A frame from the host.
    HostFrameBytes = (128 * 1024, "bytes of a frame from the host");
    /// A program's version.
    ProgramBytes = (32, "bytes of a program version");
    /// The shares of work in a frame at the lock.
    Shares = (16, "shares of work in a frame at the lock");
}

/// All limits, in the order of the protocol page.
pub const LIMITS: [Limit; 16] = [
    HelloBytes::LIMIT,
    LockBytes::LIMIT,
    ClientFrameBytes::LIMIT,
    HostFrameBytes::LIMIT,
    ProgramBytes::LIMIT,
    Name::LIMIT,
    Text::LIMIT,
    ReachText::LIMIT,
    NeckName::LIMIT,
    Strings::LIMIT,
    Course::LIMIT,
    Places::LIMIT,
    Marks::LIMIT,
    Friends::LIMIT,
    Held::LIMIT,
    Shares::LIMIT,
];
