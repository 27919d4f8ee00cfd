//! A terminal that loses its connection, and comes back.

mod seat;

use std::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{
    CallId, CallNotice, FromStudent, HeldMark, Refusal, SeatKey, Source, ToStudent,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{
    ANSWERS_KEPT, AnswerLost, AnswerOutcome, SoundKind, StudentOrder, Terminal, TerminalEvent,
};
use fifthpeg_lesson::view::CallStage;

use seat::{MISSED, back, joined, marked, messages, ms, notice, place, rules, sound, welcome};

#[test]
fn unconfirmed_answers_go_again_with_their_serials_after_a_lost_connection() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    for (fret, now) in [("1/3", 2000), ("1/5", 3000)] {
        t.handle_order(StudentOrder::Answer(place(fret)), ms(now))
            .unwrap();
    }
    let sent = messages(&mut t);
    t.handle_message(marked(1, MISSED), ms(3100));
    t.handle_disconnected(ms(3200));
    assert!(!t.view(ms(3200)).connected);
    // One more while nobody listens.
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(4000))
        .unwrap();
    t.handle_order(StudentOrder::Try(place("1/4")), ms(4001))
        .unwrap();
    assert_eq!(messages(&mut t), []);

    t.handle_connected(ms(5000));
    t.handle_message(back(1, ms(1250), false), ms(5010));
    let named = CallNotice {
        answers_held: 1,
        ..notice(1, ms(1250))
    };
    t.handle_message(ToStudent::Call(named), ms(5011));
    let again = messages(&mut t);
    assert!(again.contains(&FromStudent::Try {
        source: Source::Screen,
        call: CallId(1),
        at: place("1/4")
    }));
    let answers: Vec<_> = again
        .iter()
        .filter_map(|m| match m {
            FromStudent::Answer(a) => Some(*a),
            _ => None,
        })
        .collect();
    assert_eq!(answers.iter().map(|a| a.serial).collect::<Vec<_>>(), [2, 3]);
    assert_eq!(
        FromStudent::Answer(answers[0]),
        sent[2],
        "the same answer, the same time"
    );
    assert_eq!(answers[1].response, Some(Duration::from_millis(2750)));
    // The call is not sounded again.
    assert!(
        sound(&mut t, ms(5011))
            .iter()
            .all(|(_, kind)| *kind == SoundKind::Try)
    );

    t.handle_message(marked(2, MISSED), ms(5100));
    t.handle_message(marked(3, Mark::Right), ms(5101));
    let call = t.view(ms(5101)).call.unwrap();
    assert!(call.found);
    assert!(call.answers.iter().all(|(_, mark)| mark.is_some()));
}

#[test]
fn a_call_that_ended_meanwhile_is_over_and_another_lesson_starts_afresh() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    t.handle_disconnected(ms(2001));
    t.handle_connected(ms(5000));
    t.handle_message(back(2, ms(4000), false), ms(5001));
    // Another has been called since: this one is over.
    assert_eq!(t.view(ms(5001)).call.unwrap().stage, CallStage::Closed);
    assert_eq!(
        answers_sent(&mut t),
        [1],
        "the host is asked what came of it"
    );

    t.handle_disconnected(ms(6000));
    t.handle_connected(ms(6001));
    t.handle_message(welcome(8, rules()), ms(6002));
    assert_eq!(
        told(&mut t),
        [(1, 1, AnswerOutcome::Lost(AnswerLost::OtherPlace))]
    );
    assert_eq!(t.view(ms(6002)).call, None);
    assert_eq!(t.key(), Some(SeatKey(8)));
    // Its first call has the old one's number and nothing else of it.
    t.handle_message(ToStudent::Call(notice(1, ms(6010))), ms(6003));
    assert!(t.view(ms(6003)).call.unwrap().answers.is_empty());
    assert!(
        !messages(&mut t)
            .iter()
            .any(|m| matches!(m, FromStudent::Answer(_)))
    );
}

/// An answer on its way when the connection broke, and one given while away.
fn two_unconfirmed() -> Terminal {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    t.handle_disconnected(ms(2001));
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(3000))
        .unwrap();
    messages(&mut t);
    t.handle_connected(ms(5000));
    t.handle_message(back(1, ms(1250), true), ms(5001));
    t
}

fn answers_sent(t: &mut Terminal) -> Vec<u32> {
    let serial = |m: FromStudent| match m {
        FromStudent::Answer(a) => Some(a.serial),
        _ => None,
    };
    messages(t).into_iter().filter_map(serial).collect()
}

