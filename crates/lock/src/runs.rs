//! Whole runs at the lock, both sides in one place, with and without somebody
//! in between.

use std::sync::LazyLock;

use rand_core_06::OsRng;

use crate::{
    ChannelBinding, Fingerprint, HostLock, HostStep, Knows, LockError, Passphrase, PrivateKey,
    Puzzle, SeatSecret, StudentLock, StudentStep,
};
use fifthpeg_wire::{LockAsk, LockReply};

const HALL: &str = "Village hall";

fn words(text: &str) -> Passphrase {
    Passphrase::typed(text).unwrap()
}

/// What the host proves itself by to whoever has a class key; nobody has here.
static OWN: LazyLock<PrivateKey> = LazyLock::new(|| PrivateKey::of_host(&[3; 48]));

fn the_words(words: &Passphrase) -> Knows {
    words.clone().into()
}

fn channel(number: u8) -> ChannelBinding {
    ChannelBinding {
        exporter: [number; 32],
        host: Fingerprint([7; 32]),
    }
}

fn seat(key: u128) -> SeatSecret {
    SeatSecret { student: 3, key }
}

/// How a run ended on both sides.
#[derive(Debug, PartialEq, Eq)]
struct Ended {
    host_opened: bool,
    host_counts_wrong: bool,
    student: Result<(), LockError>,
}

/// A run; `looked_at` says whether guesses are.
fn run(
    host_words: &Passphrase,
    (host_at, student_at): (ChannelBinding, ChannelBinding),
    (known, given): (Option<u128>, Option<SeatSecret>),
    student_words: Option<&Passphrase>,
    looked_at: bool,
) -> Ended {
    let (mut host, first) = HostLock::new((host_words, &OWN), host_at, HALL);
    let LockReply::Lesson { name } = first else {
        panic!("the lesson's name comes first");
    };
    let about = (student_at, name.as_str());
    let knows = Knows {
        seat: given,
        keys: Vec::new(),
        passphrase: student_words.cloned(),
    };
    let begun = StudentLock::begin(knows, about, OsRng);
    let (mut student, mut ask) = begun.expect("something to prove");
    let mut ended = Ended {
        host_opened: false,
        host_counts_wrong: false,
        student: Ok(()),
    };
    loop {
        let mut step = match host.handle(ask, OsRng) {
            Ok(step) => step,
            Err(why) => {
                ended.student = Err(why);
                return ended;
            }
        };
        step = match step {
            HostStep::LookUp { student: 3 } => host.seat(known),
            HostStep::LookUp { .. } => host.seat(None),
            HostStep::Guess if looked_at => host.judge(),
            HostStep::Guess => host.shut(20),
            other => other,
        };
        let reply = match step {
            HostStep::Say(reply) => reply,
            HostStep::Open(reply) => {
                ended.host_opened = true;
                reply
            }
            HostStep::Shut { reply, wrong } => {
                ended.host_counts_wrong = wrong;
                reply
            }
            HostStep::LookUp { .. } | HostStep::LookUpKey { .. } | HostStep::Guess => {
                panic!("asked twice")
            }
        };
        match student.handle(reply, OsRng) {
            Ok(StudentStep::Say(next)) => ask = next,
            Ok(StudentStep::Work { .. }) => panic!("nobody waits here"),
            Ok(StudentStep::Through) => return ended,
            Err(why) => {
                ended.student = Err(why);
                return ended;
            }
        }
    }
}

const BOTH: (ChannelBinding, ChannelBinding) = (
    ChannelBinding {
        exporter: [1; 32],
        host: Fingerprint([7; 32]),
    },
    ChannelBinding {
        exporter: [1; 32],
        host: Fingerprint([7; 32]),
    },
);

fn wrong() -> Ended {
    Ended {
        host_opened: false,
        host_counts_wrong: true,
        student: Err(LockError::Wrong),
    }
}

fn opened() -> Ended {
    Ended {
        host_opened: true,
        host_counts_wrong: false,
        student: Ok(()),
    }
}

#[test]
fn the_right_words_open_and_no_others() {
    let hall = words("acorn river candle tiger");
    let typed = words("Acorn-River-Candle-Tiger");
    assert_eq!(run(&hall, BOTH, (None, None), Some(&typed), true), opened());
    let other = words("acorn river candle tigers");
    assert_eq!(run(&hall, BOTH, (None, None), Some(&other), true), wrong());
}

#[test]
fn the_right_words_over_two_channels_or_at_another_host_open_nothing() {
    let hall = words("acorn river candle tiger");
    let relayed = (channel(1), channel(2));
    assert_eq!(
        run(&hall, relayed, (None, None), Some(&hall), true),
        wrong()
    );
    let elsewhere = ChannelBinding {
        host: Fingerprint([8; 32]),
        ..channel(1)
    };
    let posed = (channel(1), elsewhere);
    assert_eq!(run(&hall, posed, (None, None), Some(&hall), true), wrong());
}

#[test]
fn a_guess_that_is_not_looked_at_says_nothing_even_if_right() {
    let hall = words("acorn river candle tiger");
    for typed in [&hall, &words("something else")] {
        let ended = run(&hall, BOTH, (None, None), Some(typed), false);
        assert!(!ended.host_opened && !ended.host_counts_wrong);
        assert_eq!(ended.student, Err(LockError::Wait { seconds: 20 }));
    }
}

