//! `fifthpeg track`: practice tracks and their answer sheets.
//!
//! ```text
//! args, or the lesson book through student -> source
//!     -> Practice::plan (lesson::track) -> write -> sound::track, html, page_text
//! ```

pub mod args;
pub mod command;
pub mod files;
pub mod html;
pub mod kinds;
pub mod notes;
pub mod page_text;
pub mod practice;
pub mod progress;
pub mod sheet;
pub mod source;
pub mod student;
pub mod write;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use args::TrackArgs;
use kinds::FileKind;
use practice::Practice;
use progress::Progress;
use source::Source;
use student::Known;

use crate::failure::Failure;
use crate::opening;
pub(crate) use crate::out::say;
use crate::plain::wait::Stop;

/// Makes a practice track and says what was written.
///
/// # Errors
/// When what was asked for makes no sense, or cannot be written; then no file is
/// left.
pub fn run(args: &TrackArgs) -> Result<(), Failure> {
    if args.name.file_name().is_none() {
        return Err(Failure::usage(
            "the track needs a name for its files, such as practice",
        ));
    }
    let mut said = vec![format!("caution {}", opening::CAUTION)];
    let mut unread = 0;
    let source = match &args.student {
        None => Source::typed(args)?,
        Some(asked) => {
            let (book, subject) =
                student::find(args.book.as_deref(), args.class.as_deref(), Some(asked))?;
            let (id, name) = subject.student.ok_or_else(student::nobody)?;
            let known = Known::read(&book, id, &name, args.reach.as_deref())?;
            said.extend(known.words());
            unread = known.unread.len();
            known.source
        }
    };
    let practice = Practice::plan(args, &source)?;
    let paths = write::paths(&args.name, &args.write);
    said.push(format!(
        "track {} in {}, seed {}",
        crate::text::count(practice.plan.calls.len(), "call"),
        sheet::clock(practice.plan.length),
        practice.plan.seed
    ));
    say(&said)?;
    let neck = practice
        .neck_file
        .as_ref()
        .map(|(name, _)| args.name.with_file_name(name));
    let runtime = opening::runtime()?;
    let replace = args.replace;
    let written: Vec<PathBuf> = paths
        .iter()
        .map(|(_, path)| path.clone())
        .chain(neck)
        .collect();
    runtime.block_on(until_stopped(practice, paths, replace))?;
    let lines: Vec<String> = written
        .iter()
        .map(|path| format!("wrote {}", path.display()))
        .collect();
    say(&lines)?;
    student::all_read(unread)
}

/// Writes in a thread of its own, and has it stop and clear up on Ctrl-C.
async fn until_stopped(
    practice: Practice,
    paths: Vec<(FileKind, PathBuf)>,
    replace: bool,
) -> Result<(), Failure> {
    let mut stop = Stop::new()?;
    let stopped = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stopped);
    let mut work = tokio::task::spawn_blocking(move || {
        let mut progress = Progress::default();
        let written = write::write(&practice, &paths, replace, |part| {
            progress.tell(part);
            !asked.load(Ordering::Relaxed)
        });
        if written.is_err() {
            progress.clear();
        }
        written
    });
    let ended = tokio::select! {
        ended = &mut work => ended,
        () = stop.asked() => {
            stopped.store(true, Ordering::Relaxed);
            work.await
        }
    };
    ended.map_err(|_| Failure::runtime("the track could not be made: start it again"))?
}
