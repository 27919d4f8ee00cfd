//! One text of each kind as it was written once: whatever becomes of the
//! lesson's types, these must read back as what they were.

use core::time::Duration;

use fifthpeg_core::{
    Capo, NeckDescription, NeckString, NoteSet, Pitch, PitchClass, Position, ReachSpec, ReachStep,
    Scale,
};
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::learning::{Confusion, Evidence, Outcome, StudentKey, When};
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Mode, Rules, SeatKey, Sounding, Source, StudentId,
    Voice,
};
use fifthpeg_lesson::{HostOrder, LessonSetup, Picking};
use fifthpeg_vocab::Setting;
use fifthpeg_vocab::pace::Pace;

use super::*;

/// Written by format 1. To add a line is to add what older programs refuse to
/// read; to change one needs another format.
const GOLDEN: &str = include_str!("../../tests/golden/format-1.txt");

fn pitch(midi: u8) -> Pitch {
    Pitch::new(midi).unwrap()
}

fn say(message: FromStudent) -> LessonInput {
    LessonInput::Message {
        student: StudentId(3),
        message,
    }
}

fn inputs() -> Vec<LessonInput> {
    let call = CallId(7);
    let class = Answer::Class(PitchClass::new(10).unwrap());
    let place = Answer::Place(Position::new(5, 7));
    let reach = ReachSpec {
        strings: Some(vec![2, 1]),
        frets: Some((0, 5)),
        pitches: Some((pitch(50), pitch(62))),
        notes: Some(NoteSet {
            root: PitchClass::new(7).unwrap(),
            scale: Scale::HarmonicMinor,
        }),
        step: Some(ReachStep::OctaveAlong),
    };
    let mut inputs = vec![
        LessonInput::Join {
            name: "Žofie \"Z\"".to_owned(),
            key: None,
            new_key: SeatKey(u128::MAX - 1),
        },
        LessonInput::Join {
            name: "Ivo".to_owned(),
            key: Some(SeatKey(5)),
            new_key: SeatKey(6),
        },
        say(FromStudent::Sounded { call }),
        say(FromStudent::Hearing { call }),
        say(FromStudent::Try {
            call,
            at: place,
            source: Source::Instrument,
        }),
        say(FromStudent::Sung {
            call,
            frequency_hz: 220.000_000_000_000_03,
            spread_cents: 0.1,
        }),
        say(FromStudent::Sung {
            call,
            frequency_hz: f64::INFINITY,
            spread_cents: f32::NEG_INFINITY,
        }),
        say(FromStudent::Answer(AnswerNotice {
            call,
            serial: 2,
            answer: class,
            source: Source::Screen,
            response: Some(Duration::MAX),
            uncertainty: Duration::from_nanos(1_500),
        })),
        say(FromStudent::Answer(AnswerNotice {
            call,
            serial: 3,
            answer: Answer::Pitch(pitch(69)),
            source: Source::Instrument,
            response: None,
            uncertainty: Duration::ZERO,
        })),
        say(FromStudent::Pick { at: None }),
        say(FromStudent::Pick { at: Some(place) }),
        say(FromStudent::CallerHearAgain { call }),
        say(FromStudent::CallerReveal { call }),
        say(FromStudent::CallerClose { call }),
        say(FromStudent::Leave),
        say(FromStudent::NotSounded { call }),
        LessonInput::Disconnect {
            student: StudentId(4),
        },
        LessonInput::Timeout,
        LessonInput::Learning {
            began: When(1_764_086_400),
            evidence: vec![
                Evidence {
                    student: StudentKey(u128::MAX),
                    pitch: pitch(62),
                    reach_size: 8,
                    outcome: Outcome::FoundLater,
                    hearings: 1,
                    tries: 4,
                    response: Some(Duration::from_micros(2_500_000)),
                    miss: Some(Confusion::Neighbour),
                    when: When(-1),
                },
                Evidence {
                    student: StudentKey(10),
                    pitch: pitch(50),
                    reach_size: 2,
                    outcome: Outcome::Silent,
                    hearings: 0,
                    tries: 0,
                    response: None,
                    miss: None,
                    when: When(1_763_481_600),
                },
            ],
        },
        LessonInput::StudentKey {
            student: StudentId(3),
            key: StudentKey(10),
        },
    ];
    let orders = [
        HostOrder::CallAt(Answer::Pitch(pitch(57))),
        HostOrder::CallRandom,
        HostOrder::CallPlayed(pitch(57)),
        HostOrder::HearAgain,
        HostOrder::Reveal,
        HostOrder::Close,
        HostOrder::PassTurn,
        HostOrder::Set(Setting::Reach(reach)),
        HostOrder::Set(Setting::Reach(ReachSpec::default())),
        HostOrder::Set(Setting::Marking(Marking::ExactPlace)),
        HostOrder::Set(Setting::Marking(Marking::AnyOctave)),
        HostOrder::Set(Setting::Sounding(Sounding::OnAsking)),
        HostOrder::Set(Setting::Telling(Telling::Verdict)),
        HostOrder::Set(Setting::Voice(Voice::Guitar)),
        HostOrder::Set(Setting::SingFirst(true)),
        HostOrder::Set(Setting::ShowFound(true)),
        HostOrder::Set(Setting::Picking(Picking::Teaching)),
        HostOrder::Remove(StudentId(9)),
        HostOrder::KnownAs {
            student: StudentId(9),
            name: "Mia".to_owned(),
            person: Some(StudentKey(10)),
        },
        HostOrder::End,
        HostOrder::Set(Setting::Pace(None)),
        HostOrder::Set(Setting::Pace(Some(Pace {
            shown_after: Some(Duration::from_secs(40)),
            next_after: Some(Duration::from_millis(7_500)),
            until_help: true,
        }))),
        HostOrder::Set(Setting::TapsOnly(true)),
        HostOrder::Set(Setting::HallNames(true)),
    ];
    inputs.extend(orders.map(LessonInput::Order));
    inputs
}

