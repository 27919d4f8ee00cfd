//! What comes in while a screen is shown: keys and the mouse.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossterm::event::{self, Event};
use tokio::sync::mpsc;

/// How often the reading thread looks whether it should stop.
const LOOK: Duration = Duration::from_millis(50);
/// Events that may wait; a fast mouse beyond that waits in the terminal.
const WAITING: usize = 64;

/// An event and the instant it was read, which counts as the moment of asking
/// or answering, however long the screen then takes to draw.
pub type Timed = (Event, Instant);

/// Keys and mouse, read on a thread of their own because reading blocks.
pub struct ScreenInput {
    events: mpsc::Receiver<Timed>,
    stop: Arc<AtomicBool>,
    thread: thread::JoinHandle<()>,
}

impl ScreenInput {
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
            .spawn(move || follow(&to, &told, next_event))?;
        Ok(Self {
            events,
            stop,
            thread,
        })
    }

    /// The next event; `None` once the terminal can no longer be read, such as
    /// after its window was closed.
    pub async fn next(&mut self) -> Option<Timed> {
        self.events.recv().await
    }
}

impl Drop for ScreenInput {
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

/// Hands on events until told to stop, or until there are no more. Each is
/// stamped as it is read, before it waits for its turn.
fn follow(
    to: &mpsc::Sender<Timed>,
    stop: &AtomicBool,
    mut next: impl FnMut() -> io::Result<Option<Event>>,
) {
    while !stop.load(Ordering::SeqCst) {
        match next() {
            Ok(None) => {}
            Ok(Some(event)) => {
                if to.blocking_send((event, Instant::now())).is_err() {
                    return;
                }
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => return,
        }
    }
}

/// The terminal's next event, if there is one within [`LOOK`].
fn next_event() -> io::Result<Option<Event>> {
    if event::poll(LOOK)? {
        event::read().map(Some)
    } else {
        Ok(None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Events waited for by a screen that is busy elsewhere.
    #[test]
    fn an_event_keeps_the_instant_it_was_read_at() {
        let (to, mut events) = mpsc::channel(WAITING);
        let mut waiting = vec![Event::FocusLost, Event::FocusGained];
        let before = Instant::now();
        follow(&to, &AtomicBool::new(false), || match waiting.pop() {
            Some(event) => Ok(Some(event)),
            None => Err(io::ErrorKind::UnexpectedEof.into()),
        });
        let after = Instant::now();
        thread::sleep(Duration::from_millis(30));
        for wanted in [Event::FocusGained, Event::FocusLost] {
            let (event, at) = events.blocking_recv().expect("an event");
            assert_eq!(event, wanted);
            assert!(before <= at && at <= after);
        }
    }

    #[test]
    fn an_interrupted_read_is_read_again_and_a_stop_is_obeyed() {
        let (to, mut events) = mpsc::channel(WAITING);
        let stop = AtomicBool::new(false);
        let mut turn = 0;
        follow(&to, &stop, || {
            turn += 1;
            match turn {
                1 => Err(io::ErrorKind::Interrupted.into()),
                2 => Ok(None),
                _ => {
                    stop.store(true, Ordering::SeqCst);
                    Ok(Some(Event::FocusLost))
                }
            }
        });
        assert_eq!(turn, 3);
        assert!(events.blocking_recv().is_some());
    }
}
