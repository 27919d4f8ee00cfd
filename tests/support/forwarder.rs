//! A piece of network between a student and a host, which can break.
//!
//! It forwards a TCP stream, so nothing is ever missing from it or out of order:
//! a lost packet shows as a wait for its retransmission, for itself and all that
//! comes behind it. A stream that is cut loses what was on its way.

use std::net::SocketAddr;
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;

/// The most bytes handed on at once: what one packet of Ethernet carries.
const PACKET_BYTES: usize = 1460;
/// Packets that may be on their way.
const ON_THE_WAY: usize = 256;
/// How long until a lost packet is sent again, doubled each time it is lost once
/// more (RFC 6298 section 5.5). Linux takes 200 ms at least, the RFC a second;
/// from memory.
const SENT_AGAIN: Duration = Duration::from_millis(200);
/// How often one packet is lost at most.
const MOST_LOSSES: u32 = 4;

/// What one way does to what is sent over it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lane {
    /// How long it takes.
    pub delay: Duration,
    /// How much longer by chance, up to this.
    pub jitter: Duration,
    /// The share of packets that are lost, 0 to 1, and so come late.
    pub loss: f64,
}

impl Lane {
    /// One that takes this long.
    pub fn delayed(delay: Duration) -> Self {
        Self {
            delay,
            ..Self::default()
        }
    }

    /// When a packet sent now arrives.
    fn arrival(&self, dice: &mut Dice) -> Instant {
        let mut after = self.delay + self.jitter.mul_f64(dice.part());
        let mut again = SENT_AGAIN;
        for _ in 0..MOST_LOSSES {
            if dice.part() >= self.loss {
                break;
            }
            after += again;
            again *= 2;
        }
        Instant::now() + after
    }
}

/// Which way.
#[derive(Debug, Clone, Copy)]
enum Way {
    /// From students to the host.
    There,
    /// From the host to students.
    Back,
}

/// How a forwarder is just now; by [`Way`] where there are two.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Condition {
    lanes: [Lane; 2],
    /// Nothing passes and nothing is read; connections stay up.
    stalled: [bool; 2],
    /// Connections are cut and new ones refused.
    cut: bool,
}

/// A piece of network between a student and a host, which can break.
pub struct Forwarder {
    address: SocketAddr,
    condition: watch::Sender<Condition>,
    host: watch::Sender<SocketAddr>,
    task: tokio::task::JoinHandle<()>,
}

impl Forwarder {
    /// Leads to `host`.
    pub async fn to(host: SocketAddr) -> Self {
        Self::delayed(host, Duration::ZERO).await
    }

    /// Leads to `host`, and takes this long each way.
    pub async fn delayed(host: SocketAddr, delay: Duration) -> Self {
        let here = SocketAddr::from(([127, 0, 0, 1], 0));
        let forwarder = Self::at(here, host).await;
        forwarder.set(Lane::delayed(delay), Lane::delayed(delay));
        forwarder
    }

    /// Leads from this address to `host`.
    ///
    /// # Panics
    /// If the address is taken.
    pub async fn at(here: SocketAddr, host: SocketAddr) -> Self {
        let listener = TcpListener::bind(here).await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let (condition, watching) = watch::channel(Condition::default());
        let (host, leads_to) = watch::channel(host);
        let task = tokio::spawn(async move {
            for seed in 1.. {
                let Ok((near, _)) = listener.accept().await else {
                    return;
                };
                if watching.borrow().cut {
                    continue;
                }
                let (host, watching) = (*leads_to.borrow(), watching.clone());
                tokio::spawn(async move {
                    if let Ok(far) = TcpStream::connect(host).await {
                        forward(near, far, watching, seed).await;
                    }
                });
            }
        });
        Self {
            address,
            condition,
            host,
            task,
        }
    }

    /// Where students connect to.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Leads new connections to another host.
    pub fn lead_to(&self, host: SocketAddr) {
        self.host.send_replace(host);
    }

    /// From here on it is so from students to the host, and so back.
    pub fn set(&self, there: Lane, back: Lane) {
        self.condition.send_modify(|c| c.lanes = [there, back]);
    }

    /// Cuts every connection, and refuses new ones.
    pub fn cut(&self) {
        self.condition.send_modify(|c| c.cut = true);
    }

    /// Lets nothing through, without telling either end.
    pub fn stall(&self) {
        self.condition.send_modify(|c| c.stalled = [true, true]);
    }

    /// Lets pass what students say, and nothing of what the host says.
    pub fn deafen(&self) {
        self.condition
            .send_modify(|c| c.stalled[Way::Back as usize] = true);
    }

    /// Lets pass what the host says, and nothing of what students say.
    pub fn mute(&self) {
        self.condition
            .send_modify(|c| c.stalled[Way::There as usize] = true);
    }

    /// Works again, as fast or slow as it was.
    pub fn mend(&self) {
        self.condition.send_modify(|c| {
            c.cut = false;
            c.stalled = [false, false];
        });
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.task.abort();
    }
}

/// Forwards both ways until both have ended, or the connection is cut.
async fn forward(
    near: TcpStream,
    far: TcpStream,
    condition: watch::Receiver<Condition>,
    seed: u64,
) {
    // Whatever waits here is to be on purpose.
    for stream in [&near, &far] {
        let _ = stream.set_nodelay(true);
    }
    let (near_read, near_write) = near.into_split();
    let (far_read, far_write) = far.into_split();
    let mut cut = condition.clone();
    let lanes = async {
        tokio::try_join!(
            pump(
                near_read,
                far_write,
                condition.clone(),
                Way::There,
                seed * 2
            ),
            pump(far_read, near_write, condition, Way::Back, seed * 2 + 1),
        )
    };
    tokio::select! {
        // An end that broke shows to the other as the end.
        _ = lanes => {}
        _ = cut.wait_for(|c| c.cut) => {}
    }
}

/// Forwards one way to its end.
async fn pump(
    mut from: OwnedReadHalf,
    mut to: OwnedWriteHalf,
    condition: watch::Receiver<Condition>,
    way: Way,
    seed: u64,
) -> std::io::Result<()> {
    let (sent, mut arriving) = mpsc::channel::<(Instant, Vec<u8>)>(ON_THE_WAY);
    let mut before = condition.clone();
    let read = async move {
        let mut dice = Dice::new(seed);
        let mut last = Instant::now();
        let mut packet = [0; PACKET_BYTES];
        loop {
            passable(&mut before, way).await;
            let length = from.read(&mut packet).await?;
            // A packet does not overtake another.
            let lane = before.borrow().lanes[way as usize];
            last = last.max(lane.arrival(&mut dice));
            let bytes = packet[..length].to_vec();
            if sent.send((last, bytes)).await.is_err() || length == 0 {
                return Ok(());
            }
        }
    };
    let mut behind = condition;
    let write = async move {
        while let Some((due, bytes)) = arriving.recv().await {
            if due > Instant::now() {
                tokio::time::sleep_until(due).await;
            }
            passable(&mut behind, way).await;
            if bytes.is_empty() {
                return to.shutdown().await;
            }
            to.write_all(&bytes).await?;
        }
        Ok(())
    };
    tokio::try_join!(read, write).map(|_| ())
}

/// Waits until something passes.
async fn passable(condition: &mut watch::Receiver<Condition>, way: Way) {
    let passes = |c: &Condition| !c.stalled[way as usize];
    if condition.wait_for(passes).await.is_err() {
        // The forwarder is gone: nothing passes any more.
        std::future::pending::<()>().await;
    }
}

/// Chance that is the same each time (xorshift64, Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// From 0 to 1.
    fn part(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}
