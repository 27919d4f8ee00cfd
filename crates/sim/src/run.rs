//! One seed from the beginning of its lesson to the last look into its book.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use fifthpeg_book::{Reader, Whose};
use fifthpeg_lesson::message::{Answer, CallId, Sounding, StudentId};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::CallStage;

use crate::act::Act;
use crate::bug::Bug;
use crate::clock::{MS, SECOND};
use crate::dice::Dice;
use crate::parts::Link;
use crate::script::world_of;
use crate::world::{Counts, Happening, World};

/// How long everything may take to come right once nothing goes wrong.
const COMES_RIGHT_IN: u64 = 60 * SECOND;
/// How long the end may take to be told and written.
const ENDS_IN: u64 = 40 * SECOND;

/// What came of one seed.
#[derive(Debug)]
pub struct RunOutcome {
    /// The seed.
    pub seed: u64,
    /// What was counted.
    pub counts: Counts,
    /// The first thing that was not as it must be.
    pub failure: Option<String>,
    /// Stands for everything that happened.
    pub hash: u64,
    /// What happened, if it was to be kept.
    pub trace: Vec<String>,
}

/// How a seed is run.
#[derive(Debug, Clone, Copy, Default)]
pub struct RunOptions {
    /// A bug that is planted.
    pub bug: Option<Bug>,
    /// Keep what happened, line by line.
    pub keep_trace: bool,
}

/// Runs one seed. A panic of the program's counts as a failure of the seed.
pub fn run(seed: u64, manner: RunOptions) -> RunOutcome {
    let folder = Folder::new();
    let (world, script) = world_of(seed, folder.0.clone(), manner.bug, manner.keep_trace);
    lived(seed, world, |world| {
        let mut dice = Dice::new(seed.rotate_left(32) ^ 0xac75);
        if world.has(Bug::UsesOtherChance) {
            let other = std::hash::BuildHasher::hash_one(&std::hash::RandomState::new(), seed);
            dice = Dice::new(other);
        }
        script.write(world, &mut dice);
        world.live(script.lasts_us, script.ends_in_trouble);
    })
}

/// Runs a lesson whose machines and network are this seed's, and in which these
/// acts happen, each so many milliseconds after the one before.
pub fn run_acts(seed: u64, acts: &[(u16, Act)]) -> RunOutcome {
    let folder = Folder::new();
    let (world, _) = world_of(seed, folder.0.clone(), None, false);
    lived(seed, world, |world| {
        let mut at = world.now;
        for (after_ms, act) in acts {
            at += u64::from(*after_ms) * MS;
            world.at(at, Happening::Act(*act));
        }
        world.live(at - world.now, false);
    })
}

fn lived(seed: u64, mut world: World, live: impl FnOnce(&mut World)) -> RunOutcome {
    let lived = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| live(&mut world)));
    if let Err(why) = lived {
        let why = why
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| why.downcast_ref::<&str>().map(|s| (*s).to_owned()));
        world.fail(format!("panicked: {}", why.unwrap_or_default()));
    }
    RunOutcome {
        seed,
        counts: world.counts,
        failure: world.failure.take(),
        hash: world.trace.hash(),
        trace: world.trace.lines().to_vec(),
    }
}

impl World {
    /// From the lesson's beginning to the last look into its book.
    fn live(&mut self, lasts_us: u64, ends_in_trouble: bool) {
        if let Err(why) = self.begin_lesson() {
            return self.fail(why);
        }
        self.pass_until(self.now + lasts_us);
        if !ends_in_trouble {
            self.come_right();
        }
        self.end();
        self.look_into_book();
    }

    /// Nothing goes wrong any more, and after a while all is well.
    fn come_right(&mut self) {
        self.calm = true;
        self.all_cut_off_until = self.now;
        for seat in &mut self.seats {
            seat.cut_off_until = self.now;
            seat.far_until = self.now;
        }
        self.note("fault", format_args!("no more"));
        self.pass_until(self.now + COMES_RIGHT_IN);
        if self.failure.is_none() {
            self.check_all_is_well();
            self.check_pace_goes_on();
        }
    }

    fn check_all_is_well(&mut self) {
        if self.host.over || self.truth.ended {
            return;
        }
        let Some(engine) = &self.host.engine else {
            return self.fail("the host is not back");
        };
        let all_stored = engine.is_all_stored();
        let held = engine.most_held();
        let view = engine.lesson().view();
        let seats: BTreeMap<StudentId, Option<usize>> = engine
            .lesson()
            .connected()
            .into_iter()
            .map(|s| (s, engine.connection_of(s).map(|c| c.0 as usize)))
            .collect();
        self.check(all_stored && held == 0, || {
            format!("the book is at rest, and {held} messages still wait for it")
        });
        let mut there = BTreeMap::new();
        for seat in 0..self.seats.len() {
            if !self.seats[seat].wants_in() {
                continue;
            }
            let name = self.seats[seat].name.clone();
            let Link::In { conn, .. } = self.seats[seat].link else {
                return self.fail(format!("{name} does not come in any more"));
            };
            if let Some(student) = self.seats[seat].student {
                there.insert(student, Some(conn));
            }
            let name = name.clone();
            self.check_seat(seat, &view);
            let untold = self.untold(seat);
            self.counts.untold += untold as u64;
            self.check(untold == 0, || {
                format!("nobody tells {name} what came of {untold} answers")
            });
        }
        self.check_marks_told();
        self.check(there == seats, || {
            format!("{there:?} are in, and the lesson takes {seats:?} to be")
        });
    }

