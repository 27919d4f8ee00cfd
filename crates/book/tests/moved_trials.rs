//! Lessons whose book is deleted, moved, replaced, written over or put back at
//! any moment: in the end everything stands in one book, once.
//!
//! `FIFTHPEG_MOVES` sets how many lessons (20); `scripts/move-book N` does.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use fifthpeg_book::{BatchNumber, Reader, WriterEvent};
use fifthpeg_lesson::HostOrder;
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

use common::{EVENING_MS, Folder, Hall, held, setup};

const PATIENCE: Duration = Duration::from_secs(60);

struct Trial {
    hall: Hall,
    book: PathBuf,
    dice: ChaCha8Rng,
    last: BatchNumber,
    is_lost: bool,
    deeds: u32,
}

impl Trial {
    fn below(&mut self, limit: u32) -> u32 {
        self.dice.next_u32() % limit
    }

    /// Takes reports for so long, or until everything is stored.
    fn heed(&mut self, time: Duration) -> bool {
        let until = Instant::now() + time;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let Ok(report) = self.hall.reports.recv_timeout(left) else {
                return false;
            };
            match report {
                WriterEvent::Stored { up_to } => {
                    self.is_lost = false;
                    if up_to >= self.last {
                        return true;
                    }
                }
                WriterEvent::Trouble { is_lost, .. } => {
                    self.is_lost |= is_lost;
                    return false;
                }
                WriterEvent::NewBook { path } => self.book = path,
                WriterEvent::GaveUp { sentence } => panic!("{sentence}"),
            }
        }
    }

    /// Something happens to the book. What was moved can be put back.
    fn deed(&mut self, folder: &Folder) -> Option<PathBuf> {
        self.deeds += 1;
        let away = folder.file(&format!("away-{}.book", self.deeds));
        let stranger = folder.file("stranger.book");
        let copy = folder.file("copy.tmp");
        // What is not there has been taken away already.
        let there = self.book.exists();
        match self.below(5) {
            0 if there => drop(fs::remove_file(&self.book)),
            1 if there => {
                fs::rename(&self.book, &away).unwrap();
                return Some(away);
            }
            2 if there => {
                fs::copy(&stranger, &copy).unwrap();
                fs::rename(&copy, &self.book).unwrap();
            }
            3 if there => fs::write(&self.book, fs::read(&stranger).unwrap()).unwrap(),
            _ => drop(fs::remove_file(beside(&self.book, "-wal"))),
        }
        None
    }
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// One lesson; how often its book was done something to, and how many batches
/// were stored.
fn trial(seed: u64) -> (u32, u64) {
    let folder = Folder::new("trial");
    held(
        &folder.file("stranger.book"),
        99,
        EVENING_MS,
        &["Ruth", "Ben"],
    );
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let mut hall = Hall::begin(&path, setup(seed), EVENING_MS);
    hall.join("Mia");
    hall.join("Ivo");
    let last = hall.store();
    let mut trial = Trial {
        hall,
        book: path,
        dice: ChaCha8Rng::seed_from_u64(seed),
        last,
        is_lost: false,
        deeds: 0,
    };
    for _ in 0..8 {
        trial.hall.calls(1);
        trial.last = trial.hall.store();
        if trial.below(3) > 0 {
            // While it is being written, and after.
            let pause = trial.below(3_000);
            std::thread::sleep(Duration::from_micros(pause.into()));
        } else {
            trial.heed(PATIENCE);
        }
        if trial.below(3) > 0 {
            continue;
        }
        let away = trial.deed(&folder);
        trial.hall.calls(1);
        trial.last = trial.hall.store();
        let until = Instant::now() + PATIENCE;
        while !trial.heed(Duration::from_millis(700)) {
            assert!(Instant::now() < until, "seed {seed}: it never goes on");
            if !trial.is_lost {
                continue;
            }
            match &away {
                Some(away) if trial.dice.next_u32().is_multiple_of(2) && !trial.book.exists() => {
                    fs::rename(away, &trial.book).unwrap();
                }
                _ => trial.hall.writer.go_on_in_new_book(),
            }
        }
    }
    trial.hall.order(HostOrder::End);
    trial.last = trial.hall.store();
    assert!(trial.heed(PATIENCE) || trial.is_lost, "seed {seed}");
    let Trial {
        hall,
        book,
        deeds,
        last,
        ..
    } = trial;
    let (id, events) = hall.finish();
    let reader = Reader::open(&book).unwrap();
    let held = reader.events(id).unwrap();
    assert_eq!(held.len(), events.len(), "seed {seed}");
    assert!(held == events, "seed {seed}");
    assert_eq!(reader.faults().unwrap(), [""; 0], "seed {seed}");
    (deeds, last.0)
}

#[test]
fn wherever_the_book_goes_everything_stands_in_one_once() {
    let lessons: u64 = std::env::var("FIFTHPEG_MOVES").map_or(20, |n| n.parse().expect("a number"));
    let (mut deeds, mut batches) = (0, 0);
    for seed in 0..lessons {
        let (done, stored) = trial(seed);
        deeds += done;
        batches += stored;
    }
    println!(
        "lessons {lessons}, books moved, deleted, replaced or written over {deeds}, batches told \
         to be stored {batches}, lost 0, doubled 0"
    );
    assert!(u64::from(deeds) >= lessons, "{deeds}");
}
