//! A piece of work that may take long: it says that it goes on, and how much is
//! written, and stops on Ctrl-C.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;
use fifthpeg_plain::wait::Stop;

use crate::opening;

/// What is over by then needs no telling.
const FIRST_TOLD: Duration = Duration::from_secs(1);
/// How often a terminal is told, and anything else.
const EVERY: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(5));

/// Does the work in a thread of its own. `doing` is what it is called,
/// `grows` the files that grow meanwhile. A job that is stopped is left as it
/// is: everything it does is whole or not there.
pub fn work<T: Send + 'static>(
    doing: &str,
    grows: Vec<PathBuf>,
    job: impl FnOnce() -> Result<T, Failure> + Send + 'static,
) -> Result<T, Failure> {
    let runtime = opening::runtime()?;
    let ended = runtime.block_on(async {
        let mut stop = Stop::new()?;
        let mut work = tokio::task::spawn_blocking(job);
        let mut told = Waiting::new(doing, grows);
        loop {
            tokio::select! {
                ended = &mut work => {
                    told.over();
                    return ended.map_err(|_| {
                        Failure::runtime("that could not be done: start it again")
                    })?;
                }
                () = stop.asked() => {
                    told.over();
                    return Err(Failure::runtime(format!(
                        "stopped while {doing}: run it again to have it done whole"
                    )));
                }
                () = tokio::time::sleep(told.every) => told.tell(),
            }
        }
    });
    // A stopped job is not waited for.
    runtime.shutdown_background();
    ended
}

struct Waiting {
    doing: String,
    grows: Vec<PathBuf>,
    began: Instant,
    terminal: bool,
    every: Duration,
    any: bool,
}

impl Waiting {
    fn new(doing: &str, grows: Vec<PathBuf>) -> Self {
        let terminal = std::io::stderr().is_terminal();
        Self {
            doing: doing.to_owned(),
            grows,
            began: Instant::now(),
            terminal,
            every: if terminal { EVERY.0 } else { EVERY.1 },
            any: false,
        }
    }

    fn tell(&mut self) {
        if self.began.elapsed() < FIRST_TOLD {
            return;
        }
        self.any = true;
        let line = line(
            &self.doing,
            self.began.elapsed(),
            self.grows.iter().map(|path| bytes(path)).sum(),
        );
        out::progress(&line, self.terminal);
    }

    fn over(&self) {
        if self.any && self.terminal {
            out::note("");
        }
    }
}

fn line(doing: &str, time: Duration, written: u64) -> String {
    let seconds = time.as_secs();
    match written / 1_000_000 {
        0 => format!("{doing}, {seconds} s"),
        mb => format!("{doing}, {mb} MB written, {seconds} s"),
    }
}

fn bytes(path: &Path) -> u64 {
    match std::fs::metadata(path) {
        Ok(about) if about.is_dir() => std::fs::read_dir(path)
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.metadata().map_or(0, |about| about.len()))
            .sum(),
        Ok(about) => about.len(),
        Err(_) => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_says_how_far_it_is_and_gives_back_what_came_of_it() {
        let time = Duration::from_millis(12_400);
        assert_eq!(line("copying", time, 900), "copying, 12 s");
        assert_eq!(
            line("copying", time, 34_000_000),
            "copying, 34 MB written, 12 s"
        );
        assert_eq!(work("adding", Vec::new(), || Ok(2 + 2)), Ok(4));
        let failed = work::<()>("adding", Vec::new(), || Err(Failure::runtime("no")));
        assert_eq!(failed, Err(Failure::runtime("no")));
    }
}
