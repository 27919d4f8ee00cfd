//! Takes the host's orders: each is checked against the stage of the call and the
//! rules, and refused by name or done. Calling itself is in `calling`.

use fifthpeg_core::Reach;
use fifthpeg_vocab::rules::{ChangeTime, Rule, Setting};

use crate::Moment;
use crate::event::{Leaving, LessonEvent};
use crate::lesson::{Lesson, can_sound};
use crate::message::{Answer, Refusal, StudentId, ToStudent};
use crate::roles::host_may;
use crate::setup::{HostOrder, Picked};
use crate::view::CallStage;

impl Lesson {
    /// An order from the host.
    ///
    /// In a lesson of friends the host does not call: [`HostOrder::CallAt`],
    /// [`HostOrder::CallPlayed`] and [`HostOrder::CallRandom`] are refused. Where a friend has nodded off,
    /// [`HostOrder::PassTurn`] moves the turn on between calls, and hear again,
    /// reveal and close do what the caller could do. While a revealed note is still
    /// shown the turn has moved on already: passing it then closes the call.
    ///
    /// Revealing a revealed call does nothing, so that two who reveal at once
    /// do not get in each other's way.
    ///
    /// # Errors
    ///
    /// The refusal, with nothing changed.
    pub fn handle_host(&mut self, order: HostOrder, now: Moment) -> Result<(), Refusal> {
        if self.ended {
            return Err(Refusal::Ended);
        }
        let done = host_may(&order, self.rules.mode)
            .map_err(|refusal| match self.turn {
                Some(_) => refusal,
                None => Refusal::NobodyToCall,
            })
            .and_then(|()| self.obey(order.clone(), now));
        if done.is_ok() {
            self.pace_heeds(&order, now);
        }
        self.settle(now);
        done
    }

    fn obey(&mut self, order: HostOrder, now: Moment) -> Result<(), Refusal> {
        match order {
            HostOrder::CallAt(at) => self.make_call(Some((at, Picked::Hand)), None, now),
            HostOrder::CallPlayed(pitch) => {
                let played = (Answer::Pitch(pitch), Picked::Instrument);
                self.make_call(Some(played), None, now)
            }
            HostOrder::CallRandom => self.make_call(None, None, now),
            HostOrder::HearAgain => self.hear_again(now),
            HostOrder::Reveal => {
                self.unclosed().ok_or(Refusal::NoCall)?;
                self.reveal(now);
                Ok(())
            }
            HostOrder::Close => {
                self.unclosed().ok_or(Refusal::NoCall)?;
                self.close(now);
                Ok(())
            }
            HostOrder::PassTurn => self.host_passes_turn(now),
            HostOrder::Set(setting) => self.set(setting, now),
            HostOrder::Remove(student) => self.remove(student, now),
            HostOrder::KnownAs {
                student,
                name,
                person,
            } => self.known_as(student, &name, person, now),
            HostOrder::End => {
                self.end(now);
                Ok(())
            }
        }
    }

    fn host_passes_turn(&mut self, now: Moment) -> Result<(), Refusal> {
        if self.turn.is_none() {
            return Err(Refusal::NobodyToCall);
        }
        self.between_calls()?;
        // The reveal has passed the turn already: who orders it once more, or at
        // the same moment, wants to go on and not to skip anybody.
        if self.stage() == Some(CallStage::Revealed) {
            self.close(now);
        } else {
            self.pass_turn(now);
        }
        Ok(())
    }

    pub(crate) fn between_calls(&self) -> Result<(), Refusal> {
        match self.stage() {
            Some(CallStage::Open) => Err(Refusal::CallOpen),
            _ => Ok(()),
        }
    }

    /// Changes a rule, and tells everyone if it changed at all. An open call
    /// keeps its reach.
    fn set(&mut self, setting: Setting, now: Moment) -> Result<(), Refusal> {
        if Rule::of(&setting).is_some_and(|rule| rule.when == ChangeTime::BetweenCalls) {
            self.between_calls()?;
        }
        match &setting {
            Setting::Reach(spec) => {
                self.reach =
                    Reach::resolve(&self.neck, spec).map_err(|e| Refusal::Reach(e.to_string()))?;
            }
            Setting::Sounding(sounding) => {
                can_sound(*sounding, self.rules.mode, self.speakers_among_friends)?;
            }
            _ => {}
        }
        let before = self.rules.clone();
        setting.put(&mut self.rules, &mut self.untold);
        if self.rules == before {
            return Ok(());
        }
        let rules = Box::new(self.rules.clone());
        self.happened(LessonEvent::RulesChanged {
            at: now,
            rules: rules.clone(),
        });
        self.send_all(now, |_| ToStudent::Rules(rules.clone()));
        Ok(())
    }

    /// Takes a student off the roster. For that student the lesson is over, and
    /// neither the old key nor the old name lets anybody in again.
    fn remove(&mut self, id: StudentId, now: Moment) -> Result<(), Refusal> {
        let student = self.roster.get(id).ok_or(Refusal::NoStudent)?;
        let farewell = ToStudent::Ended {
            tally: student.tally,
            removed: true,
        };
        let name = student.name.clone();
        self.send(id, farewell, now);
        self.roster.take_out(id);
        self.tell_friend_left(name, now);
        self.happened(LessonEvent::Left {
            at: now,
            student: id,
            leaving: Leaving::Removed,
        });
        Ok(())
    }

    fn end(&mut self, now: Moment) {
        self.ended = true;
        self.close(now);
        self.turn = None;
        self.happened(LessonEvent::Ended { at: now });
        self.send_all(now, |s| ToStudent::Ended {
            tally: s.tally,
            removed: false,
        });
    }
}
