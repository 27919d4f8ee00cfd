//! Everything the lesson says arrives as it was said, and nothing impossible
//! gets through.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, ReachSpec, ReachStep, ready_necks};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::marking::{Mark, Marking, Miss, MissKind, Side, Telling};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, CallNotice, FromStudent, HeldMark, LastCall, Mode, PlaceKey,
    Progress, Refusal, Rules, Sounding, Source, StudentId, ToStudent, Tone, Voice, Welcome,
};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::tally::Tally;
use fifthpeg_wire as wire;
use fifthpeg_wire::{ClientFrame, HostFrame};
use proptest::prelude::*;

use super::*;
use crate::channel::Frame;

fn pitch(midi: u8) -> Pitch {
    Pitch::new(midi).unwrap()
}

fn answers() -> Vec<Answer> {
    vec![
        Answer::Place(Position { string: 5, fret: 7 }),
        Answer::Pitch(pitch(127)),
        Answer::Class(pitch(61).class()),
    ]
}

fn marks() -> Vec<Mark> {
    let kinds = [
        MissKind::Octave { octaves: 2 },
        MissKind::Neighbour,
        MissKind::WholeTone,
        MissKind::OtherPlace,
        MissKind::OtherPlaceOctave { octaves: 1 },
        MissKind::Interval { semitones: 9 },
        MissKind::Further,
    ];
    let missed = |kind, side| Mark::Missed(Miss { kind, side });
    let mut marks = vec![Mark::Right, missed(None, None)];
    marks.extend(kinds.map(|k| missed(Some(k), Some(Side::Low))));
    marks.push(missed(Some(MissKind::Neighbour), Some(Side::High)));
    marks
}

fn refusals() -> Vec<Refusal> {
    vec![
        Refusal::NoCall,
        Refusal::OldCall,
        Refusal::CallOpen,
        Refusal::CallerAnswers,
        Refusal::NotYourTurn,
        Refusal::HostOnly,
        Refusal::NoSuchPlace(Position { string: 5, fret: 3 }),
        Refusal::OutsideReach,
        Refusal::PlaceNeeded,
        Refusal::OctaveNeeded,
        Refusal::TooManyAnswers(50),
        Refusal::Full(100),
        Refusal::BadName(32),
        Refusal::UnknownPlace,
        Refusal::NoStudent,
        Refusal::NobodyToCall,
        Refusal::Reach("fewer than two notes".into()),
        Refusal::Ended,
        Refusal::FoundAlready,
        Refusal::TooLate,
        Refusal::LongOver,
        Refusal::CallLost,
        Refusal::SaidTooMuch,
    ]
}

fn rules(neck: &Neck) -> Rules {
    Rules {
        lesson: "Village hall, Tuesday".into(),
        mode: Mode::Friends,
        neck: neck.description().clone(),
        reach: "whole".parse().unwrap(),
        marking: Marking::ExactPlace,
        telling: Telling::Interval,
        sounding: Sounding::OnAsking,
        voice: Voice::Guitar,
        a4_hz: 442.5,
        flats: true,
        sing_first: true,
    }
}

fn tally() -> Tally {
    Tally {
        calls: 5,
        found: 4,
        found_first: 3,
        hearings: 2,
        tries: 1,
        played: 3,
        sung: 2,
        median: Some(Duration::from_micros(2_345_678)),
    }
}

fn welcome(rules: Rules) -> ToStudent {
    ToStudent::Welcome(Box::new(Welcome {
        student: StudentId(3),
        key: PlaceKey(u128::MAX - 5),
        name: "Zoë".into(),
        rules,
        tally: tally(),
        last_call: Some(LastCall {
            call: CallId(8),
            start: Moment::from_micros(987),
            over: true,
        }),
    }))
}

