//! What the host's screen holds, and what keys do to it. No terminal here, no
//! network: a key goes in, perhaps an action comes out.

use std::sync::Arc;

use crossterm::event::{KeyEvent, KeyEventKind, MouseButton, MouseEvent, MouseEventKind};
use fifthpeg_core::{Neck, Position, Reach};
use fifthpeg_front::all_stuck;
use fifthpeg_front::once::OncePerCall;
use fifthpeg_host::{BookState, Counter};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::learning::help::Glance;
use fifthpeg_lesson::message::{Mode, Sounding, StudentId};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::{CallView, LessonView, StudentView};
use fifthpeg_student::ear::{EarState, EarStatus};
use fifthpeg_student::instrument::{NO_MICROPHONE, Offers};
use fifthpeg_vocab::RULES;
use fifthpeg_vocab::rules::ChangeTime;
use ratatui::layout::Rect;

use super::deeds::{HostDeed, People};
use super::keys::{self, HostCommand, PICK_KEYS, main_keys};
use super::layers::{HostAction, Layer, MenuChoice, Pane};
use super::layout::{self, Shape};
use super::menus;
use super::pedal::Pedal;
use crate::door::DoorShown;
use crate::help;
use crate::keys::{self as tables, CTRL_C};
use crate::line_edit::{LineEdit, Typed};
use crate::menu::Choosing;
use crate::neck::{NeckCursor, NeckPicture, PlaceSign};
use crate::options::ScreenOptions;
use crate::parts::Message;
use crate::theme::{Theme, Tint};
use crate::words::NoteStyle;
use fifthpeg_lesson::words::as_sentence;

/// Said at once where something waits for the end of a call.
const CALL_FIRST: &str = "A call is open: r reveals it, x closes it; then press this key again.";

/// The host's screen.
#[derive(Debug, Clone, PartialEq)]
pub struct HostState {
    /// The lesson as it is now.
    pub view: Arc<LessonView>,
    /// Its neck.
    pub neck: Neck,
    /// Places of the reach.
    pub reach: Vec<Position>,
    /// How to join, as sentences for the head of the screen.
    pub joining: String,
    /// Who gets in.
    pub door: Option<DoorShown>,
    /// Now, on the lesson's clock.
    pub now: Moment,
    /// How the screen looks.
    pub options: ScreenOptions,
    /// Note names are shown.
    pub names: bool,
    /// The target is hidden while a call is open.
    pub hidden: bool,
    /// Which list is shown.
    pub pane: Pane,
    /// The chosen student; the first of the roster if not there.
    chosen: Option<StudentId>,
    /// What lies over the main screen.
    pub layer: Layer,
    /// The last thing to tell.
    pub message: Option<Message>,
    /// How the microphone fares, where one was asked for.
    pub ear: Option<EarStatus>,
    /// The note played on the instrument, to be called or not.
    pub offers: Offers,
    /// How it stands with the lesson book.
    pub book: BookState,
    /// How often peers met each limit.
    pub network: Vec<(Counter, u64)>,
    /// What was done with the pedal lately.
    pub(super) pedal: Pedal,
    /// Where the cursor was when a place was last chosen.
    pub(super) last_cursor: Option<NeckCursor>,
    /// The call of which it was said that all are stuck.
    stuck: OncePerCall,
}

impl HostState {
    /// The neck as this screen draws it.
    pub fn picture<'a>(&'a self, marks: &'a [(Position, PlaceSign)]) -> NeckPicture<'a> {
        let cursor = match &self.layer {
            Layer::Pick(cursor) => Some(cursor.place()),
            _ => None,
        };
        let writing = self.writing();
        NeckPicture {
            neck: &self.neck,
            reach: &self.reach,
            marks,
            cursor,
            chosen: true,
            last_fret: u8::MAX,
            names: writing.names.then_some(writing.spelling),
            left_handed: self.options.left_handed,
            theme: self.theme(),
        }
    }

    /// What the screen has to make room for.
    pub fn shape(&self) -> Shape {
        Shape {
            strings: self.neck.string_count(),
            ear: self.ear.is_some(),
            door: self.door.is_some(),
            pane: self.pane,
        }
    }

