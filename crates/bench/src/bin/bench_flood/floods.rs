//! The floods. Each runs until its process is killed.

use std::net::SocketAddr;
use std::time::Duration;

use fifthpeg_lesson::message::SeatKey;
use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::handshake;
use fifthpeg_link::secure::{self, Stream};
use fifthpeg_lock::Passphrase;
use fifthpeg_vocab::{FromStudent, Moment};
use fifthpeg_wire::ClientFrame;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use crate::Failure;

/// The word that makes this program a flood.
pub const FLOOD: &str = "flood";

/// The variable that says that the lesson is locked.
pub const LOCKED: &str = "FIFTHPEG_BENCH_LOCKED";

/// The passphrase of the class.
pub const PASSPHRASE: &str = "velvet harbour maple";

/// Peers that flood side by side.
const PEERS: usize = 64;
/// Of these, how many join where joining is needed.
const JOINED: usize = 30;
const WITHIN: Duration = Duration::from_secs(5);

/// One kind of flood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flood {
    /// None: only keeps the processors busy.
    Busy,
    /// Connections opened and closed.
    Connections,
    /// Connections opened and kept, that say nothing.
    Idle,
    /// Connections with noise.
    Garbage,
    /// Handshakes, each to its end, and no join.
    Handshakes,
    /// Wrong passphrases; only where the lesson is locked.
    Guesses,
    /// Joins under ever new names, each left at once.
    Joins,
    /// Students who send frames as fast as they are taken.
    Frames,
    /// Students who ask for much and read nothing.
    SlowReaders,
}

impl Flood {
    pub const ALL: [Flood; 9] = [
        Flood::Busy,
        Flood::Connections,
        Flood::Idle,
        Flood::Garbage,
        Flood::Handshakes,
        Flood::Guesses,
        Flood::Joins,
        Flood::Frames,
        Flood::SlowReaders,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Flood::Busy => "busy",
            Flood::Connections => "connections",
            Flood::Idle => "idle",
            Flood::Garbage => "garbage",
            Flood::Handshakes => "handshakes",
            Flood::Guesses => "guesses",
            Flood::Joins => "joins",
            Flood::Frames => "frames",
            Flood::SlowReaders => "slow-readers",
        }
    }

    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.word() == word)
    }

    pub fn title(self) -> &'static str {
        match self {
            Flood::Busy => "no flood, but busy processors",
            Flood::Connections => "connections opened and closed",
            Flood::Idle => "connections that say nothing",
            Flood::Garbage => "connections with noise",
            Flood::Handshakes => "handshakes without a join",
            Flood::Guesses => "wrong passphrases",
            Flood::Joins => "joins under ever new names",
            Flood::Frames => "30 students who send without pause",
            Flood::SlowReaders => "30 students who ask and do not read",
        }
    }

    pub async fn run(self, address: SocketAddr) -> Result<(), Failure> {
        match self {
            Flood::Busy => loop {
                tokio::task::yield_now().await;
            },
            Flood::Frames => joined(address, frames).await,
            Flood::SlowReaders => joined(address, slow).await,
            other => {
                for _ in 0..PEERS {
                    tokio::spawn(async move {
                        let mut number = 0_u64;
                        loop {
                            number += 1;
                            // Whatever the host does about it, once more.
                            let _ = other.once(address, number).await;
                        }
                    });
                }
                std::future::pending().await
            }
        }
    }

    async fn once(self, address: SocketAddr, number: u64) -> Result<(), Failure> {
        let mut stream = TcpStream::connect(address).await?;
        match self {
            Flood::Connections => {}
            Flood::Idle => {
                // Until the host has had enough.
                let mut nothing = [0; 64];
                while stream.read(&mut nothing).await? > 0 {}
            }
            Flood::Garbage => {
                let noise: Vec<u8> = (0..4096_u64).map(|i| ((i * number) >> 3) as u8).collect();
                while stream.write_all(&noise).await.is_ok() {}
            }
            Flood::Handshakes => {
                if is_locked() {
                    at_lock(stream, address).await?;
                } else {
                    handshake::connect(stream, &address.to_string(), WITHIN).await?;
                }
            }
            Flood::Guesses => {
                let wrong = Passphrase::typed("wrong one every time")?;
                at_lock(stream, address).await?.pass(wrong.into()).await?;
            }
            Flood::Joins => {
                let mut channel = enter(stream, address).await?;
                let name = format!("Flood {:x}", number ^ u64::from(std::process::id()) << 20);
                channel.send(&join_frame(&name)?).await?;
                channel.recv().await?;
                channel
                    .send(&ClientFrame::Lesson(FromStudent::Leave))
                    .await?;
            }
            Flood::Busy | Flood::Frames | Flood::SlowReaders => {}
        }
        Ok(())
    }
}

