//! What a network and its peers can do to a lesson: cut, stall, garble,
//! flood, speak another version. The lesson goes on for everyone else.

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_host::{Host, HostConfig, Limits, Notice};
use fifthpeg_lesson::marking::{Mark, Telling};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::handshake::{self, Speaks};
use fifthpeg_student::{Status, Student};
use fifthpeg_tests::net::{
    Forwarder, PATIENCE, host, joined, on_loopback, right_answer, setup, student, until,
};
use fifthpeg_wire::{ClientFrame, UpdateSide};
use tokio::io::AsyncWriteExt;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::broadcast;

async fn host_with(name: &str, limits: Limits) -> Host {
    let config = HostConfig {
        limits,
        ..on_loopback(setup(name))
    };
    fifthpeg_host::start(config).await.expect("the host starts")
}

/// Waits for a notice that fits.
async fn notice(
    notices: &mut broadcast::Receiver<Notice>,
    fits: impl Fn(&Notice) -> bool,
) -> Notice {
    let wait = async {
        loop {
            let notice = notices.recv().await.expect("the host runs");
            if fits(&notice) {
                return notice;
            }
        }
    };
    tokio::time::timeout(PATIENCE, wait)
        .await
        .expect("a notice")
}

/// The lesson still works for this student.
async fn goes_on(host: &Host, student: &Student) {
    host.order(HostOrder::CallRandom).await.unwrap();
    let number = host.view().borrow().call.as_ref().unwrap().id.0;
    until(&mut student.view(), "the call", |v| {
        v.call.as_ref().is_some_and(|c| c.number == number)
    })
    .await;
    let answer = right_answer(host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();
    until(&mut student.view(), "found", |v| {
        v.call
            .as_ref()
            .is_some_and(|c| c.number == number && c.found)
    })
    .await;
    host.order(HostOrder::Reveal).await.unwrap();
    host.order(HostOrder::Close).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_cut_connection_comes_back_with_its_place_and_its_answer() {
    let host = host(setup("Cut")).await;
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let student = student("Marta", way.address()).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "the call", |v| v.call.is_some()).await;

    way.cut();
    until(&mut student.view(), "alone", |v| !v.connected).await;
    until(&mut host.view(), "seen to be away", |v| {
        !v.students[0].connected
    })
    .await;
    let lost = until(&mut student.status(), "said to be lost", |s| {
        matches!(s, Status::Lost { .. })
    })
    .await;
    assert!(lost.to_string().contains("trying again in"), "{lost}");
    // Given while nobody hears it.
    let answer = right_answer(&host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();

    way.mend();
    until(&mut student.view(), "back and found", |v| {
        v.connected && v.call.as_ref().is_some_and(|c| c.found)
    })
    .await;
    let view = until(&mut host.view(), "the answer", |v| {
        v.students[0].connected && !v.students[0].answers.is_empty()
    })
    .await;
    assert_eq!(view.students.len(), 1, "the same place");
    assert_eq!(view.students[0].name, "Marta");
    assert_eq!(view.students[0].answers.len(), 1);
    assert_eq!(view.students[0].answers[0].mark, Mark::Right);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_whose_mark_was_lost_counts_once() {
    let host = host(setup("Deaf")).await;
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let student = student("Idris", way.address()).await;
    joined(&student).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    until(&mut student.view(), "the call", |v| v.call.is_some()).await;

    // The answer arrives, its mark does not.
    way.deafen();
    let answer = right_answer(&host);
    student.order(StudentOrder::Answer(answer)).await.unwrap();
    until(&mut host.view(), "the answer", |v| {
        v.students[0].answers.len() == 1
    })
    .await;
    assert_eq!(
        student.view().borrow().call.as_ref().unwrap().answers,
        [(answer, None)]
    );
    way.cut();
    until(&mut host.view(), "away", |v| !v.students[0].connected).await;
    way.mend();
    until(&mut student.view(), "marked", |v| {
        v.call
            .as_ref()
            .is_some_and(|c| c.answers == [(answer, Some(Mark::Right))])
    })
    .await;
    let view = host.view().borrow().clone();
    assert_eq!(view.students.len(), 1);
    assert_eq!(view.students[0].answers.len(), 1);
    assert_eq!(view.students[0].tally.found, 1);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dead_peer_is_noticed_and_comes_back() {
    let limits = Limits {
        silence: Duration::from_millis(4500),
        ..Limits::default()
    };
    let host = host_with("Silence", limits).await;
    let mut notices = host.notices();
    let way = Forwarder::to(host.local_addrs()[0]).await;
    let (quiet, other) = (
        student("Bo", way.address()).await,
        student("Ana", host.local_addrs()[0]).await,
    );
    joined(&quiet).await;
    joined(&other).await;
    // As when a laptop's lid is closed: nothing comes, nobody hangs up.
    way.stall();
    let told = notice(&mut notices, |n| matches!(n, Notice::Silent { .. })).await;
    assert!(told.to_string().contains("from Bo"), "{told}");
    until(&mut host.view(), "away", |v| {
        v.students.iter().any(|s| s.name == "Bo" && !s.connected)
    })
    .await;
    goes_on(&host, &other).await;
    way.mend();
    until(&mut host.view(), "back", |v| {
        v.students.iter().all(|s| s.connected)
    })
    .await;
    goes_on(&host, &quiet).await;
    assert_eq!(host.view().borrow().students.len(), 2);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_host_that_started_anew_takes_its_students_in_afresh() {
    let first = host(setup("First")).await;
    let way = Forwarder::to(first.local_addrs()[0]).await;
    let student = student("Marta", way.address()).await;
    joined(&student).await;
    way.cut();
    until(&mut student.view(), "alone", |v| !v.connected).await;
    drop(first);
    let second = host(setup("Second")).await;
    way.lead_to(second.local_addrs()[0]);
    way.mend();
    until(&mut student.view(), "in the second lesson", |v| {
        v.connected
            && v.welcome
                .as_ref()
                .is_some_and(|w| w.rules.lesson == "Second")
    })
    .await;
    goes_on(&second, &student).await;
    second.end().await.unwrap();
}

/// A connection of one's own, past the handshake.
async fn raw(address: SocketAddr) -> StudentChannel<TcpStream> {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(4096).unwrap();
    let stream = socket.connect(address).await.unwrap();
    handshake::connect(stream, &address.to_string(), PATIENCE)
        .await
        .unwrap()
}

async fn raw_joined(address: SocketAddr, name: &str) -> StudentChannel<TcpStream> {
    let mut channel = raw(address).await;
    let join = ClientFrame::Join {
        name: name.into(),
        key: None,
    };
    channel.send(&join).await.unwrap();
    channel.recv().await.unwrap().expect("a welcome");
    channel
}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_who_does_not_read_delays_nobody() {
    let limits = Limits {
        queue: 16,
        // Only the full queue is to be what drops it.
        silence: Duration::from_secs(600),
        write_within: Duration::from_secs(600),
        ..Limits::default()
    };
    let host = host_with("Stalled", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Ana", address).await;
    joined(&good).await;
    let stalled = raw_joined(address, "Bo").await;
    let mut view = good.view();
    let mut dropped = false;
    for round in 0..20_000 {
        let telling = if round % 2 == 0 {
            Telling::Verdict
        } else {
            Telling::Interval
        };
        host.order(HostOrder::SetTelling(telling)).await.unwrap();
        // The one who reads is told each time, while the other is stuck.
        until(&mut view, "the rule", |v| {
            v.welcome
                .as_ref()
                .is_some_and(|w| w.rules.telling == telling)
        })
        .await;
        if let Ok(notice) = notices.try_recv() {
            assert_eq!(notice, Notice::Slow { name: "Bo".into() });
            dropped = true;
            break;
        }
    }
    assert!(dropped, "nobody noticed that Bo does not read");
    let bo = host.view().borrow().students[1].clone();
    assert!(!bo.connected, "{bo:?}");
    goes_on(&host, &good).await;
    drop(stalled);
    host.end().await.unwrap();
}

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
        let hearing = ClientFrame::Hearing { call: 1 };
        while sender.send(&hearing).await.is_ok() {}
    });
    notice(&mut notices, |n| matches!(n, Notice::TooFast { .. })).await;
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
            let (stream, _) = listener.accept().await.unwrap();
            handshake::accept_as(stream, PATIENCE, speaks).await.err()
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

    let noise: Vec<u8> = (0..70_000_u32).map(|i| (i * 7919 >> 3) as u8).collect();
    let before_join: [&[u8]; 4] = [
        b"GET / HTTP/1.1\r\nHost: x\r\n\r\n",
        &noise,
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"",
    ];
    for bytes in before_join {
        let mut stream = TcpStream::connect(address).await.unwrap();
        // The host may hang up before all is written.
        let _ = stream.write_all(bytes).await;
        let told = notice(&mut notices, |n| matches!(n, Notice::NotJoined { .. })).await;
        assert!(told.to_string().contains("did not join"), "{told}");
        drop(stream);
    }
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
    early.send(&ClientFrame::Leave).await.unwrap();
    notice(
        &mut notices,
        |n| matches!(n, Notice::NotJoined { what, .. } if what.contains("before joining")),
    )
    .await;
    let mut odd = raw_joined(address, "Bo").await;
    let at = fifthpeg_wire::Answer::Pitch { midi: 200 };
    odd.send(&ClientFrame::Try { call: 1, at }).await.unwrap();
    let told = notice(&mut notices, |n| matches!(n, Notice::Confused { .. })).await;
    assert!(told.to_string().contains("Bo"), "{told}");

    for student in [&good, &late] {
        goes_on(&host, student).await;
    }
    host.end().await.unwrap();
}
