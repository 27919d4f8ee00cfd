//! What the book says of earlier lessons: made up from the seed, late, twice,
//! and at times not at all, as the host's thread that asks it may have it.

use core::time::Duration;

use fifthpeg_book::{Batch, PersonId, Recalled};
use fifthpeg_core::Pitch;
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::learning::{Confusion, Evidence, Outcome, StudentKey, When};
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::setup::HostOrder;

use crate::bug::Bug;
use crate::clock::{MS, SECOND};
use crate::dice::Dice;
use crate::world::{Happening, World};

const DAY_S: i64 = 86_400;
/// Most calls that a person took part in earlier.
const MOST_EARLIER: u64 = 40;
/// Of a thousand questions, so many are the last that the thread gets to.
const STOPS: u64 = 15;
/// Of a thousand, so many come while the book cannot be read.
const NOT_READ: u64 = 40;
/// Of a thousand, so many come after somebody has put another person under
/// that name.
const RENAMED: u64 = 30;

impl World {
    /// A host's process begins to ask, in a lesson that `begins` or was held
    /// before.
    pub fn begin_recalling(&mut self, begins: bool) {
        self.earlier.runs = self.earlier.there && self.disk.transactions.is_some();
        self.earlier.says_at = 0;
        self.earlier.last = None;
        self.earlier.who.clear();
        if self.earlier.runs {
            let began = begins.then(|| When(self.unix_ms() / 1_000));
            let now = self.host_now();
            if let Some(engine) = &mut self.host.engine {
                engine.recall(began, now);
            }
        }
    }

    pub fn end_recalling(&mut self) {
        self.earlier.runs = false;
    }

    /// The engine asks who that is.
    pub fn looks_up(&mut self, student: StudentId, name: &str) {
        let there = self.earlier.there;
        self.check(there, || {
            format!("{name} is looked up, and there is nowhere to look")
        });
        if !self.earlier.runs {
            return;
        }
        let now = When(self.unix_ms() / 1_000);
        let dice = &mut self.earlier.dice;
        if dice.chance(STOPS) {
            self.earlier.runs = false;
            return self.note("book", format_args!("is asked no more of earlier lessons"));
        }
        let said = if dice.chance(NOT_READ) {
            Err("the lesson book cannot be read just now: call all the same".to_owned())
        } else {
            let other = dice.chance(RENAMED);
            Ok(person(self.setup.seed, name, other, now))
        };
        let later = dice.pick(&[MS, 20 * MS, 400 * MS, 5 * SECOND, 30 * SECOND]);
        if let Ok(Some(recalled)) = &said {
            let key = StudentKey(recalled.person.0);
            self.earlier.names.insert(key, name.to_owned());
        }
        let for_whom = match self.earlier.last.replace(student) {
            Some(other) if self.has(Bug::TellsOfAnother) => other,
            _ => student,
        };
        self.earlier.says_at = self.earlier.says_at.max(self.now + later);
        let life = self.host.life;
        self.at(
            self.earlier.says_at,
            Happening::Recalled(life, for_whom, said),
        );
    }

    /// What the book says reaches the host.
    pub fn host_recalls(
        &mut self,
        life: u32,
        student: StudentId,
        said: Result<Option<Recalled>, String>,
    ) {
        if life != self.host.life || self.host.left_book || !self.host_works() {
            return;
        }
        let key = said.as_ref().ok().and_then(Option::as_ref);
        let key = key.map(|recalled| StudentKey(recalled.person.0));
        self.note("book", format_args!("student {} is {said:?}", student.0));
        let there = self.with_engine(|engine, now| {
            let there = engine.lesson().name_of(student).is_some() && !engine.is_ended();
            engine.handle_recalled(student, said, now);
            there
        });
        let (Some(key), Some(true)) = (key, there) else {
            return;
        };
        self.counts.recalled += 1;
        self.earlier.who.entry(student).or_insert(key);
        self.check_who();
    }

