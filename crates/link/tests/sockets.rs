//! The handshake and the channel, over streams in memory and over loopback.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use fifthpeg_lesson::message::{FromStudent, Refusal, SeatKey, ToStudent};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::{
    HostChannel, Incoming, READ_BUFFER_BYTES, StudentChannel, host_socket,
};
use fifthpeg_link::connect::{NEXT_ADDRESS_AFTER, Way, connect_any};
use fifthpeg_link::handshake::{self, Speaks};
use fifthpeg_link::origin::OriginGate;
use fifthpeg_wire::{Bound as _, ClientFrame, ClientFrameBytes, HostFrame, UpdateSide, WireError};
use futures_util::SinkExt;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream, duplex};
use tokio::net::{TcpListener, TcpStream};
use tokio_tungstenite::tungstenite::Message;

const SOON: Duration = Duration::from_secs(5);

/// Two ends of a stream in memory, past the handshake.
async fn pair() -> (HostChannel<DuplexStream>, StudentChannel<DuplexStream>) {
    let (near, far) = duplex(64 * 1024);
    let (host, student) = tokio::join!(
        handshake::accept(near, SOON),
        handshake::connect(far, "hall:1", SOON)
    );
    (host.unwrap(), student.unwrap())
}

fn speaks(oldest: u16, newest: u16, program: &str) -> Speaks<'_> {
    Speaks {
        oldest,
        newest,
        program,
    }
}

#[tokio::test]
async fn frames_go_both_ways_and_a_goodbye_is_no_error() {
    let (mut host, student) = pair().await;
    let (mut say, mut hear) = student.split();
    let join = ClientFrame::Join {
        name: "Zoë".into(),
        key: None,
        new_key: SeatKey(1),
    };
    say.send(&join).await.unwrap();
    assert_eq!(host.recv().await.unwrap(), Some(join));
    let refused = HostFrame::Lesson(ToStudent::Refused(Refusal::Full(3)));
    host.send(&refused).await.unwrap();
    assert_eq!(hear.recv().await.unwrap(), Some(refused));
    say.close().await;
    assert!(host.recv().await.unwrap().is_none());
}

#[tokio::test]
async fn each_side_learns_which_of_the_two_is_too_old() {
    for (host, student, side) in [
        (
            speaks(3, 4, "2.0"),
            speaks(1, 2, "1.0"),
            UpdateSide::Student,
        ),
        (speaks(1, 2, "1.0"), speaks(3, 4, "2.0"), UpdateSide::Host),
    ] {
        let (near, far) = duplex(4096);
        let (at_host, at_student) = tokio::join!(
            handshake::accept_as(near, SOON, host),
            handshake::connect_as(far, "hall:1", SOON, student)
        );
        for e in [at_host.unwrap_err(), at_student.unwrap_err()] {
            let LinkError::Outdated {
                update,
                host: host_program,
                student: student_program,
            } = &e
            else {
                panic!("outdated, not {e}");
            };
            assert_eq!(*update, side);
            assert_eq!(
                (host_program.as_str(), student_program.as_str()),
                (host.program, student.program)
            );
            let whose = if side == UpdateSide::Host {
                "host's"
            } else {
                "student's"
            };
            assert!(
                e.to_string().ends_with(&format!("update the {whose}")),
                "{e}"
            );
        }
    }
    // Ranges that overlap agree.
    let (near, far) = duplex(4096);
    let (at_host, at_student) = tokio::join!(
        handshake::accept_as(near, SOON, speaks(1, 4, "1.4")),
        handshake::connect_as(far, "hall:1", SOON, speaks(3, 9, "1.9"))
    );
    assert!(at_host.is_ok() && at_student.is_ok());
}