/// Students who misbehave; one who is thrown out comes back.
async fn joined<F, R>(address: SocketAddr, misbehave: F) -> Result<(), Failure>
where
    F: Fn(StudentChannel<Stream>) -> R + Copy + Send + 'static,
    R: Future<Output = ()> + Send,
{
    for i in 0..JOINED {
        tokio::spawn(async move {
            loop {
                if let Ok(channel) = join(address, &format!("Flood {i}")).await {
                    misbehave(channel).await;
                }
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
        });
    }
    std::future::pending().await
}

async fn join(address: SocketAddr, name: &str) -> Result<StudentChannel<Stream>, Failure> {
    let stream = TcpStream::connect(address).await?;
    let mut channel = enter(stream, address).await?;
    channel.send(&join_frame(name)?).await?;
    channel.recv().await?;
    Ok(channel)
}

fn join_frame(name: &str) -> Result<ClientFrame, Failure> {
    let half = || getrandom::u64().map(u128::from);
    Ok(ClientFrame::join(
        name,
        None,
        SeatKey(half()? << 64 | half()?),
    ))
}

/// Whether the lesson is locked: floods are started with this in their
/// environment.
pub fn is_locked() -> bool {
    std::env::var_os(LOCKED).is_some()
}

async fn at_lock(
    stream: TcpStream,
    address: SocketAddr,
) -> Result<secure::AtLock<Stream>, Failure> {
    let (stream, binding) = secure::student(stream).await?;
    let stream: Stream = Box::new(stream);
    let channel = handshake::connect(stream, &address.to_string(), WITHIN).await?;
    Ok(secure::reach_lock(channel, binding).await?)
}

/// To where a join may be said.
pub async fn enter(
    stream: TcpStream,
    address: SocketAddr,
) -> Result<StudentChannel<Stream>, Failure> {
    if is_locked() {
        let lock = at_lock(stream, address).await?;
        let passed = lock.pass(Passphrase::typed(PASSPHRASE)?.into()).await?;
        return Ok(passed.channel);
    }
    let stream: Stream = Box::new(stream);
    Ok(handshake::connect(stream, &address.to_string(), WITHIN).await?)
}

/// Sends what is written down, as fast as it is taken, and reads what comes.
async fn frames(channel: StudentChannel<Stream>) {
    let (mut sender, mut receiver) = channel.split();
    let reading = tokio::spawn(async move { while let Ok(Some(_)) = receiver.recv().await {} });
    let mut call = 0_u32;
    while sender
        .send(&ClientFrame::Lesson(FromStudent::Hearing {
            call: fifthpeg_vocab::CallId(call),
        }))
        .await
        .is_ok()
    {
        call = call.wrapping_add(1) % 64;
    }
    reading.abort();
}

/// Asks for the clock as fast as it is taken, and reads nothing.
async fn slow(channel: StudentChannel<Stream>) {
    let (mut sender, receiver) = channel.split();
    while sender
        .send(&ClientFrame::ClockAsk { t1: Moment(1) })
        .await
        .is_ok()
    {}
    drop(receiver);
}
