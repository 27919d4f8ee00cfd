//! `fifthpeg host`: opens book, door and sound, then runs the host's screen or plain
//! mode. What a host does is in the crate `host`.

use std::net::SocketAddr;

use fifthpeg_front::failure::Failure;
use fifthpeg_host::{BookState, Host, HostConfig, Lock, Prepared, any_address};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::message::{Mode, Sounding};
use fifthpeg_plain as plain;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::student::{HostingSide, JOIN_PATIENCE};
use fifthpeg_plain::wait::Stop;
use fifthpeg_plain::{host_lines, table};
use fifthpeg_practice::track::command;
use fifthpeg_screen as screen;
use fifthpeg_screen::ScreenOptions;
use fifthpeg_screen::door::DoorShown;
use fifthpeg_sound::Level;
use fifthpeg_student::instrument::Instrument;
use fifthpeg_student::{Entry, StudentConfig, Target};

use crate::args::host::{HostArgs, USUAL_PORT};
use crate::door::{self, ChosenLock};
use crate::lesson_book::{self, BookPlan};
use crate::opening::{self, OpenedSound};
use crate::own_student::OwnStudent;
use crate::{join_cmd, result};

/// Hosts a lesson to its end.
///
/// # Errors
/// When the lesson cannot be set up or started.
pub fn run(args: &HostArgs) -> Result<(), Failure> {
    opening::output_choice(&args.manner)?;
    args.ear.choice()?;
    args.door.chosen(&args.name)?;
    let setup = setup(args)?;
    let read = |line: &str| {
        if args.friends {
            plain::student::read_line(line, true).map(drop)
        } else {
            table::read_line(host_lines::host_commands(), line).map(drop)
        }
    };
    opening::run(&args.manner, read, |input| lesson(args, setup, input))
}

fn setup(args: &HostArgs) -> Result<LessonSetup, Failure> {
    let mut setup = args.rules.setup(&args.name, &args.neck)?;
    if args.friends {
        setup.rules.mode = Mode::Friends;
    }
    args.choices.put(&mut setup);
    if args.friends && setup.pace.is_some() {
        return Err(Failure::usage(
            "--pace is for a class: friends call in turn, each when ready",
        ));
    }
    let speakers = setup.rules.sounding == Sounding::HostSpeakers;
    if args.friends && speakers && !opening::is_device(&args.manner) {
        return Err(Failure::usage(
            "--sounding host-speakers needs --output device among friends: leave one of them out",
        ));
    }
    setup.speakers_among_friends = opening::is_device(&args.manner);
    setup.max_students = args.max_students;
    Ok(setup)
}

async fn lesson(
    args: &HostArgs,
    setup: LessonSetup,
    input: Option<LineInput>,
) -> Result<(), Failure> {
    let mut stop = Stop::new()?;
    let mut say = Say::stdout();
    let state = join_cmd::state_folder();
    let mut plan = lesson_book::plan(&args.book, &setup, state.as_deref());
    // A lesson taken up again goes by the setup it began with.
    let goes_on = plan.setup.is_some();
    let setup = plan.setup.clone().unwrap_or(setup);
    let door = ChosenLock::set_up(args, &args.name, goes_on, state)?;
    let seed = setup.seed;
    say.say(Word::Caution, fifthpeg_front::CAUTION);
    say.say(Word::Hint, fifthpeg_front::NAMES_HINT);
    for sentence in &plan.said {
        say.say(Word::Book, sentence);
    }
    if let Some(trouble) = &door.trouble {
        say.say(Word::Hint, trouble);
    }
    let earlier = std::mem::take(&mut plan.earlier);
    let (prepared, sound, silence) = prepare(args, setup, plan, door.lock.clone())?;
    // Students may be in before the announcing has ended: listen first.
    let (events, early) = (prepared.events(), prepared.events());
    let host = prepared.open().await;
    if let Some(trouble) = host.announce_trouble() {
        say.say(Word::Link, trouble);
    }
    if let Some(trouble) = host.book().borrow().trouble() {
        say.say(Word::Book, trouble);
    }
    let timings = tokio::spawn(result::keep(earlier, early, host.view()));
    let rules = host.view().borrow().rules.clone();
    say.say(Word::Lesson, host.announced_name());
    for address in host.reachable() {
        say.say(Word::Address, address.to_string());
    }
    plain::door::say(&host, &mut say);
    if host.is_announced() && host.reachable().iter().any(|at| !at.ip().is_loopback()) {
        say.say(
            Word::Hint,
            "on this network, fifthpeg join finds the lesson by itself",
        );
    }
    if let Some(sound) = sound {
        say.say(Word::Sound, sound);
    }
    if silence.is_some() && rules.sounding == Sounding::HostSpeakers {
        say.say(
            Word::Hint,
            "this machine should sound the notes but makes no sound: sounding every-terminal \
             lets the students' terminals sound them",
        );
    }
    let microphone = args.ear.choice()?;
    let hint = if args.friends {
        opening::microphone_hint(&microphone, &args.ear)
    } else {
        opening::host_microphone_hint(&microphone)
    };
    if let Some(hint) = hint {
        say.say(Word::Hint, hint);
    }
    if input.is_some() {
        if !args.friends {
            plain::rules::say_all(&rules, &mut say);
        }
        plain::rules::say_untold(&host.view().borrow(), &mut say);
        say.say(
            Word::Hint,
            format!("--seed {seed} picks the same notes again"),
        );
    }

    let outcome = if args.friends {
        friend(args, &host, input, &mut say, &mut stop).await
    } else {
        let mut instrument = Instrument::new(microphone);
        match input {
            Some(mut input) => {
                let heard = (events, host.notices());
                let own = &mut instrument;
                plain::host::run(&host, own, heard, &mut input, &mut say, &mut stop).await;
                Ok(())
            }
            None => {
                let options = ScreenOptions {
                    silence,
                    ..opening::screen_options(&args.manner, args.hide_target)
                };
                let how = (joining(&host), DoorShown::of(&host));
                screen::host::run(&host, instrument, how, options)
                    .await
                    .map(drop)
                    .map_err(Failure::runtime)
            }
        }
    };

    let view = host.view();
    let (written, ended) = result::end(host, timings, &mut say).await;
    door.forget();
    if written {
        say.say(Word::Book, shown_by(args, &view.borrow().rules.lesson));
    }
    say.say(Word::Ended, "the lesson is over");
    outcome.and(ended)
}

