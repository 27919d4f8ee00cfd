//! A student in plain mode; also the friend who hosts, who has some of the
//! host's commands besides.

use std::sync::Arc;
use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use fifthpeg_lesson::message::{Answer, Mode};
use fifthpeg_lesson::terminal::{StudentOrder, TerminalEvent, TerminalView};
use fifthpeg_lesson::words;
use fifthpeg_student::{LOOKS_LONG, NOT_FOUND, Status, Student, UNWRITTEN_PATIENCE, Wanted};
use tokio::sync::broadcast::{self, error::TryRecvError};
use tokio::sync::watch;
use tokio::time::Instant;

use crate::alone::{self, ALONE_COMMANDS, Feed};
use crate::desk;
use crate::ear_report::{self, EarReport};
use crate::host::say_notice;
use crate::host_lines::host_commands;
use crate::input::{InputLine, LineInput};
use crate::say::{Say, Word};
use crate::student_lines::{FRIENDS_COMMANDS, STUDENT_COMMANDS, StudentLine, StudentWait};
use crate::student_report::{self, StudentReport};
use crate::wait::{Stop, Waiting};
use crate::{describe, rules, table};

mod role;
mod waiting;

use role::read_asked;
use waiting::{KnownCalls, Lasting, holds, next_notice, number_of_call};

pub use role::{FriendLine, HostingSide, SeatKind, host_words, read, read_line};

/// How long commands are held back until the lesson is joined, so that a pipe
/// or a script may begin before it, unless it is told otherwise.
pub const JOIN_PATIENCE: Duration = Duration::from_secs(10);
const WAITS: &str = "waits to be written down by the host: it is kept here until then";
const WAITS_UNSENT: &str = "is kept here, and sent when the connection is back";

/// What comes after a command.
enum Next {
    GoOn,
    /// A note was called; the number is that of the call before it.
    Picked(u32),
    Wait(StudentWait, Duration),
    Pause(Duration),
    /// Something was decided at the lock.
    Decided,
    /// Somebody else, of this name, is to come in.
    NotMe(String),
    Leave,
}

/// Whether the terminal waits for the student to decide.
fn asks(status: &Status) -> bool {
    matches!(
        status,
        Status::PassphraseWanted { .. } | Status::KeyChanged { .. }
    )
}

/// Runs a student's terminal from lines until `leave`, the end of input, the
/// lesson's end, or being asked to stop; gives the name of somebody else who is
/// to come in at this machine. Leaving is up to the caller. A note
/// plucked so many `times` in a row answers. It waits so long to be let in; for
/// longer where the host has it wait.
///
/// # Errors
/// When the lesson was never joined.
pub async fn run(
    student: &Student,
    side: Option<HostingSide<'_>>,
    manner: (u8, Duration),
    input: &mut LineInput,
    say: &mut Say,
    stop: &mut Stop,
) -> Result<Option<String>, Failure> {
    let outcome = follow(student, side, manner, input, say, stop).await;
    say.let_go();
    outcome
}

