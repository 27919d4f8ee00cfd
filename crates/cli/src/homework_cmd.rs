//! `fifthpeg homework`: a folder for each student of a class.
//!
//! ```text
//! lesson book -> track::student (what is missed) -> track::practice
//!     -> folder: track, answer sheets, report, start page
//! ```

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use fifthpeg_book::Reader;
use fifthpeg_core::text;
use fifthpeg_front::CAUTION;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out::say;
use fifthpeg_practice::homework::names::folder_names;
use fifthpeg_practice::homework::student::{Homework, HomeworkOptions};
use fifthpeg_practice::track::kinds::FileKind;
use fifthpeg_practice::track::progress::TrackProgress;
use fifthpeg_practice::track::sheet;
use fifthpeg_practice::track::source::reach_spec;
use fifthpeg_practice::track::student::{SUGGESTED, all_read, find};
use fifthpeg_report::asked::local_offset;
use fifthpeg_report::dates::Date;

use crate::args::homework::HomeworkArgs;
use crate::opening;

/// Makes homework for everyone of a class, and says what was made.
///
/// # Errors
/// When what was asked for makes no sense, or somebody's homework could not be
/// made; the others' is made all the same.
pub fn run(args: HomeworkArgs) -> Result<(), Failure> {
    let sounds = [FileKind::Flac, FileKind::Wav, FileKind::Midi];
    if !sounds.iter().any(|kind| args.write.contains(kind)) {
        return Err(Failure::usage(
            "homework without a sound leaves nothing to hear: add flac, wav or midi to --write",
        ));
    }
    // A slip in it is everybody's.
    if let Some(typed) = args.reach.as_deref().filter(|typed| *typed != SUGGESTED) {
        reach_spec(typed)?;
    }
    let (book, subject) = find(args.book.as_deref(), args.class.as_deref(), None)?;
    let seed = args.seed.unwrap_or_else(opening::seed);
    let asked = HomeworkOptions {
        to: args.to,
        reach: args.reach,
        shape: args.shape,
        write: args.write,
        replace: args.replace,
    };
    let planned = plan(&book, &subject.class, &asked, seed)?;
    say(&[
        format!("caution {}", CAUTION),
        format!(
            "homework for {} of {}, seed {seed}",
            text::count(planned.len(), "student"),
            text::one_line(&subject.class)
        ),
    ])?;
    let fresh = make_folder(&asked.to)?;
    let to = asked.to.clone();
    let broke_off = "the homework could not be made: start it again";
    let ended = opening::until_stopped(broke_off, move |stopped| make(&planned, &asked, stopped));
    if fresh {
        // Goes only if nothing is in it.
        let _ = fs::remove_dir(to);
    }
    ended
}

/// A student's name, with the homework or why there is none.
type Planned = (String, Result<Homework, Failure>);

fn plan(
    book: &Reader,
    class: &str,
    asked: &HomeworkOptions,
    seed: u64,
) -> Result<Vec<Planned>, Failure> {
    let people = book.people(class).map_err(Failure::runtime)?;
    if people.is_empty() {
        return Err(Failure::usage(format!(
            "nobody is known in {}: hold a lesson first",
            text::one_line(class)
        )));
    }
    let folders = folder_names(people.iter().map(|person| person.name.as_str()));
    let each = people.iter().zip(&folders);
    Ok(each
        .map(|(person, folder)| {
            let planned = Homework::plan(book, person, folder, asked, seed);
            (person.name.clone(), planned)
        })
        .collect())
}

/// Makes the folder for all; whether it was not there before.
fn make_folder(to: &Path) -> Result<bool, Failure> {
    if to.is_dir() {
        return Ok(false);
    }
    fs::create_dir(to).map(|()| true).map_err(|why| {
        Failure::usage(why).told(|why| {
            format!(
                "the folder {} could not be made ({why}): make it first, or choose another place",
                to.display()
            )
        })
    })
}

fn make(
    planned: &[Planned],
    homework: &HomeworkOptions,
    stopped: &AtomicBool,
) -> Result<(), Failure> {
    let made = Date::at(jiff::Timestamp::now().as_millisecond(), &local_offset);
    let length = |planned: &Planned| match &planned.1 {
        Ok(homework) => homework.practice.plan.length.as_secs_f64(),
        Err(_) => 0.0,
    };
    let whole: f64 = planned.iter().map(length).sum();
    let (mut done, mut progress) = (0.0, TrackProgress::default());
    let mut failed: Vec<(&str, bool)> = Vec::new();
    for one in planned {
        let (name, planned) = one;
        if stopped.load(Ordering::Relaxed) {
            return Err(was_stopped());
        }
        let outcome = planned
            .as_ref()
            .map_err(Failure::clone)
            .and_then(|student| {
                let path = student.write(homework, made, |part| {
                    progress.tell((done + part * length(one)) / whole.max(1.0));
                    !stopped.load(Ordering::Relaxed)
                })?;
                Ok((student, path))
            });
        done += length(one);
        progress.clear();
        match outcome {
            Ok((homework, path)) => {
                let mut lines = homework.known.words();
                lines.push(format!(
                    "made {}: {} in {}",
                    path.display(),
                    text::count(homework.practice.plan.calls.len(), "call"),
                    sheet::clock(homework.practice.plan.length)
                ));
                say(&lines)?;
            }
            Err(_) if stopped.load(Ordering::Relaxed) => return Err(was_stopped()),
            Err(failure) => {
                failed.push((name, !failure.is_usage()));
                say(&[format!("nothing for {}: {failure}", text::one_line(name))])?;
            }
        }
    }
    if failed.is_empty() {
        let homework = planned.iter().flat_map(|(_, homework)| homework);
        let little = homework.filter(|homework| homework.known.is_little());
        let little: Vec<String> = little.map(|h| text::one_line(&h.known.name)).collect();
        if !little.is_empty() {
            say(&[format!(
                "little is known yet of {}: their notes come about equally often",
                little.join(", ")
            )])?;
        }
        say(&["done: mind who may see these folders"])?;
        let unread = planned.iter().flat_map(|(_, homework)| homework);
        return all_read(unread.map(|homework| homework.known.unread.len()).sum());
    }
    let names: Vec<String> = failed
        .iter()
        .map(|(name, _)| text::one_line(name))
        .collect();
    let sentence = format!(
        "homework was made for {} of {}, and not for {}: the lines above say why",
        planned.len() - failed.len(),
        text::count(planned.len(), "student"),
        names.join(", ")
    );
    Err(if failed.iter().any(|(_, runtime)| *runtime) {
        Failure::runtime(sentence)
    } else {
        Failure::usage(sentence)
    })
}

fn was_stopped() -> Failure {
    Failure::runtime(
        "stopped: the folders named above are whole; nothing was kept of the others; start it \
         again with --replace for all of them",
    )
}
