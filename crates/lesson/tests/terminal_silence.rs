//! Tones that a terminal was to sound and could not.

mod seat;

use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::message::{CallId, CallNotice, FromStudent, ToStudent};
use fifthpeg_lesson::terminal::{SoundKind, StudentOrder};

use seat::{joined, messages, ms, notice, place, sound};

#[test]
fn a_first_tone_that_failed_leaves_the_next_as_the_first() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    let failed = t.poll_sound().unwrap();
    t.handle_not_sounded(failed.id);
    assert_eq!(t.view(ms(1300)).call.unwrap().started, None);

    t.handle_order(StudentOrder::Hear, ms(2000)).unwrap();
    assert_eq!(sound(&mut t, ms(2000)), [(ms(2000), SoundKind::Call)]);
    // It is the free one: nothing was asked of the host for it.
    let call = CallId(1);
    let told = [
        FromStudent::NotSounded { call },
        FromStudent::Sounded { call },
    ];
    assert_eq!(messages(&mut t), told);
    assert_eq!(t.view(ms(2000)).call.unwrap().hearings, 0);
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(3000))
        .unwrap();
    let Some(FromStudent::Answer(answer)) = messages(&mut t).pop() else {
        panic!("no answer");
    };
    assert_eq!(answer.response, Some(Duration::from_secs(1)));
}

#[test]
fn on_asking_a_tone_that_failed_is_not_asked_for_twice() {
    let mut t = joined();
    let on_asking = CallNotice {
        on_asking: true,
        ..notice(1, ms(1000))
    };
    t.handle_message(ToStudent::Call(on_asking), ms(1000));
    t.handle_order(StudentOrder::Hear, ms(1500)).unwrap();
    assert_eq!(messages(&mut t), [FromStudent::Hearing { call: CallId(1) }]);
    let failed = t.poll_sound().unwrap();
    t.handle_not_sounded(failed.id);
    assert!(t.view(ms(1600)).call.unwrap().waiting_to_ask);

    t.handle_order(StudentOrder::Hear, ms(2000)).unwrap();
    assert_eq!(sound(&mut t, ms(2000)), [(ms(2000), SoundKind::Call)]);
    let call = CallId(1);
    let told = [
        FromStudent::NotSounded { call },
        FromStudent::Sounded { call },
    ];
    assert_eq!(messages(&mut t), told);
    assert_eq!(t.view(ms(2000)).call.unwrap().hearings, 0);
}

#[test]
fn a_later_tone_that_failed_leaves_the_first_alone() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    t.handle_order(StudentOrder::Hear, ms(2000)).unwrap();
    let failed = t.poll_sound().unwrap();
    t.handle_not_sounded(failed.id);
    assert_eq!(t.view(ms(2000)).call.unwrap().started, Some(ms(1250)));
}

#[test]
fn after_the_reveal_the_note_of_the_hosts_speakers_sounds_here_and_is_not_counted() {
    let mut t = joined();
    let by_host = CallNotice {
        tone: None,
        ..notice(1, ms(1000))
    };
    t.handle_message(ToStudent::Call(by_host), ms(1000));
    let reveal = ToStudent::Reveal {
        call: CallId(1),
        pitch: Pitch::new(66).unwrap(),
        places: Vec::new(),
        marks: Vec::new(),
    };
    t.handle_message(reveal, ms(3000));
    messages(&mut t);
    t.handle_order(StudentOrder::Hear, ms(4000)).unwrap();
    let heard = t.poll_sound().unwrap();
    assert_eq!((heard.at, heard.kind), (ms(4000), SoundKind::Hearing));
    // F#4 at A4 = 440 Hz (equal temperament: 440 * 2^(-3/12)).
    assert!((heard.tone.frequency_hz - 369.994).abs() < 0.001);
    assert_eq!(messages(&mut t), []);
    assert_eq!(t.view(ms(4000)).call.unwrap().hearings, 0);
}
