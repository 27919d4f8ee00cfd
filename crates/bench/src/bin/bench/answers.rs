//! Everyone answers at once, beside a bare server that reads as much.

use std::time::Duration;

use crate::Failure;
use crate::bare::{Bare, Reads};
use crate::clock::allow_connections;
use crate::hosting::{Class, Way, answer_bytes};
use crate::table::{Table, median};

/// Times `rounds` of answers from `students`, from the first student's sending:
/// until all answers are in the lesson book, as its writer reports it; and until
/// the last student has the mark, which is not told before.
pub async fn measure(table: &mut Table, students: usize, rounds: usize) -> Result<(), Failure> {
    let folder = std::env::temp_dir();
    allow_connections(students * (3 + Way::ALL.len()))?;
    let (bytes, mark_bytes) = answer_bytes()?;
    let mut reading = Bare::start(students, Reads::Only).await?;
    let mut answering = Bare::start(students, Reads::AndAnswers(mark_bytes)).await?;
    let mut unwritten = Class::start(students, Way::Plain, None).await?;
    let mut classes = Vec::new();
    for way in Way::ALL {
        classes.push((
            way,
            Class::start(students, way, Some(&folder)).await?,
            Vec::new(),
        ));
    }
    let (mut read, mut answered, mut marked) = (Vec::new(), Vec::new(), Vec::new());
    for round in 0..rounds + 3 {
        let warm = round >= 3;
        let time = reading.collect(bytes, false).await?;
        read.extend(warm.then_some(time));
        let time = answering.collect(bytes, true).await?;
        answered.extend(warm.then_some(time));
        let once = once(&mut unwritten, students).await?;
        marked.extend(warm.then_some(once.told));
        for (_, class, times) in &mut classes {
            let once = self::once(class, students).await?;
            times.extend(warm.then_some(once));
        }
    }
    let alone = median(&mut read);
    table.times(
        &format!("bare reading of {students} answers"),
        read,
        String::new(),
    );
    let what = format!("bare reading and answering of {students}");
    table.beside(&what, answered, alone, f64::NAN);
    let what = format!("{students} answers read, marked, told; no book");
    table.beside(&what, marked, alone, f64::NAN);
    for (way, class, times) in classes {
        class.end().await?;
        let what = format!("{students} answers read, marked, stored, {}", way.word());
        let stored = times.iter().filter_map(|once| once.stored).collect();
        table.beside(&what, stored, alone, 2.0);
        let what = format!("the same until all are told, {}", way.word());
        let told = times.iter().map(|once| once.told).collect();
        table.beside(&what, told, alone, f64::NAN);
    }
    unwritten.end().await?;
    reading.end().await?;
    answering.end().await
}

/// From the first answer's sending.
struct Once {
    /// Until the last is in the book, where there is one.
    stored: Option<Duration>,
    /// Until the last student has the mark.
    told: Duration,
}

async fn once(class: &mut Class, students: usize) -> Result<Once, Failure> {
    class.call().await?;
    let before = class.is_settled().await;
    let start = class.say("answer").await?;
    let told = class.crowd.wait_for("marked").await? - start;
    // Each answer is a batch of its own.
    let stored = match before {
        Some(before) => Some(class.stored(before + students as u64).await? - start),
        None => None,
    };
    class.close().await?;
    Ok(Once { stored, told })
}
