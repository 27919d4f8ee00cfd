//! What the host says.

use fifthpeg_core::Neck;

use super::call::Call;
use super::{Terminal, TerminalWelcome};
use crate::Moment;
use crate::message::{CallId, Refusal, Rules, ToStudent, Welcome};
use crate::view::CallStage;

/// Who comes back is told of the open call right after the welcome, before the
/// second of the clock's exchanges is answered.
const SETTLED_BY: u32 = 2;

impl Terminal {
    /// Takes in what the host says, arrived at `now`.
    pub fn handle_message(&mut self, message: ToStudent, now: Moment) {
        self.settle(&message);
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
                if let Some(call) = self.call_of(call) {
                    call.mark_answer(serial, mark);
                }
            }
            ToStudent::Reveal {
                call,
                pitch,
                places,
                marks,
            } => {
                self.hands_down();
                let call = self.revealed_call(call);
                let away = !call.live;
                call.live = true;
                call.stage = CallStage::Revealed;
                call.revealed = Some((pitch, places));
                for (serial, mark) in marks {
                    call.mark_answer(serial, mark);
                }
                self.awaiting_clock = None;
                if away {
                    self.answer_again();
                }
            }
            ToStudent::Closed { call, tally } => {
                self.tally = tally;
                if self.call_of(call).is_some() {
                    self.hands_down();
                }
                if let Some(call) = self.call_of(call) {
                    let away = !call.live;
                    call.live = true;
                    call.stage = CallStage::Closed;
                    self.awaiting_clock = None;
                    if away {
                        self.answer_again();
                    }
                }
            }
            ToStudent::Turn { caller, yours } => {
                // What was heard before is not offered for calling.
                self.last_heard = None;
                self.turn = Some((caller, yours));
            }
            ToStudent::Progress { call, students } => {
                if let Some(call) = self.call_of(call) {
                    call.progress = students;
                }
            }
            ToStudent::Refused(refusal) => self.refused(refusal),
            ToStudent::Ended { tally, removed } => {
                self.hands_down();
                self.tally = tally;
                self.removed = removed;
                self.ended = true;
                self.awaiting_clock = None;
                if let Some(call) = &mut self.call {
                    call.stage = CallStage::Closed;
                }
            }
            ToStudent::HostSounds { call, start } => {
                if self.call_of(call).is_some() {
                    self.sounds_in_the_room(start, now);
                }
            }
            ToStudent::Sung { call, sung } => {
                if let Some(call) = self.call_of(call) {
                    call.sung = Some(sung);
                }
            }
            ToStudent::FriendLeft { name } => {
                self.friend_left = Some(name);
                self.friends_left = self.friends_left.wrapping_add(1);
            }
        }
    }

    /// What comes first after a welcome back tells whether the call goes on.
    fn settle(&mut self, message: &ToStudent) {
        if self.unsettled == 0 {
            return;
        }
        self.unsettled = 0;
        let named = match message {
            ToStudent::Call(notice) => Some(notice.call),
            ToStudent::Reveal { call, .. } | ToStudent::Closed { call, .. } => Some(*call),
            _ => None,
        };
        if self.call.as_ref().map(|call| call.id) != named {
            self.not_named_again();
        }
    }

    /// The host knows the call of before no more as an open one.
    pub(super) fn not_named_again(&mut self) {
        if let Some(call) = &mut self.call {
            call.stage = CallStage::Closed;
        }
    }

    pub(super) fn call_of(&mut self, id: CallId) -> Option<&mut Call> {
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
        self.welcome = Some(TerminalWelcome {
            student: welcome.student,
            name: welcome.name,
            rules: welcome.rules,
        });
        if same_place {
            // Over, unless the host names it again right after this. Until then
            // it stays as it was: nobody is to see it close and open again.
            self.unsettled = SETTLED_BY;
        } else {
            // Another lesson, or another seat in it: its calls count afresh.
            self.hands.clear();
            self.last_heard = None;
            self.call = None;
            self.unsent.clear();
        }
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
            welcome.rules = rules;
        }
    }

    /// The call a reveal speaks of; a new one for who joins only now.
    fn revealed_call(&mut self, id: CallId) -> &mut Call {
        let known = self.call.take().filter(|c| c.id == id);
        self.call
            .insert(known.unwrap_or_else(|| Call::only_revealed(id)))
    }

    fn refused(&mut self, refusal: Refusal) {
        match refusal {
            Refusal::UnknownPlace => self.key = None,
            Refusal::TooLate { call, serial } => {
                if let Some(call) = self.call_of(call) {
                    call.drop_answer(serial);
                }
            }
            // Only an answer is refused for these, and answers are taken in
            // order: the oldest without a mark is the one.
            Refusal::TooManyAnswers(_)
            | Refusal::FoundAlready
            | Refusal::PlaceNeeded
            | Refusal::OctaveNeeded => {
                if let Some(call) = &mut self.call {
                    call.drop_refused_answer();
                }
            }
            _ => {}
        }
        self.refusals = self.refusals.wrapping_add(1);
        self.last_refusal = Some(refusal);
    }
}
