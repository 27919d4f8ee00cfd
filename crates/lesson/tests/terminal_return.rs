//! A terminal that loses its connection, and comes back.

mod seat;

use std::time::Duration;

use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{CallId, CallNotice, FromStudent, PlaceKey, ToStudent};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{SoundKind, StudentOrder};
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
    assert_eq!(t.view(ms(5001)).call.unwrap().stage, CallStage::Closed);
    assert_eq!(messages(&mut t), []);

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
