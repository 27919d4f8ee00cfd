//! A folder for one test, and lessons written into a book in it.
#![allow(dead_code, reason = "each test file uses part of it")]

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use fifthpeg_book::{
    Batch, Book, LessonId, Outlives, PersonCall, RunningLesson, Writer, WriterEvent,
};
use fifthpeg_core::{Neck, Position};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, SeatKey, Source, StudentId,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::{
    GivenInput, HostOrder, Lesson, LessonEvent, LessonInput, LessonSetup, Moment,
};

/// 13 October 2026, 18:00 UTC.
pub const EVENING_MS: i64 = 1_791_914_400_000;
pub const BEGAN: Moment = Moment::from_micros(3_600_000_000);
pub const CLASS: &str = "Tuesday";

/// What one person has done over these calls, counted as a lesson counts.
pub fn tally<'a>(calls: impl IntoIterator<Item = &'a PersonCall>) -> Tally {
    let mut tally = Tally::default();
    let mut times: Vec<Duration> = Vec::new();
    for call in calls {
        let right = call.right();
        tally.calls += u32::from(call.over);
        tally.found += u32::from(right.is_some());
        tally.found_first += u32::from(call.found_first());
        tally.hearings += call.hearings;
        tally.tries += call.tries;
        tally.played += u32::from(right.is_some_and(|a| a.source == Source::Instrument));
        tally.sung += u32::from(call.sang_it());
        times.extend(call.time().map(|(time, _)| time));
    }
    times.sort_unstable();
    let middle = |at: usize| times.get(at).copied();
    tally.median = middle(times.len() / 2).map(|upper| {
        let lower = middle((times.len() - 1) / 2).unwrap_or(upper);
        lower + (upper - lower) / 2
    });
    tally
}

