//! The student's terminal by itself, with the host's part spoken by the test.

mod seat;

use std::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::marking::{Mark, Marking};
use fifthpeg_lesson::message::{
    Answer, CallId, CallNotice, FromStudent, Refusal, Rules, Source, ToStudent, Voice,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::terminal::{
    CLOCK_PATIENCE, FURTHEST_START, HOST_SPEAKERS_ALLOWANCE, KEYBOARD_ALLOWANCE, OUTPUT_LEAD,
    QUICK_ASKS, QUICK_GAP, STEADY_GAP, SoundKind, StudentOrder, Terminal,
};
use fifthpeg_lesson::view::CallStage;

use seat::{MISSED, joined, joined_with, messages, ms, notice, place, rules, sound, welcome};

#[test]
fn a_call_sounds_at_the_instant_named_and_the_response_counts_from_there() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    assert_eq!(sound(&mut t, ms(1000)), [(ms(1250), SoundKind::Call)]);
    assert_eq!(messages(&mut t), [FromStudent::Sounded { call: CallId(1) }]);

    t.handle_order(StudentOrder::Answer(place("1/4")), ms(3250))
        .unwrap();
    let sent = messages(&mut t);
    let [FromStudent::Answer(answer)] = sent[..] else {
        panic!("one answer, not {sent:?}");
    };
    assert_eq!(answer.response, Some(Duration::from_secs(2)));
    assert_eq!(
        answer.uncertainty,
        Duration::from_millis(10) + KEYBOARD_ALLOWANCE
    );
    assert_eq!(answer.serial, 1);
}

#[test]
fn an_answer_before_the_tone_has_no_response_time() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(1200))
        .unwrap();
    let answered = messages(&mut t).pop();
    assert!(matches!(answered, Some(FromStudent::Answer(a)) if a.response.is_none()));
}

#[test]
fn a_late_joiner_hears_it_at_once_and_free() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(9000));
    assert_eq!(sound(&mut t, ms(9000)), [(ms(9000), SoundKind::Call)]);
    assert_eq!(t.view(ms(9000)).call.unwrap().hearings, 0);
    assert!(!messages(&mut t).contains(&FromStudent::Hearing { call: CallId(1) }));
}

#[test]
fn without_a_clock_a_call_waits_a_little_for_one_and_then_sounds_anyway() {
    let without_clock = || {
        let mut t = Terminal::new();
        t.handle_connected(ms(0));
        t.handle_message(welcome(7, rules()), ms(5));
        t.handle_message(ToStudent::Call(notice(1, ms(10_250))), ms(10));
        assert_eq!(t.poll_sound(), None);
        t
    };
    // The host's clock is 10 s ahead, as the exchange shows.
    let mut t = without_clock();
    t.handle_clock(ms(10), ms(10_011), ms(10_011), ms(12));
    assert_eq!(sound(&mut t, ms(12)), [(ms(250), SoundKind::Call)]);

    let mut t = without_clock();
    let deadline = ms(10) + CLOCK_PATIENCE;
    assert!(t.next_deadline().unwrap() <= deadline);
    t.handle_timeout(deadline);
    assert_eq!(sound(&mut t, deadline), [(deadline, SoundKind::Call)]);
    // A clock that comes now changes nothing.
    t.handle_clock(ms(0), ms(10_001), ms(10_001), ms(220));
    assert_eq!(sound(&mut t, ms(220)), []);
}

/// An exchange that was held up may be off by half of that (RFC 5905 section 8):
/// while there is time, a better one is waited for.
#[test]
fn with_a_clock_that_may_be_far_out_a_call_waits_for_a_better_one() {
    let called = || {
        let mut t = Terminal::new();
        t.handle_connected(ms(0));
        t.handle_message(welcome(7, rules()), ms(5));
        // The host's clock is 10 s ahead; the question took 14 ms longer.
        t.handle_clock(ms(0), ms(10_015), ms(10_015), ms(16));
        t.handle_message(ToStudent::Call(notice(1, ms(10_270))), ms(20));
        assert_eq!(t.poll_sound(), None);
        t
    };
    let mut t = called();
    t.handle_clock(ms(20), ms(10_021), ms(10_021), ms(22));
    assert_eq!(sound(&mut t, ms(22)), [(ms(270), SoundKind::Call)]);

    // One no better is none to sound by yet, unless there are enough.
    let mut t = called();
    for at in [20, 40] {
        t.handle_clock(ms(at), ms(10_015 + at), ms(10_015 + at), ms(at + 16));
        assert_eq!(t.poll_sound(), None);
    }
    t.handle_clock(ms(60), ms(10_075), ms(10_075), ms(76));
    assert_eq!(sound(&mut t, ms(76)), [(ms(263), SoundKind::Call)]);

    // None comes in time: the tone is ordered while outputs can still be in time.
    let mut t = called();
    let deadline = ms(263 - OUTPUT_LEAD.as_millis() as u64);
    loop {
        let next = t.next_deadline().unwrap();
        assert!(next <= deadline, "{next:?}");
        t.handle_timeout(next);
        if next == deadline {
            break;
        }
        assert_eq!(t.poll_sound(), None);
    }
    assert_eq!(sound(&mut t, deadline), [(ms(263), SoundKind::Call)]);
}

