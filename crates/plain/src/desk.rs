//! What a host's commands do: orders to the lesson, and questions answered from
//! its view.

use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_core::{Neck, ReachStep};
use fifthpeg_host::{Host, OrderError};
use fifthpeg_lesson::message::{Mode, Refusal};
use fifthpeg_lesson::view::{LessonView, StudentView};
use fifthpeg_lesson::{HostOrder, Moment};
use fifthpeg_student::instrument::NO_MICROPHONE;
use fifthpeg_vocab::{Choice, Rule};

use crate::describe;
use crate::door;
use crate::host_lines::{FIRST_WORDS, HostLine, HostWait, host_commands};
use crate::people;
use crate::say::{Say, Word};
use crate::{rules as plain_rules, table};

const NO_CALL: &str = "no call is open: type call to make one";

const NOT_BETWEEN_CALLS: &str =
    "the reach is looked at between calls: reveal or close the call first";

/// What comes after a command.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Next {
    /// The next command.
    GoOn,
    /// A wait, for so long at the most.
    Wait(HostWait, Duration),
    /// A pause.
    Pause(Duration),
    /// The lesson's end.
    End,
}

/// Does one command of a host.
///
/// # Errors
/// One sentence, when the lesson refuses it.
pub async fn obey(host: &Host, line: HostLine, say: &mut Say) -> Result<Next, String> {
    let view = host.view_now().await;
    let rules = &view.rules;
    let order = match line {
        HostLine::Call(None) => HostOrder::CallRandom,
        HostLine::Call(Some(at)) => HostOrder::CallAt(at),
        HostLine::CallPlayed(pitch) => HostOrder::CallPlayed(pitch),
        HostLine::Set(setting) => {
            let rule = Rule::of(&setting).filter(|rule| !rule.told);
            self::order(host, HostOrder::Set(setting)).await?;
            // What students are told comes back as news of the lesson.
            if let Some(rule) = rule {
                plain_rules::say_rule(rule, &host.view().borrow(), say);
            }
            return Ok(Next::GoOn);
        }
        HostLine::Rule(rule) => {
            plain_rules::say_rule(rule, &view, say);
            return Ok(Next::GoOn);
        }
        // Only where the host has an instrument of their own to listen to.
        HostLine::CallHeard | HostLine::Microphone(_) | HostLine::Quiet => {
            return Err(NO_MICROPHONE.to_owned());
        }
        HostLine::Suggest => {
            let suggestion = view.suggestion.ok_or(NOT_BETWEEN_CALLS)?;
            say.say(Word::Suggest, plain_rules::suggested(&suggestion));
            return Ok(Next::GoOn);
        }
        HostLine::Page(line) => {
            door::say_page(host, line, say)?;
            return Ok(Next::GoOn);
        }
        HostLine::Again => HostOrder::HearAgain,
        HostLine::Reveal => HostOrder::Reveal,
        HostLine::Close => HostOrder::Close,
        HostLine::Pass => HostOrder::PassTurn,
        HostLine::Remove(name) => HostOrder::Remove(find(&view, &name)?.id),
        HostLine::Known(line) => {
            people::known(host, &view, line.as_deref(), say).await?;
            return Ok(Next::GoOn);
        }
        HostLine::ClassKey(name) => {
            people::class_key(host, &view, name.as_deref(), say).await?;
            return Ok(Next::GoOn);
        }
        HostLine::Wait(what, time) => return Ok(Next::Wait(what, time)),
        HostLine::Pause(time) => return Ok(Next::Pause(time)),
        HostLine::End => return Ok(Next::End),
        HostLine::Target => return target(&view, say).map(|()| Next::GoOn),
        HostLine::ReachNow => {
            say.say(Word::Reach, rules.reach.to_string());
            return Ok(Next::GoOn);
        }
        HostLine::ReachList => {
            for step in ReachStep::all() {
                say.say(Word::Reach, format!("{}: {}", step.word(), step.title()));
            }
            return Ok(Next::GoOn);
        }
        HostLine::WithoutBook => {
            let done = host.go_on_without_book().await;
            return done.map(|()| Next::GoOn).map_err(|e| e.to_string());
        }
        HostLine::NewBook => {
            let done = host.go_on_in_new_book().await;
            return done.map(|()| Next::GoOn).map_err(|e| e.to_string());
        }
        HostLine::Who => {
            who(&view, host.now(), say);
            return Ok(Next::GoOn);
        }
        HostLine::Network => {
            door::say(host, say);
            for line in describe::network(&host.counts()) {
                say.say(Word::Link, line);
            }
            return Ok(Next::GoOn);
        }
        HostLine::Neck => {
            let neck = Neck::build(rules.neck.clone()).map_err(|error| error.to_string())?;
            for line in describe::neck(&neck, rules.spelling()) {
                say.say(Word::Neck, line);
            }
            return Ok(Next::GoOn);
        }
        HostLine::Help(all) => {
            let shown = |word: &str| all || word == "help" || FIRST_WORDS.contains(&word);
            table::help(host_commands(), shown, say);
            return Ok(Next::GoOn);
        }
    };
    self::order(host, order).await.map(|()| Next::GoOn)
}

async fn order(host: &Host, order: HostOrder) -> Result<(), String> {
    host.order(order).await.map_err(|error| match error {
        // A host need not wait for one.
        OrderError::Refused(Refusal::NoCall) => NO_CALL.to_owned(),
        error => error.to_string(),
    })
}

fn target(view: &LessonView, say: &mut Say) -> Result<(), String> {
    let call = view.current_call().ok_or(NO_CALL)?;
    let spelling = view.rules.spelling();
    say.say(
        Word::Target,
        describe::target(call.pitch, call.place, spelling),
    );
    Ok(())
}

pub(super) fn find<'v>(view: &'v LessonView, name: &str) -> Result<&'v StudentView, String> {
    view.students
        .iter()
        .find(|student| student.name == name)
        .or_else(|| {
            view.students
                .iter()
                .find(|student| student.name.eq_ignore_ascii_case(name))
        })
        .ok_or_else(|| {
            format!(
                "nobody here is called \"{}\": type who to see the names",
                text::shown(name)
            )
        })
}

fn who(view: &LessonView, now: Moment, say: &mut Say) {
    if view.students.is_empty() {
        say.say(Word::Hint, "nobody has joined yet");
    }
    for (student, glance) in view.glances(now) {
        let here = if student.connected { "here" } else { "away" };
        let progress = match student.progress {
            Some(progress) if view.open_call().is_some() => format!(
                ", {}, {}, {}",
                progress.label(),
                text::count(student.answers.len(), "answer"),
                text::count(student.hearings as usize, "hearing"),
            ),
            _ => String::new(),
        };
        // Among friends nobody is anybody's teacher.
        let fares = match view.rules.mode {
            Mode::Class => describe::fares(&glance),
            Mode::Friends => String::new(),
        };
        say.say(
            Word::Who,
            format!(
                "{}: {here}{progress}; {} of {} found{fares}",
                student.name, student.tally.found, student.tally.calls
            ),
        );
    }
}
