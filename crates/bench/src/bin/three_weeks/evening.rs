//! One evening: a lesson in virtual time, written down as it goes.

use std::path::Path;
use std::time::Duration;

use fifthpeg_bench::dice::Dice;
use fifthpeg_bench::learners::{Attempt, Learner};
use fifthpeg_book::{Batch, Book, LessonId, Outlives, Writer};
use fifthpeg_core::{Neck, Pitch, Reach, ReachSpec};
use fifthpeg_lesson::learning::gather::Gatherer;
use fifthpeg_lesson::learning::{Confusion, Model, Outcome, StudentKey, Weighing, When, teaching};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, SeatKey, Source, StudentId,
};
use fifthpeg_lesson::picker::Picker;
use fifthpeg_lesson::{
    GivenInput, HostOrder, Lesson, LessonEvent, LessonInput, LessonSetup, Moment,
};

use crate::Failed;

const BEGAN: Moment = Moment::from_micros(1_000_000);

/// The book's time in the model's.
pub fn when(unix_ms: i64) -> When {
    When(unix_ms.div_euclid(1000))
}

pub struct Evening {
    lesson: Lesson,
    id: LessonId,
    now: Moment,
    writer: Writer,
    batch: Batch,
    gatherer: Gatherer,
    picker: Picker,
    reach: Reach,
    neck: Neck,
    began_ms: i64,
    /// Who sits where: the lesson's number, and which of the class.
    seats: Vec<(StudentId, usize)>,
    events: Vec<LessonEvent>,
}

impl Evening {
    pub fn begin(
        path: &Path,
        neck: &Neck,
        reach: &ReachSpec,
        seed: u64,
        unix_ms: i64,
    ) -> Result<Self, Failed> {
        let mut setup = LessonSetup::new("Village hall", neck);
        setup.rules.reach = reach.clone();
        setup.rules.sing_first = true;
        setup.seed = seed;
        let gatherer = Gatherer::new(when(unix_ms), BEGAN, &setup.rules);
        let mut book = Book::open(path)?;
        let running = book.begin("Village hall evening class", &setup, BEGAN, unix_ms)?;
        let mut evening = Self {
            lesson: Lesson::new(setup, BEGAN)?,
            id: running.id(),
            now: BEGAN,
            writer: Writer::start(book, running, Outlives::Kill, |_| {}),
            batch: Batch::default(),
            gatherer,
            picker: Picker::new(seed),
            reach: Reach::resolve(neck, reach)?,
            neck: neck.clone(),
            began_ms: unix_ms,
            seats: Vec::new(),
            events: Vec::new(),
        };
        evening.collect();
        Ok(evening)
    }

    pub fn join(&mut self, name: &str, which: usize) {
        self.give(LessonInput::Join {
            name: name.to_owned(),
            key: None,
            new_key: SeatKey(which as u128 + 1),
        });
        let student = self.lesson.connected().last().copied();
        self.seats.extend(student.map(|student| (student, which)));
    }

    /// One note, picked for those who are there, answered by each.
    pub fn call(
        &mut self,
        model: &mut Model,
        learners: &mut [Learner],
        dice: &mut Dice,
    ) -> Result<(), Failed> {
        let keys: Vec<StudentKey> = self.seats.iter().map(|s| StudentKey(s.1 as u128)).collect();
        let pitches = self.reach.pitches().to_vec();
        let weighing = Weighing::of(keys.len());
        let now = when(self.began_ms);
        let pick = teaching::pick(model, &mut self.picker, &keys, &pitches, now, &weighing);
        let pitch = pick.ok_or("nothing to pick")?.pitch;
        self.picker.remember(pitch);
        self.order(HostOrder::CallAt(Answer::Pitch(pitch)));
        let call = self.lesson.view().call.ok_or("no call")?.id;
        for (student, which) in self.seats.clone() {
            // Now and then somebody is lost in thought.
            if dice.unit() < 0.02 {
                continue;
            }
            let attempt = learners[which].answer(pitch, &pitches, dice);
            self.search(student, call, pitch, &attempt, dice);
        }
        self.wait(2_000);
        self.order(HostOrder::Reveal);
        self.wait(5_000);
        self.order(HostOrder::Close);
        let seats = self.seats.clone();
        for event in self.events.drain(..) {
            let seat = |id| seats.iter().find(|(student, _)| *student == id);
            let key = |id| seat(id).map(|(_, which)| StudentKey(*which as u128));
            for record in self.gatherer.take(&event, key) {
                model.learn(&record);
            }
        }
        self.store();
        Ok(())
    }

