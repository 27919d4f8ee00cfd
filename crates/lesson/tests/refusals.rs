//! Every refusal is reached, is told to the student, and changes nothing.

use fifthpeg_fixture::{Room, at, friends, notice, pitch, place, setup};
use fifthpeg_lesson::marking::Marking;
use fifthpeg_lesson::message::{
    Answer, CallId, FromStudent, Refusal, SeatKey, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup, MAX_NAME_CHARS};
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_vocab::Setting;

/// A student's message is refused like this, the student is told, and the
/// lesson stays as it was.
fn refused(room: &mut Room, id: StudentId, message: FromStudent, refusal: Refusal) {
    let before = room.view();
    let answered = match &message {
        FromStudent::Answer(notice) => Some((notice.call, notice.serial)),
        _ => None,
    };
    assert_eq!(room.say(id, message), Err(refusal.clone()));
    let told = match answered {
        Some((call, serial)) => ToStudent::AnswerRefused {
            call,
            serial,
            why: refusal,
        },
        None => ToStudent::Refused(refusal),
    };
    assert_eq!(room.last(id), Some(&told));
    assert_eq!(room.view(), before);
}

fn host_refused(room: &mut Room, order: HostOrder, refusal: Refusal) {
    let before = room.view();
    assert_eq!(room.host(order), Err(refusal));
    assert_eq!(room.view(), before);
}

#[test]
fn refusals_to_answers() {
    let mut setup = setup();
    setup.max_answers = 3;
    let (mut room, ids) = Room::with(setup, &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    let first = CallId(1);
    let unknown = notice(first, 1, at("1/0"));
    refused(&mut room, mia, unknown, Refusal::CallLost);
    room.order(HostOrder::CallAt(at("1/0")));
    let off = place("6/0");
    let nowhere = notice(first, 1, Answer::Place(off));
    refused(&mut room, mia, nowhere, Refusal::NoSuchPlace(off));
    let class = Answer::Class(pitch(62).class());
    refused(
        &mut room,
        mia,
        notice(first, 1, class),
        Refusal::OctaveNeeded,
    );
    let tried = FromStudent::Try {
        source: Source::Screen,
        call: first,
        at: class,
    };
    refused(&mut room, mia, tried, Refusal::OctaveNeeded);
    let tried = FromStudent::Try {
        source: Source::Screen,
        call: first,
        at: Answer::Place(off),
    };
    refused(&mut room, mia, tried, Refusal::NoSuchPlace(off));
    room.answer(mia, at("1/0")).expect("taken");
    let again = notice(first, 2, at("1/0"));
    refused(&mut room, mia, again, Refusal::FoundAlready);
    for _ in 0..3 {
        room.answer(ole, at("1/1")).expect("taken");
    }
    let fourth = notice(first, 4, at("1/0"));
    refused(&mut room, ole, fourth, Refusal::TooManyAnswers(3));
    room.order(HostOrder::Reveal);
    let late = notice(first, 4, at("1/0"));
    refused(&mut room, ole, late, Refusal::TooLate);
    room.order(HostOrder::Set(Setting::Marking(Marking::ExactPlace)));
    room.order(HostOrder::CallAt(at("1/0")));
    let old = notice(first, 5, at("1/0"));
    refused(&mut room, ole, old, Refusal::TooLate);
    let pitch_alone = notice(CallId(2), 1, Answer::Pitch(pitch(62)));
    refused(&mut room, ole, pitch_alone, Refusal::PlaceNeeded);
}

#[test]
fn refusals_to_callers() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    let [mia, ole] = ids[..] else { panic!() };
    let call = CallId(1);
    let random = FromStudent::Pick { at: None };
    refused(&mut room, ole, random.clone(), Refusal::NotYourTurn);
    let close = FromStudent::CallerClose { call };
    refused(&mut room, mia, close.clone(), Refusal::NoCall);
    let class = Some(Answer::Class(pitch(62).class()));
    let by_class = FromStudent::Pick { at: class };
    refused(&mut room, mia, by_class, Refusal::OctaveNeeded);
    let too_high = FromStudent::Pick {
        at: Some(Answer::Pitch(pitch(120))),
    };
    refused(&mut room, mia, too_high, Refusal::OutsideReach);
    assert_eq!(room.say(mia, random.clone()), Ok(()));
    refused(&mut room, mia, random, Refusal::CallOpen);
    let own = notice(call, 1, at("1/0"));
    refused(&mut room, mia, own, Refusal::CallerAnswers);
    refused(&mut room, ole, close, Refusal::NotYourTurn);
    let wrong = FromStudent::CallerReveal { call: CallId(9) };
    refused(&mut room, mia, wrong, Refusal::OldCall);
}

