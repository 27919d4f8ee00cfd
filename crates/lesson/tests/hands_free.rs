//! What is plucked answers by itself, and only what is meant to.

mod seat;

use std::time::Duration;

use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, CallId, FromStudent, Refusal, ToStudent};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{
    Doubt, HandsFree, HeardNote, KEYBOARD_ALLOWANCE, StudentOrder, TRIES_SHOWN, WITHDRAW_LIMIT,
};

use seat::ear::{DECIDED_MS, ONSET_OFF, Player, SETTLED_MS, START_MS};
use seat::{MISSED, ms, rules};

const D4: u8 = 62;
const D5: u8 = 74;
const E4: u8 = 64;

fn marked(serial: u32, mark: Mark) -> ToStudent {
    ToStudent::Marked {
        call: CallId(1),
        serial,
        mark,
        tally: Tally::default(),
    }
}

#[test]
fn the_same_note_twice_is_the_answer_at_the_onset_of_the_second() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    assert_eq!(player.tries(), [D4]);
    assert_eq!(player.answers(), []);
    player.play(D4, 5500);
    assert_eq!(player.answered(), [(D4, 5500)]);
    assert_eq!(player.tries(), [D4, D4], "the tries come first");
    assert!(matches!(player.said.last(), Some(FromStudent::Answer(_))));
    // What the output and the ear do not know, and nothing for a keyboard.
    let off = player.answers()[0].uncertainty;
    assert_eq!(off, Duration::from_millis(10) + ONSET_OFF);
    // Nothing was sounded for it.
    assert_eq!(player.terminal.poll_sound(), None);
}

#[test]
fn two_seconds_are_within_and_a_little_more_is_not() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    player.play(D4, 6000);
    assert_eq!(player.answered(), [(D4, 6000)]);
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    player.play(D4, 6001);
    assert_eq!(player.answers(), []);
    // The later one begins afresh.
    player.play(D4, 8000);
    assert_eq!(player.answered(), [(D4, 8000)]);
}

#[test]
fn another_note_an_octave_or_a_chord_between_breaks_the_row() {
    for between in [E4, D5] {
        let mut player = Player::in_call(rules());
        for (midi, at) in [(D4, 4000), (between, 4500), (D4, 5000)] {
            player.play(midi, at);
        }
        player.until(9000);
        assert_eq!(player.answers(), []);
    }
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    player.unsure(Doubt::SeveralNotes, 4500);
    player.play(D4, 5000);
    player.until(9000);
    assert_eq!(player.answers(), []);
    // A pluck that turns out as a chord is a chord.
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 4500);
    player.withdraw(id, Doubt::SeveralNotes, 4650);
    player.play(D4, 5000);
    player.until(9000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.tries(), [D4, D4]);
}

#[test]
fn coughs_and_what_is_taken_back_are_as_if_they_had_never_been() {
    for why in [
        Doubt::TooQuiet,
        Doubt::NoClearPitch,
        Doubt::NotAPluck,
        Doubt::Slide,
    ] {
        let mut player = Player::in_call(rules());
        player.play(D4, 4000);
        player.unsure(why, 4400);
        let id = player.pluck(E4, 4700);
        player.withdraw(id, why, 4850);
        player.play(D4, 5000);
        assert_eq!(player.answered(), [(D4, 5000)]);
        assert_eq!(player.tries(), [D4, D4]);
    }
}

#[test]
fn a_row_waits_until_its_last_pluck_cannot_be_taken_back() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 5000);
    player.until(5150);
    assert_eq!(player.answers(), []);
    player.withdraw(id, Doubt::Slide, 5180);
    player.until(9000);
    assert_eq!(player.answers(), []);

    // Neither settled nor taken back: it is a try once the limit is over, and
    // answers when the ear says so.
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 5000);
    let sure = ms(5000 + DECIDED_MS) + WITHDRAW_LIMIT;
    assert_eq!(player.terminal.next_deadline(), Some(sure));
    let sure_ms = sure.micros() / 1000;
    player.until(sure_ms - 1);
    assert_eq!(player.tries(), [D4]);
    player.until(sure_ms);
    assert_eq!(player.tries(), [D4, D4]);
    assert_eq!(player.answers(), []);
    player.settle(id, sure_ms + 100);
    assert_eq!(player.answered(), [(D4, 5000)]);
}

