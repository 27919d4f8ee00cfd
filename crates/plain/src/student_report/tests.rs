use std::time::Duration;

use fifthpeg_fixture::class::Class;
use fifthpeg_lesson::marking::Marking;
use fifthpeg_lesson::message::{Mode, Rules};
use fifthpeg_lesson::terminal::{Doubt, HandsFree, HeardNote};

use super::*;
use crate::say::tests::Kept;

/// One student with a microphone and headphones, and what is said to them.
struct Seat {
    class: Class,
    report: StudentReport,
    kept: Kept,
}

impl Seat {
    fn new(change: impl FnOnce(&mut Rules)) -> Self {
        let mut class = Class::with(&["Mia"], |setup| change(&mut setup.rules));
        class.plays(0, true);
        Self {
            class,
            report: StudentReport::new(HandsFree::default().times),
            kept: Kept::default(),
        }
    }

    fn tell(&mut self) {
        let mut say = Say::to(Box::new(self.kept.clone()));
        for event in self.class.take_news(0) {
            self.report.take(&event, &mut say);
        }
    }

    fn rest(&mut self, ms: u64) {
        self.class.rest(Duration::from_millis(ms).as_secs_f64());
        self.tell();
    }

    fn call(&mut self, place: &str) {
        self.class.call(place);
        self.rest(0);
    }

    /// A pluck that may answer.
    fn pluck(&mut self, id: u64, midi: u8) {
        self.class.plucks(0, id, midi);
        self.rest(600);
    }

    /// One that may not.
    fn pluck_for_nothing(&mut self, id: u64, midi: u8, why: Doubt) {
        self.class
            .plucks_so(0, id, midi, HeardNote::MayNotAnswer { id, why });
        self.rest(600);
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
        at: seat.class.now,
        lasted: Duration::from_millis(900),
    };
    seat.class.hears(0, heard);
    seat.tell();
    seat.ends_with(&["sung an octave below, 12 cents low"]);
}

#[test]
fn on_the_turn_to_call_it_is_said_how() {
    let mut seat = Seat::new(|rules| rules.mode = Mode::Friends);
    seat.pluck(1, 60);
    seat.ends_with(&["plucked C4: type pick heard to call it"]);
}
