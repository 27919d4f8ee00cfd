//! A host in plain mode.

use fifthpeg_host::{Host, Notice};
use fifthpeg_lesson::LessonEvent;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::time::Instant;

use crate::plain::desk::{self, Next};
use crate::plain::host_lines::{HOST_COMMANDS, HostLine, HostWait};
use crate::plain::host_report::HostReport;
use crate::plain::input::{Input, InputLine};
use crate::plain::say::{Say, Word};
use crate::plain::table;
use crate::plain::wait::{Stop, Waiting};

/// Runs the lesson from lines until `end`, the end of input, or being asked to
/// stop. Events and notices are those from the beginning. The lesson itself is
/// ended by the caller.
pub async fn run(
    host: &Host,
    (mut events, mut notices): (
        broadcast::Receiver<LessonEvent>,
        broadcast::Receiver<Notice>,
    ),
    input: &mut Input,
    say: &mut Say,
    stop: &mut Stop,
) {
    let mut report = HostReport::new(host.view().borrow().rules.clone());
    let mut waiting: Option<Waiting<HostWait>> = None;
    loop {
        while let Ok(event) = events.try_recv() {
            report.event(&event, say);
        }
        let over = waiting.and_then(|wait| wait.over(|what| report.holds(*what)));
        if let Some(over) = over {
            say.say(Word::Waited, over);
            waiting = None;
        }
        let until = waiting.map_or_else(Instant::now, |wait| wait.until);
        tokio::select! {
            biased;
            () = stop.asked() => return,
            event = events.recv() => match event {
                Ok(event) => report.event(&event, say),
                Err(RecvError::Lagged(missed)) => {
                    say.say(Word::Hint, format!("{missed} events were too quick to say"));
                    report.catch_up(&host.view().borrow());
                }
                Err(RecvError::Closed) => return,
            },
            notice = notices.recv() => say_notice(notice, say),
            () = tokio::time::sleep_until(until), if waiting.is_some() => {}
            line = input.next(), if waiting.is_none() => {
                let Some(line) = line else { return };
                match obey(host, line, say).await {
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

/// Says what the host tells of the network.
pub fn say_notice(notice: Result<Notice, RecvError>, say: &mut Say) {
    if let Ok(notice) = notice {
        say.say(Word::Link, notice.to_string());
    }
}

async fn obey(host: &Host, line: InputLine, say: &mut Say) -> Next {
    let number = line.script_line;
    let read = line
        .text
        .and_then(|text| table::read_line::<HostLine>(HOST_COMMANDS, &text));
    let done = match read {
        Ok(None) => Ok(Next::GoOn),
        Ok(Some(command)) => desk::obey(host, command, say).await,
        Err(sentence) => Err(sentence),
    };
    done.unwrap_or_else(|sentence| {
        say.error(number, sentence);
        Next::GoOn
    })
}
