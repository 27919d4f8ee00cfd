//! What waits to be written down before a student may be told of it.
//!
//! A message that promises something (an answer marked, a seat in the lesson)
//! waits until the batch it came from is in the lesson book. What promises
//! nothing goes at once, though never past a message that waits for the same
//! student. Where the book is slow or in trouble that last part is given up, so
//! that the lesson goes on: calls, rules and reveals go ahead, and the promises
//! alone wait.

use std::collections::{BTreeMap, VecDeque};

use fifthpeg_book::BatchNumber;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{StudentId, ToStudent};
use fifthpeg_lesson::tally::Tally;

use super::quota::BURST;

/// Most that waits for one student: a word on each answer of a burst, however long
/// the book takes, and what the lesson says meanwhile. Beyond it the connection is
/// given up; coming back brings the same news afresh.
pub const MOST_HELD: usize = BURST as usize + 64;

/// What goes to one student.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Out {
    Message(ToStudent),
    /// The seat is given up.
    Leave,
}

#[derive(Debug)]
struct Held {
    out: Out,
    ticket: BatchNumber,
    since: Moment,
    /// What of it promises nothing has gone ahead.
    went_ahead: bool,
}

/// Everything that waits, for each student in order. Sorted, so that the same
/// lesson says the same in the same order.
#[derive(Debug, Default)]
pub(crate) struct CommitGate {
    waiting: BTreeMap<StudentId, VecDeque<Held>>,
    /// Up to where batches are stored.
    stored: Option<BatchNumber>,
    /// What promises nothing goes ahead.
    ahead: bool,
    /// The sums that each student was last told of, or could have been: all they
    /// count is stored.
    sums: BTreeMap<StudentId, Tally>,
    /// Since when the oldest waits, if anything does: asked for after every
    /// input, so it is kept and not looked for.
    oldest: Option<Moment>,
}

impl CommitGate {
    /// Takes what is to go to a student, caused by the batch of `ticket` (`None`
    /// without a book); gives back what may go now.
    pub(crate) fn put(
        &mut self,
        student: StudentId,
        out: Out,
        ticket: Option<BatchNumber>,
        now: Moment,
    ) -> Option<Out> {
        let behind = self.waiting.contains_key(&student);
        let unstored = ticket.filter(|t| self.stored.is_none_or(|stored| stored < *t));
        let waits = unstored.is_some() && waits(&out);
        if !behind && !waits {
            self.told(student, &out);
            return Some(out);
        }
        // Behind a message that waits, even if its own batch is stored.
        let ticket = unstored.or(self.stored).unwrap_or(BatchNumber(0));
        let mut held = Held {
            out,
            ticket,
            since: now,
            went_ahead: false,
        };
        let queue = self.waiting.entry(student).or_default();
        if self.ahead {
            let sums = self.sums.get(&student).copied().unwrap_or_default();
            let (gone, rest) = ahead_of(queue, &mut held, sums);
            if rest {
                queue.push_back(held);
            }
            if queue.is_empty() {
                self.waiting.remove(&student);
            }
            self.look_for_oldest();
            return gone;
        }
        queue.push_back(held);
        // Moments do not go backwards.
        self.oldest = self.oldest.or(Some(now));
        None
    }

    /// Batches are stored: what may go now, in order for each student.
    pub(crate) fn stored(&mut self, up_to: BatchNumber) -> Vec<(StudentId, Out)> {
        self.stored = self.stored.max(Some(up_to));
        let mut free = Vec::new();
        self.waiting.retain(|student, queue| {
            let goes = |held: &Held| held.ticket <= up_to || !waits(&held.out);
            while let Some(held) = queue.pop_front() {
                if !goes(&held) {
                    queue.push_front(held);
                    return true;
                }
                free.push((*student, held.out));
            }
            false
        });
        if self.waiting.is_empty() {
            self.ahead = false;
        }
        self.look_for_oldest();
        for (student, out) in &free {
            self.told(*student, out);
        }
        free
    }

    /// The book is slow or in trouble: what promises nothing goes ahead, now
    /// and until nothing waits any more.
    pub(crate) fn go_ahead(&mut self) -> Vec<(StudentId, Out)> {
        self.ahead = true;
        let mut free = Vec::new();
        self.waiting.retain(|student, queue| {
            let mut kept = VecDeque::new();
            for mut held in queue.drain(..) {
                let sums = self.sums.get(student).copied().unwrap_or_default();
                let (gone, rest) = ahead_of(&mut kept, &mut held, sums);
                free.extend(gone.map(|out| (*student, out)));
                if rest {
                    kept.push_back(held);
                }
            }
            *queue = kept;
            !queue.is_empty()
        });
        self.look_for_oldest();
        free
    }

