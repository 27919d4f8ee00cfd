//! At the lock of a lesson.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::backoff::LONGEST_TOLD;
use fifthpeg_lock::{Knows, LockError, StudentLock, StudentStep};
use fifthpeg_wire::{LockAsk, LockReply, encode_lock_ask};
use rand_core_06::OsRng;

use super::{PageSession, PageStanding, Phase, WORK, WORK_EACH};

impl PageSession {
    pub(super) fn at_lock(&mut self, reply: LockReply, now: Moment) {
        let step = match core::mem::replace(&mut self.phase, Phase::Naming) {
            Phase::AtLock(mut lock) => {
                self.work = None;
                let step = lock.handle(reply, OsRng);
                if lock.had_no_seat() {
                    self.forget_seat(now);
                }
                self.phase = Phase::AtLock(lock);
                step
            }
            _ => match reply {
                LockReply::Lesson { name } => self.begin_proof(&name),
                _ => Err(LockError::OutOfOrder("no lesson's name")),
            },
        };
        match step {
            Ok(StudentStep::Say(ask)) => self.say(encode_lock_ask(&ask), now),
            Ok(StudentStep::Work { puzzle, .. }) => {
                self.standing = PageStanding::InLine;
                self.work = Some((puzzle, 0, now));
            }
            Ok(StudentStep::Through) => {
                let host = self.carrier.binding().map(|binding| binding.host);
                self.join(host, now);
            }
            Err(LockError::Wrong) => {
                self.words = None;
                self.stop(PageStanding::WordsWanted { wrong: true }, now);
            }
            Err(LockError::NoSeat | LockError::NoKey) => {
                self.stop(PageStanding::WordsWanted { wrong: false }, now);
            }
            Err(LockError::NotTheHost) => self.stop(PageStanding::NotTheHost, now),
            Err(e @ LockError::Wait { seconds }) => {
                let wait = Duration::from_secs(u64::from(seconds)).min(LONGEST_TOLD);
                self.later(&e.to_string(), wait, now);
            }
            Err(e @ LockError::OutOfOrder(_)) => self.lost(&e.to_string(), now),
        }
    }

    fn begin_proof(&mut self, lesson: &str) -> Result<StudentStep, LockError> {
        let binding = self.carrier.binding().ok_or(LockError::NotTheHost)?;
        let knows = Knows {
            // A seat is shown to no other host than the one that gave it.
            seat: self.seat.filter(|_| self.host == Some(binding.host)),
            keys: Vec::new(),
            passphrase: self.words.clone(),
        };
        let (lock, ask) =
            StudentLock::begin(knows, (binding, lesson), OsRng).ok_or(LockError::NoSeat)?;
        self.phase = Phase::AtLock(Box::new(lock));
        Ok(StudentStep::Say(ask))
    }

    pub(super) fn work(&mut self, now: Moment) {
        let Some((puzzle, from, due)) = &mut self.work else {
            return;
        };
        if *due > now {
            return;
        }
        let shares = puzzle.shares(*from, WORK);
        *from += WORK;
        *due = now + WORK_EACH;
        if !shares.is_empty() {
            self.say(encode_lock_ask(&LockAsk::Work { shares }), now);
        }
    }
}
