//! Where a pitch is not enough: the exact place, octave courses, and the note
//! that a friend calls from the instrument.

mod seat;

use std::time::Duration;

use fifthpeg_core::{Neck, Pitch};
use fifthpeg_fixture::{Room, pitch, place, setup};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::marking::{Mark, Marking, heard_as, places_sounding};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, FromStudent, Mode, Refusal, Rules, Source, ToStudent,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::{HandsFree, StudentOrder};

use seat::ear::{ONSET_OFF, Player, START_MS};
use seat::rules;

const D4: u8 = 62;
const E4: u8 = 64;
/// D3, the lowest note of the banjo in open G, is on its fourth string alone.
const D3: u8 = 50;

fn exact() -> Rules {
    Rules {
        marking: Marking::ExactPlace,
        ..rules()
    }
}

#[test]
fn the_exact_place_is_asked_for_and_the_time_is_that_of_the_pluck() {
    let mut player = Player::in_call(exact());
    player.play(D4, 4000);
    player.play(D4, 4500);
    assert_eq!(player.answers(), []);
    let wanted = player.view().call.unwrap().place_wanted.unwrap();
    assert_eq!(wanted.0.midi(), D4);
    // D4 on the banjo in open G: open first string, third fret of the second,
    // seventh of the third, twelfth of the fourth; the fifth begins above it.
    let places = ["1/0", "2/3", "3/7", "4/12"].map(place);
    assert_eq!(wanted.1, places);

    let elsewhere = player.order(StudentOrder::AnswerPlace(place("1/2")), 9000);
    assert_eq!(elsewhere, Err(Refusal::OtherPitchThanHeard(pitch(D4))));
    let off = player.order(StudentOrder::AnswerPlace(place("5/3")), 9001);
    assert_eq!(off, Err(Refusal::NoSuchPlace(place("5/3"))));
    assert!(player.view().call.unwrap().place_wanted.is_some());

    player
        .order(StudentOrder::AnswerPlace(place("3/7")), 9500)
        .unwrap();
    let [given] = player.answers()[..] else {
        panic!("one answer");
    };
    assert_eq!(given.answer, Answer::Place(place("3/7")));
    assert_eq!(given.source, Source::Instrument);
    assert_eq!(given.response, Some(Duration::from_millis(4500 - START_MS)));
    assert_eq!(given.uncertainty, Duration::from_millis(10) + ONSET_OFF);
    assert_eq!(player.view().call.unwrap().place_wanted, None);
    let again = player.order(StudentOrder::AnswerPlace(place("3/7")), 9600);
    assert_eq!(again, Err(Refusal::NothingHeard));
}

#[test]
fn another_row_asks_anew_and_an_answer_on_the_screen_asks_no_more() {
    let mut player = Player::in_call(exact());
    for (midi, at) in [(D4, 4000), (D4, 4500), (E4, 5000), (E4, 5500)] {
        player.play(midi, at);
    }
    let wanted = player.view().call.unwrap().place_wanted.unwrap();
    assert_eq!(wanted.0.midi(), E4);
    let screen = StudentOrder::Answer(Answer::Place(place("1/4")));
    player.order(screen, 6000).unwrap();
    assert_eq!(player.view().call.unwrap().place_wanted, None);
    assert_eq!(player.answers()[0].source, Source::Screen);
}

#[test]
fn a_note_with_one_place_needs_no_asking_and_one_with_none_cannot_answer() {
    let mut player = Player::in_call(exact());
    player.play(D3, 4000);
    player.play(D3, 4500);
    let [given] = player.answers()[..] else {
        panic!("one answer");
    };
    assert_eq!(given.answer, Answer::Place(place("4/0")));
    let mut player = Player::in_call(exact());
    player.play(D3 - 2, 4000);
    player.play(D3 - 2, 4500);
    player.until(6000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.view().last_refusal, Some(Refusal::HeardOffNeck));
}

#[test]
fn a_note_off_the_neck_counts_only_where_any_octave_does() {
    let heard = |marking| {
        let mut player = Player::in_call(Rules { marking, ..rules() });
        // A low voice at D2, and a string far too low; then the note.
        for (midi, at) in [(D3 - 12, 4000), (D3 - 12, 4500), (D3 - 2, 5000)] {
            player.play(midi, at);
        }
        player.until(7000);
        (player.tries().len(), player.answers().len())
    };
    assert_eq!(heard(Marking::SamePitch), (0, 0));
    assert_eq!(heard(Marking::AnyOctave), (3, 1));
}

#[test]
fn a_key_does_not_answer_with_a_note_off_the_neck() {
    let mut player = Player::in_call(rules());
    player.play(D3 - 2, 4000);
    player.order(StudentOrder::AnswerHeard, 4500).unwrap();
    player.until(6000);
    assert_eq!(player.answers(), []);
    assert_eq!(player.view().last_refusal, Some(Refusal::HeardOffNeck));
}

