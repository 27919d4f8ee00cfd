//! The model of what each student hears.
//!
//! For a student, a note and a reach of n notes, the logit of a right first
//! answer is
//!
//! ```text
//! ability + register(note) + offset(note) - ln(n - 1)
//! ```
//!
//! a one-parameter logistic (Rasch) model with Gaussian beliefs. The last term
//! is Luce's choice rule ("Individual Choice Behavior", 1959) with n - 1 equal
//! rivals: at nought above guessing the chance is 1/n, whatever the reach.
//!
//! What follows the first answer is a tree of further right-or-wrong steps (De
//! Boeck and Partchev, "IRTrees", Journal of Statistical Software 48, code
//! snippet 1, 2012): after a wrong one, whether it was found later; after a right one,
//! whether without a long search, and then whether at once. Each step hangs on
//! the same ear, with a smaller slope, and on the student's own manner: so one
//! who always takes the time is not taken for one who hears badly.

use std::collections::{BTreeMap, VecDeque};

use fifthpeg_core::Pitch;

use super::belief::{Belief, Direction, LogitPart, Manner};
use super::confusion::Confusions;
use super::evidence::{Evidence, Grade, Outcome, StudentKey, When, grade_of};
use super::figures as f;
use super::moments::Gaussian;

/// What is known of everybody. Plain numbers made from [`Evidence`] alone: the
/// same records in the same order make the same model.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Model {
    heard: BTreeMap<StudentKey, StudentModel>,
}

/// What is known of one student.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentModel {
    belief: Belief,
    confusions: Confusions,
    running: f64,
    recent: VecDeque<Evidence>,
}

/// How a student is expected to do with one note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Chance that the first answer is right, above 0 and below 1.
    pub found_first: f64,
    /// Chance that it is found at all.
    pub found: f64,
    /// Chance that it is found at once.
    pub at_once: f64,
    /// The logit of the first answer, with its uncertainty.
    pub logit: Gaussian,
}

impl Estimate {
    /// Bounds that hold the chance of a right first answer in nine cases of
    /// ten, by the model.
    pub fn within(&self) -> (f64, f64) {
        // The 5% point of the standard Gaussian, NIST/SEMATECH e-Handbook 1.3.6.7.1.
        let reach = 1.644_853_6 * self.logit.var.sqrt();
        let low = super::moments::logistic(self.logit.mean - reach);
        let high = super::moments::logistic(self.logit.mean + reach);
        (low, high)
    }
}

impl Model {
    /// Nobody heard yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// The model that these records make, in whatever order they come: they
    /// are taken in by time, those of one moment in the order given.
    pub fn from_evidence(records: impl IntoIterator<Item = Evidence>) -> Self {
        let mut records: Vec<Evidence> = records.into_iter().collect();
        records.sort_by_key(|e| e.when);
        let mut model = Self::new();
        for record in &records {
            model.learn(record);
        }
        model
    }

    /// Takes in one record. One that is older than the last of its student is
    /// taken as if it were of that moment.
    pub fn learn(&mut self, record: &Evidence) {
        let listener = self
            .heard
            .entry(record.student)
            .or_insert_with(|| StudentModel::new(record.when));
        listener.learn(record);
    }

    /// Forgets a student wholly.
    pub fn forget(&mut self, student: StudentKey) {
        self.heard.remove(&student);
    }

    /// What is known of a student; `None` before the first record.
    pub fn listener(&self, student: StudentKey) -> Option<&StudentModel> {
        self.heard.get(&student)
    }

    /// Everybody there is a record of.
    pub fn students(&self) -> impl Iterator<Item = StudentKey> + '_ {
        self.heard.keys().copied()
    }

    /// How a student is expected to do with a note in a reach of `reach_size`
    /// notes at `when`; one not heard yet, as anybody.
    pub fn estimate(
        &self,
        student: StudentKey,
        pitch: Pitch,
        reach_size: usize,
        when: When,
    ) -> Estimate {
        match self.heard.get(&student) {
            Some(listener) => listener.estimate(pitch, reach_size, when),
            None => StudentModel::new(when).estimate(pitch, reach_size, when),
        }
    }
}

impl StudentModel {
    fn new(at: When) -> Self {
        Self {
            belief: Belief::new(at),
            confusions: Confusions::new(at),
            running: f::AIM,
            recent: VecDeque::new(),
        }
    }