    pub fn end(mut self) -> Result<LessonId, Failed> {
        self.order(HostOrder::End);
        self.store();
        self.writer.finish(Duration::from_secs(10))?;
        Ok(self.id)
    }

    fn search(
        &mut self,
        student: StudentId,
        call: CallId,
        pitch: Pitch,
        attempt: &Attempt,
        dice: &mut Dice,
    ) {
        for _ in 0..attempt.hearings {
            self.wait(300);
            self.say(student, FromStudent::Hearing { call });
        }
        if dice.unit() < 0.3 {
            let frequency_hz =
                pitch.frequency_hz(Default::default()) / 2.0 * (dice.normal() * 0.015).exp2();
            let sung = FromStudent::Sung {
                call,
                frequency_hz,
                spread_cents: 20.0,
            };
            self.say(student, sung);
        }
        let source = if dice.unit() < 0.7 {
            Source::Instrument
        } else {
            Source::Screen
        };
        let places = self.reach.positions().to_vec();
        for _ in 0..attempt.tries {
            self.wait(50);
            let at = Answer::Place(places[dice.below(places.len())]);
            self.say(student, FromStudent::Try { call, at, source });
        }
        let wrong = attempt.miss.map(|miss| self.missed(pitch, miss, dice));
        let mut answers: Vec<Pitch> = wrong.into_iter().collect();
        match attempt.outcome {
            Outcome::FoundFirst | Outcome::FoundLater => answers.push(pitch),
            Outcome::NotFound | Outcome::Silent => {}
        }
        for (serial, answer) in (1..).zip(answers) {
            self.wait(100);
            let response = attempt.response.mul_f64(0.6 + 0.4 * f64::from(serial));
            // It takes its time.
            if let Some(call) = self.lesson.view().call {
                self.now = self.now.max(call.start + response);
            }
            self.say(
                student,
                FromStudent::Answer(AnswerNotice {
                    call,
                    serial,
                    answer: Answer::Pitch(answer),
                    source,
                    response: Some(response),
                    uncertainty: Duration::from_millis(8 + dice.below(30) as u64),
                }),
            );
        }
    }

    /// A wrong answer of that kind that lies on the neck.
    fn missed(&self, pitch: Pitch, miss: Confusion, dice: &mut Dice) -> Pitch {
        let away = match miss {
            Confusion::Octave => 12,
            Confusion::Neighbour => 1,
            Confusion::WholeTone => 2,
            Confusion::Further => 3 + dice.below(5) as i32,
        };
        // More often low than high.
        let away = if dice.unit() < 0.62 { -away } else { away };
        let on_neck = |p: &Pitch| !self.neck.places(*p).is_empty();
        let there = |away: i32| pitch.transposed(away).filter(on_neck);
        there(away).or_else(|| there(-away)).unwrap_or(pitch)
    }

    fn wait(&mut self, ms: u64) {
        self.now = self.now + Duration::from_millis(ms);
    }

    fn order(&mut self, order: HostOrder) {
        self.give(LessonInput::Order(order));
    }

    fn say(&mut self, student: StudentId, message: FromStudent) {
        self.give(LessonInput::Message { student, message });
    }

    fn give(&mut self, input: LessonInput) {
        let at = self.now;
        // What is refused is written down as well.
        let _ = self.lesson.apply(input.clone(), at);
        while self.lesson.poll_message().is_some() {}
        self.batch.inputs.push(GivenInput { at, input });
        self.collect();
    }

    fn collect(&mut self) {
        while let Some(event) = self.lesson.poll_event() {
            self.events.push(event.clone());
            self.batch.events.push(event);
        }
    }

    fn store(&mut self) {
        self.writer.store(std::mem::take(&mut self.batch));
    }
}