#[tokio::test]
async fn strangers_are_told_apart_from_fifthpeg() {
    // A WebSocket that says something else.
    let (near, far) = duplex(4096);
    let stranger = async {
        let (mut socket, _) = tokio_tungstenite::client_async("ws://hall/", far)
            .await
            .unwrap();
        socket
            .send(Message::binary(b"hello there".to_vec()))
            .await
            .unwrap();
        socket
    };
    let (host, _socket) = tokio::join!(handshake::accept(near, SOON), stranger);
    assert!(matches!(host, Err(LinkError::Wire(WireError::NotFifthpeg))));

    // Not even a WebSocket.
    let (near, mut far) = duplex(4096);
    let (host, written) = tokio::join!(
        handshake::accept(near, SOON),
        far.write_all(b"\x16\x03\x01 nonsense\r\n\r\n")
    );
    written.unwrap();
    assert!(matches!(host, Err(LinkError::Socket(_))));

    // One that hangs up, and one that says nothing.
    let (near, far) = duplex(4096);
    drop(far);
    assert!(handshake::accept(near, SOON).await.is_err());
    let (near, _far) = duplex(4096);
    let started = Instant::now();
    let silent = handshake::accept(near, Duration::from_millis(80)).await;
    assert!(matches!(silent, Err(LinkError::TimedOut(_))));
    assert!(started.elapsed() < SOON);
}

#[tokio::test]
async fn a_frame_beyond_its_limit_ends_the_connection_before_it_is_held() {
    let (near, far) = duplex(1024 * 1024);
    let flood = async {
        let (mut socket, _) = tokio_tungstenite::client_async("ws://hall/", far)
            .await
            .unwrap();
        socket
            .send(Message::binary(vec![0; 512 * 1024]))
            .await
            .unwrap();
        socket
    };
    let gate = OriginGate::for_terminals();
    let (socket, _flooder) = tokio::join!(host_socket(near, &gate), flood);
    let mut socket = socket.unwrap();
    let got = futures_util::StreamExt::next(&mut socket).await;
    let Some(Err(e)) = got else {
        panic!("an error, not {got:?}");
    };
    assert!(e.to_string().contains("too long"), "{e}");
    let config = socket.get_config();
    assert_eq!(config.max_message_size, Some(ClientFrameBytes::LIMIT.most));
    assert_eq!(config.read_buffer_size, READ_BUFFER_BYTES);
    assert!(config.max_write_buffer_size < 256 * 1024);
}

#[tokio::test]
async fn text_and_nonsense_frames_are_refused() {
    let leave = ClientFrame::Lesson(FromStudent::Leave);
    let mut longer = fifthpeg_wire::encode_client(&leave).unwrap();
    longer.push(1);
    for (message, expected) in [
        (Message::text("hello"), "text instead of bytes"),
        (Message::binary(vec![0xFF; 8]), "makes no sense"),
        (Message::binary(longer), "1 bytes too long"),
    ] {
        let (near, far) = duplex(4096);
        let stranger = async {
            let mut socket = fifthpeg_link::channel::student_socket(far, "hall:1")
                .await
                .unwrap();
            let hello = fifthpeg_wire::encode_hello(&fifthpeg_wire::Hello::ours("1")).unwrap();
            socket.send(Message::binary(hello)).await.unwrap();
            socket.send(message).await.unwrap();
            socket
        };
        let (host, _socket) = tokio::join!(handshake::accept(near, SOON), stranger);
        let e = host.unwrap().recv().await.unwrap_err().to_string();
        assert!(e.contains(expected), "{e}");
    }
}

#[tokio::test]
async fn pings_are_told_to_who_counts_them() {
    let (near, far) = duplex(4096);
    let pinger = async {
        let mut socket = fifthpeg_link::channel::student_socket(far, "hall:1")
            .await
            .unwrap();
        let hello = fifthpeg_wire::encode_hello(&fifthpeg_wire::Hello::ours("1")).unwrap();
        socket.send(Message::binary(hello)).await.unwrap();
        let leave = fifthpeg_wire::encode_client(&ClientFrame::Lesson(FromStudent::Leave)).unwrap();
        for message in [
            Message::Ping(vec![1].into()),
            Message::Pong(vec![2].into()),
            Message::binary(leave),
        ] {
            socket.send(message).await.unwrap();
        }
        socket
    };
    let (host, _socket) = tokio::join!(handshake::accept(near, SOON), pinger);
    let (_sender, mut receiver) = host.unwrap().split();
    for expected in [
        Incoming::Ping,
        Incoming::Ping,
        Incoming::Frame(ClientFrame::Lesson(FromStudent::Leave)),
    ] {
        assert_eq!(receiver.hear().await.unwrap(), Some(expected));
    }
}