fn too_late(serial: u32) -> ToStudent {
    ToStudent::AnswerRefused {
        call: CallId(1),
        serial,
        why: Refusal::TooLate,
    }
}

/// What was told of answers since the last look: call, serial, what came of it.
fn told(t: &mut Terminal) -> Vec<(u32, u32, AnswerOutcome)> {
    let events = std::iter::from_fn(|| t.poll_event());
    let told = events.filter_map(|event| match event {
        TerminalEvent::Told {
            call,
            serial,
            outcome,
            ..
        } => Some((call.0, serial, outcome)),
        _ => None,
    });
    told.collect()
}

fn over() -> ToStudent {
    ToStudent::Closed {
        call: CallId(1),
        tally: Tally::default(),
    }
}

#[test]
fn back_after_the_reveal_held_answers_are_marked_and_late_ones_dropped() {
    let mut t = two_unconfirmed();
    let reveal = ToStudent::Reveal {
        call: CallId(1),
        pitch: Pitch::new(66).unwrap(),
        places: vec!["1/4".parse().unwrap()],
        marks: vec![(1, MISSED)],
    };
    t.handle_message(reveal, ms(5002));
    t.handle_message(over(), ms(5003));
    assert_eq!(answers_sent(&mut t), [1, 2]);
    t.handle_message(too_late(2), ms(5010));
    // The first was told with the reveal; its own mark comes as well.
    t.handle_message(marked(1, MISSED), ms(5011));
    assert_eq!(
        told(&mut t),
        [
            (1, 1, AnswerOutcome::Marked(MISSED)),
            (1, 2, AnswerOutcome::Refused(Refusal::TooLate))
        ]
    );
    let view = t.view(ms(5010));
    let call = view.call.unwrap();
    assert_eq!(call.stage, CallStage::Closed);
    assert_eq!(call.answers, [(place("1/3"), Some(MISSED))]);
    assert_eq!(view.refusals, 1);
    let said = view.last_refusal.unwrap().to_string();
    assert!(said.contains("does not count"), "{said}");
}

#[test]
fn back_after_a_call_closed_unrevealed_the_host_says_which_answers_it_holds() {
    let mut t = two_unconfirmed();
    t.handle_message(over(), ms(5002));
    assert_eq!(answers_sent(&mut t), [1, 2]);
    t.handle_message(marked(1, MISSED), ms(5010));
    t.handle_message(too_late(2), ms(5011));
    let call = t.view(ms(5011)).call.unwrap();
    assert_eq!(call.answers, [(place("1/3"), Some(MISSED))]);
}

#[test]
fn an_answer_that_crosses_the_reveal_is_dropped_by_its_serial() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    for fret in ["1/3", "1/5"] {
        t.handle_order(StudentOrder::Answer(place(fret)), ms(2000))
            .unwrap();
    }
    t.handle_message(over(), ms(2001));
    messages(&mut t);
    // Another call's serial means nothing here.
    let other = ToStudent::AnswerRefused {
        call: CallId(9),
        serial: 1,
        why: Refusal::TooLate,
    };
    t.handle_message(other, ms(2002));
    t.handle_message(too_late(2), ms(2003));
    let call = t.view(ms(2003)).call.unwrap();
    assert_eq!(call.answers, [(place("1/3"), None)]);
    assert_eq!(messages(&mut t), [], "nothing is sent twice");
}

#[test]
fn the_caller_is_told_the_note() {
    let mut t = joined();
    let place: Position = "1/4".parse().unwrap();
    let target = Some((Pitch::new(66).unwrap(), Some(place)));
    let yours = CallNotice {
        you_call: true,
        target,
        ..notice(1, ms(1250))
    };
    t.handle_message(ToStudent::Call(yours), ms(1000));
    assert_eq!(t.view(ms(1000)).call.unwrap().target, target);
    t.handle_message(ToStudent::Call(notice(2, ms(9250))), ms(9000));
    assert_eq!(t.view(ms(9000)).call.unwrap().target, None);
}

