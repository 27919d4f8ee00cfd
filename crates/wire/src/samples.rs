//! One frame of each kind, with what it can hold: for all tests of this crate.
//! A test holds them against the protocol page, so that none is left out.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, ready_necks};
use fifthpeg_vocab::*;

use crate::*;

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
    marks.push(missed(Some(MissKind::Far), Some(Side::Low)));
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
        Refusal::Full(50),
        Refusal::BadName(50),
        Refusal::UnknownSeat,
        Refusal::NoStudent,
        Refusal::NobodyToCall,
        Refusal::Ended,
        Refusal::FoundAlready,
        Refusal::TooLate,
        Refusal::Reach("fewer than two notes".into()),
        Refusal::LongOver,
        Refusal::CallLost,
        Refusal::SaidTooMuch,
        Refusal::TooManyWait(50),
        Refusal::TakenOut,
        Refusal::NobodyKnown("fewer than two notes".into()),
        Refusal::BothHere("fewer than two notes".into()),
        Refusal::NoSpeakers,
        Refusal::Setup("fewer than two notes".into()),
        Refusal::NothingHeard,
        Refusal::HeardAnswered,
        Refusal::HeardWithdrawn,
        Refusal::OtherPitchThanHeard(pitch(61)),
        Refusal::HeardOffNeck,
        Refusal::NotListening,
        Refusal::NotConnected,
        Refusal::HallsFull(8),
    ]
}

pub fn rules(neck: &Neck) -> Rules {
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
        show_found: true,
        taps_only: true,
        hall_names: false,
    }
}

fn rules_with(change: impl FnOnce(&mut Rules)) -> ToStudent {
    let mut changed = rules(&Neck::ready("banjo-open-g").unwrap());
    change(&mut changed);
    ToStudent::Rules(Box::new(changed))
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
        key: SeatKey(u128::MAX - 5),
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
                Progress::NoSound,
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
    for (n, mode) in Mode::ALL.iter().enumerate() {
        all.push(rules_with(|rules| {
            rules.mode = mode.value;
            rules.neck.capo = (n == 0).then_some(fifthpeg_core::Capo {
                fret: 2,
                short: Some(7),
            });
        }));
    }
    for marking in Marking::ALL {
        all.push(rules_with(|rules| rules.marking = marking.value));
    }
    for telling in Telling::ALL {
        all.push(rules_with(|rules| rules.telling = telling.value));
    }
    for sounding in Sounding::ALL {
        all.push(rules_with(|rules| rules.sounding = sounding.value));
    }
    for voice in Voice::ALL {
        all.push(rules_with(|rules| rules.voice = voice.value));
    }
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
        FromStudent::NotSounded { call },
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

/// Everything a student says.
pub fn client_frames() -> Vec<ClientFrame> {
    let mut all = vec![
        ClientFrame::join(
            "Ada",
            None,
            SeatKey(0x0102_0304_0506_0708_090a_0b0c_0d0e_0f10),
        ),
        ClientFrame::join("Zoë", Some(SeatKey(u128::MAX)), SeatKey(0)),
        ClientFrame::ClockAsk {
            t1: Moment::from_micros(u64::MAX),
        },
        ClientFrame::KeyAnswer { public: None },
        ClientFrame::KeyAnswer {
            public: Some(core::array::from_fn(|n| n as u8)),
        },
    ];
    all.extend(from_students().into_iter().map(ClientFrame::Lesson));
    all.push(ClientFrame::Watch);
    all
}

/// Everything a host says.
pub fn host_frames() -> Vec<HostFrame> {
    let [t1, t2, t3] = [1, u64::MAX, 0].map(Moment::from_micros);
    let mut all = vec![
        HostFrame::ClockAnswer { t1, t2, t3 },
        HostFrame::KeyOffered(KeyOffer {
            class: "Tuesday".into(),
            name: "Mia".into(),
            host: [7; 32],
        }),
        HostFrame::KeyKept,
    ];
    all.extend(to_students().into_iter().map(HostFrame::Lesson));
    all.push(HostFrame::Hall(Box::new(Hall {
        rules: rules(&Neck::ready("banjo-open-g").unwrap()),
        here: 2,
        call: Some(HallCall {
            number: 7,
            open: false,
            found: 1,
            of: 2,
            note: Pitch::new(62),
            places: vec![Position::new(1, 0), Position::new(5, 12)],
        }),
        names: vec![
            ("Ada".into(), Progress::Found),
            ("Zoë".into(), Progress::Searching),
        ],
    })));
    all
}

/// Everything a student says at the lock.
pub fn lock_asks() -> Vec<LockAsk> {
    let [proof, element, public] = [[3; 32], [2; 32], [9; 32]];
    vec![
        LockAsk::Passphrase { element },
        LockAsk::Proof { proof },
        LockAsk::Seat { student: 1, proof },
        LockAsk::ClassKey {
            public,
            r: [1; 32],
            s: [255; 32],
        },
        LockAsk::Work { shares: vec![] },
        LockAsk::Work {
            shares: vec![7, u64::MAX],
        },
    ]
}

/// Everything a host says at the lock.
pub fn lock_replies() -> Vec<LockReply> {
    vec![
        LockReply::Lesson {
            name: "Hall".into(),
        },
        LockReply::Element { element: [2; 32] },
        LockReply::Open { proof: [1; 32] },
        LockReply::Wrong,
        LockReply::Wait { seconds: 20 },
        LockReply::NoSeat,
        LockReply::KeyOpen {
            r: [1; 32],
            s: [2; 32],
        },
        LockReply::NoKey,
        LockReply::Line {
            zero_bits: 18,
            seconds: u32::MAX,
        },
    ]
}

/// Every answer to a hello.
pub fn hello_replies() -> Vec<HelloReply> {
    let program = || "0.1.0".to_owned();
    let outdated = |update| HelloReply::Outdated {
        update,
        oldest: 3,
        newest: 4,
        program: program(),
    };
    vec![
        HelloReply::Ready {
            version: 6,
            program: program(),
        },
        outdated(UpdateSide::Host),
        outdated(UpdateSide::Student),
        HelloReply::Locked { program: program() },
    ]
}
