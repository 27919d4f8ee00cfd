//! The clock estimate in virtual time, over links with delay, jitter and
//! unequal ways, between clocks that drift.
//!
//! Source of the bound: RFC 5905 section 8 and appendix A.5.5.1: the true
//! offset lies within half the round trip of the measured one, plus what the
//! clocks may have drifted.

use std::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::clock::{BadExchange, ClockEstimate, DRIFT_PPM, EXCHANGES_KEPT};
use proptest::prelude::*;

fn at(us: u64) -> Moment {
    Moment::from_micros(us)
}

/// Two clocks over true time: the host's is ahead by `offset_us` at true time
/// 0 and runs `drift_ppm` fast against the student's.
#[derive(Debug, Clone, Copy)]
struct Clocks {
    offset_us: i64,
    drift_ppm: f64,
}

/// Student clocks start here, so that offsets either way stay positive.
const START_US: u64 = 1_000_000_000_000;

impl Clocks {
    /// The student's clock is true time itself.
    fn host(self, true_us: u64) -> Moment {
        let drifted = (true_us - START_US) as f64 * self.drift_ppm / 1e6;
        let us = true_us as i64 + self.offset_us + drifted.round() as i64;
        at(u64::try_from(us).expect("positive"))
    }

    fn exchange(self, clock: &mut ClockEstimate, sent_us: u64, way: Way) {
        let there = sent_us + way.there_us;
        let answered = there + way.held_us;
        let back = answered + way.back_us;
        clock
            .add(at(sent_us), self.host(there), self.host(answered), at(back))
            .expect("makes sense");
    }

    /// How far the estimate is off in converting the host's clock at a true time.
    fn error_us(self, clock: &ClockEstimate, true_us: u64) -> u64 {
        let local = clock.to_local(self.host(true_us)).expect("known");
        local.micros().abs_diff(true_us)
    }
}

#[derive(Debug, Clone, Copy)]
struct Way {
    there_us: u64,
    held_us: u64,
    back_us: u64,
}

fn ways() -> impl Strategy<Value = Vec<Way>> {
    let way =
        (0u64..80_000, 0u64..5_000, 0u64..80_000).prop_map(|(there_us, held_us, back_us)| Way {
            there_us,
            held_us,
            back_us,
        });
    proptest::collection::vec(way, 1..20)
}

proptest! {
    #[test]
    fn the_error_never_exceeds_what_is_claimed(
        ways in ways(),
        offset_us in -500_000_000_000i64..500_000_000_000,
        drift_ppm in -(DRIFT_PPM as f64)..DRIFT_PPM as f64,
        gap_us in 1_000u64..10_000_000,
        later_us in 0u64..60_000_000,
    ) {
        let clocks = Clocks { offset_us, drift_ppm };
        let mut clock = ClockEstimate::new();
        let mut now = START_US;
        for way in ways {
            clocks.exchange(&mut clock, now, way);
            now += way.there_us + way.held_us + way.back_us + gap_us;
        }
        now += later_us;
        let claimed = clock.uncertainty(at(now)).unwrap().as_micros() as u64;
        // One microsecond for rounding the true clocks of this test.
        prop_assert!(clocks.error_us(&clock, now) <= claimed + 1);
    }

    #[test]
    fn equal_ways_and_no_drift_give_the_offset_itself(
        one_way_us in 0u64..200_000,
        offset_us in -500_000_000_000i64..500_000_000_000,
    ) {
        let clocks = Clocks { offset_us, drift_ppm: 0.0 };
        let mut clock = ClockEstimate::new();
        let way = Way { there_us: one_way_us, held_us: 300, back_us: one_way_us };
        clocks.exchange(&mut clock, START_US, way);
        prop_assert_eq!(clocks.error_us(&clock, START_US + 5_000_000), 0);
        prop_assert_eq!(clock.offset_us(), Some(offset_us as f64));
    }

    #[test]
    fn one_way_only_costs_half_the_delay_and_no_more(
        there_us in 0u64..200_000,
        back_us in 0u64..200_000,
    ) {
        let clocks = Clocks { offset_us: 77_000_000, drift_ppm: 0.0 };
        let mut clock = ClockEstimate::new();
        let way = Way { there_us, held_us: 0, back_us };
        clocks.exchange(&mut clock, START_US, way);
        let error = clocks.error_us(&clock, START_US);
        prop_assert!(error.abs_diff(there_us.abs_diff(back_us) / 2) <= 1);
        prop_assert!(error <= (there_us + back_us).div_ceil(2));
    }

    #[test]
    fn there_and_back_is_the_same_moment(
        t in START_US..START_US + 1_000_000_000,
        offset_us in -500_000_000_000i64..500_000_000_000,
        way in (0u64..9_999, 0u64..9_999),
    ) {
        let clocks = Clocks { offset_us, drift_ppm: 0.0 };
        let mut clock = ClockEstimate::new();
        clocks.exchange(&mut clock, START_US, Way { there_us: way.0, held_us: 5, back_us: way.1 });
        let there = clock.to_host(at(t)).unwrap();
        prop_assert_eq!(clock.to_local(there).unwrap(), at(t));
    }

    #[test]
    fn any_timestamps_at_all_do_no_harm(stamps: Vec<[u64; 4]>, ask: u64) {
        let mut clock = ClockEstimate::new();
        for [t1, t2, t3, t4] in stamps {
            let _ = clock.add(at(t1), at(t2), at(t3), at(t4));
            prop_assert!(clock.exchanges() <= EXCHANGES_KEPT);
        }
        let _ = (clock.to_local(at(ask)), clock.to_host(at(ask)), clock.uncertainty(at(ask)));
    }
}

