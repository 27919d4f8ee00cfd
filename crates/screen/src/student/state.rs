//! What the student's screen holds.

use std::sync::Arc;
use std::time::{Duration, Instant};

use fifthpeg_core::{Position, Reach, Spelling};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::Rules;
use fifthpeg_lesson::terminal::{
    AnswerOutcome, HandsFree, TerminalCall, TerminalEvent, TerminalView,
};
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::words::sentence;
use fifthpeg_student::ear::EarStatus;
use fifthpeg_student::{KeyTalk, Status};
use fifthpeg_student::{LOOKS_LONG, UNWRITTEN_PATIENCE};

use super::commands::StudentCommand;
use super::host_keys::NEXT_KEYS;
use super::keys::{
    CALLER_KEYS, HEARD_KEYS, OFFERED_KEYS, OVER_KEYS, PLACE_KEYS, SEARCH_KEYS, TURN_KEYS,
};
use super::layers::{Hosting, Layer};
use crate::keys::Binding;
use crate::neck::NeckCursor;
use crate::options::ScreenOptions;
use crate::parts::Message;
use crate::theme::Theme;
use crate::words::NoteStyle;

/// So long after finding, a key that answers calls nothing.
const JUST_FOUND: Duration = Duration::from_secs(1);
/// So many frets are drawn beyond the reach.
const FRETS_BEYOND: u8 = 2;
/// And at least so many: to the first octave's dot.
const LEAST_FRETS: u8 = 7;

/// The student's screen.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentState {
    /// The lesson as this student may see it.
    pub view: Arc<TerminalView>,
    /// How the terminal stands with its lesson.
    pub status: Status,
    /// What there is to ask or tell about class keys.
    pub key_talk: KeyTalk,
    /// Places of the reach.
    pub reach: Vec<Position>,
    /// The cursor, once a neck is known.
    pub cursor: Option<NeckCursor>,
    /// The student has moved to the cursor's place, or tried it, in this call: not
    /// before that does Enter mean it.
    pub chosen: bool,
    /// Now, on the clock that the view's moments are on.
    pub now: Moment,
    /// The same as an instant, for what the ear tells.
    pub at: Instant,
    /// How the screen looks.
    pub options: ScreenOptions,
    /// Note names are shown.
    pub names: bool,
    /// What lies over the main screen.
    pub layer: Layer,
    /// The last thing to tell.
    pub message: Option<Message>,
    /// How the microphone fares, where one was asked for.
    pub ear: Option<EarStatus>,
    /// How often a note is plucked in a row to answer with it.
    pub times: u8,
    /// The instrument was played since the cursor moved last: Space and Enter
    /// are about the note heard.
    pub played_last: bool,
    /// When this student found the call: what Enter meant then it goes on meaning
    /// for a moment.
    pub found_at: Option<Instant>,
    /// Since when the lesson is looked for.
    pub looking_since: Option<Instant>,
    /// For the friend who hosts: the lesson as its host sees it.
    pub hosting: Option<Hosting>,
    /// Since when an answer waits to be confirmed by a host that is there.
    pub unconfirmed_since: Option<Instant>,
}

impl StudentState {
    /// A screen that begins with the caution.
    pub fn new(view: Arc<TerminalView>, status: Status, options: ScreenOptions) -> Self {
        let mut state = Self {
            status,
            key_talk: KeyTalk::Nothing,
            reach: Vec::new(),
            cursor: None,
            chosen: false,
            now: Moment::default(),
            at: Instant::now(),
            names: options.names,
            options,
            layer: Layer::Caution,
            message: None,
            ear: None,
            unconfirmed_since: None,
            found_at: None,
            looking_since: None,
            times: HandsFree::default().times,
            played_last: false,
            hosting: None,
            view: Arc::clone(&view),
        };
        state.find_places();
        state
    }

    /// Takes a new picture of the lesson.
    pub fn set_view(&mut self, view: Arc<TerminalView>) {
        if view.ended && !self.view.ended && !matches!(self.layer, Layer::Caution) {
            self.layer = Layer::Main;
        }
        self.mind_instrument(&view);
        self.mind_unconfirmed(&view);
        let found = |view: &TerminalView| view.call.as_ref().map(|call| (call.id, call.found));
        if found(&view) != found(&self.view) && found(&view).is_some_and(|(_, found)| found) {
            self.found_at = Some(self.at);
        }
        let stands = |view: &TerminalView| view.call.as_ref().map(|call| (call.id, call.stage));
        if stands(&view) != stands(&self.view) {
            self.chosen = false;
        }
        let places_changed =
            view.neck != self.view.neck || rules_reach(&view) != rules_reach(&self.view);
        self.view = view;
        if places_changed {
            self.find_places();
        }
    }

