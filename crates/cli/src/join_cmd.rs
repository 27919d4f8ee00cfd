//! `fifthpeg join`: finds the lesson, opens the sound, then runs the student's screen
//! or plain mode. What a terminal does is in the crate `student`.

use std::io::{BufRead, IsTerminal};
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;
use fifthpeg_front::values::parse_name;
use fifthpeg_lesson::words;
use fifthpeg_plain as plain;
use fifthpeg_plain::input::LineInput;
use fifthpeg_plain::say::{Say, Word};
use fifthpeg_plain::wait::Stop;
use fifthpeg_student::{
    Status, StudentConfig, StudentError, Target, class_key_names, forget_class_keys,
};

use crate::args::host::USUAL_PORT;
use crate::args::join::JoinArgs;
use crate::opening;
use crate::own_student::OwnStudent;

/// Joins a lesson until it ends or is left, or lists the lessons there are.
///
/// # Errors
/// When there is no such lesson, it lets nobody in, or sound cannot be opened.
pub fn run(args: &JoinArgs) -> Result<(), Failure> {
    if args.list {
        return opening::runtime()?.block_on(list(args));
    }
    if args.forget_keys {
        return forget_keys();
    }
    opening::output_choice(&args.manner)?;
    args.ear.choice()?;
    args.entry.entry(None)?;
    let read = |line: &str| plain::student::read_line(line, false).map(drop);
    opening::run(&args.manner, read, |input| lesson(args, input))
}

async fn list(args: &JoinArgs) -> Result<(), Failure> {
    let mut say = Say::stdout();
    let look = Duration::from_secs(u64::from(args.look));
    let found = fifthpeg_student::find_lessons(look)
        .await
        .map_err(Failure::runtime)?;
    if found.is_empty() {
        return Err(Failure::runtime(
            "no lesson was found on this network: start one with fifthpeg host, or join by the \
             address that the host prints"
                .to_owned(),
        ));
    }
    for lesson in found {
        let addresses: Vec<String> = lesson.addresses.iter().map(ToString::to_string).collect();
        say.say(
            Word::Lesson,
            format!(
                "{} at {}{}",
                lesson.name,
                addresses.join(" "),
                // As it says itself; joining shows.
                if lesson.open { ", open" } else { "" }
            ),
        );
    }
    Ok(())
}

async fn lesson(args: &JoinArgs, mut input: Option<LineInput>) -> Result<(), Failure> {
    let mut stop = Stop::new()?;
    let mut say = Say::stdout();
    let mut name = name(args)?;
    while let Some(other) = one(args, name, &mut input, &mut say, &mut stop).await? {
        name = other;
    }
    Ok(())
}

/// The name to join under: as typed, else that of this machine's class key.
fn name(args: &JoinArgs) -> Result<String, Failure> {
    if let Some(name) = &args.name_in_lesson {
        return Ok(name.clone());
    }
    let mut names = state_folder().map_or_else(Vec::new, |folder| class_key_names(&folder));
    match names.len() {
        1 => Ok(names.remove(0)),
        0 if std::io::stdin().is_terminal() && out::is_terminal() => asked_name(),
        0 => Err(Failure::usage(
            "say who you are with --as, such as --as Mia: a first name or a nickname is enough",
        )),
        _ => {
            let names: Vec<String> = names.iter().map(|name| text::one_line(name)).collect();
            Err(Failure::usage(format!(
                "this machine has class keys of {}: say who you are with --as",
                text::list_or(&names)
            )))
        }
    }
}

/// The name, asked for.
fn asked_name() -> Result<String, Failure> {
    loop {
        out::ask("Your name in the lesson (a first name or a nickname):");
        let mut line = String::new();
        if !matches!(std::io::stdin().lock().read_line(&mut line), Ok(1..)) {
            return Err(Failure::usage(
                "no name was given: join with --as and a name",
            ));
        }
        match parse_name(line.trim()) {
            Ok(name) => return Ok(name),
            Err(why) => out::note(&why),
        }
    }
}

