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
use fifthpeg_core::text::may_be_shown;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::{Position, Rect};
use ratatui::{Frame, Terminal};

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

    /// Draws a frame.
    ///
    /// # Errors
    /// If the terminal cannot be written to.
    pub fn draw(&mut self, draw: impl FnOnce(&mut Frame)) -> io::Result<()> {
        self.terminal.draw(|frame| tamed(frame, draw))?;
        Ok(())
    }

    /// How large the terminal is.
    ///
    /// # Errors
    /// If it does not say.
    pub fn area(&self) -> io::Result<Rect> {
        Ok(Rect::from((Position::ORIGIN, self.terminal.size()?)))
    }
}

/// Draws a frame of which nothing steers the terminal, whatever a book, a file or a
/// peer had in it: each sign that would, is a question mark.
pub(crate) fn tamed(frame: &mut Frame, draw: impl FnOnce(&mut Frame)) {
    draw(frame);
    for cell in &mut frame.buffer_mut().content {
        if !may_be_shown(cell.symbol()) {
            cell.set_symbol("?");
        }
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

#[cfg(test)]
mod tests {
    use fifthpeg_core::text::may_be_shown;
    use proptest::prelude::*;
    use ratatui::widgets::Paragraph;

    use crate::tests::room::drawn;

    /// Anything, and more often what does something to a terminal: the escapes of
    /// ECMA-48, those of one byte, signs that turn the writing direction or hide
    /// (Unicode Standard Annex 9), heaps of marks.
    fn hostile() -> impl Strategy<Value = String> {
        let piece = prop_oneof![
            any::<String>(),
            "[\u{0}-\u{1f}\u{7f}-\u{9f}\u{200b}-\u{200f}\u{202a}-\u{202e}\u{2066}-\u{2069}]{1,4}",
            "a[\u{300}-\u{320}]{1,12}",
            Just("\u{1b}]0;Hall\u{7}\u{1b}[2J".to_owned()),
        ];
        proptest::collection::vec(piece, 0..6).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        #[test]
        fn nothing_drawn_steers_the_terminal(text in hostile()) {
            let screen = drawn(40, 4, |frame| {
                frame.render_widget(Paragraph::new(text.as_str()), frame.area());
            });
            for cell in &screen.content {
                prop_assert!(may_be_shown(cell.symbol()), "{:?}", cell.symbol());
            }
        }

        #[test]
        fn no_line_said_steers_the_terminal(text in hostile()) {
            let line = fifthpeg_core::text::one_line(&text);
            prop_assert!(may_be_shown(&line) && line.lines().count() <= 1, "{line:?}");
        }
    }
}
