//! Everyone answers at once, beside a bare server that reads as much.

use crate::Failure;
use crate::bare::{Bare, Reads};
use crate::clock::allow_connections;
use crate::hosting::{Class, Way, answer_bytes};
use crate::table::{Table, median};

/// Times `rounds` of answers from `students`: from the first student's sending
/// until the last student has the mark, which is not told before the answer is
/// in the lesson book.
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
        let time = once(&mut unwritten).await?;
        marked.extend(warm.then_some(time));
        for (_, class, times) in &mut classes {
            let time = once(class).await?;
            times.extend(warm.then_some(time));
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
        let what = format!("{students} answers stored and told, {}", way.word());
        table.beside(&what, times, alone, 2.0);
    }
    unwritten.end().await?;
    reading.end().await?;
    answering.end().await
}

async fn once(class: &mut Class) -> Result<std::time::Duration, Failure> {
    class.call().await?;
    let start = class.say("answer").await?;
    let end = class.crowd.wait_for("marked").await?;
    class.close().await?;
    Ok(end - start)
}
