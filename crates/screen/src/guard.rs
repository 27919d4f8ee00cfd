//! Takes the terminal over, and gives it back whatever happens.
//!
//! It is given back when the guard is dropped, and before a panic's message is
//! printed, on whichever thread. Signals that ask the program to stop end the
//! screen's loop, which drops the guard. Only a `kill -9` cannot be caught:
//! after one, type `reset` and press Enter.

use std::io::{self, Stdout, Write};
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};

use crossterm::cursor::Show;
use crossterm::event::{
    DisableBracketedPaste, DisableMouseCapture, EnableBracketedPaste, EnableMouseCapture,
};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{execute, queue};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;

/// Whether the terminal is ours at the moment.
static TAKEN: AtomicBool = AtomicBool::new(false);
/// Whether anything has panicked since the program began.
static FAULT: AtomicBool = AtomicBool::new(false);
static HOOK: Once = Once::new();

/// Holds the terminal while a screen is shown.
pub struct TerminalGuard {
    terminal: Terminal<CrosstermBackend<Stdout>>,
}

impl TerminalGuard {
    /// Takes the terminal over: raw keys, the other screen, mouse and paste.
    ///
    /// # Errors
    /// If the terminal cannot do this; it is left as it was.
    pub fn take() -> io::Result<Self> {
        HOOK.call_once(restore_on_panic);
        enable_raw_mode()?;
        TAKEN.store(true, Ordering::SeqCst);
        let opened = execute!(
            io::stdout(),
            EnterAlternateScreen,
            // It may still hold what a killed run left there.
            Clear(ClearType::All),
            EnableMouseCapture,
            EnableBracketedPaste
        );
        let terminal = opened.and_then(|()| Terminal::new(CrosstermBackend::new(io::stdout())));
        match terminal {
            Ok(terminal) => Ok(Self { terminal }),
            Err(error) => {
                restore();
                Err(error)
            }
        }
    }

    /// The terminal to draw on.
    pub fn terminal(&mut self) -> &mut Terminal<CrosstermBackend<Stdout>> {
        &mut self.terminal
    }
}

impl Drop for TerminalGuard {
    fn drop(&mut self) {
        restore();
    }
}

/// Whether some part of the program has panicked; a screen then stops, because
/// its terminal is gone already.
pub fn has_fault() -> bool {
    FAULT.load(Ordering::SeqCst)
}

fn restore_on_panic() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        FAULT.store(true, Ordering::SeqCst);
        restore();
        before(info);
    }));
}

/// Gives the terminal back, once. Errors are of no use here: a terminal that
/// was hung up cannot be written to any more.
fn restore() {
    if !TAKEN.swap(false, Ordering::SeqCst) {
        return;
    }
    let mut out = io::stdout();
    let _ = queue!(
        out,
        DisableBracketedPaste,
        DisableMouseCapture,
        LeaveAlternateScreen,
        Show
    );
    let _ = out.flush();
    let _ = disable_raw_mode();
}