#[test]
fn another_call_under_the_number_of_a_lost_one_is_another_call() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    messages(&mut t);
    // The host is killed before the call was written down, and calls anew.
    t.handle_disconnected(ms(3000));
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(3500))
        .unwrap();
    t.handle_connected(ms(4000));
    t.handle_message(welcome(7, rules()), ms(4010));
    t.handle_clock(ms(4000), ms(4001), ms(4001), ms(4002));
    let lost = AnswerOutcome::Lost(AnswerLost::CallLost);
    assert_eq!(told(&mut t), [(1, 1, lost.clone()), (1, 2, lost)]);
    t.handle_message(ToStudent::Call(notice(1, ms(5250))), ms(5000));
    let sounded = sound(&mut t, ms(5000));
    assert_eq!(sounded.len(), 1, "it sounds: {sounded:?}");
    assert_eq!(sounded[0].1, SoundKind::Call);
    let answers = messages(&mut t)
        .into_iter()
        .filter(|m| matches!(m, FromStudent::Answer(_) | FromStudent::Try { .. }));
    assert_eq!(answers.count(), 0, "what was for the other is not sent");
    assert_eq!(t.view(ms(5001)).call.unwrap().answers, []);
}

#[test]
fn a_response_to_the_hosts_speakers_outlasts_the_host() {
    let mut t = joined();
    let call = CallNotice {
        tone: None,
        ..notice(1, ms(1250))
    };
    t.handle_message(ToStudent::Call(call.clone()), ms(1000));
    // The host is killed, and its clock goes on where it stood.
    t.handle_disconnected(ms(3000));
    t.handle_connected(ms(33_000));
    t.handle_message(back(1, ms(1250), false), ms(33_010));
    t.handle_clock(ms(33_010), ms(3001), ms(3001), ms(33_012));
    t.handle_message(ToStudent::Call(call), ms(33_020));
    messages(&mut t);
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(34_000))
        .unwrap();
    let answer = messages(&mut t).into_iter().find_map(|m| match m {
        FromStudent::Answer(a) => Some(a),
        _ => None,
    });
    let response = answer.and_then(|a| a.response).unwrap();
    assert!(
        response.abs_diff(Duration::from_millis(32_750)) <= Duration::from_millis(2),
        "{response:?}"
    );
}

#[test]
fn a_call_that_goes_on_is_never_seen_to_close() {
    let returned = |last: ToStudent| {
        let mut t = joined();
        t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
        sound(&mut t, ms(1000));
        t.handle_disconnected(ms(3000));
        t.handle_connected(ms(5000));
        t.handle_message(last, ms(5001));
        t
    };
    let stage = |t: &Terminal| t.view(ms(5002)).call.unwrap().stage;
    // Between two frames, however far apart the network takes them, and however
    // long a slow book keeps the second back.
    let mut t = returned(back(1, ms(1250), false));
    for at in [5100, 5300, 6000] {
        t.handle_clock(ms(at), ms(at), ms(at), ms(at + 1));
    }
    assert_eq!(stage(&t), CallStage::Open);
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(6002))
        .unwrap();
    assert_eq!(answers_sent(&mut t), [1]);
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(6004));
    assert_eq!(stage(&t), CallStage::Open);
    assert_eq!(answers_sent(&mut t), [0; 0], "nothing is sent twice");
    // The host has lost it, or has called another.
    assert_eq!(stage(&returned(welcome(7, rules()))), CallStage::Closed);
    let other = returned(back(2, ms(4000), false));
    assert_eq!(stage(&other), CallStage::Closed);
    // It is over, which the host says next.
    let mut t = returned(back(1, ms(1250), true));
    t.handle_message(over(), ms(5002));
    assert_eq!(stage(&t), CallStage::Closed);
}

