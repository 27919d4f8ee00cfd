//! What there is in a world: machines, connections, the disk, and what the book
//! knows of earlier lessons. What happens to them stands in their own files.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::PathBuf;

use fifthpeg_book::{Batch, BatchNumber, LessonId, Transactions};
use fifthpeg_host::engine::Engine;
use fifthpeg_lesson::backoff::Backoff;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::learning::StudentKey;
use fifthpeg_lesson::message::{Answer, CallId, SeatKey, StudentId};
use fifthpeg_lesson::terminal::{AnswerOutcome, SoundId, SoundOrder, Terminal};
use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

use crate::clock::{Clock, MS};
use crate::dice::Dice;

/// The disk.
#[derive(Debug)]
pub(crate) struct Disk {
    /// The book's folder; none in a lesson without a book.
    pub folder: Option<PathBuf>,
    pub id: Option<LessonId>,
    pub transactions: Option<Transactions>,
    pub(crate) queue: VecDeque<(BatchNumber, Batch)>,
    /// How many of the queue are being written.
    pub(crate) writing: usize,
    pub slow_until: u64,
    pub fails_until: u64,
    pub(crate) told_trouble: bool,
    /// All inputs that are stored.
    pub inputs: Vec<GivenInput>,
}

impl Disk {
    pub fn new(folder: Option<PathBuf>) -> Self {
        Self {
            folder,
            id: None,
            transactions: None,
            queue: VecDeque::new(),
            writing: 0,
            slow_until: 0,
            fails_until: 0,
            told_trouble: false,
            inputs: Vec::new(),
        }
    }

    pub fn path(&self) -> Option<PathBuf> {
        self.folder.as_ref().map(|f| f.join("lessons.book"))
    }
}

/// The host's machine.
#[derive(Debug)]
pub(crate) struct HostSide {
    /// Counts the processes.
    pub life: u32,
    pub clock: Clock,
    pub ppm: i64,
    /// There while the process runs.
    pub engine: Option<Engine>,
    pub shadow: Option<Shadow>,
    /// The lesson has ended; the book is waited for until then.
    pub ending_until: Option<u64>,
    /// Everything is told and written, and the process has ended.
    pub over: bool,
    /// When the host's speakers sounded which call, true time.
    pub sounds: Vec<(CallId, u64)>,
    /// What the speakers and the way through the hall are late by.
    pub speakers_late_us: u64,
    /// The book is not written any more.
    pub left_book: bool,
}

impl HostSide {
    pub fn new(clock: Clock) -> Self {
        Self {
            life: 0,
            clock,
            ppm: 0,
            engine: None,
            shadow: None,
            ending_until: None,
            over: false,
            sounds: Vec::new(),
            speakers_late_us: 40 * MS,
            left_book: false,
        }
    }
}

/// One connection between a terminal and the host.
#[derive(Debug)]
pub(crate) struct Conn {
    pub seat: usize,
    /// Of the student's program.
    pub program: u32,
    /// Of the host.
    pub life: u32,
    /// The end is still there, and takes part.
    pub host_open: bool,
    pub terminal_open: bool,
    /// Nothing gets through any more that way.
    pub up_lost: bool,
    pub down_lost: bool,
    pub(crate) last_up: u64,
    pub(crate) last_down: u64,
    pub opened: u64,
    /// When the host last heard from it.
    pub heard: u64,
    pub student: Option<StudentId>,
    pub queue: VecDeque<Vec<u8>>,
    /// Since when the queue's front waits.
    pub waits_since: u64,
    pub flying: usize,
    /// Close once the queue is written.
    pub leaving: bool,
}

/// The book's earlier lessons, and the thread that asks for them.
#[derive(Debug)]
pub(crate) struct Earlier {
    pub(crate) dice: Dice,
    /// There are any.
    pub(crate) there: bool,
    /// The thread runs.
    pub(crate) runs: bool,
    /// When it says what it says next: one question after another.
    pub(crate) says_at: u64,
    /// Whom it asked about before.
    pub(crate) last: Option<StudentId>,
    /// Whose name each person was looked up by.
    pub(crate) names: BTreeMap<StudentKey, String>,
    /// Who each student is, as the lesson was first told.
    pub(crate) who: BTreeMap<StudentId, StudentKey>,
    /// Of whom the host said who they are: their names are no more the ones looked up.
    pub(crate) said: BTreeSet<StudentId>,
}

impl Earlier {
    pub fn new(seed: u64, there: bool) -> Self {
        Self {
            dice: Dice::new(seed ^ 0xea51_1e55),
            there,
            runs: false,
            says_at: 0,
            last: None,
            names: BTreeMap::new(),
            who: BTreeMap::new(),
            said: BTreeSet::new(),
        }
    }

    /// The host said who somebody is: one of the book, or one who had another seat.
    pub fn become_one(&mut self, event: &LessonEvent) {
        let LessonEvent::KnownAs {
            student,
            person,
            before,
            ..
        } = event
        else {
            return;
        };
        self.said.insert(*student);
        let had = before.and_then(|before| self.who.remove(&before));
        if let Some(key) = person.or(had) {
            self.who.insert(*student, key);
        }
    }
}

/// A lesson that is given what the book is given.
#[derive(Debug)]
pub(crate) struct Shadow {
    pub(crate) lesson: Lesson,
    pub(crate) events: VecDeque<LessonEvent>,
}

