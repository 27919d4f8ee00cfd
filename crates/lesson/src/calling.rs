//! Making, sounding, revealing and closing a call.

use core::time::Duration;

use fifthpeg_core::{Pitch, Position};

use crate::Moment;
use crate::call::{Call, Part};
use crate::event::LessonEvent;
use crate::lesson::Lesson;
use crate::marking::Marking;
use crate::message::{Answer, CallId, Refusal, Sounding, StudentId, ToStudent, Tone};
use crate::setup::Picked;
use crate::view::CallStage;

/// The host's speakers start no more often than this when students ask: several
/// who ask at once hear one sounding.
pub const HOST_SOUND_GAP: Duration = Duration::from_secs(1);

impl Lesson {
    /// Makes a call: of a note chosen and by what, or of one picked. A call that is revealed is closed
    /// first.
    pub(crate) fn make_call(
        &mut self,
        chosen: Option<(Answer, Picked)>,
        caller: Option<StudentId>,
        now: Moment,
    ) -> Result<(), Refusal> {
        if self.stage() == Some(CallStage::Open) {
            return Err(Refusal::CallOpen);
        }
        let ((pitch, place), picked) = match chosen {
            Some((at, by)) => (self.by_hand(at)?, by),
            None => (self.at_random(caller, now)?, self.untold.picking.into()),
        };
        if self.stage() == Some(CallStage::Revealed) {
            self.close(now);
        }
        self.last_call = self.last_call.saturating_add(1);
        self.picker.remember(pitch);
        let tone = Tone {
            frequency_hz: pitch.frequency_hz(self.reference),
            voice: self.rules.voice,
            pluck_seed: self.picker.pluck_seed(),
        };
        let start = now + self.lead;
        let call = Call {
            id: CallId(self.last_call),
            pitch,
            place,
            places: self.neck.places(pitch),
            stage: CallStage::Open,
            revealed: false,
            tone,
            sounding: self.rules.sounding,
            start,
            sounded_again: 0,
            host_sound: start,
            caller,
            caller_name: caller.and_then(|id| self.roster.get(id).map(|s| s.name.clone())),
        };
        let mut present = Vec::new();
        for student in self.roster.iter_mut() {
            if let (Some(last), Some(part)) = (&self.call, student.part.take()) {
                student.past.take(last, &part);
            }
            if student.here() && Some(student.id) != caller {
                student.part = Some(Part::new(&call, now));
                present.push(student.id);
            }
        }
        self.happened(LessonEvent::CallMade {
            at: now,
            call: call.id,
            pitch,
            place,
            marking: self.rules.marking,
            tone,
            start,
            picked: Some(picked),
            caller,
            present,
        });
        if call.sounding == Sounding::HostSpeakers {
            self.happened(LessonEvent::HostSound {
                at: now,
                call: call.id,
                tone,
                start,
            });
        }
        self.told_progress.clear();
        self.send_all(now, |s| ToStudent::Call(call.notice(s.id, s.part.as_ref())));
        self.call = Some(call);
        Ok(())
    }

    /// Sounds the call again for everyone, also after the reveal.
    pub(crate) fn hear_again(&mut self, now: Moment) -> Result<(), Refusal> {
        let start = now + self.lead;
        let call = self.unclosed().ok_or(Refusal::NoCall)?;
        call.sounded_again = call.sounded_again.saturating_add(1);
        let id = call.id;
        if call.sounding == Sounding::HostSpeakers {
            // This is the free hearing of those who came after the first.
            for student in self.roster.iter_mut().filter(|s| s.here()) {
                if let Some(part) = &mut student.part {
                    part.free_hearing = false;
                }
            }
        }
        self.happened(LessonEvent::SoundedAgain {
            at: now,
            call: id,
            start,
        });
        self.host_sound(start, now);
        self.send_all(now, |_| ToStudent::HearAgain { call: id, start });
        Ok(())
    }

