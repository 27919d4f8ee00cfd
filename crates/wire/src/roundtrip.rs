//! Frames survive the way there and back, nothing else is taken, and no bytes
//! whatever do harm.

use fifthpeg_core::neck::{Course, MOST_IN_COURSE, MOST_STRINGS, NeckName, Strings};
use fifthpeg_core::{Neck, Pitch, Position, ReachSpec, ReachStep};
use fifthpeg_vocab::written::{Friends, Held, Marks, Name, Places, Text};
use fifthpeg_vocab::*;
use proptest::prelude::*;

use crate::samples::{client_frames, hello_replies, host_frames, lock_asks, lock_replies, rules};
use crate::*;

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").unwrap()
}

#[test]
fn frames_come_back_the_same() {
    for frame in client_frames() {
        let bytes = encode_client(&frame).unwrap();
        assert_eq!(decode_client(&bytes), Ok(frame));
    }
    for frame in host_frames() {
        let bytes = encode_host(&frame).unwrap();
        assert_eq!(decode_host(&bytes), Ok(frame));
    }
    for ask in lock_asks() {
        let mut bytes = encode_lock_ask(&ask).unwrap();
        assert_eq!(decode_lock_ask(&bytes), Ok(ask));
        bytes.push(0);
        assert_eq!(
            decode_lock_ask(&bytes),
            Err(WireError::Trailing { extra_bytes: 1 })
        );
    }
    for reply in lock_replies() {
        let bytes = encode_lock_reply(&reply).unwrap();
        assert_eq!(decode_lock_reply(&bytes), Ok(reply));
    }
}

#[test]
fn hellos_come_back_the_same_whatever_follows() {
    let hello = Hello::ours("0.1.0");
    let mut bytes = encode_hello(&hello).unwrap();
    assert_eq!(decode_hello(&bytes).as_ref(), Ok(&hello));
    bytes.extend([9; 9]);
    assert_eq!(decode_hello(&bytes), Ok(hello));
    for reply in hello_replies() {
        let mut bytes = encode_hello_reply(&reply).unwrap();
        bytes.extend([9; 9]);
        assert_eq!(decode_hello_reply(&bytes), Ok(reply));
    }
}

fn any_of<T: Clone + core::fmt::Debug + 'static>(all: Vec<T>) -> impl Strategy<Value = T> {
    proptest::sample::select(all)
}

proptest! {
    #[test]
    fn every_number_comes_back_the_same(
        call: u32, serial: u32, response in proptest::option::of(any::<u64>()), uncertainty: u64,
        seed: u32, start: u64, median in proptest::option::of(any::<u64>()), sums: [u32; 7],
        hz in 5.0f64..16_000.0, cents in -600.0f32..600.0, key: u128,
    ) {
        let micros = core::time::Duration::from_micros;
        let answer = ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
            call: CallId(call),
            serial,
            answer: Answer::Place(Position::new(1, 4)),
            source: Source::Screen,
            response: response.map(micros),
            uncertainty: micros(uncertainty),
        }));
        prop_assert_eq!(decode_client(&encode_client(&answer).unwrap()), Ok(answer));
        let join = ClientFrame::join("Ada", Some(SeatKey(key)), SeatKey(!key));
        prop_assert_eq!(decode_client(&encode_client(&join).unwrap()), Ok(join));
        let [calls, found, found_first, hearings, tries, played, sung] = sums;
        let tally = Tally {
            calls, found, found_first, hearings, tries, played, sung, median: median.map(micros),
        };
        let said = [
            ToStudent::Closed { call: CallId(call), tally },
            ToStudent::HearAgain { call: CallId(call), start: Moment::from_micros(start) },
            ToStudent::Sung {
                call: CallId(call),
                sung: SungMark { octaves: i8::MIN, cents, exact: false },
            },
            ToStudent::Call(CallNotice {
                call: CallId(call),
                tone: Some(Tone { frequency_hz: hz, voice: Voice::Plain, pluck_seed: seed }),
                start: Moment::from_micros(start),
                on_asking: true,
                you_call: false,
                caller: None,
                answers_held: serial,
                found: true,
                target: None,
                held: Vec::new(),
            }),
        ];
        for message in said {
            let frame = HostFrame::Lesson(message);
            prop_assert_eq!(decode_host(&encode_host(&frame).unwrap()), Ok(frame));
        }
    }

    #[test]
    fn a_frame_cut_short_or_lengthened_is_refused(
        host in any_of(host_frames()), client in any_of(client_frames()), cut: usize,
    ) {
        let bytes = encode_host(&host).unwrap();
        let cut = cut % bytes.len();
        prop_assert_eq!(decode_host(&bytes[..cut]), Err(WireError::CutShort));
        let mut longer = bytes;
        longer.extend([0, 0]);
        prop_assert_eq!(decode_host(&longer), Err(WireError::Trailing { extra_bytes: 2 }));

        let mut bytes = encode_client(&client).unwrap();
        prop_assert_eq!(decode_client(&bytes[..bytes.len() - 1]), Err(WireError::CutShort));
        bytes.push(7);
        prop_assert_eq!(decode_client(&bytes), Err(WireError::Trailing { extra_bytes: 1 }));
    }

    #[test]
    fn random_bytes_never_panic_and_what_is_taken_is_what_would_be_sent(
        bytes in proptest::collection::vec(any::<u8>(), 0..2048), tag in 0u8..4, inner in 0u8..18,
    ) {
        let _ = decode_hello(&bytes);
        let _ = decode_hello_reply(&bytes);
        let mut framed = vec![tag, 0, 0, 0, inner, 0, 0, 0];
        framed.extend(&bytes);
        for bytes in [bytes, framed] {
            if let Ok(frame) = decode_client(&bytes) {
                prop_assert_eq!(encode_client(&frame).unwrap(), bytes.clone());
            }
            if let Ok(frame) = decode_host(&bytes) {
                prop_assert_eq!(encode_host(&frame).unwrap(), bytes.clone());
            }
            if let Ok(read) = decode_lock_ask(&bytes) {
                prop_assert_eq!(encode_lock_ask(&read).unwrap(), bytes.clone());
            }
            if let Ok(read) = decode_lock_reply(&bytes) {
                prop_assert_eq!(encode_lock_reply(&read).unwrap(), bytes);
            }
        }
    }

    #[test]
    fn a_spoilt_frame_never_panics_and_what_is_taken_can_be_sent(
        frame in any_of(host_frames()), at: usize, flip: u8,
    ) {
        let mut bytes = encode_host(&frame).unwrap();
        let at = at % bytes.len();
        bytes[at] ^= flip;
        if let Ok(frame) = decode_host(&bytes) {
            prop_assert_eq!(encode_host(&frame).unwrap(), bytes);
        }
    }
}

