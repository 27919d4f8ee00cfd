//! Shows the screen until the student leaves it.

use std::time::{Duration, Instant};

use crossterm::event::Event;
use fifthpeg_front::stops::Stops;
use fifthpeg_listen::trim::{BOTH_ENDS, TrimBench};
use fifthpeg_listen::trims::shown_ms;
use fifthpeg_listen::words;
use fifthpeg_listen::works::{FromWorks, Works};
use fifthpeg_sound::Trim;
use tokio::time::{MissedTickBehavior, interval};

use super::draw;
use super::state::{Layer, ListenAction, ListenState};
use crate::guard::{self, TerminalGuard};
use crate::input::ScreenInput;
use crate::options::{ScreenEnd, ScreenError};
use crate::parts::Message;
use fifthpeg_lesson::words::as_sentence;

/// How often what has faded away goes from the screen.
const TICK: Duration = Duration::from_millis(100);

/// Shows the screen until the student leaves it or a signal stops it.
///
/// # Errors
/// If the terminal cannot be used, or something panicked. The terminal is as
/// it was before in every case.
pub async fn run(works: &mut Works, mut state: ListenState) -> Result<ScreenEnd, ScreenError> {
    let mut stops = Stops::listen()?;
    let mut guard = TerminalGuard::take()?;
    let mut input = ScreenInput::begin()?;
    let mut tick = interval(TICK);
    tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
    loop {
        if guard::has_fault() {
            return Err(ScreenError::Fault);
        }
        state.now = Instant::now();
        state.measuring = works.measuring(state.now);
        state.trim = works.trim().short();
        state.trim_words = works.trim().words();
        guard.draw(|frame| draw::draw(&state, frame))?;
        tokio::select! {
            number = stops.next() => return Ok(ScreenEnd::Signal(number)),
            event = input.next() => {
                let Some((event, _)) = event else {
                    return Ok(ScreenEnd::Finished);
                };
                let Event::Key(key) = event else { continue };
                match state.handle_key(&key) {
                    Some(ListenAction::Leave) => return Ok(ScreenEnd::Finished),
                    Some(action) => act(action, works, &mut state),
                    None => {}
                }
            }
            news = works.next() => {
                state.now = Instant::now();
                take(news, works, &mut state);
            }
            _ = tick.tick() => {}
        }
    }
}

fn act(action: ListenAction, works: &mut Works, state: &mut ListenState) {
    let done = match action {
        ListenAction::Sound(hz) => works.sound(hz).map(|until| state.sounded(until)),
        ListenAction::Room => works.measure_room(),
        ListenAction::Delay => works.measure_loop(),
        ListenAction::KeepTrim => works.change_trim(TrimBench::keep).map(|()| {
            state.message = Some(Message::news(as_sentence(&works.trim().words())));
        }),
        ListenAction::ForgetTrim => works.change_trim(TrimBench::remove).map(|()| {
            state.message = Some(Message::news(as_sentence(&works.trim().words())));
        }),
        ListenAction::Leave => Ok(()),
    };
    if let Err(why) = done {
        state.message = Some(Message::trouble(as_sentence(&why)));
    }
}

fn take(news: FromWorks, works: &mut Works, state: &mut ListenState) {
    match news {
        FromWorks::Heard(hearing) => state.take(&hearing),
        FromWorks::Loop(Ok(found)) => {
            let lines = words::delay(found.delay_ms, found.uncertainty, found.clearness_db);
            let mut lines: Vec<String> = lines.iter().map(|l| as_sentence(l)).collect();
            let trim = works.found(&found);
            if let Some(trim) = trim {
                lines.push(as_sentence(BOTH_ENDS));
                let does = if trim == Trim::NONE {
                    "forgets this output's trim, which is what is out".to_owned()
                } else {
                    format!(
                        "keeps {} ms as this output's trim",
                        shown_ms(trim.later_ms())
                    )
                };
                lines.push(format!("k {does}; any other key goes back."));
            } else {
                lines.push("Any key goes back.".to_owned());
            }
            state.layer = Layer::Told {
                lines,
                may_keep: trim.is_some(),
            };
        }
        FromWorks::Loop(Err(why)) | FromWorks::ListensAgain(Err(why)) => {
            state.message = Some(Message::trouble(as_sentence(&why)));
        }
        FromWorks::ListensAgain(Ok(())) => {}
    }
}
