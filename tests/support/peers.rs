//! Helpers for tests of what peers can do: limits, notices, connections of
//! one's own.

use std::net::SocketAddr;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use fifthpeg_host::{Counter, Host, HostConfig, Limits, Notice};
use fifthpeg_lesson::message::SeatKey;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, AtLock, Stream};
use fifthpeg_student::Student;
use fifthpeg_wire::ClientFrame;
use tokio::net::{TcpSocket, TcpStream};
use tokio::sync::broadcast;

use crate::net::{PATIENCE, on_loopback, passphrase, right_answer, setup, until};

/// A host on loopback with limits of its own.
pub async fn host_with(name: &str, limits: Limits) -> Host {
    let config = HostConfig {
        limits,
        ..on_loopback(setup(name))
    };
    fifthpeg_host::start(config).await.expect("the host starts")
}

/// Waits for a notice that fits.
///
/// # Panics
/// After [`PATIENCE`].
pub async fn notice(
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

/// How often a limit was met so far.
pub fn count(host: &Host, counter: Counter) -> u64 {
    let counts = host.counts();
    let found = counts.into_iter().find(|(c, _)| *c == counter);
    found.map_or(0, |(_, times)| times)
}

/// Waits until a limit was met so often.
///
/// # Panics
/// After [`PATIENCE`].
pub async fn counted(host: &Host, counter: Counter, times: u64) {
    let wait = async {
        while count(host, counter) < times {
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    };
    tokio::time::timeout(PATIENCE, wait)
        .await
        .unwrap_or_else(|_| panic!("{:?}", host.counts()));
}

/// The lesson still works for this student.
pub async fn goes_on(host: &Host, student: &Student) {
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

/// A bare connection with little room for what the host sends.
pub async fn bare(address: SocketAddr) -> TcpStream {
    let socket = TcpSocket::new_v4().unwrap();
    socket.set_recv_buffer_size(4096).unwrap();
    socket.connect(address).await.unwrap()
}

/// A connection of one's own at the lock of a lesson.
pub async fn at_lock(address: SocketAddr) -> AtLock<Stream> {
    let (stream, binding) = secure::student(bare(address).await).await.unwrap();
    let stream: Stream = Box::new(stream);
    let channel = handshake::connect(stream, &address.to_string(), PATIENCE)
        .await
        .unwrap();
    secure::reach_lock(channel, binding).await.unwrap()
}

/// A connection of one's own, past the lock.
pub async fn raw(address: SocketAddr) -> StudentChannel<Stream> {
    let lock = at_lock(address).await;
    lock.pass(passphrase().into()).await.unwrap().channel
}

/// A key for a new seat that no other join of this program has.
pub fn new_key() -> SeatKey {
    static MADE: AtomicU64 = AtomicU64::new(1);
    SeatKey(u128::from(MADE.fetch_add(1, Ordering::Relaxed)))
}

/// The same, joined.
pub async fn raw_joined(address: SocketAddr, name: &str) -> StudentChannel<Stream> {
    let mut channel = raw(address).await;
    let join = ClientFrame::Join {
        name: name.into(),
        key: None,
        new_key: new_key(),
    };
    channel.send(&join).await.unwrap();
    channel.recv().await.unwrap().expect("a welcome");
    channel
}