#[test]
fn every_ready_reach_arrives() {
    for step in ReachStep::all() {
        let reach = ReachSpec::from(step);
        let rules = Box::new(Rules {
            reach,
            ..rules(&banjo())
        });
        let frame = HostFrame::Lesson(ToStudent::Rules(rules));
        assert_eq!(decode_host(&encode_host(&frame).unwrap()), Ok(frame));
    }
}

/// Whatever neck a host can build, its students get.
#[test]
fn the_longest_name_of_a_neck_arrives() {
    let longest = ["é".repeat(60), "𝄞".repeat(60), "x".repeat(60)].map(|long| {
        // The longest part of it that makes a neck.
        (1..=60)
            .rev()
            .map(|n| long.chars().take(n).collect::<String>())
            .find_map(|name| {
                let mut description = banjo().description().clone();
                description.name = name;
                Neck::build(description).ok()
            })
            .unwrap()
    });
    assert_eq!(longest[0].name().len(), 120);
    for neck in longest {
        let frame = HostFrame::Lesson(ToStudent::Rules(Box::new(rules(&neck))));
        assert_eq!(decode_host(&encode_host(&frame).unwrap()), Ok(frame));
    }
}

fn reveal(places: usize, marks: usize) -> ToStudent {
    ToStudent::Reveal {
        call: CallId(1),
        pitch: Pitch::A4,
        places: vec![Position::new(1, 0); places],
        marks: vec![(u32::MAX, Mark::Right); marks],
    }
}

fn call(held: usize) -> ToStudent {
    let answer = HeldMark {
        serial: u32::MAX,
        answer: Answer::Place(Position::new(5, 7)),
        mark: Mark::Missed(Miss {
            kind: Some(MissKind::Interval { semitones: 9 }),
            side: Some(Side::High),
        }),
    };
    ToStudent::Call(CallNotice {
        call: CallId(1),
        tone: None,
        start: Moment::default(),
        on_asking: false,
        you_call: false,
        caller: None,
        answers_held: u32::MAX,
        found: false,
        target: None,
        held: vec![answer; held],
    })
}

fn friends(count: usize, name_bytes: usize) -> ToStudent {
    ToStudent::Progress {
        call: CallId(1),
        students: vec![("n".repeat(name_bytes), Progress::Found); count],
    }
}

fn sentence(bytes: usize) -> ToStudent {
    ToStudent::Refused(Refusal::Reach("t".repeat(bytes)))
}

