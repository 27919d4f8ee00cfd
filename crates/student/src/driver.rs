//! The one task that owns the terminal: it takes what comes from network, ear, speaker
//! and screen, and passes on what the terminal wants. It opens no socket itself.

use core::time::Duration;
use std::sync::Arc;
use std::time::Instant;

use fifthpeg_core::Reference;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, Refusal, ToStudent};
use fifthpeg_lesson::terminal::{
    Doubles, HandsFree, Listening, SoundId, StudentOrder, Terminal, TerminalEvent, TerminalView,
};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_sound::{Listened, SoundError, Speaker, Started, ToneSpec};
use tokio::sync::{broadcast, mpsc, oneshot, watch};

use crate::ear::{Ear, FromEar, Tuning};
use crate::key_talk::{KeyTalk, Taking};
use crate::messages::{FromNetwork, ToHost};
use crate::network::Network;
use crate::suspend::SuspendWatch;
use crate::{Status, diary};

/// What came of one tone, and how long it lasts once started.
type Sounded = (SoundId, Duration, Result<Started, SoundError>);

/// An order with the way to its answer.
pub(crate) enum DriverOrder {
    /// For the lesson.
    Lesson {
        order: StudentOrder,
        /// When the student asked.
        asked: Moment,
        reply: oneshot::Sender<Result<(), Refusal>>,
    },
    /// Listen to the microphone, or no longer; the answer is whether there is
    /// one.
    Listen {
        wanted: bool,
        reply: oneshot::Sender<bool>,
    },
    /// Take the class key that was offered, or not; the answer is whether one
    /// was.
    Key {
        takes: bool,
        reply: oneshot::Sender<bool>,
    },
    /// Measure the room; the answer is whether the microphone listens.
    Calibrate { reply: oneshot::Sender<bool> },
}

pub(crate) struct Driver {
    pub(crate) terminal: Terminal,
    pub(crate) clock: LocalClock,
    pub(crate) speaker: Speaker<SoundId>,
    pub(crate) network: Network,
    pub(crate) view: watch::Sender<Arc<TerminalView>>,
    pub(crate) tones: watch::Sender<Option<Instant>>,
    pub(crate) news: broadcast::Sender<TerminalEvent>,
    pub(crate) status: watch::Sender<Status>,
    pub(crate) sound_trouble: watch::Sender<Option<String>>,
    pub(crate) key_talk: watch::Sender<KeyTalk>,
    pub(crate) taking: Taking,
    pub(crate) ear: Ear,
    pub(crate) hands_free: HandsFree,
    pub(crate) doubles: Doubles,
    /// The terminal has been told that a microphone listens.
    pub(crate) listens: bool,
    /// Whether this machine was asleep.
    pub(crate) wakefulness: SuspendWatch,
    /// Nothing more goes to or comes from the host.
    pub(crate) over: bool,
}

impl Driver {
    /// Runs until nobody can give orders any more; gives back the sound thread
    /// to be closed. After the end of the lesson it still answers orders, so
    /// that what was called can be heard and tried once more.
    pub(crate) async fn run(
        mut self,
        mut orders: mpsc::Receiver<DriverOrder>,
        mut reports: mpsc::UnboundedReceiver<Sounded>,
        mut heard: mpsc::Receiver<FromEar>,
    ) -> Speaker<SoundId> {
        loop {
            let deadline = self.terminal.next_deadline().map(|m| self.clock.instant(m));
            let ear_deadline = self.ear.next_deadline();
            tokio::select! {
                order = orders.recv() => match order {
                    Some(order) => self.take_order(order),
                    None => break,
                },
                event = self.network.next(), if !self.over => self.take(event),
                // The sound thread lives as long as this task.
                Some(sounded) = reports.recv() => self.take_sounded(sounded),
                // The ear lives as long as this task.
                Some(from) = heard.recv() => if !self.take_heard(from) {
                    continue;
                },
                () = until(ear_deadline) => self.ear.handle_timeout(Instant::now()),
                () = until(deadline), if !self.over => {
                    self.terminal.handle_timeout(self.clock.now());
                }
            }
            self.pass_on();
            self.mind_ear();
            if self.over {
                let refused = match &*self.status.borrow() {
                    Status::Refused(why) => Some(why.clone()),
                    _ => None,
                };
                self.terminal.handle_over(refused.as_ref());
                self.network.finish().await;
                if !keeps_seat(&self.status.borrow()) {
                    self.network.give_up_seat();
                }
            }
            self.show();
        }
        self.network.finish().await;
        self.speaker
    }

