//! One student's connection, from the first byte to the last.

use core::pin::pin;
use core::time::Duration;
use std::net::SocketAddr;
use std::sync::Arc;

use fifthpeg_core::text::tamed;
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::roles::{May, Role, may};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::{ByteStream, Incoming, Receiver, Sender};
use fifthpeg_link::rate::Rate;
use fifthpeg_link::secure::Stream;
use fifthpeg_lock::PublicKey;
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::sync::{Mutex, Notify, OwnedSemaphorePermit};
use tokio::time::{Instant, sleep_until};

use crate::admission::Newcomer;
use crate::engine::{ConnectionId, GoneWhy};
use crate::entering::{Arrival, Entered, Wish, answer_clock, hear_out, kind, take_seat};
use crate::shared::{Allowance, Shared};
use crate::to_task::Inbound;
use crate::writing::{End, Writing, goodbye};
use crate::{Notice, diary, hall};

/// One connection.
pub(crate) struct Connection {
    pub(crate) id: ConnectionId,
    pub(crate) address: SocketAddr,
    /// When it has to have asked to join.
    pub(crate) by: Instant,
    /// Given back once the student is in.
    pub(crate) joining: (OwnedSemaphorePermit, Newcomer),
    pub(crate) shared: Arc<Shared>,
}

impl Connection {
    /// Runs until the connection ends.
    pub(crate) async fn run(self, arrival: Arrival) {
        let cut = Arc::new(Notify::new());
        tokio::select! {
            () = cut.notified() => {}
            () = self.hold(arrival, cut.clone()) => {}
        }
    }

    async fn hold(self, arrival: Arrival, cut: Arc<Notify>) {
        let Self {
            id,
            address,
            by,
            joining,
            shared,
        } = self;
        let began = std::time::Instant::now();
        diary::connection(id, address.ip());
        let (room, standing) = joining;
        let allowance = Allowance::new(room, by);
        let asked = tokio::select! {
            asked = hear_out(&shared, arrival, (address.ip(), &allowance)) => asked,
            () = allowance.used_up() => {
                diary::came_to_nothing(id, began);
                let within = shared.limits.join_within.as_millis();
                let what = format!("nothing came within {within} ms");
                if !shared.browsers.knows(address.ip()) {
                    shared.tell(Notice::NotJoined { address, what });
                }
                return;
            }
        };
        let asked = match asked {
            Ok(Wish::Join(asked)) => asked,
            Ok(Wish::Hall(sender, receiver)) => {
                drop((allowance, standing));
                return hall::show(&shared, sender, receiver).await;
            }
            Err(notice) => {
                diary::came_to_nothing(id, began);
                if let Some(notice) = notice {
                    shared.tell(notice(address));
                }
                return;
            }
        };
        // Not timed any more: once the lesson has been asked, a seat may be
        // there that must not be forgotten.
        let entered = take_seat((id, began), &shared, asked, cut).await;
        // From here on it is a student, or nobody.
        if entered.is_some() {
            standing.came_in(Instant::now());
        }
        drop((allowance, standing));
        if let Some(entered) = entered {
            stay(id, &shared, entered).await;
        }
    }
}

/// A student's connection while the student is in. What is said to the student
/// is written by a task of its own, so that neither way wakes the other.
async fn stay(connection: ConnectionId, shared: &Arc<Shared>, entered: Entered<Stream>) {
    let Entered {
        sender,
        mut receiver,
        student,
        queue,
    } = entered;
    let mut writing = Writing::start(sender.clone(), queue, shared.limits.write_within);
    let end = tokio::select! {
        end = heed(connection, shared, student, &sender, &mut receiver) => end,
        end = writing.end() => end,
    };
    let why = match end {
        End::Goodbye => {
            goodbye(&mut *sender.lock().await, receiver).await;
            return;
        }
        End::Over => {
            // What the lesson said last, its end above all, still goes out.
            if matches!(writing.end().await, End::Goodbye) {
                goodbye(&mut *sender.lock().await, receiver).await;
            }
            return;
        }
        End::Gone => None,
        End::Told(why) => Some(why),
    };
    diary::gone(connection, student, why.as_ref());
    // If the lesson is over there is nobody left to tell.
    let _ = shared
        .inbound
        .send(Inbound::Gone {
            student,
            connection,
            why,
        })
        .await;
}

/// Passes on what the student says, until nothing more comes.
async fn heed<S: ByteStream>(
    connection: ConnectionId,
    shared: &Shared,
    student: StudentId,
    sender: &Mutex<Sender<S, HostFrame>>,
    receiver: &mut Receiver<S, ClientFrame>,
) -> End {
    let limits = &shared.limits;
    let mut heard = Instant::now();
    let mut rate = Rate::new(limits.frames_per_second, limits.burst, heard);
    let mut read_from = heard;
    let mut told_fast = false;
    // Set forward when it fires and not at every frame: setting a timer takes a
    // lock that all connections share.
    let mut silence = pin!(sleep_until(heard + limits.silence));
    loop {
        let paused = read_from > Instant::now();
        tokio::select! {
            biased;
            frame = receiver.hear(), if !paused => {
                // Before anything else, since it is the host's receive stamp.
                let now = shared.clock.now();
                let said = match frame {
                    Ok(Some(said)) => said,
                    Ok(None) | Err(LinkError::Socket(_) | LinkError::BrokeOff(_)) => return End::Gone,
                    Err(e) => return End::Told(GoneWhy::Confused { what: tamed(&e.to_string()) }),
                };
                // A ping costs as much as a frame, and is no sign of a student.
                let read = Instant::now();
                if let Incoming::Frame(_) = said {
                    heard = read;
                }
                let wait = rate.count(read);
                if wait > Duration::ZERO {
                    read_from = read + wait;
                    if !told_fast {
                        told_fast = true;
                        // The lesson knows the name.
                        if shared.inbound.send(Inbound::TooFast { student }).await.is_err() {
                            return End::Over;
                        }
                    }
                }
                if let Incoming::Frame(frame) = &said
                    && may(Role::InClass, kind(frame)) == May::HungUp
                {
                    let what = "it joined twice".into();
                    return End::Told(GoneWhy::Confused { what });
                }
                let message = match said {
                    Incoming::Ping => continue,
                    Incoming::Frame(ClientFrame::Lesson(message)) => message,
                    Incoming::Frame(ClientFrame::ClockAsk { t1 }) => {
                        // The stamp of sending comes after the wait for what is
                        // being written.
                        let mut sender = sender.lock().await;
                        if let Err(end) = answer_clock(&mut sender, shared, t1, now).await {
                            return end;
                        }
                        continue;
                    }
                    Incoming::Frame(ClientFrame::KeyAnswer { public }) => {
                        let public = public.map(PublicKey);
                        let answer = Inbound::KeyAnswer { student, connection, public };
                        if shared.inbound.send(answer).await.is_err() {
                            return End::Over;
                        }
                        continue;
                    }
                    // The table has it above.
                    Incoming::Frame(ClientFrame::Join { .. } | ClientFrame::Watch) => return End::Gone,
                };
                let message = Inbound::Message { student, connection, message };
                if shared.inbound.send(message).await.is_err() {
                    return End::Over;
                }
            }
            () = sleep_until(read_from), if paused => {}
            () = &mut silence => {
                let silent_at = heard + limits.silence;
                if silent_at <= Instant::now() {
                    return End::Told(GoneWhy::Silent { seconds: limits.silence.as_secs() });
                }
                silence.as_mut().reset(silent_at);
            }
        }
    }
}
