//! What happens at a student's terminal, as lines.

use fifthpeg_core::Spelling;
use fifthpeg_core::text;
use fifthpeg_front::OPEN;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{CallId, Progress, Rules};
use fifthpeg_lesson::terminal::{AnswerOutcome, Ending, Listening, TerminalEvent, TerminalView};
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::words;
use fifthpeg_student::ear::EarStatus;
use fifthpeg_student::{KeyTalk, Status};
use fifthpeg_vocab::Choice;

use crate::say::{Say, Word};
use crate::{describe, ear_report, rules};

/// Turns what happens into lines. Nothing here looks at how things stand: the
/// lines come from what happened alone, so that they are the same however much
/// of it comes at once.
#[derive(Default)]
pub struct StudentReport {
    /// As said last.
    name: Option<String>,
    rules: Option<Box<Rules>>,
    turn: Option<(String, bool)>,
    progress: (Option<CallId>, Vec<(String, Progress)>),
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

    /// Says one thing that happened.
    pub fn take(&mut self, event: &TerminalEvent, say: &mut Say) {
        let spelling = self
            .rules
            .as_deref()
            .map_or(Spelling::default(), Rules::spelling);
        match event {
            TerminalEvent::Welcomed { name, rules } => self.welcome(Some(name), rules, say),
            TerminalEvent::Rules(rules) => self.welcome(None, rules, say),
            TerminalEvent::Called {
                call,
                caller,
                you_call,
                waits_to_be_asked,
                sing_first,
            } => {
                let how = match (caller, you_call) {
                    (_, true) => "sounding, called by you".to_owned(),
                    _ if *waits_to_be_asked => "waiting: type hear to sound it".to_owned(),
                    (Some(name), false) => format!("sounding, called by {name}"),
                    (None, false) => "sounding".to_owned(),
                };
                say.say(Word::Call, format!("{} {how}", call.0));
                if *sing_first {
                    say.say(Word::Hint, "sing the note first, if you like");
                }
            }
            // Whoever gave it knows.
            TerminalEvent::Given { .. } => {}
            TerminalEvent::Told {
                call,
                answer,
                outcome,
                late,
                hint,
                ..
            } => {
                let answer = words::answer(*answer, spelling);
                let of = if *late {
                    format!(", in call {}", call.0)
                } else {
                    String::new()
                };
                match (outcome, hint) {
                    (AnswerOutcome::Marked(_), Some(hint)) => {
                        say.say(Word::Mark, format!("{answer} missed: {hint}{of}"));
                    }
                    (AnswerOutcome::Marked(mark), None) => {
                        say.say(Word::Mark, format!("{answer} {}{of}", describe::mark(mark)));
                    }
                    (AnswerOutcome::Refused(why), _) => {
                        say.error(None, format!("answer {answer} to call {}: {why}", call.0));
                    }
                    (AnswerOutcome::Lost(why), _) => {
                        say.error(None, format!("answer {answer} to call {}: {why}", call.0));
                    }
                }
            }
            TerminalEvent::Progress { call, students } => self.progress(*call, students, say),
            TerminalEvent::Revealed { pitch, places, .. } => {
                say.say(Word::Reveal, describe::reveal(*pitch, places, spelling));
            }
            TerminalEvent::Closed { call, ending } => {
                say.say(
                    Word::Closed,
                    format!("call {}: {}", call.0, ending_words(*ending)),
                );
            }
            TerminalEvent::Plucked {
                heard,
                running,
                offered,
                off_neck,
            } => {
                let note = heard.pitch.ascii_name(spelling);
                let what = match running {
                    _ if *offered => format!("{note}: type pick heard to call it"),
                    Some(_) if *off_neck => format!("{note}, not on this neck: not counted"),
                    Some(count) => {
                        let count = (*count).min(self.times);
                        format!("{note}, {count} of {} in a row to answer", self.times)
                    }
                    None => note,
                };
                say.say(Word::Plucked, what);
            }
            TerminalEvent::NotCounted(uncounted) => {
                let note = uncounted.pitch.ascii_name(spelling);
                let help = match uncounted.in_a_row {
                    0 | 1 => words::to_be_counted(uncounted.why),
                    _ => "type answer heard to answer with it",
                };
                say.say(Word::Plucked, format!("{note}, not counted: {help}"));
            }
            TerminalEvent::PlaceWanted { pitch, places } => {
                let places: Vec<String> = places.iter().map(ToString::to_string).collect();
                let (note, places) = (pitch.ascii_name(spelling), text::list_or(&places));
                say.say(
                    Word::Plucked,
                    format!("{note}: which place was it? answer {places}"),
                );
            }
            TerminalEvent::Sung(sung) => say.say(Word::Sung, describe::sung(sung)),
            TerminalEvent::Turn { caller, yours } => {
                let turn = Some((caller.clone(), *yours));
                if self.turn != turn {
                    say.say(Word::Turn, if *yours { "you" } else { caller });
                    self.turn = turn;
                }
            }
            TerminalEvent::FriendLeft { name } => say.say(Word::Left, name),
            TerminalEvent::Refused(refusal) => say.error(None, refusal),
        }
    }

