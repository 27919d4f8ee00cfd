//! What comes in a bunch is said as what comes one by one: all of it, in order.

use fifthpeg_core::Neck;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{Answer, SeatKey, StudentId, ToStudent};
use fifthpeg_lesson::terminal::{StudentOrder, Terminal};
use fifthpeg_lesson::{HostOrder, Lesson, LessonSetup, Moment};
use fifthpeg_vocab::Setting;
use proptest::prelude::*;

use super::*;
use crate::say::tests::Kept;

/// What a terminal meets.
#[derive(Debug, Clone)]
enum Meets {
    Up,
    Down,
    Order(StudentOrder),
    Frame(Box<ToStudent>),
}

#[derive(Debug, Clone, Copy)]
enum Step {
    Call(u8),
    Answer(u8),
    Reveal,
    Close,
    Telling(bool),
    Cut,
    Back,
}

/// A lesson and a terminal in it, and what the terminal met.
struct Course {
    lesson: Lesson,
    mia: StudentId,
    terminal: Terminal,
    up: bool,
    met: Vec<(Moment, Meets)>,
    now: Moment,
}

fn place(n: u8) -> Answer {
    let text = format!("{}/{}", 1 + n % 4, n % 5);
    Answer::Place(text.parse().expect("a place"))
}

impl Course {
    fn new() -> Self {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let mut setup = LessonSetup::new("Thursday class", &neck);
        setup.rules.reach = "whole".parse().expect("a reach");
        let now = Moment::from_micros(1_000_000);
        let mut lesson = Lesson::new(setup, now).expect("a lesson");
        let mia = lesson.handle_join("Mia", None, SeatKey(1), now);
        let mut course = Self {
            lesson,
            mia: mia.expect("let in"),
            terminal: Terminal::new(),
            up: true,
            met: Vec::new(),
            now,
        };
        course.meet(Meets::Up);
        course.settle();
        course
    }

    fn meet(&mut self, meets: Meets) -> bool {
        let done = apply(&mut self.terminal, &meets, self.now);
        self.met.push((self.now, meets));
        done
    }

    fn take(&mut self, step: Step) {
        self.now = self.now + std::time::Duration::from_millis(300);
        let ordered = match step {
            Step::Call(n) => Some(HostOrder::CallAt(place(n))),
            Step::Reveal => Some(HostOrder::Reveal),
            Step::Close => Some(HostOrder::Close),
            Step::Telling(hint) => Some(HostOrder::Set(Setting::Telling(if hint {
                Telling::Hint
            } else {
                Telling::Verdict
            }))),
            Step::Answer(_) | Step::Cut | Step::Back => None,
        };
        if let Some(order) = ordered {
            // Refused where it does not fit.
            let _ = self.lesson.handle_host(order, self.now);
        }
        match step {
            Step::Answer(n) => {
                self.meet(Meets::Order(StudentOrder::Answer(place(n))));
            }
            Step::Cut if self.up => {
                self.up = false;
                // Sent, and its word lost on the way.
                self.hear_out();
                self.lesson.handle_disconnect(self.mia, self.now);
                self.meet(Meets::Down);
            }
            Step::Back if !self.up => {
                self.up = true;
                let key = Some(SeatKey(1));
                let joined = self.lesson.handle_join("Mia", key, SeatKey(2), self.now);
                joined.expect("back");
                self.meet(Meets::Up);
            }
            _ => {}
        }
    }

    fn hear_out(&mut self) {
        while let Some(message) = self.terminal.poll_message() {
            // A refusal comes back as a message.
            let _ = self.lesson.handle_message(self.mia, message, self.now);
        }
    }

    fn settle(&mut self) {
        while self.up {
            self.hear_out();
            let Some((_, message)) = self.lesson.poll_message() else {
                break;
            };
            self.meet(Meets::Frame(Box::new(message)));
        }
    }
}

fn apply(terminal: &mut Terminal, meets: &Meets, now: Moment) -> bool {
    match meets {
        Meets::Up => terminal.handle_connected(now),
        Meets::Down => terminal.handle_disconnected(now),
        Meets::Order(order) => return terminal.handle_order(*order, now).is_ok(),
        Meets::Frame(message) => terminal.handle_message((**message).clone(), now),
    }
    true
}

