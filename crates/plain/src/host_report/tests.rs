use std::time::Duration;

use fifthpeg_fixture::{Room, at, notice, setup};
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::message::{Answer, AnswerNotice, CallId, FromStudent, Source};
use fifthpeg_vocab::Setting;

use super::*;

/// A lesson with two places, its report, and what was said.
struct Hall {
    room: Room,
    report: HostReport,
}

impl Hall {
    fn new() -> Self {
        let mut setup = setup();
        setup.max_students = 2;
        let report = HostReport::new(setup.rules.clone());
        let mut room = Room::new(setup);
        room.events.clear();
        Self { room, report }
    }

    fn said(&mut self) -> String {
        let kept = crate::say::tests::Kept::default();
        let mut say = Say::to(Box::new(kept.clone()));
        for event in self.room.events.drain(..) {
            self.report.event(&event, self.room.now, &mut say);
        }
        kept.text()
    }
}

#[test]
fn terminals_that_come_and_go_do_not_grow_the_report_and_still_count() {
    let mut hall = Hall::new();
    let mia = hall.room.join("Mia");
    hall.room.order(HostOrder::CallAt(at("1/2")));
    for number in 0..300 {
        let guest = hall.room.join("Guest");
        let answer = at(if number % 3 == 0 { "1/2" } else { "1/4" });
        hall.room
            .say(guest, notice(CallId(1), 1, answer))
            .expect("granted");
        hall.room.say(guest, FromStudent::Leave).expect("granted");
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
    hall.room.answer(mia, at("1/2")).expect("a mark");
    hall.room.order(HostOrder::Close);
    let said = hall.said();
    assert!(
        said.contains("closed call 1: 101 of 301 found it"),
        "{said}"
    );
}

#[test]
fn what_was_played_and_sung_is_told_as_that() {
    let mut hall = Hall::new();
    let mia = hall.room.join("Mia");
    hall.room.order(HostOrder::Set(Setting::SingFirst(true)));
    hall.room.order(HostOrder::CallAt(at("1/2")));
    let call = CallId(1);
    hall.room.wait_ms(5000);
    // E3, an octave below the call, and 12 cents low.
    let frequency_hz = 164.814 * 2f64.powf(-12.0 / 1200.0);
    let pitch = Answer::Pitch("E4".parse().expect("a pitch"));
    let source = Source::Instrument;
    for message in [
        FromStudent::Sung {
            call,
            frequency_hz,
            spread_cents: 20.0,
        },
        FromStudent::Try {
            call,
            at: pitch,
            source,
        },
        FromStudent::Answer(AnswerNotice {
            call,
            serial: 1,
            answer: pitch,
            source,
            response: Some(Duration::from_millis(4210)),
            uncertainty: Duration::from_millis(60),
        }),
    ] {
        hall.room.say(mia, message).expect("granted");
    }
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
    let mia = hall.room.join("Mia");
    let guest = hall.room.join("Guest");
    hall.said();
    hall.room.say(guest, FromStudent::Leave).expect("granted");
    let ivo = hall.room.join("Ivo");
    // Nobody tells the report that the guest's place went to Ivo.
    hall.room.events.clear();
    hall.report.catch_up(&hall.room.view());
    assert_eq!(hall.report.name(mia), "Mia");
    assert_eq!(hall.report.name(ivo), "Ivo");
    assert_eq!(hall.report.name(guest), "somebody");
    assert!(hall.report.holds(HostWait::Students(2)));
    assert!(!hall.report.holds(HostWait::Students(3)));
}