fn to_students() -> Vec<ToStudent> {
    let call = CallId(9);
    let start = Moment::from_micros(123_456_789);
    let banjo = Neck::ready("banjo-open-g").unwrap();
    let mut all = vec![
        welcome(rules(&banjo)),
        ToStudent::Call(CallNotice {
            call,
            tone: Some(Tone {
                frequency_hz: 391.995,
                voice: Voice::Plain,
                pluck_seed: 77,
            }),
            start,
            on_asking: true,
            you_call: false,
            caller: Some("Jörg".into()),
            answers_held: 2,
            found: true,
            target: None,
            held: vec![HeldMark {
                serial: 2,
                answer: Answer::Pitch(pitch(66)),
                mark: Mark::Right,
            }],
        }),
        ToStudent::Call(CallNotice {
            call,
            tone: None,
            start,
            on_asking: false,
            you_call: true,
            caller: Some("Ada".into()),
            answers_held: 0,
            found: false,
            target: Some((pitch(66), Some(Position { string: 1, fret: 4 }))),
            held: Vec::new(),
        }),
        ToStudent::HearAgain { call, start },
        ToStudent::Reveal {
            call,
            pitch: pitch(66),
            places: banjo.places(pitch(66)),
            marks: marks().into_iter().zip(1..).map(|(m, n)| (n, m)).collect(),
        },
        ToStudent::Closed {
            call,
            tally: tally(),
        },
        ToStudent::Turn {
            caller: "Ada".into(),
            yours: true,
        },
        ToStudent::Progress {
            call,
            students: [
                Progress::Silent,
                Progress::Searching,
                Progress::Missed,
                Progress::Found,
                Progress::Away,
            ]
            .map(|p| (format!("{p:?}"), p))
            .to_vec(),
        },
        ToStudent::Ended {
            tally: tally(),
            removed: false,
        },
        ToStudent::Ended {
            tally: tally(),
            removed: true,
        },
        ToStudent::HostSounds { call, start },
        ToStudent::Sung {
            call,
            sung: SungMark {
                octaves: -2,
                cents: -11.5,
                exact: true,
            },
        },
        ToStudent::FriendLeft { name: "Ivo".into() },
        ToStudent::AnswerRefused {
            call,
            serial: 3,
            why: Refusal::TooLate,
        },
        ToStudent::KnownAs {
            name: "Mia".into(),
            tally: Tally::default(),
        },
    ];
    for ready in ready_necks() {
        let neck = Neck::ready(ready.name).unwrap();
        all.push(ToStudent::Rules(Box::new(rules(&neck))));
    }
    all.extend(refusals().into_iter().map(ToStudent::Refused));
    all.extend(marks().into_iter().map(|mark| ToStudent::Marked {
        call,
        serial: 4,
        mark,
        tally: Tally::default(),
    }));
    all
}

fn from_students() -> Vec<FromStudent> {
    let call = CallId(9);
    let mut all = vec![
        FromStudent::Sounded { call },
        FromStudent::Hearing { call },
        FromStudent::Pick { at: None },
        FromStudent::CallerHearAgain { call },
        FromStudent::CallerReveal { call },
        FromStudent::CallerClose { call },
        FromStudent::Leave,
        FromStudent::Sung {
            call,
            frequency_hz: 146.83,
            spread_cents: 22.5,
        },
    ];
    for answer in answers() {
        for source in [Source::Screen, Source::Instrument] {
            let at = answer;
            all.push(FromStudent::Try { call, at, source });
        }
        all.push(FromStudent::Pick { at: Some(answer) });
        all.push(FromStudent::Answer(AnswerNotice {
            call,
            serial: 3,
            answer,
            source: Source::Instrument,
            response: Some(Duration::from_micros(1_234_567)),
            uncertainty: Duration::from_micros(83_000),
        }));
    }
    all
}

#[test]
fn all_the_host_says_arrives_over_real_bytes() {
    for message in to_students() {
        let bytes = host_to_wire(&message).encode().unwrap();
        let frame = HostFrame::decode(&bytes).unwrap();
        assert_eq!(host_from_wire(frame).unwrap(), FromHost::Lesson(message));
    }
    let [t1, t2, t3] = [1, 2, 3].map(Moment::from_micros);
    let answer = host_from_wire(clock_answer_to_wire(t1, t2, t3)).unwrap();
    assert_eq!(answer, FromHost::ClockAnswer { t1, t2, t3 });
}

#[test]
fn all_a_student_says_arrives_over_real_bytes() {
    for message in from_students() {
        let bytes = client_to_wire(&message).encode().unwrap();
        let frame = ClientFrame::decode(&bytes).unwrap();
        assert_eq!(
            client_from_wire(frame).unwrap(),
            FromClient::Lesson(message)
        );
    }
    let key = Some(PlaceKey(12));
    let new_key = PlaceKey(13);
    let join = client_from_wire(join_to_wire("Ada", key, new_key)).unwrap();
    assert_eq!(
        join,
        FromClient::Join {
            name: "Ada".into(),
            key,
            new_key
        }
    );
    let t1 = Moment::from_micros(5);
    assert_eq!(
        client_from_wire(clock_ask_to_wire(t1)).unwrap(),
        FromClient::ClockAsk { t1 }
    );
}

#[test]
fn every_ready_reach_arrives() {
    let banjo = Neck::ready("banjo-open-g").unwrap();
    for step in ReachStep::all() {
        let spec = ReachSpec {
            step: Some(step),
            ..ReachSpec::default()
        };
        let rules = Rules {
            reach: spec,
            ..rules(&banjo)
        };
        let message = ToStudent::Rules(Box::new(rules));
        let back = host_from_wire(host_to_wire(&message)).unwrap();
        assert_eq!(back, FromHost::Lesson(message));
    }
}

#[test]
fn what_the_wire_has_no_word_for_goes_as_its_sentence() {
    let message = ToStudent::Refused(Refusal::NotConnected);
    let FromHost::Lesson(ToStudent::Refused(back)) =
        host_from_wire(host_to_wire(&message)).unwrap()
    else {
        panic!("a refusal");
    };
    assert_eq!(back.to_string(), Refusal::NotConnected.to_string());
    // A long one is cut between letters, and can be sent.
    let long = ToStudent::Refused(Refusal::Reach("é".repeat(wire::MAX_TEXT_BYTES)));
    assert!(host_to_wire(&long).encode().is_ok());
}