    /// Nothing is written down any more: everything may go.
    pub(crate) fn let_go(&mut self) -> Vec<(StudentId, Out)> {
        let all = std::mem::take(&mut self.waiting);
        let free = all
            .into_iter()
            .flat_map(|(student, queue)| queue.into_iter().map(move |h| (student, h.out)));
        self.ahead = false;
        self.oldest = None;
        free.collect()
    }

    /// These sums are stored: of a lesson taken up again, or told just now.
    pub(crate) fn note_sums(&mut self, student: StudentId, sums: Tally) {
        self.sums.insert(student, sums);
    }

    fn told(&mut self, student: StudentId, out: &Out) {
        match out {
            Out::Message(ToStudent::Welcome(welcome)) => self.note_sums(student, welcome.tally),
            Out::Message(
                ToStudent::Marked { tally, .. }
                | ToStudent::Closed { tally, .. }
                | ToStudent::KnownAs { tally, .. },
            ) => {
                self.note_sums(student, *tally);
            }
            // Gone for good, or back under another number.
            Out::Leave => drop(self.sums.remove(&student)),
            Out::Message(_) => {}
        }
    }

    /// The student's connection is gone, and with it what was to go over it.
    pub(crate) fn forget(&mut self, student: StudentId) {
        let gone = self.waiting.remove(&student);
        let front = gone.and_then(|queue| queue.front().map(|h| h.since));
        if front.is_some_and(|since| Some(since) == self.oldest) {
            self.look_for_oldest();
        }
    }

    fn look_for_oldest(&mut self) {
        let fronts = self.waiting.values().filter_map(VecDeque::front);
        self.oldest = fronts.map(|h| h.since).min();
    }

    /// Whether anything waits for a student.
    pub(crate) fn waits_for(&self, student: StudentId) -> bool {
        self.waiting.contains_key(&student)
    }

    /// Whether too much waits for a student.
    pub(crate) fn is_too_much(&self, student: StudentId) -> bool {
        self.waiting
            .get(&student)
            .is_some_and(|q| q.len() > MOST_HELD)
    }

    /// The most that waits for any student.
    pub(crate) fn most(&self) -> usize {
        self.waiting.values().map(VecDeque::len).max().unwrap_or(0)
    }

    /// Since when the oldest waits, unless what can has gone ahead already.
    pub(crate) fn waits_since(&self) -> Option<Moment> {
        self.oldest.filter(|_| !self.ahead)
    }

    /// Whether nothing waits.
    #[cfg(test)]
    pub(crate) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }
}

/// Whether this waits for its own batch.
fn waits(out: &Out) -> bool {
    match out {
        Out::Message(message) => promises(message) || matches!(message, ToStudent::Welcome(_)),
        Out::Leave => false,
    }
}

/// Whether this says that answers are held.
fn promises(message: &ToStudent) -> bool {
    match message {
        ToStudent::Marked { .. }
        | ToStudent::Closed { .. }
        | ToStudent::KnownAs { .. }
        | ToStudent::Ended { .. } => true,
        ToStudent::Reveal { marks, .. } => !marks.is_empty(),
        ToStudent::Call(call) => call.found || call.answers_held > 0,
        _ => false,
    }
}

/// What of `held` may go ahead of what is in `queue`, and whether it still has
/// to wait itself. `sums` are those that are stored.
fn ahead_of(queue: &mut VecDeque<Held>, held: &mut Held, sums: Tally) -> (Option<Out>, bool) {
    let Out::Message(message) = &held.out else {
        // Nobody is sent away with promises outstanding.
        return (queue.is_empty().then_some(Out::Leave), !queue.is_empty());
    };
    match message {
        ToStudent::Reveal {
            call,
            pitch,
            places,
            marks,
        } if !marks.is_empty() => {
            let told = std::mem::replace(&mut held.went_ahead, true);
            let bare = ToStudent::Reveal {
                call: *call,
                pitch: *pitch,
                places: places.clone(),
                marks: Vec::new(),
            };
            ((!told).then_some(Out::Message(bare)), true)
        }
        // What was found already, and may be lost, is not told ahead.
        ToStudent::AnswerRefused { .. } if !queue.is_empty() => (None, true),
        // The lesson is over whatever is written; its sums are no promise.
        ToStudent::Ended { .. } => (Some(held.out.clone()), false),
        // Whoever comes in is let in, but not told of sums that may be lost.
        ToStudent::Welcome(welcome) => {
            let mut welcome = welcome.clone();
            welcome.tally = sums;
            (Some(Out::Message(ToStudent::Welcome(welcome))), false)
        }
        message if promises(message) => (None, true),
        ToStudent::Call(notice) => {
            // An older call must not come back after this one.
            queue.retain(|held| match &held.out {
                Out::Message(ToStudent::Reveal { call, .. }) => *call >= notice.call,
                Out::Message(ToStudent::Call(old)) => old.call >= notice.call,
                _ => true,
            });
            (Some(held.out.clone()), false)
        }
        _ => (Some(held.out.clone()), false),
    }
}