async fn follow(
    student: &Student,
    side: Option<HostingSide<'_>>,
    (times, join_within): (u8, Duration),
    input: &mut LineInput,
    say: &mut Say,
    stop: &mut Stop,
) -> Result<Option<String>, Failure> {
    let mut views = student.view();
    let tones = student.tones();
    let mut events = student.events();
    let mut statuses = student.status();
    let mut key_talks = student.key_talk();
    let mut troubles = student.sound_trouble();
    let mut ears = student.ear();
    let mut report = StudentReport::new(times);
    let mut ear_report = EarReport::default();
    let mut ear = ears.borrow_and_update().clone();
    let mut waiting: Option<Waiting<StudentWait>> = None;
    let mut known = KnownCalls::default();
    let mut patience = Instant::now() + join_within;
    let mut asked_at = Status::Left;
    let mut looks = Lasting::default();
    let mut unwritten = Lasting::default();
    let alone = side.filter(|side| side.pace.is_some());
    // The feed of who is alone has them already.
    let friend = side.filter(|side| side.pace.is_none());
    let mut notices = friend.map(|side| side.host.notices());
    let mut feed = alone.map(|side| Feed::of(side.host));
    loop {
        let status = statuses.borrow_and_update().clone();
        report.status(&status, say);
        // Who comes in by key is told so before anything of the lesson.
        if key_talks.has_changed().unwrap_or(false) {
            student_report::key_talk(&key_talks.borrow_and_update(), say);
        }
        let now = ears.borrow_and_update().clone();
        ear_report.status(&now, say);
        let before = std::mem::replace(&mut ear, now);
        let view = Arc::clone(&views.borrow_and_update());
        // All that led to this view, and perhaps more.
        say_events(&mut events, &tones, &mut report, say);
        report.doubt(&before, &ear, &view, say);
        if let Some(feed) = &mut feed {
            feed.say(say);
        }
        match &status {
            Status::TooOld { .. } | Status::Refused(_) | Status::OpenInstead => {
                return Err(Failure::runtime(status.to_string()));
            }
            Status::Several { .. } if view.welcome.is_none() => {
                return Err(Failure::runtime(status.to_string()));
            }
            status if status.is_final() => return Ok(None),
            _ => {}
        }
        if let Some(wait) = waiting
            && let Some(over) = wait.over(|what| holds(*what, &view, known))
        {
            if wait.what == Some(StudentWait::Call) {
                known.waited_for = number_of_call(&view);
            }
            known.picked_after = None;
            say.say(Word::Waited, over);
            waiting = None;
        }
        unwritten.look(!view.owed.is_empty());
        if status != asked_at {
            asked_at = status.clone();
            if asks(&status) {
                patience = Instant::now();
            }
        }
        if let Some(wait) = status.told_to_wait() {
            patience = patience.max(Instant::now() + wait + join_within);
        }
        // A host's order goes another way than an answer, and may not overtake it.
        let may_read = (view.welcome.is_some() || Instant::now() >= patience)
            && (side.is_none() || !unwritten.is_fresh());
        looks.look(matches!(status, Status::Finding { .. }) && view.welcome.is_none());
        let due = say.due();
        let until = match &waiting {
            Some(wait) => wait.until,
            None => patience,
        };
        tokio::select! {
            biased;
            () = stop.asked() => return Ok(None),
            changed = statuses.changed() => if changed.is_err() { return Ok(None) },
            Ok(()) = troubles.changed() => {
                if let Some(trouble) = troubles.borrow_and_update().as_ref() {
                    say.say(Word::Sound, trouble);
                }
            }
            Ok(()) = key_talks.changed() => key_talks.mark_changed(),
            changed = views.changed() => if changed.is_err() { return Ok(None) },
            changed = ears.changed() => if changed.is_err() { return Ok(None) },
            () = tokio::time::sleep_until(until), if waiting.is_some() || !may_read => {}
            () = tokio::time::sleep_until(due.unwrap_or(until)), if due.is_some() => say.look(),
            () = looks.is_long(LOOKS_LONG) => say.say(Word::Hint, NOT_FOUND),
            notice = next_notice(&mut notices) => say_notice(notice, say),
            () = alone::news(&mut feed, say) => {}
            () = unwritten.is_long(UNWRITTEN_PATIENCE) => {
                say.say(Word::Answer, if view.connected { WAITS } else { WAITS_UNSENT });
            }
            line = input.next(), if waiting.is_none() && may_read => {
                let Some(line) = line else {
                    return joined_at_all(&view, &status).map(|()| None);
                };
                match obey(student, side, line, say).await {
                    Next::GoOn => {}
                    // What comes next is for the lesson, once it is joined.
                    Next::Decided => patience = Instant::now() + join_within,
                    Next::Leave => {
                        return joined_at_all(&views.borrow(), &status).map(|()| None);
                    }
                    Next::NotMe(name) => return Ok(Some(name)),
                    Next::Picked(after) => known.picked_after = Some(after),
                    Next::Wait(what, time) => {
                        known.over_before = known
                            .picked_after
                            .unwrap_or_else(|| number_of_call(&views.borrow()));
                        waiting = Some(Waiting {
                            what: Some(what),
                            until: Instant::now() + time,
                        });
                    }
                    Next::Pause(time) => waiting = Some(Waiting {
                        what: None,
                        until: Instant::now() + time,
                    }),
                }
            }
        }
    }
}

/// Says everything that has happened by now, and nothing over a tone.
fn say_events(
    events: &mut broadcast::Receiver<TerminalEvent>,
    tones: &watch::Receiver<Option<std::time::Instant>>,
    report: &mut StudentReport,
    say: &mut Say,
) {
    loop {
        let event = events.try_recv();
        // Known before the event was told.
        say.tone_ends(tones.borrow().map(Instant::from_std));
        match event {
            Ok(event) => report.take(&event, say),
            Err(TryRecvError::Lagged(missed)) => say.error(
                None,
                format!("{missed} lines came too fast to be said: type where"),
            ),
            Err(TryRecvError::Empty | TryRecvError::Closed) => return,
        }
    }
}

