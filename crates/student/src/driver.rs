//! The one task that owns the terminal.

use std::sync::Arc;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, Refusal, ToStudent};
use fifthpeg_lesson::terminal::{LONGEST_DEAF, StudentOrder, Terminal, TerminalView};
use fifthpeg_link::clock::LocalClock;
use tokio::sync::{mpsc, oneshot, watch};

use crate::Status;
use crate::network::{FromNetwork, Network, ToHost};
use crate::speaker::{Sounded, Speaker};

/// An order with the way to its answer.
pub(crate) struct Order {
    pub(crate) order: StudentOrder,
    /// When the student asked.
    pub(crate) asked: Moment,
    pub(crate) reply: oneshot::Sender<Result<(), Refusal>>,
}

pub(crate) struct Driver {
    pub(crate) terminal: Terminal,
    pub(crate) clock: LocalClock,
    pub(crate) speaker: Speaker,
    pub(crate) network: Network,
    pub(crate) view: watch::Sender<Arc<TerminalView>>,
    pub(crate) status: watch::Sender<Status>,
    pub(crate) sound_trouble: watch::Sender<Option<String>>,
    /// Nothing more goes to or comes from the host.
    pub(crate) over: bool,
}

impl Driver {
    /// Runs until nobody can give orders any more; gives back the sound thread
    /// to be closed. After the end of the lesson it still answers orders, so
    /// that what was called can be heard and tried once more.
    pub(crate) async fn run(
        mut self,
        mut orders: mpsc::Receiver<Order>,
        mut reports: mpsc::UnboundedReceiver<Sounded>,
    ) -> Speaker {
        loop {
            let deadline = self.terminal.next_deadline().map(|m| self.clock.instant(m));
            tokio::select! {
                order = orders.recv() => match order {
                    Some(order) => self.take_order(order),
                    None => break,
                },
                event = self.network.next(), if !self.over => self.take(event),
                // The sound thread lives as long as this task.
                Some(sounded) = reports.recv() => self.take_sounded(sounded),
                () = until(deadline), if !self.over => {
                    self.terminal.handle_timeout(self.clock.now());
                }
            }
            self.pass_on();
            if self.over {
                self.network.finish().await;
                if !matches!(*self.status.borrow(), Status::TooOld { .. }) {
                    self.network.give_up_place();
                }
            }
            self.show();
        }
        self.network.finish().await;
        self.speaker
    }

    fn show(&self) {
        let view = self.terminal.view(self.clock.now());
        self.view.send_replace(Arc::new(view));
    }

    fn take_order(&mut self, order: Order) {
        let done = self.terminal.handle_order(order.order, order.asked);
        self.pass_on();
        if done.is_ok() && order.order == StudentOrder::Leave {
            self.finish_with(Status::Left);
        }
        // Who asked sees what it did.
        self.show();
        // Whoever asked may have stopped waiting.
        let _ = order.reply.send(done);
    }

    fn take(&mut self, event: FromNetwork) {
        let now = self.clock.now();
        match event {
            FromNetwork::Status(status) => {
                self.over |= status.is_final();
                self.status.send_replace(status);
            }
            FromNetwork::Connected => self.terminal.handle_connected(now),
            FromNetwork::Message(message) => {
                let ended = match message {
                    ToStudent::Ended { removed: true, .. } => Some(Status::Removed),
                    ToStudent::Ended { .. } => Some(Status::Ended),
                    _ => None,
                };
                self.terminal.handle_message(message, now);
                self.network.set_key(self.terminal.key());
                if let Some(status) = ended {
                    self.finish_with(status);
                }
            }
            FromNetwork::Clock { t1, t2, t3, t4 } => {
                self.terminal.handle_clock(t1, t2, t3, t4);
            }
            FromNetwork::Disconnected => self.terminal.handle_disconnected(now),
        }
    }

    fn take_sounded(&mut self, Sounded { id, started }: Sounded) {
        match started {
            Ok(started) => {
                // A silent output started nobody's hearing: what was heard,
                // from a neighbour perhaps, started at a time not known here.
                if started.audible {
                    let at = self.clock.moment(started.at);
                    let off = started.uncertainty;
                    self.terminal.handle_sounded(id, at, off, LONGEST_DEAF);
                } else {
                    self.terminal.handle_silent(id);
                }
                if self.sound_trouble.borrow().is_some() {
                    self.sound_trouble.send_replace(None);
                }
            }
            Err(e) => {
                self.terminal.handle_not_sounded(id);
                self.sound_trouble.send_replace(Some(e.to_string()));
            }
        }
    }

    /// Does everything the terminal asks for.
    fn pass_on(&mut self) {
        // The call's tone first: nothing may hold it up.
        while let Some(order) = self.terminal.poll_sound() {
            let at = self.clock.instant(order.at);
            if let Err(e) = self.speaker.sound(&order, at) {
                let started = Err(e);
                self.take_sounded(Sounded {
                    id: order.id,
                    started,
                });
            }
        }
        while let Some(message) = self.terminal.poll_message() {
            let leaves = matches!(message, FromStudent::Leave);
            if !self.over || leaves {
                self.network.send(ToHost::Message(message));
            }
        }
        while self.terminal.poll_clock_ask() {
            self.network.send(ToHost::AskClock);
        }
    }

    fn finish_with(&mut self, status: Status) {
        if !self.over {
            self.over = true;
            self.status.send_replace(status);
        }
    }
}

async fn until(deadline: Option<std::time::Instant>) {
    match deadline {
        Some(at) => tokio::time::sleep_until(at.into()).await,
        None => std::future::pending().await,
    }
}