    /// Takes one thing that happened: what is told of it stays in sight until a
    /// call moves on.
    pub fn take_event(&mut self, event: &TerminalEvent) {
        let told = match event {
            TerminalEvent::Called { .. }
            | TerminalEvent::Revealed { .. }
            | TerminalEvent::Closed { .. } => {
                self.message = None;
                return;
            }
            TerminalEvent::Refused(refusal) => Message::trouble(refusal),
            TerminalEvent::FriendLeft { name } => {
                Message::news(format!("{name} has left the lesson."))
            }
            TerminalEvent::Told {
                call,
                answer,
                outcome,
                late,
                ..
            } => {
                let neck = self.view.neck.as_ref();
                let answer = neck.map(|neck| self.writing().answer(neck, *answer));
                let of = format!("Answer {} to call {}", answer.unwrap_or_default(), call.0);
                match outcome {
                    // The call that is shown has it in its list.
                    AnswerOutcome::Marked(_) if !late => return,
                    AnswerOutcome::Marked(mark) => {
                        Message::news(format!("{of}: {}.", sentence(mark)))
                    }
                    AnswerOutcome::Refused(why) if !late => Message::trouble(why),
                    AnswerOutcome::Refused(why) => Message::trouble(format!("{of}: {why}")),
                    AnswerOutcome::Lost(why) => Message::trouble(format!("{of}: {why}")),
                }
            }
            _ => return,
        };
        self.message = Some(told);
    }

    /// Tells in the middle of the screen that a tone could not be sounded here,
    /// unless something is being typed or asked.
    pub fn tell_no_sound(&mut self, why: &str) {
        self.message = Some(Message::trouble(why));
        if self.layer == Layer::Main {
            self.layer = Layer::NoSound(why.to_owned());
        }
    }

    /// Notices since when the lesson is looked for.
    pub fn mind_looking(&mut self) {
        if matches!(self.status, Status::Finding { .. }) && self.view.welcome.is_none() {
            self.looking_since.get_or_insert(self.at);
        } else {
            self.looking_since = None;
        }
    }

    /// Whether it has been looked for so long that it is worth saying what to do.
    pub fn looks_long(&self) -> bool {
        let since = self.looking_since;
        since.is_some_and(|since| self.at.saturating_duration_since(since) >= LOOKS_LONG)
    }

    /// Whether this student has found the call only just now.
    pub(super) fn has_just_found(&self) -> bool {
        let at = self.found_at;
        at.is_some_and(|at| self.at.saturating_duration_since(at) < JUST_FOUND)
    }

    fn mind_unconfirmed(&mut self, view: &TerminalView) {
        if view.connected && !view.owed.is_empty() {
            self.unconfirmed_since.get_or_insert(self.at);
        } else {
            self.unconfirmed_since = None;
        }
    }

    /// Whether an answer waits for so long that it is worth saying.
    pub fn waits_long(&self) -> bool {
        let since = self.unconfirmed_since;
        since.is_some_and(|since| self.at.saturating_duration_since(since) >= UNWRITTEN_PATIENCE)
    }

    /// Tells a change of the connection: lost, and back again.
    pub fn tell_status(&mut self) {
        self.message = match &self.status {
            Status::Lost { .. } => Some(Message::trouble(&self.status)),
            Status::In { .. } => Some(Message::news(&self.status)),
            _ => None,
        }
        .or(self.message.take());
        self.mind_lock();
    }

    /// The reach on the lesson's neck, and a cursor that lies on it.
    fn find_places(&mut self) {
        self.reach.clear();
        let Some(neck) = &self.view.neck else {
            self.cursor = None;
            return;
        };
        let reach = rules_reach(&self.view).and_then(|spec| Reach::resolve(neck, spec).ok());
        self.reach = reach.map_or_else(Vec::new, |reach| reach.positions().to_vec());
        let still = self.cursor.filter(|c| neck.pitch_at(c.place()).is_some());
        self.cursor = still.or_else(|| {
            let mut cursor = NeckCursor::new(neck)?;
            if let Some(place) = self.reach.first() {
                cursor.put(neck, *place);
            }
            Some(cursor)
        });
    }