fn setup() -> LessonSetup {
    LessonSetup {
        rules: Rules {
            lesson: "Village hall".to_owned(),
            mode: Mode::Friends,
            neck: NeckDescription {
                name: "old banjo".to_owned(),
                strings: vec![NeckString {
                    open: pitch(67),
                    first_fret: 5,
                    last_fret: 22,
                    course: vec![0, 12],
                }],
                scale_length_mm: 0.1 + 0.2,
                capo: Some(Capo {
                    fret: 2,
                    short: Some(7),
                }),
            },
            reach: ReachStep::TwoOpen.into(),
            marking: Marking::SamePitch,
            telling: Telling::Interval,
            sounding: Sounding::HostSpeakers,
            voice: Voice::Plain,
            a4_hz: 432.1,
            flats: true,
            sing_first: true,
            show_found: true,
            taps_only: false,
            hall_names: false,
        },
        seed: u64::MAX,
        max_students: 30,
        max_answers: 5,
        lead: Duration::from_millis(250),
        speakers_among_friends: true,
        picking: Picking::Teaching,
        pace: None,
        alone: false,
    }
}

#[test]
fn what_was_written_once_reads_back_and_is_still_written_so() {
    assert_eq!(FORMAT, 1);
    let mut lines = GOLDEN.lines();
    for input in inputs() {
        let line = lines.next().unwrap();
        assert_eq!(read_input(line).unwrap(), input, "{line}");
        assert_eq!(write_input(&input), line);
    }
    let mut setup = setup();
    let line = lines.next().unwrap();
    assert_eq!(read_setup(line).unwrap(), setup);
    assert_eq!(write_setup(&setup), line);
    let neck = lines.next().unwrap();
    assert_eq!(read_neck(neck).unwrap(), setup.rules.neck);
    assert_eq!(write_neck(&setup.rules.neck), neck);
    let rules = lines.next().unwrap();
    assert_eq!(write_rules(&setup.rules), rules);
    assert_eq!(
        read_rules(rules, setup.rules.neck.clone()).unwrap(),
        setup.rules
    );
    // A pace to begin with came later; without one nothing is written of it.
    let line = lines.next().unwrap();
    setup.pace = Some(Pace::alone(Some(Duration::from_secs(4))));
    assert_eq!(read_setup(line).unwrap(), setup);
    assert_eq!(write_setup(&setup), line);
    assert_eq!(lines.next(), None);
}

#[test]
fn what_a_newer_program_wrote_is_refused_not_misread() {
    let newer = [
        r#"{"order":"call-learned"}"#,
        r#"{"order":{"set-marking":"by-mood"}}"#,
        r#"{"message":{"student":3,"message":{"hearing":{"call":7,"ear":"left"}}}}"#,
        r#"{"message":{"student":3,"message":{"pick":{"at":{"pitch":200}}}}}"#,
        r#"{"join":{"name":"Ivo","key":null}}"#,
        "",
    ];
    for text in newer {
        let error = read_input(text).unwrap_err();
        assert!(error.to_string().contains("newer program"), "{error}");
    }
}
