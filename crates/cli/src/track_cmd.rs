//! `fifthpeg track`: practice tracks and their answer sheets.

use std::path::PathBuf;
use std::sync::atomic::Ordering;

use fifthpeg_front::CAUTION;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::necks;
use fifthpeg_front::out::say;
use fifthpeg_practice::track::practice::Practice;
use fifthpeg_practice::track::progress::TrackProgress;
use fifthpeg_practice::track::source::{NeckWords, TrackSource};
use fifthpeg_practice::track::student::{self, Known};
use fifthpeg_practice::track::{sheet, write};

use crate::args::track::TrackArgs;
use crate::opening;

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
    let mut said = vec![format!("caution {}", CAUTION)];
    let mut unread = 0;
    let source = match &args.student {
        None => typed(args)?,
        Some(asked) => {
            let (book, subject) =
                student::find(args.book.as_deref(), args.class.as_deref(), Some(asked))?;
            let (id, name) = subject.student.ok_or_else(student::nobody)?;
            let known = Known::read(&book, (&subject.class, &name), id, args.reach.as_deref())?;
            said.extend(known.words());
            unread = known.unread.len();
            known.source
        }
    };
    let seed = args.seed.unwrap_or_else(opening::seed);
    let practice = Practice::of(&args.name, &source, &args.shape, seed)?;
    let paths = write::paths(&args.name, &args.write);
    said.push(format!(
        "track {} in {}, seed {}",
        fifthpeg_core::text::count(practice.plan.calls.len(), "call"),
        sheet::clock(practice.plan.length),
        practice.plan.seed
    ));
    say(&said)?;
    let neck = practice
        .neck_file
        .as_ref()
        .map(|(name, _)| args.name.with_file_name(name));
    let replace = args.replace;
    let written: Vec<PathBuf> = paths
        .iter()
        .map(|(_, path)| path.clone())
        .chain(neck)
        .collect();
    let broke_off = "the track could not be made: start it again";
    opening::until_stopped(broke_off, move |stopped| {
        let mut progress = TrackProgress::default();
        let written = write::write(&practice, &paths, replace, |part| {
            progress.tell(part);
            !stopped.load(Ordering::Relaxed)
        });
        if written.is_err() {
            progress.clear();
        }
        written
    })?;
    let lines: Vec<String> = written
        .iter()
        .map(|path| format!("wrote {}", path.display()))
        .collect();
    say(&lines)?;
    student::all_read(unread)
}

/// The source that is typed.
fn typed(args: &TrackArgs) -> Result<TrackSource, Failure> {
    let choice = &args.neck;
    let neck = necks::choose(&choice.neck, choice.neck_file.as_deref(), choice.capo)?;
    let words = match &choice.neck_file {
        Some(file) => NeckWords::File {
            file: file.clone(),
            capo: choice.capo,
        },
        None => NeckWords::Ready {
            name: choice.neck.clone(),
            capo: choice.capo,
        },
    };
    TrackSource::typed(words, neck, args.reach.as_deref(), &args.notes)
}