#[test]
fn an_octave_course_is_right_whichever_of_its_strings_was_heard() {
    let neck = Neck::ready("guitar-twelve-string").unwrap();
    let low = neck.pitch_at(place("6/3")).unwrap();
    let high = Pitch::new(low.midi() + 12).unwrap();
    assert_eq!(heard_as(&neck, low, high), low);
    assert_eq!(heard_as(&neck, low, low), low);
    // Not the other way about, and nothing of the kind on single strings.
    assert_eq!(heard_as(&neck, high, low), low);
    let single = Neck::ready("guitar").unwrap();
    assert_eq!(heard_as(&single, low, high), high);
    assert!(places_sounding(&neck, high).contains(&place("6/3")));
    assert_eq!(places_sounding(&single, low), single.places(low));

    let mut setup = LessonSetup::new("Village hall", &neck);
    setup.rules.reach = "whole".parse().unwrap();
    let (mut room, ids) = Room::with(setup, &["Mia", "Ivo"]);
    room.order(HostOrder::CallAt(Answer::Pitch(low)));
    let call = room.call().id;
    let notice = |source| {
        FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: Answer::Pitch(high),
            source,
            response: None,
            uncertainty: Duration::ZERO,
        })
    };
    room.say(ids[0], notice(Source::Instrument)).unwrap();
    room.say(ids[1], notice(Source::Screen)).unwrap();
    let marks = |id| room.student(id).answers[0].clone();
    assert_eq!(marks(ids[0]).mark, Mark::Right);
    assert_eq!(marks(ids[0]).answer, Answer::Pitch(high), "as it was heard");
    assert_ne!(marks(ids[1]).mark, Mark::Right, "the screen was exact");
}

#[test]
fn a_friend_calls_the_note_that_was_heard() {
    let friends = Rules {
        mode: Mode::Friends,
        reach: "two-open".parse().unwrap(),
        ..rules()
    };
    let mut player = Player::new(friends, HandsFree::default());
    let turn = |yours| ToStudent::Turn {
        caller: "Mia".into(),
        yours,
    };
    player.told(turn(false));
    player.play(D4, 1000);
    assert_eq!(player.view().offered, None);
    let early = player.order(StudentOrder::CallHeard, 1500);
    assert_eq!(early, Err(Refusal::NotYourTurn));
    player.told(turn(true));
    assert_eq!(player.view().offered, None, "heard before the turn");
    let nothing = player.order(StudentOrder::CallHeard, 1600);
    assert_eq!(nothing, Err(Refusal::NothingHeard));

    // Outside the reach: offered, and refused in words.
    player.play(D3, 2000);
    assert_eq!(player.view().offered, Some(pitch(D3)));
    let outside = player.order(StudentOrder::CallHeard, 2300);
    assert_eq!(outside, Err(Refusal::OutsideReach));

    player.play(D4, 3000);
    assert_eq!(player.view().offered, Some(pitch(D4)));
    player.order(StudentOrder::CallHeard, 4000).unwrap();
    let at = Some(Answer::Pitch(pitch(D4)));
    assert_eq!(player.said, [FromStudent::Pick { at }]);
    assert_eq!(player.tries(), [], "looking for a note to call is no try");
}

#[test]
fn the_host_keeps_where_tries_and_answers_came_from() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    let mia = ids[0];
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(D4))));
    let call = room.call().id;
    let at = Answer::Pitch(pitch(D4));
    for source in [Source::Screen, Source::Instrument, Source::Instrument] {
        room.say(mia, FromStudent::Try { call, at, source })
            .unwrap();
    }
    assert_eq!(room.student(mia).tries, 3);
    assert_eq!(room.student(mia).tries_played, 2);
    let notice = AnswerNotice {
        call,
        serial: 1,
        answer: at,
        source: Source::Instrument,
        response: Some(Duration::from_secs(2)),
        uncertainty: ONSET_OFF,
    };
    room.say(mia, FromStudent::Answer(notice)).unwrap();
    let student = room.student(mia);
    assert_eq!(student.answers[0].source, Source::Instrument);
    assert_eq!((student.tally.found, student.tally.played), (1, 1));
    use fifthpeg_lesson::LessonEvent as Event;
    let sources: Vec<_> = room
        .events
        .iter()
        .filter_map(|e| match e {
            Event::Tried { source, .. } | Event::Answered { source, .. } => Some(*source),
            _ => None,
        })
        .collect();
    use Source::{Instrument, Screen};
    assert_eq!(sources, [Screen, Instrument, Instrument, Instrument]);
}
