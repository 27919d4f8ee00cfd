//! The real host killed with SIGKILL at random moments while students answer,
//! and started again on the same port: nothing a student was told is lost or
//! doubled in the book, each answer of a terminal that lives ends in one told
//! outcome, and everyone comes back by themselves.
//!
//! `FIFTHPEG_KILLS` sets how often (25); `scripts/crash-book N` does.

#![cfg(unix)]

#[path = "book_crash/student.rs"]
mod student;
#[path = "book_crash/terminal.rs"]
mod terminal;

use std::collections::BTreeMap;
use std::net::{SocketAddr, TcpListener};
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use fifthpeg_book::Reader;
use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::process::BOOKS;
use fifthpeg_tests::{Process, net, program, temporary};

use student::{Key, Told};

const NAMES: [&str; 4] = ["Mia", "Ivo", "Ruth", "Ole"];
/// A terminal of the program's own, beside the bare connections.
const TERMINAL: &str = "Ada";
const SEED: u64 = 0x1e55;

/// The same numbers each time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

fn start(book: &Path, address: SocketAddr) -> Process {
    let mut command = Command::new(program());
    command
        .args(["host", "--plain", "--no-announce", "--output", "none"])
        .args([
            "--name",
            "Village hall",
            "--class",
            "Tuesday",
            "--reach",
            "octave",
        ])
        .args(["--bind", "127.0.0.1", "--port", &address.port().to_string()])
        .args(["--passphrase", PASSPHRASE])
        // Where the host's key is kept, so that students know it again.
        .env(BOOKS, book.parent().expect("a folder"))
        .arg("--book")
        .arg(book);
    Process::start("host", &mut command)
}

/// Teaches until `until`: calls, leaves time to answer, shows, closes.
fn teach(host: &mut Process, dice: &mut Dice, until: Instant) {
    let pause = |ms| {
        let left = until.saturating_duration_since(Instant::now());
        std::thread::sleep(left.min(Duration::from_millis(ms)));
    };
    while Instant::now() < until {
        host.type_line("call");
        pause(5 + dice.below(120));
        if dice.below(2) == 0 {
            host.type_line("reveal");
            pause(dice.below(20));
        }
        host.type_line("close");
        pause(dice.below(10));
    }
}