#[test]
fn a_senseless_start_sounds_at_once() {
    let mut t = joined();
    let far = ms(1000) + FURTHEST_START + Duration::from_secs(1);
    t.handle_message(ToStudent::Call(notice(1, far)), ms(1000));
    assert_eq!(sound(&mut t, ms(1000)), [(ms(1000), SoundKind::Call)]);
    t.handle_message(
        ToStudent::Call(notice(2, Moment::from_micros(u64::MAX))),
        ms(2000),
    );
    assert_eq!(sound(&mut t, ms(2000)), [(ms(2000), SoundKind::Call)]);
}

#[test]
fn later_hearings_count_and_the_host_s_do_not() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    messages(&mut t);
    t.handle_order(StudentOrder::Hear, ms(3000)).unwrap();
    assert_eq!(sound(&mut t, ms(3000)), [(ms(3000), SoundKind::Hearing)]);
    assert_eq!(messages(&mut t), [FromStudent::Hearing { call: CallId(1) }]);
    t.handle_message(
        ToStudent::HearAgain {
            call: CallId(1),
            start: ms(5250),
        },
        ms(5000),
    );
    assert_eq!(sound(&mut t, ms(5000)), [(ms(5250), SoundKind::Hearing)]);
    assert_eq!(messages(&mut t), []);
    let call = t.view(ms(5000)).call.unwrap();
    assert_eq!(call.hearings, 1);
    assert_eq!(
        call.started,
        Some(ms(1250)),
        "responses still count from the first"
    );
}

#[test]
fn on_asking_the_first_asking_is_free_and_starts_the_time() {
    let mut t = joined();
    let call = CallNotice {
        on_asking: true,
        ..notice(1, ms(1000))
    };
    t.handle_message(ToStudent::Call(call), ms(1000));
    assert_eq!(t.poll_sound(), None);
    assert!(t.view(ms(1000)).call.unwrap().waiting_to_ask);
    t.handle_order(StudentOrder::Hear, ms(4000)).unwrap();
    assert_eq!(sound(&mut t, ms(4000)), [(ms(4000), SoundKind::Call)]);
    let hearing = FromStudent::Hearing { call: CallId(1) };
    assert_eq!(
        messages(&mut t),
        [hearing.clone(), FromStudent::Sounded { call: CallId(1) }]
    );
    let view = t.view(ms(4000)).call.unwrap();
    assert_eq!((view.hearings, view.waiting_to_ask), (0, false));

    t.handle_order(StudentOrder::Hear, ms(5000)).unwrap();
    assert_eq!(messages(&mut t), [hearing]);
    assert_eq!(t.view(ms(5000)).call.unwrap().hearings, 1);
}

#[test]
fn with_the_host_s_speakers_the_terminal_is_silent_and_counts_from_the_host_s_start() {
    let mut t = joined();
    let silent = |start| CallNotice {
        tone: None,
        ..notice(1, start)
    };
    t.handle_message(ToStudent::Call(silent(ms(1250))), ms(1000));
    assert_eq!(t.poll_sound(), None);
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(2250))
        .unwrap();
    let sent = messages(&mut t);
    let [FromStudent::Answer(answer)] = sent[..] else {
        panic!("one answer, not {sent:?}");
    };
    assert_eq!(answer.response, Some(Duration::from_secs(1)));
    assert!(answer.uncertainty >= HOST_SPEAKERS_ALLOWANCE + KEYBOARD_ALLOWANCE);
    t.handle_order(StudentOrder::Hear, ms(2300)).unwrap();
    assert_eq!(messages(&mut t), [FromStudent::Hearing { call: CallId(1) }]);
    assert_eq!(t.poll_sound(), None);

    // Who came after it sounded was not there to hear it.
    let mut t = joined();
    t.handle_message(ToStudent::Call(silent(ms(1250))), ms(9000));
    t.handle_order(StudentOrder::Hear, ms(9100)).unwrap();
    assert_eq!(
        t.view(ms(9100)).call.unwrap().hearings,
        0,
        "the first is free"
    );
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(9900))
        .unwrap();
    let answered = messages(&mut t).pop();
    assert!(matches!(answered, Some(FromStudent::Answer(a)) if a.response.is_none()));
}

