//! From the host's order to the last real terminal.

use std::time::{Duration, Instant};

use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_sound::{OutputChoice, open};
use fifthpeg_student::{StudentConfig, Target};
use tokio::sync::mpsc;

use crate::Failure;
use crate::hosting::{Way, config, connected};
use crate::table::Table;

/// Times `rounds` calls to a class, until each real terminal shows the call.
pub async fn measure(table: &mut Table, class: usize, rounds: usize) -> Result<(), Failure> {
    let what = format!("a call to {class}: order to last terminal's view");
    table.times(&what, views(class, rounds).await?, String::new());
    Ok(())
}

async fn views(class: usize, rounds: usize) -> Result<Vec<Duration>, Failure> {
    let host = fifthpeg_host::start(config("Bench: views", class, Way::Plain)?).await?;
    let (received, mut receipts) = mpsc::channel(class);
    let silent: OutputChoice = "none".parse()?;
    for i in 0..class {
        let target = Target::Address(host.local_addrs());
        let config = StudentConfig::new(format!("Student {i}"), target, open(&silent)?);
        let student = fifthpeg_student::start(config).await?;
        let received = received.clone();
        tokio::spawn(async move {
            let mut view = student.view();
            let mut number = 0;
            while view.changed().await.is_ok() {
                let now = view.borrow_and_update().call.as_ref().map(|c| c.number);
                if now.is_some_and(|n| n > number) {
                    number = now.unwrap_or(number);
                    if received.send(Instant::now()).await.is_err() {
                        return;
                    }
                }
            }
        });
    }
    let everyone = |v: &std::sync::Arc<_>| connected(v) == class;
    host.view().wait_for(everyone).await?;
    let mut times = Vec::new();
    for _ in 0..rounds {
        let start = Instant::now();
        host.order(HostOrder::CallRandom).await?;
        let mut last = start;
        for _ in 0..class {
            last = last.max(receipts.recv().await.ok_or("a student stopped")?);
        }
        times.push(last - start);
        host.order(HostOrder::Close).await?;
        // Everyone has read what belongs to this call.
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    host.end().await?;
    Ok(times)
}
