//! `fifthpeg solo`: the whole lesson alone, without a network.
//!
//! A host and a student's terminal in one program, joined in memory, and a
//! caller who calls note after note. The book is written as in every lesson,
//! so a lesson alone that was killed is gone on with as well.

pub mod who;

use fifthpeg_core::text::is_same_name;
use fifthpeg_front::failure::Failure;
use fifthpeg_host::alone::Gap;
use fifthpeg_host::{BookState, Host, HostConfig, HostError, Prepared};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::learning::Suggestion;
use fifthpeg_lesson::terminal::HandsFree;
use fifthpeg_lesson::words;
use fifthpeg_plain as plain;
use fifthpeg_plain::alone;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::student::{HostingSide, JOIN_PATIENCE, SeatKind};
use fifthpeg_plain::wait::Stop;
use fifthpeg_practice::track::command;
use fifthpeg_screen as screen;
use fifthpeg_screen::ScreenOptions;
use fifthpeg_screen::door::DoorShown;
use fifthpeg_screen::student::HostSide;
use fifthpeg_student::{Student, StudentConfig, Target};
use fifthpeg_vocab::pace::Pace;

use crate::args::solo::SoloArgs;
use crate::join_cmd;
use crate::lesson_book::{self, BookPlan};
use crate::{opening, result};
use who::SoloPlayer;

/// A lesson alone, to its end.
///
/// # Errors
/// When the lesson cannot be set up, or sound cannot be opened.
pub fn run(args: &SoloArgs) -> Result<(), Failure> {
    opening::output_choice(&args.manner)?;
    args.ear.choice()?;
    let who = SoloPlayer::of(args);
    let mut setup = args.rules.setup(&who.lesson(), &args.neck)?;
    args.choices.put(&mut setup);
    setup.max_students = 1;
    setup.alone = true;
    setup.pace = Some(Pace::alone(args.gap));
    let input = opening::is_plain(&args.manner)
        .then(|| {
            LineInput::open(args.manner.script.as_deref(), |line| {
                plain::student::read(line, SeatKind::Alone).map(drop)
            })
        })
        .transpose()?;
    let runtime = opening::runtime()?;
    let outcome = runtime.block_on(lesson(args, &who, setup, input));
    // A thread that still reads standard input must not hold the end up.
    runtime.shutdown_background();
    outcome
}

async fn lesson(
    args: &SoloArgs,
    who: &SoloPlayer,
    setup: LessonSetup,
    input: Option<LineInput>,
) -> Result<(), Failure> {
    let mut stop = Stop::new()?;
    let mut say = Say::stdout();
    let mut book = args.book.clone();
    if !book.no_book {
        book.class = Some(who.class.clone());
    }
    let mut plan = lesson_book::plan(&book, &setup, join_cmd::state_folder().as_deref());
    // A lesson taken up again goes by the setup it began with.
    let setup = plan.setup.clone().unwrap_or(setup);
    let seed = setup.seed;
    say.say(Word::Caution, fifthpeg_front::CAUTION);
    for sentence in plan.said.iter().chain(&who.said()) {
        say.say(Word::Book, sentence);
    }
    let key = plan
        .seats
        .iter()
        .find(|(name, _)| is_same_name(name, &who.name));
    let key = key.map(|(_, key)| *key);
    let earlier = std::mem::take(&mut plan.earlier);
    let prepared = prepare(setup, plan)?;
    let early = prepared.events();
    let host = prepared.open().await;
    if let Some(trouble) = host.book().borrow().trouble() {
        say.say(Word::Book, trouble);
    }
    let timings = tokio::spawn(result::keep(earlier, early, host.view()));
    let opened = opening::sound(&args.manner)?;
    if opened.silence.is_some() || opened.trim.is_some() {
        say.say(Word::Sound, &opened.words);
    }
    let microphone = args.ear.choice()?;
    let hands_free = args.ear.hands_free();
    let plays = (!microphone.is_none()).then_some(hands_free);
    if let Some(hint) = opening::microphone_hint(&microphone, &args.ear) {
        say.say(Word::Hint, hint);
    }
    if input.is_some() {
        plain::rules::say_untold(&host.view().borrow(), &mut say);
        let again = format!("--seed {seed} picks the same random notes again");
        say.say(Word::Hint, again);
    }
    let door = host.inside();
    let student = fifthpeg_student::start(StudentConfig {
        level: opened.level,
        microphone,
        hands_free,
        ..StudentConfig::new(
            who.name.clone(),
            Target::Inside { door, key },
            opened.output,
        )
    })
    .await
    .map_err(Failure::runtime)?;

    let pace = Gap::new(args.gap);
    let played = async {
        match input {
            Some(mut input) => {
                alone::say_gap(&pace, &mut say);
                let times = hands_free.times;
                let side = Some(HostingSide::alone(&host, &pace));
                plain::student::run(
                    &student,
                    side,
                    (times, JOIN_PATIENCE),
                    &mut input,
                    &mut say,
                    &mut stop,
                )
                .await
                .map(drop)
            }
            None => on_screen(args, &host, &pace, &student, (plays, opened.silence)).await,
        }
    };
    let outcome = tokio::select! {
        outcome = played => outcome,
        () = pace.keep(&host) => Ok(()),
    };
    let written = *host.book().borrow() == BookState::Writing;
    let left = student.leave().await.map_err(Failure::runtime);
    let view = host.view();
    let next = view.borrow().suggestion;
    let ended = host.end().await;
    let timings = timings.await.unwrap_or_default();
    for line in result::table(&view.borrow(), &timings) {
        say.say(Word::Result, line);
    }
    if let Some(player) = view.borrow().students.first() {
        say.say(Word::Tally, words::tally(&player.tally));
    }
    if let Some(next) = next.filter(Suggestion::is_change) {
        say.say(Word::Suggest, next.to_string());
    }
    if written && ended.is_ok() {
        say.say(Word::Book, shown_by(args, who));
    }
    say.say(Word::Ended, "the lesson is over");
    outcome.and(left).and(ended.map_err(Failure::runtime))
}

fn prepare(setup: LessonSetup, plan: BookPlan) -> Result<Prepared, Failure> {
    let config = HostConfig {
        network: false,
        book: plan.book,
        ..HostConfig::new(setup)
    };
    fifthpeg_host::prepare(config).map_err(|error| match error {
        HostError::Lesson(_) | HostError::Unsendable(_) => Failure::usage(error),
        error => Failure::runtime(error),
    })
}

async fn on_screen(
    args: &SoloArgs,
    host: &Host,
    pace: &Gap,
    student: &Student,
    (plays, silence): (Option<HandsFree>, Option<&'static str>),
) -> Result<(), Failure> {
    let options = ScreenOptions {
        silence,
        ..opening::screen_options(&args.manner, false)
    };
    let side = HostSide {
        host,
        joining: String::new(),
        door: DoorShown::of(host),
        pace: Some(pace),
    };
    screen::student::run(student, options, plays, Some(side))
        .await
        .map(drop)
        .map_err(Failure::runtime)
}

/// Where the book is, and the command that shows it.
fn shown_by(args: &SoloArgs, who: &SoloPlayer) -> String {
    let report = command::report(args.book.book.as_deref(), &who.class, Some(&who.name));
    format!("it is written down: {report} shows it")
}