fn joined_at_all(view: &TerminalView, status: &Status) -> Result<(), Failure> {
    if view.welcome.is_some() {
        Ok(())
    } else {
        Err(Failure::runtime(not_joined(status)))
    }
}

/// Why no lesson was joined, where nothing more is tried.
fn not_joined(status: &Status) -> String {
    match status {
        Status::Finding { lesson: Some(name) } => format!(
            "no lesson called {} was found: fifthpeg join --list shows those that are",
            text::shown(name)
        ),
        Status::Finding { lesson: None } => "no lesson was found on this network: start one with \
             fifthpeg host, or give its address as ADDRESS:PORT"
            .to_owned(),
        Status::Connecting { addresses } => {
            let addresses: Vec<String> = addresses.iter().map(ToString::to_string).collect();
            format!(
                "no lesson answers at {}: check the address that the host shows, and that both \
                 machines are on one network",
                text::list_or(&addresses)
            )
        }
        Status::Lost { why, .. } => why.clone(),
        Status::PassphraseWanted {
            wanted: Wanted::First,
            ..
        } => "the lesson is locked: give its passphrase with --passphrase or --passphrase-file"
            .to_owned(),
        Status::PassphraseWanted { .. } => status.to_string(),
        Status::KeyChanged { .. } => format!("{status} --new-key goes on all the same."),
        other => format!("no lesson was joined: {other}"),
    }
}

async fn obey(
    student: &Student,
    side: Option<HostingSide<'_>>,
    line: InputLine,
    say: &mut Say,
) -> Next {
    let number = line.script_line;
    let role = side.map_or(SeatKind::Student, HostingSide::role);
    let asked = matches!(*student.status().borrow(), Status::PassphraseWanted { .. });
    let read = line
        .text
        .and_then(|text| read_asked(&text, role, asked).map_err(|why| why.to_string()));
    say.answers(true);
    let done = match (read, side) {
        (Ok(None), _) => Ok(Next::GoOn),
        (Ok(Some(FriendLine::Student(line))), _) => obey_student(student, role, line, say).await,
        (Ok(Some(FriendLine::Host(line))), Some(side)) => desk::obey(side.host, line, say)
            .await
            .map(|next| match next {
                desk::Next::End => Next::Leave,
                desk::Next::GoOn | desk::Next::Wait(..) | desk::Next::Pause(_) => Next::GoOn,
            }),
        (
            Ok(Some(FriendLine::Alone(line))),
            Some(HostingSide {
                host,
                pace: Some(pace),
            }),
        ) => {
            let before = number_of_call(&student.view().borrow());
            let called = alone::obey(host, pace, line, say).await;
            called.map(|called| {
                if called {
                    Next::Picked(before)
                } else {
                    Next::GoOn
                }
            })
        }
        (Ok(Some(FriendLine::Host(_) | FriendLine::Alone(_))), _) => Ok(Next::GoOn),
        (Err(sentence), _) => Err(sentence),
    };
    let next = done.unwrap_or_else(|sentence| {
        say.error(number, sentence);
        Next::GoOn
    });
    say.answers(false);
    next
}

