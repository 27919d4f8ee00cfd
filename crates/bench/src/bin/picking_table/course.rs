//! Weeks of lessons for made-up learners.

use std::time::Duration;

use fifthpeg_bench::dice::Dice;
use fifthpeg_bench::learners::{Kind, Learner};
use fifthpeg_core::{Neck, Pitch, Reach, ReachSpec, ReachStep};
use fifthpeg_lesson::learning::suggest::{self, ReachChange};
use fifthpeg_lesson::learning::{Evidence, Model, Outcome, StudentKey, Weighing, When, teaching};
use fifthpeg_lesson::picker::Picker;

/// How notes are picked.
#[derive(Clone, Copy, PartialEq)]
pub enum Way {
    /// Every note alike.
    Uniform,
    /// The plain picker.
    Spaced,
    Teaching,
    /// The note that would raise the true share most: nobody can know it. A
    /// bound, for one learner alone.
    AllKnowing,
}

pub const CALLS_A_LESSON: usize = 30;
const DAY: Duration = Duration::from_secs(24 * 3600);
const CALL: Duration = Duration::from_secs(60);

/// A class, or one learner alone, over its weeks.
pub struct Course {
    neck: Neck,
    spec: ReachSpec,
    reach: Reach,
    way: Way,
    keys: Vec<StudentKey>,
    pub learners: Vec<Learner>,
    model: Model,
    picker: Picker,
    dice: Dice,
    when: When,
}

impl Course {
    /// Learners and what happens to them hang on the seed, not on the way.
    pub fn new(kind: Kind, strengths: &[f64], step: ReachStep, way: Way, seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let spec = ReachSpec::from(step);
        let reach = Reach::resolve(&neck, &spec).expect("a reach of the neck");
        let learners = strengths
            .iter()
            .map(|s| Learner::new(kind, *s, &mut dice))
            .collect();
        Self {
            neck,
            spec,
            reach,
            way,
            keys: (0..strengths.len() as u128).map(StudentKey).collect(),
            learners,
            model: Model::new(),
            picker: Picker::new(seed),
            dice,
            when: When(0),
        }
    }

    pub fn pitches(&self) -> &[Pitch] {
        self.reach.pitches()
    }

    /// One call; who found it with the first answer.
    pub fn call(&mut self) -> Vec<bool> {
        let pitches = self.reach.pitches();
        let pitch = match self.way {
            Way::Uniform => pitches[self.dice.below(pitches.len())],
            Way::Spaced => self.picker.pick_pitch(pitches).expect("notes"),
            Way::Teaching => {
                let weighing = Weighing::of(self.keys.len());
                let (model, picker) = (&self.model, &mut self.picker);
                teaching::pick(model, picker, &self.keys, pitches, self.when, &weighing)
                    .expect("notes")
                    .pitch
            }
            Way::AllKnowing => {
                let gain = |p: &Pitch| self.learners[0].gain(*p, pitches);
                let better = |a: &&Pitch, b: &&Pitch| gain(a).total_cmp(&gain(b));
                *pitches.iter().max_by(better).expect("notes")
            }
        };
        self.picker.remember(pitch);
        let mut found = Vec::new();
        for (key, learner) in self.keys.iter().zip(&mut self.learners) {
            let attempt = learner.answer(pitch, pitches, &mut self.dice);
            found.push(attempt.outcome == Outcome::FoundFirst);
            self.model.learn(&Evidence {
                student: *key,
                pitch,
                reach_size: pitches.len() as u16,
                outcome: attempt.outcome,
                hearings: attempt.hearings,
                tries: attempt.tries,
                response: Some(attempt.response),
                miss: attempt.miss,
                when: self.when,
            });
        }
        self.when = self.when.after(CALL);
        found
    }

    /// Days until the next lesson.
    pub fn rest(&mut self, days: u64) {
        self.when = self.when.after(DAY * days as u32);
        for learner in &mut self.learners {
            learner.rest(days as f64, &mut self.dice);
        }
    }

    /// Does with the reach what is suggested.
    pub fn follow_suggestion(&mut self) {
        let told = suggest::suggest(&self.model, &self.keys, &self.neck, &self.spec, self.when);
        if let ReachChange::Widen(Some(step)) | ReachChange::Narrow(Some(step)) = told.change {
            self.spec = step.into();
            self.reach = Reach::resolve(&self.neck, &self.spec).expect("a reach that was tried");
        }
    }
}
