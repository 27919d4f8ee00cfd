//! How much a peer may send. Every length has a limit, and every limit a name.

/// The longest first frame of either side, in bytes. Fixed for ever.
pub const MAX_HELLO_BYTES: usize = 256;
/// The longest frame of either side at the lock, in bytes.
pub const MAX_LOCK_BYTES: usize = 160;
/// The most shares of work in a frame at the lock.
pub const MAX_SHARES: usize = 16;
/// The longest frame from a student, in bytes.
pub const MAX_CLIENT_FRAME_BYTES: usize = 512;
/// The longest frame from the host, in bytes.
pub const MAX_HOST_FRAME_BYTES: usize = 128 * 1024;
/// The longest program version, in bytes of UTF-8.
pub const MAX_PROGRAM_BYTES: usize = 32;
/// The longest name of a student, a lesson or a neck, in bytes of UTF-8.
pub const MAX_NAME_BYTES: usize = 128;
/// The longest text of a refusal, in bytes of UTF-8.
pub const MAX_TEXT_BYTES: usize = 512;
/// The longest reach in its text form, in bytes of UTF-8.
pub const MAX_REACH_BYTES: usize = 256;
/// The most strings (courses) of a neck.
pub const MAX_STRINGS: usize = 32;
/// The most further strings in one course.
pub const MAX_COURSE: usize = 8;
/// The most places of a note in a reveal.
pub const MAX_PLACES: usize = 256;
/// The most marks in a reveal.
pub const MAX_MARKS: usize = 1024;
/// The most answers that a call says are held.
pub const MAX_HELD: usize = 1024;
/// The most students in a progress message.
pub const MAX_PROGRESS: usize = 512;

/// The limits by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Limit {
    /// [`MAX_HELLO_BYTES`].
    HelloBytes,
    /// [`MAX_LOCK_BYTES`].
    LockBytes,
    /// [`MAX_CLIENT_FRAME_BYTES`].
    ClientFrameBytes,
    /// [`MAX_HOST_FRAME_BYTES`].
    HostFrameBytes,
    /// [`MAX_PROGRAM_BYTES`].
    ProgramBytes,
    /// [`MAX_NAME_BYTES`].
    NameBytes,
    /// [`MAX_TEXT_BYTES`].
    TextBytes,
    /// [`MAX_REACH_BYTES`].
    ReachBytes,
    /// [`MAX_STRINGS`].
    Strings,
    /// [`MAX_COURSE`].
    Course,
    /// [`MAX_PLACES`].
    Places,
    /// [`MAX_MARKS`].
    Marks,
    /// [`MAX_PROGRESS`].
    Progress,
    /// [`MAX_HELD`].
    Held,
    /// [`MAX_SHARES`].
    Shares,
}

impl Limit {
    /// All of them, in the order of the protocol page.
    pub const ALL: [Limit; 15] = [
        Limit::HelloBytes,
        Limit::LockBytes,
        Limit::ClientFrameBytes,
        Limit::HostFrameBytes,
        Limit::ProgramBytes,
        Limit::NameBytes,
        Limit::TextBytes,
        Limit::ReachBytes,
        Limit::Strings,
        Limit::Course,
        Limit::Places,
        Limit::Marks,
        Limit::Progress,
        Limit::Held,
        Limit::Shares,
    ];

    /// The most that is allowed.
    pub const fn most(self) -> usize {
        match self {
            Limit::HelloBytes => MAX_HELLO_BYTES,
            Limit::LockBytes => MAX_LOCK_BYTES,
            Limit::ClientFrameBytes => MAX_CLIENT_FRAME_BYTES,
            Limit::HostFrameBytes => MAX_HOST_FRAME_BYTES,
            Limit::ProgramBytes => MAX_PROGRAM_BYTES,
            Limit::NameBytes => MAX_NAME_BYTES,
            Limit::TextBytes => MAX_TEXT_BYTES,
            Limit::ReachBytes => MAX_REACH_BYTES,
            Limit::Strings => MAX_STRINGS,
            Limit::Course => MAX_COURSE,
            Limit::Places => MAX_PLACES,
            Limit::Marks => MAX_MARKS,
            Limit::Progress => MAX_PROGRESS,
            Limit::Held => MAX_HELD,
            Limit::Shares => MAX_SHARES,
        }
    }

    /// What is limited, and in what it is counted.
    pub const fn of(self) -> &'static str {
        match self {
            Limit::HelloBytes => "bytes of a first frame",
            Limit::LockBytes => "bytes of a frame at the lock",
            Limit::ClientFrameBytes => "bytes of a frame from a student",
            Limit::HostFrameBytes => "bytes of a frame from the host",
            Limit::ProgramBytes => "bytes of a program version",
            Limit::NameBytes => "bytes of a name",
            Limit::TextBytes => "bytes of a refusal's text",
            Limit::ReachBytes => "bytes of a reach",
            Limit::Strings => "strings of a neck",
            Limit::Course => "further strings in a course",
            Limit::Places => "places of a note",
            Limit::Marks => "marks in a reveal",
            Limit::Progress => "students in a progress message",
            Limit::Held => "held answers that a call names",
            Limit::Shares => "shares of work in a frame at the lock",
        }
    }
}

impl core::fmt::Display for Limit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "more than {} {}", self.most(), self.of())
    }
}
