//! What the lesson book costs: storing, opening, asking.
//!
//! `cargo run -p fifthpeg-bench --release --bin book_cost [FOLDER]` prints a
//! table. FOLDER says which disk is measured; it is the current one unless
//! given.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use fifthpeg_book::{Batch, Book, Outlives, Reader, Whose, Writer, WriterEvent};
use fifthpeg_core::{Neck, Position};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, SeatKey, Source, StudentId,
};
use fifthpeg_lesson::{GivenInput, HostOrder, Lesson, LessonInput, LessonSetup, Moment};

const STUDENTS: u32 = 30;
const CALLS: u32 = 40;
const LESSONS: u32 = 40;

type Failed = Box<dyn std::error::Error>;

fn main() -> Result<(), Failed> {
    let place = std::env::args()
        .nth(1)
        .map_or_else(|| PathBuf::from("."), PathBuf::from);
    let folder = place.join(format!("book-cost-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    let measured = measure(&folder);
    std::fs::remove_dir_all(&folder)?;
    measured
}

fn measure(folder: &Path) -> Result<(), Failed> {
    println!("one batch at a time (one answer each), from storing to being told of it:");
    for outlives in [Outlives::PowerCut, Outlives::Kill] {
        let mut times = one_by_one(&folder.join("one.book"), outlives, 1_000)?;
        times.sort_unstable();
        let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize].as_secs_f64() * 1e3;
        println!(
            "  outlives {outlives:?}: median {:.3} ms, 95 % {:.3} ms, 99 % {:.3} ms, most {:.3} ms",
            at(0.5),
            at(0.95),
            at(0.99),
            at(1.0)
        );
        std::fs::remove_file(folder.join("one.book"))?;
    }
    println!("as many as there are (group commit):");
    for outlives in [Outlives::PowerCut, Outlives::Kill] {
        let begun = Instant::now();
        let batches = lesson(&folder.join("all.book"), 1, outlives, false)?;
        let rate = f64::from(batches) / begun.elapsed().as_secs_f64();
        println!("  outlives {outlives:?}: {rate:.0} batches a second");
        std::fs::remove_file(folder.join("all.book"))?;
    }
    let path = folder.join("year.book");
    let begun = Instant::now();
    for seed in 0..LESSONS {
        lesson(&path, seed, Outlives::Kill, true)?;
    }
    let size = std::fs::metadata(&path)?.len() as f64 / 1e6;
    println!(
        "{LESSONS} lessons of {STUDENTS} students and {CALLS} calls: {size:.1} MB, written in {:.1} s",
        begun.elapsed().as_secs_f64()
    );
    let mut book = timed("  open, with its check", || Book::open(&path))?;
    let reader = Reader::open(&path)?;
    timed("  lessons of the class", || reader.lessons("Tuesday"))?;
    let person = reader.person("Tuesday", "student 7")?;
    let calls = timed("  one person's calls", || {
        reader.calls(Whose::Person(person.id))
    })?;
    println!("    ({} calls)", calls.len());
    timed("  the calls of the class", || {
        reader.calls(Whose::Class("Tuesday"))
    })?;
    timed("  export as JSON", || {
        reader.export_json(&folder.join("year.json"))
    })?;
    lesson(&path, 99, Outlives::Kill, false)?;
    let open = book.open_lessons()?;
    let open = open.first().ok_or("no open lesson")?;
    timed("  take a whole lesson up again", || book.resume(open.id, 0))?;
    book.give_up(open.id)?;
    timed("  remove a person", || book.remove_person(person.id))?;
    Ok(())
}

fn timed<T, E: Into<Failed>>(what: &str, act: impl FnOnce() -> Result<T, E>) -> Result<T, Failed> {
    let begun = Instant::now();
    let done = act().map_err(Into::into)?;
    println!("{what}: {:.1} ms", begun.elapsed().as_secs_f64() * 1e3);
    Ok(done)
}

/// A lesson as a host drives it, each input a batch of its own.
struct Driven {
    lesson: Lesson,
    now: Moment,
    writer: Writer,
    reports: Receiver<WriterEvent>,
    batches: u32,
}

impl Driven {
    fn new(path: &Path, seed: u32, outlives: Outlives) -> Result<Self, Failed> {
        let mut setup = LessonSetup::new("Tuesday", &Neck::ready("banjo-open-g").ok_or("no neck")?);
        setup.seed = seed.into();
        setup.rules.reach = "octave".parse()?;
        let began = Moment::from_micros(1);
        let mut book = Book::open(path)?;
        let running = book.begin("Tuesday", &setup, began, i64::from(seed) * 604_800_000)?;
        let (sender, reports) = channel();
        let sink = move |report| {
            let _ = sender.send(report);
        };
        let mut driven = Self {
            lesson: Lesson::new(setup, began)?,
            now: began,
            writer: Writer::start(book, running, outlives, sink),
            reports,
            batches: 0,
        };
        for n in 1..=STUDENTS {
            driven.give(LessonInput::Join {
                name: format!("student {n}"),
                key: None,
                new_key: SeatKey(n.into()),
            });
        }
        Ok(driven)
    }

    fn give(&mut self, input: LessonInput) {
        self.now = self.now + Duration::from_millis(20);
        // Refused or not, it is written down.
        let _ = self.lesson.apply(input.clone(), self.now);
        while self.lesson.poll_message().is_some() {}
        let at = self.now;
        self.writer.store(Batch {
            inputs: vec![GivenInput { at, input }],
            events: std::iter::from_fn(|| self.lesson.poll_event()).collect(),
            notes: Vec::new(),
        });
        self.batches += 1;
    }

    fn answer(&mut self, student: u32, serial: u32, call: CallId, answer: Answer) {
        self.say(
            student,
            FromStudent::Answer(AnswerNotice {
                call,
                serial,
                answer,
                source: Source::Screen,
                response: Some(Duration::from_millis(u64::from(
                    1_000 + student * 31 + serial,
                ))),
                uncertainty: Duration::from_millis(4),
            }),
        );
    }

    fn say(&mut self, student: u32, message: FromStudent) {
        let student = StudentId(student);
        self.give(LessonInput::Message { student, message });
    }
}

/// The time of each of many answers, stored one after another.
fn one_by_one(path: &Path, outlives: Outlives, count: u32) -> Result<Vec<Duration>, Failed> {
    let mut driven = Driven::new(path, 1, outlives)?;
    let wrong = Answer::Place(Position::new(1, 22));
    let mut times = Vec::new();
    while driven.reports.recv_timeout(Duration::from_secs(1)).is_ok() {}
    for n in 0..count {
        if n % STUDENTS == 0 {
            driven.give(LessonInput::Order(HostOrder::Close));
            driven.give(LessonInput::Order(HostOrder::CallRandom));
            while driven
                .reports
                .recv_timeout(Duration::from_millis(100))
                .is_ok()
            {}
        }
        let call = driven.lesson.view().call.ok_or("no call")?.id;
        let begun = Instant::now();
        driven.answer(1 + n % STUDENTS, 1, call, wrong);
        driven.reports.recv()?;
        times.push(begun.elapsed());
    }
    driven.writer.finish(Duration::from_secs(10))?;
    Ok(times)
}

/// A whole lesson: each student asks for a hearing, tries three places, misses
/// once and finds the note.
fn lesson(path: &Path, seed: u32, outlives: Outlives, ends: bool) -> Result<u32, Failed> {
    let mut driven = Driven::new(path, seed, outlives)?;
    for _ in 0..CALLS {
        driven.give(LessonInput::Order(HostOrder::CallRandom));
        let call = driven.lesson.view().call.ok_or("no call")?;
        for student in 1..=STUDENTS {
            driven.say(student, FromStudent::Hearing { call: call.id });
            for fret in 0..3 {
                let at = Answer::Place(Position::new(3, fret));
                let source = Source::Screen;
                driven.say(
                    student,
                    FromStudent::Try {
                        call: call.id,
                        at,
                        source,
                    },
                );
            }
            let low = call.pitch.transposed(-2).ok_or("too low")?;
            driven.answer(student, 1, call.id, Answer::Pitch(low));
            driven.answer(student, 2, call.id, Answer::Pitch(call.pitch));
        }
        driven.give(LessonInput::Order(HostOrder::Close));
    }
    if ends {
        driven.give(LessonInput::Order(HostOrder::End));
    }
    let batches = driven.batches;
    driven.writer.finish(Duration::from_secs(60))?;
    Ok(batches)
}
