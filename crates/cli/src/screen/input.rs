//! What comes in while a screen is shown: keys, the mouse, and signals.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossterm::event::{self, Event};
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::mpsc;

/// How often the reading thread looks whether it should stop.
const LOOK: Duration = Duration::from_millis(50);
/// Events that may wait; a fast mouse beyond that waits in the terminal.
const WAITING: usize = 64;

/// Keys and mouse, read on a thread of their own because reading blocks.
pub struct Input {
    events: mpsc::Receiver<Event>,
    stop: Arc<AtomicBool>,
    thread: thread::JoinHandle<()>,
}

impl Input {
    /// Begins to read.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn begin() -> io::Result<Self> {
        let (to, events) = mpsc::channel(WAITING);
        let stop = Arc::new(AtomicBool::new(false));
        let told = Arc::clone(&stop);
        let thread = thread::Builder::new()
            .name("keys".to_owned())
            .spawn(move || read(&to, &told))?;
        Ok(Self {
            events,
            stop,
            thread,
        })
    }

    /// The next event; `None` once the terminal can no longer be read, such as
    /// after its window was closed.
    pub async fn next(&mut self) -> Option<Event> {
        self.events.recv().await
    }
}

impl Drop for Input {
    /// Waits for the thread, so that it takes no key meant for the shell; but
    /// not for long, because after a hang-up the terminal's reader never comes
    /// back (it reads the end of the terminal over and over).
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        self.events.close();
        let deadline = Instant::now() + LOOK * 10;
        while !self.thread.is_finished() && Instant::now() < deadline {
            thread::sleep(LOOK / 10);
        }
    }
}

fn read(to: &mpsc::Sender<Event>, stop: &AtomicBool) {
    while !stop.load(Ordering::SeqCst) {
        match event::poll(LOOK) {
            Ok(false) => {}
            Ok(true) => match event::read() {
                Ok(event) => {
                    if to.blocking_send(event).is_err() {
                        return;
                    }
                }
                Err(_) => return,
            },
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => return,
        }
    }
}

/// The signals that ask the program to stop.
pub struct Stops {
    hangup: Signal,
    interrupt: Signal,
    quit: Signal,
    terminate: Signal,
}

impl Stops {
    /// Begins to listen for them.
    ///
    /// # Errors
    /// If the system does not let the program listen.
    pub fn listen() -> io::Result<Self> {
        Ok(Self {
            hangup: signal(SignalKind::hangup())?,
            interrupt: signal(SignalKind::interrupt())?,
            quit: signal(SignalKind::quit())?,
            terminate: signal(SignalKind::terminate())?,
        })
    }

    /// The number of the next one.
    pub async fn next(&mut self) -> i32 {
        tokio::select! {
            _ = self.hangup.recv() => SignalKind::hangup().as_raw_value(),
            _ = self.interrupt.recv() => SignalKind::interrupt().as_raw_value(),
            _ = self.quit.recv() => SignalKind::quit().as_raw_value(),
            _ = self.terminate.recv() => SignalKind::terminate().as_raw_value(),
        }
    }
}
