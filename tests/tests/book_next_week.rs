//! Next week's lesson begins where the book says that everybody stands: who
//! needs help shows at once, the first notes are picked by it, and a host that
//! was killed goes on with the same.

#![cfg(unix)]

use std::path::Path;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use fifthpeg_book::{Batch, Book, Outlives, Reader, Writer};
use fifthpeg_core::{Neck, Pitch, Reach, ReachStep};
use fifthpeg_lesson::learning::{Model, StudentKey, Weighing, When, teaching};
use fifthpeg_lesson::message::{Answer, AnswerNotice, FromStudent, SeatKey, Source, StudentId};
use fifthpeg_lesson::{GivenInput, HostOrder, Lesson, LessonInput, LessonSetup, Moment};
use fifthpeg_tests::{Process, host_with, join, temporary};

const CLASS: &str = "Thursday";
const SEED: u64 = 5;

fn now_ms() -> i64 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    now.expect("a clock").as_millis() as i64
}

fn octave() -> Reach {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach")
}

/// A lesson that is given its inputs and written down.
struct LastWeek {
    lesson: Lesson,
    now: Moment,
    batch: Batch,
}

impl LastWeek {
    fn give(&mut self, input: LessonInput) {
        self.now = self.now + Duration::from_millis(500);
        let at = self.now;
        self.lesson.apply(input.clone(), at).expect("taken");
        while self.lesson.poll_message().is_some() {}
        self.batch.inputs.push(GivenInput { at, input });
        let events = std::iter::from_fn(|| self.lesson.poll_event());
        self.batch.events.extend(events);
    }

    fn answers(&mut self, student: u32, pitch: Pitch) {
        let call = self.lesson.view().call.expect("a call");
        let response = Duration::from_secs(4);
        // It takes its time.
        self.now = self.now.max(call.start + response);
        let call = call.id;
        self.give(LessonInput::Message {
            student: StudentId(student),
            message: FromStudent::Answer(AnswerNotice {
                call,
                serial: 1,
                answer: Answer::Pitch(pitch),
                source: Source::Screen,
                response: Some(response),
                uncertainty: Duration::from_millis(5),
            }),
        });
    }
}

/// A book in which Mia took every low note of the octave for its upper
/// neighbour a week ago and found the others, and Ivo found them all.
fn last_week(path: &Path) {
    let began = Moment::from_micros(1_000_000);
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Village hall", &neck);
    setup.rules.reach = ReachStep::OctaveLow.into();
    let mut book = Book::open(path).expect("a book");
    let week_ago = now_ms() - 7 * 86_400_000;
    let running = book.begin(CLASS, &setup, began, week_ago).expect("begun");
    let mut hall = LastWeek {
        lesson: Lesson::new(setup, began).expect("a lesson"),
        now: began,
        batch: Batch::default(),
    };
    for (n, name) in ["Mia", "Ivo"].into_iter().enumerate() {
        hall.give(LessonInput::Join {
            name: name.to_owned(),
            key: None,
            new_key: SeatKey(n as u128 + 1),
        });
    }
    let pitches = octave().pitches().to_vec();
    // Upwards, then downwards: the last calls are those that she missed.
    for pitch in pitches.iter().chain(pitches.iter().rev()) {
        hall.give(LessonInput::Order(HostOrder::CallAt(Answer::Pitch(*pitch))));
        let low = *pitch < pitches[9];
        let heard = pitch.transposed(i32::from(low)).expect("a pitch");
        hall.answers(1, heard);
        hall.answers(2, *pitch);
        hall.give(LessonInput::Order(HostOrder::Reveal));
        hall.give(LessonInput::Order(HostOrder::Close));
    }
    hall.give(LessonInput::Order(HostOrder::End));
    let mut writer = Writer::start(book, running, Outlives::Kill, |_| {});
    writer.store(hall.batch);
    writer.finish(Duration::from_secs(10)).expect("stored");
}

/// Opens this week's lesson.
fn open(book: &Path, class: &str, port: &str) -> (Process, String) {
    // The host's key is kept there, and must be the same again.
    let data = book.with_extension("data");
    let data = data.to_str().expect("a name");
    let book = book.to_str().expect("a name");
    let seed = SEED.to_string();
    let arguments = [
        "--book",
        book,
        "--class",
        class,
        "--name",
        "Village hall",
        "--reach",
        "octave",
        "--picking",
        "teaching",
        "--seed",
        &seed,
        "--port",
        port,
    ];
    host_with(&arguments, &[("XDG_DATA_HOME", data)])
}

