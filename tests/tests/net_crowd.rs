//! A crowd that guesses at the lock from two hundred addresses of one machine,
//! and newcomers with the right words beside it.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use fifthpeg_host::{Counter, Host, Limits};
use fifthpeg_link::LinkError;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, AtLock, Stream};
use fifthpeg_lock::{GuessLimits, Passphrase};
use fifthpeg_tests::net::{PATIENCE, joined, student};
use fifthpeg_tests::peers::{count, counted, goes_on, host_with};
use tokio::net::TcpSocket;
use tokio::task::JoinSet;

/// How the crowd takes being told to wait in line.
#[derive(Clone, Copy, PartialEq)]
enum Manners {
    /// It hangs up and comes again.
    HangsUp,
    /// It waits, and works as it is told to.
    Waits,
}

/// The lock of a lesson, reached from one of the crowd's addresses.
async fn at_lock_from(number: u8, address: SocketAddr) -> Result<AtLock<Stream>, LinkError> {
    let socket = TcpSocket::new_v4()?;
    socket.bind(SocketAddr::from(([127, 0, 1, number], 0)))?;
    let (stream, binding) = secure::student(socket.connect(address).await?).await?;
    let stream: Stream = Box::new(stream);
    let channel = handshake::connect(stream, &address.to_string(), PATIENCE).await?;
    secure::reach_lock(channel, binding).await
}

async fn guess(number: u8, address: SocketAddr, manners: Manners) -> Result<(), LinkError> {
    let lock = at_lock_from(number, address).await?;
    let wrong = Passphrase::typed("wrong one every time").expect("words");
    let guess = lock.pass(None, Some(wrong));
    match manners {
        Manners::Waits => guess.await.map(drop),
        Manners::HangsUp => tokio::time::timeout(Duration::from_secs(1), guess)
            .await
            .unwrap_or(Err(LinkError::HungUp))
            .map(drop),
    }
}

/// Forty guesses a second from two hundred addresses, until it is dropped.
fn crowd(address: SocketAddr, manners: Manners) -> JoinSet<()> {
    let mut crowd = JoinSet::new();
    for number in 1..=200 {
        crowd.spawn(async move {
            tokio::time::sleep(Duration::from_millis(25) * u32::from(number)).await;
            loop {
                let next = tokio::time::sleep(Duration::from_secs(5));
                let _ = guess(number, address, manners).await;
                next.await;
            }
        });
    }
    crowd
}

async fn newcomers_are_in(host: &Host, manners: Manners) {
    let address = host.local_addrs()[0];
    let began = Instant::now();
    let crowd = crowd(address, manners);
    // What may be looked at, at once, is used up.
    counted(host, Counter::GuessesWait, 1).await;
    let came = Instant::now();
    let mut newcomers = JoinSet::new();
    for name in ["Mia", "Ivo", "Ruth"] {
        newcomers.spawn(async move {
            let one = student(name, address).await;
            joined(&one).await;
            one
        });
    }
    let newcomers = newcomers.join_all().await;
    println!("3 of 3 in after {:.1} s", came.elapsed().as_secs_f64());
    goes_on(host, &newcomers[0]).await;
    let looked_at = count(host, Counter::WrongPassphrase);
    let most = GuessLimits::default().most_within(began.elapsed());
    assert!(looked_at <= most, "{looked_at} of {most}");
    drop(crowd);
}

#[tokio::test(flavor = "multi_thread")]
async fn newcomers_come_in_beside_a_crowd_that_guesses_and_hangs_up() {
    let host = host_with("Village hall", Limits::default()).await;
    newcomers_are_in(&host, Manners::HangsUp).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn newcomers_come_in_beside_a_crowd_that_keeps_to_the_line() {
    let host = host_with("Village hall", Limits::default()).await;
    newcomers_are_in(&host, Manners::Waits).await;
}
