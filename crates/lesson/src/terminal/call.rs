//! One call as a terminal keeps it.

use core::time::Duration;
use fifthpeg_core::{Neck, Pitch, Position};
use fifthpeg_vocab::hint::{self, Marked};

use super::sound::SoundId;
use super::view::TerminalCall;
use crate::Moment;
use crate::clock::ClockEstimate;
use crate::marking::Mark;
use crate::message::{
    Answer, AnswerNotice, CallId, CallNotice, HeldMark, Progress, Rules, Source, Tone,
};
use crate::singing::SungMark;
use crate::view::CallStage;

/// How many tries of a call are kept for showing.
pub const TRIES_SHOWN: usize = 256;

/// What the host's speakers may be late by: the host's own output, which it
/// cannot measure (100 ms covers common sound servers; common practice, no
/// source), and the way through a hall (10 m at 343 m/s is 29 ms).
pub const HOST_SPEAKERS_ALLOWANCE: Duration = Duration::from_millis(130);

/// When the first hearing started, as far as the terminal knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CallStart {
    /// Not sounded here, or not yet reported.
    Unknown,
    /// It started at this moment of this terminal's clock.
    Here { at: Moment, uncertainty: Duration },
    /// The host's speakers started it at this moment of the host's clock.
    HostSpeakers(Moment),
}

/// One answer as shown here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct KeptAnswer {
    pub serial: u32,
    pub answer: Answer,
    pub mark: Option<Mark>,
}

/// One call as kept here.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct HeldCall {
    pub id: CallId,
    /// The start it was first named with. A host that was killed may have lost
    /// a call it had named already; the next one then has the same number.
    pub named: Option<Moment>,
    pub stage: CallStage,
    /// The host has named this call over the connection that is up now.
    pub live: bool,
    pub you_call: bool,
    pub caller: Option<String>,
    pub tone: Option<Tone>,
    /// Start of the first hearing, host clock.
    pub host_start: Moment,
    /// When this terminal first heard of it.
    pub arrived: Moment,
    pub on_asking: bool,
    /// The first hearing has been ordered, under this number.
    pub first_sound: Option<SoundId>,
    /// When that was to sound.
    pub first_ordered: Option<Moment>,
    /// The host has been told that it sounded.
    pub sounded_told: bool,
    pub start: CallStart,
    pub found: bool,
    pub answers: Vec<KeptAnswer>,
    /// The highest serial the host is known to hold, or was given here.
    pub last_serial: u32,
    pub tries: Vec<Answer>,
    pub hearings: u32,
    /// The student has asked for a hearing.
    pub asked: bool,
    pub revealed: Option<(Pitch, Vec<Position>)>,
    pub progress: Vec<(String, Progress)>,
    /// Told to the caller only.
    pub target: Option<(Pitch, Option<Position>)>,
    /// Answered on the instrument, and waiting for its place.
    pub place_wanted: Option<PlaceWanted>,
    /// How near the note sung last was, as told.
    pub sung: Option<SungMark>,
}

/// An answer on the instrument that waits for its place, where the exact place is marked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlaceWanted {
    pub pitch: Pitch,
    pub places: Vec<Position>,
    /// Measured when it was plucked.
    pub response: Option<Duration>,
    pub uncertainty: Duration,
}

impl HeldCall {
    pub fn new(notice: &CallNotice, arrived: Moment) -> Self {
        Self {
            id: notice.call,
            named: Some(notice.start),
            stage: CallStage::Open,
            live: true,
            you_call: notice.you_call,
            caller: notice.caller.clone(),
            tone: notice.tone,
            host_start: notice.start,
            arrived,
            on_asking: notice.on_asking,
            first_sound: None,
            first_ordered: None,
            sounded_told: false,
            start: if notice.tone.is_none() && !notice.on_asking {
                CallStart::HostSpeakers(notice.start)
            } else {
                CallStart::Unknown
            },
            found: notice.found,
            answers: Vec::new(),
            last_serial: notice.answers_held,
            tries: Vec::new(),
            hearings: 0,
            asked: false,
            revealed: None,
            progress: Vec::new(),
            target: notice.target,
            place_wanted: None,
            sung: None,
        }
    }

    /// Which call of its number this is, is not known.
    pub fn forget_name(&mut self) {
        self.named = None;
    }

    /// The start stays where it was on this terminal's clock, whatever host
    /// answers next: one that was killed and started again has a clock that
    /// stood still meanwhile.
    pub fn keep_start(&mut self, clock: &ClockEstimate) {
        if let CallStart::HostSpeakers(_) = self.start {
            self.start = match self.started(clock) {
                Some((at, uncertainty)) => CallStart::Here { at, uncertainty },
                None => CallStart::Unknown,
            };
        }
    }

    /// How long ago it started is not known any more.
    pub fn forget_start(&mut self) {
        self.start = CallStart::Unknown;
    }

    /// Whether this is the call of that number that starts then.
    pub fn is_of(&self, id: CallId, start: Moment) -> bool {
        self.id == id && self.named.is_none_or(|named| named == start)
    }

    /// The host names a call this terminal knows: after a lost connection.
    pub fn refresh(&mut self, notice: &CallNotice) {
        self.named = Some(notice.start);
        self.live = true;
        self.stage = CallStage::Open;
        self.you_call = notice.you_call;
        self.caller.clone_from(&notice.caller);
        self.tone = notice.tone.or(self.tone);
        self.host_start = notice.start;
        self.on_asking = notice.on_asking;
        self.found |= notice.found;
        self.target = notice.target;
        self.last_serial = self.last_serial.max(notice.answers_held);
    }

