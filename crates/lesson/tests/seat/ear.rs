//! A terminal with an ear that says what the test has it hear.

use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, FromStudent, Refusal, Rules, Source, ToStudent,
};
use fifthpeg_lesson::terminal::{Doubt, HandsFree, HeardNote, StudentOrder, Terminal};

use super::{joined_with, messages, ms, notice, sound};

/// From onset to the pitch being told, and to its settling.
pub const DECIDED_MS: u64 = 60;
pub const SETTLED_MS: u64 = 200;

/// What the onsets may be off by.
pub const ONSET_OFF: Duration = Duration::from_millis(3);

/// When the call of [`Player::in_call`] starts, and when its tone is over.
pub const START_MS: u64 = 1250;
pub const QUIET_MS: u64 = 3000;

pub struct Player {
    pub terminal: Terminal,
    pub now_ms: u64,
    next_id: u64,
    pub said: Vec<FromStudent>,
}

impl Player {
    pub fn new(rules: Rules, hands_free: HandsFree) -> Self {
        let mut terminal = joined_with(rules);
        terminal.set_hands_free(Some(hands_free));
        messages(&mut terminal);
        Self {
            terminal,
            now_ms: 2,
            next_id: 0,
            said: Vec::new(),
        }
    }

    /// In a call whose tone has died away.
    pub fn in_call(rules: Rules) -> Self {
        let mut player = Self::new(rules, HandsFree::default());
        player.call(1);
        player
    }

    /// A call comes at 1 s, sounds at [`START_MS`] and is over at [`QUIET_MS`].
    pub fn call(&mut self, number: u32) {
        let base = self.now_ms.max(1000);
        self.until(base);
        let call = notice(number, ms(base + START_MS - 1000));
        self.terminal
            .handle_message(ToStudent::Call(call), ms(base));
        sound(&mut self.terminal, ms(base));
        self.until(base + QUIET_MS - 1000);
        self.said.clear();
    }

    /// Lets time pass, with what falls due.
    pub fn until(&mut self, at_ms: u64) {
        while let Some(due) = self.terminal.next_deadline().filter(|d| *d <= ms(at_ms)) {
            self.terminal.handle_timeout(due);
            while self.terminal.poll_clock_ask() {}
            self.collect();
        }
        self.now_ms = self.now_ms.max(at_ms);
    }

    pub fn hear(&mut self, heard: HeardNote, at_ms: u64) {
        self.until(at_ms);
        self.terminal.handle_heard(heard, ms(at_ms));
        self.collect();
    }

    /// A pluck is told; it may still settle or be withdrawn.
    pub fn pluck(&mut self, midi: u8, onset_ms: u64) -> u64 {
        self.next_id += 1;
        let heard = HeardNote::Pluck {
            id: self.next_id,
            pitch: Pitch::new(midi).unwrap(),
            cents: 4.0,
            at: ms(onset_ms),
            uncertainty: ONSET_OFF,
        };
        self.hear(heard, onset_ms + DECIDED_MS);
        self.next_id
    }

    /// A pluck has settled, and may answer.
    pub fn settle(&mut self, id: u64, at_ms: u64) {
        let heard = HeardNote::Settled {
            id,
            cents: 2.0,
            spread_cents: 1.0,
        };
        self.hear(heard, at_ms);
        self.hear(HeardNote::MayAnswer { id }, at_ms);
    }

    /// A pluck may not answer.
    pub fn not_counted(&mut self, id: u64, why: Doubt, at_ms: u64) {
        self.hear(HeardNote::MayNotAnswer { id, why }, at_ms);
    }

    pub fn withdraw(&mut self, id: u64, why: Doubt, at_ms: u64) {
        self.hear(HeardNote::Withdrawn { id, why }, at_ms);
    }

    pub fn unsure(&mut self, why: Doubt, onset_ms: u64) {
        let at = ms(onset_ms);
        self.hear(HeardNote::Unsure { at, why }, onset_ms + DECIDED_MS);
    }

    /// A clean pluck that settles in time.
    pub fn play(&mut self, midi: u8, onset_ms: u64) {
        let id = self.pluck(midi, onset_ms);
        self.settle(id, onset_ms + SETTLED_MS);
    }

    pub fn order(&mut self, order: StudentOrder, at_ms: u64) -> Result<(), Refusal> {
        self.until(at_ms);
        let done = self.terminal.handle_order(order, ms(at_ms));
        self.collect();
        done
    }

    pub fn told(&mut self, message: ToStudent) {
        self.terminal.handle_message(message, ms(self.now_ms));
        self.collect();
    }

    /// The answers given so far, and when their time ran out.
    pub fn answers(&self) -> Vec<AnswerNotice> {
        let answer = |m: &FromStudent| match m {
            FromStudent::Answer(notice) => Some(*notice),
            _ => None,
        };
        self.said.iter().filter_map(answer).collect()
    }

    /// Pitches and moments of the answers, which all came from the instrument.
    pub fn answered(&self) -> Vec<(u8, u64)> {
        let read = |a: AnswerNotice| {
            assert_eq!(a.source, Source::Instrument);
            let Answer::Pitch(pitch) = a.answer else {
                panic!("{a:?}");
            };
            let at = u64::try_from(a.response.unwrap().as_millis()).unwrap() + START_MS;
            (pitch.midi(), at)
        };
        self.answers().into_iter().map(read).collect()
    }

    pub fn tries(&self) -> Vec<u8> {
        let tried = |m: &FromStudent| match m {
            FromStudent::Try { at, source, .. } => {
                assert_eq!(*source, Source::Instrument);
                let Answer::Pitch(pitch) = at else {
                    panic!("{at:?}");
                };
                Some(pitch.midi())
            }
            _ => None,
        };
        self.said.iter().filter_map(tried).collect()
    }

    pub fn view(&self) -> fifthpeg_lesson::terminal::TerminalView {
        self.terminal.view(self.now())
    }

    pub fn now(&self) -> Moment {
        ms(self.now_ms)
    }

    fn collect(&mut self) {
        self.said.extend(messages(&mut self.terminal));
    }
}
