//! Asking the lesson book what earlier lessons say of those who come in, on a
//! thread of its own: however long it takes, no call and no mark waits for it.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::thread::{self, JoinHandle};

use fifthpeg_book::{LessonId, Recall, Recalled};
use fifthpeg_lesson::learning::When;
use fifthpeg_lesson::message::StudentId;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// What the book says to one question.
pub(crate) type Said = (StudentId, Result<Option<Recalled>, String>);

/// Whom to ask, and about which lesson.
#[derive(Debug)]
pub(crate) struct AskBook {
    pub(crate) path: PathBuf,
    pub(crate) class: String,
    pub(crate) lesson: LessonId,
    /// When the lesson began; `None` for one taken up again.
    pub(crate) began: Option<When>,
}

/// The thread that asks.
#[derive(Debug)]
pub(crate) struct Recalling {
    /// Closing it ends the thread.
    questions: mpsc::Sender<(StudentId, String)>,
    thread: JoinHandle<()>,
    is_over: Arc<AtomicBool>,
    pub(crate) answers: UnboundedReceiver<Said>,
    pub(crate) began: Option<When>,
}

impl Recalling {
    /// `None` where the system gives no thread: the lesson then goes by itself.
    pub(crate) fn start(ask: AskBook) -> Option<Self> {
        let began = ask.began;
        let (questions, inbox) = mpsc::channel();
        let (outbox, answers) = unbounded_channel();
        let is_over = Arc::new(AtomicBool::new(false));
        let over = Arc::clone(&is_over);
        let thread = thread::Builder::new()
            .name("earlier-lessons".to_owned())
            .spawn(move || run(&ask, &inbox, &outbox, &over))
            .ok()?;
        Some(Self {
            questions,
            thread,
            is_over,
            answers,
            began,
        })
    }

    /// The answer comes by itself.
    pub(crate) fn ask(&self, student: StudentId, name: String) {
        // A thread that is gone has nothing to say.
        let _ = self.questions.send((student, name));
    }

    /// Lets go of the book, in a place where waiting is allowed: whoever writes
    /// it must be the last to close it, so that it is one file again.
    pub(crate) async fn finish(self) {
        self.is_over.store(true, Ordering::Relaxed);
        drop(self.questions);
        let thread = self.thread;
        // What went wrong in it has no meaning any more.
        let _ = tokio::task::spawn_blocking(move || thread.join()).await;
    }
}

fn run(
    ask: &AskBook,
    inbox: &mpsc::Receiver<(StudentId, String)>,
    outbox: &UnboundedSender<Said>,
    is_over: &AtomicBool,
) {
    let open = || Recall::open(&ask.path, &ask.class, ask.lesson);
    let mut recall = open().ok();
    if let Some(recall) = &mut recall {
        // What is wrong is said to whoever asks.
        let _ = recall.read_ahead();
    }
    while let Ok((student, name)) = inbox.recv() {
        if is_over.load(Ordering::Relaxed) {
            return;
        }
        let said = match &mut recall {
            Some(recall) => recall.of(student, &name),
            None => open().and_then(|opened| recall.insert(opened).of(student, &name)),
        };
        if said.is_err() {
            // Opened afresh for the next one.
            recall = None;
        }
        let said = said.map_err(|e| e.to_string());
        if outbox.send((student, said)).is_err() {
            return;
        }
    }
}
