//! Takes the host's messages into the terminal's state. What is shown of it is the
//! view's affair, what sounds is `sound`'s.

use fifthpeg_core::{Neck, Pitch, Position};

use super::call::HeldCall;
use super::kept::Told;
use super::{AnswerLost, AnswerOutcome, Terminal, TerminalEvent, TerminalWelcome};
use crate::Moment;
use crate::message::{CallId, Refusal, Rules, ToStudent, Welcome};
use crate::view::CallStage;

impl Terminal {
    /// Takes in what the host says, arrived at `now`.
    pub fn handle_message(&mut self, message: ToStudent, now: Moment) {
        match message {
            ToStudent::Welcome(welcome) => self.welcomed(*welcome),
            ToStudent::Rules(rules) => self.take_rules(*rules),
            ToStudent::Call(notice) => self.called(&notice, now),
            ToStudent::HearAgain { call, start } => self.heard_again(call, start, now),
            ToStudent::Marked {
                call,
                serial,
                mark,
                tally,
            } => {
                self.tally = tally;
                self.outcome(call, serial, AnswerOutcome::Marked(mark));
            }
            ToStudent::AnswerRefused { call, serial, why } => {
                self.note_refusal(why.clone());
                self.outcome(call, serial, AnswerOutcome::Refused(why));
            }
            ToStudent::Reveal {
                call,
                pitch,
                places,
                marks,
            } => {
                for (serial, mark) in marks {
                    self.outcome(call, serial, AnswerOutcome::Marked(mark));
                }
                self.revealed(call, pitch, places);
            }
            ToStudent::Closed { call, tally } => {
                self.tally = tally;
                if let Some(call) = self.call_of(call) {
                    call.live = true;
                    self.stop_playing();
                    self.awaiting_clock = None;
                    self.call_is_over();
                }
            }
            ToStudent::Turn { caller, yours } => {
                // What was heard before is not offered for calling.
                self.last_heard = None;
                self.turn = Some((caller.clone(), yours));
                self.happened(TerminalEvent::Turn { caller, yours });
            }
            ToStudent::Progress { call, students } => {
                if let Some(open) = self.call_of(call) {
                    open.progress.clone_from(&students);
                    self.happened(TerminalEvent::Progress { call, students });
                }
            }
            ToStudent::Refused(refusal) => self.refused(refusal),
            ToStudent::Ended { tally, removed } => {
                self.stop_playing();
                self.tally = tally;
                self.removed = removed;
                self.awaiting_clock = None;
                self.call_is_over();
                self.handle_over(None);
            }
            ToStudent::HostSounds { call, start } => {
                if self.call_of(call).is_some() {
                    self.sounds_in_the_room(start, now);
                }
            }
            ToStudent::Sung { call, sung } => {
                if let Some(call) = self.call_of(call)
                    && call.sung.replace(sung) != Some(sung)
                {
                    self.happened(TerminalEvent::Sung(sung));
                }
            }
            ToStudent::KnownAs { name, tally } => {
                self.tally = tally;
                if let Some(welcome) = &mut self.welcome {
                    welcome.name.clone_from(&name);
                    let rules = Box::new(welcome.rules.clone());
                    self.happened(TerminalEvent::Welcomed { name, rules });
                }
            }
            ToStudent::FriendLeft { name } => {
                self.happened(TerminalEvent::FriendLeft { name });
            }
        }
    }

    /// The host's word on one answer.
    fn outcome(&mut self, call: CallId, serial: u32, outcome: AnswerOutcome) {
        if let Some(call) = self.call_of(call) {
            call.take_outcome(serial, &outcome);
        }
        self.tell(call, serial, outcome);
    }

    /// The note is shown. Of a call before the one that is open now it is told too
    /// late to be shown.
    fn revealed(&mut self, id: CallId, pitch: Pitch, places: Vec<Position>) {
        if self.call.as_ref().is_some_and(|call| call.id > id) {
            return;
        }
        self.stop_playing();
        if self.call_of(id).is_none() {
            // Who joins only now.
            self.call_is_over();
            self.call = Some(HeldCall::only_revealed(id));
        }
        self.awaiting_clock = None;
        let Some(call) = &mut self.call else { return };
        call.live = true;
        call.stage = CallStage::Revealed;
        let shown = call.revealed.replace((pitch, places.clone()));
        if shown.is_none() {
            let call = id;
            self.happened(TerminalEvent::Revealed {
                call,
                pitch,
                places,
            });
        }
    }

    pub(super) fn call_of(&mut self, id: CallId) -> Option<&mut HeldCall> {
        self.call.as_mut().filter(|c| c.id == id)
    }

    fn welcomed(&mut self, welcome: Welcome) {
        let same_place = self.key == Some(welcome.key);
        self.key = Some(welcome.key);
        self.joined = true;
        self.ended = false;
        self.removed = false;
        self.turn = None;
        self.tally = welcome.tally;
        self.neck = Neck::build(welcome.rules.neck.clone()).ok();
        let last = welcome.last_call;
        self.happened(TerminalEvent::Welcomed {
            name: welcome.name.clone(),
            rules: Box::new(welcome.rules.clone()),
        });
        self.welcome = Some(TerminalWelcome {
            student: welcome.student,
            name: welcome.name,
            rules: welcome.rules,
        });
        if same_place {
            let lost = self.kept.take_lost(last);
            self.tell_lost(lost, AnswerLost::CallLost);
            // One that goes on is named again right after this; nobody is to see
            // it close and open. One that is over is told of as well.
            let ours = |c: &HeldCall| last.is_some_and(|last| c.is_of(last.call, last.start));
            if !self.call.as_ref().is_some_and(ours) {
                self.call_is_over();
            }
        } else {
            // Another lesson, or another seat in it: its calls count afresh.
            self.pluck_runs.clear();
            self.last_heard = None;
            self.uncounted = None;
            self.call_is_over();
            let lost = self.kept.take_all();
            self.tell_lost(lost, AnswerLost::OtherPlace);
            self.call = None;
            self.told = Told::default();
            self.unsent.clear();
        }
        self.send_kept();
    }

    fn take_rules(&mut self, rules: Rules) {
        if self
            .welcome
            .as_ref()
            .is_none_or(|w| w.rules.neck != rules.neck)
        {
            self.neck = Neck::build(rules.neck.clone()).ok();
        }
        if let Some(welcome) = &mut self.welcome {
            welcome.rules = rules.clone();
            self.happened(TerminalEvent::Rules(Box::new(rules)));
        }
    }

    fn refused(&mut self, refusal: Refusal) {
        if refusal == Refusal::UnknownSeat {
            self.key = None;
        }
        self.refuse_here(refusal);
    }
}