#[test]
fn tries_sound_in_the_lesson_s_voice_and_tuning_and_are_told() {
    let rules = Rules {
        voice: Voice::Plain,
        a4_hz: 432.0,
        ..rules()
    };
    let mut t = joined_with(rules);
    // Exploring between calls sounds and is nobody's business.
    t.handle_order(StudentOrder::Try(place("1/7")), ms(10))
        .unwrap();
    let order = t.poll_sound().unwrap();
    assert_eq!((order.kind, order.at), (SoundKind::Try, ms(10)));
    assert_eq!(order.tone.voice, Voice::Plain);
    // 1/7 is A4.
    assert!((order.tone.frequency_hz - 432.0).abs() < 1e-9);
    assert_eq!(messages(&mut t), []);

    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    messages(&mut t);
    t.handle_order(StudentOrder::Try(place("2/7")), ms(2000))
        .unwrap();
    assert_eq!(
        messages(&mut t),
        [FromStudent::Try {
            call: CallId(1),
            at: place("2/7"),
            source: Source::Screen,
        }]
    );
    assert_eq!(t.view(ms(2000)).call.unwrap().tries, [place("2/7")]);
    let off = t.handle_order(StudentOrder::Try(place("5/3")), ms(2001));
    assert!(
        matches!(off, Err(Refusal::NoSuchPlace(_))),
        "behind the short string's peg"
    );
}

#[test]
fn what_can_be_refused_here_is() {
    let mut t = Terminal::new();
    let answer = StudentOrder::Answer(place("1/4"));
    assert_eq!(t.handle_order(answer, ms(0)), Err(Refusal::NotConnected));
    let mut t = joined();
    assert_eq!(t.handle_order(answer, ms(5)), Err(Refusal::NoCall));
    assert_eq!(
        t.handle_order(StudentOrder::Hear, ms(5)),
        Err(Refusal::NoCall)
    );
    assert_eq!(
        t.handle_order(StudentOrder::Pick(None), ms(5)),
        Err(Refusal::HostOnly)
    );
    assert_eq!(
        t.handle_order(StudentOrder::CallerReveal, ms(5)),
        Err(Refusal::HostOnly)
    );

    t.handle_message(ToStudent::Call(notice(1, ms(10))), ms(6));
    let class = Answer::Class(Pitch::new(62).unwrap().class());
    let by_class = StudentOrder::Answer(class);
    assert_eq!(t.handle_order(by_class, ms(7)), Err(Refusal::OctaveNeeded));
    let exact = Rules {
        marking: Marking::ExactPlace,
        ..rules()
    };
    t.handle_message(ToStudent::Rules(Box::new(exact)), ms(8));
    let by_pitch = StudentOrder::Answer(Answer::Pitch(Pitch::new(62).unwrap()));
    assert_eq!(t.handle_order(by_pitch, ms(9)), Err(Refusal::PlaceNeeded));
    let any = Rules {
        marking: Marking::AnyOctave,
        ..rules()
    };
    t.handle_message(ToStudent::Rules(Box::new(any)), ms(10));
    t.handle_order(by_class, ms(11)).unwrap();
    t.handle_message(
        ToStudent::Marked {
            call: CallId(1),
            serial: 1,
            mark: Mark::Right,
            tally: Tally::default(),
        },
        ms(12),
    );
    assert_eq!(t.handle_order(answer, ms(13)), Err(Refusal::FoundAlready));

    let yours = CallNotice {
        you_call: true,
        ..notice(2, ms(20))
    };
    t.handle_message(ToStudent::Call(yours), ms(14));
    assert_eq!(t.handle_order(answer, ms(15)), Err(Refusal::CallerAnswers));
    t.handle_message(
        ToStudent::Ended {
            tally: Tally::default(),
            removed: false,
        },
        ms(16),
    );
    assert_eq!(t.handle_order(answer, ms(17)), Err(Refusal::Ended));
}

