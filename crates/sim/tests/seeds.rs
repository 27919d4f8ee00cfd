//! Seeds are clean, the same each time, and would not be if the program were
//! wrong.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use fifthpeg_sim::{Bug, Counts, RunOptions, run};

/// Seeds run here; `scripts/simulate` runs as many as it is told to.
const SEEDS: u64 = 200;
/// A planted bug shows within so many seeds.
const SHOWS_WITHIN: u64 = 120;

#[test]
fn two_hundred_seeds_are_clean() {
    let next = AtomicU64::new(1);
    let sums = Mutex::new((Counts::default(), Vec::new()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed > SEEDS {
                        break;
                    }
                    let outcome = run(seed, RunOptions::default());
                    let mut sums = sums.lock().unwrap();
                    sums.0 += outcome.counts;
                    sums.1.extend(outcome.failure.map(|why| {
                        format!("seed {seed}: {why}; see scripts/simulate --seed {seed}")
                    }));
                }
            });
        }
    });
    let (counts, failures) = sums.into_inner().unwrap();
    assert!(failures.is_empty(), "{failures:#?}");
    // That much goes on in them, so that being clean says something.
    assert!(counts.confirmed > 1_000, "{counts:?}");
    assert!(counts.resent > 50, "{counts:?}");
    assert!(counts.crashes > 200, "{counts:?}");
    assert!(counts.cuts > 300, "{counts:?}");
    assert!(counts.starts > 1_000, "{counts:?}");
    assert!(counts.times > 500, "{counts:?}");
    assert!(counts.recalled > 200, "{counts:?}");
    assert!(counts.told > 1_000, "{counts:?}");
    assert!(counts.went_on > 10, "{counts:?}");
    assert_eq!((counts.untold, counts.lost, counts.doubled), (0, 0, 0));
}

#[test]
fn a_seed_is_the_same_each_time() {
    for seed in [3, 11, 51, 160] {
        let (first, again) = (
            run(seed, RunOptions::default()),
            run(seed, RunOptions::default()),
        );
        assert_eq!(first.hash, again.hash, "seed {seed}");
        assert_eq!(first.counts, again.counts, "seed {seed}");
    }
}

/// The seed that shows a bug and what it says, if one does.
fn shown_by(bug: Bug) -> Option<(u64, String)> {
    let manner = RunOptions {
        bug: Some(bug),
        keep_trace: false,
    };
    (1..=SHOWS_WITHIN).find_map(|seed| {
        let outcome = run(seed, manner);
        if bug == Bug::UsesOtherChance {
            let again = run(seed, manner);
            return (outcome.hash != again.hash).then(|| (seed, "another trace".to_owned()));
        }
        outcome.failure.map(|why| (seed, why))
    })
}

#[test]
fn every_planted_bug_is_caught() {
    let mut missed = Vec::new();
    for bug in Bug::ALL {
        match shown_by(bug) {
            Some((seed, why)) => println!("{bug:?}: seed {seed}: {why}"),
            None => missed.push(bug),
        }
    }
    assert!(missed.is_empty(), "not caught: {missed:?}");
}
