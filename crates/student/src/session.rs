//! One connection, from the join to its end.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::backoff::{KEEP_ALIVE, SILENCE};
use fifthpeg_lesson::message::{FromStudent, Refusal, ToStudent};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::{Incoming, Receiver, Sender};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::rate::Rate;
use fifthpeg_link::secure::{Fingerprint, Stream};
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until, timeout};

use crate::messages::{FromNetwork, ToHost};

/// What no terminal has asked for.
const PROJECTOR: &str = "what is for a projector";

/// How long the host may take to answer a join.
pub(crate) const JOIN_WITHIN: Duration = Duration::from_secs(5);
/// Frames that a host may send a second, and at once after a pause. A lesson has
/// some tens a second to say to one student, those of a friend who calls for a
/// large class included.
pub(crate) const FRAMES_PER_SECOND: u32 = 500;
pub(crate) const BURST: u32 = 2000;
/// What is said of one that sends more.
const TOO_MUCH: &str = "the host sends more than a lesson has to say, so the connection was closed";
/// How long one frame may wait to be written.
pub(crate) const WRITE_WITHIN: Duration = Duration::from_secs(5);
/// How long the host may take to close after a goodbye.
pub(crate) const LINGER: Duration = Duration::from_millis(500);

/// Why a session ended.
pub(crate) enum SessionEnd {
    /// The driver wants no more.
    Stopped,
    /// The host does not know the key.
    UnknownSeat,
    /// The host does not let this student in.
    Refused(Refusal),
    /// The connection is gone, and why.
    Lost(String),
}

impl From<LinkError> for SessionEnd {
    fn from(e: LinkError) -> Self {
        crate::diary::link_lost(&e);
        Self::Lost(e.to_string())
    }
}

/// A connection over which the host has let this student in.
pub(crate) struct Session {
    sender: Sender<Stream, ClientFrame>,
    receiver: Receiver<Stream, HostFrame>,
    clock: LocalClock,
    /// What the host said first.
    pub(crate) welcome: ToStudent,
}

impl Session {
    /// Joins, or takes an old seat back.
    pub(crate) async fn join(
        channel: fifthpeg_link::channel::StudentChannel<Stream>,
        clock: LocalClock,
        join: ClientFrame,
    ) -> Result<Self, SessionEnd> {
        let (mut sender, mut receiver) = channel.split();
        let answered = timeout(JOIN_WITHIN, async {
            sender.send(&join).await?;
            receiver.recv().await
        });
        let frame = answered
            .await
            .unwrap_or(Err(LinkError::TimedOut(JOIN_WITHIN)))?;
        let Some(frame) = frame else {
            return Err(LinkError::HungUp.into());
        };
        match frame {
            HostFrame::ClockAnswer { .. } => {
                Err(LinkError::Impossible("a clock nobody asked for").into())
            }
            HostFrame::Hall(_) => Err(LinkError::Impossible(PROJECTOR).into()),
            HostFrame::KeyOffered(_) | HostFrame::KeyKept => {
                Err(LinkError::Impossible("a class key before the welcome").into())
            }
            HostFrame::Lesson(ToStudent::Refused(Refusal::UnknownSeat)) => {
                Err(SessionEnd::UnknownSeat)
            }
            HostFrame::Lesson(ToStudent::Refused(why)) => Err(SessionEnd::Refused(why)),
            HostFrame::Lesson(welcome) => Ok(Self {
                sender,
                receiver,
                clock,
                welcome,
            }),
        }
    }

