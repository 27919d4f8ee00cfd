//! Random lessons: what may come in, in any order.

use std::time::Duration;

use fifthpeg_core::{PitchClass, Position};
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::learning::{Evidence, Outcome, StudentKey, When};
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Mode, Sounding, Source, StudentId, Voice,
};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_vocab::Setting;
use proptest::prelude::*;

use super::{friends, pitch, setup};

pub const MAX_STUDENTS: u32 = 4;
pub const MAX_ANSWERS: u32 = 5;

/// Stands for the call that is open, or was last, when the message is sent.
const THIS_CALL: CallId = CallId(u32::MAX);

/// The message with [`THIS_CALL`] made the number it stands for.
pub fn aimed(mut message: FromStudent, last: CallId) -> FromStudent {
    match &mut message {
        FromStudent::Answer(AnswerNotice { call, .. })
        | FromStudent::Sounded { call }
        | FromStudent::Hearing { call }
        | FromStudent::Try { call, .. }
        | FromStudent::Sung { call, .. }
        | FromStudent::CallerHearAgain { call }
        | FromStudent::CallerReveal { call }
        | FromStudent::CallerClose { call }
            if *call == THIS_CALL =>
        {
            *call = last;
        }
        _ => {}
    }
    message
}

/// One thing that happens to a lesson.
#[derive(Debug, Clone)]
pub enum Input {
    Join(String, Option<u128>),
    Lose(StudentId),
    Say(StudentId, FromStudent),
    Host(HostOrder),
    TimeOut,
    /// What a book knows.
    Learning(Vec<Evidence>, When),
    /// Who that is in the book.
    Key(StudentId, StudentKey),
}

fn answer() -> impl Strategy<Value = Answer> {
    prop_oneof![
        4 => (0_u8..7, 0_u8..25).prop_map(|(s, f)| Answer::Place(Position::new(s, f))),
        2 => (40_u8..90).prop_map(|m| Answer::Pitch(pitch(m))),
        1 => (0_u8..12).prop_map(|c| Answer::Class(PitchClass::new(c).expect("a class"))),
    ]
}

fn source() -> impl Strategy<Value = Source> {
    prop::sample::select(vec![Source::Screen, Source::Instrument])
}

fn frequency_hz() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 60.0..1200.0,
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -1.0, 0.0, 19.9, 8000.1]),
    ]
}

fn said() -> impl Strategy<Value = FromStudent> {
    let call = || prop_oneof![4 => Just(THIS_CALL), 1 => (0_u32..5).prop_map(CallId)];
    let time = prop_oneof![
        Just(None),
        (0_u64..10_000_000).prop_map(|us| Some(Duration::from_micros(us))),
        Just(Some(Duration::MAX)),
    ];
    prop_oneof![
        1 => call().prop_map(|call| FromStudent::Sounded { call }),
        2 => call().prop_map(|call| FromStudent::Hearing { call }),
        2 => (call(), answer(), source())
            .prop_map(|(call, at, source)| FromStudent::Try { call, at, source }),
        2 => (call(), frequency_hz()).prop_map(|(call, frequency_hz)| FromStudent::Sung {
            call, frequency_hz, spread_cents: 20.0,
        }),
        8 => (call(), 0_u32..4, answer(), source(), time).prop_map(|(call, serial, answer, source, response)| {
            FromStudent::Answer(AnswerNotice {
                call, serial, answer, source, response, uncertainty: Duration::from_millis(20),
            })
        }),
        3 => prop::option::of(answer()).prop_map(|at| FromStudent::Pick { at }),
        1 => call().prop_map(|call| FromStudent::CallerHearAgain { call }),
        1 => call().prop_map(|call| FromStudent::CallerReveal { call }),
        1 => call().prop_map(|call| FromStudent::CallerClose { call }),
        1 => Just(FromStudent::Leave),
    ]
}