    /// The last fret that is drawn: of the reach and a little more, of the cursor,
    /// and once the note is shown, of all its places.
    pub fn last_fret(&self) -> u8 {
        let reach = self.reach.iter().map(|place| place.fret).max();
        let reach = reach.map_or(u8::MAX, |last| {
            last.saturating_add(FRETS_BEYOND).max(LEAST_FRETS)
        });
        let cursor = self.cursor.map_or(0, |cursor| cursor.place().fret);
        let shown = self.shown_call().and_then(|call| call.revealed.as_ref());
        let shown = shown.and_then(|(_, places)| places.iter().map(|place| place.fret).max());
        reach.max(cursor).max(shown.unwrap_or(0))
    }

    /// Styles and signs.
    pub fn theme(&self) -> Theme {
        Theme::new(&self.options)
    }

    /// How notes are written.
    pub fn writing(&self) -> NoteStyle {
        let rules = self.view.welcome.as_ref().map(|w| &w.rules);
        NoteStyle {
            names: self.names,
            spelling: rules.map_or(Spelling::Sharps, Rules::spelling),
            ascii: self.options.ascii,
        }
    }

    /// The call, unless it is over.
    pub fn current_call(&self) -> Option<&TerminalCall> {
        self.view.current_call()
    }

    /// The call, unless it is over; after the lesson's end the last one, if its
    /// note was shown.
    pub fn shown_call(&self) -> Option<&TerminalCall> {
        let last = self.view.call.as_ref().filter(|_| self.is_over());
        let last = last.filter(|call| call.revealed.is_some());
        last.or_else(|| self.current_call())
    }

    /// Whether the lesson has come to its end.
    pub fn is_over(&self) -> bool {
        self.view.ended || self.status == Status::Ended
    }

    /// Whether there is nothing left to show: left, not let in, or over before
    /// it began.
    pub fn is_nothing_left(&self) -> bool {
        let gone = self.status.is_final() && self.status != Status::Ended;
        gone || self.is_over() && self.view.welcome.is_none()
    }

    /// Whether this student has an open call to find.
    pub fn is_searching(&self) -> bool {
        self.view.call_to_find().is_some()
    }

    /// Whether this student has called the note that is open or shown.
    pub fn is_caller(&self) -> bool {
        self.current_call().is_some_and(|call| call.you_call)
    }

    /// The keys that come before those for everyone, and stand at the foot.
    pub fn table(&self) -> &'static [Binding<StudentCommand>] {
        if self.is_over() {
            OVER_KEYS
        } else if self.place_wanted().is_some() {
            PLACE_KEYS
        } else if self.is_my_turn() {
            match self.note_to_call() {
                Some(_) => OFFERED_KEYS,
                None => TURN_KEYS,
            }
        } else if self.is_caller() {
            CALLER_KEYS
        } else if self.may_call_next() {
            NEXT_KEYS
        } else if self.note_to_answer().is_some() {
            HEARD_KEYS
        } else {
            SEARCH_KEYS
        }
    }

    /// Whether this student has nothing to answer and nothing to call now.
    pub fn is_waiting(&self) -> bool {
        self.view.open_call().is_none()
            && self.view.welcome.is_some()
            && !self.is_over()
            && !self.is_my_turn()
            && !self.is_caller()
            && !self.may_call_next()
    }

    /// Whether a key of the tables can do anything now: no other is offered.
    pub fn can(&self, command: StudentCommand) -> bool {
        use super::commands::HostingCommand as Hosts;
        use StudentCommand as Does;
        let call = self.current_call();
        let open = self.view.open_call().is_some();
        match command {
            Does::Leave | Does::Help => true,
            Does::Host(Hosts::Reveal) | Does::Reveal => open,
            Does::Host(Hosts::Pass) => !open,
            Does::Host(_) => true,
            _ if self.view.welcome.is_none() => false,
            Does::Hear | Does::Close => call.is_some(),
            Does::Commit => self.may_commit(),
            Does::TypeName => self.is_searching(),
            _ => true,
        }
    }

    /// Whether this student is to pick the next note now.
    pub fn is_my_turn(&self) -> bool {
        let open = self.current_call();
        let free = open.is_none_or(|call| call.stage == CallStage::Revealed && !call.you_call);
        free && self.view.turn.as_ref().is_some_and(|(_, yours)| *yours)
    }
}

fn rules_reach(view: &TerminalView) -> Option<&fifthpeg_core::ReachSpec> {
    view.welcome.as_ref().map(|welcome| &welcome.rules.reach)
}
