//! Playing on an instrument: which keys a heard note takes over, and what the
//! line on the microphone says of it.
//!
//! Space and Enter are about what was done last. After a pluck they answer with
//! the note heard, and so does PageDown, so that a foot switch of any kind will
//! do; once the cursor has moved they are the cursor's again.

use std::time::{Duration, Instant};

use fifthpeg_core::{Doubt, Pitch, Position, Reference};
use fifthpeg_lesson::terminal::{HandsFree, HeardPluck, Listening, TerminalView};
use fifthpeg_lesson::words;
use fifthpeg_student::ear::{EarState, EarStatus, LastHeard};
use fifthpeg_student::instrument::NO_MICROPHONE;

use super::commands::StudentCommand;
use super::layers::StudentAction;
use super::state::StudentState;
use crate::ear_line::ear_news;
use crate::parts::Message;
use crate::theme::Tint;
use fifthpeg_lesson::words::as_sentence;

/// How long a voice that has fallen silent is still shown.
const VOICE_SHOWN: Duration = Duration::from_millis(400);
/// How long it is shown that something was not counted.
const DOUBT_SHOWN: Duration = Duration::from_secs(3);

impl StudentState {
    /// The same screen for a student with a microphone.
    #[must_use]
    pub fn with_ear(self, ear: EarStatus, hands_free: HandsFree) -> Self {
        Self {
            ear: Some(ear),
            times: hands_free.times,
            ..self
        }
    }

    /// Takes how the microphone fares now, where one was asked for; trouble and
    /// what the room is like are told.
    pub fn set_ear(&mut self, ear: EarStatus) {
        if self.ear.is_none() {
            return;
        }
        if let Some(told) = ear_news(self.ear.as_ref(), &ear) {
            self.message = Some(told);
        }
        self.ear = Some(ear);
    }

    /// Whether nothing is listened to because a tone of the lesson sounds.
    pub fn is_deaf(&self) -> bool {
        self.view.listening == Listening::Muted
    }

    /// The note that a press of Space would answer with.
    pub fn note_to_answer(&self) -> Option<Pitch> {
        self.view.call_to_find()?;
        let heard = self.view.heard.filter(|_| self.played_last)?;
        Some(heard.pitch).filter(|pitch| !self.view.is_off_neck(*pitch))
    }

    /// The note that a press of Space would call, on this student's turn.
    pub fn note_to_call(&self) -> Option<Pitch> {
        self.view.offered.filter(|_| self.played_last)
    }

    /// The note heard whose place is asked for, and its places.
    pub fn place_wanted(&self) -> Option<(Pitch, &[Position])> {
        let call = self.current_call()?;
        let (pitch, places) = call.place_wanted.as_ref()?;
        Some((*pitch, places))
    }

    /// A pluck that could still answer, or be called, takes the keys; an answer
    /// gives them back. A place that is asked for takes the cursor.
    pub(super) fn mind_instrument(&mut self, view: &TerminalView) {
        let id = |heard: &HeardPluck| heard.id;
        let (old, new) = (
            self.view.heard.as_ref().map(id),
            view.heard.as_ref().map(id),
        );
        let call = view.call.as_ref();
        if new != old {
            let uncounted = view.uncounted.map(|uncounted| uncounted.id);
            let counts = call.is_some_and(|call| call.running.is_some())
                || new.is_some() && uncounted == new;
            self.played_last = new.is_some() && (counts || view.offered.is_some());
        }
        let answers = |view: &TerminalView| view.call.as_ref().map(|call| call.answers.len());
        if answers(view) > answers(&self.view) {
            self.played_last = false;
        }
        let wanted = |view: &TerminalView| view.call.as_ref()?.place_wanted.clone();
        let (before, now) = (wanted(&self.view), wanted(view));
        if before != now
            && let (Some((_, places)), Some(neck), Some(cursor)) =
                (now, &view.neck, &mut self.cursor)
            && !places.contains(&cursor.place())
        {
            // Inside the reach first: that is where it was called from.
            let likely = places.iter().find(|place| self.reach.contains(place));
            if let Some(place) = likely.or(places.first()) {
                cursor.put(neck, *place);
            }
        }
    }

    /// Puts the cursor on the next place of the note heard, or the one before.
    pub(super) fn other_place(&mut self, next: bool) {
        let Some((_, places)) = self.place_wanted() else {
            return;
        };
        let places = places.to_vec();
        let (Some(cursor), Some(neck)) = (&mut self.cursor, &self.view.neck) else {
            return;
        };
        let count = places.len();
        let at = places.iter().position(|place| *place == cursor.place());
        let to = match (at, next) {
            (None, _) => 0,
            (Some(at), true) => (at + 1) % count,
            (Some(at), false) => (at + count - 1) % count,
        };
        if let Some(place) = places.get(to) {
            cursor.put(neck, *place);
        }
    }