/// One student's time in the lesson; the name of somebody else at this machine
/// who comes in next.
async fn one(
    args: &JoinArgs,
    name: String,
    input: &mut Option<LineInput>,
    say: &mut Say,
    stop: &mut Stop,
) -> Result<Option<String>, Failure> {
    let target = target(args.lesson.as_deref()).await?;
    say.say(Word::Caution, fifthpeg_front::CAUTION);
    let (own, config) = OwnStudent::open((&args.manner, &args.ear), (name, target), false, say)?;
    if let Some(hint) = opening::microphone_hint(&config.microphone, &args.ear) {
        say.say(Word::Hint, hint);
    }
    let student = fifthpeg_student::start(StudentConfig {
        state_folder: state_folder(),
        entry: args.entry.entry(state_folder())?,
        ..config
    })
    .await
    .map_err(Failure::runtime)?;

    let patience = Duration::from_secs(u64::from(args.patience));
    let outcome = own
        .show(&student, None, patience, input.as_mut(), say, stop)
        .await;
    let last = student.status().borrow().clone();
    let view = student.view();
    let left = student.leave().await.map_err(Failure::runtime);
    let view = view.borrow();
    if view.welcome.is_some() {
        say.say(Word::Tally, words::tally(&view.tally));
        say.say(
            Word::Ended,
            match last {
                Status::Ended => "the lesson is over",
                Status::Removed => "the host has taken you out of the lesson",
                _ => "you have left the lesson",
            },
        );
    }
    outcome.and_then(|other| left.map(|()| other))
}

/// Deletes this machine's class keys.
fn forget_keys() -> Result<(), Failure> {
    let forgotten = state_folder().map_or(Ok(0), |folder| forget_class_keys(&folder));
    let forgotten = forgotten.map_err(|why| {
        Failure::runtime(why)
            .told(|why| format!("the class keys of this machine cannot be deleted: {why}"))
    })?;
    Say::stdout().say(
        Word::ClassKey,
        match forgotten {
            0 => "this machine has none".to_owned(),
            1 => "the one of this machine is deleted: the passphrase is asked for".to_owned(),
            n => format!("the {n} of this machine are deleted: the passphrase is asked for"),
        },
    );
    Ok(())
}

/// Where a seat in a lesson is kept while it lasts.
pub(crate) fn state_folder() -> Option<PathBuf> {
    fifthpeg_files::folder(fifthpeg_files::Kept::State)
}

/// A lesson by name, or by address where it looks like one.
async fn target(typed: Option<&str>) -> Result<Target, Failure> {
    let Some(typed) = typed else {
        return Ok(Target::Lesson(None));
    };
    if typed.trim().is_empty() {
        return Err(Failure::usage(
            "an empty name is no lesson: give its name, or leave it out to join the only one"
                .to_owned(),
        ));
    }
    if !looks_like_an_address(typed) {
        return Ok(Target::Lesson(Some(typed.to_owned())));
    }
    fifthpeg_student::resolve_address(&with_port(typed))
        .await
        .map(Target::Address)
        .map_err(|error| match error {
            StudentError::NotAnAddress { .. } => Failure::usage(error),
            other => Failure::runtime(other),
        })
        .map_err(|failure| match failure {
            failure if failure.is_usage() => failure.told(|_| {
                format!(
                    "\"{}\" is no address: write the host's address and port, such as 192.168.1.20:4750",
                    text::shown(typed)
                )
            }),
            other => other,
        })
}

/// An address with the usual port, where it names none.
fn with_port(typed: &str) -> String {
    let bare = typed.trim().trim_matches(['[', ']']);
    match bare.parse::<IpAddr>() {
        Ok(address) => SocketAddr::from((address, USUAL_PORT)).to_string(),
        Err(_) => typed.to_owned(),
    }
}

/// A colon with only digits after it, or a bare IP address, which takes the usual
/// port. A lesson's name may hold a colon too, but not like this.
fn looks_like_an_address(typed: &str) -> bool {
    let typed = typed.trim();
    if typed.trim_matches(['[', ']']).parse::<IpAddr>().is_ok() {
        return true;
    }
    typed.rsplit_once(':').is_some_and(|(machine, port)| {
        !machine.is_empty()
            && !machine.contains(char::is_whitespace)
            && !port.is_empty()
            && port.bytes().all(|b| b.is_ascii_digit())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_alone_takes_the_usual_port() {
        // RFC 5737 and RFC 3849: addresses for documentation.
        assert_eq!(with_port("192.0.2.7"), "192.0.2.7:4750");
        assert_eq!(with_port(" 2001:db8::7"), "[2001:db8::7]:4750");
        assert_eq!(with_port("[2001:db8::7]"), "[2001:db8::7]:4750");
        assert_eq!(with_port("192.0.2.7:5000"), "192.0.2.7:5000");
        assert_eq!(with_port("hall.local:4750"), "hall.local:4750");
    }

    #[test]
    fn addresses_and_names_are_told_apart() {
        for address in [
            "192.168.1.20:4750",
            "[::1]:4750",
            "hall-laptop.local:4750",
            "192.168.1.20",
            "::1",
        ] {
            assert!(looks_like_an_address(address), "{address}");
        }
        for name in [
            "Thursday",
            "Village hall, Thursday",
            "Week 3: open G",
            "at 19:30",
        ] {
            assert!(!looks_like_an_address(name), "{name}");
        }
    }
}
