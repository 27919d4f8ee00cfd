//! What a student asks of the terminal.

use core::time::Duration;
use fifthpeg_core::{Pitch, Position};

use super::call::{CallStart, HeldCall};
use super::sound::{SoundKind, tone_of_try};
use super::{ANSWERS_KEPT, AnswerLost, KEYBOARD_ALLOWANCE, Terminal, TerminalEvent};
use crate::Moment;
use crate::marking::Marking;
use crate::message::{Answer, CallId, FromStudent, Mode, Refusal, Rules, Source};
use crate::view::CallStage;

/// What a student may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudentOrder {
    /// Sound the call once more, or for the first time where calls sound on
    /// asking. After the call it sounds here only and is not counted.
    Hear,
    /// Sound a place or pitch while searching.
    Try(Answer),
    /// Commit to a place, pitch or note name.
    Answer(Answer),
    /// Commit to the pitch plucked last: a key or a foot switch, for who plucks
    /// only once.
    AnswerHeard,
    /// Where the exact place is marked: where the pitch was played that the
    /// terminal heard as the answer.
    AnswerPlace(Position),
    /// Call the pitch plucked last, as [`StudentOrder::Pick`] would.
    CallHeard,
    /// Call a note, in a lesson of friends when it is this student's turn;
    /// `None` for a random one.
    Pick(Option<Answer>),
    /// As the caller: have the call sounded again for everyone.
    CallerHearAgain,
    /// As the caller: show the note.
    CallerReveal,
    /// As the caller: end the call.
    CallerClose,
    /// Leave the lesson for good.
    Leave,
}

impl Terminal {
    /// Does what the student asks, or says why not. What can be told here is
    /// refused here; the host has the last word and may still refuse.
    ///
    /// # Errors
    /// A [`Refusal`] in words for the student; nothing is changed.
    pub fn handle_order(&mut self, order: StudentOrder, now: Moment) -> Result<(), Refusal> {
        self.last_refusal = None;
        if order == StudentOrder::Leave {
            self.outbox.push_back(FromStudent::Leave);
            self.ended = true;
            let lost = self.kept.take_all();
            self.tell_lost(lost, AnswerLost::Left);
            return Ok(());
        }
        if self.ended {
            return Err(Refusal::Ended);
        }
        match order {
            StudentOrder::Hear => self.hear(now),
            StudentOrder::Try(at) => self.try_at(at, now),
            StudentOrder::Answer(answer) => self.answer(answer, now),
            StudentOrder::AnswerHeard => self.answer_heard(now),
            StudentOrder::AnswerPlace(place) => self.answer_place(place),
            StudentOrder::CallHeard => self.call_heard(),
            StudentOrder::Pick(at) => self.pick(at),
            StudentOrder::CallerHearAgain => {
                self.caller(|call| FromStudent::CallerHearAgain { call })
            }
            StudentOrder::CallerReveal => self.caller(|call| FromStudent::CallerReveal { call }),
            StudentOrder::CallerClose => self.caller(|call| FromStudent::CallerClose { call }),
            StudentOrder::Leave => Ok(()),
        }
    }

    pub(super) fn rules(&self) -> Result<&Rules, Refusal> {
        self.welcome
            .as_ref()
            .map(|w| &w.rules)
            .ok_or(Refusal::NotConnected)
    }

    fn hear(&mut self, now: Moment) -> Result<(), Refusal> {
        let call = self.call.as_mut().ok_or(Refusal::NoCall)?;
        let open = call.stage == CallStage::Open;
        let answers = open && !call.you_call;
        let id = call.id;
        let Some(tone) = call.tone else {
            // After the reveal the note is known, and sounds here only.
            if !open {
                let (pitch, _) = call.revealed.as_ref().ok_or(Refusal::NoCall)?;
                let pitch = *pitch;
                let tone = tone_of_try(pitch, self.rules()?);
                self.order_sound(tone, now, SoundKind::Hearing);
                return Ok(());
            }
            // The host's speakers have it: ask the host.
            if !self.joined {
                return Err(Refusal::NotConnected);
            }
            // Free for who came after the speakers had sounded it.
            let free = call.started(&self.clock).is_none() && !call.asked;
            call.asked = true;
            let counts = u32::from(answers && !free);
            call.hearings += counts;
            self.tally.hearings += counts;
            self.send(FromStudent::Hearing { call: id });
            return Ok(());
        };
        let first = call.first_sound.is_none();
        // A first sound that was only waiting for a clock is the free one, and
        // needs no asking; where calls wait for it the first asking is free. A
        // first that failed to sound was asked for already.
        let asks = answers && (!first || (call.on_asking && !call.asked));
        let free = call.on_asking && !call.asked;
        call.asked = true;
        let counts = u32::from(asks && !free);
        call.hearings += counts;
        self.tally.hearings += counts;
        let kind = if first {
            SoundKind::Call
        } else {
            SoundKind::Hearing
        };
        let sound = self.order_sound(tone, now, kind);
        if first {
            self.awaiting_clock = None;
            if let Some(call) = &mut self.call {
                call.first_sound = Some(sound);
                call.first_ordered = Some(now);
            }
        }
        if asks {
            self.send(FromStudent::Hearing { call: id });
        }
        Ok(())
    }

