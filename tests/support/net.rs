//! Helpers for tests over the network: a lesson on loopback, waiting for
//! what a view will show, a forwarder that can cut and stall, an output that
//! remembers.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use fifthpeg_core::Neck;
use fifthpeg_host::{Host, HostConfig};
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::setup::LessonSetup;
use fifthpeg_sound::{Output, SoundError, Started, ToneSpec};
use fifthpeg_student::{Student, StudentConfig, Target};
use tokio::io::AsyncWriteExt;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// How long a test waits for what must come. Far longer than it takes, since
/// machines that run tests are busy.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// A lesson on the five-string banjo with a fixed seed.
pub fn setup(name: &str) -> LessonSetup {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    LessonSetup {
        seed: 5,
        ..LessonSetup::new(name, &neck)
    }
}

/// How a host on loopback is started, at a free port and unannounced.
pub fn on_loopback(setup: LessonSetup) -> HostConfig {
    HostConfig {
        bind: vec![SocketAddr::from(([127, 0, 0, 1], 0))],
        announce: false,
        ..HostConfig::new(setup)
    }
}

/// A host on loopback.
pub async fn host(setup: LessonSetup) -> Host {
    fifthpeg_host::start(on_loopback(setup))
        .await
        .expect("the host starts")
}

/// A silent student at that address.
pub async fn student(name: &str, address: SocketAddr) -> Student {
    student_with(name, address, Box::new(Remembering::default())).await
}

/// A student with that output.
pub async fn student_with(name: &str, address: SocketAddr, output: Box<dyn Output>) -> Student {
    let target = Target::Address(vec![address]);
    fifthpeg_student::start(StudentConfig::new(name, target, output))
        .await
        .expect("the terminal starts")
}

/// Waits until what is watched is as wanted.
///
/// # Panics
/// After [`PATIENCE`], with what was watched.
pub async fn until<T: Clone + std::fmt::Debug>(
    watched: &mut watch::Receiver<T>,
    what: &str,
    wanted: impl FnMut(&T) -> bool,
) -> T {
    let reached = tokio::time::timeout(PATIENCE, watched.wait_for(wanted))
        .await
        .map(|r| r.map(|value| value.clone()));
    match reached {
        Ok(Ok(value)) => value,
        Ok(Err(_)) => panic!("{what}: ended at {:#?}", *watched.borrow()),
        Err(_) => panic!("{what}: still at {:#?}", *watched.borrow()),
    }
}

/// Waits until a student is in its lesson.
pub async fn joined(student: &Student) {
    until(&mut student.view(), "in the lesson", |v| v.connected).await;
}

/// The answer that is right for the host's open call.
pub fn right_answer(host: &Host) -> Answer {
    let view = host.view();
    let view = view.borrow();
    Answer::Pitch(view.call.as_ref().expect("a call").pitch)
}

/// An output that sounds nothing and remembers when each tone was to start.
#[derive(Clone, Default)]
pub struct Remembering(Arc<Mutex<Vec<(ToneSpec, Instant)>>>);

impl Remembering {
    /// What was played so far, with the instant each tone left.
    pub fn played(&self) -> Vec<(ToneSpec, Instant)> {
        self.0.lock().expect("no panic while playing").clone()
    }
}

impl Output for Remembering {
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        let at = at.max(Instant::now());
        self.0
            .lock()
            .expect("no panic while playing")
            .push((*tone, at));
        Ok(Started {
            at,
            uncertainty: Duration::ZERO,
        })
    }

    fn describe(&self) -> String {
        "a test's memory".into()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        Ok(())
    }
}

/// What a forwarder does with what passes through it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Open,
    /// Nothing passes and nothing is read; connections stay up.
    Stalled,
    /// What the host says does not pass.
    Deaf,
    /// Connections are cut and new ones refused.
    Cut,
}

/// A piece of network between a student and a host, which can break.
pub struct Forwarder {
    address: SocketAddr,
    way: watch::Sender<Way>,
    host: watch::Sender<SocketAddr>,
    task: tokio::task::JoinHandle<()>,
}

impl Forwarder {
    /// Leads to `host`.
    pub async fn to(host: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let address = listener.local_addr().expect("an address");
        let (way, watching) = watch::channel(Way::Open);
        let (host, leads_to) = watch::channel(host);
        let task = tokio::spawn(async move {
            loop {
                let Ok((near, _)) = listener.accept().await else {
                    return;
                };
                if *watching.borrow() == Way::Cut {
                    continue;
                }
                let host = *leads_to.borrow();
                if let Ok(far) = TcpStream::connect(host).await {
                    tokio::spawn(forward(near, far, watching.clone()));
                }
            }
        });
        Self {
            address,
            way,
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

    /// Cuts every connection, and refuses new ones.
    pub fn cut(&self) {
        self.way.send_replace(Way::Cut);
    }

    /// Lets nothing through, without telling either end.
    pub fn stall(&self) {
        self.way.send_replace(Way::Stalled);
    }

    /// Lets pass what students say, and nothing of what the host says.
    pub fn deafen(&self) {
        self.way.send_replace(Way::Deaf);
    }

    /// Works again.
    pub fn mend(&self) {
        self.way.send_replace(Way::Open);
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn forward(mut near: TcpStream, mut far: TcpStream, mut way: watch::Receiver<Way>) {
    loop {
        let now = *way.borrow_and_update();
        let passed = match now {
            Way::Cut => return,
            Way::Stalled => way.changed().await.map_err(|_| end()),
            Way::Deaf => tokio::select! {
                changed = way.changed() => changed.map_err(|_| end()),
                () = ready(&near) => pass(&near, &mut far).await,
            },
            Way::Open => tokio::select! {
                changed = way.changed() => changed.map_err(|_| end()),
                () = ready(&near) => pass(&near, &mut far).await,
                () = ready(&far) => pass(&far, &mut near).await,
            },
        };
        if passed.is_err() {
            return;
        }
    }
}

fn end() -> std::io::Error {
    std::io::ErrorKind::UnexpectedEof.into()
}

/// Hands on what is there. Never given up half way, so no byte is lost.
async fn pass(from: &TcpStream, to: &mut TcpStream) -> std::io::Result<()> {
    let mut bytes = [0; 4096];
    match from.try_read(&mut bytes) {
        Ok(0) => Err(end()),
        Ok(n) => to.write_all(&bytes[..n]).await,
        Err(e) if e.kind() == std::io::ErrorKind::WouldBlock => Ok(()),
        Err(e) => Err(e),
    }
}

async fn ready(stream: &TcpStream) {
    // An error shows in the read that follows.
    let _ = stream.readable().await;
}
