//! Shows the host's screen until the lesson ends.

use std::time::Duration;

use crossterm::event::Event;
use fifthpeg_front::stops::Stops;
use fifthpeg_host::Host;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_sound::tone_length;
use fifthpeg_student::instrument::Instrument;
use ratatui::layout::Rect;
use tokio::sync::broadcast::error::RecvError;
use tokio::time::{MissedTickBehavior, interval};

use super::deeds::{self, Came, HostDeed};
use super::draw;
use super::layers::HostAction;
use super::news;
use super::people;
use super::state::HostState;
use crate::door::DoorShown;
use crate::guard::{self, TerminalGuard};
use crate::input::ScreenInput;
use crate::options::{ScreenEnd, ScreenError, ScreenOptions};
use crate::parts::Message;

/// How often the clock on the screen moves on.
const TICK: Duration = Duration::from_millis(250);

const NO_CALL: &str = "No call is open: n calls any note of the reach, c one by hand.";

/// Shows the host's screen until the lesson ends or a signal stops it.
/// `joining` is one line that says how students join, beside who gets in. The lesson itself is left
/// for the caller to end.
///
/// # Errors
/// If the terminal cannot be used, or something panicked. The terminal is as
/// it was before in every case.
pub async fn run(
    host: &Host,
    mut instrument: Instrument,
    (joining, door): (String, DoorShown),
    options: ScreenOptions,
) -> Result<ScreenEnd, ScreenError> {
    let mut views = host.view();
    let first = views.borrow_and_update().clone();
    let Some(mut state) = HostState::new(first, joining, options) else {
        return Err(ScreenError::Fault);
    };
    state = state.with_door(door);
    let mut books = host.book();
    state.book = books.borrow_and_update().clone();
    if let Some(trouble) = state.book.trouble() {
        state.message = Some(Message::trouble(trouble));
    }
    let mut ears = instrument.status();
    if instrument.is_asked_for() {
        state = state.with_ear(ears.borrow_and_update().clone());
    }
    instrument.tune(&state.view.rules);
    let mut stops = Stops::listen()?;
    let mut events = host.events();
    let mut notices = host.notices();
    let mut guard = TerminalGuard::take()?;
    let mut input = ScreenInput::begin()?;
    let mut tick = interval(TICK);
    tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        if guard::has_fault() {
            return Err(ScreenError::Fault);
        }
        if state.view.ended {
            return Ok(ScreenEnd::Finished);
        }
        state.now = host.now();
        state.mind_stuck();
        state.network = host.counts();
        guard.draw(|frame| draw::draw(&state, frame))?;
        tokio::select! {
            number = stops.next() => return Ok(ScreenEnd::Signal(number)),
            event = input.next() => {
                let Some((event, _)) = event else {
                    return Ok(ScreenEnd::Finished);
                };
                let screen = guard.area()?;
                match take(&mut state, &event, screen) {
                    Some(HostAction::Host(deed)) => {
                        let calls = matches!(
                            deed,
                            HostDeed::Order(
                                HostOrder::CallAt(_)
                                    | HostOrder::CallPlayed(_)
                                    | HostOrder::CallRandom
                            )
                        );
                        let came = deeds::carry_out(host, deed, NO_CALL).await;
                        if calls && matches!(came, Came::Done(_)) {
                            state.offers.clear();
                        }
                        state.take_came(came);
                    }
                    Some(HostAction::Listen(wanted)) => {
                        state.message = instrument.listen(wanted).err().map(Message::trouble);
                    }
                    Some(HostAction::Calibrate) => {
                        state.message = instrument.calibrate().err().map(Message::trouble);
                    }
                    None => {}
                }
            }
            Ok(()) = books.changed() => state.book = books.borrow_and_update().clone(),
            changed = views.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                state.set_view(views.borrow_and_update().clone());
            }
            heard = instrument.next() => state.take_heard(&heard),
            changed = ears.changed() => {
                if changed.is_ok() && instrument.is_asked_for() {
                    state.set_ear(ears.borrow_and_update().clone());
                }
            }
            event = events.recv() => match event {
                Ok(event) => {
                    if let LessonEvent::HostSound { tone, start, .. } = &event {
                        let from = std::time::Instant::now() + start.since(host.now());
                        let length = tone_length(tone.voice);
                        state.offers.own_tone(from, length);
                        instrument.own_tone(from, length);
                    }
                    if let Some(text) = news::of(&event, &state.view) {
                        state.message = Some(Message::news(text));
                    }
                }
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return Ok(ScreenEnd::Finished),
            },
            notice = notices.recv() => match notice {
                Ok(notice) => state.message = Some(people::notice(&notice)),
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return Ok(ScreenEnd::Finished),
            },
            _ = tick.tick() => {}
        }
    }
}

fn take(state: &mut HostState, event: &Event, screen: Rect) -> Option<HostAction> {
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
