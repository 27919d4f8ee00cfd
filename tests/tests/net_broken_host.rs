//! A host that makes no sense: a terminal neither fails nor hurries.

use std::time::Duration;

use fifthpeg_lesson::message::{CallId, Refusal, SeatKey, ToStudent};
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::channel::HostChannel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, LockChannel};
use fifthpeg_student::{Entry, Status, Student, StudentConfig, Target};
use fifthpeg_tests::net::{PATIENCE, Remembering, host_key, setup, student, until};
use fifthpeg_wire::{ClientFrame, HostFrame, LockReply};
use tokio::net::{TcpListener, TcpStream};

/// A student of an open lesson, whose host a test plays.
async fn student_of(listener: &TcpListener) -> Student {
    student_of_any(&[listener]).await
}

/// The same, who looks for the host at these, in this order.
async fn student_of_any(listeners: &[&TcpListener]) -> Student {
    let addresses = listeners.iter().map(|l| l.local_addr().unwrap());
    let target = Target::Address(addresses.collect());
    fifthpeg_student::start(StudentConfig {
        // The broken host knows no lock.
        entry: Entry {
            open: true,
            ..Entry::default()
        },
        ..StudentConfig::new("Ana", target, Box::new(Remembering::default()))
    })
    .await
    .unwrap()
}

/// Lets the next who comes into a lesson of its own.
async fn lets_in(listener: &TcpListener) -> HostChannel<TcpStream> {
    let (stream, _) = listener.accept().await.unwrap();
    let mut channel = handshake::accept(stream, PATIENCE).await.unwrap();
    channel.recv().await.unwrap().expect("a join");
    let now = Moment::from_micros(1_000_000);
    let mut lesson = Lesson::new(setup("Broken"), now).unwrap();
    lesson.handle_join("Ana", None, SeatKey(7), now).unwrap();
    while let Some((_, message)) = lesson.poll_message() {
        channel.send(&HostFrame::Lesson(message)).await.unwrap();
    }
    channel
}

/// Takes one connection up to the join, and hangs up; the key for a new seat.
async fn hang_up_on(listener: &TcpListener) -> SeatKey {
    let (stream, _) = listener.accept().await.unwrap();
    let mut channel = handshake::accept(stream, PATIENCE).await.unwrap();
    let join = channel.recv().await.unwrap().expect("a join");
    match join {
        ClientFrame::Join {
            key: None, new_key, ..
        } => new_key,
        other => panic!("{other:?}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn who_was_not_welcomed_asks_for_the_same_place_again_and_nowhere_else() {
    let first = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let second = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let _student = student_of_any(&[&first, &second]).await;
    let asked = hang_up_on(&first).await;
    assert_eq!(hang_up_on(&first).await, asked);
    drop(first);
    // Another host could take the seat with it.
    let elsewhere = tokio::time::timeout(PATIENCE, hang_up_on(&second));
    assert_ne!(elsewhere.await.expect("it asks there"), asked);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_floods_is_hung_up_on_with_a_word() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let student = student_of(&listener).await;
    let mut status = student.status();
    let flooding = tokio::spawn(async move {
        let mut channel = lets_in(&listener).await;
        let again = HostFrame::Lesson(ToStudent::HearAgain {
            call: CallId(1),
            start: Moment::default(),
        });
        let mut sent = 0_u64;
        while channel.send(&again).await.is_ok() {
            sent += 1;
        }
        // Kept, so that nobody comes in again.
        (listener, sent)
    });
    let too_much = |s: &Status| matches!(s, Status::Lost { why, .. } if why.contains("more than"));
    let why = until(&mut status, "hung up", too_much).await;
    assert!(why.to_string().contains("trying again in"), "{why}");
    let (_listener, sent) = flooding.await.unwrap();
    // Not before what a pause may gather was read.
    assert!(sent > 2000, "{sent}");
    // The terminal is not held up by it.
    let left = tokio::time::timeout(PATIENCE, student.leave()).await;
    left.expect("it leaves").unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_lets_in_and_hangs_up_is_not_asked_ever_faster() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let student = student_of(&listener).await;
    let mut let_in = 0;
    let hangs_up = async {
        loop {
            drop(lets_in(&listener).await);
            let_in += 1;
        }
    };
    let time = Duration::from_millis(2500);
    let stopped = tokio::time::timeout(time, hangs_up).await;
    assert!(stopped.is_err());
    // Waits of 0.1 s at least, each next one twice as long: the sixth time
    // comes after 3.1 s at the earliest.
    assert!((2..=5).contains(&let_in), "{let_in} times");
    let is_lost = |s: &Status| matches!(s, Status::Lost { .. });
    until(&mut student.status(), "lost", is_lost).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_knows_no_newcomer_s_place_is_not_asked_without_end() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let student = student_of(&listener).await;
    let broken = async {
        let refused = HostFrame::Lesson(ToStudent::Refused(Refusal::UnknownSeat));
        for asked in 0.. {
            let (stream, _) = listener.accept().await.unwrap();
            let mut channel = handshake::accept(stream, PATIENCE).await.unwrap();
            channel.recv().await.unwrap().expect("a join");
            channel.send(&refused).await.unwrap();
            assert!(asked < 10, "it is asked again at once");
        }
    };
    let mut status = student.status();
    let told = status.wait_for(|s| matches!(s, Status::Lost { why, .. } if why.contains("seat")));
    // The first waits are a fraction of a second and grow.
    let time = Duration::from_millis(1500);
    let (stopped, told) = tokio::join!(
        tokio::time::timeout(time, broken),
        tokio::time::timeout(PATIENCE, told)
    );
    assert!(stopped.is_err(), "the broken host goes on until then");
    assert!(told.is_ok(), "the student is told");
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_says_to_wait_for_a_lifetime_is_asked_again_within_minutes() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move {
        loop {
            let (stream, _) = listener.accept().await.unwrap();
            // Without the passphrase nobody can say more than this.
            let Ok((stream, _)) = secure::host(stream, &host_key()).await else {
                continue;
            };
            let channel = handshake::accept(stream, PATIENCE).await.unwrap();
            let mut lock: LockChannel<_> = channel.speaking();
            let name = "Broken".to_owned();
            lock.send(&LockReply::Lesson { name }).await.unwrap();
            lock.recv().await.unwrap().expect("an element");
            let seconds = u32::MAX;
            lock.send(&LockReply::Wait { seconds }).await.unwrap();
        }
    });
    let student = student("Ana", address).await;
    let waits = |s: &Status| matches!(s, Status::Lost { .. });
    let told = until(&mut student.status(), "told to wait", waits).await;
    let Status::Lost { retry_in, .. } = told else {
        panic!("{told}");
    };
    assert!(retry_in >= Duration::from_secs(60), "{retry_in:?}");
    assert!(retry_in <= Duration::from_secs(65), "{retry_in:?}");
}