    fn learn(&mut self, record: &Evidence) {
        self.note_recent(*record);
        let Some(grade) = grade_of(record) else {
            return;
        };
        let first = grade >= Grade::Long;
        self.running += f::RUNNING_STEP * (f64::from(u8::from(first)) - self.running);
        let ear = ear(record.pitch);
        let rivals = rivals(usize::from(record.reach_size));
        self.belief.pass_to(record.when);
        self.belief.stir(&ear);
        self.belief.learn(&ear, -rivals, first);
        let mut take = |manner, logit: f64, right| {
            let offset = logit - f::STEP_SLOPE * rivals;
            self.belief.learn(&step(&ear, manner), offset, right);
        };
        if first {
            let short = grade >= Grade::Searched;
            take(Manner::Short, f::SHORT_LOGIT, short);
            if short {
                take(Manner::AtOnce, f::AT_ONCE_LOGIT, grade == Grade::AtOnce);
            }
        } else {
            take(Manner::Later, f::LATER_LOGIT, grade == Grade::Later);
        }
        if let Some(kind) = record.miss.filter(|_| !first) {
            self.confusions.count(record.pitch, kind, record.when);
        }
    }

    fn note_recent(&mut self, record: Evidence) {
        self.running = self.running(record.when);
        if self.recent.len() == f::RECENT {
            self.recent.pop_front();
        }
        self.recent.push_back(record);
    }

    /// How the student is expected to do with a note in a reach of
    /// `reach_size` notes.
    pub fn estimate(&self, pitch: Pitch, reach_size: usize, when: When) -> Estimate {
        let ear = ear(pitch);
        let rivals = rivals(reach_size);
        let belief = self.belief.along(&ear, when);
        let found_first = belief.chance(-rivals);
        let chance = |manner, logit| {
            let along = self.belief.along(&step(&ear, manner), when);
            along.chance(logit - f::STEP_SLOPE * rivals)
        };
        let later = chance(Manner::Later, f::LATER_LOGIT);
        let short = chance(Manner::Short, f::SHORT_LOGIT);
        let at_once = chance(Manner::AtOnce, f::AT_ONCE_LOGIT);
        Estimate {
            found_first,
            found: found_first + (1.0 - found_first) * later,
            at_once: found_first * short * at_once,
            logit: Gaussian {
                mean: belief.mean - rivals,
                var: belief.var,
            },
        }
    }

    /// The first answer's belief alone: what picking looks at.
    pub(crate) fn first_answer(&self, pitch: Pitch, reach_size: usize, when: When) -> (f64, f64) {
        let belief = self.belief.along(&ear(pitch), when);
        (belief.chance(-rivals(reach_size)), belief.var)
    }

    /// What the student takes notes for when missing them.
    pub fn confusions(&self) -> &Confusions {
        &self.confusions
    }

    /// The running share of right first answers, the last counting most; it
    /// starts at the aim in each lesson.
    pub fn running(&self, when: When) -> f64 {
        let pause = |last: &Evidence| when.0.saturating_sub(last.when.0);
        match self.recent.back() {
            Some(last) if pause(last) < f::NEW_LESSON_SECONDS => self.running,
            _ => f::AIM,
        }
    }

    /// The last calls, oldest first, at most [`f::RECENT`].
    pub fn recent(&self) -> impl DoubleEndedIterator<Item = &Evidence> + ExactSizeIterator {
        self.recent.iter()
    }

    /// The last calls that were not silent, in a reach of this many notes.
    pub fn recent_in(&self, reach_size: usize) -> impl Iterator<Item = &Evidence> {
        let fits = move |e: &&Evidence| usize::from(e.reach_size) == reach_size;
        let heard = |e: &&Evidence| e.outcome != Outcome::Silent;
        self.recent.iter().filter(fits).filter(heard)
    }
}

/// The parts of a note's logit: the two nearest register points share its
/// register.
fn ear(pitch: Pitch) -> Direction {
    let step = f::REGISTER_SEMITONES;
    let point = pitch.midi() / step;
    let above = f64::from(pitch.midi() % step) / f64::from(step);
    let mut parts = vec![
        (LogitPart::Ability, 1.0),
        (LogitPart::Register(point), 1.0 - above),
        (LogitPart::Note(pitch.midi()), 1.0),
    ];
    if above > 0.0 {
        parts.push((LogitPart::Register(point + 1), above));
    }
    parts
}

/// The parts of a later step's logit.
fn step(ear: &[(LogitPart, f64)], manner: Manner) -> Direction {
    let slowed = ear.iter().map(|(part, much)| (*part, much * f::STEP_SLOPE));
    slowed.chain([(LogitPart::Manner(manner), 1.0)]).collect()
}

/// Logit of guessing wrong among n notes: ln(n - 1).
fn rivals(reach_size: usize) -> f64 {
    (reach_size.saturating_sub(1).max(1) as f64).ln()
}
