//! What a student's terminal shows, as lines: what is new since the last look.

use std::sync::Arc;

use fifthpeg_core::Spelling;
use fifthpeg_lesson::terminal::{Listening, TerminalCall, TerminalView};
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::words;
use fifthpeg_student::Status;
use fifthpeg_student::ear::EarStatus;

use crate::plain::say::{Say, Word};
use crate::plain::{describe, ear_report, rules};
use crate::text;

/// Turns the terminal's view into lines.
#[derive(Default)]
pub struct StudentReport {
    last: Option<Arc<TerminalView>>,
    status: Option<Status>,
    lost: bool,
    /// It was said that the lesson is looked for.
    looking: bool,
    /// How often a note is plucked in a row to answer with it.
    times: u8,
}

impl StudentReport {
    /// For a student whose notes answer when plucked so often in a row.
    pub fn new(times: u8) -> Self {
        Self {
            times,
            ..Self::default()
        }
    }

    /// Says what has changed since the view before.
    pub fn view(&mut self, view: &Arc<TerminalView>, say: &mut Say) {
        let old = self.last.replace(Arc::clone(view));
        let old = old.as_deref();
        let spelling = spelling(view);
        let before = old.and_then(|old| old.call.as_ref());
        let same = matches!((before, &view.call), (Some(a), Some(b)) if a.id == b.id);
        // What changes in a call comes before new rules, and a new call after.
        if !same {
            if let (Some(before), Some(_)) = (before, &view.call)
                && before.stage != CallStage::Closed
            {
                // It was over so soon before the next that nobody looked.
                say_closed(before, say);
            }
            self.welcome(old, view, say);
        }
        if let Some(call) = &view.call {
            say_call(before.filter(|_| same), call, spelling, say);
            let invited = view.welcome.as_ref().is_some_and(|w| w.rules.sing_first);
            if !same && invited && call.stage == CallStage::Open && !call.you_call {
                say.say(Word::Hint, "sing the note first, if you like");
            }
        }
        self.plucked(old, view, say);
        if same {
            self.welcome(old, view, say);
        }
        if old.is_none_or(|old| old.turn != view.turn) {
            match &view.turn {
                Some((_, true)) => say.say(Word::Turn, "you"),
                Some((name, false)) => say.say(Word::Turn, name),
                None => {}
            }
        }
        if let (Some(name), Some(old)) = (&view.friend_left, old)
            && old.friends_left != view.friends_left
        {
            say.say(Word::Left, name);
        }
        if let Some(refusal) = &view.last_refusal
            && old.is_none_or(|old| old.refusals != view.refusals)
        {
            say.error(None, refusal);
        }
    }

    /// Says what the microphone heard of the instrument.
    fn plucked(&self, old: Option<&TerminalView>, view: &TerminalView, say: &mut Say) {
        let spelling = spelling(view);
        let call = view.call.as_ref();
        let before = old.and_then(|old| old.call.as_ref());
        let before = before.filter(|before| call.is_some_and(|call| call.id == before.id));
        let heard_before = old.and_then(|old| old.heard).map(|heard| heard.id);
        if let Some(heard) = view.heard.filter(|heard| Some(heard.id) != heard_before) {
            let note = heard.pitch.ascii_name(spelling);
            let running = call.and_then(|call| call.running);
            say.say(
                Word::Plucked,
                match (running, view.offered) {
                    (_, Some(_)) => format!("{note}: type pick heard to call it"),
                    (Some((pitch, _)), _) if pitch == heard.pitch && view.is_off_neck(pitch) => {
                        format!("{note}, not on this neck: not counted")
                    }
                    (Some((pitch, count)), _) if pitch == heard.pitch => {
                        let count = count.min(self.times);
                        format!("{note}, {count} of {} in a row to answer", self.times)
                    }
                    _ => note,
                },
            );
        }
        let Some(call) = call else { return };
        let wanted_before = before.and_then(|before| before.place_wanted.as_ref());
        if let Some((pitch, places)) = &call.place_wanted
            && wanted_before != call.place_wanted.as_ref()
        {
            let places: Vec<String> = places.iter().map(ToString::to_string).collect();
            let places: Vec<&str> = places.iter().map(String::as_str).collect();
            say.say(
                Word::Plucked,
                format!(
                    "{}: which place was it? answer {}",
                    pitch.ascii_name(spelling),
                    text::list_or(&places)
                ),
            );
        }
        if let Some(sung) = &call.sung
            && before.is_none_or(|before| before.sung != call.sung)
        {
            say.say(Word::Sung, describe::sung(sung));
        }
    }

    /// Says that something played was not counted, while it could have been.
    pub fn doubt(&self, before: &EarStatus, now: &EarStatus, view: &TerminalView, say: &mut Say) {
        let call = view.call.as_ref();
        let answers = call.is_some_and(|c| c.stage == CallStage::Open && !c.you_call && !c.found);
        let calls = matches!(view.turn, Some((_, true)));
        if (answers || calls)
            && view.listening == Listening::On
            && let Some(doubt) = ear_report::new_doubt(Some(before), now)
        {
            say.say(Word::Plucked, format!("nothing: {doubt}"));
        }
    }

    fn welcome(&self, old: Option<&TerminalView>, view: &TerminalView, say: &mut Say) {
        let Some(welcome) = &view.welcome else { return };
        match old.and_then(|old| old.welcome.as_ref()) {
            None => {
                say.say(Word::Lesson, &welcome.rules.lesson);
                say.say(Word::Joined, &welcome.name);
                rules::say_all(&welcome.rules, say);
            }
            Some(before) => {
                if before.name != welcome.name {
                    say.say(Word::Joined, &welcome.name);
                }
                rules::say_changes(&before.rules, &welcome.rules, say);
            }
        }
    }

