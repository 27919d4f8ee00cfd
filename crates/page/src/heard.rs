//! What the page says of what was plucked.

use fifthpeg_core::Pitch;
use fifthpeg_lesson::message::Rules;
use fifthpeg_lesson::terminal::{HandsFree, TerminalView};
use fifthpeg_lesson::words::to_be_counted;

use crate::view::{calls, listens};

/// What a tap would do with it.
pub(crate) fn order(view: &TerminalView) -> &'static str {
    let heard = view.heard.filter(|_| listens(view));
    match heard {
        Some(heard) if view.is_off_neck(heard.pitch) => "",
        Some(_) if calls(view) => "call",
        Some(_) => "answer",
        None => "",
    }
}

/// What was plucked last, and what it takes to answer with it.
pub(crate) fn words(view: &TerminalView, rules: &Rules) -> String {
    let note = |pitch: Pitch| pitch.name(rules.spelling());
    let (listens, calls) = (listens(view), calls(view));
    let call = view.call.as_ref().filter(|_| listens && !calls);
    if let Some((pitch, _)) = call.and_then(|call| call.place_wanted.as_ref()) {
        return format!("Heard {}: choose where you played it.", note(*pitch));
    }
    let Some(last) = view.heard.filter(|_| listens) else {
        return String::new();
    };
    if view.is_off_neck(last.pitch) {
        return format!("Heard {}, not on this neck: not counted.", note(last.pitch));
    }
    let uncounted = view.uncounted.filter(|one| one.id == last.id && !calls);
    if let Some(uncounted) = uncounted {
        let help = match uncounted.in_a_row {
            0 | 1 => to_be_counted(uncounted.why),
            _ => "tap Answer with it",
        };
        return format!("Heard {}, not counted: {help}.", note(uncounted.pitch));
    }
    let times = HandsFree::default().times;
    match call.and_then(|call| call.running) {
        Some((pitch, count)) if count < times => {
            format!("Heard {}: once more to answer.", note(pitch))
        }
        _ => format!("Heard {}.", note(last.pitch)),
    }
}
