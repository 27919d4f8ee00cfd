//! A running program, followed line by line.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Condvar, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long a test waits for a line before it fails. Long, because machines
/// that run tests are busy; nothing waits for it when all is well.
pub const TIMEOUT: Duration = Duration::from_secs(90);

/// The variable that says where seats in lessons are kept.
pub const PLACES: &str = "XDG_STATE_HOME";
/// The variable that says where the lesson book is kept.
pub const BOOKS: &str = "XDG_DATA_HOME";
/// The variable that says where settings are kept.
pub const SETTINGS: &str = "XDG_CONFIG_HOME";
/// Where none can be.
pub const NO_PLACES: &str = "/dev/null/nowhere";

#[derive(Default)]
struct Heard {
    lines: Vec<String>,
    ended: bool,
}

/// A running program: its lines so far, and its input.
pub struct Process {
    child: Child,
    input: Option<ChildStdin>,
    heard: Arc<(Mutex<Heard>, Condvar)>,
    errors: Arc<Mutex<String>>,
    errors_reader: Option<JoinHandle<()>>,
    name: String,
    next: usize,
}

impl Process {
    /// Starts a command with its input and output in the test's hands. It keeps
    /// no seat in a file unless the test names a folder for it.
    pub fn start(name: &str, command: &mut Command) -> Self {
        if !command.get_envs().any(|(name, _)| name == PLACES) {
            command.env(PLACES, NO_PLACES);
        }
        // Nor a lesson in the book of whoever runs the tests.
        if !command.get_envs().any(|(name, _)| name == BOOKS) {
            command.env(BOOKS, NO_PLACES);
        }
        // Nor go by what that person has set.
        if !command.get_envs().any(|(name, _)| name == SETTINGS) {
            // It is there and empty: the sound server's library wants one.
            let nothing_set = std::env::temp_dir().join("fifthpeg-tests-nothing-set");
            std::fs::create_dir_all(&nothing_set).expect("a folder");
            command.env(SETTINGS, nothing_set);
        }
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap_or_else(|why| panic!("{name} does not start: {why}"));
        let heard = Arc::new((Mutex::new(Heard::default()), Condvar::new()));
        let output = child.stdout.take().expect("piped output");
        let listener = Arc::clone(&heard);
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines() {
                let Ok(line) = line else { break };
                listener.0.lock().expect("lines").lines.push(line);
                listener.1.notify_all();
            }
            listener.0.lock().expect("lines").ended = true;
            listener.1.notify_all();
        });
        let errors = Arc::new(Mutex::new(String::new()));
        let mut stderr = child.stderr.take().expect("piped errors");
        let kept = Arc::clone(&errors);
        let errors_reader = std::thread::spawn(move || {
            let mut buffer = [0; 1024];
            while let Ok(read @ 1..) = stderr.read(&mut buffer) {
                let text = String::from_utf8_lossy(&buffer[..read]).into_owned();
                kept.lock().expect("errors").push_str(&text);
            }
        });
        Self {
            input: child.stdin.take(),
            child,
            heard,
            errors,
            errors_reader: Some(errors_reader),
            name: name.to_owned(),
            next: 0,
        }
    }

    /// Types a line.
    pub fn type_line(&mut self, line: &str) {
        self.type_bytes(format!("{line}\n").as_bytes());
    }

    /// Types bytes that need not be a line.
    pub fn type_bytes(&mut self, bytes: &[u8]) {
        let input = self.input.as_mut().expect("input is open");
        input.write_all(bytes).expect("input is taken");
        input.flush().expect("input is taken");
    }

    /// Ends the input.
    pub fn end_input(&mut self) {
        self.input = None;
    }

    /// Waits for the next line that begins like this, after the last one waited
    /// for; returns it whole.
    ///
    /// # Panics
    /// When it does not come in time, with everything the program said.
    pub fn wait_for(&mut self, start: &str) -> String {
        self.wait_for_any(&[start])
    }

    /// The same for a line that begins in one of several ways.
    ///
    /// # Panics
    /// As [`Process::wait_for`].
    pub fn wait_for_any(&mut self, starts: &[&str]) -> String {
        let deadline = Instant::now() + TIMEOUT;
        let (lock, signal) = &*self.heard;
        let mut heard = lock.lock().expect("lines");
        loop {
            let found = heard.lines[self.next..]
                .iter()
                .position(|line| starts.iter().any(|start| line.starts_with(start)));
            if let Some(at) = found {
                self.next += at + 1;
                return heard.lines[self.next - 1].clone();
            }
            let left = deadline.saturating_duration_since(Instant::now());
            if heard.ended || left.is_zero() {
                let said = heard.lines.join("\n");
                drop(heard);
                let errors = self.errors.lock().expect("errors").clone();
                panic!("{} never said {starts:?}:\n{said}\n{errors}", self.name);
            }
            heard = signal.wait_timeout(heard, left).expect("lines").0;
        }
    }

    /// Waits for two lines that may come in either order.
    pub fn wait_for_both(&mut self, one: &str, other: &str) {
        let from = self.next;
        self.wait_for(one);
        let after_one = std::mem::replace(&mut self.next, from);
        self.wait_for(other);
        self.next = self.next.max(after_one);
    }

    /// Every line so far.
    pub fn lines(&self) -> Vec<String> {
        self.heard.0.lock().expect("lines").lines.clone()
    }

    /// The lines so far that begin with this word.
    pub fn lines_of(&self, word: &str) -> Vec<String> {
        let mut lines = self.lines();
        lines.retain(|line| line.split([' ', ':']).next() == Some(word));
        lines
    }

    /// The process's id.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Ends it at once, as a power cut would (SIGKILL).
    pub fn kill(&mut self) {
        self.child.kill().expect("it can be killed");
        self.child.wait().expect("it ends");
    }

    /// Sends a signal by name, such as `TERM`.
    pub fn signal(&self, name: &str) {
        let sent = Command::new("kill")
            .arg(format!("-{name}"))
            .arg(self.id().to_string())
            .status();
        assert!(sent.is_ok_and(|status| status.success()), "kill -{name}");
    }

    /// Waits for its end; its exit code (`None` if a signal ended it), every
    /// line, and what it wrote to standard error.
    ///
    /// # Panics
    /// When it does not end in time.
    pub fn finish(&mut self) -> (Option<i32>, Vec<String>, String) {
        self.finish_within(TIMEOUT)
            .unwrap_or_else(|| panic!("{} does not end:\n{}", self.name, self.lines().join("\n")))
    }

    /// The same, with a time of one's own; `None` if it does not end in it.
    pub fn finish_within(&mut self, time: Duration) -> Option<(Option<i32>, Vec<String>, String)> {
        let deadline = Instant::now() + time;
        let status = loop {
            if let Some(status) = self.child.try_wait().expect("it can be waited for") {
                break status;
            }
            if Instant::now() >= deadline {
                return None;
            }
            std::thread::sleep(Duration::from_millis(10));
        };
        if let Some(reader) = self.errors_reader.take() {
            reader.join().expect("errors are read to their end");
        }
        let (lock, signal) = &*self.heard;
        let mut heard = lock.lock().expect("lines");
        while !heard.ended {
            heard = signal.wait(heard).expect("lines");
        }
        let errors = self.errors.lock().expect("errors").clone();
        Some((status.code(), heard.lines.clone(), errors))
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // A failing test must not leave programs running.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
