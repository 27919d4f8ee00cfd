//! What was on the wire before comes again: all bytes of a student's locked
//! session, as whoever sits in between has them, and frames of a student who is
//! in. Nobody is let in by what is recorded, nothing is marked twice, and the
//! students who are in go on.
//!
//! In an open lesson whoever records a session has the student's seat key as
//! well (docs/network.md): there the first half of this does not hold, and is not
//! said to.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};

use fifthpeg_core::Pitch;
use fifthpeg_host::{Counter, Host, HostConfig, Limits, Lock, Notice};
use fifthpeg_lesson::message::Answer as At;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::Stream;
use fifthpeg_student::{Entry, Status, StudentConfig, Target};
use fifthpeg_tests::net::{
    PATIENCE, Remembering, joined, on_loopback, passphrase, setup, student, until,
};
use fifthpeg_tests::peers::{count, counted, goes_on, host_with, notice, raw_joined};
use fifthpeg_vocab::{
    Answer, AnswerNotice, CallId, FromStudent, Mark, Refusal, SeatKey, Source, Tally, ToStudent,
};
use fifthpeg_wire::{ClientFrame, HostFrame};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// The bytes that went one way.
type Tape = Arc<Mutex<Vec<u8>>>;

/// A way to the host that keeps all that passes.
struct Recorder {
    address: SocketAddr,
    there: Tape,
    back: Tape,
}

impl Recorder {
    /// For one connection.
    async fn to(host: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let (there, back) = (Tape::default(), Tape::default());
        let tapes = (there.clone(), back.clone());
        tokio::spawn(async move {
            let (near, _) = listener.accept().await.unwrap();
            let far = TcpStream::connect(host).await.unwrap();
            let (near_in, near_out) = near.into_split();
            let (far_in, far_out) = far.into_split();
            tokio::spawn(keep(far_in, near_out, tapes.1));
            keep(near_in, far_out, tapes.0).await;
        });
        Self {
            address,
            there,
            back,
        }
    }
}

async fn keep(
    mut from: tokio::net::tcp::OwnedReadHalf,
    mut to: tokio::net::tcp::OwnedWriteHalf,
    tape: Tape,
) {
    let mut bytes = [0; 4096];
    while let Ok(n @ 1..) = from.read(&mut bytes).await {
        tape.lock().unwrap().extend_from_slice(&bytes[..n]);
        if to.write_all(&bytes[..n]).await.is_err() {
            break;
        }
    }
}

/// The records of TLS (RFC 8446 section 5.1): five bytes of head, the last two
/// of them the length.
fn records(tape: &Tape) -> Vec<Vec<u8>> {
    let bytes = tape.lock().unwrap().clone();
    let mut rest = &bytes[..];
    let mut records = Vec::new();
    while let [_, _, _, high, low, ..] = *rest {
        let (one, more) = rest.split_at(5 + usize::from(u16::from_be_bytes([high, low])));
        records.push(one.to_vec());
        rest = more;
    }
    assert!(rest.is_empty());
    records
}

/// Says all of it to the host, and hears it out.
async fn play(host: SocketAddr, records: &[Vec<u8>]) {
    let mut stream = TcpStream::connect(host).await.unwrap();
    // The host may hang up before all of it is said.
    let _ = stream.write_all(&records.concat()).await;
    let _ = stream.shutdown().await;
    let mut said = Vec::new();
    let heard = tokio::time::timeout(PATIENCE, stream.read_to_end(&mut said));
    let _ = heard.await.expect("the host hangs up");
}

/// What of a lesson a student's answers change: names, answers, what was found.
fn standing(host: &Host) -> Vec<(String, usize, u32, u32)> {
    let view = host.view().borrow().clone();
    let of = |s: &fifthpeg_lesson::view::StudentView| {
        let tally = s.tally;
        (s.name.clone(), s.answers.len(), tally.calls, tally.found)
    };
    view.students.iter().map(of).collect()
}