#[test]
fn a_seat_opens_without_the_words_and_only_its_own() {
    let hall = words("acorn river candle tiger");
    let given = (Some(5), Some(seat(5)));
    assert_eq!(run(&hall, BOTH, given, None, false), opened());
    // Another key, no such seat, another channel: then the words count.
    let other = (Some(5), Some(seat(6)));
    let relayed = (channel(1), channel(2));
    for (at, given) in [
        (BOTH, other),
        (BOTH, (None, Some(seat(5)))),
        (relayed, (Some(5), Some(seat(5)))),
    ] {
        let ended = run(&hall, at, given, None, true);
        assert!(!ended.host_opened);
        assert_eq!(ended.student, Err(LockError::NoSeat));
    }
    assert_eq!(run(&hall, BOTH, other, Some(&hall), true), opened());
}

#[test]
fn a_host_that_does_not_know_the_words_is_not_believed() {
    // It says that all is well, with any proof.
    let hall = words("acorn river candle tiger");
    let about = (channel(1), HALL);
    let (mut student, _) = StudentLock::begin(the_words(&hall), about, OsRng).unwrap();
    let (mut posing, _) = HostLock::new((&hall, &OWN), channel(9), HALL);
    let (_, ask) = StudentLock::begin(the_words(&hall), about, OsRng).unwrap();
    let HostStep::Say(element) = posing.handle(ask, OsRng).unwrap() else {
        panic!("no element");
    };
    student.handle(element, OsRng).unwrap();
    let said = student.handle(LockReply::Open { proof: [0; 32] }, OsRng);
    assert_eq!(said, Err(LockError::NotTheHost));
}

#[test]
fn what_was_recorded_lets_no_passphrase_be_tried() {
    // Somebody in between runs with the student as host and with the host as
    // student, each time with a guess, and keeps all that was said. A guess
    // could be tried afterwards only if what a guess makes of the record
    // differed between the right and a wrong one; the only thing said that
    // depends on the words is the student's proof, and that answers for the
    // one guess that went into the run and no other.
    let hall = words("acorn river candle tiger");
    let guesses = ["blue boots", "acorn river candle tiger", "red hats"];
    let about = (channel(1), HALL);
    for in_the_run in guesses {
        let in_the_run = words(in_the_run);
        let (mut student, ask) = StudentLock::begin(the_words(&hall), about, OsRng).unwrap();
        let (mut posing, _) = HostLock::new((&in_the_run, &OWN), channel(1), HALL);
        let HostStep::Say(element) = posing.handle(ask.clone(), OsRng).unwrap() else {
            panic!("no element");
        };
        let Ok(StudentStep::Say(LockAsk::Proof { proof })) = student.handle(element.clone(), OsRng)
        else {
            panic!("no proof");
        };
        posing.handle(LockAsk::Proof { proof }, OsRng).unwrap();
        let fits = matches!(posing.judge(), HostStep::Open(_));
        assert_eq!(fits, in_the_run == hall);
        // The same record, with every guess put in the place of the one that
        // was in the run: none fits, the right one neither.
        for guess in guesses {
            let guess = words(guess);
            let (mut again, _) = HostLock::new((&guess, &OWN), channel(1), HALL);
            again.handle(ask.clone(), OsRng).unwrap();
            again.handle(LockAsk::Proof { proof }, OsRng).unwrap();
            assert!(!matches!(again.judge(), HostStep::Open(_)));
        }
    }
}

#[test]
fn words_out_of_order_and_points_off_the_curve_end_the_run() {
    let hall = words("acorn river candle tiger");
    let proof = LockAsk::Proof { proof: [1; 32] };
    let seat = LockAsk::Seat {
        student: 9,
        proof: [1; 32],
    };
    let (mut host, _) = HostLock::new((&hall, &OWN), channel(1), HALL);
    assert!(host.handle(proof, OsRng).is_err());
    assert!(host.handle(seat.clone(), OsRng).is_err(), "it was over");
    let (mut host, _) = HostLock::new((&hall, &OWN), channel(1), HALL);
    assert_eq!(
        host.handle(seat.clone(), OsRng),
        Ok(HostStep::LookUp { student: 9 })
    );
    assert_eq!(host.seat(None), HostStep::Say(LockReply::NoSeat));
    assert!(host.handle(seat, OsRng).is_err(), "looked up twice");
    // y = 2 is on no point of Ed25519 (RFC 8032 section 5.1.3: x would have no
    // square root).
    let mut off = [0; 32];
    off[0] = 2;
    let (mut host, _) = HostLock::new((&hall, &OWN), channel(1), HALL);
    assert!(
        host.handle(LockAsk::Passphrase { element: off }, OsRng)
            .is_err()
    );
}

#[test]
fn a_proof_that_waits_in_line_is_worked_for_and_looked_at_later() {
    let hall = words("acorn river candle tiger");
    let at = channel(1);
    let (mut host, _) = HostLock::new((&hall, &OWN), at, HALL);
    let begun = StudentLock::begin(the_words(&hall), (at, HALL), OsRng);
    let (mut student, ask) = begun.unwrap();
    let Ok(HostStep::Say(element)) = host.handle(ask, OsRng) else {
        panic!("no element");
    };
    let Ok(StudentStep::Say(proof)) = student.handle(element, OsRng) else {
        panic!("no proof");
    };
    assert_eq!(host.handle(proof, OsRng), Ok(HostStep::Guess));
    let line = LockReply::Line {
        zero_bits: 4,
        seconds: 24,
    };
    let Ok(StudentStep::Work {
        puzzle,
        seconds: 24,
    }) = student.handle(line, OsRng)
    else {
        panic!("no work");
    };
    // Both ends have the same work, and it is of this channel.
    assert_eq!(puzzle, Puzzle::new(&at, 4));
    let HostStep::Open(open) = host.judge() else {
        panic!("not opened");
    };
    assert_eq!(student.handle(open, OsRng), Ok(StudentStep::Through));
}