#[test]
fn a_reveal_shows_the_note_also_to_who_knew_nothing_of_the_call() {
    let places: Vec<Position> = vec!["1/4".parse().unwrap(), "2/7".parse().unwrap()];
    let reveal = ToStudent::Reveal {
        call: CallId(1),
        pitch: Pitch::new(66).unwrap(),
        places: places.clone(),
        marks: vec![(1, MISSED)],
    };
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    t.handle_message(reveal.clone(), ms(3000));
    let call = t.view(ms(3000)).call.unwrap();
    assert_eq!(call.stage, CallStage::Revealed);
    assert_eq!(call.answers, [(place("1/3"), Some(MISSED))]);
    assert_eq!(call.revealed, Some((Pitch::new(66).unwrap(), places)));
    let late = StudentOrder::Answer(place("1/4"));
    assert_eq!(t.handle_order(late, ms(3001)), Err(Refusal::NoCall));
    // Listening and trying go on, uncounted.
    messages(&mut t);
    t.handle_order(StudentOrder::Hear, ms(3002)).unwrap();
    t.handle_order(StudentOrder::Try(place("1/4")), ms(3003))
        .unwrap();
    assert_eq!(messages(&mut t), []);
    assert_eq!(t.view(ms(3003)).call.unwrap().hearings, 0);

    let mut t = joined();
    t.handle_message(reveal, ms(3000));
    assert_eq!(t.view(ms(3000)).call.unwrap().stage, CallStage::Revealed);
}

#[test]
fn refused_answers_are_not_sent_for_ever() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    t.handle_order(StudentOrder::Answer(place("1/3")), ms(2000))
        .unwrap();
    let refused = ToStudent::AnswerRefused {
        call: CallId(1),
        serial: 1,
        why: Refusal::TooManyAnswers(0),
    };
    t.handle_message(refused, ms(2001));
    let view = t.view(ms(2001));
    assert!(view.call.unwrap().answers.is_empty());
    assert_eq!(view.last_refusal, Some(Refusal::TooManyAnswers(0)));
    assert_eq!(view.refusals, 1);
    t.handle_message(ToStudent::Refused(Refusal::UnknownSeat), ms(2002));
    assert_eq!(t.key(), None);
}

#[test]
fn the_clock_is_asked_at_once_then_often_then_now_and_then() {
    let mut t = Terminal::new();
    assert!(!t.poll_clock_ask());
    assert_eq!(t.next_deadline(), None);
    t.handle_connected(ms(100));
    let mut asked = Vec::new();
    let mut now = ms(100);
    for _ in 0..12 {
        assert!(t.poll_clock_ask(), "at {now:?}");
        assert!(!t.poll_clock_ask(), "once each");
        asked.push(now);
        now = t.next_deadline().unwrap();
        t.handle_timeout(now);
    }
    let gaps: Vec<_> = asked.windows(2).map(|w| w[1].since(w[0])).collect();
    let quick = QUICK_ASKS as usize - 1;
    assert_eq!(gaps[0], QUICK_GAP);
    assert!(gaps[..quick].windows(2).all(|g| g[1] == 2 * g[0]));
    assert!(gaps[quick..].iter().all(|g| *g == STEADY_GAP));
    t.handle_disconnected(now);
    assert_eq!(t.next_deadline(), None);
}

#[test]
fn after_a_sleep_the_clock_is_asked_anew_and_the_open_call_is_not_timed() {
    let mut t = joined();
    t.handle_message(ToStudent::Call(notice(1, ms(1250))), ms(1000));
    sound(&mut t, ms(1000));
    while t.poll_clock_ask() {}
    // The lid was closed; by this clock no time has passed.
    t.handle_slept(ms(3000));
    assert!(t.poll_clock_ask(), "it asks at once");
    assert_eq!(t.view(ms(3000)).clock_uncertainty, None);
    t.handle_order(StudentOrder::Answer(place("1/4")), ms(3250))
        .unwrap();
    let answered = messages(&mut t).pop();
    assert!(
        matches!(answered, Some(FromStudent::Answer(a)) if a.response.is_none()),
        "{answered:?}"
    );
    // The host's clock went on for ten minutes, and the next call is timed again.
    let host = |at: u64| ms(at + 600_000);
    t.handle_clock(ms(3300), host(3301), host(3301), ms(3302));
    t.handle_message(ToStudent::Call(notice(2, host(4000))), ms(3900));
    assert_eq!(sound(&mut t, ms(3900)), [(ms(4000), SoundKind::Call)]);
}
