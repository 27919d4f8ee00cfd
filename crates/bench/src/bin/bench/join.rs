//! From starting a terminal to being in the lesson.

use std::time::{Duration, Instant};

use fifthpeg_host::any_address;
use fifthpeg_sound::{OutputChoice, open};
use fifthpeg_student::{StudentConfig, Target};

use crate::Failure;
use crate::hosting::{Way, config};
use crate::table::Table;

/// Times `rounds` joins of each kind.
pub async fn measure(table: &mut Table, rounds: usize) -> Result<(), Failure> {
    let name = format!("Bench {}", std::process::id());
    let mut config = config(&name, 100, Way::Plain)?;
    config.announce = true;
    config.bind = any_address(0);
    let host = fifthpeg_host::start(config).await?;
    let port = host.local_addrs()[0].port();
    let by_address = Target::Address(vec![([127, 0, 0, 1], port).into()]);
    let by_name = Target::Lesson(Some(host.announced_name()));
    for (what, target) in [
        ("join to ready, by address", by_address),
        ("join to ready, found by name", by_name),
    ] {
        let mut times = Vec::new();
        for _ in 0..rounds {
            times.push(once(target.clone()).await?);
            // So that no answer is held back by the second's silence that
            // RFC 6762 section 6 asks of a host.
            tokio::time::sleep(Duration::from_millis(1200)).await;
        }
        table.times(what, times, String::new());
    }
    host.end().await.map_err(Failure::from)
}

async fn once(target: Target) -> Result<Duration, Failure> {
    let silent: OutputChoice = "none".parse()?;
    let output = open(&silent)?;
    let start = Instant::now();
    let student = fifthpeg_student::start(StudentConfig::new("Marta", target, output)).await?;
    student.view().wait_for(|v| v.connected).await?;
    let time = start.elapsed();
    student.leave().await?;
    Ok(time)
}