#[test]
fn nothing_is_known_before_the_first_exchange() {
    let clock = ClockEstimate::new();
    assert!(!clock.is_known());
    assert_eq!(clock.to_local(at(5)), None);
    assert_eq!(clock.to_host(at(5)), None);
    assert_eq!(clock.uncertainty(at(5)), None);
    assert_eq!(clock.offset_us(), None);
}

#[test]
fn the_quickest_of_the_last_eight_is_used_until_it_is_out() {
    let clocks = Clocks {
        offset_us: 1_000,
        drift_ppm: 0.0,
    };
    let slow = Way {
        there_us: 40_000,
        held_us: 0,
        back_us: 0,
    };
    let quick = Way {
        there_us: 150,
        held_us: 0,
        back_us: 150,
    };
    let mut clock = ClockEstimate::new();
    let second = |n: u64| START_US + n * 1_000_000;
    clocks.exchange(&mut clock, second(0), slow);
    assert_eq!(clocks.error_us(&clock, second(1)), 20_000);
    clocks.exchange(&mut clock, second(1), quick);
    assert_eq!(clocks.error_us(&clock, second(2)), 0);
    for n in 2..9 {
        clocks.exchange(&mut clock, second(n), slow);
        assert_eq!(clocks.error_us(&clock, second(n)), 0, "after {n}");
    }
    assert_eq!(clock.exchanges(), EXCHANGES_KEPT);
    clocks.exchange(&mut clock, second(9), slow);
    assert_eq!(clocks.error_us(&clock, second(9)), 20_000);
}

#[test]
fn a_good_old_exchange_gives_way_once_drift_makes_it_worse() {
    let clocks = Clocks {
        offset_us: 0,
        drift_ppm: 50.0,
    };
    let mut clock = ClockEstimate::new();
    let way = |us| Way {
        there_us: us,
        held_us: 0,
        back_us: us,
    };
    clocks.exchange(&mut clock, START_US, way(100));
    // A minute later 100 ppm may have cost 6 ms; 1 ms of delay costs less.
    let minute = START_US + 60_000_000;
    clocks.exchange(&mut clock, minute, way(500));
    let now = minute + 1_000;
    assert!(clocks.error_us(&clock, now) <= 1);
    assert!(clock.uncertainty(at(now)).unwrap() < Duration::from_millis(1));
}

#[test]
fn a_clock_that_stood_still_is_noticed_with_the_next_exchange() {
    let quick = Way {
        there_us: 150,
        held_us: 20,
        back_us: 150,
    };
    let slow = Way {
        there_us: 90_000,
        held_us: 20,
        back_us: 10_000,
    };
    // The student's machine slept, or the host's.
    for slept_us in [4_000_000, -4_000_000] {
        let awake = Clocks {
            offset_us: 70_000_000,
            drift_ppm: 0.0,
        };
        let mut clock = ClockEstimate::new();
        for n in 0..8 {
            awake.exchange(&mut clock, START_US + n * 1_000_000, quick);
        }
        let later = Clocks {
            offset_us: awake.offset_us + slept_us,
            ..awake
        };
        // However much worse the new exchange is than the old ones.
        let now = START_US + 8_000_000;
        later.exchange(&mut clock, now, slow);
        assert_eq!(clock.exchanges(), 1);
        let error = later.error_us(&clock, now);
        let claimed = clock.uncertainty(at(now)).unwrap().as_micros() as u64;
        assert!(error <= claimed, "{error} us, {claimed} us claimed");
        assert_eq!(error, 40_000);
    }
}

#[test]
fn timestamps_that_cannot_be_are_left_out() {
    let mut clock = ClockEstimate::new();
    assert_eq!(clock.add(at(10), at(5), at(5), at(9)), Err(BadExchange));
    assert_eq!(clock.add(at(10), at(5), at(4), at(20)), Err(BadExchange));
    // Held for a second within a round trip of 10 ms.
    assert_eq!(
        clock.add(at(0), at(0), at(1_000_000), at(10_000)),
        Err(BadExchange)
    );
    assert!(!clock.is_known());
}