fn order() -> impl Strategy<Value = HostOrder> {
    let reach = prop::sample::select(vec!["two-open", "open", "octave", "whole", "strings=9"]);
    prop_oneof![
        6 => Just(HostOrder::CallRandom),
        2 => answer().prop_map(HostOrder::CallAt),
        1 => Just(HostOrder::HearAgain),
        2 => Just(HostOrder::Reveal),
        2 => Just(HostOrder::Close),
        1 => Just(HostOrder::PassTurn),
        1 => reach.prop_map(|r| HostOrder::Set(Setting::Reach(r.parse().expect("a reach")))),
        1 => prop::sample::select(vec![
            HostOrder::Set(Setting::Marking(Marking::SamePitch)),
            HostOrder::Set(Setting::Marking(Marking::ExactPlace)),
            HostOrder::Set(Setting::Marking(Marking::AnyOctave)),
            HostOrder::Set(Setting::Sounding(Sounding::HostSpeakers)),
            HostOrder::Set(Setting::Sounding(Sounding::OnAsking)),
            HostOrder::Set(Setting::Telling(Telling::Verdict)),
            HostOrder::Set(Setting::Telling(Telling::Hint)),
            HostOrder::Set(Setting::Voice(Voice::Guitar)),
            HostOrder::Set(Setting::SingFirst(true)),
            HostOrder::Set(Setting::SingFirst(false)),
            HostOrder::Set(Setting::Picking(Picking::Teaching)),
            HostOrder::Set(Setting::Picking(Picking::Teaching)),
            HostOrder::Set(Setting::Picking(Picking::Random)),
        ]),
        1 => (0_u32..8).prop_map(|n| HostOrder::Remove(StudentId(n))),
        1 => (
            0_u32..8,
            prop::sample::select(vec!["Mia", "mia 2", "Ole", "Sol"]),
            prop::option::of(1000_u128..1004),
        )
            .prop_map(|(n, name, person)| HostOrder::KnownAs {
                student: StudentId(n),
                name: name.to_owned(),
                person: person.map(StudentKey),
            }),
    ]
}

/// Records of four people the book knows, from the weeks before the lesson.
pub fn learning() -> impl Strategy<Value = (Vec<Evidence>, When)> {
    let began = 1_764_000_000_i64;
    let record = (0_u128..4, 50_u8..75, 2_u16..30, 0_u8..4, 0_i64..3_000_000).prop_map(
        move |(student, midi, reach_size, outcome, ago)| Evidence {
            student: StudentKey(1000 + student),
            pitch: pitch(midi),
            reach_size,
            outcome: [
                Outcome::FoundFirst,
                Outcome::FoundLater,
                Outcome::NotFound,
                Outcome::Silent,
            ][usize::from(outcome)],
            hearings: ago as u32 % 5,
            tries: ago as u32 % 12,
            response: None,
            miss: None,
            when: When(began - ago),
        },
    );
    prop::collection::vec(record, 0..40).prop_map(move |records| (records, When(began)))
}

fn input() -> impl Strategy<Value = Input> {
    // Mostly the two who are there from the start.
    let id = || prop_oneof![4 => 1_u32..3, 1 => 0_u32..8].prop_map(StudentId);
    let name = prop::sample::select(vec!["Mia", "mia", "Ole", "", "\u{1b}[2J"]);
    prop_oneof![
        3 => (name, prop::option::weighted(0.4, 0_u128..12))
            .prop_map(|(n, k)| Input::Join(n.to_owned(), k)),
        1 => id().prop_map(Input::Lose),
        20 => (id(), said()).prop_map(|(i, s)| Input::Say(i, s)),
        7 => order().prop_map(Input::Host),
        1 => Just(Input::TimeOut),
        1 => learning().prop_map(|(records, began)| Input::Learning(records, began)),
        1 => (id(), 1000_u128..1004).prop_map(|(i, k)| Input::Key(i, StudentKey(k))),
    ]
}

pub fn script() -> impl Strategy<Value = Vec<(u64, Input)>> {
    // Half of the steps come at once, others within 20 s; an end may come last.
    let pause = prop_oneof![Just(0_u64), 0_u64..20_000];
    (
        prop::collection::vec((pause, input()), 1..120),
        prop::bool::ANY,
    )
        .prop_map(|(mut steps, ends)| {
            steps.insert(0, (0, Input::Join("Ida".to_owned(), None)));
            steps.insert(1, (0, Input::Join("Sol".to_owned(), None)));
            if ends {
                steps.push((0, Input::Host(HostOrder::End)));
            }
            steps
        })
}

pub fn lesson_setup(mode: Mode) -> LessonSetup {
    let mut setup = match mode {
        Mode::Class => setup(),
        Mode::Friends => friends(),
    };
    setup.rules.reach = "octave".parse().expect("a reach");
    setup.max_students = MAX_STUDENTS;
    setup.max_answers = MAX_ANSWERS;
    setup.rules.sing_first = true;
    setup
}
