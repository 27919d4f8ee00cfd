//! An honest class: a host and thirty students, each reading every frame.

use std::time::{Duration, Instant};

use fifthpeg_core::{Neck, Pitch};
use fifthpeg_host::{Counter, Host, HostConfig, Lock};
use fifthpeg_lesson::message::SeatKey;
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_link::channel::Sender;
use fifthpeg_link::secure::{HostKey, Stream};
use fifthpeg_lock::Passphrase;
use fifthpeg_vocab::{Answer, AnswerNotice, CallId, FromStudent, Moment, Source, ToStudent};
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::net::TcpStream;
use tokio::sync::mpsc;

use crate::{Failure, floods};

/// Students in the class.
const CLASS: usize = 30;
/// How long a round may take before it counts as lost.
const PATIENCE: Duration = Duration::from_secs(10);

/// What one student read, and when.
enum Read {
    Called(CallId, Instant),
    Marked(Instant),
}

/// The class.
pub struct Class {
    host: Host,
    port: u16,
    read: tokio::sync::Mutex<mpsc::Receiver<Read>>,
    speaks: tokio::sync::Mutex<Sender<Stream, ClientFrame>>,
}

/// What was measured.
pub struct Times {
    pub call_median: Duration,
    pub call_late: Duration,
    pub mark_median: Duration,
    pub mark_late: Duration,
}

impl Times {
    /// By how much more the late ones are late.
    pub fn later_than(&self, alone: &Times) -> Duration {
        let call = self.call_late.saturating_sub(alone.call_late);
        call.max(self.mark_late.saturating_sub(alone.mark_late))
    }
}

impl Class {
    pub async fn start() -> Result<Self, Failure> {
        let neck = Neck::ready("banjo-open-g").ok_or("no such neck")?;
        let setup = LessonSetup::new("Bench: floods", &neck);
        let lock = match floods::is_locked() {
            true => Lock::Passphrase {
                key: HostKey::make()?,
                passphrase: Passphrase::typed(floods::PASSPHRASE)?,
            },
            false => Lock::Open,
        };
        let config = HostConfig {
            lock,
            announce: false,
            bind: vec!["0.0.0.0:0".parse()?],
            ..HostConfig::new(setup)
        };
        let host = fifthpeg_host::start(config).await?;
        let port = host.local_addrs()[0].port();
        let (reads, read) = mpsc::channel(4 * CLASS);
        let mut speaks = None;
        for i in 0..CLASS {
            let here = ([127, 0, 0, 1], port).into();
            let stream = TcpStream::connect(here).await?;
            stream.set_nodelay(true)?;
            let (mut sender, mut receiver) = floods::enter(stream, here).await?.split();
            let name = format!("Student {i}");
            let join = ClientFrame::join(&name, None, SeatKey(i as u128));
            sender.send(&join).await?;
            let reads = reads.clone();
            tokio::spawn(async move {
                while let Ok(Some(frame)) = receiver.recv().await {
                    let read = match frame {
                        HostFrame::Lesson(ToStudent::Call(notice)) => {
                            Read::Called(notice.call, Instant::now())
                        }
                        HostFrame::Lesson(ToStudent::Marked { .. }) => Read::Marked(Instant::now()),
                        _ => continue,
                    };
                    if reads.send(read).await.is_err() {
                        return;
                    }
                }
            });
            // The first answers; the others keep their connections up.
            match speaks {
                None => speaks = Some(sender),
                Some(_) => drop(tokio::spawn(keep_up(sender))),
            }
        }
        Ok(Self {
            host,
            port,
            read: read.into(),
            speaks: speaks.ok_or("no students")?.into(),
        })
    }

    pub fn address(&self) -> u16 {
        self.port
    }

    pub fn counts(&self) -> Vec<(Counter, u64)> {
        self.host.counts()
    }

    pub async fn measure(&self, rounds: usize) -> Result<Times, Failure> {
        let mut read = self.read.lock().await;
        let mut speaks = self.speaks.lock().await;
        let (mut calls, mut marks) = (Vec::new(), Vec::new());
        for _ in 0..rounds {
            while read.try_recv().is_ok() {}
            let began = Instant::now();
            self.host.order(HostOrder::CallRandom).await?;
            let mut last = began;
            let mut number = CallId(0);
            for _ in 0..CLASS {
                let Read::Called(call, at) = next(&mut read).await? else {
                    return Err("a mark nobody waited for".into());
                };
                (number, last) = (call, last.max(at));
            }
            calls.push(last - began);
            let began = Instant::now();
            // Wrong, so that the call stays open: this is about time.
            let answer = ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
                call: number,
                serial: 1,
                answer: Answer::Pitch(Pitch::new(20).ok_or("no such note")?),
                source: Source::Screen,
                response: None,
                uncertainty: Duration::from_micros(0),
            }));
            speaks.send(&answer).await?;
            let Read::Marked(at) = next(&mut read).await? else {
                return Err("a call nobody made".into());
            };
            marks.push(at - began);
            self.host.order(HostOrder::Close).await?;
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        let (call_median, call_late) = of(calls);
        let (mark_median, mark_late) = of(marks);
        Ok(Times {
            call_median,
            call_late,
            mark_median,
            mark_late,
        })
    }

    pub async fn end(self) -> Result<(), Failure> {
        self.host.end().await.map_err(Failure::from)
    }
}

/// Asks for the clock as a terminal does, so as not to count as silent.
async fn keep_up(mut sender: Sender<Stream, ClientFrame>) {
    while sender
        .send(&ClientFrame::ClockAsk { t1: Moment(1) })
        .await
        .is_ok()
    {
        tokio::time::sleep(Duration::from_secs(2)).await;
    }
}

async fn next(read: &mut mpsc::Receiver<Read>) -> Result<Read, Failure> {
    let read = tokio::time::timeout(PATIENCE, read.recv()).await;
    let lost = "an honest student was kept waiting for ten seconds";
    Ok(read.map_err(|_| lost)?.ok_or("the class is gone")?)
}

/// The median, and what 99 of 100 stay below.
fn of(mut times: Vec<Duration>) -> (Duration, Duration) {
    times.sort();
    (times[times.len() / 2], times[times.len() * 99 / 100])
}
