//! The file, and the thread that writes it: nobody who says something waits for the disk.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use jiff::Timestamp;
use tracing::level_filters::LevelFilter;
use tracing::span::{Attributes, Id, Record};
use tracing::{Event, Metadata, Subscriber};

use crate::level::Detail;
use crate::line::{OURS, line};

/// A file that has grown beyond this is set aside as `FILE.older`, in place of the one before; so both
/// together stay below twice as much.
pub const MOST_BYTES: u64 = 4 << 20;
/// How the file begins, so that no other file is ever written into.
const BEGINS: &str = "fifthpeg log 1\n";
/// Lines that may wait for the disk; more are left out and counted.
const WAITING: usize = 8192;
/// How long the end of the program waits for the last lines.
const LAST_LINES: Duration = Duration::from_secs(2);

/// Why nothing can be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// The file cannot be made or written.
    #[error("the log cannot be written to {} ({source}): name another file with --log", path.display())]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It is something else.
    #[error("{} is not a log of fifthpeg and was left as it is: name another file with --log", path.display())]
    NotALog {
        /// The file.
        path: PathBuf,
    },
    /// Something in this program writes a log already.
    #[error("a log is being written already")]
    Twice,
}

/// A log being written. Dropping it writes what waits.
#[derive(Debug)]
pub struct RunningLog {
    lines: SyncSender<Order>,
    thread: Option<JoinHandle<()>>,
    done: Receiver<()>,
}

enum Order {
    Line(String),
    Finish,
}

/// Begins to write this program's events to the file, which is made for its owner alone to read; an older log
/// is written on.
///
/// # Errors
/// [`LogError`] if the file cannot be written, is no log, or a log is being written already.
pub fn start(path: &Path, detail: Detail) -> Result<RunningLog, LogError> {
    let file = LogFile::open(path)?;
    let (lines, orders) = sync_channel(WAITING);
    let left_out = Arc::new(AtomicU64::new(0));
    let (finished, done) = sync_channel(1);
    let missed = Arc::clone(&left_out);
    let thread = std::thread::Builder::new()
        .name("log".to_owned())
        .spawn(move || {
            write_all(file, &orders, &missed);
            let _ = finished.send(());
        })
        .map_err(|source| LogError::Unwritable {
            path: path.to_owned(),
            source,
        })?;
    let listener = Listener {
        most: LevelFilter::from_level(detail.level()),
        lines: lines.clone(),
        left_out,
    };
    tracing::subscriber::set_global_default(listener).map_err(|_| LogError::Twice)?;
    Ok(RunningLog {
        lines,
        thread: Some(thread),
        done,
    })
}

impl Drop for RunningLog {
    fn drop(&mut self) {
        let _ = self.lines.send(Order::Finish);
        // A disk that hangs does not keep the program from ending.
        if self.done.recv_timeout(LAST_LINES).is_ok()
            && let Some(thread) = self.thread.take()
        {
            let _ = thread.join();
        }
    }
}

/// Takes the program's own events.
struct Listener {
    most: LevelFilter,
    lines: SyncSender<Order>,
    left_out: Arc<AtomicU64>,
}

impl Subscriber for Listener {
    fn enabled(&self, about: &Metadata<'_>) -> bool {
        about.is_event() && about.target().starts_with(OURS) && *about.level() <= self.most
    }

    fn max_level_hint(&self) -> Option<LevelFilter> {
        Some(self.most)
    }

    fn event(&self, event: &Event<'_>) {
        let order = Order::Line(line(event, Timestamp::now()));
        if self.lines.try_send(order).is_err() {
            self.left_out.fetch_add(1, Ordering::Relaxed);
        }
    }

    // There are no spans: each event says what it belongs to.
    fn new_span(&self, _: &Attributes<'_>) -> Id {
        Id::from_u64(1)
    }
    fn record(&self, _: &Id, _: &Record<'_>) {}
    fn record_follows_from(&self, _: &Id, _: &Id) {}
    fn enter(&self, _: &Id) {}
    fn exit(&self, _: &Id) {}
}

fn write_all(mut file: LogFile, orders: &Receiver<Order>, left_out: &AtomicU64) {
    while let Ok(Order::Line(line)) = orders.recv() {
        let missed = left_out.swap(0, Ordering::Relaxed);
        if missed > 0 {
            let now = Timestamp::now();
            let words = format!(
                "{now:.3} {:<7} log     lines-left-out count={missed}\n",
                Detail::Trouble
            );
            file.write(&words, left_out, missed);
        }
        file.write(&line, left_out, 1);
    }
}

/// The file as it is on the disk.
struct LogFile {
    path: PathBuf,
    file: File,
}

impl LogFile {
    fn open(path: &Path) -> Result<Self, LogError> {
        let unwritable = |source| LogError::Unwritable {
            path: path.to_owned(),
            source,
        };
        let not_a_log = || LogError::NotALog {
            path: path.to_owned(),
        };
        // Looked at before it is opened: opening a pipe would wait for its other end.
        if path.metadata().is_ok_and(|about| !about.is_file()) {
            return Err(not_a_log());
        }
        let mut options = fifthpeg_files::own();
        options.read(true).append(true).create(true);
        let mut file = options.open(path).map_err(unwritable)?;
        if file.metadata().map_err(unwritable)?.len() == 0 {
            file.write_all(BEGINS.as_bytes()).map_err(unwritable)?;
        } else {
            let mut begins = [0; BEGINS.len()];
            let read = file.read_exact(&mut begins);
            if read.is_err() || begins != BEGINS.as_bytes() {
                return Err(not_a_log());
            }
        }
        // One that somebody copied here may have been open to others.
        let _ = fifthpeg_files::make_own(&file);
        Ok(Self {
            path: path.to_owned(),
            file,
        })
    }

    /// Asked of the system, since several programs may write the same log.
    fn is_full(&self) -> bool {
        self.file
            .metadata()
            .is_ok_and(|about| about.len() > MOST_BYTES)
    }

    /// Writes a line. What cannot be written is left out, and counted as so many.
    fn write(&mut self, line: &str, left_out: &AtomicU64, stands_for: u64) {
        if self.is_full() {
            self.begin_anew();
        }
        if self.file.write_all(line.as_bytes()).is_err() {
            left_out.fetch_add(stands_for, Ordering::Relaxed);
        }
    }

    /// Goes on in a new file, and sets the full one aside unless another program has done so. Where it cannot
    /// be set aside it is emptied.
    fn begin_anew(&mut self) {
        let path = self.path.clone();
        let is_new = |log: &Self| !log.is_full();
        let anew = Self::open(&path).ok().filter(is_new).or_else(|| {
            std::fs::rename(&path, older(&path)).ok()?;
            Self::open(&path).ok()
        });
        match anew {
            Some(anew) => *self = anew,
            None => {
                let emptied = self.file.set_len(0);
                let _ = emptied.and_then(|()| self.file.write_all(BEGINS.as_bytes()));
            }
        }
    }
}

/// Where a full file goes.
fn older(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".older");
    name.into()
}

#[cfg(test)]
mod tests;
