//! Singing first: any octave counts, nothing waits for it, and no more is told
//! than the lesson's telling allows.

mod seat;

use std::time::Duration;

use fifthpeg_core::Reference;
use fifthpeg_fixture::{Room, at, friends, pitch, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{
    Answer, CallId, FromStudent, Progress, Rules, StudentId, ToStudent,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::singing::{HINT_CENTS, MAX_SUNG, SUNG_WITHIN_CENTS, SungMark};
use fifthpeg_lesson::terminal::{HandsFree, HeardNote, StudentOrder};
use fifthpeg_lesson::words;
use fifthpeg_vocab::Setting;
use proptest::prelude::*;

use seat::ear::{Player, START_MS};
use seat::{ms, rules};

const D4: u8 = 62;
/// D4 at A4 = 440 Hz: MIDI 62 is seven semitones below 69 (MIDI Tuning, and
/// ISO 16 for A4).
const D4_HZ: f64 = 293.664_767_917_407_6;

fn cents_off(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// A class that sings first, with D4 called.
fn class(telling: Telling) -> (Room, StudentId) {
    let mut setup = setup();
    setup.rules.sing_first = true;
    setup.rules.telling = telling;
    let (mut room, ids) = Room::with(setup, &["Mia"]);
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(D4))));
    (room, ids[0])
}

fn sing(room: &mut Room, id: StudentId, frequency_hz: f64) -> Option<SungMark> {
    let call = room.call().id;
    let before = room.inbox(id).len();
    let sung = FromStudent::Sung {
        call,
        frequency_hz,
        spread_cents: 30.0,
    };
    assert_eq!(room.say(id, sung), Ok(()));
    match &room.inbox(id)[before..] {
        [] => None,
        [ToStudent::Sung { sung, call: c }] if *c == call => Some(*sung),
        other => panic!("{other:?}"),
    }
}

/// The ear may take the beginning of a voice for a pluck. It takes no key and
/// stands for nothing once the note turns out as sung; a string plucked while
/// somebody sings stays.
#[test]
fn what_was_sung_was_not_plucked() {
    let last = |midi: u8, onset_ms: u64| {
        let mut player = Player::in_call(Rules {
            sing_first: true,
            ..rules()
        });
        player.play(midi, onset_ms);
        player.hear(
            HeardNote::Sung {
                frequency_hz: cents_off(D4_HZ, 30.0),
                spread_cents: 20.0,
                at: ms(4000),
                lasted: Duration::from_millis(1500),
            },
            5600,
        );
        player.view().heard.map(|heard| heard.pitch.midi())
    };
    assert_eq!(last(D4, 4080), None);
    assert_eq!(last(D4, 3900), None);
    assert_eq!(last(D4, 4900), Some(D4));
    assert_eq!(last(D4 + 5, 4080), Some(D4 + 5));
}

fn sung_events(room: &Room) -> Vec<SungMark> {
    let sung = |e: &LessonEvent| match e {
        LessonEvent::Sung { sung, .. } => Some(*sung),
        _ => None,
    };
    room.events.iter().filter_map(sung).collect()
}

#[test]
fn the_target_is_the_frequency_this_test_believes() {
    let reference = Reference::default();
    assert!((pitch(D4).frequency_hz(reference) - D4_HZ).abs() < 1e-9);
}

#[test]
fn any_octave_counts_and_which_it_was_is_kept() {
    let (mut room, mia) = class(Telling::Hint);
    for (hz, octaves) in [
        (D4_HZ, 0),
        (D4_HZ / 2.0, -1),
        (D4_HZ * 2.0, 1),
        (D4_HZ / 4.0, -2),
    ] {
        let told = sing(&mut room, mia, cents_off(hz, -12.0)).unwrap();
        assert_eq!(told.octaves, octaves);
        assert!((f64::from(told.cents) + 12.0).abs() < 0.01, "{told:?}");
        assert!(told.is_it());
        assert_eq!(room.student(mia).sung, Some(told));
    }
    assert_eq!(sung_events(&room).len(), 4);
    let student = room.student(mia);
    assert_eq!(student.tally.sung, 1, "one call, however often");
    assert_eq!(student.progress, Some(Progress::Searching));
    assert_eq!(student.answers, [], "singing is no answer");
    // It invites and never locks: who does not sing answers all the same.
    room.order(HostOrder::Close);
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(D4))));
    assert_eq!(room.student(mia).sung, None);
    assert!(room.answer(mia, at("1/0")).unwrap().is_right());
}