#[cfg(test)]
mod oldest;

#[cfg(test)]
mod tests {
    use fifthpeg_core::Pitch;
    use fifthpeg_lesson::marking::Mark;
    use fifthpeg_lesson::message::{CallId, CallNotice, Refusal, SeatKey, Welcome};

    use super::*;

    const MIA: StudentId = StudentId(1);

    pub(super) fn marked(call: u32, serial: u32) -> Out {
        Out::Message(ToStudent::Marked {
            call: CallId(call),
            serial,
            mark: Mark::Right,
            tally: Tally::default(),
        })
    }

    pub(super) fn called(call: u32, answers_held: u32) -> Out {
        Out::Message(ToStudent::Call(CallNotice {
            call: CallId(call),
            tone: None,
            start: Moment::default(),
            on_asking: false,
            you_call: false,
            caller: None,
            answers_held,
            found: false,
            target: None,
            held: Vec::new(),
        }))
    }

    pub(super) fn reveal(call: u32, marks: &[u32]) -> Out {
        Out::Message(ToStudent::Reveal {
            call: CallId(call),
            pitch: Pitch::new(60).unwrap(),
            places: Vec::new(),
            marks: marks.iter().map(|s| (*s, Mark::Right)).collect(),
        })
    }

    pub(super) fn refused(call: u32) -> Out {
        Out::Message(ToStudent::AnswerRefused {
            call: CallId(call),
            serial: 2,
            why: Refusal::FoundAlready,
        })
    }

    fn put(commit_gate: &mut CommitGate, out: Out, ticket: u64) -> Option<Out> {
        commit_gate.put(MIA, out, Some(BatchNumber(ticket)), Moment::default())
    }

    fn of_mia(outs: impl IntoIterator<Item = Out>) -> Vec<(StudentId, Out)> {
        outs.into_iter().map(|out| (MIA, out)).collect()
    }

    #[test]
    fn without_a_book_nothing_waits() {
        let mut commit_gate = CommitGate::default();
        let out = commit_gate.put(MIA, marked(1, 1), None, Moment::default());
        assert_eq!(out, Some(marked(1, 1)));
        assert_eq!(commit_gate.waits_since(), None);
    }

    #[test]
    fn a_promise_waits_for_its_batch_and_keeps_its_place() {
        let mut commit_gate = CommitGate::default();
        assert_eq!(put(&mut commit_gate, called(1, 0), 1), Some(called(1, 0)));
        assert_eq!(put(&mut commit_gate, marked(1, 1), 2), None);
        assert_eq!(put(&mut commit_gate, refused(1), 3), None);
        assert_eq!(put(&mut commit_gate, called(2, 0), 4), None);
        assert_eq!(put(&mut commit_gate, marked(2, 1), 5), None);
        // Somebody else's does not wait for it.
        let other = commit_gate.put(
            StudentId(2),
            called(2, 0),
            Some(BatchNumber(4)),
            Moment::default(),
        );
        assert_eq!(other, Some(called(2, 0)));
        assert_eq!(commit_gate.stored(BatchNumber(1)), []);
        let free = of_mia([marked(1, 1), refused(1), called(2, 0)]);
        assert_eq!(commit_gate.stored(BatchNumber(4)), free);
        assert_eq!(commit_gate.stored(BatchNumber(9)), of_mia([marked(2, 1)]));
        // Stored before it came here.
        assert_eq!(put(&mut commit_gate, marked(2, 2), 9), Some(marked(2, 2)));
    }

