//! How far terminals are off in knowing the host's clock, over ways that delay.
//!
//! All ends run in one process, so their monotonic clocks are one clock of the
//! system, and the truth is known to the microsecond: the host names an instant
//! for a call, and a terminal has its output begin at what it takes for it.

use std::time::{Duration, Instant};

use fifthpeg_host::Host;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_sound::{Output, SoundError, Started, ToneSpec};
use tokio::sync::mpsc;

use crate::forwarder::{Forwarder, Lane};
use crate::net::{PATIENCE, host, joined, setup, student_with, until};

/// How far ahead calls are named: more than any way here takes.
const LEAD: Duration = Duration::from_secs(2);

/// A way between a student and the host.
#[derive(Debug, Clone, Copy)]
pub struct Path {
    /// What it is.
    pub name: &'static str,
    /// From student to host.
    pub there: Lane,
    /// From host to student.
    pub back: Lane,
}

/// One terminal at one call.
#[derive(Debug, Clone, Copy)]
pub struct Reading {
    /// When its output was told to begin, after the instant that the host
    /// named; negative for before. Microseconds.
    pub error_us: i64,
    /// What the terminal says that its clock may be off by.
    pub stated: Duration,
    /// How well the truth is known here.
    pub truth: Duration,
}

impl Reading {
    /// Whether the truth lies within what the terminal says.
    pub fn holds(&self) -> bool {
        let error = Duration::from_micros(self.error_us.unsigned_abs());
        error <= self.stated + self.truth
    }
}

/// One lesson with a locked host and one new terminal for each way; a reading
/// of each once its first clock exchanges are done.
///
/// # Panics
/// If the lesson does not go as lessons do.
pub async fn readings(paths: &[Path], settle: Duration) -> Vec<Reading> {
    let host = host(LessonSetup {
        lead: LEAD,
        ..setup("Clocks")
    })
    .await;
    let mut terminals = Vec::new();
    for (i, path) in paths.iter().enumerate() {
        let way = Forwarder::to(host.local_addrs()[0]).await;
        way.set(path.there, path.back);
        let (told, starts) = mpsc::unbounded_channel();
        let output = Box::new(Reporter(told));
        let student = student_with(&format!("Student {i}"), way.address(), output).await;
        terminals.push((way, student, starts));
    }
    for (_, student, _) in &terminals {
        joined(student).await;
        until(&mut student.view(), "a clock", |v| {
            v.clock_uncertainty.is_some()
        })
        .await;
    }
    tokio::time::sleep(settle).await;
    host.order(HostOrder::CallRandom).await.expect("a call");
    let named = host.view().borrow().call.as_ref().expect("a call").start;
    let (named, truth) = instant_of(&host, named);
    let mut readings = Vec::new();
    for (_, student, starts) in &mut terminals {
        let started = tokio::time::timeout(PATIENCE, starts.recv()).await;
        let at = started.expect("a tone in time").expect("a tone");
        let stated = student.view().borrow().clock_uncertainty;
        let late = at.saturating_duration_since(named).as_micros() as i64;
        let early = named.saturating_duration_since(at).as_micros() as i64;
        readings.push(Reading {
            error_us: late - early,
            stated: stated.expect("a clock"),
            truth,
        });
    }
    host.end().await.expect("it ends");
    readings
}

/// A moment of the host's clock as an instant, and how far that may be off: the
/// narrowest of several readings of both clocks.
fn instant_of(host: &Host, moment: Moment) -> (Instant, Duration) {
    let readings = (0..50).map(|_| {
        let before = Instant::now();
        let now = host.now();
        (before.elapsed(), before, now)
    });
    let (width, before, now) = readings.min_by_key(|r| r.0).expect("some readings");
    // The call lies ahead of it. Moments are whole microseconds.
    let ahead = Duration::from_micros(moment.micros() - now.micros());
    (before + ahead, width + Duration::from_micros(2))
}

/// Sounds nothing and tells when a tone was to begin.
struct Reporter(mpsc::UnboundedSender<Instant>);

impl Output for Reporter {
    fn play(&mut self, _: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        // Nobody may wait for it any more.
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
