//! What the student's screen says: what to do now, and how the connection is.

use core::time::Duration;

use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::terminal::TerminalCall;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::words::{as_sentence, sentence};
use fifthpeg_student::ear::EarState;
use fifthpeg_student::{NOT_FOUND, Status};

use super::alone;
use super::state::StudentState;
use crate::theme::Tint;
use crate::words::short_mark;

/// What to do now, in one sentence of so many columns where that can be.
pub fn now(state: &StudentState, columns: usize) -> (String, Tint) {
    if state.is_over() {
        let revealed = state.shown_call().and_then(|call| call.revealed.as_ref());
        let shown = revealed.map_or_else(String::new, |(pitch, places)| {
            format!(" {}", state.writing().revealed(*pitch, places))
        });
        let over = if state.view.removed {
            "The host has taken you out of this lesson: it is over for you."
        } else {
            "The lesson is over."
        };
        return (format!("{over}{shown}"), Tint::Strong);
    }
    if state.view.welcome.is_none() {
        let mut told = state.status.to_string();
        if state.looks_long() {
            told.push(' ');
            told.push_str(NOT_FOUND);
        }
        return (told, Tint::Strong);
    }
    let Some(call) = state.current_call() else {
        return (between_calls(state), Tint::Strong);
    };
    if call.stage == CallStage::Revealed {
        let (pitch, places) = match &call.revealed {
            Some((pitch, places)) => (*pitch, places.as_slice()),
            None => return ("The note is shown.".to_owned(), Tint::Strong),
        };
        let shown = state.writing().revealed(pitch, places);
        // Alone the note is shown as soon as it is found.
        let found = if call.found && state.alone().is_some() {
            "Found. "
        } else {
            ""
        };
        // Among friends the next may call as soon as the note is shown.
        let next = match &state.view.turn {
            Some((_, true)) if state.alone().is_none() => " Your turn to call.".to_owned(),
            Some((caller, false)) if state.alone().is_none() => format!(" {caller} calls next."),
            _ => String::new(),
        };
        let told = format!("{found}{shown}{next}");
        if told.chars().count() <= columns {
            return (told, Tint::Target);
        }
        return (format!("{found}{shown}"), Tint::Target);
    }
    if call.you_call {
        return (caller_waits(state, call), Tint::Strong);
    }
    if call.place_wanted.is_some() {
        let text = "Heard it: which place was it? Left and Right choose, Space answers.";
        return (text.to_owned(), Tint::Strong);
    }
    if call.found && state.alone().is_some() {
        return ("Found.".to_owned(), Tint::Right);
    }
    if call.found {
        return ("Found. Wait for the others.".to_owned(), Tint::Right);
    }
    match call.answers.last() {
        // Told soon enough in most cases: nothing to read meanwhile.
        Some((_, None)) if state.view.connected && !state.waits_long() => {
            ("Answered.".to_owned(), Tint::Tried)
        }
        Some((_, None)) if state.view.connected => (
            "Answered. It waits to be written down by the host, and is kept here.".to_owned(),
            Tint::Tried,
        ),
        Some((_, None)) => (
            "Answered. It is kept here, and sent when the connection is back.".to_owned(),
            Tint::Tried,
        ),
        Some((_, Some(mark @ Mark::Missed(_)))) => {
            let hint = call.hint.as_deref().map(as_sentence);
            (hint.unwrap_or_else(|| missed(mark, columns)), Tint::Missed)
        }
        _ if call.waiting_to_ask => (
            "A note is called. Press h to hear it.".to_owned(),
            Tint::Strong,
        ),
        _ if call.started.is_some_and(|start| start > state.now) => {
            ("Listen.".to_owned(), Tint::Strong)
        }
        None if sings_first(state, call) => {
            let text = "Sing the note first, if you like. Then search, and answer.";
            (text.to_owned(), Tint::Strong)
        }
        _ => (search(state), Tint::Strong),
    }
}

fn listens(state: &StudentState) -> bool {
    let ear = state.ear.as_ref();
    ear.is_some_and(|ear| ear.state == EarState::Listening)
}

/// How to go about it: with the instrument, once it is listened to.
fn search(state: &StudentState) -> String {
    if !listens(state) {
        return "Search, then answer.".to_owned();
    }
    let often = match state.times {
        1 => String::new(),
        2 => " twice".to_owned(),
        times => format!(" {times} times"),
    };
    format!("Search, then pluck the note{often} to answer.")
}

