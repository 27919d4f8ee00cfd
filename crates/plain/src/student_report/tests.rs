use std::time::Duration;

use fifthpeg_core::{Neck, Pitch};
use fifthpeg_lesson::marking::Marking;
use fifthpeg_lesson::message::{Answer, Mode, Rules, SeatKey, StudentId};
use fifthpeg_lesson::terminal::{Doubt, HandsFree, HeardNote, Terminal};
use fifthpeg_lesson::{HostOrder, Lesson, LessonSetup, Moment};

use super::*;
use crate::say::tests::Kept;

/// One student with a microphone and headphones, and what is said to them.
struct Seat {
    lesson: Lesson,
    student: StudentId,
    terminal: Terminal,
    report: StudentReport,
    kept: Kept,
    now: Moment,
}

impl Seat {
    fn new(change: impl FnOnce(&mut Rules)) -> Self {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let mut setup = LessonSetup::new("Thursday class", &neck);
        setup.rules.reach = "whole".parse().expect("a reach");
        change(&mut setup.rules);
        let now = Moment::from_micros(1_000_000);
        let mut lesson = Lesson::new(setup, now).expect("a lesson");
        let joined = lesson.handle_join("Mia", None, SeatKey(1), now);
        let hands_free = HandsFree {
            headphones: true,
            ..HandsFree::default()
        };
        let mut terminal = Terminal::new();
        terminal.handle_connected(now);
        terminal.handle_clock(now, now, now, now);
        terminal.set_hands_free(Some(hands_free));
        let mut seat = Self {
            lesson,
            student: joined.expect("let in"),
            terminal,
            report: StudentReport::new(hands_free.times),
            kept: Kept::default(),
            now,
        };
        seat.settle();
        seat
    }

    fn settle(&mut self) {
        loop {
            let mut quiet = true;
            while let Some((_, message)) = self.lesson.poll_message() {
                quiet = false;
                self.terminal.handle_message(message, self.now);
            }
            while let Some(sound) = self.terminal.poll_sound() {
                let (off, lasts) = (Duration::from_millis(5), Duration::from_millis(1400));
                self.terminal.handle_sounded(sound.id, sound.at, off, lasts);
            }
            while let Some(message) = self.terminal.poll_message() {
                quiet = false;
                let done = self.lesson.handle_message(self.student, message, self.now);
                done.expect("granted");
            }
            if quiet {
                break;
            }
        }
        let mut say = Say::to(Box::new(self.kept.clone()));
        while let Some(event) = self.terminal.poll_event() {
            self.report.take(&event, &mut say);
        }
    }

    fn rest(&mut self, ms: u64) {
        self.now = self.now + Duration::from_millis(ms);
        self.terminal.handle_timeout(self.now);
        self.settle();
    }

    fn call(&mut self, place: &str) {
        let place = Answer::Place(place.parse().expect("a place"));
        let called = self.lesson.handle_host(HostOrder::CallAt(place), self.now);
        called.expect("a call");
        self.settle();
        self.rest(1000);
    }

    /// A pluck that may answer.
    fn pluck(&mut self, id: u64, midi: u8) {
        self.plucked(id, midi);
        self.hear(HeardNote::MayAnswer { id });
        self.rest(600);
    }

    /// One that may not.
    fn pluck_for_nothing(&mut self, id: u64, midi: u8, why: Doubt) {
        self.plucked(id, midi);
        self.hear(HeardNote::MayNotAnswer { id, why });
        self.rest(600);
    }

    fn hear(&mut self, heard: HeardNote) {
        self.terminal.handle_heard(heard, self.now);
        self.settle();
    }

    fn plucked(&mut self, id: u64, midi: u8) {
        let heard = HeardNote::Pluck {
            id,
            pitch: Pitch::new(midi).expect("a pitch"),
            cents: 0.0,
            at: self.now,
            uncertainty: Duration::from_millis(4),
        };
        self.hear(heard);
    }

    /// The last lines said, as many as these, are these.
    #[track_caller]
    fn ends_with(&self, lines: &[&str]) {
        let said = self.kept.text();
        let all: Vec<&str> = said.lines().collect();
        let from = all.len().saturating_sub(lines.len());
        assert_eq!(all[from..], *lines, "{said}");
    }
}

#[test]
fn a_note_plucked_is_said_with_how_often_it_still_takes() {
    let mut seat = Seat::new(|_| {});
    seat.call("1/4");
    seat.pluck(1, 60);
    seat.ends_with(&["plucked C4, 1 of 2 in a row to answer"]);
    seat.pluck(2, 66);
    seat.ends_with(&["plucked F#4, 1 of 2 in a row to answer"]);
    seat.pluck(3, 66);
    seat.ends_with(&["plucked F#4, 2 of 2 in a row to answer", "mark F#4 right"]);
}

#[test]
fn a_note_that_does_not_count_is_said_with_what_helps_and_then_with_another_way() {
    let mut seat = Seat::new(|_| {});
    seat.call("1/4");
    seat.pluck_for_nothing(1, 66, Doubt::Unsteady);
    seat.ends_with(&[
        "plucked F#4, 1 of 2 in a row to answer",
        "plucked F#4, not counted: let it ring",
    ]);
    seat.pluck_for_nothing(2, 66, Doubt::SeveralNotes);
    seat.ends_with(&[
        "plucked F#4, 1 of 2 in a row to answer",
        "plucked F#4, not counted: type answer heard to answer with it",
    ]);
    // A voice that was taken for a note is nothing to speak of.
    seat.pluck_for_nothing(3, 60, Doubt::NotAPluck);
    seat.ends_with(&["plucked C4, 1 of 2 in a row to answer"]);
    seat.pluck(4, 66);
    seat.pluck(5, 66);
    seat.ends_with(&["plucked F#4, 2 of 2 in a row to answer", "mark F#4 right"]);
}

#[test]
fn the_place_of_a_note_heard_is_asked_for() {
    let mut seat = Seat::new(|rules| rules.marking = Marking::ExactPlace);
    seat.call("2/7");
    seat.pluck(1, 66);
    seat.pluck(2, 66);
    seat.ends_with(&[
        "plucked F#4, 2 of 2 in a row to answer",
        "plucked F#4: which place was it? answer 1/4, 2/7, 3/11 or 4/16",
    ]);
}

#[test]
fn singing_is_invited_and_told_of() {
    let mut seat = Seat::new(|rules| rules.sing_first = true);
    seat.call("2/1");
    seat.ends_with(&["call 1 sounding", "hint sing the note first, if you like"]);
    let heard = HeardNote::Sung {
        // C3, an octave below middle C, and 12 cents low.
        frequency_hz: 130.813 * 2f64.powf(-12.0 / 1200.0),
        spread_cents: 15.0,
        at: seat.now,
        lasted: Duration::from_millis(900),
    };
    seat.terminal.handle_heard(heard, seat.now);
    seat.settle();
    seat.ends_with(&["sung an octave below, 12 cents low"]);
}

#[test]
fn on_the_turn_to_call_it_is_said_how() {
    let mut seat = Seat::new(|rules| rules.mode = Mode::Friends);
    seat.pluck(1, 60);
    seat.ends_with(&["plucked C4: type pick heard to call it"]);
}
