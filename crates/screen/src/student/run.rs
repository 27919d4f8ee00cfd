//! Shows the student's screen until the lesson ends or the student leaves.

use std::time::Duration;

use crossterm::event::Event;
use fifthpeg_front::stops::Stops;
use fifthpeg_host::Host;
use fifthpeg_host::alone::Gap;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::terminal::HandsFree;
use fifthpeg_student::Student;
use ratatui::layout::Rect;
use tokio::sync::broadcast::error::RecvError;
use tokio::time::{MissedTickBehavior, interval};

use super::draw;
use super::feeds::{self, Feeds};
use super::layers::{Alone, Hosting, StudentAction};
use super::state::StudentState;
use crate::door::DoorShown;
use crate::guard::{self, TerminalGuard};
use crate::host::deeds::{self, Came, HostDeed};
use crate::input::ScreenInput;
use crate::options::{ScreenEnd, ScreenError, ScreenOptions};
use crate::parts::Message;

/// How often the screen is drawn anew without cause, for the moment when a
/// call's first hearing begins.
const TICK: Duration = Duration::from_millis(250);

const NO_CALL: &str =
    "No call is open: the friend whose turn it is makes one, and p passes the turn.";

/// What makes this student the friend who hosts.
pub struct HostSide<'a> {
    /// The lesson's host.
    pub host: &'a Host,
    /// One line that says how to join.
    pub joining: String,
    /// When the next note comes, where nobody else is in the lesson.
    pub pace: Option<&'a Gap>,
}

/// Shows the student's screen until the student leaves or closes it, or a
/// signal stops it. When the lesson ends it stays, so that the last reveal and
/// the tally can be read; only not for who ended it. The terminal itself is
/// left for the caller to end. With a microphone, `hands_free` says how a note
/// heard from it answers.
///
/// # Errors
/// If the terminal cannot be used, or something panicked. The terminal is as
/// it was before in every case.
pub async fn run(
    student: &Student,
    options: ScreenOptions,
    hands_free: Option<HandsFree>,
    side: Option<HostSide<'_>>,
) -> Result<ScreenEnd, ScreenError> {
    let mut views = student.view();
    let mut events = student.events();
    let mut statuses = student.status();
    let mut key_talks = student.key_talk();
    let mut troubles = student.sound_trouble();
    let first = views.borrow_and_update().clone();
    let status = statuses.borrow_and_update().clone();
    let mut state = StudentState::new(first, status, options);
    let host = side.as_ref().map(|side| side.host);
    let pace = side.as_ref().and_then(|side| side.pace);
    let mut feeds = host.map(Feeds::of);
    if let (Some(side), Some(feeds)) = (side, &mut feeds) {
        let door = DoorShown::of(side.host);
        state = state.with_hosting(Hosting {
            view: feeds.view(),
            joining: format!("{}\n{}", side.joining, door.line().0),
            joining_in_full: format!(
                "{}. {}{}",
                side.joining,
                door.in_full(),
                by_phone(side.host)
            ),
            book: feeds.book(),
            known: Vec::new(),
            alone: pace.map(|pace| Alone {
                gap: pace.usual(),
                by_itself: pace.gap().is_some(),
            }),
        });
    }
    let mut ears = student.ear();
    if let Some(hands_free) = hands_free {
        state = state.with_ear(ears.borrow_and_update().clone(), hands_free);
    }
    let mut stops = Stops::listen()?;
    let mut guard = TerminalGuard::take()?;
    let mut input = ScreenInput::begin()?;
    let mut tick = interval(TICK);
    tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        if guard::has_fault() {
            return Err(ScreenError::Fault);
        }
        if state.is_nothing_left() {
            return Ok(ScreenEnd::Finished);
        }
        state.now = student.now();
        state.at = std::time::Instant::now();
        state.mind_looking();
        guard.draw(|frame| draw::draw(&state, frame))?;
        tokio::select! {
            number = stops.next() => return Ok(ScreenEnd::Signal(number)),
            event = input.next() => {
                let Some((event, read_at)) = event else {
                    return Ok(ScreenEnd::Finished);
                };
                let screen = guard.area()?;
                match take(&mut state, &event, screen) {
                    Some(StudentAction::Order(order)) => {
                        state.message = student.order_at(order, read_at).await.err().map(Message::trouble);
                    }
                    Some(StudentAction::Host(deed)) => {
                        let Some(host) = host else { continue };
                        let ends = deed == HostDeed::Order(HostOrder::End);
                        let came = deeds::carry_out(host, deed, NO_CALL).await;
                        if ends && matches!(came, Came::Done(_)) {
                            return Ok(ScreenEnd::Finished);
                        }
                        state.take_came(came);
                    }
                    Some(StudentAction::TakeKey(takes)) => {
                        let taken = student.take_key(takes).await;
                        state.message = taken.err().map(Message::trouble).or(state.message);
                    }
                    Some(StudentAction::SomebodyElse(name)) => {
                        return Ok(ScreenEnd::SomebodyElse(name));
                    }
                    Some(StudentAction::Listen(wanted)) => {
                        state.message = student.listen(wanted).await.err().map(Message::trouble);
                    }
                    Some(StudentAction::Calibrate) => {
                        state.message = student.calibrate().await.err().map(Message::trouble);
                    }
                    Some(StudentAction::Passphrase(passphrase)) => {
                        let given = student.give_passphrase(passphrase);
                        state.message = given.err().map(Message::trouble).or(state.message);
                    }
                    Some(StudentAction::NewKey) => {
                        state.message = student.take_new_key().err().map(Message::trouble);
                    }
                    Some(StudentAction::ByItself(wanted)) => {
                        if let Some(pace) = pace {
                            pace.set(wanted.then(|| pace.usual()));
                        }
                    }
                    Some(StudentAction::Leave) => return Ok(ScreenEnd::Finished),
                    None => {}
                }
            }
            changed = views.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                let view = views.borrow_and_update().clone();
                // What led to it was told first, and is first taken away: not what is told from now on.
                while let Ok(event) = events.try_recv() {
                    state.take_event(&event);
                }
                state.set_view(view);
            }
            event = events.recv() => {
                match event {
                    Ok(event) => state.take_event(&event),
                    Err(RecvError::Lagged(_)) => {}
                    Err(RecvError::Closed) => return Ok(ScreenEnd::Finished),
                }
            }
            changed = statuses.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                state.status = statuses.borrow_and_update().clone();
                state.tell_status();
            }
            Ok(()) = key_talks.changed() => {
                state.set_key_talk(key_talks.borrow_and_update().clone());
            }
            changed = troubles.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                if let Some(trouble) = troubles.borrow_and_update().clone() {
                    state.tell_no_sound(&trouble);
                }
            }
            changed = ears.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                state.set_ear(ears.borrow_and_update().clone());
            }
            heard = feeds::next(&mut feeds) => state.take_heard(heard),
            _ = tick.tick() => {}
        }
    }
}

fn take(state: &mut StudentState, event: &Event, screen: Rect) -> Option<StudentAction> {
    match event {
        Event::Key(key) => state.handle_key(key),
        Event::Mouse(mouse) => state.handle_mouse(mouse, screen),
        Event::Paste(text) => {
            state.handle_paste(text);
            None
        }
        // A resize only needs the next drawing.
        _ => None,
    }
}

/// How a phone gets in, behind the rest.
fn by_phone(host: &Host) -> String {
    host.invite()
        .map_or_else(String::new, |invite| match invite.words {
            Some(words) => format!(". By phone: {} and the words {words}", invite.address),
            None => format!(". By phone: {}", invite.address),
        })
}