    /// Passes messages both ways until the connection ends.
    pub(crate) async fn stay(
        mut self,
        events: &mpsc::Sender<FromNetwork>,
        mut outbox: mpsc::Receiver<ToHost>,
        host: Option<Fingerprint>,
    ) -> SessionEnd {
        let mut heard = Instant::now();
        let mut said = heard;
        let mut rate = Rate::new(FRAMES_PER_SECOND, BURST, heard);
        loop {
            let event = tokio::select! {
                frame = self.receiver.hear() => {
                    // Before anything else: it is this clock's receive stamp.
                    let now = self.clock.now();
                    let read = Instant::now();
                    if rate.count(read) > Duration::ZERO {
                        return SessionEnd::Lost(TOO_MUCH.into());
                    }
                    match frame {
                        Ok(Some(Incoming::Frame(frame))) => match self.event(frame, now, host) {
                            Ok(event) => {
                                heard = read;
                                event
                            }
                            Err(e) => return e.into(),
                        },
                        // It costs as much as a frame, and says nothing.
                        Ok(Some(Incoming::Ping)) => continue,
                        Ok(None) => {
                            return SessionEnd::Lost("the host closed the connection".into());
                        }
                        Err(e) => return e.into(),
                    }
                }
                message = outbox.recv() => {
                    let Some(message) = message else {
                        self.goodbye().await;
                        return SessionEnd::Lost("this terminal gave the connection up".into());
                    };
                    if let Err(e) = self.write(message).await {
                        return e.into();
                    }
                    said = Instant::now();
                    continue;
                }
                () = sleep_until(said + KEEP_ALIVE) => {
                    if let Err(e) = self.write(ToHost::AskClock).await {
                        return e.into();
                    }
                    said = Instant::now();
                    continue;
                }
                () = sleep_until(heard + SILENCE) => {
                    let seconds = SILENCE.as_secs();
                    return SessionEnd::Lost(format!("nothing was heard from the host for {seconds} s"));
                }
            };
            if events.send(event).await.is_err() {
                // What waits to be sent still goes out: it may be the leaving.
                while let Some(message) = outbox.recv().await {
                    if self.write(message).await.is_err() {
                        break;
                    }
                }
                self.goodbye().await;
                return SessionEnd::Stopped;
            }
        }
    }

    /// Leaves at once.
    pub(crate) async fn leave(mut self) {
        // If it is not told, it will see the connection close.
        let _ = self.write(ToHost::Message(FromStudent::Leave)).await;
        self.goodbye().await;
    }

    async fn write(&mut self, message: ToHost) -> Result<(), LinkError> {
        let frame = match message {
            ToHost::Message(message) => ClientFrame::Lesson(message),
            ToHost::KeyAnswer(public) => ClientFrame::KeyAnswer {
                public: public.map(|key| key.0),
            },
            ToHost::AskClock => ClientFrame::ClockAsk {
                t1: self.clock.now(),
            },
        };
        timeout(WRITE_WITHIN, self.sender.send(&frame))
            .await
            .unwrap_or(Err(LinkError::TimedOut(WRITE_WITHIN)))
    }

    fn event(
        &self,
        frame: HostFrame,
        now: Moment,
        host: Option<Fingerprint>,
    ) -> Result<FromNetwork, LinkError> {
        let message = match frame {
            HostFrame::ClockAnswer { t1, t2, t3 } => {
                let t4 = now;
                return Ok(FromNetwork::Clock { t1, t2, t3, t4 });
            }
            HostFrame::KeyOffered(offer) => {
                let host = host.ok_or(LinkError::Impossible("a class key in an open lesson"))?;
                return Ok(FromNetwork::KeyOffered(offer, host));
            }
            HostFrame::KeyKept => return Ok(FromNetwork::KeyKept),
            HostFrame::Hall(_) => return Err(LinkError::Impossible(PROJECTOR)),
            HostFrame::Lesson(message) => message,
        };
        // Whether it is the lesson that was meant was looked at once.
        let said = lesson_in(&message);
        if said.is_some() && said != lesson_in(&self.welcome) {
            return Err(LinkError::Impossible("another name for the same lesson"));
        }
        Ok(FromNetwork::Message(message))
    }

    /// Closes so that what was written arrives: a socket dropped with bytes
    /// unread takes those on their way down with it.
    async fn goodbye(&mut self) {
        let host_closes = async {
            self.sender.close().await;
            while let Ok(Some(_)) = self.receiver.recv().await {}
        };
        // A host that does not close by itself has had its chance.
        let _ = timeout(LINGER, host_closes).await;
    }
}

/// What a message calls the lesson, if it does.
fn lesson_in(message: &ToStudent) -> Option<&str> {
    match message {
        ToStudent::Welcome(welcome) => Some(&welcome.rules.lesson),
        ToStudent::Rules(rules) => Some(&rules.lesson),
        _ => None,
    }
}
