//! One student's terminal, with the host's part spoken by the test.
#![allow(dead_code, reason = "each test file uses part of it")]

pub mod ear;

use std::time::Duration;

use fifthpeg_core::{Neck, Position};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::marking::{Mark, Miss, MissKind, Side};
use fifthpeg_lesson::message::{
    Answer, CallId, CallNotice, FromStudent, LastCall, Rules, SeatKey, StudentId, ToStudent, Tone,
    Voice, Welcome,
};
use fifthpeg_lesson::setup::LessonSetup;
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{SoundKind, Terminal};

pub fn ms(n: u64) -> Moment {
    Moment::from_micros(n * 1000)
}

pub fn place(text: &str) -> Answer {
    Answer::Place(text.parse::<Position>().unwrap())
}

pub const MISSED: Mark = Mark::Missed(Miss {
    kind: Some(MissKind::Neighbour),
    side: Some(Side::Low),
});

pub fn rules() -> Rules {
    let neck = Neck::ready("banjo-open-g").unwrap();
    LessonSetup::new("Village hall", &neck).rules
}

pub fn welcome(key: u128, rules: Rules) -> ToStudent {
    welcome_after(None, key, rules)
}

/// In a lesson whose last call this is.
pub fn welcome_after(last_call: Option<LastCall>, key: u128, rules: Rules) -> ToStudent {
    ToStudent::Welcome(Box::new(Welcome {
        last_call,
        student: StudentId(1),
        key: SeatKey(key),
        name: "Ada".into(),
        rules,
        tally: Tally::default(),
    }))
}

pub fn last(call: u32, start: Moment, over: bool) -> Option<LastCall> {
    let call = CallId(call);
    Some(LastCall { call, start, over })
}

pub fn notice(call: u32, start: Moment) -> CallNotice {
    CallNotice {
        call: CallId(call),
        tone: Some(Tone {
            frequency_hz: 293.66,
            voice: Voice::Banjo,
            pluck_seed: 9,
        }),
        start,
        on_asking: false,
        you_call: false,
        caller: None,
        answers_held: 0,
        found: false,
        target: None,
        held: Vec::new(),
    }
}

/// In the lesson, with a clock that agrees with the host's to 1 ms.
pub fn joined_with(rules: Rules) -> Terminal {
    let mut t = Terminal::new();
    t.handle_connected(ms(0));
    t.handle_message(welcome(7, rules), ms(1));
    t.handle_clock(ms(0), ms(1), ms(1), ms(2));
    assert!(t.view(ms(2)).connected);
    t
}

pub fn joined() -> Terminal {
    joined_with(rules())
}

pub fn messages(t: &mut Terminal) -> Vec<FromStudent> {
    core::iter::from_fn(|| t.poll_message()).collect()
}

/// Sounds everything ordered, exactly on time, and gives back when and why.
pub fn sound(t: &mut Terminal, now: Moment) -> Vec<(Moment, SoundKind)> {
    let mut sounded = Vec::new();
    while let Some(order) = t.poll_sound() {
        let at = order.at.max(now);
        t.handle_sounded(
            order.id,
            at,
            Duration::from_millis(10),
            Duration::from_millis(1400),
        );
        sounded.push((at, order.kind));
    }
    sounded
}

pub fn marked(serial: u32, mark: Mark) -> ToStudent {
    ToStudent::Marked {
        call: CallId(1),
        serial,
        mark,
        tally: Tally::default(),
    }
}

/// Back in the old seat of a lesson whose last call this is.
pub fn back(call: u32, start: Moment, over: bool) -> ToStudent {
    welcome_after(last(call, start, over), 7, rules())
}