    /// Has the host's speakers sound the call, if it is they who sound it.
    pub(crate) fn host_sound(&mut self, start: Moment, now: Moment) {
        let Some(call) = self
            .unclosed()
            .filter(|c| c.sounding == Sounding::HostSpeakers)
        else {
            return;
        };
        call.host_sound = start;
        let event = LessonEvent::HostSound {
            at: now,
            call: call.id,
            tone: call.tone,
            start,
        };
        self.happened(event);
    }

    /// Whether a call is open that the host's speakers were to sound and nothing
    /// has reached the lesson since: in a lesson taken up again, perhaps nobody
    /// has heard it.
    pub fn is_perhaps_unsounded(&self) -> bool {
        self.call.as_ref().is_some_and(|call| {
            call.stage == CallStage::Open
                && call.sounding == Sounding::HostSpeakers
                && self.settled < call.host_sound
        })
    }

    /// Shows the note, if a call is open. Among friends the turn passes.
    pub(crate) fn reveal(&mut self, now: Moment) {
        let Some(call) = self.call.as_mut().filter(|c| c.stage == CallStage::Open) else {
            return;
        };
        call.stage = CallStage::Revealed;
        call.revealed = true;
        let call = call.clone();
        self.happened(LessonEvent::Revealed {
            at: now,
            call: call.id,
        });
        self.send_all(now, |s| call.reveal(s.part.as_ref()));
        self.pass_turn(now);
    }

    /// Ends the call, if one is open or revealed. Among friends the turn
    /// passes, unless the reveal passed it already.
    pub(crate) fn close(&mut self, now: Moment) {
        let Some(call) = self.unclosed() else {
            return;
        };
        let was_open = call.stage == CallStage::Open;
        call.stage = CallStage::Closed;
        let id = call.id;
        self.calls_closed += 1;
        // Found ones were counted when they were found.
        for student in self.roster.iter_mut() {
            let missed = student.part.as_ref().is_some_and(|part| !part.found);
            student.tally.calls += u32::from(missed);
        }
        self.happened(LessonEvent::Closed { at: now, call: id });
        self.send_all(now, |s| ToStudent::Closed {
            call: id,
            tally: s.tally,
        });
        if was_open {
            self.pass_turn(now);
        }
    }

    /// How far the last call has come; `None` before the first.
    pub(crate) fn stage(&self) -> Option<CallStage> {
        self.call.as_ref().map(|c| c.stage)
    }

    /// The call that is open or revealed.
    pub(crate) fn unclosed(&mut self) -> Option<&mut Call> {
        self.call.as_mut().filter(|c| c.stage != CallStage::Closed)
    }

    /// The target for a call by hand: it must lie in the reach.
    fn by_hand(&mut self, at: Answer) -> Result<(Pitch, Option<Position>), Refusal> {
        match at {
            Answer::Place(at) => {
                let pitch = self.neck.pitch_at(at).ok_or(Refusal::NoSuchPlace(at))?;
                if !self.reach.contains_place(at) {
                    return Err(Refusal::OutsideReach);
                }
                Ok((pitch, Some(at)))
            }
            Answer::Pitch(pitch) => {
                if !self.reach.contains_pitch(pitch) {
                    return Err(Refusal::OutsideReach);
                }
                Ok((pitch, self.place_if_exact(pitch)?))
            }
            Answer::Class(_) => Err(Refusal::OctaveNeeded),
        }
    }

    fn at_random(
        &mut self,
        caller: Option<StudentId>,
        now: Moment,
    ) -> Result<(Pitch, Option<Position>), Refusal> {
        let pitch = self.pick(caller, now)?;
        Ok((pitch, self.place_if_exact(pitch)?))
    }

    /// Exact marking always has a place: a random one of the reach.
    fn place_if_exact(&mut self, pitch: Pitch) -> Result<Option<Position>, Refusal> {
        if self.rules.marking != Marking::ExactPlace {
            return Ok(None);
        }
        self.picker
            .pick_place(pitch, &self.reach, &self.neck)
            .map(Some)
            .ok_or(Refusal::OutsideReach)
    }
}
