//! Floods against a real host: behaviour and memory, not speed. What a peer
//! does beyond the limits is turned away, counted and told of in few lines; the
//! students who are in go on; the host's memory stays below what its limits
//! allow.

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_host::bounds::PER_CONNECTION_BYTES;
use fifthpeg_host::engine::MESSAGES_PER_CALL;
use fifthpeg_host::{Counter, Limits, Notice, RateLimit};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_link::secure;
use fifthpeg_tests::net::{joined, student};
use fifthpeg_tests::peers::{bare, count, counted, goes_on, host_with, notice, raw_joined};
use fifthpeg_vocab::{CallId, FromStudent, Moment};
use fifthpeg_wire::ClientFrame;
use tokio::io::AsyncReadExt;
use tokio::net::{TcpSocket, TcpStream};

/// This process's resident memory in bytes (proc(5)); the host is in it.
fn resident() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    let kb = line.expect("a figure").trim().trim_end_matches(" kB");
    kb.trim().parse::<u64>().expect("a number") * 1024
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flood_of_connections_is_turned_away_counted_and_summed() {
    let limits = Limits {
        arrivals_from_here: RateLimit {
            per_second: 5,
            burst: 20,
        },
        ..Limits::default()
    };
    let host = host_with("Flood of connections", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    for _ in 0..2000 {
        // The host hangs up; how the system tells of it differs.
        if let Ok(mut stream) = TcpStream::connect(address).await {
            let _ = stream.read(&mut [0; 1]).now_or_soon().await;
        }
    }
    assert!(count(&host, Counter::TooSoon) + count(&host, Counter::TooManyJoining) > 1000);
    let mut lines = 0;
    while notices.try_recv().is_ok() {
        lines += 1;
    }
    assert!(lines < 40, "{lines} lines");
    goes_on(&host, &good).await;
    // Sooner or later the rest is told as a sum.
    let sum = notice(&mut notices, |n| matches!(n, Notice::More { .. })).await;
    assert!(sum.to_string().contains("more times"), "{sum}");
    host.end().await.unwrap();
}

/// Gives a read a moment, so that the flood does not wait for connections that
/// the host keeps.
trait NowOrSoon: Future + Sized {
    async fn now_or_soon(self) -> Option<Self::Output> {
        tokio::time::timeout(Duration::from_millis(2), self)
            .await
            .ok()
    }
}

impl<F: Future> NowOrSoon for F {}

#[tokio::test(flavor = "multi_thread")]
async fn a_student_can_only_say_so_much_in_one_call() {
    let limits = Limits {
        frames_per_second: 100_000,
        burst: 100_000,
        ..Limits::default()
    };
    let host = host_with("Too much", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    host.order(HostOrder::CallRandom).await.unwrap();
    let mut flood = raw_joined(address, "Ben").await;
    let beyond = 500_u32;
    for _ in 0..MESSAGES_PER_CALL + beyond {
        let hearing = ClientFrame::Lesson(FromStudent::Hearing { call: CallId(1) });
        flood.send(&hearing).await.unwrap();
    }
    notice(
        &mut notices,
        |n| matches!(n, Notice::TooMuch { name } if name == "Ben"),
    )
    .await;
    counted(&host, Counter::TooMuch, beyond.into()).await;
    assert_eq!(count(&host, Counter::TooMuch), u64::from(beyond));
    // Each hearing is one of them; joining late takes none. The view is drawn a moment after.
    let mut view = host.view();
    let all = view.wait_for(|view| {
        let ben = view.students.iter().find(|s| s.name == "Ben");
        ben.expect("here").tally.hearings == MESSAGES_PER_CALL
    });
    let all = tokio::time::timeout(Duration::from_secs(30), all).await;
    assert!(all.is_ok_and(|seen| seen.is_ok()), "every hearing counts");
    host.order(HostOrder::Close).await.unwrap();
    goes_on(&host, &good).await;
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn students_who_do_not_read_cost_no_more_than_the_limits_say() {
    let students = 60;
    let limits = Limits {
        write_within: Duration::from_secs(2),
        ..Limits::default()
    };
    let host = host_with("Slow readers", limits).await;
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    let before = resident();
    let mut slow = Vec::new();
    for i in 0..students {
        slow.push(raw_joined(address, &format!("Slow {i}")).await);
    }
    for _ in 0..40 {
        // Each asks; nobody but Mia reads.
        for channel in &mut slow {
            let ask = ClientFrame::ClockAsk { t1: Moment(1) };
            let _ = tokio::time::timeout(Duration::from_millis(1), channel.send(&ask)).await;
        }
        host.order(HostOrder::CallRandom).await.unwrap();
        host.order(HostOrder::Reveal).await.unwrap();
        host.order(HostOrder::Close).await.unwrap();
    }
    let grown = resident().saturating_sub(before);
    let most = u64::try_from(students * PER_CONNECTION_BYTES).unwrap();
    assert!(grown < most, "{grown} bytes; {most} at most");
    goes_on(&host, &good).await;
    drop(slow);
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_crowd_of_silent_connections_costs_little_and_keeps_no_student_out() {
    let limits = Limits {
        join_within: Duration::from_millis(700),
        joining_from_here: 64,
        joining: 64,
        ..Limits::default()
    };
    let host = host_with("Thousands", limits).await;
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    let before = resident();
    let mut crowd = Vec::new();
    for _ in 0..1500 {
        // Each takes two file handles here, one of them the host's.
        // Nor does the system keep as many waiting as one likes.
        if let Some(Ok(stream)) = TcpStream::connect(address).now_or_soon().await {
            crowd.push(stream);
        }
    }
    assert!(crowd.len() > 200, "{}", crowd.len());
    goes_on(&host, &good).await;
    let grown = resident().saturating_sub(before);
    // Only those at the door cost the host anything, and this test's own
    // sockets a little.
    let most = (64 * PER_CONNECTION_BYTES + crowd.len() * 4096) as u64;
    assert!(grown < most, "{grown} bytes; {most} at most");
    drop(crowd);
    let late = student("Ruth", address).await;
    joined(&late).await;
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn strangers_who_fill_the_doorway_keep_no_machine_from_coming_back() {
    let limits = Limits {
        joining: 8,
        joining_known: 2,
        waiting: 20,
        joining_from_here: 4,
        // Longer than the test waits for anything.
        join_within: Duration::from_secs(120),
        ..Limits::default()
    };
    let host = host_with("Strangers", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    let mut crowd = Vec::new();
    for n in 0..40_u8 {
        let socket = TcpSocket::new_v4().expect("a socket");
        let from = SocketAddr::from(([127, 0, 0, 100 + n / 4], 0));
        socket.bind(from).expect("an address of this machine");
        crowd.push(socket.connect(address).await.expect("a connection"));
    }
    // Thirty-two find it full: twenty of them wait, the others are sent away.
    counted(&host, Counter::JoinersWait, 32).await;
    let told = notice(&mut notices, |n| matches!(n, Notice::JoinersWait { .. })).await;
    assert!(told.to_string().contains('8'), "{told}");
    // From the machine that Mia is known by.
    let late = student("Ruth", address).await;
    joined(&late).await;
    goes_on(&host, &good).await;
    // Who leaves makes room, and the crowd is through.
    drop(crowd);
    let later = student("Ben", address).await;
    joined(&later).await;
    host.end().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_crowd_that_opens_encryption_at_once_is_worked_for_in_turn_and_told_of() {
    let limits = Limits {
        waiting_for_keys: 1,
        ..Limits::default()
    };
    let host = host_with("A crowd with keys", limits).await;
    let mut notices = host.notices();
    let address = host.local_addrs()[0];
    let good = student("Mia", address).await;
    joined(&good).await;
    assert_eq!(count(&host, Counter::KeysWait), 0);
    let crowd: Vec<_> = (0..limits.joining_from_here)
        .map(|_| tokio::spawn(async move { secure::student(bare(address).await).await }))
        .collect();
    // Nobody is turned away for it.
    for one in crowd {
        one.await.unwrap().expect("a secure channel");
    }
    counted(&host, Counter::KeysWait, 1).await;
    let told = notice(&mut notices, |n| matches!(n, Notice::KeysWait { .. })).await;
    assert!(told.to_string().contains("one after the other"), "{told}");
    goes_on(&host, &good).await;
    host.end().await.unwrap();
}
