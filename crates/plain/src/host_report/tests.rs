use std::time::Duration;

use fifthpeg_core::Position;
use fifthpeg_lesson::message::{Answer, AnswerNotice, CallId, FromStudent, SeatKey, Source};
use fifthpeg_lesson::{HostOrder, Lesson, LessonSetup, Moment};
use fifthpeg_vocab::Setting;

use super::*;

/// A lesson with two places, its report, and what was said.
struct Hall {
    lesson: Lesson,
    report: HostReport,
    now: Moment,
    keys: u128,
}

impl Hall {
    fn new() -> Self {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let mut setup = LessonSetup::new("Thursday class", &neck);
        setup.max_students = 2;
        setup.rules.reach = "whole".parse().expect("a reach");
        let now = Moment::from_micros(1_000_000);
        let report = HostReport::new(setup.rules.clone());
        let lesson = Lesson::new(setup, now).expect("a lesson");
        Self {
            lesson,
            report,
            now,
            keys: 0,
        }
    }

    fn join(&mut self, name: &str) -> StudentId {
        self.keys += 1;
        self.now = self.now + Duration::from_secs(1);
        let key = SeatKey(self.keys);
        let joined = self.lesson.handle_join(name, None, key, self.now);
        joined.expect("let in")
    }

    fn send(&mut self, from: StudentId, message: FromStudent) {
        let sent = self.lesson.handle_message(from, message, self.now);
        sent.expect("granted");
        while self.lesson.poll_message().is_some() {}
    }

    fn answer(&mut self, from: StudentId, fret: u8) {
        let place = Position { string: 1, fret };
        self.send(
            from,
            FromStudent::Answer(AnswerNotice {
                call: CallId(1),
                serial: 1,
                answer: Answer::Place(place),
                source: Source::Screen,
                response: None,
                uncertainty: Duration::ZERO,
            }),
        );
    }

    fn said(&mut self) -> String {
        let kept = crate::say::tests::Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        while let Some(event) = self.lesson.poll_event() {
            self.report.event(&event, &mut say);
        }
        kept.text()
    }
}

#[test]
fn terminals_that_come_and_go_do_not_grow_the_report_and_still_count() {
    let mut hall = Hall::new();
    let mia = hall.join("Mia");
    let at = Answer::Place(Position { string: 1, fret: 2 });
    hall.lesson
        .handle_host(HostOrder::CallAt(at), hall.now)
        .expect("a call");
    for number in 0..300 {
        let guest = hall.join("Guest");
        hall.answer(guest, if number % 3 == 0 { 2 } else { 4 });
        hall.send(guest, FromStudent::Leave);
        hall.said();
    }
    let report = &hall.report;
    for held in [
        report.names.len(),
        report.here.len(),
        report.hearings.len(),
        report.present.len(),
        report.found.len(),
    ] {
        assert!(held <= 2, "{held} kept");
    }
    assert!(report.holds(HostWait::Found(100)));
    assert!(!report.holds(HostWait::Found(101)));
    hall.answer(mia, 2);
    let now = hall.now;
    hall.lesson
        .handle_host(HostOrder::Close, now)
        .expect("it closes");
    let said = hall.said();
    assert!(
        said.contains("closed call 1: 101 of 301 found it"),
        "{said}"
    );
}

#[test]
fn what_was_played_and_sung_is_told_as_that() {
    let mut hall = Hall::new();
    let mia = hall.join("Mia");
    let order = |hall: &mut Hall, order| {
        let now = hall.now;
        hall.lesson.handle_host(order, now).expect("granted");
    };
    order(&mut hall, HostOrder::Set(Setting::SingFirst(true)));
    let at = Answer::Place(Position { string: 1, fret: 2 });
    order(&mut hall, HostOrder::CallAt(at));
    let call = CallId(1);
    hall.now = hall.now + Duration::from_secs(5);
    // E3, an octave below the call, and 12 cents low.
    let frequency_hz = 164.814 * 2f64.powf(-12.0 / 1200.0);
    hall.send(
        mia,
        FromStudent::Sung {
            call,
            frequency_hz,
            spread_cents: 20.0,
        },
    );
    let pitch = Answer::Pitch("E4".parse().expect("a pitch"));
    let source = Source::Instrument;
    hall.send(
        mia,
        FromStudent::Try {
            call,
            at: pitch,
            source,
        },
    );
    hall.send(
        mia,
        FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: pitch,
            source,
            response: Some(Duration::from_millis(4210)),
            uncertainty: Duration::from_millis(60),
        }),
    );
    let said = hall.said();
    for line in [
        "sing-first on\n",
        "sung Mia an octave below, 12 cents low\n",
        "tried Mia E4, played\n",
        "answer Mia E4 right, 4.21 s +/- 0.06 s, played\n",
    ] {
        assert!(said.contains(line), "{line} is not in\n{said}");
    }
}

#[test]
fn what_missed_events_would_have_said_is_caught_up_with() {
    let mut hall = Hall::new();
    let mia = hall.join("Mia");
    let guest = hall.join("Guest");
    hall.said();
    hall.send(guest, FromStudent::Leave);
    let ivo = hall.join("Ivo");
    // Nobody tells the report that the guest's place went to Ivo.
    while hall.lesson.poll_event().is_some() {}
    hall.report.catch_up(&hall.lesson.view());
    assert_eq!(hall.report.name(mia), "Mia");
    assert_eq!(hall.report.name(ivo), "Ivo");
    assert_eq!(hall.report.name(guest), "somebody");
    assert!(hall.report.holds(HostWait::Students(2)));
    assert!(!hall.report.holds(HostWait::Students(3)));
}
