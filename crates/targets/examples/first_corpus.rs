//! Writes the first inputs of each target's corpus, from which the engine makes
//! others: `cargo run -p fifthpeg-targets --example first_corpus`.

use std::path::Path;

use fifthpeg_book::Book;
use fifthpeg_book::exchange::csv_files;
use fifthpeg_core::{Neck, Pitch, Position};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, CallNotice, FromStudent, HeldMark, LastCall, Refusal, SeatKey,
    Source, StudentId, ToStudent, Tone, Voice, Welcome,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::{LessonSetup, Moment};
use fifthpeg_wire::{
    ClientFrame, Hello, HelloReply, HostFrame, LockAsk, LockReply, MAGIC, PROTOCOL_NEWEST,
    PROTOCOL_OLDEST, encode_client, encode_hello, encode_hello_reply, encode_host, encode_lock_ask,
    encode_lock_reply,
};

fn keep(target: &str, name: &str, bytes: impl AsRef<[u8]>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("corpus")
        .join(target);
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join(name), bytes).expect("room for a file");
}

fn main() {
    from_student();
    from_host();
    keep(
        "neck-file",
        "banjo",
        "name = \"my banjo\"\nscale_length_mm = 670.0\nfrets = 22\nstrings = [\"D4\", \"B3\", \"G3\", \
         \"D3\", { open = \"G4\", first_fret = 5 }]\n[capo]\nfret = 2\nshort = 7\n",
    );
    keep(
        "neck-file",
        "courses",
        "name = \"octaves\"\nscale_length_mm = 600\n[[strings]]\nopen = \"E3\"\ncourse = [12]\n\
         last_fret = 12\n[[strings]]\nopen = \"A2\"\ncourse = [0, 12]\n",
    );
    for (name, reach) in [
        ("step", "octave"),
        ("parts", "strings 1,2 frets 0-5"),
        ("notes", "G major"),
    ] {
        keep("reach", name, reach);
    }
    keep(
        "plain-host",
        "lines",
        "call 2/1 # why not\ncall F#4\nreach octave\nremove Mia\nwait found 2 10\nmarking exact\npause 1.5\nend\n",
    );
    keep(
        "plain-student",
        "lines",
        "hear\ntry 1/4\nanswer C4\npick random\nwait call 5\nanswer heard\nmicrophone off\nleave\n",
    );
    keep("passphrase", "made", "brook lantern gravel");
    let pad = |mut bytes: Vec<u8>| {
        bytes.resize(40, 0);
        bytes
    };
    let mut asks = Vec::new();
    for ask in [
        LockAsk::Seat {
            student: 1,
            proof: [3; 32],
        },
        LockAsk::Passphrase { element: [2; 32] },
        LockAsk::Proof { proof: [1; 32] },
    ] {
        asks.extend(pad(encode_lock_ask(&ask).expect("a frame")));
    }
    keep("lock-host", "asks", asks);
    let mut replies = vec![0];
    for reply in [
        LockReply::NoSeat,
        LockReply::Element { element: [2; 32] },
        LockReply::Open { proof: [1; 32] },
    ] {
        replies.extend(pad(encode_lock_reply(&reply).expect("a frame")));
    }
    keep("lock-student", "replies", replies);
    // Any bytes are operations; these are many of each.
    let many: Vec<u8> = (0..=255)
        .flat_map(|n: u8| [n, n.wrapping_mul(37), 0, 3])
        .collect();
    keep("lesson-inputs", "many", &many);
    keep("simulated-lesson", "many", &many[..400]);
    book();
}

