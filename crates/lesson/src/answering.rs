//! Takes students' messages: hearings, tries, answers. Answers are marked in
//! `marking`; nothing here tells more than the rules allow.

use crate::Moment;
use crate::call::{HeldAnswer, LONGEST_RESPONSE, believable};
use crate::calling::HOST_SOUND_GAP;
use crate::event::{Leaving, LessonEvent};
use crate::lesson::Lesson;
use crate::marking::{heard_as, mark};
use crate::message::{
    Answer, AnswerNotice, CallId, FromStudent, Refusal, Sounding, Source, StudentId, ToStudent,
};
use crate::roster::Presence;
use crate::setup::Picked;
use crate::view::{AnswerView, CallStage};

impl Lesson {
    /// A student's message. What is refused is also queued for the student, an
    /// answer as [`ToStudent::AnswerRefused`], all else as [`ToStudent::Refused`].
    ///
    /// Hearings, tries, sung notes and soundings that come too late for their call are
    /// dropped without a word: they were on their way when it ended.
    ///
    /// # Errors
    ///
    /// The refusal; [`Refusal::NoStudent`] if the student is not connected.
    pub fn handle_message(
        &mut self,
        student: StudentId,
        message: FromStudent,
        now: Moment,
    ) -> Result<(), Refusal> {
        if !self.roster.get(student).is_some_and(|s| s.here()) {
            return Err(Refusal::NoStudent);
        }
        let answered = match &message {
            FromStudent::Answer(notice) => Some((notice.call, notice.serial)),
            _ => None,
        };
        let done = if self.ended {
            Err(Refusal::Ended)
        } else {
            self.take(student, message, now)
        };
        if let Err(refusal) = &done {
            let why = refusal.clone();
            let refused = match answered {
                Some((call, serial)) => ToStudent::AnswerRefused { call, serial, why },
                None => ToStudent::Refused(why),
            };
            self.send(student, refused, now);
        }
        self.settle(now);
        done
    }

    fn take(&mut self, id: StudentId, message: FromStudent, now: Moment) -> Result<(), Refusal> {
        self.heed_role(id, &message)?;
        match message {
            FromStudent::Sounded { call } => {
                self.sounded(id, call, true);
                if self.unclosed().is_some_and(|c| c.id == call) {
                    self.happened(LessonEvent::Sounded {
                        at: now,
                        student: id,
                        call,
                    });
                }
                Ok(())
            }
            FromStudent::NotSounded { call } => {
                self.sounded(id, call, false);
                Ok(())
            }
            FromStudent::Hearing { call } => {
                self.hearing(id, call, now);
                Ok(())
            }
            FromStudent::Try { call, at, source } => self.trying(id, call, at, source, now),
            FromStudent::Sung {
                call,
                frequency_hz,
                spread_cents,
            } => {
                self.singing(id, call, frequency_hz, spread_cents, now);
                Ok(())
            }
            FromStudent::Answer(notice) => self.answer(id, notice, now),
            FromStudent::Pick { at } => {
                let chosen = at.map(|at| (at, Picked::Friend));
                self.make_call(chosen, Some(id), now)
            }
            FromStudent::CallerHearAgain { call } => {
                self.unclosed_call(call)?;
                self.hear_again(now)
            }
            FromStudent::CallerReveal { call } => {
                self.unclosed_call(call)?;
                self.reveal(now);
                Ok(())
            }
            FromStudent::CallerClose { call } => {
                self.unclosed_call(call)?;
                self.close(now);
                Ok(())
            }
            FromStudent::Leave => {
                let gone = Presence::Gone { since: now };
                let name = self.roster.get(id).map(|s| s.name.clone());
                self.part_from(id, gone, Leaving::Left, now);
                self.tell_friend_left(name.unwrap_or_default(), now);
                Ok(())
            }
        }
    }

    /// Whether an open call's tone sounded at a student's terminal.
    fn sounded(&mut self, id: StudentId, call: CallId, did: bool) {
        let open = self.is_open(call);
        let student = self.roster.get_mut(id).filter(|_| open);
        if let Some(part) = student.and_then(|s| s.part.as_mut()) {
            part.no_sound = !did;
        }
    }

    /// A student asks for a hearing. It counts from the second on while the
    /// call is open; the caller's never count. With the host's speakers it
    /// sounds in the room again, unless it is only just sounding.
    fn hearing(&mut self, id: StudentId, call: CallId, now: Moment) {
        let lead = self.lead;
        let Some(current) = self.unclosed().filter(|c| c.id == call) else {
            return;
        };
        let open = current.stage == CallStage::Open;
        let quiet = now >= current.host_sound + HOST_SOUND_GAP;
        if quiet && current.sounding == Sounding::HostSpeakers {
            let start = now + lead;
            self.host_sound(start, now);
            self.send_all(now, |_| ToStudent::HostSounds { call, start });
        }
        let Some(student) = self.roster.get_mut(id).filter(|_| open) else {
            return;
        };
        let Some(part) = &mut student.part else {
            return;
        };
        let free = core::mem::take(&mut part.free_hearing);
        part.active = true;
        if !free {
            part.hearings = part.hearings.saturating_add(1);
            student.tally.hearings = student.tally.hearings.saturating_add(1);
        }
        self.happened(LessonEvent::Heard {
            at: now,
            student: id,
            call,
            free,
        });
    }

