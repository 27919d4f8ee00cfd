//! How far apart the terminals of a class start a call: between the earliest
//! and the latest instant at which a terminal has its output begin.

use std::time::{Duration, Instant};

use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_sound::{Output, SoundError, Started, ToneSpec};
use fifthpeg_student::{StudentConfig, Target};
use tokio::sync::mpsc;

use crate::Failure;
use crate::hosting::{Way, config, connected};
use crate::table::Table;

/// Measures over `rounds` calls to a class.
pub async fn measure(table: &mut Table, class: usize, rounds: usize) -> Result<(), Failure> {
    let host = fifthpeg_host::start(config("Bench: starts", class, Way::Plain)?).await?;
    let (started, mut starts) = mpsc::unbounded_channel();
    let mut students = Vec::new();
    for i in 0..class {
        let target = Target::Address(host.local_addrs());
        let output = Box::new(Noting(started.clone()));
        let config = StudentConfig::new(format!("Student {i}"), target, output);
        students.push(fifthpeg_student::start(config).await?);
    }
    host.view().wait_for(|v| connected(v) == class).await?;
    // Eight exchanges, a quarter of a second apart.
    tokio::time::sleep(Duration::from_millis(2500)).await;
    let mut spreads = Vec::new();
    for _ in 0..rounds {
        host.order(HostOrder::CallRandom).await?;
        let (mut first, mut last) = (None::<Instant>, None::<Instant>);
        for _ in 0..class {
            let at = starts.recv().await.ok_or("a student stopped")?;
            first = Some(first.map_or(at, |f| f.min(at)));
            last = Some(last.map_or(at, |l| l.max(at)));
        }
        if let (Some(first), Some(last)) = (first, last) {
            spreads.push(last - first);
        }
        host.order(HostOrder::Close).await?;
        tokio::time::sleep(Duration::from_millis(300)).await;
    }
    let what = format!("starts of a call on {class} terminals, apart");
    table.times(&what, spreads, "as ordered from the outputs".into());
    host.end().await?;
    Ok(())
}

/// Sounds nothing and tells when it would have begun.
struct Noting(mpsc::UnboundedSender<Instant>);

impl Output for Noting {
    fn play(&mut self, _: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        let at = at.max(Instant::now());
        let _ = self.0.send(at);
        Ok(Started {
            at,
            uncertainty: Duration::ZERO,
            audible: true,
        })
    }

    fn describe(&self) -> String {
        "a note of the time".into()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        Ok(())
    }
}