    /// Says how the terminal stands with its lesson: a loss once, and not each
    /// time it is tried again.
    pub fn status(&mut self, status: &Status, say: &mut Say) {
        if self.status.as_ref() == Some(status) {
            return;
        }
        self.status = Some(status.clone());
        let say_it = match status {
            Status::Lost { .. } => !std::mem::replace(&mut self.lost, true),
            Status::Finding { .. } if self.lost => !std::mem::replace(&mut self.looking, true),
            Status::Connecting { addresses } => !self.lost && !addresses.is_empty(),
            Status::Ended | Status::Left => false,
            Status::In { .. } => {
                (self.lost, self.looking) = (false, false);
                true
            }
            // Nothing else was to be expected.
            Status::Inside => {
                self.looking = false;
                std::mem::replace(&mut self.lost, false)
            }
            _ => true,
        };
        if say_it {
            say.say(Word::Link, status.to_string());
        }
        match status {
            Status::PassphraseWanted { .. } => say.say(
                Word::Hint,
                "type passphrase and the words that the host shows",
            ),
            Status::KeyChanged { .. } => {
                say.say(Word::Hint, "type new-key to go on all the same, or leave")
            }
            _ => {}
        }
    }
}

/// How the lesson spells its notes; sharps until it is known.
pub fn spelling(view: &TerminalView) -> Spelling {
    view.welcome
        .as_ref()
        .map_or(Spelling::default(), |w| describe::spelling(&w.rules))
}

fn say_call(known: Option<&TerminalCall>, call: &TerminalCall, spelling: Spelling, say: &mut Say) {
    let number = call.number;
    if known.is_none() {
        let how = match (&call.caller, call.you_call) {
            (_, true) => "sounding, called by you".to_owned(),
            _ if call.waiting_to_ask => "waiting: type hear to sound it".to_owned(),
            (Some(name), false) => format!("sounding, called by {name}"),
            (None, false) => "sounding".to_owned(),
        };
        say.say(Word::Call, format!("{number} {how}"));
    }
    for (index, (answer, mark)) in call.answers.iter().enumerate() {
        let before = known.and_then(|known| known.answers.get(index));
        let told = before.is_some_and(|(_, mark)| mark.is_some());
        if let (Some(mark), false) = (mark, told) {
            let answer = words::answer(*answer, spelling);
            say.say(Word::Mark, format!("{answer} {}", describe::mark(mark)));
        }
    }
    if call.you_call {
        for (name, progress) in &call.progress {
            let before = known.and_then(|known| known.progress.iter().find(|(n, _)| n == name));
            if before.is_none_or(|(_, before)| before != progress) {
                say.say(Word::Who, format!("{name}: {}", words::progress(*progress)));
            }
        }
    }
    if let Some((pitch, places)) = &call.revealed
        && known.is_none_or(|known| known.revealed.is_none())
    {
        say.say(Word::Reveal, describe::reveal(*pitch, places, spelling));
    }
    if call.stage == CallStage::Closed && known.is_none_or(|known| known.stage != CallStage::Closed)
    {
        say_closed(call, say);
    }
}

fn say_closed(call: &TerminalCall, say: &mut Say) {
    let outcome = match (call.you_call, call.found) {
        (true, _) => "called by you",
        (false, true) => "found",
        (false, false) => "not found",
    };
    say.say(Word::Closed, format!("call {}: {outcome}", call.number));
}

/// Says the note of the call that is this student's own.
///
/// # Errors
/// One sentence, if there is none.
pub fn target(view: &TerminalView, say: &mut Say) -> Result<(), String> {
    let open = view.call.as_ref().filter(|c| c.stage != CallStage::Closed);
    let call = open.ok_or("no call is open: on your turn, type pick to make one")?;
    let (pitch, place) = call
        .target
        .ok_or("only the one who called knows the note: listen and search")?;
    say.say(Word::Target, describe::target(pitch, place, spelling(view)));
    Ok(())
}

/// Where the student stands with the open call, in a sentence.
pub fn where_now(view: &TerminalView) -> String {
    let spelling = spelling(view);
    let Some(call) = &view.call else {
        return "no call yet: wait for the first one".to_owned();
    };
    let number = call.number;
    if let Some((pitch, places)) = &call.revealed {
        return format!(
            "call {number} was {}",
            describe::reveal(*pitch, places, spelling)
        );
    }
    let list = |answers: Vec<String>| {
        if answers.is_empty() {
            "none".to_owned()
        } else {
            answers.join(" ")
        }
    };
    let answers = call
        .answers
        .iter()
        .map(|(answer, mark)| {
            let answer = words::answer(*answer, spelling);
            match mark {
                Some(mark) => format!("{answer} ({})", describe::mark(mark)),
                None => format!("{answer} (not marked yet)"),
            }
        })
        .collect();
    let tries = call
        .tries
        .iter()
        .map(|answer| words::answer(*answer, spelling))
        .collect();
    let stage = match (call.stage, call.found, call.you_call) {
        (_, _, true) => "called by you",
        (_, true, false) => "found",
        (CallStage::Open, false, false) => "open, not found yet",
        (CallStage::Revealed | CallStage::Closed, false, false) => "over, not found",
    };
    format!(
        "call {number}: {stage}; answers: {}; tries: {}; hearings: {}",
        list(answers),
        list(tries),
        call.hearings
    )
}

/// How well this terminal knows the host's clock, in a sentence; nothing while it
/// does not.
pub fn clock(view: &TerminalView) -> Option<String> {
    let known = view.clock_uncertainty.filter(|_| view.connected)?;
    let ms = known.as_micros().div_ceil(1000);
    Some(format!("the host's clock is known within {ms} ms"))
}

#[cfg(test)]
mod tests;