    fn try_at(&mut self, at: Answer, now: Moment) -> Result<(), Refusal> {
        let pitch = self.pitch_of(at)?;
        let tone = tone_of_try(pitch, self.rules()?);
        self.order_sound(tone, now, SoundKind::Try);
        if let Some(call) = self
            .call
            .as_mut()
            .filter(|c| c.stage == CallStage::Open && !c.you_call)
        {
            call.keep_try(at);
            // As the host counts it; the host's tally comes with the next mark.
            self.tally.tries += 1;
            let message = FromStudent::Try {
                call: call.id,
                at,
                source: Source::Screen,
            };
            self.send(message);
        }
        Ok(())
    }

    fn answer(&mut self, answer: Answer, now: Moment) -> Result<(), Refusal> {
        let marking = self.rules()?.marking;
        let call = self.may_answer()?;
        match (answer, marking) {
            (Answer::Place(_), _) | (Answer::Pitch(_), Marking::SamePitch | Marking::AnyOctave) => {
                self.pitch_of(answer)?;
            }
            (Answer::Class(_), Marking::AnyOctave) => {}
            (Answer::Class(_), Marking::SamePitch) => return Err(Refusal::OctaveNeeded),
            (_, Marking::ExactPlace) => return Err(Refusal::PlaceNeeded),
        }
        let (response, uncertainty) = call.response(now, &self.clock, KEYBOARD_ALLOWANCE);
        self.give(answer, Source::Screen, response, uncertainty);
        Ok(())
    }

    /// The open call, if this student may answer it.
    pub(super) fn may_answer(&self) -> Result<&HeldCall, Refusal> {
        self.rules()?;
        let call = self
            .call
            .as_ref()
            .filter(|c| c.stage == CallStage::Open)
            .ok_or(Refusal::NoCall)?;
        if call.you_call {
            return Err(Refusal::CallerAnswers);
        }
        if call.found {
            return Err(Refusal::FoundAlready);
        }
        if self.kept.is_full() {
            return Err(Refusal::TooManyWait(ANSWERS_KEPT as u32));
        }
        Ok(call)
    }

    /// Gives an answer to the call. It is kept until the host has spoken of it, and
    /// sent again after a lost connection.
    pub(super) fn give(
        &mut self,
        answer: Answer,
        source: Source,
        response: Option<Duration>,
        uncertainty: Duration,
    ) {
        if self.kept.is_full() {
            return self.refuse_here(Refusal::TooManyWait(ANSWERS_KEPT as u32));
        }
        if let Some(call) = &mut self.call {
            // Whatever place was asked for, the student has answered.
            call.place_wanted = None;
            let notice = call.keep_answer(answer, source, response, uncertainty);
            self.kept.keep(notice, call.named);
            self.happened(TerminalEvent::Given {
                call: notice.call,
                serial: notice.serial,
                answer,
            });
            self.send_kept();
        }
    }

    pub(super) fn pick(&mut self, at: Option<Answer>) -> Result<(), Refusal> {
        self.may_pick()?;
        if let Some(at) = at {
            self.pitch_of(at)?;
        }
        self.outbox.push_back(FromStudent::Pick { at });
        Ok(())
    }

    fn caller(&mut self, message: impl FnOnce(CallId) -> FromStudent) -> Result<(), Refusal> {
        if self.rules()?.mode != Mode::Friends {
            return Err(Refusal::HostOnly);
        }
        let call = self
            .call
            .as_ref()
            .filter(|c| c.stage != CallStage::Closed)
            .ok_or(Refusal::NoCall)?;
        if !call.you_call {
            return Err(Refusal::NotYourTurn);
        }
        if !self.joined {
            return Err(Refusal::NotConnected);
        }
        let message = message(call.id);
        self.outbox.push_back(message);
        Ok(())
    }

    /// The pitch at a place of this neck, or the pitch itself.
    fn pitch_of(&self, at: Answer) -> Result<Pitch, Refusal> {
        match at {
            Answer::Place(place) => self
                .neck
                .as_ref()
                .ok_or(Refusal::NotConnected)?
                .pitch_at(place)
                .ok_or(Refusal::NoSuchPlace(place)),
            Answer::Pitch(pitch) => Ok(pitch),
            Answer::Class(_) => Err(Refusal::OctaveNeeded),
        }
    }
}

impl HeldCall {
    /// A call this terminal knows only from its reveal.
    pub(super) fn only_revealed(id: CallId) -> Self {
        let notice = crate::message::CallNotice {
            call: id,
            tone: None,
            start: Moment::default(),
            on_asking: false,
            you_call: false,
            caller: None,
            answers_held: 0,
            found: false,
            target: None,
            held: Vec::new(),
        };
        let mut call = Self::new(&notice, Moment::default());
        call.start = CallStart::Unknown;
        call.forget_name();
        call
    }
}
