//! The hosts that are measured.

use std::path::{Path, PathBuf};
use std::time::Duration;

use fifthpeg_book::{Book, WriterEvent};
use fifthpeg_core::Neck;
use fifthpeg_host::{Host, HostBook, HostConfig, Lock};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, CallId, CallNotice, ToStudent, Tone, Voice};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_link::channel::Frame;
use fifthpeg_link::secure::HostKey;
use fifthpeg_lock::Passphrase;
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::sync::watch;
use tokio::time::timeout;

use crate::crowd::Crowd;
use crate::students::{STUDENTS, answer};
use crate::{Failure, clock};

/// So long nothing is written before the next is measured.
const SETTLED: Duration = Duration::from_millis(30);

/// What the students of a locked lesson know.
pub const PASSPHRASE: &str = "seven brown geese at the mill";

/// Whether a lesson is encrypted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// It is open.
    Plain,
    /// It is locked, and goes over TLS.
    Tls,
}

impl Way {
    /// Both, in the order of the table.
    pub const ALL: [Way; 2] = [Way::Plain, Way::Tls];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Way::Plain => "plain",
            Way::Tls => "TLS",
        }
    }

    /// The way of that word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|w| w.word() == word)
    }
}

/// A host on loopback with room for `students`. It lets them all in from one
/// address, as fast as they come, and does not mind their silence.
pub fn config(name: &str, students: usize, way: Way) -> Result<HostConfig, Failure> {
    let neck = Neck::ready("banjo-open-g").ok_or("no such neck")?;
    let mut setup = LessonSetup::new(name, &neck);
    setup.max_students = u32::try_from(students)?.max(1);
    let mut config = HostConfig::new(setup);
    config.announce = false;
    config.bind = vec!["127.0.0.1:0".parse()?];
    if way == Way::Tls {
        config.lock = Lock::Passphrase {
            key: HostKey::make()?,
            passphrase: Passphrase::chosen(PASSPHRASE, name)?,
        };
    }
    // A guess counts as wrong until it is known to be right.
    config.limits.guesses.at_once_from_one = u32::MAX;
    config.limits.guesses.at_once_in_all = u32::MAX;
    config.limits.join_within = Duration::from_secs(60);
    config.limits.silence = Duration::from_secs(24 * 3600);
    let limits = &mut config.limits;
    for pace in [
        &mut limits.arrivals,
        &mut limits.arrivals_from_one,
        &mut limits.arrivals_from_here,
    ] {
        pace.per_second = 1_000_000;
        pace.burst = 1_000_000;
    }
    config.limits.frames_per_second = 1_000_000;
    config.limits.burst = 1_000_000;
    Ok(config)
}

/// A host with its students in a process of their own.
pub struct Class {
    /// The host.
    pub host: Host,
    /// Its students.
    pub crowd: Crowd,
    calls: u32,
    book: Option<(PathBuf, Stored)>,
}

/// Up to which batch the book is written, and since when.
type Stored = watch::Receiver<(u64, Duration)>;

impl Class {
    /// Starts both. A lesson that is written down goes into a book in `folder`.
    pub async fn start(students: usize, way: Way, folder: Option<&Path>) -> Result<Self, Failure> {
        let mut config = config("Bench", students, way)?;
        let mut written = None;
        if let Some(folder) = folder {
            let path = folder.join(format!("bench-{}-{}.book", way.word(), std::process::id()));
            remove_book(&path);
            let mut book = HostBook::begin(Book::open(&path)?, "Bench");
            let (reached, stored) = watch::channel(Default::default());
            book.on_report = Some(Box::new(move |report| {
                if let WriterEvent::Stored { up_to } = report {
                    reached.send_replace((up_to.0, clock::now()));
                }
            }));
            config.book = Some(book);
            written = Some((path, stored));
        }
        let host = fifthpeg_host::start(config).await?;
        let crowd = Crowd::start(STUDENTS, host.local_addrs()[0], students, way.word()).await?;
        Ok(Self {
            host,
            crowd,
            calls: 0,
            book: written,
        })
    }

    /// Calls a note; gives back how long it took from the order to the last
    /// student.
    pub async fn call(&mut self) -> Result<Duration, Failure> {
        let start = crate::clock::now();
        self.host.order(HostOrder::CallRandom).await?;
        self.calls += 1;
        Ok(self.crowd.wait_for("call").await? - start)
    }

    /// Waits until nothing more is written; gives back the last batch that is.
    pub async fn is_settled(&mut self) -> Option<u64> {
        let (_, stored) = self.book.as_mut()?;
        while let Ok(Ok(())) = timeout(SETTLED, stored.changed()).await {}
        let (up_to, _) = *stored.borrow();
        Some(up_to)
    }

    /// When the book was written up to this batch.
    pub async fn stored(&mut self, up_to: u64) -> Result<Duration, Failure> {
        let (_, stored) = self.book.as_mut().ok_or("there is no book")?;
        let (reached, at) = *stored.wait_for(|(reached, _)| *reached >= up_to).await?;
        if reached > up_to {
            return Err("something else was written meanwhile".into());
        }
        Ok(at)
    }

    /// Closes the call; all know of it then.
    pub async fn close(&mut self) -> Result<(), Failure> {
        self.host.order(HostOrder::Close).await?;
        self.crowd.wait_for("closed").await?;
        Ok(())
    }

    /// Has each student say something about the call; gives back when the first
    /// began.
    pub async fn say(&mut self, what: &str) -> Result<Duration, Failure> {
        self.crowd
            .order(&format!("say {what} {}", self.calls))
            .await?;
        self.crowd.wait_for("said-from").await
    }

    /// Ends both.
    pub async fn end(self) -> Result<(), Failure> {
        self.host.end().await?;
        self.crowd.end().await?;
        if let Some((path, _)) = self.book {
            remove_book(&path);
        }
        Ok(())
    }
}

fn remove_book(path: &Path) {
    for end in ["", "-wal", "-shm", "-journal", ".lock"] {
        let mut name = path.as_os_str().to_owned();
        name.push(end);
        // Most of them are not there.
        let _ = std::fs::remove_file(name);
    }
}

/// Students with a connection.
pub fn connected(view: &LessonView) -> usize {
    view.students.iter().filter(|s| s.connected).count()
}

/// The bytes of a call on the wire.
pub fn call_bytes() -> Result<usize, Failure> {
    let call = ToStudent::Call(CallNotice {
        call: CallId(1),
        tone: Some(Tone {
            frequency_hz: 196.0,
            voice: Voice::Banjo,
            pluck_seed: 1,
        }),
        start: Moment::default(),
        on_asking: false,
        you_call: false,
        caller: None,
        answers_held: 0,
        found: false,
        target: None,
        held: Vec::new(),
    });
    Ok(HostFrame::Lesson(call).encode()?.len())
}

/// The bytes of an answer, and of its mark.
pub fn answer_bytes() -> Result<(usize, usize), Failure> {
    let pitch = fifthpeg_core::Pitch::new(62).ok_or("no such pitch")?;
    let answered = answer(CallId(1), 1, Answer::Pitch(pitch));
    let marked = ToStudent::Marked {
        call: CallId(1),
        serial: 1,
        mark: Mark::Right,
        tally: Tally::default(),
    };
    Ok((
        ClientFrame::Lesson(answered).encode()?.len(),
        HostFrame::Lesson(marked).encode()?.len(),
    ))
}