/// What is said of all this to who looks after these only, and at the end.
fn said(met: &[(Moment, Meets)], looks: impl Fn(usize) -> bool) -> String {
    let mut terminal = Terminal::new();
    let kept = Kept::default();
    let mut say = Say::to(Box::new(kept.clone()));
    let mut report = StudentReport::new(2);
    for (n, (now, meets)) in met.iter().enumerate() {
        apply(&mut terminal, meets, *now);
        while terminal.poll_message().is_some() {}
        if looks(n) || n + 1 == met.len() {
            while let Some(event) = terminal.poll_event() {
                report.take(&event, &mut say);
            }
        }
    }
    kept.text()
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (0..12_u8).prop_map(Step::Call),
        8 => (0..12_u8).prop_map(Step::Answer),
        3 => Just(Step::Reveal),
        3 => Just(Step::Close),
        1 => any::<bool>().prop_map(Step::Telling),
        2 => Just(Step::Cut),
        3 => Just(Step::Back),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn however_frames_come_in_bunches_the_same_lines_come_in_the_same_order(
        steps in prop::collection::vec((step(), any::<bool>()), 1..60),
        looks in prop::collection::vec(any::<bool>(), 400),
    ) {
        let mut course = Course::new();
        for (step, settles) in steps {
            course.take(step);
            if settles {
                course.settle();
            }
        }
        course.take(Step::Back);
        course.settle();
        let one_by_one = said(&course.met, |_| true);
        prop_assert_eq!(&said(&course.met, |_| false), &one_by_one);
        prop_assert_eq!(&said(&course.met, |n| looks[n % looks.len()]), &one_by_one);
        // Every answer that was taken has one line: its mark, or why it has none.
        let mut terminal = Terminal::new();
        let mut given = 0;
        for (now, meets) in &course.met {
            apply(&mut terminal, meets, *now);
        }
        while let Some(event) = terminal.poll_event() {
            given += usize::from(matches!(event, TerminalEvent::Given { .. }));
        }
        let lines = one_by_one.lines();
        let told = lines.filter(|l| l.starts_with("mark ") || l.starts_with("error: answer "));
        prop_assert_eq!(told.count(), given, "{}", one_by_one);
    }
}

/// The fault that this guards against: lines were made from the difference of two
/// looks, and of this bunch the mark and the reveal were never told, and the call
/// was said to be not found.
#[test]
fn reveal_close_and_the_next_call_in_one_moment_lose_no_line() {
    let mut course = Course::new();
    course.take(Step::Call(0));
    course.settle();
    course.take(Step::Answer(0));
    course.hear_out();
    for step in [Step::Reveal, Step::Close, Step::Call(1)] {
        course.take(step);
    }
    course.settle();
    let said = said(&course.met, |_| false);
    let lines: Vec<&str> = said.lines().collect();
    let from = lines.iter().position(|l| *l == "call 1 sounding");
    let lines = &lines[from.expect("called")..];
    assert_eq!(lines[1], "mark 1/0 right");
    assert!(lines[2].starts_with("reveal D4: "), "{said}");
    assert_eq!(lines[3..], ["closed call 1: found", "call 2 sounding"]);
}

/// What the host holds, and could not say in time, is not said to be missed.
#[test]
fn a_mark_that_comes_after_the_next_call_is_told_with_its_call() {
    let mut course = Course::new();
    course.take(Step::Call(0));
    course.settle();
    course.take(Step::Answer(0));
    course.take(Step::Cut);
    for step in [Step::Close, Step::Call(1), Step::Back] {
        course.take(step);
    }
    course.settle();
    let said = said(&course.met, |_| true);
    let owed = "closed call 1: the host has not said yet what came of your answer";
    let lines: Vec<&str> = said.lines().collect();
    let from = lines.iter().position(|l| *l == owed);
    assert_eq!(
        lines[from.expect("owed")..],
        [owed, "call 2 sounding", "mark 1/0 right, in call 1"]
    );
}