#[test]
fn the_first_pluck_of_a_row_may_be_taken_back_as_well() {
    let mut player = Player::in_call(rules());
    let first = player.pluck(D4, 4000);
    let second = player.pluck(D4, 4120);
    player.settle(second, 4270);
    player.withdraw(first, Doubt::NotAPluck, 4280);
    player.until(9000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.tries(), [D4]);
}

#[test]
fn a_note_played_on_after_a_complete_row_does_not_undo_it() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let second = player.pluck(D4, 4500);
    player.pluck(E4, 4600);
    player.unsure(Doubt::SeveralNotes, 4610);
    player.settle(second, 4700);
    assert_eq!(player.answered(), [(D4, 4500)]);
}

#[test]
fn a_run_answers_once_however_long_it_goes_on() {
    let mut player = Player::in_call(rules());
    for n in 0..200 {
        player.play(D4, 4000 + n * 400);
    }
    assert_eq!(player.answered(), [(D4, 4400)]);
    assert_eq!(player.tries().len(), 200);
    assert_eq!(
        player.view().call.unwrap().tries.len(),
        200.min(TRIES_SHOWN)
    );
    // After a pause it may be meant again, and so after another note.
    player.play(D4, 90_000);
    player.play(D4, 90_500);
    player.play(E4, 91_000);
    player.play(D4, 91_500);
    player.play(D4, 92_000);
    let answered = [(D4, 4400), (D4, 90_500), (D4, 92_000)];
    assert_eq!(player.answered(), answered);
}

#[test]
fn a_second_row_is_a_second_answer_until_the_note_is_found() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    player.play(D4, 4500);
    player.told(marked(1, MISSED));
    player.play(E4, 5000);
    player.play(E4, 5500);
    assert_eq!(player.answered(), [(D4, 4500), (E4, 5500)]);
    player.told(marked(2, Mark::Right));
    player.play(D5, 6000);
    player.play(D5, 6500);
    player.until(9000);
    assert_eq!(player.answers().len(), 2, "found already");
    assert_eq!(player.tries().len(), 6, "playing on is trying");
    assert_eq!(player.view().call.unwrap().running, None);
    let late = player.order(StudentOrder::AnswerHeard, 9001);
    assert_eq!(late, Err(Refusal::FoundAlready));
}

#[test]
fn count_and_window_are_adjustable() {
    let mut player = Player::in_call(rules());
    player.terminal.set_hands_free(Some(HandsFree {
        times: 3,
        within: Duration::from_millis(1000),
        headphones: false,
    }));
    // 600 ms apart: no three of them within a second.
    for n in 0..4 {
        player.play(D4, 4000 + n * 600);
    }
    assert_eq!(player.answers(), []);
    player.play(D4, 6201);
    assert_eq!(player.answers(), []);
    player.play(D4, 6500);
    assert_eq!(player.answered(), [(D4, 6500)]);

    let mut player = Player::in_call(rules());
    player.terminal.set_hands_free(Some(HandsFree {
        times: 1,
        ..HandsFree::default()
    }));
    player.play(D4, 4000);
    assert_eq!(player.answered(), [(D4, 4000)]);
}

#[test]
fn what_was_played_before_the_tone_never_counts() {
    let settings = HandsFree {
        headphones: true,
        ..HandsFree::default()
    };
    let mut player = Player::new(rules(), settings);
    player.play(D4, 700);
    player.until(1000);
    let call = seat::notice(1, ms(START_MS));
    player.told(ToStudent::Call(call));
    seat::sound(&mut player.terminal, ms(1000));
    // The call is there, but its tone is not.
    player.play(D4, 1100);
    player.play(D4, START_MS - 1);
    player.play(D4, 1500);
    player.until(1900);
    assert_eq!(player.answers(), []);
    assert_eq!(player.tries(), [D4]);
    player.play(D4, 2000);
    assert_eq!(player.answered(), [(D4, 2000)]);
}

