//! `fifthpeg solo`: the whole lesson alone, without a network.
//!
//! A host and a student's terminal in one program, joined in memory, and a
//! caller who calls note after note. The book is written as in every lesson,
//! so a lesson alone that was killed is gone on with as well.

pub mod who;

use fifthpeg_core::text::is_same_name;
use fifthpeg_front::failure::Failure;
use fifthpeg_host::alone::Gap;
use fifthpeg_host::{HostConfig, Prepared};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::learning::Suggestion;
use fifthpeg_lesson::words;
use fifthpeg_plain as plain;
use fifthpeg_plain::alone;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::student::{HostingSide, JOIN_PATIENCE, SeatKind};
use fifthpeg_plain::wait::Stop;
use fifthpeg_practice::track::command;
use fifthpeg_student::Target;
use fifthpeg_vocab::pace::Pace;

use crate::args::solo::SoloArgs;
use crate::join_cmd;
use crate::lesson_book::{self, BookPlan};
use crate::own_student::OwnStudent;
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
    opening::run(
        &args.manner,
        |line| plain::student::read(line, SeatKind::Alone).map(drop),
        |input| lesson(args, &who, setup, input),
    )
}

async fn lesson(
    args: &SoloArgs,
    who: &SoloPlayer,
    setup: LessonSetup,
    mut input: Option<LineInput>,
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
    let door = host.inside();
    let who_and_where = (who.name.clone(), Target::Inside { door, key });
    let (own, config) =
        OwnStudent::open((&args.manner, &args.ear), who_and_where, false, &mut say)?;
    if let Some(hint) = opening::microphone_hint(&config.microphone, &args.ear) {
        say.say(Word::Hint, hint);
    }
    if input.is_some() {
        plain::rules::say_untold(&host.view().borrow(), &mut say);
        let again = format!("--seed {seed} picks the same random notes again");
        say.say(Word::Hint, again);
    }
    let student = fifthpeg_student::start(config)
        .await
        .map_err(Failure::runtime)?;

    let pace = Gap::new(args.gap);
    if input.is_some() {
        alone::say_gap(&pace, &mut say);
    }
    let side = HostingSide {
        host: &host,
        pace: Some(&pace),
    };
    let side = Some((side, String::new()));
    let input = input.as_mut();
    let outcome = tokio::select! {
        outcome = own.show(&student, side, JOIN_PATIENCE, input, &mut say, &mut stop) => {
            outcome.map(drop)
        }
        () = pace.keep(&host) => Ok(()),
    };
    let left = student.leave().await.map_err(Failure::runtime);
    let view = host.view();
    let next = view.borrow().suggestion;
    let (written, ended) = result::end(host, timings, &mut say).await;
    if let Some(player) = view.borrow().students.first() {
        say.say(Word::Tally, words::tally(&player.tally));
    }
    if let Some(next) = next.filter(Suggestion::is_change) {
        say.say(Word::Suggest, next.to_string());
    }
    if written {
        say.say(Word::Book, shown_by(args, who));
    }
    say.say(Word::Ended, "the lesson is over");
    outcome.and(left).and(ended)
}

fn prepare(setup: LessonSetup, plan: BookPlan) -> Result<Prepared, Failure> {
    let config = HostConfig {
        network: false,
        book: plan.book,
        ..HostConfig::new(setup)
    };
    opening::prepare(config)
}

/// Where the book is, and the command that shows it.
fn shown_by(args: &SoloArgs, who: &SoloPlayer) -> String {
    let report = command::report(args.book.book.as_deref(), &who.class, Some(&who.name));
    format!("it is written down: {report} shows it")
}
