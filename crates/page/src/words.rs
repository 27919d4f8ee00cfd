//! What the page says of a call: what to do now.

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Progress, Rules};
use fifthpeg_lesson::terminal::{TerminalCall, TerminalView};
use fifthpeg_lesson::view::CallStage;
pub(crate) use fifthpeg_lesson::words::answer;
use fifthpeg_lesson::words::{self, as_sentence, sentence};

pub(crate) fn revealed(pitch: Pitch, places: &[Position], rules: &Rules) -> String {
    words::revealed(Some(&pitch.name(rules.spelling())), places)
}

const YOUR_TURN: &str = "Your turn to call: choose a place, or let one be picked.";

/// What to do now.
pub(crate) fn now(view: &TerminalView, rules: &Rules, started: bool) -> String {
    let Some(call) = view.current_call() else {
        let between = match &view.turn {
            Some((_, true)) => YOUR_TURN.to_owned(),
            Some((caller, false)) => format!("Listen: {caller} calls next."),
            None if !view.owed.is_empty() => {
                "Listen for the next call. An answer still waits for the host's word.".to_owned()
            }
            None => "Listen for the next call.".to_owned(),
        };
        return match &view.call {
            // What was shown is still to be read when the call is over.
            Some(TerminalCall {
                revealed: Some((pitch, places)),
                ..
            }) => {
                format!("{} {between}", revealed(*pitch, places, rules))
            }
            _ => between,
        };
    };
    if let (CallStage::Revealed, Some((pitch, places))) = (call.stage, &call.revealed) {
        let shown = revealed(*pitch, places, rules);
        return match &view.turn {
            Some((_, true)) => format!("{shown} {YOUR_TURN}"),
            _ => shown,
        };
    }
    if call.you_call {
        let found = call
            .progress
            .iter()
            .filter(|(_, p)| *p == Progress::Found)
            .count();
        return match call.progress.len() {
            0 => "You called. The others search.".to_owned(),
            all if all == found => {
                "Everyone found it: show the note, or close the call.".to_owned()
            }
            all => format!("You called. {found} of {all} found it."),
        };
    }
    if call.found {
        return "Found. Wait for the others.".to_owned();
    }
    match call.answers.last() {
        Some((_, None)) if view.connected => "Answered.".to_owned(),
        Some((_, None)) => {
            "Answered. It is kept here, and sent when the connection is back.".to_owned()
        }
        Some((_, Some(mark @ Mark::Missed(_)))) => {
            if let Some(hint) = &call.hint {
                return as_sentence(hint);
            }
            format!(
                "Not found yet: {}. Search on, then answer again.",
                sentence(mark)
            )
        }
        _ if call.waiting_to_ask => "A note is called. Tap Hear it again.".to_owned(),
        _ if !started => "Listen.".to_owned(),
        _ if rules.sing_first && call.is_unsung() => {
            "Sing the note first, if you like. Then search, and answer.".to_owned()
        }
        _ => "Tap the neck to try a place, then tap Answer.".to_owned(),
    }
}
