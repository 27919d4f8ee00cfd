//! What happened in a lesson: for the lesson book, and for the host's own
//! speakers. Events are the host's and hold what students may not see yet.

use core::time::Duration;

use fifthpeg_core::{Pitch, Position};

pub use crate::choices::Leaving;
use crate::choices::{Marking, Picked, Source};
use crate::evidence::StudentKey;
use crate::mark::Mark;
use crate::message::{Answer, CallId, Rules, StudentId, Tone};
use crate::moment::Moment;
use crate::sung::SungMark;

/// One thing that happened, with the moment on the host's clock.
///
/// Events come out of `Lesson::poll_event` in the order in which they
/// happened, and are enough to write the lesson down.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum LessonEvent {
    /// The lesson began.
    Began {
        /// When.
        at: Moment,
        /// The rules it began with.
        rules: Box<Rules>,
        /// The seed of the random picks.
        seed: u64,
    },
    /// A student came in, or came back.
    Joined {
        /// When.
        at: Moment,
        /// Who.
        student: StudentId,
        /// The name as the lesson keeps it.
        name: String,
        /// Whether an old seat was taken back. The student may still have
        /// been connected: then the new connection replaces the old.
        returning: bool,
    },
    /// A student went.
    Left {
        /// When.
        at: Moment,
        /// Who.
        student: StudentId,
        /// How. Unless it was the connection that went first, the driver
        /// closes it once the messages still queued are sent.
        leaving: Leaving,
    },
    /// The host said who a student is.
    KnownAs {
        /// When.
        at: Moment,
        /// The student.
        student: StudentId,
        /// The name as the lesson keeps it from now on.
        name: String,
        /// Who that is across lessons, where the book knows somebody of that
        /// name.
        person: Option<StudentKey>,
        /// The seat that the same person had before: it is part of this
        /// student's from now on, and no longer on the roster.
        before: Option<StudentId>,
    },
    /// A rule changed.
    RulesChanged {
        /// When.
        at: Moment,
        /// The rules now in force.
        rules: Box<Rules>,
    },
    /// In a lesson of friends: somebody else calls next.
    Turn {
        /// When.
        at: Moment,
        /// Who calls next; `None` if nobody is there.
        student: Option<StudentId>,
    },
    /// A note was called.
    CallMade {
        /// When.
        at: Moment,
        /// The call.
        call: CallId,
        /// The target.
        pitch: Pitch,
        /// The place picked, if one was.
        place: Option<Position>,
        /// What counts as right for this call.
        marking: Marking,
        /// The tone as sounded.
        tone: Tone,
        /// Start of the first hearing.
        start: Moment,
        /// Where the note came from; `None` if it was written down before that
        /// was kept.
        picked: Option<Picked>,
        /// The friend who called, in a lesson of friends.
        caller: Option<StudentId>,
        /// Who was there to answer.
        present: Vec<StudentId>,
    },
    /// The host's speakers are to sound this.
    HostSound {
        /// When this was decided.
        at: Moment,
        /// The call.
        call: CallId,
        /// What to sound.
        tone: Tone,
        /// When to start.
        start: Moment,
    },
    /// The one who calls had the call sounded again for everyone.
    SoundedAgain {
        /// When.
        at: Moment,
        /// The call.
        call: CallId,
        /// When it starts.
        start: Moment,
    },
    /// A terminal says that the tone left (or will leave) its output.
    Sounded {
        /// When the host heard of it.
        at: Moment,
        /// Whose terminal.
        student: StudentId,
        /// The call.
        call: CallId,
    },
    /// A student asked for a hearing.
    Heard {
        /// When the host heard of it.
        at: Moment,
        /// Who.
        student: StudentId,
        /// The call.
        call: CallId,
        /// Whether it was the free one.
        free: bool,
    },
    /// A student tried a place or pitch.
    Tried {
        /// When the host heard of it.
        at: Moment,
        /// Who.
        student: StudentId,
        /// The call.
        call: CallId,
        /// What was tried.
        tried: Answer,
        /// Where from.
        source: Source,
    },
    /// A student sang a note while a call was open, in a lesson that invites
    /// to sing first.
    Sung {
        /// When the host heard of it.
        at: Moment,
        /// Who.
        student: StudentId,
        /// The call.
        call: CallId,
        /// The frequency sung, in hertz.
        frequency_hz: f64,
        /// How far the voice moved about it, in cents either way.
        spread_cents: f32,
        /// How near it was, in full, whatever the student was told.
        sung: SungMark,
    },
    /// A student answered. Comes once for each answer, however often it was
    /// sent.
    Answered {
        /// When the host took it.
        at: Moment,
        /// Who.
        student: StudentId,
        /// The call.
        call: CallId,
        /// The answer's serial.
        serial: u32,
        /// The answer.
        answer: Answer,
        /// Where from.
        source: Source,
        /// The mark in full, whatever the student was told.
        mark: Mark,
        /// Response time on the student's clock, if known.
        response: Option<Duration>,
        /// How far the response time may be off either way.
        uncertainty: Duration,
    },
    /// The note was shown.
    Revealed {
        /// When.
        at: Moment,
        /// The call.
        call: CallId,
    },
    /// The call is over.
    Closed {
        /// When.
        at: Moment,
        /// The call.
        call: CallId,
    },
    /// The lesson is over.
    Ended {
        /// When.
        at: Moment,
    },
}