/// The command that shows the lesson.
fn shown_by(args: &HostArgs, lesson: &str) -> String {
    let class = args.book.class.as_deref().unwrap_or(lesson);
    let report = command::report(args.book.book.as_deref(), class, None);
    format!("the report of this lesson: {report}")
}

/// Prepares the host, and says what sounds there.
fn prepare(
    args: &HostArgs,
    setup: LessonSetup,
    plan: BookPlan,
    lock: Lock,
) -> Result<(Prepared, Option<String>, Option<&'static str>), Failure> {
    // Among friends the terminal of the one who hosts sounds as well, and
    // says so. A device takes both; a file cannot be written twice.
    let opened = if args.friends && !opening::is_device(&args.manner) {
        None
    } else {
        Some(opening::sound(&args.manner)?)
    };
    let silence = opened.as_ref().and_then(|opened| opened.silence);
    let (output, level, words) = match opened {
        Some(OpenedSound {
            output,
            level,
            words,
            ..
        }) => (Some(output), level, Some(words).filter(|_| !args.friends)),
        None => (None, Level::default(), None),
    };
    // Students look for a lesson taken up again where it was.
    let port = args.port.or(plan.port).unwrap_or(USUAL_PORT);
    let config = HostConfig {
        bind: match args.bind {
            Some(ip) => vec![SocketAddr::new(ip, port)],
            None => any_address(port),
        },
        any_port_instead: args.port.is_none(),
        announce: !args.no_announce,
        host_names: args.host_names.clone(),
        certificate: door::certificate(args)?,
        output,
        level,
        book: plan.book,
        lock,
        ..HostConfig::new(setup)
    };
    Ok((opening::prepare(config)?, words, silence))
}

/// The friend who hosts plays on a terminal of their own, over loopback.
async fn friend(
    args: &HostArgs,
    host: &Host,
    mut input: Option<LineInput>,
    say: &mut Say,
    stop: &mut Stop,
) -> Result<(), Failure> {
    let name = args.name_in_lesson.clone().unwrap_or_default();
    let who_and_where = (name, Target::Address(loopback(host)));
    let (own, config) = OwnStudent::open((&args.manner, &args.ear), who_and_where, true, say)?;
    let student = fifthpeg_student::start(StudentConfig {
        // The place goes with the host, which is this same program, unless
        // the lesson can be taken up again.
        state_folder: join_cmd::state_folder()
            .filter(|_| *host.book().borrow() == BookState::Writing),
        entry: own_entry(host),
        ..config
    })
    .await
    .map_err(Failure::runtime)?;
    let side = Some((HostingSide { host, pace: None }, joining(host)));
    let input = input.as_mut();
    let shown = own.show(&student, side, JOIN_PATIENCE, input, say, stop);
    let outcome = shown.await.map(drop);
    let left = student.leave().await.map_err(Failure::runtime);
    outcome.and(left)
}

/// The friend who hosts knows the lesson's passphrase, and who the host is.
fn own_entry(host: &Host) -> Entry {
    match host.lock() {
        Lock::Open => Entry::default(),
        Lock::Passphrase { passphrase, .. } => Entry::with(passphrase.clone()),
    }
}

/// One line that says how to join, for the host's screen.
fn joining(host: &Host) -> String {
    let mut outside: Vec<String> = host
        .reachable()
        .iter()
        .filter(|address| !address.ip().is_loopback())
        .map(ToString::to_string)
        .collect();
    if outside.is_empty() {
        outside.extend(host.local_addrs().first().map(ToString::to_string));
    }
    let by_address = outside.join(" or ");
    if host.is_announced() {
        let name = host.announced_name();
        format!("To join: {name}, or by address: {by_address}")
    } else {
        format!("To join, by address: {by_address}")
    }
}

/// The host's addresses as this machine itself reaches them.
fn loopback(host: &Host) -> Vec<SocketAddr> {
    host.local_addrs()
        .into_iter()
        .map(|mut address| {
            if address.ip().is_unspecified() {
                address.set_ip(match address {
                    SocketAddr::V4(_) => std::net::Ipv4Addr::LOCALHOST.into(),
                    SocketAddr::V6(_) => std::net::Ipv6Addr::LOCALHOST.into(),
                });
            }
            address
        })
        .collect()
}