/// A folder that goes when the test is over.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new(test: &str) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("fifthpeg-book-{test}-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Self(path)
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    pub fn book(&self) -> PathBuf {
        self.file("lessons.book")
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub fn setup(seed: u64) -> LessonSetup {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Village hall, Tuesday", &neck);
    setup.rules.reach = "octave".parse().expect("a reach");
    setup.rules.sing_first = true;
    setup.seed = seed;
    setup
}

/// A lesson that is written into a book as it goes on.
pub struct Hall {
    pub lesson: Lesson,
    pub id: LessonId,
    pub now: Moment,
    pub writer: Writer,
    pub reports: Receiver<WriterEvent>,
    pub events: Vec<LessonEvent>,
    batch: Batch,
    keys: u128,
}

impl Hall {
    pub fn begin(path: &Path, setup: LessonSetup, unix_ms: i64) -> Self {
        Self::begin_in(CLASS, path, setup, unix_ms)
    }

    pub fn begin_in(class: &str, path: &Path, setup: LessonSetup, unix_ms: i64) -> Self {
        let mut book = Book::open(path).expect("a book");
        let running = book.begin(class, &setup, BEGAN, unix_ms).expect("begun");
        let lesson = Lesson::new(setup, BEGAN).expect("a lesson");
        Self::new(book, running, lesson, BEGAN)
    }

    pub fn resume(path: &Path, id: LessonId, unix_ms: i64) -> Self {
        let mut book = Book::open(path).expect("a book");
        let resumed = book.resume(id, unix_ms).expect("taken up again");
        let mut hall = Self::new(book, resumed.running, resumed.lesson, resumed.goes_on);
        for student in hall.lesson.connected() {
            hall.give(LessonInput::Disconnect { student });
        }
        hall
    }

    fn new(book: Book, running: RunningLesson, lesson: Lesson, now: Moment) -> Self {
        let (sender, reports) = channel();
        let id = running.id();
        let writer = Writer::start(book, running, Outlives::Kill, move |report| {
            let _ = sender.send(report);
        });
        let mut hall = Self {
            lesson,
            id,
            now,
            writer,
            reports,
            events: Vec::new(),
            batch: Batch::default(),
            keys: 0,
        };
        hall.collect();
        hall
    }

    pub fn give(&mut self, input: LessonInput) -> bool {
        let joins = matches!(input, LessonInput::Join { .. });
        let done = self.lesson.apply(input.clone(), self.now).is_ok();
        while self.lesson.poll_message().is_some() {}
        self.collect();
        if done || !joins {
            self.batch.inputs.push(GivenInput {
                at: self.now,
                input,
            });
        }
        done
    }

    fn collect(&mut self) {
        while let Some(event) = self.lesson.poll_event() {
            self.events.push(event.clone());
            self.batch.events.push(event);
        }
    }

    /// Stores what was given since the last time.
    pub fn store(&mut self) -> fifthpeg_book::BatchNumber {
        self.writer.store(std::mem::take(&mut self.batch))
    }

    pub fn wait_ms(&mut self, ms: u64) {
        self.now = self.now + Duration::from_millis(ms);
    }

    pub fn join(&mut self, name: &str) -> StudentId {
        self.keys += 1;
        let new_key = SeatKey(self.keys << 64 | u128::from(self.now.micros()));
        let name = name.to_owned();
        let key = None;
        assert!(self.give(LessonInput::Join { name, key, new_key }));
        *self.lesson.connected().last().expect("let in")
    }

    pub fn say(&mut self, student: StudentId, message: FromStudent) -> bool {
        self.give(LessonInput::Message { student, message })
    }

    pub fn order(&mut self, order: HostOrder) -> bool {
        self.give(LessonInput::Order(order))
    }

    pub fn call(&self) -> CallId {
        self.lesson.view().call.map_or(CallId(0), |c| c.id)
    }

    /// A student hears, tries, sings and answers: rightly, or a semitone low.
    pub fn answer(&mut self, student: StudentId, rightly: bool, response_ms: u64) -> bool {
        let call = self.lesson.view().call.expect("a call");
        let at = Answer::Pitch(if rightly {
            call.pitch
        } else {
            call.pitch.transposed(-1).expect("a pitch")
        });
        // It takes its time.
        let response = Duration::from_millis(response_ms);
        self.now = self.now.max(call.start + response);
        let call = call.id;
        let view = self.lesson.view();
        let seat = view.students.iter().find(|s| s.id == student);
        let serial = seat.map_or(1, |s| s.answers.len() as u32 + 1);
        self.say(student, FromStudent::Hearing { call });
        self.say(
            student,
            FromStudent::Try {
                call,
                at: Answer::Place(Position::new(3, 2)),
                source: Source::Instrument,
            },
        );
        self.say(
            student,
            FromStudent::Sung {
                call,
                frequency_hz: 220.123_456_789,
                spread_cents: 12.3,
            },
        );
        self.say(
            student,
            FromStudent::Answer(AnswerNotice {
                call,
                serial,
                answer: at,
                source: Source::Instrument,
                response: Some(Duration::from_micros(response_ms * 1000 + 321)),
                uncertainty: Duration::from_micros(4_567),
            }),
        )
    }

    /// Some calls, each answered by everyone there: found by most.
    pub fn calls(&mut self, count: u32) {
        for n in 0..count {
            self.order(HostOrder::CallRandom);
            for student in self.lesson.connected() {
                self.wait_ms(700);
                if (n + student.0) % 3 == 0 {
                    self.answer(student, false, 2_000);
                }
                self.answer(student, true, 3_000 + u64::from(100 * n));
            }
            self.wait_ms(1_000);
            self.order(HostOrder::Reveal);
            self.order(HostOrder::Close);
            self.store();
        }
    }

    /// Closes the book; everything is stored.
    pub fn finish(mut self) -> (LessonId, Vec<LessonEvent>) {
        self.store();
        self.writer.finish(Duration::from_secs(10)).expect("stored");
        (self.id, self.events)
    }
}

/// A whole lesson of the class.
pub fn held(path: &Path, seed: u64, unix_ms: i64, names: &[&str]) -> LessonId {
    let mut hall = Hall::begin(path, setup(seed), unix_ms);
    for name in names {
        hall.join(name);
    }
    hall.calls(4);
    hall.order(HostOrder::End);
    hall.finish().0
}

/// All of a book as JSON.
pub fn json(path: &Path) -> String {
    let out = path.with_extension("export.json");
    let reader = fifthpeg_book::Reader::open(path).expect("a book");
    reader.export_json(&out).expect("written");
    std::fs::read_to_string(out).expect("there")
}
