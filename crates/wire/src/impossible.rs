//! Nothing that cannot be gets through, and who speaks another language, or
//! another version, is told so.

use fifthpeg_core::Neck;
use fifthpeg_vocab::*;

use crate::samples::rules;
use crate::*;

fn client(message: FromStudent) -> Vec<u8> {
    encode_client(&ClientFrame::Lesson(message)).unwrap()
}

fn host(message: ToStudent) -> Vec<u8> {
    encode_host(&HostFrame::Lesson(message)).unwrap()
}

/// Whether bytes are refused for what they say, and not for how they say it.
fn impossible<T: core::fmt::Debug>(read: Result<T, WireError>, why: &str) {
    match read {
        Err(WireError::Malformed(said)) => assert!(said.words().contains(why), "{said}"),
        other => panic!("{why}: {other:?}"),
    }
}

#[test]
fn what_cannot_be_does_not_get_through() {
    // The last bytes of a pick are the answer's.
    let spoilt = |answer: Answer, last: &[u8]| {
        let mut bytes = client(FromStudent::Pick { at: Some(answer) });
        let from = bytes.len() - last.len();
        bytes[from..].copy_from_slice(last);
        decode_client(&bytes)
    };
    let pitch = fifthpeg_core::Pitch::A4;
    impossible(spoilt(Answer::Pitch(pitch), &[128]), "beyond 127");
    impossible(spoilt(Answer::Class(pitch.class()), &[12]), "beyond B");
    let place = Answer::Place(fifthpeg_core::Position::new(1, 1));
    impossible(spoilt(place, &[0, 1]), "number nought");

    let call = CallId(1);
    let sung = |frequency_hz, spread_cents| {
        decode_client(&client(FromStudent::Sung {
            call,
            frequency_hz,
            spread_cents,
        }))
    };
    assert!(sung(20.0, 0.0).is_ok() && sung(8000.0, 1200.0).is_ok());
    for hz in [f64::NAN, f64::INFINITY, -440.0, 0.0, 19.99, 8000.01] {
        impossible(sung(hz, 10.0), "no voice reaches");
    }
    for cents in [f32::NAN, f32::NEG_INFINITY, -0.1, 1200.5] {
        impossible(sung(440.0, cents), "more than an octave");
    }
    let told = |cents| {
        let octaves = i8::MIN;
        let exact = true;
        let sung = SungMark {
            octaves,
            cents,
            exact,
        };
        decode_host(&host(ToStudent::Sung { call, sung }))
    };
    assert!(told(-600.0).is_ok() && told(600.0).is_ok());
    for cents in [f32::NAN, 600.5, f32::NEG_INFINITY] {
        impossible(told(cents), "than half of one");
    }
    let left = |name: &str| decode_host(&host(ToStudent::FriendLeft { name: name.into() }));
    let steers = "control or invisible signs";
    impossible(left("\u{1b}[2J"), steers);
    // A name as typed is the lesson's matter.
    let join = encode_client(&ClientFrame::join("\u{1b}[2J", None, SeatKey(1))).unwrap();
    assert!(decode_client(&join).is_ok());

    let banjo = Neck::ready("banjo-open-g").unwrap();
    let spoilt = |spoil: fn(&mut Rules)| {
        let mut rules = rules(&banjo);
        spoil(&mut rules);
        decode_host(&host(ToStudent::Rules(Box::new(rules))))
    };
    assert!(spoilt(|_| {}).is_ok());
    impossible(spoilt(|r| r.lesson = "\u{1b}[2J".into()), steers);
    impossible(spoilt(|r| r.lesson = "\u{202e}desrever".into()), steers);
    impossible(spoilt(|r| r.lesson = "hid\u{200b}den".into()), steers);
    impossible(spoilt(|r| r.a4_hz = f64::NAN), "far from any A4");
    impossible(spoilt(|r| r.a4_hz = 20_000.0), "far from any A4");
    impossible(spoilt(|r| r.neck.strings.clear()), "cannot be built");
    impossible(
        spoilt(|r| r.neck.scale_length_mm = f64::NEG_INFINITY),
        "cannot be built",
    );
    // A reach in words of its own.
    let bytes = host(ToStudent::Rules(Box::new(rules(&banjo))));
    let at = bytes.windows(5).position(|w| w == b"whole").unwrap();
    for other in [b"wholf", b"WHOLE"] {
        let mut bytes = bytes.clone();
        bytes[at..at + 5].copy_from_slice(other);
        impossible(decode_host(&bytes), "a reach that cannot be read");
    }

    for frequency_hz in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1e9] {
        let notice = CallNotice {
            call,
            tone: Some(Tone {
                frequency_hz,
                voice: Voice::Banjo,
                pluck_seed: 0,
            }),
            start: Moment::default(),
            on_asking: false,
            you_call: false,
            caller: None,
            answers_held: 0,
            found: false,
            target: None,
            held: Vec::new(),
        };
        impossible(
            decode_host(&host(ToStudent::Call(notice))),
            "nobody can hear",
        );
    }
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
    let mut bytes = client(FromStudent::Try {
        call: CallId(1),
        at: Answer::Pitch(fifthpeg_core::Pitch::A4),
        source: Source::Screen,
    });
    let source = bytes.len() - 4;
    bytes[source..].copy_from_slice(&unknown_tag);
    impossible(decode_client(&bytes), "has the tag 999");
    assert!(matches!(
        decode_client(&unknown_tag),
        Err(WireError::Malformed(_))
    ));
    // A truth value of 2, in `on_asking`.
    let mut bytes = host(ToStudent::Turn {
        caller: String::new(),
        yours: true,
    });
    *bytes.last_mut().unwrap() = 2;
    assert!(matches!(decode_host(&bytes), Err(WireError::Malformed(_))));
    // A name that is not UTF-8.
    let mut bytes = encode_client(&ClientFrame::join("Ada", None, SeatKey(0))).unwrap();
    bytes[12] = 0xFF;
    let error = decode_client(&bytes).unwrap_err();
    assert!(matches!(error, WireError::Malformed(_)));
    // What the decoder said lies behind it, as the error it was.
    let source = std::error::Error::source(&error);
    assert!(source.is_some_and(|e| e.is::<bincode::error::DecodeError>()));
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