#[test]
fn where_calls_sound_on_asking_nothing_counts_before_the_asking() {
    let settings = HandsFree {
        headphones: true,
        ..HandsFree::default()
    };
    let mut player = Player::new(rules(), settings);
    player.until(1000);
    let call = fifthpeg_lesson::message::CallNotice {
        on_asking: true,
        ..seat::notice(1, ms(1000))
    };
    player.told(ToStudent::Call(call));
    player.play(D4, 1500);
    player.play(D4, 2000);
    player.until(2500);
    player.order(StudentOrder::Hear, 2500).unwrap();
    // Told only now, but played before.
    player.pluck(D4, 2490);
    player.pluck(D4, 2495);
    player.until(3500);
    assert_eq!(player.tries(), []);
    assert_eq!(player.answers(), []);
}

#[test]
fn answers_given_while_the_connection_is_lost_wait_for_it() {
    let mut player = Player::in_call(rules());
    player.terminal.handle_disconnected(ms(3500));
    player.play(D4, 4000);
    player.play(D4, 4500);
    player.until(6000);
    assert_eq!(player.said, []);
    assert_eq!(player.view().call.unwrap().answers.len(), 1);
    player.terminal.handle_connected(ms(6000));
    let last = seat::last(1, ms(START_MS), false);
    player.told(seat::welcome_after(last, 7, rules()));
    player.told(ToStudent::Call(seat::notice(1, ms(START_MS))));
    assert_eq!(player.answered(), [(D4, 4500)]);
    assert_eq!(player.tries(), [D4, D4]);
}

#[test]
fn a_row_the_reveal_came_before_does_not_count_and_is_said_to_be_late() {
    for ends in [
        ToStudent::Closed {
            call: CallId(1),
            tally: Tally::default(),
        },
        ToStudent::Reveal {
            call: CallId(1),
            pitch: fifthpeg_core::Pitch::new(D4).unwrap(),
            places: Vec::new(),
            marks: Vec::new(),
        },
    ] {
        let mut player = Player::in_call(rules());
        player.play(D4, 4000);
        player.pluck(D4, 4900);
        let before = player.view().refusals;
        player.told(ends);
        player.until(9000);
        assert_eq!(player.answers(), []);
        let view = player.view();
        assert_eq!(view.refusals, before + 1);
        assert_eq!(view.last_refusal, Some(Refusal::TooLate));
    }
}

#[test]
fn a_key_commits_the_pluck_heard_last() {
    let mut player = Player::in_call(rules());
    let nothing = player.order(StudentOrder::AnswerHeard, 3900);
    assert_eq!(nothing, Err(Refusal::NothingHeard));
    player.play(E4, 4000);
    player.play(D4, 4500);
    player.order(StudentOrder::AnswerHeard, 6000).unwrap();
    // The student decided at the key, not at the pluck.
    assert_eq!(player.answered(), [(D4, 6000)]);
    let off = player.answers()[0].uncertainty;
    assert_eq!(off, Duration::from_millis(10) + KEYBOARD_ALLOWANCE);
    let again = player.order(StudentOrder::AnswerHeard, 6100);
    assert_eq!(again, Err(Refusal::HeardAnswered));
    // A second pluck of it is the same run.
    player.play(D4, 6200);
    player.until(7000);
    assert_eq!(player.answers().len(), 1);
}

