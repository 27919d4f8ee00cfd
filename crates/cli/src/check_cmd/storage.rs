//! Whether a lesson can be written down here, and at the right time.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use fifthpeg_book::{BookError, Reader, default_location};

use super::{Finding, State};
use fifthpeg_link::clock::unix_ms;

/// Room that a lesson should find, in bytes: many evenings of its book, and the WAV
/// file of one (an estimate, no source).
const ROOM_BYTES: u64 = 200 * 1024 * 1024;
/// The year before which no clock is right that runs this program: 1 January 2026.
const NOT_BEFORE: Duration = Duration::from_secs(1_767_225_600);
/// A clock with coarser steps than this cannot time an answer well.
const COARSE: Duration = Duration::from_millis(5);
/// How far a clock may be behind what was written before.
const BEHIND: Duration = Duration::from_secs(24 * 3600);

/// The folder of the book, or the next one above it that is there.
fn folder() -> Option<PathBuf> {
    let path = default_location()?;
    path.ancestors()
        .skip(1)
        .find(|folder| folder.is_dir())
        .map(Path::to_owned)
}

pub(super) fn book() -> Finding {
    let (Some(path), Some(folder)) = (default_location(), folder()) else {
        return Finding::fails(
            "this system names no folder for data",
            "name a file with fifthpeg host --book FILE",
        );
    };
    if let Err(why) = takes_a_file(&folder) {
        return Finding::fails(
            format!("its folder cannot be written to ({why})"),
            "allow that, make room on the disk, or name another file with fifthpeg host --book FILE",
        );
    }
    if !path.exists() {
        return Finding::good("none yet; the first lesson makes it");
    }
    // Opened for what it may, and left as it is.
    if OpenOptions::new().append(true).open(&path).is_err() {
        return Finding::fails(
            "it may be read but not written",
            "allow writing to it, or name another file with fifthpeg host --book FILE",
        );
    }
    match Reader::open(&path) {
        Ok(_) => Finding::good("it is sound and can be written"),
        Err(BookError::Older { .. }) => Finding::note(
            "it is of an older version",
            "the next lesson brings it up to date and keeps a copy",
        ),
        Err(error) => {
            // Where it is tells who works here.
            let path = path.display().to_string();
            let said = error
                .to_string()
                .replace(&format!("the lesson book {path}"), "it");
            Finding::from_sentence(State::Fails, &said.replace(&path, "it"))
        }
    }
}

/// Writes a small file there, and takes it away.
fn takes_a_file(folder: &Path) -> std::io::Result<()> {
    let path = folder.join(format!(".fifthpeg-check-{}", std::process::id()));
    let mut options = OpenOptions::new();
    let written = options
        .write(true)
        .create_new(true)
        .open(&path)
        .and_then(|mut file| {
            file.write_all(&[0; 4096])?;
            file.sync_all()
        });
    let taken_away = fs::remove_file(&path);
    written.and(taken_away)
}

pub(super) fn disk() -> Finding {
    let Some(folder) = folder() else {
        return Finding::note(
            "there is no folder to look at",
            "see what the book's line says",
        );
    };
    match fs4::available_space(&folder) {
        Ok(bytes) if bytes < ROOM_BYTES => Finding::fails(
            format!("only {} MB are free", bytes / 1_000_000),
            "make room, or name a book on another disk with fifthpeg host --book FILE",
        ),
        Ok(bytes) if bytes < 10_000_000_000 => {
            Finding::good(format!("{} MB are free", bytes / 1_000_000))
        }
        Ok(bytes) => Finding::good(format!("{} GB are free", bytes / 1_000_000_000)),
        Err(why) => Finding::note(
            format!("the free space cannot be read ({why})"),
            "look with the system's own tools",
        ),
    }
}

pub(super) fn clock() -> Finding {
    let written = default_location().and_then(|path| fs::metadata(path).ok()?.modified().ok());
    let now = UNIX_EPOCH + Duration::from_millis(unix_ms().unsigned_abs());
    clock_found(now, written, step())
}

fn clock_found(now: SystemTime, written: Option<SystemTime>, step: Duration) -> Finding {
    if now < UNIX_EPOCH + NOT_BEFORE {
        return Finding::fails(
            "the machine's clock is set to a day long past",
            "set it, or connect to a network that sets it: lessons are written down under their day",
        );
    }
    if written.is_some_and(|written| written > now + BEHIND) {
        return Finding::fails(
            "the machine's clock is behind what was last written into the lesson book",
            "set it: lessons are written down under their day",
        );
    }
    if step > COARSE {
        return Finding::note(
            format!("it counts in steps of {} ms", step.as_millis()),
            "times of answers are no finer than that",
        );
    }
    Finding::good("the date looks right, and it counts finely enough")
}

/// The smallest step that is seen of the clock that answers are timed by.
fn step() -> Duration {
    let smallest = (0..20).map(|_| {
        let began = Instant::now();
        loop {
            let passed = began.elapsed();
            if !passed.is_zero() {
                return passed;
            }
        }
    });
    smallest.min().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_cannot_be_right_is_told() {
        let day = |days: u64| UNIX_EPOCH + Duration::from_secs(days * 24 * 3600);
        let fine = Duration::from_nanos(50);
        // 20 786 days from the epoch's: 29 November 2026.
        let now = day(20_786);
        let state = |now, written, step| clock_found(now, written, step).state;
        assert_eq!(state(now, None, fine), State::Good);
        assert_eq!(state(now, Some(day(20_785)), fine), State::Good);
        assert_eq!(state(day(3), None, fine), State::Fails);
        assert_eq!(state(now, Some(day(20_790)), fine), State::Fails);
        assert_eq!(state(now, None, Duration::from_millis(16)), State::Note);
        assert!(step() < Duration::from_millis(100));
    }

    #[test]
    fn a_folder_is_tried_without_leaving_anything() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-takes-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        takes_a_file(&folder).unwrap();
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
        fs::remove_dir_all(&folder).unwrap();
        assert!(takes_a_file(&folder).is_err());
    }
}
