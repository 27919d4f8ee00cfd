//! One call, and each student's part in it.

use core::time::Duration;

use fifthpeg_core::{Pitch, Position};

use crate::Moment;
use crate::marking::Mark;
use crate::message::{
    Answer, CallId, CallNotice, HeldMark, LastCall, Progress, Sounding, StudentId, ToStudent, Tone,
};
use crate::view::{AnswerView, CallStage};
use fifthpeg_vocab::sung::SungMark;

/// Nobody hears a tone and answers sooner: who does has guessed. It is what makes a
/// start at a race a false one (World Athletics, Technical Rules, rule 16.6: 0.100 s;
/// from memory).
pub const SHORTEST_RESPONSE: Duration = Duration::from_millis(100);

/// Nobody searches longer for one note (common practice, no source).
pub const LONGEST_RESPONSE: Duration = Duration::from_secs(60 * 60);

/// No terminal knows a response time worse than this and still calls it one: host's
/// speakers, a clock asked for over a slow way and a keyboard together stay well
/// below it (common practice, no source).
pub const MOST_UNCERTAIN: Duration = Duration::from_secs(2);

/// The open or last call.
#[derive(Debug, Clone)]
pub(crate) struct Call {
    pub id: CallId,
    pub pitch: Pitch,
    pub place: Option<Position>,
    /// Every place of the pitch on this neck.
    pub places: Vec<Position>,
    pub stage: CallStage,
    /// The note has been shown.
    pub revealed: bool,
    pub tone: Tone,
    pub sounding: Sounding,
    pub start: Moment,
    pub sounded_again: u32,
    /// When the host's speakers last started, or will.
    pub host_sound: Moment,
    pub caller: Option<StudentId>,
    /// Kept beside the number for those who join after the caller has gone.
    pub caller_name: Option<String>,
}

impl Call {
    /// The call as this student may know it, by their part in it.
    pub fn notice(&self, student: StudentId, part: Option<&Part>) -> CallNotice {
        let you_call = self.caller == Some(student);
        CallNotice {
            call: self.id,
            tone: (self.sounding != Sounding::HostSpeakers).then_some(self.tone),
            start: self.start,
            on_asking: self.sounding == Sounding::OnAsking,
            you_call,
            caller: self.caller_name.clone(),
            answers_held: part.map_or(0, Part::last_serial),
            found: part.is_some_and(|p| p.found),
            target: you_call.then_some((self.pitch, self.place)),
            held: part.map_or_else(Vec::new, |p| p.held_marks(self.revealed)),
        }
    }

    /// By what a terminal that comes back knows it again.
    pub fn as_last(&self) -> LastCall {
        LastCall {
            call: self.id,
            start: self.start,
            over: self.stage == CallStage::Closed,
        }
    }

    /// The note, its places, and the marks of a student's part in full.
    pub fn reveal(&self, part: Option<&Part>) -> ToStudent {
        ToStudent::Reveal {
            call: self.id,
            pitch: self.pitch,
            places: self.places.clone(),
            marks: part.map_or_else(Vec::new, Part::marks),
        }
    }
}

/// What one student has done in a call.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    /// Since when this student can search: the call's start, or coming in later.
    pub since: Moment,
    /// The next hearing asked for is the free one.
    pub free_hearing: bool,
    pub hearings: u32,
    pub tries: u32,
    /// Of these, on the instrument.
    pub tries_played: u32,
    /// The last note sung.
    pub sung: Option<SungMark>,
    /// One of them was the target, in any octave.
    pub sang_it: bool,
    /// Sung notes taken, at most [`MAX_SUNG`](crate::singing::MAX_SUNG).
    pub times_sung: u32,
    pub last_try: Option<Answer>,
    pub answers: Vec<HeldAnswer>,
    pub found: bool,
    /// Something was tried or asked for.
    pub active: bool,
    /// The tone did not sound at this student's terminal.
    pub no_sound: bool,
    /// The student was away meanwhile. The host may have been killed, and its clock
    /// stood still: how long the call has been open is not known.
    pub came_back: bool,
}

