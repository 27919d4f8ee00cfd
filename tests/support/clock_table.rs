//! Prints the table of clock errors: `scripts/bench-clock [ROUNDS]`.

use std::time::Duration;

use fifthpeg_tests::clock_trial::{Path, Reading, readings};
use fifthpeg_tests::forwarder::Lane;

/// Rounds, where none are given.
const ROUNDS: usize = 20;
/// Eight exchanges, a quarter of a second apart, over the longest way.
const SETTLE: Duration = Duration::from_millis(3000);

fn lane(delay_ms: u64, jitter_ms: u64, loss: f64) -> Lane {
    Lane {
        delay: Duration::from_millis(delay_ms),
        jitter: Duration::from_millis(jitter_ms),
        loss,
    }
}

fn paths() -> Vec<Path> {
    let path = |name, there, back| Path { name, there, back };
    let still = |out, back| (lane(out, 0, 0.0), lane(back, 0, 0.0));
    let uneven = |name, (there, back)| path(name, there, back);
    vec![
        uneven("0 / 0 ms", still(0, 0)),
        uneven("5 / 5 ms", still(5, 5)),
        uneven("50 / 50 ms", still(50, 50)),
        path("5 / 5 ms, jitter 10", lane(5, 10, 0.0), lane(5, 10, 0.0)),
        path(
            "20 / 20 ms, jitter 100",
            lane(20, 100, 0.0),
            lane(20, 100, 0.0),
        ),
        path("20 / 20 ms, 10 % lost", lane(20, 0, 0.1), lane(20, 0, 0.1)),
        uneven("1 / 20 ms", still(1, 20)),
        uneven("20 / 1 ms", still(20, 1)),
        uneven("1 / 100 ms", still(1, 100)),
        uneven("100 / 1 ms", still(100, 1)),
        path("1 / 50 ms, jitter 50", lane(1, 50, 0.0), lane(50, 50, 0.0)),
    ]
}

#[tokio::main]
async fn main() {
    let given = std::env::args().nth(1);
    let rounds = given.map_or(ROUNDS, |n| n.parse().expect("a number of rounds"));
    let paths = paths();
    let mut all: Vec<Vec<Reading>> = vec![Vec::new(); paths.len()];
    for round in 1..=rounds {
        eprint!("\rround {round} of {rounds} ");
        for (kept, reading) in all.iter_mut().zip(readings(&paths, SETTLE).await) {
            kept.push(reading);
        }
    }
    eprintln!();
    println!(
        "Clock error of {rounds} new terminals for each way, after their first exchanges.\n\
         Error: start of a call at the terminal after the instant that the host named.\n"
    );
    println!(
        "| way out / back | error, median | error, most | stated ±, median | truth within it |"
    );
    println!("|---|--:|--:|--:|--:|");
    let mut outside = 0;
    for (path, readings) in paths.iter().zip(&mut all) {
        let held = readings.iter().filter(|r| r.holds()).count();
        outside += readings.len() - held;
        readings.sort_by_key(|r| r.error_us);
        let middle = readings[readings.len() / 2].error_us;
        let most = readings.iter().max_by_key(|r| r.error_us.abs());
        let mut stated: Vec<_> = readings.iter().map(|r| r.stated).collect();
        stated.sort();
        println!(
            "| {} | {:+.2} ms | {:+.2} ms | {:.2} ms | {held} of {} |",
            path.name,
            middle as f64 / 1000.0,
            most.map_or(0, |r| r.error_us) as f64 / 1000.0,
            stated[stated.len() / 2].as_secs_f64() * 1000.0,
            readings.len(),
        );
    }
    assert_eq!(
        outside, 0,
        "readings whose truth lies outside what was stated"
    );
}