#[test]
fn a_key_pressed_at_once_waits_for_the_pluck_to_be_sure() {
    let mut player = Player::in_call(rules());
    let id = player.pluck(D4, 4000);
    player.order(StudentOrder::AnswerHeard, 4080).unwrap();
    player.order(StudentOrder::AnswerHeard, 4090).unwrap();
    assert_eq!(player.answers(), []);
    player.settle(id, 4200);
    assert_eq!(player.answered(), [(D4, 4080)]);

    let mut player = Player::in_call(rules());
    let id = player.pluck(D4, 4000);
    player.order(StudentOrder::AnswerHeard, 4080).unwrap();
    player.withdraw(id, Doubt::Slide, 4200);
    player.until(9000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.view().last_refusal, Some(Refusal::HeardWithdrawn));

    // A key on top of a row is one answer.
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 4500);
    player.order(StudentOrder::AnswerHeard, 4600).unwrap();
    player.settle(id, 4700);
    player.until(9000);
    assert_eq!(player.answered(), [(D4, 4500)]);
}

#[test]
fn what_waits_when_the_microphone_is_lost_is_given_or_told() {
    // Whether this row may answer will not be said any more.
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    player.pluck(D4, 4500);
    player.terminal.set_hands_free(None);
    player.unsure(Doubt::NoClearPitch, 4600);
    assert_eq!(player.answered(), []);
    assert_eq!(player.tries(), [D4, D4]);
    let told = player.view().last_refusal;
    assert_eq!(told, Some(Refusal::HeardWithdrawn));

    // A key needs nobody's word.
    let mut player = Player::in_call(rules());
    player.pluck(D4, 4000);
    player.order(StudentOrder::AnswerHeard, 4080).unwrap();
    player.terminal.set_hands_free(None);
    player.unsure(Doubt::NoClearPitch, 4600);
    assert_eq!(player.answered(), [(D4, 4080)]);

    // One pluck that answers nothing gets no answer.
    let mut player = Player::in_call(rules());
    player.pluck(D4, 4000);
    player.terminal.set_hands_free(None);
    player.until(9000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.view().last_refusal, None);
}

#[test]
fn without_a_microphone_nothing_is_heard() {
    let mut player = Player::in_call(rules());
    player.terminal.set_hands_free(None);
    player.play(D4, 4000);
    player.play(D4, 4500);
    let key = player.order(StudentOrder::AnswerHeard, 5000);
    assert_eq!(key, Err(Refusal::NotListening));
    assert_eq!(player.said, []);
    assert_eq!(player.view().heard, None);
}

#[test]
fn the_view_shows_what_is_heard_and_what_a_row_lacks() {
    let mut player = Player::in_call(rules());
    let id = player.pluck(D4, 4000);
    let heard = player.view().heard.unwrap();
    assert_eq!((heard.pitch.midi(), heard.settled), (D4, false));
    assert_eq!(player.view().call.unwrap().running.unwrap().1, 1);
    player.settle(id, 4200);
    assert!(player.view().heard.unwrap().settled);
    // Two seconds after the pluck it is over, and the terminal wakes to show it.
    player.until(6000);
    assert!(player.view().call.unwrap().running.is_some());
    player.until(6001);
    assert_eq!(player.view().call.unwrap().running, None);
    let id = player.pluck(E4, 7000);
    player.withdraw(id, Doubt::Slide, 7100);
    assert_eq!(player.view().heard, None);
}

#[test]
fn an_ear_that_begins_anew_may_count_from_the_beginning() {
    let mut player = Player::in_call(rules());
    for (id, at) in [(1, 4000), (1, 4600), (1, 4600)] {
        let pitch = fifthpeg_core::Pitch::new(D4).unwrap();
        let heard = HeardNote::Pluck {
            id,
            pitch,
            cents: 0.0,
            at: ms(at),
            uncertainty: ONSET_OFF,
        };
        player.hear(heard, at + DECIDED_MS);
        player.settle(id, at + SETTLED_MS);
    }
    player.until(9000);
    assert_eq!(player.answered(), [(D4, 4600)]);
    assert_eq!(player.tries(), [D4, D4]);
    assert!(matches!(player.answers()[0].answer, Answer::Pitch(_)));
}
