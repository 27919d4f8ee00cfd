//! Asking the lesson book what earlier lessons say of those who come in, and
//! about class keys, on a thread of its own: however long it takes, no call and no
//! mark waits for it.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::thread::{self, JoinHandle};

use fifthpeg_book::{Book, BookError, KeyHolder, LessonId, Recall, Recalled};
use fifthpeg_lesson::learning::When;
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lock::PublicKey;
use fifthpeg_log::Chain;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tokio::sync::oneshot;
use tracing::warn;

use crate::KnownPerson;
use fifthpeg_link::clock::unix_ms;

/// What the book says by itself.
#[derive(Debug)]
pub(crate) enum FromBook {
    /// Who that is, and what is known.
    Who(StudentId, Result<Option<Recalled>, String>),
    /// A class key is kept, or why not.
    KeyKept(StudentId, Result<(), String>),
}

/// Somebody of a name, as the book writes it.
pub(crate) type NameInBook = Result<Option<(String, Recalled)>, String>;

/// What is asked or told.
#[derive(Debug)]
pub(crate) enum ToBook {
    /// Who that is: [`FromBook::Who`].
    Who(StudentId, String),
    /// Who has this name; what the lesson has of this student's seat is left
    /// out.
    Named(StudentId, String, oneshot::Sender<NameInBook>),
    /// Everyone known in the class.
    Everyone(oneshot::Sender<Result<Vec<KnownPerson>, String>>),
    /// Whom this class key lets in.
    Key(PublicKey, oneshot::Sender<Option<KeyHolder>>),
    /// It did.
    KeyUsed(PublicKey),
    /// Keep this key for that student: [`FromBook::KeyKept`].
    KeepKey(StudentId, PublicKey),
    /// Take back the keys of that student.
    TakeBack(StudentId),
}

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
    questions: mpsc::Sender<ToBook>,
    thread: JoinHandle<()>,
    is_over: Arc<AtomicBool>,
    pub(crate) answers: UnboundedReceiver<FromBook>,
    pub(crate) began: Option<When>,
    pub(crate) class: String,
}

impl Recalling {
    /// `None` where the system gives no thread: the lesson then goes by itself.
    pub(crate) fn start(ask: AskBook) -> Option<Self> {
        let (began, class) = (ask.began, ask.class.clone());
        let (questions, inbox) = mpsc::channel();
        let (outbox, answers) = unbounded_channel();
        let is_over = Arc::new(AtomicBool::new(false));
        let asked = Asked {
            ask,
            recall: None,
            book: None,
            outbox,
        };
        let over = Arc::clone(&is_over);
        let thread = thread::Builder::new()
            .name("earlier-lessons".to_owned())
            .spawn(move || asked.run(&inbox, &over))
            .ok()?;
        Some(Self {
            questions,
            thread,
            is_over,
            answers,
            began,
            class,
        })
    }

    /// Answers come by themselves, or where the question says.
    pub(crate) fn ask(&self, question: ToBook) {
        // A thread that is gone has nothing to say.
        let _ = self.questions.send(question);
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

/// What went wrong, in a sentence; the log has its kinds.
fn not_recalled(e: &BookError) -> String {
    warn!(name: "not-recalled", error = %Chain(e));
    e.to_string()
}

/// What the thread owns.
struct Asked {
    ask: AskBook,
    /// Opened afresh after anything went wrong.
    recall: Option<Recall>,
    /// To write in, opened for the first class key.
    book: Option<Book>,
    outbox: UnboundedSender<FromBook>,
}

impl Asked {
    fn run(mut self, inbox: &mpsc::Receiver<ToBook>, is_over: &AtomicBool) {
        // What is wrong is said to whoever asks.
        let _ = self.read(Recall::read_ahead);
        while let Ok(question) = inbox.recv() {
            let writes = matches!(question, ToBook::TakeBack(_) | ToBook::KeyUsed(_));
            if is_over.load(Ordering::Relaxed) && !writes {
                continue;
            }
            self.answer(question);
        }
    }

    /// Whoever asked may be gone.
    fn answer(&mut self, question: ToBook) {
        match question {
            ToBook::Who(student, name) => {
                let said = self.read(|recall| recall.of(student, &name));
                let _ = self.outbox.send(FromBook::Who(student, said));
            }
            ToBook::Named(student, name, reply) => {
                let _ = reply.send(self.named(student, &name));
            }
            ToBook::Everyone(reply) => {
                let _ = reply.send(self.everyone());
            }
            ToBook::Key(public, reply) => {
                let holder = self.read(|recall| recall.key_holder(public.0, unix_ms()));
                let _ = reply.send(holder.ok().flatten());
            }
            ToBook::KeyUsed(public) => {
                // Not to have it noted makes it end earlier, no more.
                let _ = self.write(|book, _| book.note_key_used(public.0, unix_ms()));
            }
            ToBook::KeepKey(student, public) => {
                let kept = self
                    .write(|book, lesson| book.grant_key((lesson, student), public.0, unix_ms()));
                let _ = self.outbox.send(FromBook::KeyKept(student, kept));
            }
            ToBook::TakeBack(student) => {
                // Who is taken out stays out of this lesson all the same.
                let _ = self.write(|book, lesson| book.revoke_keys_of((lesson, student)));
            }
        }
    }

    fn named(&mut self, student: StudentId, name: &str) -> NameInBook {
        let Some(recalled) = self.read(|recall| recall.of(student, name))? else {
            return Ok(None);
        };
        let people = self.read(|recall| recall.people())?;
        let known = people.into_iter().find(|p| p.id == recalled.person);
        Ok(known.map(|person| (person.name, recalled)))
    }

    fn everyone(&mut self) -> Result<Vec<KnownPerson>, String> {
        let people = self.read(|recall| recall.people())?;
        let keys = self.read(|recall| recall.class_keys(unix_ms()))?;
        let known = people.into_iter().map(|person| KnownPerson {
            has_key: keys.iter().any(|key| key.person == person.id),
            name: person.name,
        });
        Ok(known.collect())
    }

    fn read<T>(
        &mut self,
        ask: impl FnOnce(&mut Recall) -> Result<T, BookError>,
    ) -> Result<T, String> {
        let AskBook {
            path,
            class,
            lesson,
            ..
        } = &self.ask;
        let opened = match self.recall.take() {
            Some(recall) => Ok(recall),
            None => Recall::open(path, class, *lesson),
        };
        let mut recall = opened.map_err(|e| not_recalled(&e))?;
        let said = ask(&mut recall).map_err(|e| not_recalled(&e))?;
        self.recall = Some(recall);
        Ok(said)
    }

    fn write<T>(
        &mut self,
        order: impl FnOnce(&mut Book, LessonId) -> Result<T, BookError>,
    ) -> Result<T, String> {
        let opened = match self.book.take() {
            Some(book) => Ok(book),
            None => Book::open(&self.ask.path),
        };
        let mut book = opened.map_err(|e| not_recalled(&e))?;
        let done = order(&mut book, self.ask.lesson).map_err(|e| not_recalled(&e))?;
        self.book = Some(book);
        Ok(done)
    }
}
