//! The ear's word on a pluck: what may answer by itself, and what is said of the rest.

mod seat;

use fifthpeg_lesson::terminal::{Doubt, StudentOrder, WORD_LIMIT};

use seat::ear::{DECIDED_MS, Player};
use seat::rules;

const D4: u8 = 62;
const E4: u8 = 64;

#[test]
fn two_plucks_answer_only_if_both_may() {
    for (first, second) in [(true, false), (false, true), (false, false)] {
        let mut player = Player::in_call(rules());
        for (may, at) in [(first, 4000), (second, 4700)] {
            let id = player.pluck(D4, at);
            match may {
                true => player.settle(id, at + 200),
                false => player.not_counted(id, Doubt::Unsteady, at + 200),
            }
        }
        player.until(5500);
        assert_eq!(player.answers(), [], "{first} {second}");
        assert_eq!(player.tries(), [D4, D4], "they stay tries");
        // One that may not goes on with the run, and does not count.
        player.play(D4, 5600);
        player.until(9000);
        let answered = if first || second {
            vec![(D4, 5600)]
        } else {
            vec![]
        };
        assert_eq!(player.answered(), answered, "{first} {second}");
    }
}

#[test]
fn a_word_that_does_not_come_is_a_no_and_a_late_one_counts_still() {
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 4500);
    player.until(4500 + DECIDED_MS + u64::try_from(WORD_LIMIT.as_millis()).unwrap());
    assert_eq!(player.answers(), []);
    player.play(E4, 5800);
    player.settle(id, 6100);
    assert_eq!(player.answered(), [(D4, 4500)]);
}

#[test]
fn a_voice_taken_for_a_note_neither_answers_nor_breaks_a_row_and_a_note_played_does() {
    for (why, answered) in [
        (Doubt::NotAPluck, vec![(D4, 5000)]),
        (Doubt::Unsteady, vec![]),
    ] {
        let mut player = Player::in_call(rules());
        player.play(D4, 4000);
        let id = player.pluck(E4, 4500);
        player.not_counted(id, why, 4700);
        player.play(D4, 5000);
        player.until(9000);
        assert_eq!(player.answered(), answered, "{why:?}");
    }
    // However long somebody talks.
    let mut player = Player::in_call(rules());
    for n in 0..50 {
        let id = player.pluck(D4, 4000 + n * 400);
        player.not_counted(id, Doubt::NotAPluck, 4200 + n * 400);
    }
    player.until(30_000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.view().uncounted, None, "and nobody is told");
}

#[test]
fn a_key_answers_with_a_pluck_that_may_not_answer_by_itself() {
    let mut player = Player::in_call(rules());
    let id = player.pluck(D4, 4000);
    player.not_counted(id, Doubt::Unsteady, 4200);
    player.order(StudentOrder::AnswerHeard, 4900).unwrap();
    assert_eq!(player.answered(), [(D4, 4900)]);
    // Pressed while a row waits for the word: if that is no, the key's moment is it.
    let mut player = Player::in_call(rules());
    player.play(D4, 4000);
    let id = player.pluck(D4, 4500);
    player.order(StudentOrder::AnswerHeard, 4600).unwrap();
    assert_eq!(player.answers(), []);
    player.not_counted(id, Doubt::Unsteady, 4700);
    player.until(9000);
    assert_eq!(player.answered(), [(D4, 4600)]);
}

#[test]
fn what_does_not_count_is_shown_with_how_often_in_a_row_until_something_counts() {
    let mut player = Player::in_call(rules());
    let shown = |player: &Player| {
        let uncounted = player.view().uncounted;
        uncounted.map(|u| (u.pitch.midi(), u.why, u.in_a_row))
    };
    let not_counted = |player: &mut Player, midi, at| {
        let id = player.pluck(midi, at);
        player.not_counted(id, Doubt::Unsteady, at + 200);
    };
    not_counted(&mut player, D4, 4000);
    assert_eq!(shown(&player), Some((D4, Doubt::Unsteady, 1)));
    not_counted(&mut player, D4, 5000);
    assert_eq!(shown(&player), Some((D4, Doubt::Unsteady, 2)));
    not_counted(&mut player, E4, 6000);
    assert_eq!(shown(&player), Some((E4, Doubt::Unsteady, 1)));
    player.play(E4, 7000);
    assert_eq!(shown(&player), None);
    not_counted(&mut player, D4, 8000);
    player.order(StudentOrder::AnswerHeard, 8500).unwrap();
    assert_eq!(shown(&player), None, "a key has answered with it");
    not_counted(&mut player, D4, 9000);
    player.call(2);
    assert_eq!(shown(&player), None, "another call");
}
