//! Frames survive the way there and back, nothing else is taken, and no bytes
//! whatever do harm.

use proptest::prelude::*;

use crate::sample::{Dice, Sample};
use crate::*;

fn hello(seed: u64) -> Hello {
    Hello {
        magic: MAGIC,
        ..Hello::sample(&mut Dice::new(seed))
    }
}

proptest! {
    #[test]
    fn client_frames_come_back_the_same(seed: u64) {
        let frame = ClientFrame::sample(&mut Dice::new(seed));
        let bytes = encode_client(&frame).unwrap();
        prop_assert_eq!(decode_client(&bytes).unwrap(), frame);
    }

    #[test]
    fn host_frames_come_back_the_same(seed: u64) {
        let frame = HostFrame::sample(&mut Dice::new(seed));
        let bytes = encode_host(&frame).unwrap();
        prop_assert_eq!(decode_host(&bytes).unwrap(), frame);
    }

    #[test]
    fn frames_at_the_lock_come_back_the_same_and_no_others(seed: u64, bytes: Vec<u8>) {
        let ask = LockAsk::sample(&mut Dice::new(seed));
        let mut sent = encode_lock_ask(&ask).unwrap();
        prop_assert_eq!(decode_lock_ask(&sent).unwrap(), ask);
        sent.push(0);
        prop_assert_eq!(decode_lock_ask(&sent), Err(WireError::Trailing { extra_bytes: 1 }));
        let reply = LockReply::sample(&mut Dice::new(seed));
        let sent = encode_lock_reply(&reply).unwrap();
        prop_assert_eq!(decode_lock_reply(&sent).unwrap(), reply);
        // Whatever can be read is what it would be written as.
        if let Ok(read) = decode_lock_ask(&bytes) {
            prop_assert_eq!(encode_lock_ask(&read).unwrap(), bytes.clone());
        }
        if let Ok(read) = decode_lock_reply(&bytes) {
            prop_assert_eq!(encode_lock_reply(&read).unwrap(), bytes);
        }
    }

    #[test]
    fn hellos_come_back_the_same_whatever_follows(seed: u64, later in any::<[u8; 9]>()) {
        let frame = hello(seed);
        let mut bytes = encode_hello(&frame).unwrap();
        prop_assert_eq!(&decode_hello(&bytes).unwrap(), &frame);
        bytes.extend(later);
        prop_assert_eq!(&decode_hello(&bytes).unwrap(), &frame);

        let reply = HelloReply::sample(&mut Dice::new(seed));
        let mut bytes = encode_hello_reply(&reply).unwrap();
        bytes.extend(later);
        prop_assert_eq!(decode_hello_reply(&bytes).unwrap(), reply);
    }

    #[test]
    fn a_frame_cut_short_or_lengthened_is_refused(seed: u64, cut: usize) {
        let bytes = encode_host(&HostFrame::sample(&mut Dice::new(seed))).unwrap();
        let cut = cut % bytes.len();
        prop_assert_eq!(decode_host(&bytes[..cut]), Err(WireError::CutShort));
        let mut longer = bytes;
        longer.extend([0, 0]);
        prop_assert_eq!(decode_host(&longer), Err(WireError::Trailing { extra_bytes: 2 }));

        let mut bytes = encode_client(&ClientFrame::sample(&mut Dice::new(seed))).unwrap();
        prop_assert_eq!(decode_client(&bytes[..bytes.len() - 1]), Err(WireError::CutShort));
        bytes.push(7);
        prop_assert_eq!(decode_client(&bytes), Err(WireError::Trailing { extra_bytes: 1 }));
    }

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2048)) {
        let _ = decode_hello(&bytes);
        let _ = decode_hello_reply(&bytes);
        let _ = decode_client(&bytes);
        let _ = decode_host(&bytes);
    }

    #[test]
    fn a_spoilt_frame_never_panics_and_what_is_taken_can_be_sent(seed: u64, at: usize, flip: u8) {
        let mut bytes = encode_host(&HostFrame::sample(&mut Dice::new(seed))).unwrap();
        let at = at % bytes.len();
        bytes[at] ^= flip;
        if let Ok(frame) = decode_host(&bytes) {
            prop_assert_eq!(encode_host(&frame).unwrap(), bytes);
        }
    }
}

fn reveal(places: usize, marks: usize) -> HostFrame {
    let mark = NumberedMark {
        serial: u32::MAX,
        mark: Mark::Missed {
            kind: Some(MissKind::Interval { semitones: 9 }),
            side: Some(Side::High),
        },
    };
    HostFrame::Reveal {
        call: 1,
        midi: 62,
        places: vec![Place { string: 1, fret: 0 }; places],
        marks: vec![mark; marks],
    }
}