fn from_student() {
    let call = CallId(3);
    let at = Answer::Place(Position { string: 2, fret: 5 });
    let said = [
        FromStudent::Sounded { call },
        FromStudent::Hearing { call },
        FromStudent::Try {
            call,
            at,
            source: Source::Instrument,
        },
        FromStudent::Sung {
            call,
            frequency_hz: 220.0,
            spread_cents: 12.0,
        },
        FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: at,
            source: Source::Screen,
            response: Some(core::time::Duration::from_millis(1500)),
            uncertainty: core::time::Duration::from_millis(80),
        }),
        FromStudent::Pick { at: Some(at) },
        FromStudent::Leave,
    ];
    let mut frames: Vec<_> = said.map(ClientFrame::Lesson).into();
    frames.push(ClientFrame::join("Mia", Some(SeatKey(7)), SeatKey(8)));
    frames.push(ClientFrame::ClockAsk {
        t1: Moment::from_micros(9),
    });
    for (n, frame) in frames.iter().enumerate() {
        let bytes = encode_client(frame).expect("a frame");
        keep("wire-from-student", &format!("frame-{n}"), bytes);
    }
    let hello = Hello {
        magic: MAGIC,
        oldest: PROTOCOL_OLDEST,
        newest: PROTOCOL_NEWEST,
        program: "0.1.0".to_owned(),
    };
    let bytes = encode_hello(&hello).expect("a first frame");
    keep("wire-from-student", "hello", bytes);
}

fn from_host() {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let rules = LessonSetup::new("Village hall", &neck).rules;
    let call = CallId(3);
    let pitch = Pitch::new(62).expect("a pitch");
    let tally = Tally::default();
    let said = [
        ToStudent::Welcome(Box::new(Welcome {
            student: StudentId(1),
            key: SeatKey(7),
            name: "Mia".to_owned(),
            rules,
            tally,
            last_call: Some(LastCall {
                call,
                start: Moment::from_micros(9),
                over: false,
            }),
        })),
        ToStudent::Call(CallNotice {
            call,
            tone: Some(Tone {
                frequency_hz: 293.66,
                voice: Voice::Banjo,
                pluck_seed: 9,
            }),
            start: Moment::from_micros(9),
            on_asking: false,
            you_call: true,
            caller: Some("Mia".to_owned()),
            answers_held: 1,
            found: false,
            target: Some((pitch, None)),
            held: vec![HeldMark {
                serial: 1,
                answer: Answer::Pitch(pitch),
                mark: Mark::Right,
            }],
        }),
        ToStudent::Marked {
            call,
            serial: 1,
            mark: Mark::Right,
            tally,
        },
        ToStudent::Reveal {
            call,
            pitch,
            places: neck.places(pitch),
            marks: vec![(1, Mark::Right)],
        },
        ToStudent::Refused(Refusal::OutsideReach),
        ToStudent::AnswerRefused {
            call,
            serial: 2,
            why: Refusal::TooManyAnswers(3),
        },
        ToStudent::Ended {
            tally,
            removed: true,
        },
    ];
    for (n, message) in said.iter().enumerate() {
        let bytes = encode_host(&HostFrame::Lesson(message.clone())).expect("a frame");
        keep("wire-from-host", &format!("frame-{n}"), bytes);
    }
    let reply = HelloReply::Ready {
        version: PROTOCOL_NEWEST,
        program: "0.1.0".to_owned(),
    };
    let bytes = encode_hello_reply(&reply).expect("a first frame");
    keep("wire-from-host", "hello", bytes);
}

fn book() {
    let folder = std::env::temp_dir().join(format!("fifthpeg-corpus-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    {
        let book = Book::open(&folder.join("lessons.book")).expect("a book");
        let reader = book.reader().expect("a reader");
        reader
            .export_json(&folder.join("out.json"))
            .expect("an export");
        reader.export_csv(&folder.join("csv")).expect("an export");
    }
    let json = std::fs::read(folder.join("out.json")).expect("an export");
    keep("book-json", "empty", json);
    for (n, name) in csv_files().iter().enumerate() {
        let mut bytes = vec![n as u8];
        bytes.extend(std::fs::read(folder.join("csv").join(name)).expect("an export"));
        keep("book-csv", name.trim_end_matches(".csv"), bytes);
    }
    let _ = std::fs::remove_dir_all(&folder);
}