    fn welcome(&mut self, name: Option<&String>, rules: &Rules, say: &mut Say) {
        if self.rules.is_none() {
            say.say(Word::Lesson, &rules.lesson);
        }
        if let Some(name) = name.filter(|name| self.name.as_ref() != Some(*name)) {
            say.say(Word::Joined, name);
            self.name = Some(name.clone());
        }
        match &self.rules {
            None => rules::say_first(rules, say),
            Some(before) => rules::say_changes(before, rules, say),
        }
        self.rules = Some(Box::new(rules.clone()));
    }

    /// Says who of the others has got further with the own call.
    fn progress(&mut self, call: CallId, students: &[(String, Progress)], say: &mut Say) {
        let (of, before) = std::mem::replace(&mut self.progress, (Some(call), students.to_vec()));
        let before = before.into_iter().filter(|_| of == Some(call));
        let before: Vec<(String, Progress)> = before.collect();
        for student in students.iter().filter(|s| !before.contains(s)) {
            let (name, progress) = student;
            say.say(Word::Who, format!("{name}: {}", progress.label()));
        }
    }

    /// Says that something played was not counted, while it could have been.
    pub fn doubt(&self, before: &EarStatus, now: &EarStatus, view: &TerminalView, say: &mut Say) {
        let answers = view.call_to_find().is_some();
        let calls = matches!(view.turn, Some((_, true)));
        if (answers || calls)
            && view.listening == Listening::On
            && let Some(doubt) = ear_report::new_doubt(Some(before), now)
        {
            let other_way = match now.unsure_in_a_row {
                2.. if answers => ": type answer and a place or a pitch instead",
                _ => "",
            };
            say.say(Word::Plucked, format!("nothing: {doubt}{other_way}"));
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
            Status::Finding { .. } => self.lost && !std::mem::replace(&mut self.looking, true),
            // What comes of it is said.
            Status::Connecting { .. } | Status::Ended | Status::Left => false,
            Status::In { locked, .. } => {
                self.looking = false;
                let back = std::mem::replace(&mut self.lost, false);
                if !back {
                    let how = if *locked {
                        "locked and encrypted"
                    } else {
                        OPEN
                    };
                    say.say(Word::Link, how);
                }
                back
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
            Status::PassphraseWanted { .. } => {
                say.say(Word::Hint, "type the words that the host shows")
            }
            Status::KeyChanged { .. } => {
                say.say(Word::Hint, "type new-key to go on all the same, or leave")
            }
            _ => {}
        }
    }
}

/// Says what there is to ask or tell about class keys.
pub fn key_talk(talk: &KeyTalk, say: &mut Say) {
    if *talk == KeyTalk::Nothing {
        return;
    }
    say.say(Word::ClassKey, talk.to_string());
    match talk {
        KeyTalk::CameIn { .. } => say.say(
            Word::Hint,
            "type not-me and your own name to come in as somebody else",
        ),
        KeyTalk::Offered { .. } => say.say(Word::Hint, "type take-key yes, or take-key no"),
        _ => {}
    }
}

/// How the lesson spells its notes; sharps until it is known.
pub fn spelling(view: &TerminalView) -> Spelling {
    view.welcome
        .as_ref()
        .map_or(Spelling::default(), |w| w.rules.spelling())
}

fn ending_words(ending: Ending) -> &'static str {
    match ending {
        Ending::YouCalled => "called by you",
        Ending::Found => "found",
        Ending::NotFound => "not found",
        Ending::Owed => "the host has not said yet what came of your answer",
    }
}

/// Says the note of the call that is this student's own.
///
/// # Errors
/// One sentence, if there is none.
pub fn target(view: &TerminalView, say: &mut Say) -> Result<(), String> {
    let call = view
        .current_call()
        .ok_or("no call is open: on your turn, type pick to make one")?;
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
    let welcome = view.welcome.as_ref();
    let telling = welcome.map_or(Telling::Interval, |welcome| welcome.rules.telling);
    let answers = call
        .answers
        .iter()
        .map(|(answer, mark)| {
            let answer = words::answer(*answer, spelling);
            match mark {
                Some(mark) => format!("{answer} ({})", describe::mark_told(telling, mark)),
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
mod bunches;
#[cfg(test)]
mod tests;