    /// What happened goes first: who sees the view finds all of it there. Before
    /// that, until when tones sound: who is told of a call knows.
    fn show(&mut self) {
        let tones = self.terminal.tones_until();
        self.tones
            .send_replace(tones.map(|at| self.clock.instant(at)));
        while let Some(event) = self.terminal.poll_event() {
            // Nobody may be there to say it.
            let _ = self.news.send(event);
        }
        let view = self.terminal.view(self.clock.now());
        self.ear.set_own_tone(view.listening == Listening::Muted);
        self.view.send_replace(Arc::new(view));
    }

    fn take_order(&mut self, order: DriverOrder) {
        self.mind_sleep();
        // Whoever asked may have stopped waiting.
        match order {
            DriverOrder::Lesson {
                order,
                asked,
                reply,
            } => {
                let done = self.terminal.handle_order(order, asked);
                self.pass_on();
                if done.is_ok() && order == StudentOrder::Leave {
                    self.finish_with(Status::Left);
                }
                // Who asked sees what it did.
                self.show();
                let _ = reply.send(done);
            }
            // Nothing is listened to without a lesson: nobody answers any more.
            DriverOrder::Listen { wanted: true, .. } if self.over => {}
            DriverOrder::Listen { wanted, reply } => {
                let _ = reply.send(self.ear.listen(wanted));
            }
            DriverOrder::Key { takes, reply } => {
                let decided = self.taking.decided(takes);
                let _ = reply.send(decided.is_some());
                if let Some(private) = decided {
                    if private.is_none() {
                        self.key_talk.send_replace(KeyTalk::NotTaken);
                    }
                    let public = private.map(|key| key.public());
                    self.network.send(ToHost::KeyAnswer(public));
                }
            }
            DriverOrder::Calibrate { reply } => {
                let _ = reply.send(self.ear.calibrate());
            }
        }
    }

    /// Takes what the microphone heard; whether that may have changed the
    /// lesson.
    fn take_heard(&mut self, from: FromEar) -> bool {
        self.mind_sleep();
        if matches!(from, FromEar::Heard(Listened::Singing { .. }))
            && self.view.borrow().listening == Listening::Muted
        {
            // A call's tone from a loudspeaker, shown as being sung, would name
            // the note.
            return false;
        }
        let opened = matches!(from, FromEar::Opened(_));
        let mut changes = false;
        if let Some(Listened::Note(note)) = self.ear.take(from) {
            for note in self.doubles.sift(note.on(|at| self.clock.moment(at))) {
                self.terminal.handle_heard(note, self.clock.now());
                changes = true;
            }
        }
        changes || opened || self.ear.is_listening() != self.listens
    }

    /// Keeps the ear to what the lesson needs: its neck, its A4, a voice while
    /// singing is invited; and the terminal to whether the ear listens.
    fn mind_ear(&mut self) {
        if let Some((neck, a4_hz)) = self.terminal.tuning()
            && let Ok(reference) = Reference::new(a4_hz)
        {
            self.ear.tune(Tuning {
                lowest: neck.lowest(),
                highest: neck.highest(),
                reference,
            });
        }
        self.ear.set_singing(self.terminal.may_sing());
        if self.over {
            // Nothing is listened to without a lesson.
            self.ear.listen(false);
        }
        let listens = self.ear.is_listening();
        if listens != self.listens {
            self.listens = listens;
            let hands_free = listens.then_some(self.hands_free);
            self.terminal.set_hands_free(hands_free);
        }
    }

