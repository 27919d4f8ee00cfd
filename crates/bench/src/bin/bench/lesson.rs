//! A lesson of four hours for 100 students, played faster: whether the host's
//! memory stays as it is.
//!
//! As many calls, soundings, hearings, tries, answers, questions for the clock
//! and lost connections as four hours have, one after the other without the
//! waiting between them. The host runs in a process of its own and writes its
//! lesson book.

use std::time::Duration;

use fifthpeg_bench::memory::resident_kb;

use crate::clock;
use crate::hosting::{Class, Way};
use crate::table::Table;
use crate::{Failure, clock::allow_connections};

/// The word that makes this program the host of a long lesson.
pub const ALONE: &str = "long-lesson";

/// A call every 40 seconds for four hours.
pub const CALLS: u32 = 360;
const CALL_EVERY: Duration = Duration::from_secs(40);
const STUDENTS: usize = 100;

/// What each student does in one call: word, and how often. Terminals ask for
/// the clock every second or two. The third answer of three is a guess; which
/// are right is the picker's doing.
const DOINGS: [(&str, u32, Option<&str>); 5] = [
    ("sounded", 1, None),
    ("hearing", 2, None),
    ("try", 6, None),
    ("clock", 25, Some("clock")),
    ("answer", 2, Some("marked")),
];

/// Plays it and adds its row.
pub async fn measure(table: &mut Table, calls: u32) -> Result<(), Failure> {
    let mut command = tokio::process::Command::new(std::env::current_exe()?);
    command.args([ALONE, &calls.to_string()]);
    command.stderr(std::process::Stdio::inherit());
    let output = command.output().await?;
    if !output.status.success() {
        return Err("the long lesson did not come to its end".into());
    }
    let line = String::from_utf8(output.stdout)?;
    let (figure, remark) = line.trim().split_once('|').ok_or("no figure came")?;
    let what = format!("memory over {calls} calls to {STUDENTS}, book on");
    table.row(&what, figure, "", remark);
    Ok(())
}

/// Is the host, and prints the slope of its memory.
pub async fn alone(calls: u32) -> Result<(), Failure> {
    allow_connections(STUDENTS)?;
    let folder = std::env::temp_dir();
    let mut class = Class::start(STUDENTS, Way::Plain, Some(&folder)).await?;
    let began = clock::now();
    let mut samples = Vec::new();
    let mut told = began;
    for call in 0..calls {
        one_call(&mut class, call).await?;
        samples.push(resident_kb()? as f64);
        if clock::now() - told > Duration::from_secs(10) {
            told = clock::now();
            eprintln!("  {} of {calls} calls", call + 1);
        }
    }
    let took = clock::now() - began;
    class.end().await?;
    // At first everything that is kept for reuse is made.
    let warm = &samples[samples.len() / 4..];
    let per_hour = f64::from(u32::try_from(CALL_EVERY.as_secs())?) / 3600.0;
    let (slope, either_way) = slope(warm);
    let played = CALL_EVERY * calls;
    println!(
        "{:+.0} kB/h|± {:.0} kB an hour; {:.1} MB at the end; played {:.0} times faster",
        slope / per_hour,
        either_way / per_hour,
        samples.last().copied().unwrap_or_default() / 1000.0,
        played.as_secs_f64() / took.as_secs_f64(),
    );
    Ok(())
}

async fn one_call(class: &mut Class, call: u32) -> Result<(), Failure> {
    class.call().await?;
    for (what, times, comes_back) in DOINGS {
        for _ in 0..times {
            class.say(what).await?;
            if let Some(back) = comes_back {
                class.crowd.wait_for_either(back, "refused").await?;
            }
        }
    }
    // Every student loses the connection about every hour.
    let which = call as usize % STUDENTS;
    class.crowd.order(&format!("return {which}")).await?;
    class.crowd.wait_for("returned").await?;
    class.close().await
}

/// The slope of equally spaced values by least squares, and its 95 % range
/// either way. Values beside one another are not independent, so the range is
/// that of the means of twenty blocks.
fn slope(values: &[f64]) -> (f64, f64) {
    let long = (values.len() / 20).max(1);
    let means: Vec<f64> = values
        .chunks_exact(long)
        .map(|block| block.iter().sum::<f64>() / long as f64)
        .collect();
    let n = means.len() as f64;
    let at = |i: usize| i as f64 - (n - 1.0) / 2.0;
    let mean = means.iter().sum::<f64>() / n;
    let spread: f64 = (0..means.len()).map(|i| at(i) * at(i)).sum();
    let slope = means
        .iter()
        .enumerate()
        .map(|(i, m)| at(i) * (m - mean))
        .sum::<f64>()
        / spread;
    let left: f64 = means
        .iter()
        .enumerate()
        .map(|(i, m)| (m - mean - slope * at(i)).powi(2))
        .sum();
    // Student's t for 18 degrees of freedom: 2.101 (any table of it).
    let either_way = 2.101 * (left / (n - 2.0).max(1.0) / spread).sqrt();
    (slope / long as f64, either_way / long as f64)
}
