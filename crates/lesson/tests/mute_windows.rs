//! The lesson's own tones answer for nobody.

mod seat;

use std::time::Duration;

use fifthpeg_lesson::message::CallId;
use fifthpeg_lesson::message::Voice;
use fifthpeg_lesson::message::{Answer, CallNotice, FromStudent, Refusal, ToStudent};
use fifthpeg_lesson::terminal::{
    AFTERSOUND, HOST_SPEAKERS_ALLOWANCE, HandsFree, LONGEST_MUTE, Listening, OTHERS_ALLOWANCE,
    StudentOrder, longest_tone,
};

use seat::ear::{Player, START_MS};
use seat::{ms, notice, place, rules};

const D4: u8 = 62;
/// What the test's output says of its tones.
/// What the terminal's clock may be off by: half of its one exchange.
const CLOCK_OFF_MS: u64 = 1;
const LASTS_MS: u64 = 1400;

fn headphones() -> HandsFree {
    HandsFree {
        headphones: true,
        ..HandsFree::default()
    }
}

/// A call that comes at 1 s; nothing is sounded yet.
fn called(hands_free: HandsFree, call: CallNotice) -> Player {
    let mut player = Player::new(rules(), hands_free);
    player.until(1000);
    player.told(ToStudent::Call(call));
    player
}

fn ms_of(d: Duration) -> u64 {
    u64::try_from(d.as_millis()).unwrap()
}

#[test]
fn the_own_tone_is_not_taken_for_the_instrument() {
    let mut player = called(HandsFree::default(), notice(1, ms(START_MS)));
    seat::sound(&mut player.terminal, ms(1000));
    player.until(START_MS - 200);
    assert_eq!(player.view().listening, Listening::On);
    // The tone itself, as the microphone hears it, and its ringing on.
    player.play(D4, START_MS + 5);
    assert_eq!(player.view().listening, Listening::Muted);
    player.play(D4, START_MS + 700);
    let others = ms_of(OTHERS_ALLOWANCE) + CLOCK_OFF_MS;
    let ends = START_MS + LASTS_MS + others + ms_of(AFTERSOUND);
    player.play(D4, ends - 5);
    player.until(ends + 1000);
    assert_eq!(player.said.iter().filter(|m| is_try(m)).count(), 0);
    assert_eq!(player.view().heard, None);
    assert_eq!(player.view().listening, Listening::On);
    player.play(D4, ends + 1100);
    player.play(D4, ends + 1600);
    assert_eq!(player.answered(), [(D4, ends + 1600)]);
}

fn is_try(message: &FromStudent) -> bool {
    matches!(message, FromStudent::Try { .. })
}

#[test]
fn the_screen_is_woken_when_listening_begins_and_ends() {
    let mut player = called(HandsFree::default(), notice(1, ms(START_MS)));
    seat::sound(&mut player.terminal, ms(1000));
    let mut changes = Vec::new();
    let mut last = player.view().listening;
    while player.now_ms < 4000 {
        let due = player.terminal.next_deadline().unwrap();
        player.until(due.micros().div_ceil(1000));
        let now = player.view().listening;
        if now != last {
            changes.push((player.now_ms, now));
            last = now;
        }
    }
    // The tone at 1250 is the terminal's own and the room's: the wider counts.
    let others = ms_of(OTHERS_ALLOWANCE) + CLOCK_OFF_MS;
    let ends = START_MS + LASTS_MS + others + ms_of(AFTERSOUND);
    let (begins, muted) = changes[0];
    assert!(begins.abs_diff(START_MS - others) <= 1, "{changes:?}");
    assert_eq!(muted, Listening::Muted);
    assert!(changes[1].0.abs_diff(ends) <= 1, "{changes:?}");
    assert_eq!(changes[1].1, Listening::On);
    assert_eq!(changes.len(), 2);
}

#[test]
fn hearings_and_tries_on_the_screen_make_deaf_as_well() {
    for order in [StudentOrder::Hear, StudentOrder::Try(place("2/3"))] {
        let mut player = Player::in_call(rules());
        player.order(order, 4000).unwrap();
        // Before the output has said when, and after.
        player.play(D4, 4001);
        seat::sound(&mut player.terminal, ms(4000));
        player.play(D4, 4500);
        player.until(5400);
        player
            .said
            .retain(|m| !matches!(m, FromStudent::Hearing { .. }));
        player.said.retain(|m| {
            !matches!(
                m,
                FromStudent::Try {
                    at: Answer::Place(_),
                    ..
                }
            )
        });
        assert_eq!(player.said, []);
    }
}

#[test]
fn headphones_are_heard_by_nobody_else() {
    let mut player = called(headphones(), notice(1, ms(START_MS)));
    seat::sound(&mut player.terminal, ms(1000));
    player.until(START_MS + 100);
    assert_eq!(player.view().listening, Listening::On);
    player.play(D4, START_MS + 300);
    player.play(D4, START_MS + 700);
    assert_eq!(player.answered(), [(D4, START_MS + 700)]);
}