/// The fault that this guards against: what belonged to an earlier call was
/// dropped, though it had been told that it is kept.
#[test]
fn an_answer_is_kept_over_any_number_of_calls_and_connections_until_it_is_told() {
    let mut t = joined();
    for call in 1..=3 {
        let start = ms(u64::from(call) * 10_000);
        if call == 1 {
            t.handle_message(ToStudent::Call(notice(1, start)), ms(9_000));
        } else {
            // Cut off all through the call before.
            t.handle_connected(start);
            t.handle_message(back(call, start, false), start);
            assert_eq!(answers_sent(&mut t).len() as u32, call - 1);
            t.handle_message(ToStudent::Call(notice(call, start)), start);
        }
        t.handle_order(StudentOrder::Answer(place("1/3")), start)
            .unwrap();
        messages(&mut t);
        t.handle_disconnected(start);
    }
    assert_eq!(told(&mut t), []);
    let owed = t.view(ms(40_000)).owed;
    assert_eq!(owed, [1, 2, 3].map(|n| (CallId(n), place("1/3"))));
    t.handle_connected(ms(50_000));
    t.handle_message(back(4, ms(45_000), false), ms(50_000));
    assert_eq!(answers_sent(&mut t), [1, 1, 1]);
    // In whatever order the host speaks of them.
    let second = ToStudent::AnswerRefused {
        call: CallId(2),
        serial: 1,
        why: Refusal::TooLate,
    };
    t.handle_message(second, ms(50_001));
    t.handle_message(marked(1, Mark::Right), ms(50_002));
    t.handle_message(marked(1, Mark::Right), ms(50_003));
    let ended = ToStudent::Ended {
        tally: Tally::default(),
        removed: false,
    };
    t.handle_message(ended, ms(50_004));
    assert_eq!(
        told(&mut t),
        [
            (2, 1, AnswerOutcome::Refused(Refusal::TooLate)),
            (1, 1, AnswerOutcome::Marked(Mark::Right)),
            (3, 1, AnswerOutcome::Lost(AnswerLost::Over)),
        ],
        "each once"
    );
}

/// Taken out while the link was down: the host refuses it at the door.
#[test]
fn who_is_not_let_in_again_is_told_why_answers_are_lost() {
    for (refused, why) in [
        (Some(&Refusal::TakenOut), AnswerLost::TakenOut),
        (None, AnswerLost::Over),
    ] {
        let mut t = two_unconfirmed();
        t.handle_disconnected(ms(3000));
        t.handle_over(refused);
        let told: Vec<_> = told(&mut t).into_iter().map(|(_, _, of)| of).collect();
        assert_eq!(told, [AnswerOutcome::Lost(why), AnswerOutcome::Lost(why)]);
    }
}

#[test]
fn a_terminal_keeps_so_many_and_refuses_the_next_at_once() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    t.handle_disconnected(ms(2000));
    for _ in 0..ANSWERS_KEPT {
        t.handle_order(StudentOrder::Answer(place("1/3")), ms(2001))
            .unwrap();
    }
    let one_more = t.handle_order(StudentOrder::Answer(place("1/4")), ms(2002));
    assert_eq!(one_more, Err(Refusal::TooManyWait(ANSWERS_KEPT as u32)));
    assert_eq!(t.view(ms(2003)).owed.len(), ANSWERS_KEPT);
}

#[test]
fn a_program_that_was_started_again_is_told_what_the_host_holds() {
    let mut t = joined();
    let held = vec![
        HeldMark {
            serial: 1,
            answer: place("1/3"),
            mark: MISSED,
        },
        HeldMark {
            serial: 2,
            answer: place("1/4"),
            mark: Mark::Right,
        },
    ];
    let named = CallNotice {
        answers_held: 2,
        found: true,
        held,
        ..notice(1, ms(1250))
    };
    for _ in 0..2 {
        t.handle_message(ToStudent::Call(named.clone()), ms(1000));
        let call = t.view(ms(1000)).call.unwrap();
        assert_eq!(
            call.answers,
            [
                (place("1/3"), Some(MISSED)),
                (place("1/4"), Some(Mark::Right))
            ]
        );
    }
    assert_eq!(
        told(&mut t),
        [
            (1, 1, AnswerOutcome::Marked(MISSED)),
            (1, 2, AnswerOutcome::Marked(Mark::Right))
        ],
        "once"
    );
}

/// A host that was killed goes back to the call before the one that it had not
/// written down, and names what it holds of it: that was told already.
#[test]
fn a_mark_is_told_once_though_the_host_goes_back_to_its_call() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    t.handle_message(marked(1, MISSED), ms(2001));
    t.handle_message(ToStudent::Call(notice(2, ms(3250))), ms(3000));
    assert_eq!(told(&mut t), [(1, 1, AnswerOutcome::Marked(MISSED))]);
    t.handle_disconnected(ms(4000));
    t.handle_connected(ms(5000));
    t.handle_message(back(1, ms(1250), false), ms(5001));
    let held = vec![HeldMark {
        serial: 1,
        answer: place("1/3"),
        mark: MISSED,
    }];
    let named = CallNotice {
        answers_held: 1,
        held,
        ..notice(1, ms(1250))
    };
    t.handle_message(ToStudent::Call(named), ms(5002));
    assert_eq!(told(&mut t), []);
    let call = t.view(ms(5002)).call.unwrap();
    assert_eq!(call.answers, [(place("1/3"), Some(MISSED))]);
}
