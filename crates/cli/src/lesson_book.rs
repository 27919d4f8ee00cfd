//! Which lesson book a host writes into, and whether it goes on with a lesson
//! whose host was killed.
//!
//! A book that cannot be used keeps nobody from holding a lesson: that is said,
//! and the lesson is held without it.

use std::path::{Path, PathBuf};

use clap::Args;
use fifthpeg_book::{Book, BookError, OpenLesson, default_location};
use fifthpeg_core::text::{self, is_same_name};
use fifthpeg_front::values::parse_name;
use fifthpeg_host::{HostBook, without_book};
use fifthpeg_lesson::message::SeatKey;
use fifthpeg_lesson::{LessonEvent, LessonSetup};
use fifthpeg_link::clock::unix_ms;

use crate::door::kept;

/// How old a lesson may be that is gone on with: an evening and its night.
const GOES_ON_WITHIN_MS: i64 = 12 * 3600 * 1000;

/// The lesson book of a host.
#[derive(Debug, Clone, Default, Args)]
pub struct BookOptions {
    /// Write the lesson into this lesson book; without it, into the one kept in
    /// the usual place
    ///
    /// An answer is confirmed to a student once it is written down. A host that
    /// was killed goes on with its lesson when it is started again under the
    /// same name within 12 hours.
    #[arg(long, value_name = "FILE", conflicts_with = "no_book")]
    pub book: Option<PathBuf>,

    /// Write no lesson book: nothing of the lesson is kept
    #[arg(long)]
    pub no_book: bool,

    /// The class whose lesson it is; without it, a host's is the lesson's name,
    /// and solo's the one class in which your name is known, or Solo
    #[arg(long, value_name = "NAME", value_parser = parse_name, conflicts_with = "no_book")]
    pub class: Option<String>,

    /// Begin anew, and end a lesson of this name that did not end
    #[arg(long, conflicts_with = "no_book")]
    pub fresh: bool,
}

/// What a host does about the book.
#[derive(Default)]
pub struct BookPlan {
    /// The book, if one is to be written and can be.
    pub book: Option<HostBook>,
    /// What the lesson is made from, where one is gone on with.
    pub setup: Option<LessonSetup>,
    /// What happened in it before.
    pub earlier: Vec<LessonEvent>,
    /// Who has a seat in it already, and the seats' keys.
    pub seats: Vec<(String, SeatKey)>,
    /// The port it was held at.
    pub port: Option<u16>,
    /// Sentences to say.
    pub said: Vec<String>,
}

/// The file of the book that is asked for, or of the usual one.
pub fn book_path(options: &BookOptions) -> Option<PathBuf> {
    options.book.clone().or_else(default_location)
}

/// Opens the book, and looks for a lesson to go on with. Passphrases in the folder
/// `state` of lessons that nobody can go on with are taken away.
pub fn plan(options: &BookOptions, setup: &LessonSetup, state: Option<&Path>) -> BookPlan {
    let mut plan = BookPlan::default();
    if options.no_book {
        return plan;
    }
    let opened = book_path(options)
        .ok_or(BookError::NoDataFolder)
        .and_then(|path| Book::open(&path));
    match opened.and_then(|book| take_up(book, options, setup, state, &mut plan)) {
        Ok(()) => {}
        Err(error) => plan.said.push(without_book(&error)),
    }
    plan
}

fn take_up(
    mut book: Book,
    options: &BookOptions,
    setup: &LessonSetup,
    state: Option<&Path>,
    plan: &mut BookPlan,
) -> Result<(), BookError> {
    let class = options.class.as_deref().unwrap_or(&setup.rules.lesson);
    let path = book.path().to_owned();
    let now = unix_ms();
    let open = book.open_lessons()?;
    let of_that_name = |lesson: &&OpenLesson| {
        is_same_name(&lesson.name, &setup.rules.lesson)
            && is_same_name(&lesson.class, class)
            && !lesson.runs
            && is_recent(lesson, now)
    };
    let mut open = open.iter().filter(of_that_name);
    if options.fresh {
        for lesson in open.by_ref() {
            book.give_up(lesson.id)?;
        }
    }
    forget_passphrases(&book, state)?;
    if let Some(lesson) = open.next() {
        match book.resume(lesson.id, now) {
            Ok(mut resumed) if fits(&resumed.setup, setup) => {
                plan.earlier = std::mem::take(&mut resumed.events);
                plan.said.push(goes_on(lesson, now));
                plan.said.push(written(&path, &lesson.class));
                plan.setup = Some(resumed.setup.clone());
                plan.seats = resumed.lesson.seats();
                plan.port = resumed.running.noted_port();
                plan.book = Some(HostBook::go_on(book, resumed));
                return Ok(());
            }
            Ok(_) => plan.said.push(
                "a lesson of this name did not end, but was held on another neck or with other settings, so a new one begins: --fresh ends the old one"
                    .to_owned(),
            ),
            Err(why) => plan.said.push(why.to_string()),
        }
    }
    plan.said.push(written(&path, class));
    plan.book = Some(HostBook::begin(book, class));
    Ok(())
}

/// Takes away the passphrases in the folder `state` that belonged to lessons of
/// this book that nobody can go on with any more.
///
/// # Errors
/// [`BookError`], with none taken away.
pub fn forget_passphrases(book: &Book, state: Option<&Path>) -> Result<(), BookError> {
    let (open, now) = (book.open_lessons()?, unix_ms());
    let lasting = open.iter().filter(|l| l.runs || is_recent(l, now));
    let lasting = lasting.map(|l| (l.class.as_str(), l.name.as_str()));
    if let Some(state) = state {
        kept::clear_up(state, book.path(), lasting);
    }
    Ok(())
}

/// Whether a lesson can be gone on with still.
fn is_recent(lesson: &OpenLesson, now_ms: i64) -> bool {
    now_ms.saturating_sub(lesson.last_ms) < GOES_ON_WITHIN_MS
}

fn written(path: &Path, class: &str) -> String {
    format!(
        "the lesson is written into {} for the class {}",
        path.display(),
        text::shown(class)
    )
}

fn goes_on(lesson: &OpenLesson, now: i64) -> String {
    let minutes = now.saturating_sub(lesson.last_ms) / 60_000;
    let when = match minutes {
        ..1 => "less than a minute".to_owned(),
        1 => "a minute".to_owned(),
        2..60 => format!("{minutes} minutes"),
        60..120 => "an hour".to_owned(),
        _ => format!("{} hours", minutes / 60),
    };
    format!(
        "the lesson goes on where it was {when} ago, with {} and {}, under its own rules: to begin \
         a new one, end this one or start with --fresh",
        text::count(lesson.students as usize, "student"),
        text::count(lesson.calls as usize, "call"),
    )
}

/// Whether those who sit with this neck in their hands can go on with it.
fn fits(old: &LessonSetup, new: &LessonSetup) -> bool {
    old.rules.neck == new.rules.neck && old.rules.mode == new.rules.mode
}
