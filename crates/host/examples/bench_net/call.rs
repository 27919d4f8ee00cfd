//! From the host's order to the last student.

use std::time::{Duration, Instant};

use fifthpeg_host::Host;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_link::connect::{Reached, Way, connect_any};
use fifthpeg_link::convert;
use fifthpeg_sound::{OutputChoice, open};
use fifthpeg_student::{StudentConfig, Target};
use fifthpeg_wire::HostFrame;
use tokio::sync::mpsc;

use crate::table::Table;
use crate::{Failure, bare, host};

/// The bytes of a call on the wire, about.
const CALL_BYTES: usize = 64;

/// Times `rounds` calls to a class.
pub async fn measure(table: &mut Table, class: usize, rounds: usize) -> Result<(), Failure> {
    let what = format!("bare tokio-tungstenite broadcast to {class}");
    let alone = table.times(&what, bare::measure(class, rounds, CALL_BYTES).await?, "");

    let what = format!("a call to {class}: order to last frame read");
    let frame = table.times(&what, frames(class, rounds).await?, "");
    table.remark(ratio(frame, alone));

    let what = format!("a call to {class}: order to last terminal's view");
    let view = table.times(&what, views(class, rounds).await?, "");
    table.remark(ratio(view, alone));
    Ok(())
}

fn ratio(time: Duration, alone: Duration) -> String {
    format!(
        "{:.1} times the bare one",
        time.as_secs_f64() / alone.as_secs_f64()
    )
}

/// Until each connection has read and decoded the call's frame.
async fn frames(class: usize, rounds: usize) -> Result<Vec<Duration>, Failure> {
    let host = host("Bench: frames", false).await?;
    let (received, receipts) = mpsc::channel(class);
    for i in 0..class {
        let within = Duration::from_secs(5);
        let connected = connect_any(&host.local_addrs(), Way::Open, within).await?;
        let Reached::Open(mut channel) = connected.reached else {
            return Err("the lesson is not open".into());
        };
        let join = convert::join_to_wire(&format!("Student {i}"), None);
        channel.send(&join).await?;
        let received = received.clone();
        tokio::spawn(async move {
            while let Ok(Some(frame)) = channel.recv().await {
                let got = (matches!(frame, HostFrame::Call { .. })).then(Instant::now);
                if let Some(got) = got
                    && received.send(got).await.is_err()
                {
                    return;
                }
            }
        });
    }
    rounds_of(host, receipts, class, rounds).await
}

/// Until each real terminal shows the call.
async fn views(class: usize, rounds: usize) -> Result<Vec<Duration>, Failure> {
    let host = host("Bench: views", false).await?;
    let (received, receipts) = mpsc::channel(class);
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
    rounds_of(host, receipts, class, rounds).await
}

async fn rounds_of(
    host: Host,
    mut receipts: mpsc::Receiver<Instant>,
    class: usize,
    rounds: usize,
) -> Result<Vec<Duration>, Failure> {
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

/// Students with a connection.
pub fn connected(view: &fifthpeg_lesson::view::LessonView) -> usize {
    view.students.iter().filter(|s| s.connected).count()
}