/// A host on loopback that accepts for ever.
async fn listening() -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(async move {
        let mut held = Vec::new();
        while let Ok((stream, _)) = listener.accept().await {
            if let Ok(channel) = handshake::accept(stream, SOON).await {
                held.push(channel);
            }
        }
    });
    address
}

/// An address where nobody listens.
async fn deserted() -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    listener.local_addr().unwrap()
}

/// An address that takes connections and never says a word.
async fn silent() -> (SocketAddr, TcpListener) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    (listener.local_addr().unwrap(), listener)
}

#[tokio::test]
async fn every_address_is_tried_and_a_dead_one_costs_little() {
    let alive = listening().await;
    let (mute, _kept) = silent().await;
    let started = Instant::now();
    let connected = connect_any(&[deserted().await, mute, alive], Way::Open, SOON)
        .await
        .unwrap();
    assert_eq!(connected.address, alive);
    assert!(
        started.elapsed() < NEXT_ADDRESS_AFTER * 4,
        "{:?}",
        started.elapsed()
    );
}

#[tokio::test]
async fn a_host_of_another_version_keeps_nobody_from_the_right_one() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let old = listener.local_addr().unwrap();
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            let refused = handshake::accept_as(stream, SOON, speaks(0, 0, "0.0.9")).await;
            assert!(matches!(refused, Err(LinkError::Outdated { .. })));
        }
    });
    let alive = listening().await;
    let connected = connect_any(&[old, alive], Way::Open, SOON).await.unwrap();
    assert_eq!(connected.address, alive);
    // Where nobody else answers, that is what it is.
    let e = connect_any(&[deserted().await, old, deserted().await], Way::Open, SOON).await;
    assert!(matches!(e, Err(LinkError::Outdated { .. })), "{e:?}");
}

#[tokio::test]
async fn when_none_answers_each_is_accounted_for() {
    let (mute, _kept) = silent().await;
    let dead = deserted().await;
    let wait = Duration::from_millis(120);
    let e = connect_any(&[dead, mute], Way::Open, wait)
        .await
        .unwrap_err()
        .to_string();
    assert!(
        e.contains(&dead.to_string()) && e.contains(&mute.to_string()),
        "{e}"
    );
    assert!(e.contains("no answer within 120 ms"), "{e}");
    assert!(matches!(
        connect_any(&[], Way::Open, wait).await,
        Err(LinkError::NoAddress)
    ));
}

#[tokio::test]
async fn a_student_that_does_not_read_is_held_back_and_not_buffered_without_end() {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let student = async {
        let stream = TcpStream::connect(address).await.unwrap();
        handshake::connect(stream, "hall:1", SOON).await.unwrap()
    };
    let host = async {
        let (stream, _) = listener.accept().await.unwrap();
        handshake::accept(stream, SOON).await.unwrap()
    };
    let (mut host, student) = tokio::join!(host, student);
    let frame = HostFrame::Lesson(ToStudent::Refused(Refusal::Reach("x".repeat(500))));
    // The system's own buffers take some megabytes; then sending waits.
    let flood = async {
        for _ in 0..200_000 {
            host.send(&frame).await.unwrap();
        }
    };
    assert!(
        tokio::time::timeout(Duration::from_secs(2), flood)
            .await
            .is_err(),
        "it waits"
    );
    drop(student);
}

#[tokio::test]
async fn a_host_reads_no_http_body() {
    let address = listening().await;
    let mut browser = TcpStream::connect(address).await.unwrap();
    browser
        .write_all(b"GET / HTTP/1.1\r\nHost: hall\r\n\r\n")
        .await
        .unwrap();
    let mut answer = Vec::new();
    let read = tokio::time::timeout(SOON, browser.read_to_end(&mut answer)).await;
    read.expect("the host hangs up").unwrap();
}