#[test]
fn a_silent_output_makes_not_deaf_but_the_room_may() {
    let mut player = called(HandsFree::default(), notice(1, ms(START_MS)));
    while let Some(order) = player.terminal.poll_sound() {
        player.terminal.handle_silent(order.id);
    }
    // Other terminals sound the call at its start.
    player.play(D4, START_MS + 300);
    let others = ms_of(OTHERS_ALLOWANCE) + CLOCK_OFF_MS + 1;
    let ends = START_MS + ms_of(longest_tone(Voice::Banjo)) + ms_of(AFTERSOUND) + others;
    player.until(ends);
    assert_eq!(player.view().listening, Listening::On);
    // What the student tries here sounds nowhere.
    player
        .order(StudentOrder::Try(place("2/3")), ends + 10)
        .unwrap();
    while let Some(order) = player.terminal.poll_sound() {
        player.terminal.handle_silent(order.id);
    }
    player.play(D4, ends + 200);
    player.play(D4, ends + 700);
    assert_eq!(player.answers().len(), 1);

    // With headphones everybody is taken to have them.
    let mut player = called(headphones(), notice(1, ms(START_MS)));
    while let Some(order) = player.terminal.poll_sound() {
        player.terminal.handle_silent(order.id);
    }
    player.play(D4, START_MS + 300);
    player.until(START_MS + 1000);
    assert_eq!(player.tries(), [D4]);
}

#[test]
fn the_hosts_speakers_are_heard_by_all_headphones_or_not() {
    let speakers = CallNotice {
        tone: None,
        ..notice(1, ms(START_MS))
    };
    for hands_free in [HandsFree::default(), headphones()] {
        let mut player = called(hands_free, speakers.clone());
        player.play(D4, START_MS + 200);
        // The host may be late by its allowance.
        let tone = ms_of(longest_tone(Voice::Banjo));
        let ends = START_MS + tone + ms_of(HOST_SPEAKERS_ALLOWANCE) + ms_of(AFTERSOUND);
        player.play(D4, ends - 20);
        player.until(ends + 100);
        assert_eq!(player.tries(), []);
        assert_eq!(player.view().listening, Listening::On);

        // Somebody else asked for a hearing: everybody is told.
        let call = CallId(1);
        let start = ms(ends + 400);
        player.told(ToStudent::HostSounds { call, start });
        player.until(ends + 500);
        assert_eq!(player.view().listening, Listening::Muted);
        player.play(D4, ends + 450);
        player.play(D4, ends + 900);
        player.until(ends + 5000);
        assert_eq!(player.answers(), []);
        // And the host has it sounded for all.
        let start = ms(ends + 5200);
        player.told(ToStudent::HearAgain { call, start });
        player.play(D4, ends + 5250);
        player.until(ends + 9000);
        assert_eq!(player.tries(), []);
    }
}

#[test]
fn nobody_is_kept_deaf_for_long() {
    let mut player = Player::in_call(rules());
    player.order(StudentOrder::Hear, 4000).unwrap();
    let order = player.terminal.poll_sound().unwrap();
    // A driver that says nonsense of a tone's length.
    let (off, lasts) = (Duration::from_millis(10), Duration::from_secs(3600));
    player
        .terminal
        .handle_sounded(order.id, ms(4000), off, lasts);
    let ends = 4000 + ms_of(LONGEST_MUTE);
    player.until(ends - 1);
    assert_eq!(player.view().listening, Listening::Muted);
    player.until(ends);
    assert_eq!(player.view().listening, Listening::On);

    // A tone that could not be sounded deafens no longer.
    player.order(StudentOrder::Hear, 8000).unwrap();
    assert_eq!(player.view().listening, Listening::Muted);
    let order = player.terminal.poll_sound().unwrap();
    player.terminal.handle_not_sounded(order.id);
    assert_eq!(player.view().listening, Listening::On);
    player.terminal.set_hands_free(None);
    assert_eq!(player.view().listening, Listening::Off);
    let key = player.order(StudentOrder::AnswerHeard, 9000);
    assert_eq!(key, Err(Refusal::NotListening));
}

#[test]
fn the_host_is_told_of_a_call_that_did_not_sound_here() {
    use fifthpeg_vocab::{CallId, FromStudent};
    for failed in [false, true] {
        let mut player = called(HandsFree::default(), notice(1, ms(START_MS)));
        while player.terminal.poll_message().is_some() {}
        let order = player.terminal.poll_sound().expect("the call");
        match failed {
            true => player.terminal.handle_not_sounded(order.id),
            false => player.terminal.handle_silent(order.id),
        }
        let told = FromStudent::NotSounded { call: CallId(1) };
        assert_eq!(player.terminal.poll_message(), Some(told));
        assert_eq!(player.terminal.poll_message(), None);
    }
}