/// Whether singing is still worth inviting to: nothing sung or tried yet.
fn sings_first(state: &StudentState, call: &TerminalCall) -> bool {
    let welcome = state.view.welcome.as_ref();
    let invited = welcome.is_some_and(|welcome| welcome.rules.sing_first);
    invited && call.is_unsung()
}

/// As much as fits: what the miss was matters more than what to do next.
fn missed(mark: &Mark, columns: usize) -> String {
    let what = format!("Not found yet: {}.", sentence(mark));
    let full = format!("{what} Search on, then answer again.");
    if full.len() <= columns {
        full
    } else if what.len() <= columns {
        what
    } else {
        format!("Not found yet: {}.", short_mark(mark))
    }
}

fn between_calls(state: &StudentState) -> String {
    if let Some(alone) = state.alone() {
        return alone::between_calls(state, alone);
    }
    match &state.view.turn {
        Some((_, true)) if listens(state) => {
            "Your turn to call: play a note, or Enter calls a place, n any note.".to_owned()
        }
        Some((_, true)) => "Your turn to call: Enter calls a place, n any note.".to_owned(),
        Some((caller, false)) => format!("Listen: {caller} calls next."),
        None if !state.view.owed.is_empty() => {
            "Listen for the next call. An answer still waits for the host's word.".to_owned()
        }
        None => "Listen for the next call.".to_owned(),
    }
}

fn caller_waits(state: &StudentState, call: &TerminalCall) -> String {
    use fifthpeg_lesson::message::Progress;
    let found = call.progress.iter().filter(|(_, p)| *p == Progress::Found);
    let (found, all) = (found.count(), call.progress.len());
    if all > 0 && found == all {
        "Everyone found it: r reveals, x closes.".to_owned()
    } else if all == 0 {
        "You called, and nobody else is here yet.".to_owned()
    } else {
        let names = state.writing().names;
        let name = |pitch| state.writing().pitch(pitch);
        let called = match call.target {
            Some((pitch, Some(place))) if names => format!("{} at {place}", name(pitch)),
            Some((_, Some(place))) => place.to_string(),
            Some((pitch, None)) if names => name(pitch),
            _ => "this note".to_owned(),
        };
        format!("You called {called}. The others search.")
    }
}

/// How the connection is, short enough for a corner.
pub fn connection(state: &StudentState) -> (String, Tint) {
    let theme = state.theme();
    if state.is_over() {
        return ("no longer in the lesson".to_owned(), Tint::Strong);
    }
    if state.view.connected && state.alone().is_some() {
        return ("alone, no network".to_owned(), Tint::Faint);
    }
    if state.view.connected {
        let clock = state.view.clock_uncertainty.map(|u| {
            let sign = theme.signs().plus_minus;
            format!(", clock {sign}{}", milliseconds(u))
        });
        let clock = clock.unwrap_or_default();
        // Said all the time, and loudly where anyone may listen in.
        return match &state.status {
            Status::In { locked: false, .. } => {
                (format!("open, not encrypted{clock}"), Tint::Caution)
            }
            Status::In { locked: true, .. } => (format!("locked{clock}"), Tint::Faint),
            _ => (format!("connected{clock}"), Tint::Faint),
        };
    }
    let text = match &state.status {
        Status::Finding { .. } => "looking for the lesson",
        Status::Connecting { .. } => "connecting",
        Status::In { .. } | Status::Inside => "joining",
        Status::Lost { .. } => "connection lost, coming back",
        Status::Several { .. } => "several lessons",
        Status::PassphraseWanted { .. } => "locked",
        Status::InLine => "waiting in line",
        Status::KeyChanged { .. } => "the host's key changed",
        Status::OpenInstead => "open, not locked",
        Status::TooOld { .. } => "program too old",
        Status::Refused(_) => "not let in",
        Status::Ended => "lesson over",
        Status::Removed => "taken out",
        Status::Left => "left",
        _ => "not connected",
    };
    (text.to_owned(), Tint::Caution)
}

/// Rounded up, so that an uncertainty never looks smaller than it is.
fn milliseconds(time: Duration) -> String {
    let tenths = time.as_micros().div_ceil(100).max(1);
    format!("{}.{} ms", tenths / 10, tenths % 10)
}