/// One answer as the host holds it.
#[derive(Debug, Clone)]
pub(crate) struct HeldAnswer {
    pub serial: u32,
    /// What the student was told, to be told again should the answer come
    /// again.
    pub told: Mark,
    /// What was answered and how it was marked in full.
    pub view: AnswerView,
}

impl HeldAnswer {
    /// Its mark, in full once the note has been `shown`.
    pub fn mark(&self, shown: bool) -> Mark {
        if shown { self.view.mark } else { self.told }
    }
}

impl Part {
    /// The part of a student who is there from the start, or who joins after it.
    ///
    /// The free hearing needs no asking where it comes by itself. It does if
    /// sounding waits for the asking, and for a late joiner who was not in the
    /// room when the host's speakers sounded.
    pub fn new(call: &Call, now: Moment) -> Self {
        let late = now > call.start;
        Self {
            since: call.start.max(now),
            free_hearing: match call.sounding {
                Sounding::EveryTerminal => false,
                Sounding::HostSpeakers => late,
                Sounding::OnAsking => true,
            },
            hearings: 0,
            tries: 0,
            tries_played: 0,
            sung: None,
            sang_it: false,
            times_sung: 0,
            last_try: None,
            answers: Vec::new(),
            found: false,
            active: false,
            no_sound: false,
            came_back: false,
        }
    }

    /// The answer with this serial, if held.
    pub fn held(&self, serial: u32) -> Option<&HeldAnswer> {
        self.answers.iter().find(|a| a.serial == serial)
    }

    /// The highest serial held, nought if none. A terminal that comes back
    /// without its memory goes on counting from here.
    pub fn last_serial(&self) -> u32 {
        self.answers.iter().map(|a| a.serial).max().unwrap_or(0)
    }

    /// Every mark in full, by serial.
    pub fn marks(&self) -> Vec<(u32, Mark)> {
        self.marks_told(true).collect()
    }

    /// Every mark as far as it may be told, by serial: in full once the note has
    /// been `shown`.
    pub fn marks_told(&self, shown: bool) -> impl Iterator<Item = (u32, Mark)> + '_ {
        self.answers.iter().map(move |a| (a.serial, a.mark(shown)))
    }

    /// Every answer with its mark as far as it may be told.
    fn held_marks(&self, shown: bool) -> Vec<HeldMark> {
        let held = |a: &HeldAnswer| HeldMark {
            serial: a.serial,
            answer: a.view.answer,
            mark: a.mark(shown),
        };
        self.answers.iter().map(held).collect()
    }

    /// How far the student is.
    pub fn progress(&self, here: bool) -> Progress {
        if self.found {
            Progress::Found
        } else if !here {
            Progress::Away
        } else if !self.answers.is_empty() {
            Progress::Missed
        } else if self.active {
            Progress::Searching
        } else if self.no_sound {
            Progress::NoSound
        } else {
            Progress::Silent
        }
    }
}

/// A response time and its uncertainty as a terminal can honestly say them, to a
/// call that has been open `for_at_most` so long; `None` and nought for what is
/// beyond: such an answer counts, and is not timed.
pub(crate) fn believable(
    response: Option<Duration>,
    uncertainty: Duration,
    for_at_most: Duration,
) -> (Option<Duration>, Duration) {
    // Two clocks drift apart; theirs may be a thousandth off.
    let longest = for_at_most.min(LONGEST_RESPONSE) * 1001 / 1000 + uncertainty.min(MOST_UNCERTAIN);
    let honest = |response: &Duration| (SHORTEST_RESPONSE..=longest).contains(response);
    match response.filter(honest) {
        Some(response) if uncertainty <= MOST_UNCERTAIN => (Some(response), uncertainty),
        _ => (None, Duration::ZERO),
    }
}