async fn obey_student(
    student: &Student,
    role: SeatKind,
    line: StudentLine,
    say: &mut Say,
) -> Result<Next, String> {
    let view = Arc::clone(&student.view().borrow());
    let spelling = student_report::spelling(&view);
    let order = match line {
        StudentLine::Hear => {
            order(student, StudentOrder::Hear).await?;
            sounds(student, say);
            let call = number_of_call(&view);
            say.say(Word::Again, format!("call {call}"));
            return Ok(Next::GoOn);
        }
        StudentLine::Try(at) => {
            order(student, StudentOrder::Try(at)).await?;
            sounds(student, say);
            say.say(Word::Tried, words::answer(at, spelling));
            return Ok(Next::GoOn);
        }
        StudentLine::Answer(at) => match (at, place_wanted(&view)) {
            // It says where the note was played that was heard.
            (Answer::Place(place), true) => StudentOrder::AnswerPlace(place),
            _ => StudentOrder::Answer(at),
        },
        StudentLine::AnswerHeard => StudentOrder::AnswerHeard,
        StudentLine::PickHeard => {
            order(student, StudentOrder::CallHeard).await?;
            return Ok(Next::Picked(number_of_call(&view)));
        }
        StudentLine::Microphone(None) => {
            say.say(Word::Microphone, ear_report::state(&student.ear().borrow()));
            return Ok(Next::GoOn);
        }
        StudentLine::Microphone(Some(wanted)) => {
            let done = student.listen(wanted).await;
            return done.map(|()| Next::GoOn).map_err(|e| e.to_string());
        }
        StudentLine::Quiet => {
            let done = student.calibrate().await;
            return done.map(|()| Next::GoOn).map_err(|e| e.to_string());
        }
        StudentLine::Pick(at) => {
            order(student, StudentOrder::Pick(at)).await?;
            return Ok(Next::Picked(number_of_call(&view)));
        }
        StudentLine::Again => StudentOrder::CallerHearAgain,
        StudentLine::Reveal => StudentOrder::CallerReveal,
        StudentLine::Close => StudentOrder::CallerClose,
        StudentLine::Wait(what, time) => return Ok(Next::Wait(what, time)),
        StudentLine::Pause(time) => return Ok(Next::Pause(time)),
        StudentLine::Passphrase(passphrase) => {
            let wanted = matches!(*student.status().borrow(), Status::PassphraseWanted { .. });
            if !wanted {
                return Err("no passphrase is asked for now".to_owned());
            }
            let given = student.give_passphrase(passphrase);
            return given.map(|()| Next::Decided).map_err(|e| e.to_string());
        }
        StudentLine::NewKey => {
            let wanted = matches!(*student.status().borrow(), Status::KeyChanged { .. });
            if !wanted {
                return Err("no new key is asked about now".to_owned());
            }
            let taken = student.take_new_key();
            return taken.map(|()| Next::Decided).map_err(|e| e.to_string());
        }
        StudentLine::TakeKey(takes) => {
            let taken = student.take_key(takes).await;
            return taken.map(|()| Next::GoOn).map_err(|e| e.to_string());
        }
        StudentLine::NotMe(_) if role != SeatKind::Student => {
            return Err(
                "this terminal is the host's own: start another for somebody else".to_owned(),
            );
        }
        StudentLine::NotMe(name) => return Ok(Next::NotMe(name)),
        StudentLine::Leave => return Ok(Next::Leave),
        StudentLine::Where => {
            say.say(Word::Where, student_report::where_now(&view));
            if let Some(sentence) = student_report::clock(&view) {
                say.say(Word::Where, sentence);
            }
            return Ok(Next::GoOn);
        }
        StudentLine::Target => {
            return student_report::target(&view, say).map(|()| Next::GoOn);
        }
        StudentLine::Tally => {
            say.say(Word::Tally, words::tally(&view.tally));
            return Ok(Next::GoOn);
        }
        StudentLine::Rules => {
            let welcome = view.welcome.as_ref();
            let welcome =
                welcome.ok_or("the rules are not known yet: wait until the lesson is joined")?;
            rules::say_all(&welcome.rules, say);
            return Ok(Next::GoOn);
        }
        StudentLine::Neck => {
            let neck = view
                .neck
                .as_ref()
                .ok_or("the neck is not known yet: wait until the lesson is joined")?;
            for line in describe::neck(neck, spelling) {
                say.say(Word::Neck, line);
            }
            return Ok(Next::GoOn);
        }
        StudentLine::Help(all) => {
            // Nothing that this lesson cannot do.
            let rules = view.welcome.as_ref().map(|welcome| &welcome.rules);
            let friends = rules.is_none_or(|rules| rules.mode == Mode::Friends);
            let first = role.first_words(friends);
            let shown = |word: &str| all || word == "help" || first.contains(&word);
            if role == SeatKind::Alone {
                table::help(ALONE_COMMANDS, shown, say);
            }
            table::help(STUDENT_COMMANDS, shown, say);
            let of_host = host_words(role);
            if friends && role != SeatKind::Alone {
                let own = |word: &str| shown(word) && !of_host.contains(&word);
                table::help(FRIENDS_COMMANDS, own, say);
            }
            let shown = |word: &str| shown(word) && of_host.contains(&word);
            table::help(host_commands(), shown, say);
            return Ok(Next::GoOn);
        }
    };
    self::order(student, order).await.map(|()| Next::GoOn)
}

/// The student asked for a tone: what is said of it comes after it.
fn sounds(student: &Student, say: &mut Say) {
    say.answers(false);
    say.tone_ends(student.tones().borrow().map(Instant::from_std));
}

async fn order(student: &Student, order: StudentOrder) -> Result<(), String> {
    student
        .order(order)
        .await
        .map_err(|error| error.to_string())
}

fn place_wanted(view: &TerminalView) -> bool {
    let call = view.call.as_ref();
    call.is_some_and(|call| call.place_wanted.is_some())
}

#[cfg(test)]
mod tests;
