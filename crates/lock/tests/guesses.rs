//! Wrong passphrases, in virtual time.

use std::net::{IpAddr, Ipv6Addr};
use std::time::Duration;

use fifthpeg_lock::{GuessLimits, Guesses, PASSPHRASES, Verdict};
use proptest::prelude::*;

fn ip(last: u8) -> IpAddr {
    IpAddr::from([192, 0, 2, last])
}

fn s(seconds: u64) -> Duration {
    Duration::from_secs(seconds)
}

#[test]
fn one_bad_neighbour_shuts_out_itself_alone() {
    let mut guesses = Guesses::new(GuessLimits::default());
    let mut looked_at = 0;
    // A guess each tenth of a second for an hour.
    for tenth in 0..36_000_u64 {
        let now = Duration::from_millis(tenth * 100);
        if guesses.guess(ip(1), now) == Verdict::Look {
            looked_at += 1;
        }
        assert_eq!(guesses.would(ip(2), now), Verdict::Look, "at {now:?}");
    }
    // 10, then one each 20 s; the last would come at the very end.
    assert_eq!(looked_at, 10 + 3600 / 20 - 1);
    assert_eq!(guesses.wrong_from(ip(1)), looked_at);
    // The same machine, heard over the other family.
    let mapped: IpAddr = "::ffff:192.0.2.1".parse().unwrap();
    assert!(matches!(
        guesses.would(mapped, s(3599)),
        Verdict::WaitHere(_)
    ));
}

#[test]
fn many_addresses_are_slowed_together_and_remembered_within_bounds() {
    let limits = GuessLimits {
        addresses: 100,
        ..GuessLimits::default()
    };
    let mut guesses = Guesses::new(limits);
    let mut looked_at = 0_u64;
    let evening = s(4 * 3600);
    // Another address for each guess, twenty a second.
    for n in 0..(4 * 3600 * 20_u64) {
        let now = Duration::from_millis(n * 50);
        let from = IpAddr::from(Ipv6Addr::from((0xfe80_u128 << 112) | u128::from(n)));
        if guesses.guess(from, now) == Verdict::Look {
            looked_at += 1;
        }
        assert!(guesses.remembered() <= 100);
    }
    assert!(looked_at <= limits.most_within(evening), "{looked_at}");
    // As the page on threats says.
    assert_eq!(limits.most_within(evening), 4860);
    assert_eq!(PASSPHRASES / 4860, 863_173);
}

#[test]
fn right_ones_cost_nothing() {
    let mut guesses = Guesses::new(GuessLimits::default());
    for _ in 0..1000 {
        assert_eq!(guesses.guess(ip(1), s(5)), Verdict::Look);
        guesses.was_right(ip(1));
    }
    assert_eq!(guesses.wrong_in_all(), 0);
    assert_eq!(guesses.remembered(), 0);
    assert_eq!(guesses.guess(ip(1), s(5)), Verdict::Look);
    assert_eq!((guesses.wrong_from(ip(1)), guesses.wrong_in_all()), (1, 1));
}

#[test]
fn the_wait_that_is_told_is_enough() {
    let mut guesses = Guesses::new(GuessLimits::default());
    for _ in 0..10 {
        assert_eq!(guesses.guess(ip(1), s(7)), Verdict::Look);
    }
    let Verdict::WaitHere(wait) = guesses.guess(ip(1), s(7)) else {
        panic!("looked at");
    };
    assert_eq!(wait, s(20));
    let early = s(7) + wait - Duration::from_millis(1);
    assert!(matches!(guesses.would(ip(1), early), Verdict::WaitHere(_)));
    assert_eq!(guesses.guess(ip(1), s(7) + wait), Verdict::Look);
}

proptest! {
    /// Whoever guesses whatever at whatever times: in no stretch of time are
    /// more looked at than the limits say, from one and in all.
    #[test]
    fn no_stretch_of_time_has_more_than_the_limits(
        steps in prop::collection::vec((0_u8..6, 0_u64..4_000, any::<bool>()), 1..400),
        at_once_from_one in 1_u32..5,
        at_once_in_all in 1_u32..9,
    ) {
        let limits = GuessLimits {
            at_once_from_one,
            at_once_in_all,
            then_from_one_each: Duration::from_millis(2_000),
            then_in_all_each: Duration::from_millis(700),
            addresses: 64,
        };
        let mut guesses = Guesses::new(limits);
        let mut now = Duration::ZERO;
        let mut wrong: Vec<(u8, Duration)> = Vec::new();
        for (from, after_ms, right) in steps {
            now += Duration::from_millis(after_ms);
            if guesses.guess(ip(from), now) == Verdict::Look {
                if right {
                    guesses.was_right(ip(from));
                } else {
                    wrong.push((from, now));
                }
            }
        }
        prop_assert_eq!(guesses.wrong_in_all(), wrong.len() as u64);
        let within = |times: &[Duration], at_once: u32, each: Duration| {
            times.iter().enumerate().all(|(first, begin)| {
                times[first..].iter().enumerate().all(|(more, end)| {
                    let allowed = u128::from(at_once) + (*end - *begin).as_nanos() / each.as_nanos();
                    (more as u128) < allowed
                })
            })
        };
        let all: Vec<_> = wrong.iter().map(|(_, at)| *at).collect();
        prop_assert!(within(&all, at_once_in_all, limits.then_in_all_each));
        for one in 0..6 {
            let from: Vec<_> = wrong.iter().filter(|(f, _)| *f == one).map(|(_, at)| *at).collect();
            prop_assert!(within(&from, at_once_from_one, limits.then_from_one_each));
        }
    }
}