    /// A student tries a place or pitch. Trying is the method: it is counted,
    /// never marked. The caller's tries do not count.
    fn trying(
        &mut self,
        id: StudentId,
        call: CallId,
        at: Answer,
        source: Source,
        now: Moment,
    ) -> Result<(), Refusal> {
        match at {
            Answer::Place(place) if self.neck.pitch_at(place).is_none() => {
                return Err(Refusal::NoSuchPlace(place));
            }
            Answer::Class(_) => return Err(Refusal::OctaveNeeded),
            Answer::Place(_) | Answer::Pitch(_) => {}
        }
        if !self.is_open(call) {
            return Ok(());
        }
        let Some(student) = self.roster.get_mut(id) else {
            return Err(Refusal::NoStudent);
        };
        if let Some(part) = &mut student.part {
            part.tries = part.tries.saturating_add(1);
            part.tries_played += u32::from(source == Source::Instrument);
            part.last_try = Some(at);
            part.active = true;
            student.tally.tries = student.tally.tries.saturating_add(1);
            self.happened(LessonEvent::Tried {
                at: now,
                student: id,
                call,
                tried: at,
                source,
            });
        }
        Ok(())
    }

    /// A student answers. An answer already held is confirmed again, whatever
    /// call is open by now, and not counted again.
    fn answer(&mut self, id: StudentId, notice: AnswerNotice, now: Moment) -> Result<(), Refusal> {
        if self.confirm_again(id, &notice, now) {
            return Ok(());
        }
        self.takes_answers(id, &notice)?;
        let (Some(call), Some(student)) = (&self.call, self.roster.get_mut(id)) else {
            return Err(Refusal::NoCall);
        };
        let Some(part) = &mut student.part else {
            return Err(Refusal::NoCall);
        };
        if part.found {
            return Err(Refusal::FoundAlready);
        }
        if part.answers.len() >= self.max_answers as usize {
            return Err(Refusal::TooManyAnswers(self.max_answers));
        }
        let meant = match (notice.source, notice.answer) {
            (Source::Instrument, Answer::Pitch(heard)) => {
                Answer::Pitch(heard_as(&self.neck, call.pitch, heard))
            }
            (_, answer) => answer,
        };
        let full = mark(
            call.pitch,
            call.place,
            meant,
            self.rules.marking,
            &self.neck,
        )?;
        let told = full.told(self.rules.telling);
        // A terminal that does not know the host's clock sounds at once.
        let open_for = if part.came_back {
            LONGEST_RESPONSE
        } else {
            now.since(call.start) + self.lead
        };
        let (response, uncertainty) = believable(notice.response, notice.uncertainty, open_for);
        part.answers.push(HeldAnswer {
            serial: notice.serial,
            told,
            view: AnswerView {
                answer: notice.answer,
                source: notice.source,
                mark: full,
                response,
                uncertainty,
            },
        });
        student.answers_ever = student.answers_ever.saturating_add(1);
        if full.is_right() {
            part.found = true;
            student.tally.calls += 1;
            student.tally.found += 1;
            student.tally.played += u32::from(notice.source == Source::Instrument);
            student.tally.found_first += u32::from(part.answers.len() == 1);
            if let Some(response) = response {
                student.times.add(response);
                student.tally.median = student.times.median();
            }
        }
        let marked = ToStudent::Marked {
            call: notice.call,
            serial: notice.serial,
            mark: told,
            tally: student.tally,
        };
        self.happened(LessonEvent::Answered {
            at: now,
            student: id,
            call: notice.call,
            serial: notice.serial,
            answer: notice.answer,
            source: notice.source,
            mark: full,
            response,
            uncertainty,
        });
        self.send(id, marked, now);
        Ok(())
    }

    /// Whether this answer is held already; if so it is confirmed again with
    /// the mark as told before, or in full once the note has been shown.
    fn confirm_again(&mut self, id: StudentId, notice: &AnswerNotice, now: Moment) -> bool {
        let AnswerNotice { call, serial, .. } = *notice;
        let Some(student) = self.roster.get(id) else {
            return false;
        };
        let mark = match &self.call {
            Some(last) if last.id == call => {
                let held = student.part.as_ref().and_then(|p| p.held(serial));
                held.map(|held| held.mark(last.revealed))
            }
            _ => student.past.mark(call, serial),
        };
        let Some(mark) = mark else {
            return false;
        };
        let again = ToStudent::Marked {
            call,
            serial,
            mark,
            tally: student.tally,
        };
        self.send(id, again, now);
        true
    }

    /// Whether this answer's call takes answers: only while it is open, none after the reveal.
    fn takes_answers(&self, id: StudentId, notice: &AnswerNotice) -> Result<(), Refusal> {
        let student = self.roster.get(id).ok_or(Refusal::NoStudent)?;
        match &self.call {
            Some(last) if last.id == notice.call && last.stage == CallStage::Open => Ok(()),
            Some(last) if last.id < notice.call => Err(Refusal::CallLost),
            Some(_) if student.past.is_forgotten(notice.call) => Err(Refusal::LongOver),
            Some(_) => Err(Refusal::TooLate),
            None => Err(Refusal::CallLost),
        }
    }

    /// Whether this call is open or revealed.
    fn unclosed_call(&self, id: CallId) -> Result<(), Refusal> {
        match &self.call {
            Some(call) if call.stage == CallStage::Closed => Err(Refusal::NoCall),
            Some(call) if call.id != id => Err(Refusal::OldCall),
            Some(_) => Ok(()),
            None => Err(Refusal::NoCall),
        }
    }
}
