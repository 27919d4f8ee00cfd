//! Shows the student's screen until the lesson ends or the student leaves.

use std::time::Duration;

use crossterm::event::Event;
use fifthpeg_student::Student;
use ratatui::layout::Rect;
use tokio::time::{MissedTickBehavior, interval};

use super::draw;
use super::state::{StudentAction, StudentState};
use crate::screen::guard::{self, TerminalGuard};
use crate::screen::input::{Input, Stops};
use crate::screen::options::{ScreenEnd, ScreenError, ScreenOptions};
use crate::screen::parts::Message;

/// How often the screen is drawn anew without cause, for the moment when a
/// call's first hearing begins.
const TICK: Duration = Duration::from_millis(250);

/// Shows the student's screen until the lesson ends, the student leaves, or a
/// signal stops it. The terminal itself is left for the caller to end.
///
/// # Errors
/// If the terminal cannot be used, or something panicked. The terminal is as
/// it was before in every case.
pub async fn run(student: &Student, options: ScreenOptions) -> Result<ScreenEnd, ScreenError> {
    let mut views = student.view();
    let mut statuses = student.status();
    let mut troubles = student.sound_trouble();
    let first = views.borrow_and_update().clone();
    let status = statuses.borrow_and_update().clone();
    let mut state = StudentState::new(first, status, options);
    let mut stops = Stops::listen()?;
    let mut guard = TerminalGuard::take()?;
    let mut input = Input::begin()?;
    let mut tick = interval(TICK);
    tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        if guard::has_fault() {
            return Err(ScreenError::Fault);
        }
        if state.view.ended || state.status.is_final() {
            return Ok(ScreenEnd::Finished);
        }
        state.now = student.now();
        guard.terminal().draw(|frame| draw::draw(&state, frame))?;
        tokio::select! {
            number = stops.next() => return Ok(ScreenEnd::Signal(number)),
            event = input.next() => {
                let Some((event, read_at)) = event else {
                    return Ok(ScreenEnd::Finished);
                };
                let size = guard.terminal().size()?;
                let screen = Rect::new(0, 0, size.width, size.height);
                match take(&mut state, &event, screen) {
                    Some(StudentAction::Order(order)) => {
                        state.message = student.order_at(order, read_at).await.err().map(Message::trouble);
                    }
                    Some(StudentAction::Leave) => return Ok(ScreenEnd::Finished),
                    None => {}
                }
            }
            changed = views.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                state.set_view(views.borrow_and_update().clone());
            }
            changed = statuses.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                state.status = statuses.borrow_and_update().clone();
                state.tell_status();
            }
            changed = troubles.changed() => {
                if changed.is_err() {
                    return Ok(ScreenEnd::Finished);
                }
                if let Some(trouble) = troubles.borrow_and_update().clone() {
                    state.message = Some(Message::trouble(trouble));
                }
            }
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