    /// A screen for a lesson; `None` if its neck cannot be built, which a host
    /// that runs never has.
    pub fn new(view: Arc<LessonView>, joining: String, options: ScreenOptions) -> Option<Self> {
        let neck = Neck::build(view.rules.neck.clone()).ok()?;
        let mut state = Self {
            neck,
            reach: Vec::new(),
            joining,
            door: None,
            now: Moment::default(),
            names: options.names,
            hidden: options.hide_target_at_start,
            options,
            pane: Pane::Students,
            chosen: None,
            // A silent host has nothing to be careful of.
            layer: if options.silence.is_some() {
                Layer::Main
            } else {
                Layer::Caution
            },
            message: None,
            ear: None,
            offers: Offers::default(),
            book: BookState::None,
            network: Vec::new(),
            pedal: Pedal::default(),
            last_cursor: None,
            stuck: OncePerCall::default(),
            view,
        };
        state.find_reach();
        Some(state)
    }

    /// The same screen for a host with a microphone.
    #[must_use]
    pub fn with_ear(self, ear: EarStatus) -> Self {
        Self {
            ear: Some(ear),
            ..self
        }
    }

    /// Takes a new picture of the lesson.
    pub fn set_view(&mut self, view: Arc<LessonView>) {
        let reach_changed = view.rules.reach != self.view.rules.reach;
        if let Some(why) = view
            .pace_stopped
            .filter(|_| self.view.pace_stopped.is_none())
        {
            self.message = Some(Message::news(why.to_string()));
        }
        self.view = view;
        if reach_changed {
            self.find_reach();
        }
    }

    /// Says once for each call that all are stuck on it, with what helps. Not
    /// where others look on.
    pub fn mind_stuck(&mut self) {
        let holds = !self.hidden && self.view.all_stuck(self.now);
        if let Some(call) = &self.view.call
            && self.stuck.is_news(call.id, holds)
        {
            self.message = Some(Message::news(all_stuck(
                &self.view.rules.reach,
                ["h", "r", "e"],
            )));
        }
    }

    /// Everyone in the order shown, who needs help first, unless others look
    /// on: that is between teacher and student.
    pub fn roster(&self) -> Vec<(&StudentView, Option<Glance>)> {
        if self.hidden {
            return self.view.students.iter().map(|s| (s, None)).collect();
        }
        let glances = self.view.glances(self.now).into_iter();
        glances.map(|(s, glance)| (s, Some(glance))).collect()
    }

    /// The row of the chosen student in the roster.
    pub fn chosen_row(&self) -> usize {
        let roster = self.roster();
        let row = roster.iter().position(|(s, _)| Some(s.id) == self.chosen);
        row.unwrap_or(0)
    }

    fn choose(&mut self, row: usize) {
        let roster = self.roster();
        let row = row.min(roster.len().saturating_sub(1));
        self.chosen = roster.get(row).map(|(student, _)| student.id);
    }

    fn find_reach(&mut self) {
        let reach = Reach::resolve(&self.neck, &self.view.rules.reach);
        self.reach = reach.map_or_else(|_| Vec::new(), |reach| reach.positions().to_vec());
    }

    /// Whether the host's speakers are to sound the calls, and cannot.
    pub fn speakers_are_silent(&self) -> bool {
        let speakers = self.view.rules.sounding == Sounding::HostSpeakers;
        speakers && self.options.silence.is_some()
    }

    /// A class or friends.
    pub fn mode(&self) -> Mode {
        self.view.rules.mode
    }

    /// Styles and signs.
    pub fn theme(&self) -> Theme {
        Theme::new(&self.options)
    }

    /// How notes are written.
    pub fn writing(&self) -> NoteStyle {
        NoteStyle {
            names: self.names,
            spelling: self.view.rules.spelling(),
            ascii: self.options.ascii,
        }
    }

    /// The call, unless it is over.
    pub fn current_call(&self) -> Option<&CallView> {
        self.view.current_call()
    }

    /// Whether target, answers and tries must not be seen now.
    pub fn is_target_hidden(&self) -> bool {
        self.hidden && self.view.open_call().is_some()
    }