    /// A bug in what is written down.
    pub fn forget_who(&self, batch: &mut Batch) {
        if self.has(Bug::ForgetsWho) {
            let is_who = |input: &LessonInput| matches!(input, LessonInput::StudentKey { .. });
            batch.inputs.retain(|given| !is_who(&given.input));
        }
    }

    /// A seat that is gone is nobody's; two that are one have one key.
    pub fn note_who(&mut self, event: &LessonEvent) {
        if let LessonEvent::Left {
            student,
            leaving: Leaving::Removed | Leaving::MadeRoom,
            ..
        } = event
        {
            self.earlier.who.remove(student);
        }
        self.earlier.become_one(event);
    }

    /// After a crash: what was written down of who is who.
    pub fn who_again(&mut self) {
        let Some(engine) = &self.host.engine else {
            return;
        };
        self.earlier.who.clear();
        self.earlier.said.clear();
        for given in &self.disk.inputs {
            match &given.input {
                LessonInput::StudentKey { student, key } => {
                    self.earlier.who.insert(*student, *key);
                }
                // One that was refused has left no event.
                LessonInput::Order(HostOrder::KnownAs { student: asked, .. }) => {
                    let event = self.stored.events.iter().find(|event| {
                        matches!(event, LessonEvent::KnownAs { at, student, .. }
                            if *at == given.at && student == asked)
                    });
                    event.inspect(|event| self.earlier.become_one(event));
                }
                _ => {}
            }
        }
        let lesson = engine.lesson();
        let who = &mut self.earlier.who;
        who.retain(|student, _| lesson.name_of(*student).is_some());
        self.check_who();
    }

    /// Who was told to be somebody is that, once and for all, and is the one
    /// who was asked for.
    pub fn check_who(&mut self) {
        let Some(engine) = &self.host.engine else {
            return;
        };
        let lesson = engine.lesson();
        let wrong = self.earlier.who.iter().find_map(|(student, key)| {
            let known = lesson.student_key(*student);
            let name = lesson.name_of(*student);
            let asked = self.earlier.names.get(key).map(String::as_str);
            if known != Some(*key) {
                Some(format!(
                    "student {} was told to be {key:?}, and is taken for {known:?}",
                    student.0
                ))
            } else if name != asked && !self.earlier.said.contains(student) {
                Some(format!("{name:?} is taken for {asked:?} of the book"))
            } else {
                None
            }
        });
        if let Some(wrong) = wrong {
            self.fail(wrong);
        }
    }
}

/// Who the book has under that name, if anybody: the same each time.
fn person(seed: u64, name: &str, other: bool, now: When) -> Option<Recalled> {
    let mut dice = Dice::new(name.bytes().fold(seed, |seed, byte| {
        seed.rotate_left(8) ^ u64::from(byte) ^ u64::from(other)
    }));
    if dice.chance(250) {
        return None;
    }
    let id = u128::from(dice.any()) << 64 | u128::from(dice.any());
    let count = dice.below(MOST_EARLIER);
    let mut records: Vec<_> = (0..count)
        .map(|_| earlier(&mut dice, StudentKey(id), now))
        .collect();
    records.sort_by_key(|record| record.when);
    Some(Recalled {
        person: PersonId(id),
        records,
    })
}

fn earlier(dice: &mut Dice, student: StudentKey, now: When) -> Evidence {
    let outcome = dice.pick(&[
        Outcome::FoundFirst,
        Outcome::FoundFirst,
        Outcome::FoundLater,
        Outcome::NotFound,
        Outcome::Silent,
    ]);
    let missed = matches!(outcome, Outcome::FoundLater | Outcome::NotFound);
    Evidence {
        student,
        pitch: Pitch::new(dice.between(48, 87) as u8).expect("a pitch"),
        reach_size: dice.between(1, 60) as u16,
        outcome,
        hearings: dice.below(4) as u32,
        tries: dice.below(9) as u32,
        response: dice
            .chance(800)
            .then(|| Duration::from_millis(dice.between(300, 90_000))),
        miss: missed.then(|| dice.pick(&Confusion::ALL)),
        when: When(now.0 - dice.below(100) as i64 * DAY_S - 600),
    }
}