/// A session that was recorded: a call that was answered, and one that is open.
async fn recorded(host: &Host) -> (fifthpeg_student::Student, Recorder) {
    let recorder = Recorder::to(host.local_addrs()[0]).await;
    let mia = student("Mia", recorder.address).await;
    joined(&mia).await;
    goes_on(host, &mia).await;
    goes_on(host, &mia).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    (mia, recorder)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recorded_session_lets_nobody_in_and_marks_nothing() {
    let host = host_with("Recorded", Limits::default()).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let (mia, recorder) = recorded(&host).await;
    let ivo = student("Ivo", address).await;
    joined(&ivo).await;
    let both = |v: &Arc<LessonView>| v.students.len() == 2;
    until(&mut host.view(), "both", both).await;
    let records = records(&recorder.there);
    assert!(records.len() > 8, "{} records", records.len());
    let before = standing(&host);
    assert_eq!(before.len(), 2);

    // The whole of it, in pieces from the front, backwards, without what only
    // the handshake needs, from the middle, and each piece twice.
    let mut played = vec![records.clone()];
    played.extend((1..records.len()).map(|n| records[..n].to_vec()));
    played.push(records.iter().rev().cloned().collect());
    played.push([&records[..1], &records[3..]].concat());
    played.push(records[2..].to_vec());
    played.push(
        records
            .iter()
            .flat_map(|r| [r.clone(), r.clone()])
            .collect(),
    );
    let mut odd_first = records.clone();
    odd_first[1..].rotate_left(1);
    played.push(odd_first);
    let attempts = played.len() as u64;
    for records in &played {
        play(address, records).await;
    }
    // And on two connections at once.
    let _ = tokio::join!(play(address, &records), play(address, &records));

    counted(&host, Counter::NotJoined, attempts + 2).await;
    assert_eq!(count(&host, Counter::NotJoined), attempts + 2);
    let told = notice(&mut notices, |n| matches!(n, Notice::NotJoined { .. })).await;
    assert!(told.to_string().contains("did not join"), "{told}");
    assert_eq!(standing(&host), before);
    // Of guesses at the passphrase there were none, so nobody has to wait.
    assert_eq!(count(&host, Counter::WrongPassphrase), 0);
    host.order(HostOrder::Close).await.unwrap();
    goes_on(&host, &mia).await;
    goes_on(&host, &ivo).await;

    // Nor when the student's seat is free.
    mia.leave().await.unwrap();
    let gone = |v: &Arc<LessonView>| v.students.iter().filter(|s| s.connected).count() == 1;
    until(&mut host.view(), "gone", gone).await;
    let before = standing(&host);
    play(address, &records).await;
    counted(&host, Counter::NotJoined, attempts + 3).await;
    assert_eq!(standing(&host), before);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_recorded_session_is_worth_nothing_to_the_same_host_started_again() {
    let first = host_with("Recorded", Limits::default()).await;
    let address = first.local_addrs()[0];
    let (mia, recorder) = recorded(&first).await;
    mia.leave().await.unwrap();
    first.end().await.unwrap();
    // The same key, passphrase and port.
    let again = HostConfig {
        bind: vec![address],
        ..on_loopback(setup("Recorded"))
    };
    let again = fifthpeg_host::start(again).await.unwrap();
    play(address, &records(&recorder.there)).await;
    counted(&again, Counter::NotJoined, 1).await;
    assert!(again.view().borrow().students.is_empty());
    again.end().await.unwrap();
}

/// The other half: somebody with the host's side of a session cannot play the
/// host either.
#[tokio::test(flavor = "multi_thread")]
async fn a_recorded_host_gets_nothing_from_a_student() {
    let host = host_with("Recorded", Limits::default()).await;
    let (mia, recorder) = recorded(&host).await;
    let back = recorder.back.lock().unwrap().clone();
    mia.leave().await.unwrap();
    host.end().await.unwrap();

    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move {
        while let Ok((mut stream, _)) = listener.accept().await {
            let back = back.clone();
            tokio::spawn(async move {
                // Not before the student has spoken, as a host does.
                let mut said = [0; 1024];
                let _ = stream.read(&mut said).await;
                let _ = stream.write_all(&back).await;
                while let Ok(1..) = stream.read(&mut said).await {}
            });
        }
    });
    let ivo = student("Ivo", address).await;
    let is_lost = |s: &Status| matches!(s, Status::Lost { .. });
    let why = until(&mut ivo.status(), "not taken in", is_lost).await;
    assert!(!ivo.view().borrow().connected, "{why}");
    assert!(ivo.view().borrow().call.is_none());
}

fn answer(call: u32, serial: u32, midi: u8) -> ClientFrame {
    ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
        call: CallId(call),
        serial,
        answer: Answer::Pitch(Pitch::new(midi).expect("a pitch")),
        source: Source::Screen,
        response: Some(Duration::from_micros(1_500_000)),
        uncertainty: Duration::from_micros(5_000),
    }))
}