    #[test]
    fn in_trouble_the_lesson_goes_ahead_and_promises_wait() {
        let mut commit_gate = CommitGate::default();
        for out in [marked(1, 1), refused(1), reveal(1, &[1])] {
            assert_eq!(put(&mut commit_gate, out, 1), None);
        }
        assert!(commit_gate.waits_since().is_some());
        assert_eq!(commit_gate.go_ahead(), of_mia([reveal(1, &[])]));
        assert_eq!(commit_gate.waits_since(), None);
        // Once is enough.
        assert_eq!(commit_gate.go_ahead(), []);
        assert_eq!(put(&mut commit_gate, called(2, 0), 2), Some(called(2, 0)));
        assert_eq!(put(&mut commit_gate, marked(2, 1), 3), None);
        // The reveal of the call before would hide the one that is open.
        let free = of_mia([marked(1, 1), refused(1), marked(2, 1)]);
        assert_eq!(commit_gate.stored(BatchNumber(3)), free);
        // Over: it waits as before.
        assert_eq!(put(&mut commit_gate, marked(2, 2), 4), None);
        assert_eq!(put(&mut commit_gate, called(3, 0), 4), None);
    }

    #[test]
    fn a_call_that_says_what_is_held_waits_and_gives_way_to_the_next() {
        let mut commit_gate = CommitGate::default();
        assert_eq!(put(&mut commit_gate, called(1, 2), 1), None);
        assert_eq!(commit_gate.go_ahead(), []);
        assert_eq!(put(&mut commit_gate, called(2, 0), 2), Some(called(2, 0)));
        assert_eq!(commit_gate.stored(BatchNumber(2)), []);
    }

    #[test]
    fn a_seat_is_given_up_behind_what_waits() {
        let mut commit_gate = CommitGate::default();
        assert_eq!(put(&mut commit_gate, marked(1, 1), 1), None);
        assert_eq!(put(&mut commit_gate, Out::Leave, 2), None);
        assert_eq!(commit_gate.go_ahead(), []);
        assert_eq!(
            commit_gate.stored(BatchNumber(2)),
            of_mia([marked(1, 1), Out::Leave])
        );
        assert_eq!(put(&mut commit_gate, Out::Leave, 3), Some(Out::Leave));
    }

    #[test]
    fn what_waits_goes_with_the_connection_or_without_the_book() {
        let mut commit_gate = CommitGate::default();
        assert_eq!(put(&mut commit_gate, marked(1, 1), 1), None);
        commit_gate.forget(MIA);
        assert_eq!(commit_gate.stored(BatchNumber(1)), []);
        for serial in 0..=MOST_HELD as u32 {
            assert!(!commit_gate.is_too_much(MIA));
            assert_eq!(put(&mut commit_gate, marked(2, serial), 2), None);
        }
        assert!(commit_gate.is_too_much(MIA));
        assert_eq!(commit_gate.let_go().len(), MOST_HELD + 1);
        assert!(commit_gate.is_empty());
    }

    #[test]
    fn who_comes_back_while_the_book_is_slow_is_told_stored_sums_alone() {
        let sums = |found| Tally {
            found,
            ..Tally::default()
        };
        let marked = |found| {
            let Out::Message(ToStudent::Marked {
                call, serial, mark, ..
            }) = marked(1, found)
            else {
                panic!("a mark");
            };
            let tally = sums(found);
            Out::Message(ToStudent::Marked {
                call,
                serial,
                mark,
                tally,
            })
        };
        let welcome = |found| {
            Out::Message(ToStudent::Welcome(Box::new(Welcome {
                student: MIA,
                key: SeatKey(7),
                name: "Mia".to_owned(),
                rules: rules(),
                tally: sums(found),
                last_call: None,
            })))
        };
        let mut commit_gate = CommitGate::default();
        assert_eq!(put(&mut commit_gate, marked(1), 1), None);
        assert_eq!(commit_gate.stored(BatchNumber(1)), of_mia([marked(1)]));
        // The second is not stored when she is back.
        assert_eq!(put(&mut commit_gate, marked(2), 2), None);
        commit_gate.forget(MIA);
        assert_eq!(put(&mut commit_gate, welcome(2), 3), None);
        assert_eq!(commit_gate.go_ahead(), of_mia([welcome(1)]));
        // Of a lesson taken up again all is stored.
        let mut commit_gate = CommitGate::default();
        commit_gate.note_sums(MIA, sums(5));
        assert_eq!(put(&mut commit_gate, welcome(5), 1), None);
        assert_eq!(commit_gate.go_ahead(), of_mia([welcome(5)]));
    }

    fn rules() -> fifthpeg_lesson::message::Rules {
        let neck = fifthpeg_core::Neck::ready("banjo-open-g").unwrap();
        fifthpeg_lesson::LessonSetup::new("Hall", &neck).rules
    }
}
