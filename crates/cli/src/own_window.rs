//! What a window that was opened for the program alone needs.

/// Waits for Enter where the program was started without a word and from a terminal, as by a double
/// click: its window would go with it, and with the window what was said last.
#[cfg(windows)]
pub fn wait_to_be_read(words: usize) {
    use std::io::{IsTerminal, stdin};

    if words <= 1 && stdin().is_terminal() && fifthpeg_front::out::is_terminal() {
        fifthpeg_front::out::ask("Press Enter to close this window.");
        // An end of input closes it as well.
        let _ = stdin().read_line(&mut String::new());
    }
}

/// Elsewhere whoever opens the window keeps it open, or means it to go.
#[cfg(not(windows))]
pub fn wait_to_be_read(_words: usize) {}
