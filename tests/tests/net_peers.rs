//! What peers can do to a lesson: garble, flood, speak another version. The
//! lesson goes on for everyone else.

use std::time::Duration;

use fifthpeg_host::{Counter, Limits, Notice};
use fifthpeg_link::LinkError;
use fifthpeg_link::handshake::{self, Speaks};
use fifthpeg_student::Status;
use fifthpeg_tests::net::{PATIENCE, host, joined, setup, student, until};
use fifthpeg_tests::peers::{counted, goes_on, host_with, notice, raw, raw_joined};
use fifthpeg_vocab::{CallId, FromStudent};
use fifthpeg_wire::{ClientFrame, UpdateSide};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

#[tokio::test(flavor = "multi_thread")]
async fn a_student_who_floods_is_read_slowly_and_delays_nobody() {
    let limits = Limits {
        frames_per_second: 20,
        burst: 10,
        ..Limits::default()
    };
    let host = host_with("Flood", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Ana", address).await;
    joined(&good).await;
    let flood = raw_joined(address, "Bo").await;
    let flooding = tokio::spawn(async move {
        let (mut sender, _receiver) = flood.split();
        let hearing = ClientFrame::Lesson(FromStudent::Hearing { call: CallId(1) });
        while sender.send(&hearing).await.is_ok() {}
    });
    notice(
        &mut notices,
        |n| matches!(n, Notice::TooFast { name } if name == "Bo"),
    )
    .await;
    for _ in 0..3 {
        goes_on(&host, &good).await;
    }
    flooding.abort();
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_older_or_newer_program_is_told_which_side_to_update() {
    let host = host(setup("Versions")).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    for (speaks, wanted) in [
        (
            Speaks {
                oldest: 0,
                newest: 0,
                program: "0.0.9",
            },
            UpdateSide::Student,
        ),
        (
            Speaks {
                oldest: 900,
                newest: 901,
                program: "90.0",
            },
            UpdateSide::Host,
        ),
    ] {
        let stream = TcpStream::connect(address).await.unwrap();
        let refused = handshake::connect_as(stream, &address.to_string(), PATIENCE, speaks).await;
        match refused {
            Err(LinkError::Outdated { update, .. }) => assert_eq!(update, wanted),
            other => panic!("{other:?}"),
        }
        let told = notice(&mut notices, |n| matches!(n, Notice::WrongVersion { .. })).await;
        assert!(told.to_string().contains(speaks.program), "{told}");
    }
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_terminal_says_when_the_host_is_too_old_or_too_new() {
    for (speaks, wanted) in [
        (
            Speaks {
                oldest: 0,
                newest: 0,
                program: "0.0.9",
            },
            "update the host's",
        ),
        (
            Speaks {
                oldest: 900,
                newest: 901,
                program: "90.0",
            },
            "update the student's",
        ),
    ] {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let other_host = tokio::spawn(async move {
            // First the terminal comes encrypted, and then to see what is wrong.
            loop {
                let (stream, _) = listener.accept().await.unwrap();
                let refused = handshake::accept_as(stream, PATIENCE, speaks).await;
                if let Err(e @ LinkError::Outdated { .. }) = refused {
                    return Some(e);
                }
            }
        });
        let student = student("Marta", address).await;
        let status = until(&mut student.status(), "an end", Status::is_final).await;
        assert!(matches!(status, Status::TooOld { .. }), "{status:?}");
        assert!(status.to_string().contains(wanted), "{status}");
        assert!(matches!(
            other_host.await.unwrap(),
            Some(LinkError::Outdated { .. })
        ));
        student.leave().await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn garbage_is_dropped_and_the_lesson_goes_on() {
    let limits = Limits {
        join_within: Duration::from_millis(700),
        joining: 4,
        ..Limits::default()
    };
    let host = host_with("Garbage", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Ana", address).await;
    joined(&good).await;

    let noise: Vec<u8> = (0..70_000_u32).map(|i| ((i * 7919) >> 3) as u8).collect();
    let before_join: [&[u8]; 4] = [
        // As a mail server is greeted: whoever gets a page asks for it in HTTP.
        b"EHLO hall.example\r\n\r\n",
        &noise,
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"",
    ];
    for (done, bytes) in before_join.into_iter().enumerate() {
        let mut stream = TcpStream::connect(address).await.unwrap();
        // The host may hang up before all is written.
        let _ = stream.write_all(bytes).await;
        // Each is counted; what is the same again is not told again.
        counted(&host, Counter::NotJoined, done as u64 + 1).await;
        drop(stream);
    }
    let told = notice(&mut notices, |n| matches!(n, Notice::NotJoined { .. })).await;
    assert!(told.to_string().contains("did not join"), "{told}");
    // More silent peers than may be joining at once: a terminal still gets in
    // once they have had their time.
    let mut silent = Vec::new();
    for _ in 0..12 {
        silent.push(TcpStream::connect(address).await.unwrap());
    }
    let late = student("Ben", address).await;
    joined(&late).await;
    drop(silent);

    // A terminal that speaks before it joined, and one that joined and then
    // sends what cannot be.
    let mut early = raw(address).await;
    early
        .send(&ClientFrame::Lesson(FromStudent::Leave))
        .await
        .unwrap();
    notice(
        &mut notices,
        |n| matches!(n, Notice::NotJoined { what, .. } if what.contains("before joining")),
    )
    .await;
    let mut odd = raw_joined(address, "Bo").await;
    odd.send(&ClientFrame::Lesson(FromStudent::Sung {
        call: CallId(1),
        frequency_hz: f64::NAN,
        spread_cents: 0.0,
    }))
    .await
    .unwrap();
    let told = notice(&mut notices, |n| matches!(n, Notice::Confused { .. })).await;
    assert!(told.to_string().contains("Bo"), "{told}");

    for student in [&good, &late] {
        goes_on(&host, student).await;
    }
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn who_fills_the_doorway_is_told_of_and_keeps_nobody_out_for_long() {
    let limits = Limits {
        join_within: Duration::from_millis(700),
        joining_from_here: 3,
        ..Limits::default()
    };
    let host = host_with("Admission", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let mut silent = Vec::new();
    for _ in 0..3 {
        silent.push(TcpStream::connect(address).await.unwrap());
    }
    let mut one_more = TcpStream::connect(address).await.unwrap();
    let mut nothing = [0; 1];
    let turned_away = tokio::time::timeout(limits.join_within / 2, one_more.read(&mut nothing));
    let turned_away = turned_away.await.expect("turned away at once");
    assert!(!matches!(turned_away, Ok(1..)), "{turned_away:?}");
    let told = notice(&mut notices, |n| matches!(n, Notice::TooManyJoining { .. })).await;
    assert!(told.to_string().contains("127.0.0.1"), "{told}");
    // Those who are in stand in nobody's way.
    let mut terminals = Vec::new();
    for i in 0..6 {
        terminals.push(student(&format!("Ana {i}"), address).await);
    }
    for terminal in &terminals {
        joined(terminal).await;
    }
    host.end().await.unwrap();
}