    pub fn waiting_to_ask(&self) -> bool {
        self.on_asking && self.first_sound.is_none() && self.stage != CallStage::Closed
    }

    /// Start of the first hearing on this terminal's clock, and how far that
    /// may be off.
    pub fn started(&self, clock: &ClockEstimate) -> Option<(Moment, Duration)> {
        match self.start {
            CallStart::Unknown => None,
            CallStart::Here { at, uncertainty } => Some((at, uncertainty)),
            CallStart::HostSpeakers(host) => {
                let at = clock.to_local(host)?;
                let uncertainty = clock.uncertainty(at)?;
                // Who came later was not there to hear it.
                (at + uncertainty >= self.arrived)
                    .then_some((at, uncertainty + HOST_SPEAKERS_ALLOWANCE))
            }
        }
    }

    /// Response time of an answer given at `now`, and how far it may be off;
    /// no time if the start is not known or lies ahead.
    pub fn response(
        &self,
        now: Moment,
        clock: &ClockEstimate,
        input: Duration,
    ) -> (Option<Duration>, Duration) {
        match self.started(clock) {
            Some((at, uncertainty)) if at <= now => (Some(now.since(at)), uncertainty + input),
            _ => (None, input),
        }
    }

    /// Keeps a new answer and gives it its serial.
    pub fn keep_answer(
        &mut self,
        answer: Answer,
        source: Source,
        response: Option<Duration>,
        uncertainty: Duration,
    ) -> AnswerNotice {
        self.last_serial = self.last_serial.saturating_add(1);
        let notice = AnswerNotice {
            call: self.id,
            serial: self.last_serial,
            answer,
            source,
            response,
            uncertainty,
        };
        self.answers.push(KeptAnswer {
            serial: notice.serial,
            answer,
            mark: None,
        });
        notice
    }

    /// An answer given earlier that waits for the host's word.
    pub fn take_waiting(&mut self, notice: &AnswerNotice) {
        self.last_serial = self.last_serial.max(notice.serial);
        self.answers.push(KeptAnswer {
            serial: notice.serial,
            answer: notice.answer,
            mark: None,
        });
    }

    pub fn mark_answer(&mut self, serial: u32, mark: Mark) {
        if let Some(kept) = self.answers.iter_mut().find(|a| a.serial == serial) {
            kept.mark = Some(mark);
        }
        self.found |= mark == Mark::Right;
    }

    /// The answer with this serial does not count. Its serial is not given again.
    pub fn drop_answer(&mut self, serial: u32) {
        self.answers
            .retain(|a| a.serial != serial || a.mark.is_some());
    }

    /// An answer that the host says it holds; whether it is news here.
    pub fn take_held(&mut self, held: HeldMark) -> bool {
        let known = self.answers.iter().any(|a| a.serial == held.serial);
        if !known {
            self.answers.push(KeptAnswer {
                serial: held.serial,
                answer: held.answer,
                mark: None,
            });
        }
        self.mark_answer(held.serial, held.mark);
        !known
    }

    pub fn keep_try(&mut self, at: Answer) {
        if self.tries.len() == TRIES_SHOWN {
            self.tries.remove(0);
        }
        self.tries.push(at);
    }

    /// The hint on the answer with this serial, as it was marked, if there is one.
    pub fn hint(&self, serial: u32, mark: Mark, rules: &Rules, neck: &Neck) -> Option<String> {
        let marked = |answer: Answer, mark| Marked {
            mark,
            pitch: match answer {
                Answer::Place(place) => neck.pitch_at(place),
                Answer::Pitch(pitch) => Some(pitch),
                Answer::Class(_) => None,
            },
        };
        let at = self.answers.iter().position(|a| a.serial == serial)?;
        let mut earlier = self.answers[..at].iter().rev();
        let before = earlier.find_map(|a| Some(marked(a.answer, a.mark?)));
        let now = marked(self.answers[at].answer, mark);
        hint::hint(rules.telling, rules.marking, now, before)
    }

    /// The hint on the answer given last.
    pub fn last_hint(&self, rules: &Rules, neck: &Neck) -> Option<String> {
        let last = self
            .answers
            .last()
            .filter(|_| self.stage == CallStage::Open)?;
        self.hint(last.serial, last.mark?, rules, neck)
    }

    pub fn view(&self, clock: &ClockEstimate) -> TerminalCall {
        TerminalCall {
            id: self.id,
            number: self.id.0,
            stage: self.stage,
            you_call: self.you_call,
            caller: self.caller.clone(),
            found: self.found,
            answers: self.answers.iter().map(|a| (a.answer, a.mark)).collect(),
            tries: self.tries.clone(),
            hearings: self.hearings,
            revealed: self.revealed.clone(),
            started: self.started(clock).map(|(at, _)| at),
            waiting_to_ask: self.waiting_to_ask(),
            progress: self.progress.clone(),
            target: self.target,
            running: None,
            place_wanted: self
                .place_wanted
                .as_ref()
                .map(|w| (w.pitch, w.places.clone())),
            sung: self.sung,
            hint: None,
        }
    }
}
