//! Whole lessons in virtual time, host and terminals together over links with
//! delays and losses: the design's invariants 2, 3 and 5.

#[allow(dead_code, reason = "each test file uses part of it")]
mod hall;

use std::collections::BTreeMap;
use std::time::Duration;

use fifthpeg_core::{Neck, Position};
use fifthpeg_lesson::call::SHORTEST_RESPONSE;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{Answer, CallId};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::terminal::{KEYBOARD_ALLOWANCE, SoundKind, StudentOrder};
use fifthpeg_lesson::view::CallStage;
use proptest::prelude::*;

use hall::{Hall, OUTPUT_UNCERTAINTY};

fn setup(seed: u64) -> LessonSetup {
    let neck = Neck::ready("banjo-open-g").unwrap();
    let mut setup = LessonSetup::new("Village hall", &neck);
    setup.rules.reach = "whole".parse().unwrap();
    setup.seed = seed;
    setup
}

/// A hall with seats whose clocks and links differ.
fn hall(seed: u64, seats: usize, slowest_us: u64) -> Hall {
    let mut hall = Hall::new(setup(seed), 3_000_000_000, seed);
    for _ in 0..seats {
        let offset = hall.roll(8_000_000_000) as i64 - 4_000_000_000;
        let least = hall.roll(slowest_us);
        let most = least + hall.roll(slowest_us);
        hall.add_seat(offset, (least, most));
    }
    hall
}

fn random_place(hall: &mut Hall) -> Answer {
    let string = 1 + hall.roll(4) as u8;
    let fret = hall.roll(22) as u8;
    Answer::Place(Position { string, fret })
}

/// Something happens somewhere.
fn act(hall: &mut Hall, losses: bool) {
    let seat = hall.roll(hall.seats.len() as u64) as usize;
    match hall.roll(if losses { 12 } else { 9 }) {
        0 => drop(hall.host_order(HostOrder::CallRandom)),
        1 => drop(hall.host_order(HostOrder::HearAgain)),
        2 => drop(hall.host_order(HostOrder::Reveal)),
        3 => drop(hall.student_order(seat, StudentOrder::Hear)),
        4 | 5 => {
            let place = random_place(hall);
            hall.student_order(seat, StudentOrder::Try(place));
        }
        6..9 => {
            let place = random_place(hall);
            hall.student_order(seat, StudentOrder::Answer(place));
        }
        9 => hall.disconnect(seat),
        _ => hall.connect(seat),
    }
}

fn starts(hall: &Hall) -> BTreeMap<CallId, u64> {
    let start_of = |e: &LessonEvent| match e {
        LessonEvent::CallMade { call, start, .. } => Some((*call, hall.true_of_host(*start))),
        _ => None,
    };
    hall.events.iter().filter_map(start_of).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Invariant 3.
    #[test]
    fn everyone_starts_a_call_together(seed: u64) {
        let mut hall = hall(seed, 6, 60_000);
        for seat in 0..6 {
            hall.connect(seat);
        }
        hall.pass(3_000_000);
        for _ in 0..5 {
            hall.host_order(HostOrder::CallRandom);
            hall.pass(4_000_000);
            hall.host_order(HostOrder::Close);
            hall.pass(500_000);
        }
        let starts = starts(&hall);
        prop_assert_eq!(starts.len(), 5);
        let firsts: Vec<_> = hall.tones.iter().filter(|t| t.kind == SoundKind::Call).collect();
        prop_assert_eq!(firsts.len(), 30);
        for tone in firsts {
            let start = starts[&tone.call.unwrap()];
            prop_assert!(tone.ordered_us < start, "the message came in time");
            let claimed = tone.clock_uncertainty.unwrap().as_micros() as u64;
            prop_assert!(tone.at_us.abs_diff(start) <= claimed, "{tone:?} {start}");
            // Half of the slowest round trip, and what drift is allowed for.
            prop_assert!(claimed <= 120_000 + 3_000);
        }
    }

    /// Invariant 2: delays, clocks and losses change nothing.
    #[test]
    fn response_times_are_the_true_ones(seed: u64) {
        let mut hall = hall(seed, 3, 300_000);
        for seat in 0..3 {
            hall.connect(seat);
        }
        for _ in 0..150 {
            act(&mut hall, true);
            let gap = hall.roll(900_000);
            hall.pass(gap);
        }
        settle(&mut hall);
        for seat in 0..3 {
            let id = hall.seats[seat].terminal.view(hall.host(0)).welcome.unwrap().student;
            for event in &hall.events {
                let LessonEvent::Answered { student, call, response, uncertainty, .. } = event else {
                    continue;
                };
                if *student != id {
                    continue;
                }
                let known = hall.given.iter().filter(|g| g.seat == seat && g.call == *call);
                // What is sooner than anybody can be is not timed.
                let told = |t: Option<Duration>| t.filter(|t| *t >= SHORTEST_RESPONSE);
                prop_assert!(known.clone().any(|g| told(g.true_response) == *response), "{event:?}");
                if response.is_some() {
                    prop_assert_eq!(*uncertainty, OUTPUT_UNCERTAINTY + KEYBOARD_ALLOWANCE);
                }
            }
        }
    }

    /// Invariant 5, as far as the lesson goes: what a terminal shows as marked
    /// is recorded, once; and what is recorded it shows, once the two are
    /// together again.
    #[test]
    fn each_answer_is_recorded_once(seed: u64) {
        let mut hall = hall(seed, 3, 200_000);
        for seat in 0..3 {
            hall.connect(seat);
        }
        let mut round = 0;
        while round < 120 {
            act(&mut hall, true);
            let gap = hall.roll(400_000);
            hall.pass(gap);
            round += 1;
        }
        settle(&mut hall);
        let mut recorded = BTreeMap::new();
        for event in &hall.events {
            if let LessonEvent::Answered { student, call, serial, answer, .. } = event {
                let twice = recorded.insert((*student, *call, *serial), *answer);
                prop_assert_eq!(twice, None);
            }
        }
        for seat in &hall.seats {
            let view = seat.terminal.view(hall.host(0));
            let id = view.welcome.unwrap().student;
            let Some(call) = view.call else { continue };
            let held: Vec<_> = recorded
                .iter()
                .filter(|((s, c, _), _)| (*s, *c) == (id, call.id))
                .map(|(_, answer)| *answer)
                .collect();
            let marked: Vec<_> =
                call.answers.iter().filter(|(_, m)| m.is_some()).map(|(a, _)| *a).collect();
            prop_assert_eq!(&held, &marked);
            if call.stage == CallStage::Open {
                prop_assert_eq!(call.answers.len(), marked.len(), "all are confirmed");
            }
        }
    }
}

/// Everyone comes back, and everything on its way arrives.
fn settle(hall: &mut Hall) {
    for seat in 0..hall.seats.len() {
        hall.connect(seat);
    }
    hall.pass(20_000_000);
}

#[test]
fn a_lesson_over_a_quiet_network_is_exact_to_the_millisecond() {
    let mut hall = hall(1, 0, 1);
    for offset in [0, -2_500_000_000, 7_000_000_000] {
        let seat = hall.add_seat(offset, (200, 400));
        hall.connect(seat);
    }
    hall.pass(5_000_000);
    hall.host_order(HostOrder::CallRandom);
    hall.pass(1_000_000);
    let at: Vec<_> = hall.tones.iter().map(|t| t.at_us).collect();
    assert_eq!(at.len(), 3);
    let spread = at.iter().max().unwrap() - at.iter().min().unwrap();
    assert!(
        Duration::from_micros(spread) < Duration::from_millis(1),
        "{at:?}"
    );
}
