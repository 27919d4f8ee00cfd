//! The program's own terminal, answering all the time.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::terminal::{AnswerOutcome, StudentOrder, TerminalEvent};
use fifthpeg_student::Student;
use tokio::sync::broadcast::error::TryRecvError;

use super::student::Attended;

/// How often it answers, connected or not.
const EACH: Duration = Duration::from_millis(25);

/// Answers until it is done, and gives back what was told of each.
pub async fn answer(terminal: Student, done: Arc<AtomicBool>) -> (Student, Attended) {
    let mut events = terminal.events();
    let mut attended = Attended::default();
    // Of each answer by call, serial and how many calls of that number came before.
    let mut waits: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    let mut midi = 48;
    while !done.load(Ordering::SeqCst) {
        midi = if midi >= 71 { 48 } else { midi + 5 };
        let answer = Answer::Pitch(Pitch::new(midi).expect("a pitch"));
        // Refused at once where nothing is open, or it is found.
        let _ = terminal.order(StudentOrder::Answer(answer)).await;
        tokio::time::sleep(EACH).await;
        loop {
            match events.try_recv() {
                Ok(TerminalEvent::Given { call, serial, .. }) => {
                    *waits.entry((call.0, serial)).or_default() += 1;
                }
                Ok(TerminalEvent::Told {
                    call,
                    serial,
                    outcome,
                    ..
                }) => {
                    let waiting = waits.get_mut(&(call.0, serial));
                    let waiting = waiting.expect("only what was given is told of");
                    *waiting = waiting.checked_sub(1).expect("each is told of once");
                    let student = terminal
                        .view()
                        .borrow()
                        .welcome
                        .as_ref()
                        .map(|w| w.student.0);
                    let key = (call.0, student.expect("welcomed"), serial);
                    match outcome {
                        AnswerOutcome::Marked(mark) => {
                            attended.told.insert(key, mark == Mark::Right);
                        }
                        AnswerOutcome::Refused(_) => attended.refused += 1,
                        AnswerOutcome::Lost(_) => attended.lost += 1,
                    }
                }
                Ok(_) => {}
                Err(TryRecvError::Lagged(missed)) => panic!("{missed} events were missed"),
                Err(TryRecvError::Empty | TryRecvError::Closed) => break,
            }
        }
    }
    let untold = waits.into_iter().filter(|(_, waiting)| *waiting > 0);
    attended.untold = untold.map(|(key, _)| key).collect();
    (terminal, attended)
}
