//! A host in plain mode.

use std::sync::Arc;
use std::time::Duration;

use fifthpeg_front::all_stuck;
use fifthpeg_front::once::OncePerCall;
use fifthpeg_host::{Host, Notice};
use fifthpeg_lesson::LessonEvent;
use fifthpeg_sound::{Listened, tone_length};
use fifthpeg_student::instrument::{Instrument, NO_MICROPHONE, Offers};
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::time::Instant;

use crate::desk::{self, Next};
use crate::ear_report::{self, EarReport};
use crate::host_lines::{HostLine, HostWait, host_commands};
use crate::host_report::HostReport;
use crate::input::{InputLine, LineInput};
use crate::rules::{PaceTold, Suggestions};
use crate::say::{Say, Word};
use crate::table;
use crate::wait::{Stop, Waiting};

/// How often an open call is looked at though nothing happens.
const LOOK_AT_CALL: Duration = Duration::from_secs(1);

/// Runs the lesson from lines until `end`, the end of input, or being asked to
/// stop. Events and notices are those from the beginning. The lesson itself is
/// ended by the caller.
pub async fn run(
    host: &Host,
    instrument: &mut Instrument,
    heard: Heard,
    input: &mut LineInput,
    say: &mut Say,
    stop: &mut Stop,
) {
    follow(host, instrument, heard, input, say, stop).await;
    say.let_go();
}

/// Events and notices.
type Heard = (
    broadcast::Receiver<LessonEvent>,
    broadcast::Receiver<Notice>,
);

async fn follow(
    host: &Host,
    instrument: &mut Instrument,
    (mut events, mut notices): Heard,
    input: &mut LineInput,
    say: &mut Say,
    stop: &mut Stop,
) {
    let mut report = HostReport::new(host.view().borrow().rules.clone());
    report.know(&host.view().borrow());
    let mut waiting: Option<Waiting<HostWait>> = None;
    let mut offers = Offers::default();
    let mut ears = instrument.status();
    let mut ear_report = EarReport::default();
    let mut views = host.view();
    let mut suggestions = Suggestions::default();
    let mut pace = PaceTold::default();
    let mut stuck = OncePerCall::default();
    instrument.tune(&host.view().borrow().rules);
    loop {
        while let Ok(event) = events.try_recv() {
            hear_own(&event, host, &mut offers, instrument);
            report.event(&event, host.now(), say);
        }
        let view = Arc::clone(&views.borrow_and_update());
        suggestions.say(view.suggestion.as_ref(), say);
        pace.say(view.pace_stopped, say);
        if let Some(call) = &view.call
            && stuck.is_news(call.id, view.all_stuck(host.now()))
        {
            let stuck_words = ["again", "reveal", "reach"];
            say.say(Word::Hint, all_stuck(&view.rules.reach, stuck_words));
        }
        ear_report.status(&ears.borrow_and_update(), say);
        let over = waiting.and_then(|wait| wait.over(|what| report.holds(*what)));
        if let Some(over) = over {
            say.say(Word::Waited, over);
            waiting = None;
        }
        let until = waiting.map_or_else(Instant::now, |wait| wait.until);
        let due = say.due();
        tokio::select! {
            biased;
            () = stop.asked() => return,
            event = events.recv() => match event {
                Ok(event) => {
                    hear_own(&event, host, &mut offers, instrument);
                    report.event(&event, host.now(), say);
                }
                Err(RecvError::Lagged(missed)) => {
                    say.say(Word::Hint, format!("{missed} events were too quick to say"));
                    report.catch_up(&host.view().borrow());
                }
                Err(RecvError::Closed) => return,
            },
            Ok(()) = views.changed() => {}
            notice = notices.recv() => say_notice(notice, say),
            heard = instrument.next() => take_heard(&heard, host, &mut offers, say),
            Ok(()) = ears.changed() => {}
            () = tokio::time::sleep_until(until), if waiting.is_some() => {}
            () = tokio::time::sleep_until(due.unwrap_or(until)), if due.is_some() => say.look(),
            // Who is silent makes nothing happen, and may be stuck.
            () = tokio::time::sleep(LOOK_AT_CALL), if view.call.is_some() => {}
            line = input.next(), if waiting.is_none() => {
                let Some(line) = line else { return };
                match obey(host, (&mut *instrument, &mut offers), line, say).await {
                    Next::GoOn => {}
                    Next::End => return,
                    Next::Wait(what, time) => waiting = Some(Waiting {
                        what: Some(what),
                        until: Instant::now() + time,
                    }),
                    Next::Pause(time) => waiting = Some(Waiting {
                        what: None,
                        until: Instant::now() + time,
                    }),
                }
            }
        }
    }
}