#[test]
fn a_quarter_tone_is_the_limit() {
    let (mut room, mia) = class(Telling::Interval);
    let edge = SUNG_WITHIN_CENTS;
    for (cents, counts) in [
        (edge - 1.0, true),
        (edge + 1.0, false),
        (-edge - 1.0, false),
    ] {
        let told = sing(&mut room, mia, cents_off(D4_HZ, cents)).unwrap();
        assert_eq!(told.is_it(), counts, "{cents}");
        assert!(told.exact, "this lesson tells all");
    }
    // As far as it gets: nearly half an octave below the octave above.
    let told = sing(&mut room, mia, cents_off(D4_HZ, 610.0)).unwrap();
    assert_eq!(told.octaves, 1);
    assert!((told.cents + 590.0).abs() < 0.01);
}

#[test]
fn how_much_is_told_follows_the_telling() {
    let cases = [
        (Telling::Verdict, 40.0, Some(40.0)),
        (Telling::Verdict, -90.0, None),
        (Telling::Hint, 240.0, Some(240.0)),
        (Telling::Hint, -300.0, None),
        (Telling::Interval, -300.0, Some(-300.0)),
    ];
    for (telling, cents, told) in cases {
        let (mut room, mia) = class(telling);
        let mark = sing(&mut room, mia, cents_off(D4_HZ * 2.0, cents)).unwrap();
        match told {
            Some(cents) => {
                assert!((f64::from(mark.cents) - cents).abs() < 0.01);
                assert!(mark.exact && mark.octaves == 1);
            }
            None => {
                let side = if telling == Telling::Hint {
                    -HINT_CENTS
                } else {
                    0.0
                };
                assert_eq!(f64::from(mark.cents), side);
                assert!(!mark.exact && mark.octaves == 0);
            }
        }
        // The host's own record holds all.
        let kept = room.student(mia).sung.unwrap();
        assert!((f64::from(kept.cents) - cents).abs() < 0.01 && kept.exact);
        assert_eq!(sung_events(&room), [kept]);
    }
}

#[test]
fn singing_unasked_late_or_as_the_caller_is_left_out() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(D4))));
    assert_eq!(sing(&mut room, ids[0], D4_HZ), None, "not invited");
    room.order(HostOrder::Set(Setting::SingFirst(true)));
    assert!(sing(&mut room, ids[0], D4_HZ).is_some(), "from now on");
    for hz in [f64::NAN, f64::INFINITY, 0.0, 19.0, 8001.0] {
        assert_eq!(sing(&mut room, ids[0], hz), None);
    }
    room.order(HostOrder::Reveal);
    assert_eq!(sing(&mut room, ids[0], D4_HZ), None, "shown already");
    room.order(HostOrder::Close);
    assert_eq!(sing(&mut room, ids[0], D4_HZ), None);
    let old = FromStudent::Sung {
        call: CallId(99),
        frequency_hz: D4_HZ,
        spread_cents: 0.0,
    };
    let before = room.inbox(ids[0]).len();
    assert_eq!(room.say(ids[0], old), Ok(()));
    assert_eq!(room.inbox(ids[0]).len(), before);
    assert_eq!(sung_events(&room).len(), 1);

    let mut setup = friends();
    setup.rules.sing_first = true;
    let (mut room, ids) = Room::with(setup, &["Mia", "Ivo"]);
    let at = Some(at("1/0"));
    room.say(ids[0], FromStudent::Pick { at }).unwrap();
    assert_eq!(sing(&mut room, ids[0], D4_HZ), None, "the caller knows it");
    let call = room.call().id;
    let frequency_hz = D4_HZ;
    let sung = FromStudent::Sung {
        call,
        frequency_hz,
        spread_cents: 9.0,
    };
    room.say(ids[1], sung).unwrap();
    assert_eq!(sung_events(&room).len(), 1);
}

#[test]
fn no_peer_fills_the_record_with_songs() {
    let (mut room, mia) = class(Telling::Hint);
    for _ in 0..MAX_SUNG + 50 {
        sing(&mut room, mia, D4_HZ);
    }
    assert_eq!(sung_events(&room).len(), MAX_SUNG as usize);
    room.order(HostOrder::Close);
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(D4))));
    assert!(sing(&mut room, mia, D4_HZ).is_some(), "each call afresh");
}

fn singers() -> Rules {
    Rules {
        sing_first: true,
        ..rules()
    }
}

fn voice(at_ms: u64, lasted_ms: u64) -> HeardNote {
    HeardNote::Sung {
        frequency_hz: 147.0,
        spread_cents: 25.0,
        at: ms(at_ms),
        lasted: Duration::from_millis(lasted_ms),
    }
}