/// What the host is told of Mia, once it holds `wanted`.
fn glance(host: &mut Process, wanted: &str) -> String {
    for _ in 0..100 {
        host.type_line("who");
        // The list is drawn a moment after somebody is said to have joined.
        let line = host.wait_for_any(&["who Mia", "hint nobody has joined yet"]);
        if line.contains(wanted) {
            return line;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("never told of her: {wanted}");
}

/// The first notes picked.
fn picks(host: &mut Process) -> Vec<String> {
    let mut notes = Vec::new();
    for _ in 0..12 {
        host.type_line("call");
        host.type_line("target");
        notes.push(host.wait_for("target "));
        host.type_line("close");
        host.wait_for("closed ");
    }
    notes
}

/// The notes that suit Mia best by the published pieces, from the book alone:
/// those that she found among many that she did not.
fn suit_her(book: &Path) -> Vec<String> {
    let reader = Reader::open(book).expect("a book");
    let mia = reader.person(CLASS, "Mia").expect("in the book").id;
    let records = reader.standing(mia).expect("where she stands").records;
    let pitches = octave().pitches().to_vec();
    assert_eq!(records.len(), 2 * pitches.len());
    let model = Model::from_evidence(records);
    let when = When(now_ms() / 1000);
    let key = [StudentKey(mia.0)];
    let scores = teaching::scores(&model, &key, &pitches, when, &Weighing::of(1));
    let mut best: Vec<_> = pitches.iter().zip(scores).collect();
    best.sort_by(|(_, a), (_, b)| b.score.total_cmp(&a.score));
    let name = |pitch: &Pitch| format!("target {}", pitch.ascii_name(Default::default()));
    best[..4].iter().map(|(pitch, _)| name(pitch)).collect()
}

/// How many of the first notes are among these.
fn among(picks: &[String], notes: &[String]) -> usize {
    picks.iter().filter(|note| notes.contains(note)).count()
}

#[test]
fn next_week_begins_where_the_book_says_they_stand_also_after_a_kill() {
    let folder = temporary("next-week");
    let book = folder.join("lessons.book");
    last_week(&book);
    let suit_her = suit_her(&book);
    let copies = ["killed.book", "other.book"].map(|name| {
        let copy = folder.join(name);
        std::fs::copy(&book, &copy).expect("a copy");
        copy
    });

    // Nothing was heard yet this week.
    let (mut first, address) = open(&book, CLASS, "0");
    let mia = join("Mia", &address, &[]);
    let said = glance(&mut first, "needs help");
    assert!(said.contains("missed 8 of the last 8"), "{said}");
    assert!(said.contains("mostly by a semitone"), "{said}");
    assert!(said.contains("0 of 0 found"), "{said}");
    // Most of them; by chance it would be 4 of 13.
    let picked = picks(&mut first);
    assert!(among(&picked, &suit_her) >= 9, "{picked:?} {suit_her:?}");
    first.type_line("end");
    assert_eq!(first.finish().0, Some(0));
    drop(mia);

    // Killed before the first call, and started again.
    let (mut killed, address) = open(&copies[0], CLASS, "0");
    let mut mia = join("Mia", &address, &[]);
    let told = glance(&mut killed, "needs help");
    killed.kill();
    let port = address.rsplit(':').next().expect("a port").to_owned();
    let (mut again, _) = open(&copies[0], CLASS, &port);
    again.wait_for("back Mia");
    mia.wait_for("link In the lesson");
    // The book is asked once more, which may take longer than her way back.
    assert_eq!(glance(&mut again, "needs help"), told);
    let picked = picks(&mut again);
    assert!(among(&picked, &suit_her) >= 9, "{picked:?} {suit_her:?}");
    again.type_line("end");
    assert_eq!(again.finish().0, Some(0));

    // In another class nobody knows her: other notes, and nothing is said.
    let (mut new, address) = open(&copies[1], "Friday", "0");
    let _mia = join("Mia", &address, &[]);
    std::thread::sleep(Duration::from_millis(500));
    let said = glance(&mut new, "Mia");
    assert!(!said.contains("needs help"), "{said}");
    let picked = picks(&mut new);
    assert!(among(&picked, &suit_her) < 9, "{picked:?} {suit_her:?}");
    drop(new);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}