/// What the host says to this; calls and reveals in between are left out.
async fn said_to(channel: &mut StudentChannel<Stream>, frame: &ClientFrame) -> Said {
    channel.send(frame).await.unwrap();
    loop {
        let heard = tokio::time::timeout(PATIENCE, channel.recv()).await;
        match heard.expect("an answer").unwrap().expect("a frame") {
            HostFrame::Lesson(ToStudent::Marked {
                call,
                serial,
                mark,
                tally,
            }) => return Said::Marked(call.0, serial, mark, tally),
            HostFrame::Lesson(ToStudent::AnswerRefused { call, serial, why }) => {
                return Said::Refused(call.0, serial, why);
            }
            _ => {}
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Said {
    Marked(u32, u32, Mark, Tally),
    Refused(u32, u32, Refusal),
}

/// The property itself is held against the lesson (`lesson/tests/replayed.rs`);
/// this is once all the way over a socket.
#[tokio::test(flavor = "multi_thread")]
async fn frames_sent_again_by_a_student_who_is_in_count_once() {
    let host = host_with("Again", Limits::default()).await;
    let mia = raw_joined(host.local_addrs()[0], "Mia").await;
    sends_again(host, mia).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn frames_sent_again_in_an_open_lesson_count_once() {
    let config = HostConfig {
        lock: Lock::Open,
        ..on_loopback(setup("Again"))
    };
    let host = fifthpeg_host::start(config).await.unwrap();
    let address = host.local_addrs()[0];
    let stream: Stream = Box::new(TcpStream::connect(address).await.unwrap());
    let connected = handshake::connect(stream, &address.to_string(), PATIENCE).await;
    let mut mia = connected.unwrap();
    let join = ClientFrame::Join {
        name: "Mia".into(),
        key: None,
        new_key: SeatKey(1),
    };
    mia.send(&join).await.unwrap();
    sends_again(host, mia).await;
}

async fn sends_again(host: Host, mut mia: StudentChannel<Stream>) {
    let config = StudentConfig {
        // Knowing a passphrase, a terminal takes no open lesson.
        entry: Entry {
            open: true,
            ..Entry::with(passphrase())
        },
        ..StudentConfig::new(
            "Ivo",
            Target::Address(host.local_addrs().to_vec()),
            Box::new(Remembering::default()),
        )
    };
    let ivo = fifthpeg_student::start(config).await.unwrap();
    joined(&ivo).await;
    // D4 and not far from it, so that all but one are misses.
    let d4 = At::Pitch(fifthpeg_core::Pitch::new(62).unwrap());
    host.order(HostOrder::CallAt(d4)).await.unwrap();
    let first: Vec<_> = [(1, 60), (2, 61), (3, 62)]
        .map(|(n, midi)| answer(1, n, midi))
        .into();
    let mut marked = Vec::new();
    for frame in &first {
        marked.push(said_to(&mut mia, frame).await);
    }
    assert!(
        matches!(marked[2], Said::Marked(1, 3, Mark::Right, _)),
        "{marked:?}"
    );
    // What a screen is shown may come a little later.
    let found = |v: &Arc<LessonView>| v.students.iter().any(|s| s.tally.found == 1);
    until(&mut host.view(), "found", found).await;
    let before = standing(&host);
    // In every order, and over and over.
    for order in [[2, 1, 0], [1, 0, 2], [0, 0, 1], [2, 2, 2]] {
        for n in order {
            let Said::Marked(call, serial, mark, tally) = said_to(&mut mia, &first[n]).await else {
                panic!("refused");
            };
            let Said::Marked(call1, serial1, mark1, _) = marked[n].clone() else {
                panic!("{marked:?}");
            };
            assert_eq!((call, serial, mark), (call1, serial1, mark1));
            assert_eq!((tally.calls, tally.found, tally.found_first), (1, 1, 0));
        }
    }
    assert_eq!(standing(&host), before);
    // Of the call before: told again, while another is open and after; what never
    // came in time is refused by call and serial.
    host.order(HostOrder::Close).await.unwrap();
    host.order(HostOrder::CallAt(d4)).await.unwrap();
    for closed in [false, true] {
        if closed {
            host.order(HostOrder::Close).await.unwrap();
        }
        for (frame, mark) in first.iter().zip(&marked).rev() {
            let said = said_to(&mut mia, frame).await;
            let (Said::Marked(call, serial, again, _), Said::Marked(_, _, before, _)) =
                (&said, mark)
            else {
                panic!("{said:?}");
            };
            assert_eq!((*call, *again), (1, *before), "answer {serial}");
        }
        let late = said_to(&mut mia, &answer(1, 4, 62)).await;
        assert_eq!(late, Said::Refused(1, 4, Refusal::TooLate));
        let unknown = said_to(&mut mia, &answer(9, 1, 62)).await;
        assert_eq!(unknown, Said::Refused(9, 1, Refusal::CallLost));
    }
    let counted = |v: &Arc<LessonView>| v.students.iter().any(|s| s.tally.calls == 2);
    until(&mut host.view(), "two calls", counted).await;
    let now = standing(&host);
    let mine = now.iter().find(|s| s.0 == "Mia").expect("here");
    assert_eq!((mine.1, mine.2, mine.3), (0, 2, 1));
    goes_on(&host, &ivo).await;
    assert_eq!(count(&host, Counter::Garbled), 0);
    host.end().await.unwrap();
}