impl Shadow {
    /// From a setup and the inputs so far; `fresh` if no event of it was
    /// written yet.
    pub fn new(setup: &LessonSetup, began: Moment, inputs: &[GivenInput], fresh: bool) -> Self {
        let lesson = Lesson::replay(setup.clone(), began, inputs.iter().cloned());
        let mut shadow = Self {
            lesson: lesson.expect("a setup that was good before"),
            events: VecDeque::new(),
        };
        shadow.drain();
        if !fresh {
            shadow.events.clear();
        }
        shadow
    }

    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    pub(crate) fn give(&mut self, given: &GivenInput) {
        // Refused then, refused now.
        let _ = self.lesson.apply(given.input.clone(), given.at);
        self.drain();
    }

    pub(crate) fn drain(&mut self) {
        while self.lesson.poll_message().is_some() {}
        while let Some(event) = self.lesson.poll_event() {
            self.events.push_back(event);
        }
    }
}

/// How the terminal stands with the network. Times are true times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Link {
    Off,
    Waiting { until: u64 },
    Connecting { conn: usize, by: u64 },
    Joining { conn: usize, by: u64 },
    In { conn: usize, heard: u64, said: u64 },
}

/// One answer as a student gave it.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    pub student: StudentId,
    pub call: CallId,
    /// Which call of that number: where it starts.
    pub start: Moment,
    pub answer: Answer,
    /// What the response time may be by this machine's clock, one of them.
    pub responses_us: Vec<i128>,
    /// The clock was stepped so shortly before that nothing follows from it.
    pub stepped: bool,
}

/// A seat of the lesson. A host that was killed may give a number again that it
/// had not written down: the key is another then.
pub(crate) type SeatAt = (StudentId, u128);

/// An answer as a terminal gives it: in which place, to which call (its number, and
/// where it was named to start), under which serial.
pub(crate) type AnswerAt = (SeatAt, CallId, Moment, u32);

/// A student's machine.
#[derive(Debug)]
pub(crate) struct Seat {
    pub name: String,
    pub clock: Clock,
    pub delay_up_us: (u64, u64),
    pub delay_down_us: (u64, u64),
    pub lost_per_mille: u64,
    /// What the output says its starts may be off by.
    pub output_us: u64,
    pub silent: bool,
    pub microphone: bool,
    pub cut_off_until: u64,
    pub far_until: u64,
    pub stepped_at: Option<u64>,
    /// Counts the programs run here.
    pub program: u32,
    pub terminal: Option<Terminal>,
    pub link: Link,
    /// The lesson is over for this program.
    pub over: bool,
    pub(crate) backoff: Backoff,
    pub(crate) in_since: u64,
    /// The seat as kept in a file.
    pub place: Option<SeatKey>,
    /// The seat that the last program left.
    pub(crate) from_before: Option<SeatKey>,
    pub(crate) forgotten: Option<SeatKey>,
    /// The key for a new seat that was asked for and not welcomed yet.
    pub(crate) asked_with: Option<SeatKey>,
    pub student: Option<StudentId>,
    /// The seat it was welcomed to last.
    pub place_at: Option<SeatAt>,
    /// Who this was when it left, until it is welcomed again.
    pub left: Option<StudentId>,
    pub(crate) sent: BTreeSet<(u32, CallId, u32)>,
    /// Answers given at this program, by call and serial, and what was told of
    /// each.
    pub answered: BTreeMap<AnswerAt, Vec<AnswerOutcome>>,
    pub given: Vec<Given>,
    /// The start that a call was named with last, and by which host process.
    pub named: BTreeMap<CallId, (Moment, u32)>,
    /// The start a call was named with first: which call it is.
    pub which: BTreeMap<CallId, Moment>,
    pub(crate) orders: BTreeMap<SoundId, (SoundOrder, Option<CallId>)>,
    /// When the first tone of a call really started, on this clock.
    pub(crate) started: BTreeMap<CallId, i128>,
    pub sounded: Vec<(CallId, f64)>,
    /// When something was plucked, or committed with a key, on this clock.
    pub ends: Vec<Moment>,
    pub next_pluck: u64,
}

impl Seat {
    pub fn new(name: String, clock: Clock) -> Self {
        Self {
            name,
            clock,
            delay_up_us: (200, 2 * MS),
            delay_down_us: (200, 2 * MS),
            lost_per_mille: 0,
            output_us: 5 * MS,
            silent: false,
            microphone: false,
            cut_off_until: 0,
            far_until: 0,
            stepped_at: None,
            program: 0,
            terminal: None,
            link: Link::Off,
            over: false,
            backoff: Backoff::default(),
            in_since: 0,
            place: None,
            from_before: None,
            forgotten: None,
            asked_with: None,
            student: None,
            place_at: None,
            left: None,
            sent: BTreeSet::new(),
            answered: BTreeMap::new(),
            given: Vec::new(),
            named: BTreeMap::new(),
            which: BTreeMap::new(),
            orders: BTreeMap::new(),
            started: BTreeMap::new(),
            sounded: Vec::new(),
            ends: Vec::new(),
            next_pluck: 0,
        }
    }

    /// Whether a program runs here that is in a lesson, or wants to be.
    pub fn wants_in(&self) -> bool {
        self.terminal.is_some() && !self.over
    }
}
