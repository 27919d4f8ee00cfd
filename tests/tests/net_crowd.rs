//! A crowd that guesses at the lock from two hundred addresses of one machine,
//! and newcomers with the right words beside it.

use std::collections::VecDeque;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use fifthpeg_host::{Counter, Host, Limits};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::Channel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, Stream};
use fifthpeg_lock::{GuessLimits, LineLimits, Passphrase, Puzzle, StudentLock, StudentStep};
use fifthpeg_tests::net::{PATIENCE, joined, student};
use fifthpeg_tests::peers::{count, counted, goes_on, host_with};
use fifthpeg_wire::{LockAsk, LockReply};
use tokio::net::TcpSocket;
use tokio::sync::mpsc;
use tokio::task::JoinSet;

/// How the crowd takes being told to wait in line.
#[derive(Clone, Copy, PartialEq)]
enum Manners {
    /// It hangs up and comes again.
    HangsUp,
    /// It waits, and works as it is told to.
    Waits,
}

/// One that waits in line: what it works at, from where on, and whom to tell.
type Waiting = (Puzzle, u64, mpsc::Sender<Vec<u64>>);

/// The crowd is one machine: what works for all its guesses is one thread, which
/// goes from one to the next.
#[derive(Clone, Default)]
struct Machine(Arc<Mutex<VecDeque<Waiting>>>);

impl Machine {
    fn new() -> Self {
        let machine = Self::default();
        let waiting = Arc::downgrade(&machine.0);
        std::thread::spawn(move || {
            while let Some(waiting) = waiting.upgrade() {
                let next = waiting.lock().unwrap().pop_front();
                let Some((puzzle, from, tell)) = next else {
                    std::thread::sleep(Duration::from_millis(5));
                    continue;
                };
                let found = puzzle.shares(from, 4096);
                if !tell.is_closed() && (found.is_empty() || tell.try_send(found).is_ok()) {
                    let on = (puzzle, from + 4096, tell);
                    waiting.lock().unwrap().push_back(on);
                }
            }
        });
        machine
    }

    fn works_at(&self, puzzle: Puzzle) -> mpsc::Receiver<Vec<u64>> {
        let (tell, found) = mpsc::channel(64);
        self.0.lock().unwrap().push_back((puzzle, 0, tell));
        found
    }
}

/// One wrong guess from one of the crowd's addresses, until the host has looked
/// at it or will not.
async fn guess(number: u8, address: SocketAddr, machine: Machine) -> Result<(), LinkError> {
    let socket = TcpSocket::new_v4()?;
    socket.bind(SocketAddr::from(([127, 0, 1, number], 0)))?;
    let (stream, binding) = secure::student(socket.connect(address).await?).await?;
    let stream: Stream = Box::new(stream);
    let channel = handshake::connect(stream, &address.to_string(), PATIENCE).await?;
    let mut channel: Channel<Stream, LockAsk, LockReply> = channel.speaking();
    let Some(LockReply::Lesson { name }) = channel.recv().await? else {
        panic!("no lesson's name");
    };
    let wrong = Passphrase::typed("wrong one every time").expect("words");
    let begun = StudentLock::begin(wrong.into(), (binding, &name), secure::chance());
    let (mut lock, ask) = begun.expect("a guess");
    channel.send(&ask).await?;
    let mut found: Option<mpsc::Receiver<Vec<u64>>> = None;
    loop {
        let work = async {
            match &mut found {
                Some(found) => found.recv().await,
                None => std::future::pending().await,
            }
        };
        let reply = tokio::select! {
            reply = channel.recv() => reply?.ok_or(LinkError::HungUp)?,
            Some(shares) = work => {
                channel.send(&LockAsk::Work { shares }).await?;
                continue;
            }
        };
        match lock.handle(reply, secure::chance())? {
            StudentStep::Say(ask) => channel.send(&ask).await?,
            StudentStep::Work { puzzle, .. } => found = Some(machine.works_at(puzzle)),
            StudentStep::Through => panic!("a wrong guess is let in"),
        }
    }
}

/// Forty guesses a second from two hundred addresses, until it is dropped.
fn crowd(address: SocketAddr, manners: Manners) -> JoinSet<()> {
    let machine = Machine::new();
    let mut crowd = JoinSet::new();
    for number in 1..=200 {
        let machine = machine.clone();
        crowd.spawn(async move {
            tokio::time::sleep(Duration::from_millis(25) * u32::from(number)).await;
            loop {
                let next = tokio::time::sleep(Duration::from_secs(5));
                let guess = guess(number, address, machine.clone());
                let patience = match manners {
                    Manners::HangsUp => Duration::from_secs(1),
                    Manners::Waits => PATIENCE,
                };
                let _ = tokio::time::timeout(patience, guess).await;
                next.await;
            }
        });
    }
    crowd
}

/// The usual ones, with work for programs that are not optimised.
fn limits() -> Limits {
    Limits {
        line: LineLimits {
            zero_bits: 12,
            ..LineLimits::default()
        },
        ..Limits::default()
    }
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
    let host = host_with("Village hall", limits()).await;
    newcomers_are_in(&host, Manners::HangsUp).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn newcomers_come_in_beside_a_crowd_that_keeps_to_the_line() {
    let host = host_with("Village hall", limits()).await;
    newcomers_are_in(&host, Manners::Waits).await;
}