    fn take(&mut self, event: FromNetwork) {
        self.mind_sleep();
        let now = self.clock.now();
        match event {
            FromNetwork::Status(status) => {
                diary::status(&status);
                self.over |= status.is_final();
                self.status.send_replace(status);
            }
            FromNetwork::CameInByKey { name } => {
                self.key_talk.send_replace(KeyTalk::CameIn { name });
            }
            FromNetwork::KeyOffered(offer, host) => {
                let asks = self.taking.offered(offer, host);
                self.key_talk.send_replace(asks);
            }
            FromNetwork::KeyKept => {
                if let Some(kept) = self.taking.kept() {
                    self.key_talk.send_replace(kept);
                }
            }
            FromNetwork::Connected => self.terminal.handle_connected(now),
            FromNetwork::Message(message) => {
                let ended = match message {
                    ToStudent::Ended { removed: true, .. } => Some(Status::Removed),
                    ToStudent::Ended { .. } => Some(Status::Ended),
                    _ => None,
                };
                diary::heard(&message);
                self.terminal.handle_message(message, now);
                self.network.set_key(self.terminal.key());
                if let Some(status) = ended {
                    self.finish_with(status);
                }
            }
            FromNetwork::Clock { t1, t2, t3, t4 } => {
                diary::clock(t1, t2, t3, t4);
                self.terminal.handle_clock(t1, t2, t3, t4);
            }
            FromNetwork::Disconnected => self.terminal.handle_disconnected(now),
        }
    }

    /// Before anything is done with the clock: it stood still while the machine
    /// slept, and the host's did not.
    fn mind_sleep(&mut self) {
        if self.wakefulness.slept() {
            diary::slept();
            self.terminal.handle_slept(self.clock.now());
        }
    }

    fn take_sounded(&mut self, (id, length, started): Sounded) {
        diary::sounded(&started);
        match started {
            Ok(started) => {
                // A silent output started nobody's hearing: what was heard,
                // from a neighbour perhaps, started at a time not known here.
                if started.audible {
                    let at = self.clock.moment(started.at);
                    self.terminal
                        .handle_sounded(id, at, started.uncertainty, length);
                } else {
                    self.terminal.handle_silent(id);
                }
                if self.sound_trouble.borrow().is_some() {
                    self.sound_trouble.send_replace(None);
                }
            }
            Err(e) => {
                self.terminal.handle_not_sounded(id);
                // One tone too many at once is no trouble of the output's; and what was
                // said before is not said at every tone.
                if !matches!(e, SoundError::TooManyTones) {
                    let said = Some(e.to_string());
                    self.sound_trouble
                        .send_if_modified(|now| (*now != said).then(|| *now = said).is_some());
                }
            }
        }
    }

    /// Does everything the terminal asks for.
    fn pass_on(&mut self) {
        // The call's tone first: nothing may hold it up.
        while let Some(order) = self.terminal.poll_sound() {
            let at = self.clock.instant(order.at);
            let tone = ToneSpec {
                frequency_hz: order.tone.frequency_hz,
                voice: order.tone.voice,
                pluck_seed: order.tone.pluck_seed,
                level: self.speaker.level(),
            };
            // Full means that the student tries faster than tones can be made; a
            // tone late by that much would only confuse.
            if self.speaker.sound(order.id, tone, at).is_err() {
                self.take_sounded((order.id, Duration::ZERO, Err(SoundError::TooManyTones)));
            }
        }
        while let Some(message) = self.terminal.poll_message() {
            let leaves = matches!(message, FromStudent::Leave);
            if !self.over || leaves {
                diary::said(&message);
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
            diary::status(&status);
            self.status.send_replace(status);
        }
    }
}

/// Whether the seat may be come back to: who leaves has it until the lesson ends.
fn keeps_seat(status: &Status) -> bool {
    matches!(status, Status::Left | Status::TooOld { .. })
}

async fn until(deadline: Option<std::time::Instant>) {
    match deadline {
        Some(at) => tokio::time::sleep_until(at.into()).await,
        None => std::future::pending().await,
    }
}
