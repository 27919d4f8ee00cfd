//! What a student costs the server in memory. The crowd runs in a process of
//! its own, and so does the server, afresh: memory that something else has used
//! and given back would hide what the students take.

use std::time::Duration;

use fifthpeg_lesson::setup::HostOrder;

use crate::Failure;
use crate::bare::{Bare, Reads};
use fifthpeg_bench::memory::resident_kb;

use crate::clock::allow_connections;
use crate::crowd::Crowd;
use crate::hosting::{Way, config, connected};
use crate::students::STUDENTS;
use crate::table::Table;

/// The word that makes this program a server that measures itself.
pub const ALONE: &str = "memory-of";

/// Measures with these numbers of students.
pub async fn measure(table: &mut Table, numbers: &[usize]) -> Result<(), Failure> {
    for &number in numbers {
        one(table, "a bare server", "bare", number, None).await?;
        for way in Way::ALL {
            let goal = match way {
                Way::Plain => 25,
                Way::Tls => 60,
            };
            let what = format!("the host, {}", way.word());
            one(table, &what, way.word(), number, Some(goal)).await?;
        }
    }
    Ok(())
}

async fn one(
    table: &mut Table,
    what: &str,
    kind: &str,
    number: usize,
    goal: Option<u32>,
) -> Result<(), Failure> {
    let mut command = tokio::process::Command::new(std::env::current_exe()?);
    command.args([ALONE, kind, &number.to_string()]);
    let output = command
        .stderr(std::process::Stdio::inherit())
        .output()
        .await?;
    if !output.status.success() {
        return Err(format!("{what} did not measure its memory: {}", output.status).into());
    }
    let grown_kb: f64 = String::from_utf8(output.stdout)?.trim().parse()?;
    let each = format!("{:.1} kB", grown_kb / number as f64);
    let remark = goal.map_or_else(String::new, |kb| format!("(goal {kb} kB)"));
    let what = format!("memory of {what}, for each of {number}");
    table.row(&what, &each, "", &remark);
    Ok(())
}

/// Is a server, and prints by how many kB it grew with that number.
pub async fn alone(kind: &str, number: usize) -> Result<(), Failure> {
    allow_connections(number)?;
    let grown = match Way::from_word(kind) {
        Some(way) => host_alone(way, number).await?,
        None => {
            // One in and out first, so that what is made once is there already.
            let first = Bare::start(1, Reads::Only).await?;
            first.end().await?;
            let before = resident_kb()?;
            let mut bare = Bare::start(number, Reads::Only).await?;
            bare.broadcast(64).await?;
            resident_kb()?.saturating_sub(before)
        }
    };
    println!("{grown}");
    Ok(())
}

async fn host_alone(way: Way, number: usize) -> Result<u64, Failure> {
    let host = fifthpeg_host::start(config("Bench: memory", number, way)?).await?;
    let address = host.local_addrs()[0];
    let first = Crowd::start(STUDENTS, address, 1, way.word()).await?;
    host.view().wait_for(|v| connected(v) == 1).await?;
    first.end().await?;
    host.view().wait_for(|v| connected(v) == 0).await?;
    let before = resident_kb()?;
    let mut crowd = Crowd::start(STUDENTS, address, number, way.word()).await?;
    host.view().wait_for(|v| connected(v) == number).await?;
    host.order(HostOrder::CallRandom).await?;
    crowd.wait_for("call").await?;
    tokio::time::sleep(Duration::from_secs(1)).await;
    let after = resident_kb()?;
    crowd.end().await?;
    host.end().await?;
    Ok(after.saturating_sub(before))
}