    /// Does what a key for the microphone stands for.
    pub(super) fn ear_command(&mut self, command: StudentCommand) -> Option<StudentAction> {
        let Some(ear) = &self.ear else {
            self.message = Some(Message::trouble(as_sentence(NO_MICROPHONE)));
            return None;
        };
        match command {
            StudentCommand::Quiet => Some(StudentAction::Calibrate),
            _ => Some(StudentAction::Listen(ear.state == EarState::Off)),
        }
    }
}

/// What the line on the microphone says was heard.
pub(super) fn heard(state: &StudentState) -> Option<(String, Tint)> {
    let neck = state.view.neck.as_ref()?;
    let ear = state.ear.as_ref()?;
    let note = |pitch| state.writing().heard(neck, pitch);
    if let Some((pitch, _)) = state.place_wanted() {
        return Some((format!("Heard {}", note(pitch)), Tint::Strong));
    }
    let recent = |at: Instant, span| state.at.saturating_duration_since(at) < span;
    if let Some((hz, at)) = ear.singing
        && recent(at, VOICE_SHOWN)
    {
        return Some((sung_now(state, hz), Tint::Strong));
    }
    let answers = state.view.call_to_find();
    if let Some(last) = state.view.heard.filter(|_| answers.is_some())
        && state.view.is_off_neck(last.pitch)
    {
        let text = if state.writing().names {
            format!("Heard {}, not on this neck: not counted", note(last.pitch))
        } else {
            "Heard a note off this neck: not counted".to_owned()
        };
        return Some((text, Tint::Tried));
    }
    if let Some(uncounted) = answers.and(state.view.uncounted)
        && state.view.heard.is_some_and(|last| last.id == uncounted.id)
    {
        let note = note(uncounted.pitch);
        let help = if uncounted.in_a_row > 1 && state.note_to_answer().is_some() {
            "Space answers with it"
        } else {
            words::to_be_counted(uncounted.why)
        };
        let text = format!("Heard {note}, not counted: {help}");
        return Some((text, Tint::Tried));
    }
    if let Some((pitch, count)) = answers.and_then(|call| call.running)
        && count < state.times
    {
        let again = match state.times - count {
            1 => "pluck it again to answer".to_owned(),
            more => format!("{more} more to answer"),
        };
        let text = format!("Heard {} {}: {again}", note(pitch), times(count));
        return Some((text, Tint::Strong));
    }
    let busy = answers.is_some() || state.is_my_turn();
    if let Some((LastHeard::Unsure(why), at)) = ear.last
        && recent(at, DOUBT_SHOWN)
        && busy
        && !state.is_deaf()
        && let Some(gentle) = gently(why)
    {
        // Whoever plucks the same string again and again wants another way.
        let text = match (answers, ear.unsure_in_a_row) {
            (Some(_), 2..) => "Not counted again: use the arrow keys",
            _ => gentle,
        };
        return Some((text.to_owned(), Tint::Tried));
    }
    if let Some(pitch) = state.note_to_call() {
        let inside = |place: &Position| neck.pitch_at(*place) == Some(pitch);
        return Some(if state.reach.iter().any(inside) {
            (
                format!("Heard {}: Space calls it", note(pitch)),
                Tint::Strong,
            )
        } else {
            let text = format!("Heard {}: outside the reach", note(pitch));
            (text, Tint::Caution)
        });
    }
    if let Some(pitch) = state.note_to_answer() {
        return Some((format!("Heard {}: Space answers", note(pitch)), Tint::Plain));
    }
    let sung = answers.and_then(|call| call.sung);
    if let Some(sung) = sung {
        return Some((as_sentence(&words::sung(&sung)), Tint::Strong));
    }
    let last = state.view.heard.filter(|_| busy)?;
    Some((format!("Heard {}", note(last.pitch)), Tint::Plain))
}

/// The note being sung now, wherever it lies: it says nothing of the call.
fn sung_now(state: &StudentState, frequency_hz: f64) -> String {
    let a4_hz = state.view.welcome.as_ref().map(|w| w.rules.a4_hz);
    let reference = a4_hz.and_then(|hz| Reference::new(hz).ok());
    let nearest = Pitch::nearest(frequency_hz, reference.unwrap_or_default());
    match nearest.filter(|_| state.writing().names) {
        Some((pitch, cents)) => {
            let name = state.writing().pitch(pitch);
            format!("You sing {name} {cents:+.0} cents")
        }
        None => format!("You sing at {frequency_hz:.0} Hz"),
    }
}

/// Why something was not counted, where that is worth a word.
fn gently(why: Doubt) -> Option<&'static str> {
    match why {
        Doubt::SeveralNotes => Some("Several strings at once: not counted"),
        Doubt::Slide => Some("That slid: not counted"),
        Doubt::NoClearPitch => Some("No clear note: not counted"),
        Doubt::TooQuiet => Some("Too soft to be yours: not counted"),
        Doubt::Unsteady => Some("That stopped too soon: not counted"),
        _ => None,
    }
}

fn times(count: u8) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        more => format!("{more} times"),
    }
}