#[test]
fn a_terminal_sends_what_is_sung_in_a_call_that_asks_for_it() {
    let mut player = Player::in_call(singers());
    assert!(player.terminal.may_sing());
    player.hear(voice(4000, 600), 4650);
    let sent = FromStudent::Sung {
        call: CallId(1),
        frequency_hz: 147.0,
        spread_cents: 25.0,
    };
    assert_eq!(player.said, [sent]);
    let sung = SungMark {
        octaves: -1,
        cents: 4.0,
        exact: true,
    };
    player.told(ToStudent::Sung {
        call: CallId(1),
        sung,
    });
    assert_eq!(player.view().call.unwrap().sung, Some(sung));
    // A voice that moved by more than can be, and one that cannot be.
    player.said.clear();
    for frequency_hz in [f64::NAN, 5.0, 9000.0] {
        let note = HeardNote::Sung {
            frequency_hz,
            spread_cents: 1.0,
            at: ms(5000),
            lasted: Duration::from_millis(500),
        };
        player.hear(note, 5600);
    }
    assert_eq!(player.said, []);
}

#[test]
fn a_terminal_sends_nothing_unasked_nor_what_its_own_tone_sang() {
    let mut player = Player::in_call(rules());
    assert!(!player.terminal.may_sing());
    player.hear(voice(4000, 600), 4650);
    assert_eq!(player.said, []);

    let mut player = Player::in_call(singers());
    // Into the tone, out of it, and all over it.
    player.order(StudentOrder::Hear, 5000).unwrap();
    seat::sound(&mut player.terminal, ms(5000));
    player.said.clear();
    for (at, lasted) in [(4500, 700), (5500, 2000), (4500, 4000), (5100, 500)] {
        player.hear(voice(at, lasted), 9000);
    }
    assert_eq!(player.said, []);
    // Before the call's tone, with headphones.
    let headphones = HandsFree {
        headphones: true,
        ..HandsFree::default()
    };
    let mut player = Player::new(singers(), headphones);
    player.call(1);
    player.hear(voice(START_MS - 50, 600), 4000);
    assert_eq!(player.said, []);
    player.hear(voice(START_MS + 50, 600), 4000);
    assert_eq!(player.said.len(), 1);
}

#[test]
fn what_is_said_of_it_is_gentle() {
    let said = |octaves, cents, exact| {
        words::sung(&SungMark {
            octaves,
            cents,
            exact,
        })
    };
    assert_eq!(said(0, 2.0, true), "sung, in tune");
    assert_eq!(said(-1, -12.4, true), "sung, an octave below, 12 cents low");
    assert_eq!(
        said(2, 30.0, true),
        "sung, two octaves above, 30 cents high"
    );
    assert_eq!(said(0, 120.0, true), "near, 120 cents high");
    assert_eq!(said(0, -250.0, false), "some way off still: try higher");
    assert_eq!(said(0, 250.0, false), "some way off still: try lower");
    assert_eq!(said(0, 0.0, false), "not the note yet");
}

proptest! {
    #[test]
    fn octaves_and_cents_are_what_was_sung(
        midi in 30_u8..90, octaves in -2_i8..=2, cents in -599.0..599.0_f64,
    ) {
        let target = pitch(midi).frequency_hz(Reference::default());
        let sung = cents_off(target, 1200.0 * f64::from(octaves) + cents);
        prop_assume!((20.0..=8000.0).contains(&sung));
        let mark = SungMark::of(sung, target).unwrap();
        prop_assert_eq!(mark.octaves, octaves);
        prop_assert!((f64::from(mark.cents) - cents).abs() < 0.01);
        prop_assert!(mark.exact);
    }

    /// What is told depends on the octaves and cents alone, and by a hint or a
    /// verdict two targets that differ further away cannot be told apart.
    #[test]
    fn the_reply_gives_no_target_away(
        one in 40_u8..80, other in 40_u8..80, sung_hz in 60.0..1000.0_f64,
        telling in prop::sample::select(vec![Telling::Verdict, Telling::Hint]),
    ) {
        let reference = Reference::default();
        let most = if telling == Telling::Hint { HINT_CENTS } else { SUNG_WITHIN_CENTS };
        let full = |midi| SungMark::of(sung_hz, pitch(midi).frequency_hz(reference)).unwrap();
        let (a, b) = (full(one), full(other));
        let far = |m: SungMark| f64::from(m.cents).abs() > most;
        prop_assume!(far(a) && far(b));
        let same_side = (a.cents < 0.0) == (b.cents < 0.0);
        if telling == Telling::Verdict || same_side {
            prop_assert_eq!(a.told(telling), b.told(telling));
        }
        prop_assert!(!a.told(telling).is_it());
    }
}