    fn check_seat(&mut self, seat: usize, lesson: &fifthpeg_lesson::view::LessonView) {
        let now = self.seat_now(seat);
        let name = self.seats[seat].name.clone();
        let Some(view) = self.seats[seat].terminal.as_ref().map(|t| t.view(now)) else {
            return;
        };
        let Some(call) = lesson
            .call
            .as_ref()
            .filter(|c| c.stage != CallStage::Closed)
        else {
            return;
        };
        let shown = view.call.as_ref().map(|c| (c.id, c.stage));
        self.check(shown == Some((call.id, call.stage)), || {
            format!(
                "{name} is shown {shown:?}, and the lesson is at {:?}",
                (call.id, call.stage)
            )
        });
        let me = lesson
            .students
            .iter()
            .find(|s| Some(s.id) == self.seats[seat].student);
        // A program that was started again is told what the host holds.
        let held = me.map_or(0, |s| s.answers.len());
        let shown_held = view.call.as_ref().map_or(0, |c| c.answers.len());
        self.check(held == shown_held, || {
            format!("{held} answers of {name} are held, and {shown_held} shown")
        });
        let found = me.is_some_and(|s| s.answers.iter().any(|a| a.mark.is_right()));
        let shown_found = view.call.as_ref().is_some_and(|c| c.found);
        self.check(found == shown_found, || {
            format!("{name} has found the note: {found}, and is shown {shown_found}")
        });
        let hears =
            call.stage == CallStage::Open && lesson.rules.sounding == Sounding::EveryTerminal;
        let wanted = self.truth.calls.get(&call.id).map(|c| c.frequency_hz);
        let tones: Vec<f64> = self.seats[seat]
            .sounded
            .iter()
            .filter(|(id, _)| *id == call.id)
            .map(|(_, hz)| *hz)
            .collect();
        if let Some(wanted) = wanted.filter(|_| hears && !tones.is_empty()) {
            self.check(tones.contains(&wanted), || {
                format!(
                    "{name} heard {tones:?} Hz for call {}, which is {wanted} Hz",
                    call.id.0
                )
            });
        }
    }

    /// The lesson ends, and everybody is told.
    fn end(&mut self) {
        if self.failure.is_some() {
            return;
        }
        let calm = self.calm;
        if self.host.engine.is_none() && !self.host.over {
            // A host that is down when the lesson is to end ends it once it is back.
            self.pass_until(self.now + 30 * SECOND);
        }
        self.host_order(HostOrder::End);
        self.pass_until(self.now + ENDS_IN);
        let over = self.host.over;
        self.check(over, || "the lesson does not end".to_owned());
        if calm {
            for seat in 0..self.seats.len() {
                let name = self.seats[seat].name.clone();
                let waits = self.seats[seat].wants_in();
                self.check(!waits, || {
                    format!("{name} is not told that the lesson is over")
                });
            }
        }
    }

    /// The book has every answer that was confirmed, once.
    fn look_into_book(&mut self) {
        self.disk.transactions = None;
        let (Some(path), Some(id)) = (self.disk.path(), self.disk.id) else {
            return;
        };
        if self.failure.is_some() {
            return;
        }
        let calls = match Reader::open(&path).and_then(|r| r.calls(Whose::Lesson(id))) {
            Ok(calls) => calls,
            Err(e) => return self.fail(format!("the book cannot be read: {e}")),
        };
        let mut rows: BTreeMap<(StudentId, CallId, u32), Vec<Answer>> = BTreeMap::new();
        for call in &calls {
            for answer in &call.answers {
                let key = (call.student, call.call, answer.serial);
                rows.entry(key).or_default().push(answer.answer);
            }
        }
        let confirmed: Vec<_> = self.confirmed.keys().copied().collect();
        for key in confirmed {
            if !rows.contains_key(&key) {
                self.counts.lost += 1;
                self.fail(format!("{key:?} was confirmed and is not in the book"));
            }
        }
        self.count_doubles(&rows);
        let stored: Vec<_> = self.stored.answers.iter().copied().collect();
        let written: Vec<_> = rows.keys().copied().collect();
        self.check(stored == written, || {
            format!(
                "{} answers were stored, and the book has {}",
                stored.len(),
                written.len()
            )
        });
    }

    /// No answer is in the book more often than it was given.
    fn count_doubles(&mut self, rows: &BTreeMap<(StudentId, CallId, u32), Vec<Answer>>) {
        let mut given: BTreeMap<(StudentId, CallId), Vec<Answer>> = BTreeMap::new();
        for one in self.seats.iter().flat_map(|s| &s.given) {
            given
                .entry((one.student, one.call))
                .or_default()
                .push(one.answer);
        }
        for ((student, call, serial), answers) in rows {
            for answer in answers {
                let left = given.get_mut(&(*student, *call));
                let at = left
                    .as_ref()
                    .and_then(|l| l.iter().position(|a| a == answer));
                match (left, at) {
                    (Some(left), Some(at)) => drop(left.remove(at)),
                    _ => {
                        self.counts.doubled += 1;
                        self.fail(format!(
                            "answer {serial} of student {} to call {} is in the book more often \
                             than it was given",
                            student.0, call.0
                        ));
                    }
                }
            }
        }
    }
}

/// A folder for one lesson's book, on a fast disk where there is one.
#[derive(Debug)]
struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let memory = Path::new("/dev/shm");
        let base = if memory.is_dir() {
            memory.to_owned()
        } else {
            std::env::temp_dir()
        };
        let path = base.join(format!("fifthpeg-sim-{}-{number}", std::process::id()));
        let _ = std::fs::create_dir_all(&path);
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