    /// The chosen student.
    pub fn chosen_student(&self) -> Option<&StudentView> {
        self.roster().get(self.chosen_row()).map(|(s, _)| *s)
    }

    /// Takes one key.
    pub fn handle_key(&mut self, event: &KeyEvent) -> Option<HostAction> {
        match &mut self.layer {
            Layer::Main => {
                let command = tables::command(main_keys(), event)?;
                let held = event.kind == KeyEventKind::Repeat;
                if held && command == HostCommand::Pedal {
                    return None;
                }
                // News is old once something is done; trouble stays.
                self.message.take_if(|message| message.tint == Tint::Plain);
                self.main_command(command)
            }
            Layer::Pick(_) => {
                let command = tables::command(PICK_KEYS, event)?;
                self.pick_command(command)
            }
            Layer::Menu(menu) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Dropped => self.back(),
                Choosing::Chosen(choice) => self.take(choice),
            },
            Layer::Caution | Layer::Help(_) | Layer::Keys | Layer::Joining(_)
                if tables::is(CTRL_C, event) =>
            {
                self.layer = Layer::Main;
                self.main_command(tables::command(main_keys(), event)?)
            }
            Layer::Keys => {
                if event.kind != KeyEventKind::Release {
                    self.layer = if help::opens_all(event) {
                        Layer::Help(0)
                    } else {
                        Layer::Main
                    };
                }
                None
            }
            Layer::Joining(_) => self.joining_key(event),
            Layer::Caution => {
                if event.kind != KeyEventKind::Release {
                    self.layer = Layer::Main;
                }
                None
            }
            Layer::TypeReach(line) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => self.back(),
                Typed::Done(text) => self.take_typed_reach(&text),
            },
            Layer::TypeCall(line) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => self.back(),
                Typed::Done(text) => self.take_typed_call(&text),
            },
            Layer::Help(first) => {
                let theme = Theme::new(&self.options);
                let parts = keys::help(theme, self.ear.is_some(), &self.network);
                let length = help::length(&parts);
                match help::scrolled(*first, length, event) {
                    Some(next) => *first = next,
                    None => self.layer = Layer::Main,
                }
                None
            }
        }
    }

    /// Takes pasted text, where a line is being typed.
    pub fn handle_paste(&mut self, text: &str) {
        if let Layer::TypeReach(line) | Layer::TypeCall(line) = &mut self.layer {
            line.paste(text);
        }
    }

    /// Takes the mouse: a click on the neck begins to choose a place, or moves
    /// the cursor there.
    pub fn handle_mouse(&mut self, event: &MouseEvent, screen: Rect) -> Option<HostAction> {
        let clicked = event.kind == MouseEventKind::Down(MouseButton::Left);
        if !clicked || !matches!(self.layer, Layer::Main | Layer::Pick(_)) {
            return None;
        }
        if self.hidden {
            self.message = Some(Message::news(
                "The target is hidden: press c and type the note, or k to show it.",
            ));
            return None;
        }
        let grid = self
            .picture(&[])
            .grid(layout::areas(self.shape(), screen).neck)?;
        let place = grid.place_at(event.column, event.row)?;
        let mut cursor = NeckCursor::new(&self.neck)?;
        if cursor.put(&self.neck, place) {
            self.layer = Layer::Pick(cursor);
        }
        None
    }

    /// Whether a key's command is for the time between calls, and one is open.
    fn must_wait(&self, command: HostCommand) -> bool {
        let between = match command {
            HostCommand::CallByHand | HostCommand::CallAny => self.mode() == Mode::Class,
            HostCommand::Rule(key) => {
                let rule = RULES.iter().find(|rule| rule.key == key);
                rule.is_some_and(|rule| rule.when == ChangeTime::BetweenCalls)
            }
            _ => false,
        };
        between && self.view.open_call().is_some()
    }

    fn main_command(&mut self, command: HostCommand) -> Option<HostAction> {
        let order = |order| Some(HostAction::Host(HostDeed::Order(order)));
        if self.must_wait(command) {
            self.message = Some(Message::news(CALL_FIRST));
            return None;
        }
        match command {
            // A cursor would show the others what is called.
            HostCommand::CallByHand if self.hidden => {
                self.layer = Layer::TypeCall(LineEdit::default());
            }
            HostCommand::CallByHand => {
                let cursor = self.last_cursor.or_else(|| self.first_cursor());
                if let Some(cursor) = cursor {
                    self.layer = Layer::Pick(cursor);
                }
            }
            HostCommand::Pedal => return self.press_pedal(),
            HostCommand::CallAny => return order(HostOrder::CallRandom),
            HostCommand::CallHeard => match self.offered() {
                // Never without this key: somebody may only be playing.
                Some(pitch) => return order(HostOrder::CallPlayed(pitch)),
                None => self.message = Some(Message::news(self.why_nothing_heard())),
            },
            HostCommand::Listen => match &self.ear {
                Some(ear) => return Some(HostAction::Listen(ear.state == EarState::Off)),
                None => self.message = Some(Message::trouble(as_sentence(NO_MICROPHONE))),
            },
            HostCommand::Quiet if self.ear.is_some() => return Some(HostAction::Calibrate),
            HostCommand::Quiet => {
                self.message = Some(Message::trouble(as_sentence(NO_MICROPHONE)));
            }
            HostCommand::Joining => return self.say_joining(),
            HostCommand::HearAgain => return order(HostOrder::HearAgain),
            HostCommand::Reveal => return order(HostOrder::Reveal),
            HostCommand::Close => return order(HostOrder::Close),
            HostCommand::Reach => self.layer = Layer::Menu(menus::reach(&self.view)),
            HostCommand::Rule(key) => {
                let rule = RULES.iter().find(|rule| rule.key == key)?;
                match menus::other(rule, &self.view) {
                    Some(change) => return order(change),
                    None => self.layer = Layer::Menu(menus::rule(rule, &self.view)),
                }
            }
            HostCommand::Hide => {
                self.hidden = !self.hidden;
                self.message = Some(Message::news(if self.hidden {
                    "Hidden: the note and the answers. c: type a note unseen."
                } else {
                    "The note and the answers are shown here."
                }));
            }
            HostCommand::Names => {
                self.names = !self.names;
                self.message = Some(Message::news(if self.names {
                    "Note names are shown."
                } else {
                    "Note names are hidden: places only."
                }));
            }
            HostCommand::Pane => {
                self.pane = match self.pane {
                    Pane::Students => Pane::Answers,
                    Pane::Answers => Pane::Students,
                };
            }
            HostCommand::Up => self.choose(self.chosen_row().saturating_sub(1)),
            HostCommand::Down => self.choose(self.chosen_row() + 1),
            HostCommand::Remove => match self.chosen_student() {
                Some(student) => {
                    let (id, name): (StudentId, String) = (student.id, student.name.clone());
                    self.layer = Layer::Menu(menus::remove(id, &name));
                }
                None => self.message = Some(Message::trouble("Nobody is here to remove.")),
            },
            HostCommand::WhoIs => return Some(HostAction::Host(HostDeed::People(People::AskWho))),
            HostCommand::Key => return Some(HostAction::Host(HostDeed::People(People::AskKeys))),
            HostCommand::WithoutBook if self.book.is_kept() => {
                self.layer = Layer::Menu(menus::leave_book(&self.book));
            }
            HostCommand::WithoutBook => {
                self.message = Some(Message::news(menus::NOT_WRITTEN));
            }
            HostCommand::End => self.layer = Layer::Menu(menus::end()),
            HostCommand::Help => self.layer = Layer::Keys,
        }
        None
    }

    pub(super) fn back(&mut self) -> Option<HostAction> {
        self.layer = Layer::Main;
        None
    }

    fn take(&mut self, choice: MenuChoice) -> Option<HostAction> {
        self.layer = Layer::Main;
        match choice {
            MenuChoice::Do(deed) => Some(HostAction::Host(deed)),
            MenuChoice::TypeReach => {
                self.layer = Layer::TypeReach(LineEdit::default());
                None
            }
            MenuChoice::Open(list) => {
                if let Some(menu) = menus::open(list, &self.view) {
                    self.layer = Layer::Menu(menu);
                }
                None
            }
            MenuChoice::WhoIs(_) | MenuChoice::Back => None,
        }
    }
}