/// Says what the host tells of the network and the book.
pub fn say_notice(notice: Result<Notice, RecvError>, say: &mut Say) {
    if let Ok(notice) = notice {
        let word = if notice.is_about_book() {
            Word::Book
        } else if notice.is_about_keys() {
            Word::ClassKey
        } else {
            Word::Link
        };
        say.say(word, notice.to_string());
    }
}

/// What this machine's own speakers sound is no note of the instrument's.
fn hear_own(event: &LessonEvent, host: &Host, offers: &mut Offers, instrument: &mut Instrument) {
    if let LessonEvent::HostSound { tone, start, .. } = event {
        let from = std::time::Instant::now() + start.since(host.now());
        let length = tone_length(tone.voice);
        offers.own_tone(from, length);
        instrument.own_tone(from, length);
    }
}

/// Says a note that may be called; while a call is open nothing is offered.
fn take_heard(heard: &Listened, host: &Host, offers: &mut Offers, say: &mut Say) {
    let view = Arc::clone(&host.view().borrow());
    if !offers.take(heard, view.open_call().is_none()) {
        return;
    }
    match offers.standing() {
        Some(offer) => {
            let note = offer.pitch.ascii_name(view.rules.spelling());
            say.say(Word::Plucked, format!("{note}: type call heard to send it"));
        }
        None => say.say(Word::Plucked, "nothing: the note before is not counted"),
    }
}

/// Does what has to do with the instrument; gives back any other line.
fn obey_instrument(
    (instrument, offers): (&mut Instrument, &mut Offers),
    line: HostLine,
    say: &mut Say,
) -> Result<Result<HostLine, Next>, String> {
    match line {
        HostLine::CallHeard => {
            let offer = offers
                .standing()
                .ok_or("no note has been heard: play one, then type call heard")?;
            offers.clear();
            return Ok(Ok(HostLine::CallPlayed(offer.pitch)));
        }
        HostLine::Microphone(Some(wanted)) => instrument.listen(wanted)?,
        HostLine::Microphone(None) if instrument.is_asked_for() => {
            say.say(
                Word::Microphone,
                ear_report::state(&instrument.status().borrow()),
            );
        }
        HostLine::Microphone(None) => return Err(NO_MICROPHONE.to_owned()),
        HostLine::Quiet => instrument.calibrate()?,
        other => return Ok(Ok(other)),
    }
    Ok(Err(Next::GoOn))
}

async fn obey(
    host: &Host,
    instrument: (&mut Instrument, &mut Offers),
    line: InputLine,
    say: &mut Say,
) -> Next {
    let number = line.script_line;
    let read = line.text.and_then(|text| {
        table::read_line::<HostLine>(host_commands(), &text).map_err(|why| why.to_string())
    });
    say.answers(true);
    let done = match read {
        Ok(None) => Ok(Next::GoOn),
        Ok(Some(command)) => match obey_instrument(instrument, command, say) {
            Ok(Ok(command)) => desk::obey(host, command, say).await,
            Ok(Err(next)) => Ok(next),
            Err(sentence) => Err(sentence),
        },
        Err(sentence) => Err(sentence),
    };
    let next = done.unwrap_or_else(|sentence| {
        say.error(number, sentence);
        Next::GoOn
    });
    say.answers(false);
    next
}