fn progress(students: usize, name_bytes: usize) -> HostFrame {
    let student = StudentProgress {
        name: "n".repeat(name_bytes),
        progress: Progress::Found,
    };
    HostFrame::Progress {
        call: 1,
        students: vec![student; students],
    }
}

fn neck(strings: usize, course: usize, name: usize, reach: usize) -> HostFrame {
    HostFrame::Rules {
        rules: Box::new(Rules {
            lesson: "n".repeat(name),
            mode: Mode::Class,
            neck: Neck {
                name: String::new(),
                strings: vec![
                    NeckString {
                        open_midi: 62,
                        first_fret: 0,
                        last_fret: 22,
                        course: vec![0; course],
                    };
                    strings
                ],
                scale_length_mm: 667.0,
                capo: None,
            },
            reach: "r".repeat(reach),
            marking: Marking::SamePitch,
            telling: Telling::Hint,
            sounding: Sounding::EveryTerminal,
            voice: Voice::Banjo,
            a4_hz: 440.0,
            flats: false,
            sing_first: false,
        }),
    }
}

fn call(held: usize) -> HostFrame {
    let answer = HeldAnswer {
        serial: u32::MAX,
        answer: Answer::Place {
            place: Place { string: 5, fret: 7 },
        },
        mark: Mark::Missed {
            kind: Some(MissKind::Interval { semitones: 9 }),
            side: Some(Side::High),
        },
    };
    HostFrame::Call {
        notice: CallNotice {
            call: 1,
            tone: None,
            start_us: 0,
            on_asking: false,
            you_call: false,
            caller: None,
            answers_held: u32::MAX,
            found: false,
            target: None,
            held: vec![answer; held],
        },
    }
}

fn refusal(text: usize) -> HostFrame {
    HostFrame::Refused {
        refusal: Refusal::Other {
            text: "t".repeat(text),
        },
    }
}

#[test]
fn every_limit_holds_when_sending_and_the_fullest_frames_fit() {
    let held = [
        (
            reveal(MAX_PLACES, 0),
            reveal(MAX_PLACES + 1, 0),
            Limit::Places,
        ),
        (reveal(0, MAX_MARKS), reveal(0, MAX_MARKS + 1), Limit::Marks),
        (call(MAX_HELD), call(MAX_HELD + 1), Limit::Held),
        (
            progress(MAX_PROGRESS, MAX_NAME_BYTES),
            progress(MAX_PROGRESS + 1, 1),
            Limit::Progress,
        ),
        (
            progress(1, MAX_NAME_BYTES),
            progress(1, MAX_NAME_BYTES + 1),
            Limit::NameBytes,
        ),
        (
            neck(MAX_STRINGS, MAX_COURSE, 1, 1),
            neck(MAX_STRINGS + 1, 0, 1, 1),
            Limit::Strings,
        ),
        (
            neck(1, MAX_COURSE, 1, 1),
            neck(1, MAX_COURSE + 1, 1, 1),
            Limit::Course,
        ),
        (
            neck(1, 0, 1, MAX_REACH_BYTES),
            neck(1, 0, 1, MAX_REACH_BYTES + 1),
            Limit::ReachBytes,
        ),
        (
            refusal(MAX_TEXT_BYTES),
            refusal(MAX_TEXT_BYTES + 1),
            Limit::TextBytes,
        ),
    ];
    for (full, over, limit) in held {
        let bytes = encode_host(&full).unwrap();
        assert_eq!(decode_host(&bytes).unwrap(), full);
        assert_eq!(encode_host(&over), Err(WireError::OverLimit(limit)));
    }
    let program = |bytes: usize| encode_hello(&Hello::ours(&"9".repeat(bytes)));
    assert!(program(MAX_PROGRAM_BYTES).is_ok());
    assert_eq!(
        program(MAX_PROGRAM_BYTES + 1),
        Err(WireError::OverLimit(Limit::ProgramBytes))
    );
}

/// A peer that does not check: bincode alone, without the limits.
fn unchecked(places: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    bytes.extend(6u32.to_le_bytes());
    bytes.extend(1u32.to_le_bytes());
    bytes.push(62);
    bytes.extend(places.to_le_bytes());
    bytes
}

