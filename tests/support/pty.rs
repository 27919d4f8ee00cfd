//! A program on a terminal of its own, seen as a person would see it.

use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

use crate::process::{BOOKS, NO_PLACES, PLACES, TIMEOUT};

/// A program on a terminal: its screen so far, its keys.
pub struct Pty {
    child: Box<dyn Child + Send + Sync>,
    master: Option<Box<dyn MasterPty + Send>>,
    keys: Option<Box<dyn Write + Send>>,
    screen: Arc<Mutex<vt100::Parser>>,
    /// Tells the thread that reads to stop, and that thread.
    closing: Arc<AtomicBool>,
    reader: Option<JoinHandle<()>>,
    /// The terminal's settings before the program started.
    before: String,
    name: String,
}

impl Pty {
    /// Starts a program on a terminal of this size. The environment says that
    /// the terminal has sixteen colours at least.
    pub fn start(
        name: &str,
        program: &Path,
        arguments: &[&str],
        variables: &[(&str, &str)],
        (columns, rows): (u16, u16),
    ) -> Self {
        let pair = native_pty_system()
            .openpty(size(columns, rows))
            .expect("a terminal");
        let mut command = CommandBuilder::new(program);
        command.args(arguments);
        command.env("TERM", "xterm-256color");
        command.env_remove("NO_COLOR");
        command.env(PLACES, NO_PLACES);
        command.env(BOOKS, NO_PLACES);
        for (variable, value) in variables {
            command.env(variable, value);
        }
        let before = settings(&*pair.master);
        let child = pair.slave.spawn_command(command).expect("it starts");
        drop(pair.slave);
        let screen = vt100::Parser::new(nonzero(rows), nonzero(columns), 200);
        let screen = Arc::new(Mutex::new(screen));
        let seen = Arc::clone(&screen);
        let mut output = pair.master.try_clone_reader().expect("its output");
        let closing = Arc::new(AtomicBool::new(false));
        let closed = Arc::clone(&closing);
        let reader = std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(read @ 1..) = output.read(&mut buffer) {
                if closed.load(Ordering::SeqCst) {
                    return;
                }
                seen.lock().expect("screen").process(&buffer[..read]);
            }
        });
        Self {
            child,
            keys: Some(pair.master.take_writer().expect("its keys")),
            master: Some(pair.master),
            screen,
            closing,
            reader: Some(reader),
            before,
            name: name.to_owned(),
        }
    }

    /// Types keys, as the bytes that a terminal sends for them.
    pub fn type_keys(&mut self, keys: &str) {
        let to = self.keys.as_mut().expect("the terminal is open");
        to.write_all(keys.as_bytes()).expect("keys are taken");
        to.flush().expect("keys are taken");
    }

    /// Looks at the screen.
    pub fn look<T>(&self, at: impl FnOnce(&vt100::Screen) -> T) -> T {
        at(self.screen.lock().expect("screen").screen())
    }

    /// What the screen shows.
    pub fn text(&self) -> String {
        self.look(vt100::Screen::contents)
    }

    /// Waits until the screen satisfies a wish.
    ///
    /// # Panics
    /// When it does not in time, with what it shows instead.
    #[track_caller]
    pub fn wait_until(&self, wish: &str, holds: impl Fn(&vt100::Screen) -> bool) {
        let deadline = Instant::now() + TIMEOUT;
        while !self.look(&holds) {
            assert!(
                Instant::now() < deadline,
                "{}: not {wish}; the screen shows:\n{}",
                self.name,
                self.text()
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits until the screen shows some text; returns the line it is on.
    #[track_caller]
    pub fn wait_for(&self, text: &str) -> String {
        self.wait_until(text, |screen| screen.contents().contains(text));
        let now = self.text();
        let line = now.lines().find(|line| line.contains(text));
        line.unwrap_or_default().to_owned()
    }

    /// Makes the terminal another size, as dragging its window does.
    pub fn resize(&mut self, columns: u16, rows: u16) {
        let mut screen = self.screen.lock().expect("screen");
        screen.set_size(nonzero(rows), nonzero(columns));
        drop(screen);
        let master = self.master.as_ref().expect("the terminal is open");
        master
            .resize(size(columns, rows))
            .expect("it can be resized");
    }

    /// Sends a signal by name, such as `TERM`.
    pub fn signal(&self, name: &str) {
        let id = self.child.process_id().expect("it runs");
        let sent = Command::new("kill")
            .arg(format!("-{name}"))
            .arg(id.to_string())
            .status();
        assert!(sent.is_ok_and(|status| status.success()), "kill -{name}");
    }

    /// Closes the terminal, as closing its window does. The thread that reads
    /// holds the terminal too; a change of size makes the program write, which
    /// wakes it.
    pub fn hang_up(&mut self) {
        self.closing.store(true, Ordering::SeqCst);
        self.resize(81, 25);
        if let Some(reader) = self.reader.take() {
            reader.join().expect("the reader ends");
        }
        self.keys = None;
        self.master = None;
    }

    /// Waits for the program's end; whether it ended well.
    ///
    /// # Panics
    /// When it does not end in time.
    #[track_caller]
    pub fn finish(&mut self) -> bool {
        let deadline = Instant::now() + TIMEOUT;
        loop {
            if let Some(status) = self.child.try_wait().expect("it can be waited for") {
                // What it wrote last is still on its way through the terminal.
                std::thread::sleep(Duration::from_millis(200));
                return status.success();
            }
            assert!(Instant::now() < deadline, "{} does not end", self.name);
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Fails unless the terminal is as it was before the program started: the
    /// main screen, a cursor, no mouse or paste reports, line mode and echo.
    #[track_caller]
    pub fn assert_given_back(&self) {
        self.look(|screen| {
            assert!(!screen.alternate_screen(), "still on the other screen");
            assert!(!screen.hide_cursor(), "the cursor is hidden");
            assert!(!screen.bracketed_paste(), "paste is still reported");
            let mouse = screen.mouse_protocol_mode();
            assert_eq!(mouse, vt100::MouseProtocolMode::None, "mouse");
        });
        let master = self.master.as_ref().expect("the terminal is open");
        assert_eq!(settings(&**master), self.before, "line settings");
    }
}

impl Drop for Pty {
    fn drop(&mut self) {
        // A failing test must not leave programs running.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The line settings (echo, line mode and so on) as text to compare.
fn settings(master: &dyn MasterPty) -> String {
    format!("{:?}", master.get_termios())
}

fn size(columns: u16, rows: u16) -> PtySize {
    PtySize {
        rows,
        cols: columns,
        pixel_width: 0,
        pixel_height: 0,
    }
}

fn nonzero(cells: u16) -> NonZeroU16 {
    NonZeroU16::new(cells).expect("a size that is not nought")
}
