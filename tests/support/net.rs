//! Helpers for tests over the network: a lesson on loopback, waiting for
//! what a view will show, an output that remembers.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

use fifthpeg_core::Neck;
use fifthpeg_host::{Host, HostConfig, Lock};
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::setup::LessonSetup;
use fifthpeg_link::secure::HostKey;
use fifthpeg_lock::Passphrase;
use fifthpeg_sound::{Output, SoundError, Started, ToneSpec};
use fifthpeg_student::{Entry, Student, StudentConfig, Target};
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

/// The passphrase of the lessons that tests hold.
pub const PASSPHRASE: &str = "acorn-river-candle-tiger";

/// That passphrase.
pub fn passphrase() -> Passphrase {
    Passphrase::typed(PASSPHRASE).expect("a passphrase")
}

/// The key of this process's hosts: making one takes time.
pub fn host_key() -> HostKey {
    static KEY: OnceLock<HostKey> = OnceLock::new();
    KEY.get_or_init(|| HostKey::make().expect("a key")).clone()
}

/// How a host on loopback is started, locked, at a free port and unannounced.
pub fn on_loopback(setup: LessonSetup) -> HostConfig {
    HostConfig {
        lock: Lock::Passphrase {
            key: host_key(),
            passphrase: passphrase(),
        },
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
    fifthpeg_student::start(knowing(StudentConfig::new(name, target, output)))
        .await
        .expect("the terminal starts")
}

/// The same for a student who knows the passphrase.
pub fn knowing(config: StudentConfig) -> StudentConfig {
    StudentConfig {
        entry: Entry::with(passphrase()),
        ..config
    }
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
            audible: true,
        })
    }

    fn describe(&self) -> String {
        "a test's memory".into()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        Ok(())
    }
}
