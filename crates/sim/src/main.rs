//! Runs seeds and says what came of them:
//!
//!     fifthpeg-sim N [--from SEED] [--jobs N]     N seeds, on all cores
//!     fifthpeg-sim --seed SEED                    one, with what happened in it

use std::io::Write as _;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use fifthpeg_sim::{Counts, RunOptions, RunOutcome, run};

/// How often it says how far it is.
const PROGRESS: Duration = Duration::from_secs(5);
/// No more failing seeds are named.
const NAMED: usize = 10;

struct Asked {
    from: u64,
    count: u64,
    jobs: u64,
    one: bool,
}

fn main() -> ExitCode {
    let Some(asked) = asked() else {
        eprintln!("give the number of seeds, such as 'fifthpeg-sim 200 --from 1', or --seed SEED");
        return ExitCode::from(2);
    };
    if asked.one {
        replay(asked.from)
    } else {
        many(&asked)
    }
}

fn asked() -> Option<Asked> {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let mut asked = Asked {
        from: 1,
        count: 0,
        jobs: cores as u64,
        one: false,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--from" => asked.from = words.next()?.parse().ok()?,
            "--jobs" => asked.jobs = words.next()?.parse().ok().filter(|n| *n > 0)?,
            "--seed" => {
                asked.from = words.next()?.parse().ok()?;
                asked.one = true;
            }
            count => asked.count = count.parse().ok()?,
        }
    }
    (asked.one || asked.count > 0).then_some(asked)
}

/// One seed, line by line.
fn replay(seed: u64) -> ExitCode {
    let manner = RunOptions {
        keep_trace: true,
        bug: None,
    };
    let outcome = run(seed, manner);
    let mut out = std::io::stdout().lock();
    for line in &outcome.trace {
        // A reader that stops reading wants no more.
        if writeln!(out, "{line}").is_err() {
            return ExitCode::SUCCESS;
        }
    }
    match outcome.failure {
        Some(why) => {
            let _ = writeln!(out, "seed {seed} fails: {why}");
            ExitCode::FAILURE
        }
        None => {
            let _ = writeln!(out, "seed {seed} is clean: {}", words(1, &outcome.counts));
            ExitCode::SUCCESS
        }
    }
}

fn many(asked: &Asked) -> ExitCode {
    let next = AtomicU64::new(0);
    let done = Mutex::new((Counts::default(), 0_u64, Vec::<RunOutcome>::new()));
    let began = Instant::now();
    // What a failing seed panics with is told below.
    std::panic::set_hook(Box::new(|_| {}));
    std::thread::scope(|scope| {
        for _ in 0..asked.jobs {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    if n >= asked.count {
                        break;
                    }
                    let outcome = run(asked.from + n, RunOptions::default());
                    if let Some(why) = &outcome.failure {
                        eprintln!("seed {} fails: {why}", outcome.seed);
                    }
                    if let Ok(mut done) = done.lock() {
                        done.0 += outcome.counts;
                        done.1 += 1;
                        if outcome.failure.is_some() {
                            done.2.push(outcome);
                        }
                    }
                }
            });
        }
        scope.spawn(|| {
            let mut told = Instant::now();
            loop {
                std::thread::sleep(Duration::from_millis(50));
                let (seeds, bad) = done.lock().map_or((0, 0), |d| (d.1, d.2.len()));
                if seeds >= asked.count {
                    break;
                }
                if told.elapsed() >= PROGRESS {
                    told = Instant::now();
                    eprintln!(
                        "{seeds} of {} seeds, {bad} failing, {} s",
                        asked.count,
                        began.elapsed().as_secs()
                    );
                }
            }
        });
    });
    let Ok((counts, seeds, mut failing)) = done.into_inner() else {
        return ExitCode::FAILURE;
    };
    println!("{}", words(seeds, &counts));
    println!(
        "{:.1} s on {} threads",
        began.elapsed().as_secs_f64(),
        asked.jobs
    );
    failing.sort_by_key(|o| o.seed);
    for outcome in failing.iter().take(NAMED) {
        let why = outcome.failure.as_deref().unwrap_or_default();
        println!("seed {} fails: {why}", outcome.seed);
        println!("    replay it: scripts/simulate --seed {}", outcome.seed);
    }
    if failing.is_empty() {
        ExitCode::SUCCESS
    } else {
        println!("{} seeds fail", failing.len());
        ExitCode::FAILURE
    }
}

fn words(seeds: u64, c: &Counts) -> String {
    format!(
        "{seeds} seeds and lessons, {} calls, {} answers given, {} told (of {} why they do not \
         count), {} untold, {} confirmed, {} lost, {} doubled, {} resent, {} hosts killed, {} connections cut, {} starts and {} times compared, {} known from \
         earlier lessons",
        c.calls,
        c.given,
        c.told,
        c.told_lost,
        c.untold,
        c.confirmed,
        c.lost,
        c.doubled,
        c.resent,
        c.crashes,
        c.cuts,
        c.starts,
        c.times,
        c.recalled
    )
}
