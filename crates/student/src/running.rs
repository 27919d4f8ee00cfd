//! Starting a student's terminal, and the handle to a running one.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::terminal::{
    Doubles, SoundId, StudentOrder, Terminal, TerminalEvent, TerminalView,
};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_lock::Passphrase;
use fifthpeg_sound::{Speaker, ToneSpec, tone_length};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;

use crate::class_keys::ClassKeys;
use crate::driver::{Driver, DriverOrder};
use crate::ear::{Ear, EarStatus};
use crate::entry::Decision;
use crate::key_talk::{KeyTalk, Taking};
use crate::network::Network;
use crate::suspend::SuspendWatch;
use crate::{Status, StudentConfig, StudentError, Target};

/// Orders that may wait.
pub(crate) const ORDERS: usize = 16;
/// Tones that may wait to be made. Whoever tries faster than this hears the
/// earlier ones only.
pub(crate) const TONES_WAITING: usize = 32;
/// Events that a screen may be behind.
pub(crate) const EVENTS: usize = 4096;

/// A running terminal. Dropping it leaves the lesson as a lost connection
/// would, with the seat kept; [`Student::leave`] leaves for good.
pub struct Student {
    orders: mpsc::Sender<DriverOrder>,
    view: watch::Receiver<Arc<TerminalView>>,
    tones: watch::Receiver<Option<Instant>>,
    news: broadcast::Sender<TerminalEvent>,
    first_news: Mutex<Option<broadcast::Receiver<TerminalEvent>>>,
    status: watch::Receiver<Status>,
    sound_trouble: watch::Receiver<Option<String>>,
    key_talk: watch::Receiver<KeyTalk>,
    ear: watch::Receiver<EarStatus>,
    decisions: mpsc::Sender<Decision>,
    clock: LocalClock,
    driver: JoinHandle<Speaker<SoundId>>,
}

/// Starts a terminal. It returns at once; [`Student::status`] tells how it
/// fares with finding and joining the lesson.
///
/// # Errors
/// If the system cannot start the sound thread.
pub async fn start(config: StudentConfig) -> Result<Student, StudentError> {
    let clock = LocalClock::new();
    let (reports, reports_in) = mpsc::unbounded_channel();
    let played = move |id, tone: ToneSpec, started| {
        // While the terminal is closing nobody needs to know.
        let _ = reports.send((id, tone_length(tone.voice), started));
    };
    let speaker = Speaker::start((config.output, config.level), TONES_WAITING, played)
        .map_err(StudentError::Thread)?;
    let terminal = Terminal::new();
    let (view_out, view) = watch::channel(Arc::new(terminal.view(clock.now())));
    let (tones_out, tones) = watch::channel(None);
    let (news, first_news) = broadcast::channel(EVENTS);
    let lesson = match &config.target {
        Target::Lesson(name) => name.clone(),
        Target::Address(_) | Target::Inside { .. } => None,
    };
    let first = match &config.target {
        Target::Lesson(_) => Status::Finding { lesson },
        Target::Address(addresses) => Status::Connecting {
            addresses: addresses.clone(),
        },
        Target::Inside { .. } => Status::Connecting {
            addresses: Vec::new(),
        },
    };
    let (status_out, status) = watch::channel(first);
    let (trouble_out, sound_trouble) = watch::channel(None);
    let (talk_out, key_talk) = watch::channel(KeyTalk::Nothing);
    let taking = Taking::new(ClassKeys::open(config.entry.hosts.as_deref()));
    let (orders, orders_in) = mpsc::channel(ORDERS);
    let (ear, heard) = Ear::new(config.microphone);
    let ear_status = ear.status();
    let (network, decisions) = Network::start(
        config.target,
        config.name,
        config.state_folder,
        config.entry,
        clock,
    );
    let driver = Driver {
        terminal,
        clock,
        speaker,
        network,
        view: view_out,
        tones: tones_out,
        news: news.clone(),
        status: status_out,
        sound_trouble: trouble_out,
        key_talk: talk_out,
        taking,
        ear,
        hands_free: config.hands_free,
        doubles: Doubles::default(),
        listens: false,
        wakefulness: SuspendWatch::new(),
        over: false,
    };
    Ok(Student {
        orders,
        view,
        tones,
        news,
        first_news: Mutex::new(Some(first_news)),
        status,
        sound_trouble,
        key_talk,
        ear: ear_status,
        decisions,
        clock,
        driver: tokio::spawn(driver.run(orders_in, reports_in, heard)),
    })
}

impl Student {
    /// The lesson as the student may see it now, and a wake-up whenever it
    /// changes.
    pub fn view(&self) -> watch::Receiver<Arc<TerminalView>> {
        self.view.clone()
    }

    /// When the last tone of the lesson ends that sounds here or is about to. It
    /// is known before what happens is told.
    pub fn tones(&self) -> watch::Receiver<Option<Instant>> {
        self.tones.clone()
    }