/// Whatever neck a host can build, its students get.
#[test]
fn the_longest_name_of_a_neck_arrives() {
    let banjo = Neck::ready("banjo-open-g").unwrap();
    let longest = ["é".repeat(60), "𝄞".repeat(60), "x".repeat(60)].map(|long| {
        // The longest part of it that makes a neck.
        (1..=60)
            .rev()
            .map(|n| long.chars().take(n).collect::<String>())
            .find_map(|name| {
                let mut description = banjo.description().clone();
                description.name = name;
                Neck::build(description).ok()
            })
            .unwrap()
    });
    assert_eq!(longest[0].name().len(), 120);
    for neck in longest {
        let message = ToStudent::Rules(Box::new(rules(&neck)));
        let bytes = host_to_wire(&message).encode().unwrap();
        let frame = HostFrame::decode(&bytes).unwrap();
        assert_eq!(host_from_wire(frame).unwrap(), FromHost::Lesson(message));
    }
}

#[test]
fn what_cannot_be_does_not_get_through() {
    let answer = |answer| {
        client_from_wire(ClientFrame::Try {
            call: 1,
            at: answer,
            source: wire::Source::Screen,
        })
    };
    let place = wire::Place { string: 0, fret: 1 };
    assert!(answer(wire::Answer::Pitch { midi: 128 }).is_err());
    assert!(answer(wire::Answer::Class { number: 12 }).is_err());
    assert!(answer(wire::Answer::Place { place }).is_err());

    let sung = |frequency_hz, spread_cents| {
        client_from_wire(ClientFrame::Sung {
            call: 1,
            frequency_hz,
            spread_cents,
        })
    };
    assert!(sung(20.0, 0.0).is_ok() && sung(8000.0, 1200.0).is_ok());
    for hz in [f64::NAN, f64::INFINITY, -440.0, 0.0, 19.99, 8000.01] {
        let refused = sung(hz, 10.0).unwrap_err();
        assert!(matches!(refused, LinkError::Impossible(_)), "{refused}");
    }
    for cents in [f32::NAN, f32::NEG_INFINITY, -0.1, 1200.5] {
        assert!(sung(440.0, cents).is_err(), "{cents}");
    }
    let told = |cents| {
        host_from_wire(HostFrame::Sung {
            call: 1,
            sung: wire::SungMark {
                octaves: i8::MIN,
                cents,
                exact: true,
            },
        })
    };
    assert!(told(-600.0).is_ok() && told(600.0).is_ok());
    for cents in [f32::NAN, 600.5, f32::NEG_INFINITY] {
        assert!(told(cents).is_err(), "{cents}");
    }
    let left = HostFrame::FriendLeft {
        name: "\u{1b}[2J".into(),
    };
    assert!(host_from_wire(left).is_err());

    let banjo = Neck::ready("banjo-open-g").unwrap();
    let spoilt = |spoil: fn(&mut wire::Rules)| {
        let HostFrame::Rules { mut rules } =
            host_to_wire(&ToStudent::Rules(Box::new(rules(&banjo))))
        else {
            panic!("rules");
        };
        spoil(&mut rules);
        host_from_wire(HostFrame::Rules { rules })
    };
    assert!(spoilt(|_| {}).is_ok());
    assert!(spoilt(|r| r.lesson = "\u{1b}[2J".into()).is_err());
    assert!(spoilt(|r| r.lesson = "\u{202e}desrever".into()).is_err());
    assert!(spoilt(|r| r.lesson = "hid\u{200b}den".into()).is_err());
    assert!(spoilt(|r| r.a4_hz = f64::NAN).is_err());
    assert!(spoilt(|r| r.a4_hz = 20_000.0).is_err());
    assert!(spoilt(|r| r.reach = "everywhere at once".into()).is_err());
    assert!(spoilt(|r| r.neck.strings.clear()).is_err());
    assert!(spoilt(|r| r.neck.strings[0].open_midi = 200).is_err());
    assert!(spoilt(|r| r.neck.scale_length_mm = f64::NEG_INFINITY).is_err());

    for frequency_hz in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1e9] {
        let notice = wire::CallNotice {
            call: 1,
            tone: Some(wire::Tone {
                frequency_hz,
                voice: wire::Voice::Banjo,
                pluck_seed: 0,
            }),
            start_us: 0,
            on_asking: false,
            you_call: false,
            caller: None,
            answers_held: 0,
            found: false,
            target: None,
            held: Vec::new(),
        };
        assert!(
            host_from_wire(HostFrame::Call { notice }).is_err(),
            "{frequency_hz}"
        );
    }
}

proptest! {
    #[test]
    fn whatever_decodes_converts_or_is_refused(bytes in proptest::collection::vec(any::<u8>(), 4..400), tag in 0u8..18) {
        let mut bytes = bytes;
        bytes[..4].copy_from_slice(&[tag, 0, 0, 0]);
        if let Ok(frame) = ClientFrame::decode(&bytes) {
            let _ = client_from_wire(frame);
        }
        if let Ok(frame) = HostFrame::decode(&bytes) {
            let _ = host_from_wire(frame);
        }
    }
}