#[test]
fn of_more_than_a_frame_holds_the_first_are_sent() {
    let [places, marks, held] = [Places::LIMIT, Marks::LIMIT, Held::LIMIT].map(|l| l.most);
    let name = Name::LIMIT.most;
    let cases = [
        (reveal(places, marks), reveal(places + 1, marks + 1)),
        (call(held), call(held + 1)),
        (
            friends(Friends::LIMIT.most, name),
            friends(Friends::LIMIT.most + 1, name),
        ),
        (sentence(Text::LIMIT.most), sentence(Text::LIMIT.most + 1)),
    ];
    for (full, over) in cases.map(|(full, over)| (HostFrame::Lesson(full), HostFrame::Lesson(over)))
    {
        let bytes = encode_host(&full).unwrap();
        assert_eq!(encode_host(&over).as_ref(), Ok(&bytes));
        assert_eq!(decode_host(&bytes), Ok(full));
    }
    // A text is cut between letters.
    let long = ToStudent::Refused(Refusal::Reach("aé".repeat(Text::LIMIT.most)));
    let sent = decode_host(&encode_host(&HostFrame::Lesson(long)).unwrap()).unwrap();
    let HostFrame::Lesson(ToStudent::Refused(Refusal::Reach(text))) = sent else {
        panic!("{sent:?}");
    };
    assert!(text.ends_with('a'), "{text}");
    assert_eq!(text.len(), Text::LIMIT.most - 1);
}

#[test]
fn every_limit_holds_when_sending() {
    let spoilt = |spoil: &dyn Fn(&mut Rules)| {
        let mut rules = rules(&banjo());
        spoil(&mut rules);
        encode_host(&HostFrame::Lesson(ToStudent::Rules(Box::new(rules))))
    };
    let over = |limit: Limit| Err(WireError::OverLimit(limit));
    let name = |most: Limit| "n".repeat(most.most + 1);
    assert_eq!(spoilt(&|r| r.lesson = name(Name::LIMIT)), over(Name::LIMIT));
    assert_eq!(
        spoilt(&|r| r.neck.name = name(NeckName::LIMIT)),
        over(NeckName::LIMIT)
    );
    let string = banjo().description().strings[0].clone();
    assert_eq!(
        spoilt(&|r| r.neck.strings = vec![string.clone(); MOST_STRINGS + 1]),
        over(Strings::LIMIT)
    );
    assert_eq!(
        spoilt(&|r| r.neck.strings[0].course = vec![0; MOST_IN_COURSE + 1]),
        over(Course::LIMIT)
    );
    let program = |bytes: usize| encode_hello(&Hello::ours(&"9".repeat(bytes)));
    assert!(program(ProgramBytes::LIMIT.most).is_ok());
    assert_eq!(
        program(ProgramBytes::LIMIT.most + 1),
        over(ProgramBytes::LIMIT)
    );
}

/// A peer that does not check: a reveal that claims so many places.
fn unchecked(places: u64) -> Vec<u8> {
    let mut bytes = encode_host(&HostFrame::Lesson(reveal(0, 0))).unwrap();
    bytes.truncate(4 + 4 + 4 + 1);
    bytes.extend(places.to_le_bytes());
    bytes
}

#[test]
fn every_limit_holds_when_receiving() {
    // A list that claims more than it may, with nothing behind the claim.
    let most = Places::LIMIT.most as u64;
    for places in [most + 1, u64::MAX / 2] {
        assert_eq!(
            decode_host(&unchecked(places)),
            Err(WireError::OverLimit(Places::LIMIT))
        );
    }
    assert_eq!(decode_host(&unchecked(most)), Err(WireError::CutShort));

    // A name that claims more than it may.
    let longest = Name::LIMIT.most;
    let join = encode_client(&ClientFrame::join(&"n".repeat(longest), None, SeatKey(0))).unwrap();
    let mut over = join.clone();
    over[4..12].copy_from_slice(&(longest as u64 + 1).to_le_bytes());
    over.push(0);
    assert_eq!(decode_client(&over), Err(WireError::OverLimit(Name::LIMIT)));
    over[4..12].copy_from_slice(&(u64::MAX).to_le_bytes());
    assert!(decode_client(&over).is_err());

    // Frames that are too long before anything is read.
    let long = vec![0; HostFrameBytes::LIMIT.most + 1];
    assert_eq!(
        decode_host(&long),
        Err(WireError::OverLimit(HostFrameBytes::LIMIT))
    );
    let long = vec![0; ClientFrameBytes::LIMIT.most + 1];
    assert_eq!(
        decode_client(&long),
        Err(WireError::OverLimit(ClientFrameBytes::LIMIT))
    );
    let mut long = encode_hello(&Hello::ours("1")).unwrap();
    long.resize(HelloBytes::LIMIT.most + 1, 0);
    assert_eq!(
        decode_hello(&long),
        Err(WireError::OverLimit(HelloBytes::LIMIT))
    );
}