#[test]
fn a_host_killed_at_any_moment_loses_and_doubles_nothing() {
    let kills: u32 = std::env::var("FIFTHPEG_KILLS").map_or(25, |n| n.parse().expect("a number"));
    let folder = temporary("book-crash");
    let book = folder.join("lessons.book");
    let address = {
        let free = TcpListener::bind("127.0.0.1:0").expect("a port");
        free.local_addr().expect("its address")
    };
    let mut dice = Dice(SEED);
    let mut host = start(&book, address);
    host.wait_for("address ");

    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    let done = Arc::new(AtomicBool::new(false));
    let placed = Arc::new(AtomicUsize::new(0));
    let students: Vec<_> = NAMES
        .iter()
        .map(|name| student::attend(name, address, Arc::clone(&placed), Arc::clone(&done)))
        .map(|attending| runtime.spawn(attending))
        .collect();
    let terminal = runtime.block_on(net::student(TERMINAL, address));
    // A seat that a student was never told of is nobody's, and the name then
    // gets another: the killing begins once all know theirs.
    runtime.block_on(async {
        let mut view = terminal.view();
        net::until(&mut view, "a welcome", |view| view.welcome.is_some()).await;
        let all = async {
            while placed.load(Ordering::SeqCst) < NAMES.len() {
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
        };
        let all = tokio::time::timeout(net::PATIENCE, all).await;
        all.expect("every student is told of a place");
    });

    let answering = runtime.spawn(terminal::answer(terminal, Arc::clone(&done)));
    let mut is_up = true;
    for _ in 0..kills {
        // One in four is killed while it starts and takes the lesson up.
        if dice.below(4) == 0 {
            std::thread::sleep(Duration::from_millis(dice.below(60)));
        } else {
            if !std::mem::take(&mut is_up) {
                host.wait_for("address ");
            }
            let time = Duration::from_millis(dice.below(700));
            teach(&mut host, &mut dice, Instant::now() + time);
        }
        host.kill();
        is_up = false;
        host = start(&book, address);
    }

    host.wait_for("address ");
    // Everyone comes back, and nothing is left without a word.
    host.type_line("close");
    host.type_line(&format!("wait students {} for 60", NAMES.len() + 1));
    let waited = host.wait_for("waited ");
    assert!(!waited.contains("in vain"), "{waited}");
    teach(
        &mut host,
        &mut dice,
        Instant::now() + Duration::from_millis(500),
    );
    std::thread::sleep(Duration::from_secs(1));
    done.store(true, Ordering::SeqCst);
    let mut told = Told::default();
    let (mut untold, mut refused, mut call_lost) = (Vec::new(), 0, 0);
    for student in students {
        let attended = runtime.block_on(student).expect("it attends to the end");
        told.extend(attended.told);
        untold.extend(attended.untold);
        refused += attended.refused;
        call_lost += attended.lost;
    }
    let (terminal, own) = runtime.block_on(answering).expect("it answers to the end");
    let ended_name = {
        let view = terminal.view().borrow().clone();
        view.welcome.as_ref().map(|w| w.name.clone())
    };
    // A new seat would have had another name.
    assert_eq!(ended_name.as_deref(), Some(TERMINAL));
    host.type_line("end");
    let (code, lines, errors) = host.finish();
    assert_eq!(code, Some(0), "{}\n{errors}", lines.join("\n"));
    drop(runtime.block_on(terminal.leave()));

    let held = held(&book);
    // The program's own terminal: each answer has one outcome, and the marks told
    // are those in the book.
    assert!(
        own.untold.is_empty(),
        "the terminal was told nothing of {:?}",
        own.untold
    );
    told.extend(own.told);
    refused += own.refused;
    call_lost += own.lost;
    let never_told = held.keys().filter(|key| !told.contains_key(*key)).count();
    let lost: Vec<_> = told
        .iter()
        .filter(|(key, mark)| held.get(*key).is_none_or(|marks| marks[0] != **mark))
        .collect();
    let doubled = held.values().filter(|marks| marks.len() > 1).count();
    println!(
        "kills {kills}, answers confirmed {}, refused by name {refused}, to calls the host lost \
         {call_lost}, untold {}, lost {}, doubled {doubled}; marks in the book {}, never told \
         {never_told}",
        told.len(),
        untold.len(),
        lost.len(),
        held.len(),
    );
    assert!(untold.is_empty(), "nothing was told of {untold:?}");
    assert_eq!(never_told, 0, "marks in the book that were never told");
    assert!(lost.is_empty(), "told but not held as told: {lost:?}");
    assert_eq!(doubled, 0);
    assert!(
        told.len() as u64 > u64::from(kills),
        "hardly anybody answered"
    );
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}

/// Every answer of the one lesson in the book, with whether it was right.
fn held(book: &Path) -> BTreeMap<Key, Vec<bool>> {
    let reader = Reader::open(book).expect("the book");
    let lessons = reader.lessons("Tuesday").expect("the lessons");
    assert_eq!(lessons.len(), 1, "it was not gone on with: {lessons:#?}");
    assert!(lessons[0].ended_ms.is_some(), "it did not end");
    assert_eq!(lessons[0].students as usize, NAMES.len() + 1);
    let mut held = BTreeMap::<Key, Vec<bool>>::new();
    for event in reader.events(lessons[0].id).expect("its events") {
        if let LessonEvent::Answered {
            call,
            student,
            serial,
            mark,
            ..
        } = event
        {
            let key = (call.0, student.0, serial);
            held.entry(key).or_default().push(mark == Mark::Right);
        }
    }
    held
}