#[test]
fn every_limit_holds_when_receiving() {
    // A list that claims more than it may, with nothing behind the claim.
    for places in [MAX_PLACES as u64 + 1, u64::MAX / 2] {
        assert_eq!(
            decode_host(&unchecked(places)),
            Err(WireError::OverLimit(Limit::Places))
        );
    }
    assert_eq!(
        decode_host(&unchecked(MAX_PLACES as u64)),
        Err(WireError::CutShort)
    );

    // A name that claims more than it may.
    let join = encode_client(&ClientFrame::Join {
        name: "n".repeat(MAX_NAME_BYTES),
        key: None,
        new_key: 0,
    })
    .unwrap();
    let mut over = join.clone();
    over[4..12].copy_from_slice(&(MAX_NAME_BYTES as u64 + 1).to_le_bytes());
    over.push(0);
    assert_eq!(
        decode_client(&over),
        Err(WireError::OverLimit(Limit::NameBytes))
    );
    over[4..12].copy_from_slice(&(u64::MAX).to_le_bytes());
    assert!(decode_client(&over).is_err());

    // Frames that are too long before anything is read.
    let long = vec![0; MAX_HOST_FRAME_BYTES + 1];
    assert_eq!(
        decode_host(&long),
        Err(WireError::OverLimit(Limit::HostFrameBytes))
    );
    let long = vec![0; MAX_CLIENT_FRAME_BYTES + 1];
    assert_eq!(
        decode_client(&long),
        Err(WireError::OverLimit(Limit::ClientFrameBytes))
    );
    let mut long = encode_hello(&Hello::ours("1")).unwrap();
    long.resize(MAX_HELLO_BYTES + 1, 0);
    assert_eq!(
        decode_hello(&long),
        Err(WireError::OverLimit(Limit::HelloBytes))
    );
}

#[test]
fn other_programs_and_senseless_values_are_told_apart() {
    assert_eq!(
        decode_hello(b"GET / HTTP/1.1\r\n"),
        Err(WireError::NotFifthpeg)
    );
    assert_eq!(decode_hello(b""), Err(WireError::NotFifthpeg));
    assert_eq!(decode_hello(b"fifthpeg"), Err(WireError::CutShort));
    let unknown_tag = 999u32.to_le_bytes();
    assert!(matches!(
        decode_client(&unknown_tag),
        Err(WireError::Malformed(_))
    ));
    // A truth value of 2, in `on_asking`.
    let mut bytes = encode_host(&HostFrame::Turn {
        caller: String::new(),
        yours: true,
    })
    .unwrap();
    *bytes.last_mut().unwrap() = 2;
    assert!(matches!(decode_host(&bytes), Err(WireError::Malformed(_))));
    // A name that is not UTF-8.
    let mut bytes = encode_client(&ClientFrame::Join {
        name: "Ada".into(),
        key: None,
        new_key: 0,
    })
    .unwrap();
    bytes[12] = 0xFF;
    assert!(matches!(
        decode_client(&bytes),
        Err(WireError::Malformed(_))
    ));
}

#[test]
fn the_older_side_is_told_to_update() {
    let hello = |oldest, newest| Hello {
        oldest,
        newest,
        ..Hello::ours("0.1.0")
    };
    let update = |reply| match reply {
        HelloReply::Outdated { update, .. } => Some(update),
        HelloReply::Ready { .. } | HelloReply::Locked { .. } => None,
    };
    let ready = |reply| match reply {
        HelloReply::Ready { version, .. } => Some(version),
        HelloReply::Outdated { .. } | HelloReply::Locked { .. } => None,
    };
    assert_eq!(ready(agree(&hello(1, 3), 2, 5, "0.2.0")), Some(3));
    assert_eq!(ready(agree(&hello(2, 9), 2, 5, "0.2.0")), Some(5));
    assert_eq!(ready(agree(&hello(1, 1), 1, 1, "0.2.0")), Some(1));
    // A program of before the ear, and a host of before it.
    let ours = |hello| agree(hello, PROTOCOL_OLDEST, PROTOCOL_NEWEST, "0.2.0");
    assert_eq!(update(ours(&hello(1, 1))), Some(UpdateSide::Student));
    let old_host = agree(&Hello::ours("0.2.0"), 1, 1, "0.1.0");
    assert_eq!(update(old_host), Some(UpdateSide::Host));
    assert_eq!(
        update(agree(&hello(1, 1), 2, 5, "0.2.0")),
        Some(UpdateSide::Student)
    );
    assert_eq!(
        update(agree(&hello(6, 9), 2, 5, "0.2.0")),
        Some(UpdateSide::Host)
    );
}