#[test]
fn refusals_to_students_who_would_call_in_a_class() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    let call = CallId(1);
    for message in [
        FromStudent::Pick { at: None },
        FromStudent::CallerHearAgain { call },
        FromStudent::CallerReveal { call },
        FromStudent::CallerClose { call },
    ] {
        refused(&mut room, ids[0], message, Refusal::HostOnly);
    }
}

#[test]
fn refusals_to_the_host() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    for order in [HostOrder::HearAgain, HostOrder::Reveal, HostOrder::Close] {
        host_refused(&mut room, order, Refusal::NoCall);
    }
    host_refused(&mut room, HostOrder::PassTurn, Refusal::NobodyToCall);
    let nobody = HostOrder::Remove(StudentId(77));
    host_refused(&mut room, nobody, Refusal::NoStudent);
    let one_note = "strings=1 frets=0-0".parse().expect("a reach");
    match room.host(HostOrder::Set(Setting::Reach(one_note))) {
        Err(Refusal::Reach(reason)) => assert!(!reason.is_empty()),
        other => panic!("a reach of one note: {other:?}"),
    }
    room.order(HostOrder::CallRandom);
    host_refused(&mut room, HostOrder::CallRandom, Refusal::CallOpen);
}

#[test]
fn refusals_at_the_door() {
    let mut setup = setup();
    setup.max_students = 1;
    let mut room = Room::new(setup);
    let bad = Refusal::BadName(MAX_NAME_CHARS);
    assert_eq!(room.try_join("", None), Err(bad));
    let unknown = Some(SeatKey(123));
    assert_eq!(room.try_join("Mia", unknown), Err(Refusal::UnknownSeat));
    room.join("Mia");
    assert_eq!(room.try_join("Ole", None), Err(Refusal::Full(1)));
}

#[test]
fn after_the_end_everything_is_refused() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.order(HostOrder::End);
    assert!(matches!(
        room.inbox(ids[0]),
        [.., ToStudent::Closed { .. }, ToStudent::Ended { .. }]
    ));
    let late = notice(CallId(1), 1, at("1/0"));
    refused(&mut room, ids[0], late, Refusal::Ended);
    host_refused(&mut room, HostOrder::CallRandom, Refusal::Ended);
    host_refused(&mut room, HostOrder::End, Refusal::Ended);
    assert_eq!(room.try_join("Ole", None), Err(Refusal::Ended));
}

#[test]
fn a_lesson_that_cannot_be_does_not_begin() {
    let begin = |change: fn(&mut LessonSetup)| {
        let mut setup = setup();
        change(&mut setup);
        Lesson::new(setup, Moment::default()).map(|_| ())
    };
    assert_eq!(begin(|_| ()), Ok(()));
    assert!(matches!(
        begin(|s| s.rules.a4_hz = 20.0),
        Err(Refusal::Setup(reason)) if !reason.is_empty()
    ));
    assert!(matches!(
        begin(|s| s.rules.neck.strings.clear()),
        Err(Refusal::Setup(reason)) if !reason.is_empty()
    ));
    assert!(matches!(
        begin(|s| s.rules.reach.frets = Some((30, 40))),
        Err(Refusal::Reach(reason)) if !reason.is_empty()
    ));
    assert_eq!(
        begin(|s| s.rules.lesson = "\n".to_owned()),
        Err(Refusal::BadName(MAX_NAME_CHARS))
    );
}

#[test]
fn every_refusal_is_one_sentence_that_says_something() {
    let refusals = [
        Refusal::NoCall,
        Refusal::OldCall,
        Refusal::CallOpen,
        Refusal::CallerAnswers,
        Refusal::NotYourTurn,
        Refusal::HostOnly,
        Refusal::NoSuchPlace(place("6/0")),
        Refusal::OutsideReach,
        Refusal::PlaceNeeded,
        Refusal::OctaveNeeded,
        Refusal::TooManyAnswers(3),
        Refusal::Full(2),
        Refusal::BadName(32),
        Refusal::UnknownSeat,
        Refusal::NoStudent,
        Refusal::NobodyToCall,
        Refusal::Ended,
        Refusal::FoundAlready,
        Refusal::TooLate,
        Refusal::LongOver,
        Refusal::CallLost,
        Refusal::SaidTooMuch,
        Refusal::TooManyWait(100),
    ];
    for refusal in refusals {
        let said = refusal.to_string();
        assert!(said.len() > 10 && !said.contains('\n'), "{said}");
        assert!(!said.ends_with('.'), "{said}");
    }
}
