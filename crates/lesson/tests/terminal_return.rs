//! A terminal that loses its connection, and comes back.

mod seat;

use std::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{
    CallId, CallNotice, FromStudent, PlaceKey, Refusal, Source, ToStudent,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{SoundKind, StudentOrder, Terminal};
use fifthpeg_lesson::view::CallStage;

use seat::{MISSED, joined, messages, ms, notice, place, rules, sound, welcome};

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
    let marked = |serial, mark| ToStudent::Marked {
        call: CallId(1),
        serial,
        mark,
        tally: Tally::default(),
    };
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
    t.handle_message(welcome(7, rules()), ms(5010));
    let back = CallNotice {
        answers_held: 1,
        ..notice(1, ms(1250))
    };
    t.handle_message(ToStudent::Call(back), ms(5011));
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
    t.handle_message(welcome(7, rules()), ms(5001));
    // By the second exchange it would have been named.
    for at in [5002, 5252] {
        t.handle_clock(ms(at), ms(at), ms(at), ms(at + 1));
    }
    assert_eq!(t.view(ms(5253)).call.unwrap().stage, CallStage::Closed);
    assert_eq!(messages(&mut t), [], "the host has not spoken of it yet");

    t.handle_disconnected(ms(6000));
    t.handle_connected(ms(6001));
    t.handle_message(welcome(8, rules()), ms(6002));
    assert_eq!(t.view(ms(6002)).call, None);
    assert_eq!(t.key(), Some(PlaceKey(8)));
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
    t.handle_message(welcome(7, rules()), ms(5001));
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
    let call = CallId(1);
    ToStudent::Refused(Refusal::TooLate { call, serial })
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
    assert_eq!(answers_sent(&mut t), [2], "the host holds the first");
    t.handle_message(too_late(2), ms(5010));
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
    let marked = ToStudent::Marked {
        call: CallId(1),
        serial: 1,
        mark: MISSED,
        tally: Tally::default(),
    };
    t.handle_message(marked, ms(5010));
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
    let other = Refusal::TooLate {
        call: CallId(9),
        serial: 1,
    };
    t.handle_message(ToStudent::Refused(other), ms(2002));
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
    t.handle_message(welcome(7, rules()), ms(33_010));
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
    let back = |named: Option<ToStudent>| {
        let mut t = joined();
        t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
        sound(&mut t, ms(1000));
        t.handle_disconnected(ms(3000));
        t.handle_connected(ms(5000));
        t.handle_message(welcome(7, rules()), ms(5001));
        // Between two frames, however far apart the network takes them.
        let stage = |t: &Terminal| t.view(ms(5002)).call.unwrap().stage;
        assert_eq!(stage(&t), CallStage::Open);
        t.handle_order(StudentOrder::Answer(place("1/4")), ms(5002))
            .unwrap();
        // The clock may be answered before the next frame is sent.
        t.handle_clock(ms(5000), ms(5001), ms(5001), ms(5003));
        assert_eq!(stage(&t), CallStage::Open);
        match named {
            Some(message) => t.handle_message(message, ms(5004)),
            // Nothing more was said of it: it is over.
            None => t.handle_clock(ms(5250), ms(5251), ms(5251), ms(5253)),
        }
        (stage(&t), messages(&mut t))
    };
    let (stage, sent) = back(Some(ToStudent::Call(notice(1, ms(1250)))));
    assert_eq!(stage, CallStage::Open);
    let answered = sent.iter().any(|m| matches!(m, FromStudent::Answer(_)));
    assert!(answered, "{sent:?}");
    let turn = ToStudent::Turn {
        caller: "Ruth".into(),
        yours: false,
    };
    assert_eq!(back(Some(turn)).0, CallStage::Closed);
    assert_eq!(back(None).0, CallStage::Closed);
}