    /// What happens in the lesson, one thing after the other: to whoever asks
    /// first, from the beginning, to others from now on. Whoever sees a view finds
    /// here all that led to it. A listener more than a few thousand behind misses
    /// the oldest and is told how many.
    pub fn events(&self) -> broadcast::Receiver<TerminalEvent> {
        let first = self.first_news.lock();
        // Taking cannot fail half-way, so a panic elsewhere leaves it whole.
        let first = first.unwrap_or_else(PoisonError::into_inner).take();
        first.unwrap_or_else(|| self.news.subscribe())
    }

    /// How the terminal stands with its lesson.
    pub fn status(&self) -> watch::Receiver<Status> {
        self.status.clone()
    }

    /// Why the last tone did not sound, as one sentence; `None` while all is
    /// well.
    pub fn sound_trouble(&self) -> watch::Receiver<Option<String>> {
        self.sound_trouble.clone()
    }

    /// How it stands with class keys.
    pub fn key_talk(&self) -> watch::Receiver<KeyTalk> {
        self.key_talk.clone()
    }

    /// Takes the class key that [`KeyTalk::Offered`] tells of, or does not.
    ///
    /// # Errors
    /// If none is offered, or the terminal is gone.
    pub async fn take_key(&self, takes: bool) -> Result<(), StudentError> {
        let offered = self.ask(|reply| DriverOrder::Key { takes, reply }).await?;
        offered.then_some(()).ok_or(StudentError::NoKeyOffered)
    }

    /// How the microphone fares, and what it heard last.
    pub fn ear(&self) -> watch::Receiver<EarStatus> {
        self.ear.clone()
    }

    /// Tries this passphrase, where [`Status::PassphraseWanted`] asks for one.
    ///
    /// # Errors
    /// If the terminal is gone, or decides about something already.
    pub fn give_passphrase(&self, passphrase: Passphrase) -> Result<(), StudentError> {
        self.decide(Decision::Passphrase(passphrase))
    }

    /// Takes the host's key for the right one, where [`Status::KeyChanged`]
    /// asks.
    ///
    /// # Errors
    /// As [`Student::give_passphrase`].
    pub fn take_new_key(&self) -> Result<(), StudentError> {
        self.decide(Decision::NewKey)
    }

    fn decide(&self, decision: Decision) -> Result<(), StudentError> {
        let taken = self.decisions.try_send(decision);
        taken.map_err(|_| StudentError::Over)
    }

    /// Listens to the microphone, or no longer.
    ///
    /// # Errors
    /// If no microphone was asked for, or the terminal is gone.
    pub async fn listen(&self, wanted: bool) -> Result<(), StudentError> {
        let heeded = self
            .ask(|reply| DriverOrder::Listen { wanted, reply })
            .await?;
        heeded.then_some(()).ok_or(StudentError::NoMicrophone)
    }

    /// Measures the noise of the room, which takes three seconds of quiet. What
    /// was found shows in [`Student::ear`].
    ///
    /// # Errors
    /// If the microphone does not listen, or the terminal is gone.
    pub async fn calibrate(&self) -> Result<(), StudentError> {
        let heeded = self.ask(|reply| DriverOrder::Calibrate { reply }).await?;
        heeded.then_some(()).ok_or(StudentError::NotListening)
    }

    async fn ask<T>(
        &self,
        order: impl FnOnce(oneshot::Sender<T>) -> DriverOrder,
    ) -> Result<T, StudentError> {
        let (reply, done) = oneshot::channel();
        self.orders
            .send(order(reply))
            .await
            .map_err(|_| StudentError::Over)?;
        done.await.map_err(|_| StudentError::Over)
    }

    /// Does what the student asks now; [`Student::order_at`] for what was asked
    /// a moment ago.
    ///
    /// # Errors
    /// As [`Student::order_at`].
    pub async fn order(&self, order: StudentOrder) -> Result<(), StudentError> {
        self.order_at(order, Instant::now()).await
    }

    /// Does what the student asked at this instant, such as when the key was
    /// read. It counts as the moment of answering, so that no drawing or other
    /// work in between makes anyone slower. An instant ahead of now is taken
    /// as now.
    ///
    /// # Errors
    /// If the terminal refuses, or is no longer in a lesson. The host may
    /// refuse later still; that shows in the view.
    pub async fn order_at(&self, order: StudentOrder, asked: Instant) -> Result<(), StudentError> {
        let asked = self.clock.moment(asked.min(Instant::now()));
        let done = self.ask(|reply| DriverOrder::Lesson {
            order,
            asked,
            reply,
        });
        Ok(done.await??)
    }

    /// Now, on the clock that the view's moments are on.
    pub fn now(&self) -> Moment {
        self.clock.now()
    }

    /// Leaves the lesson for good, if it is not over yet, and closes the sound
    /// output.
    ///
    /// # Errors
    /// If the output did not close well, such as a sound file that could not
    /// be written to its end.
    pub async fn leave(self) -> Result<(), StudentError> {
        // Being over already is just as well.
        let _ = self.order(StudentOrder::Leave).await;
        let Self { orders, driver, .. } = self;
        drop(orders);
        if let Ok(speaker) = driver.await {
            // Closing may have to wait for the last tone to fade.
            let closed = tokio::task::spawn_blocking(|| speaker.finish()).await;
            closed.unwrap_or(Ok(())).map_err(StudentError::Sound)?;
        }
        Ok(())
    }
}
