//! What keys, pasted text and clicks do to the student's screen. No terminal here,
//! no network: a key goes in, perhaps an action comes out.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, MouseButton, MouseEvent, MouseEventKind};
use fifthpeg_core::Named;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::terminal::StudentOrder;
use ratatui::layout::Rect;

use super::commands::{HostingCommand, StudentCommand};
use super::keys::{self, OVER_KEYS, SEARCH_KEYS};
use super::layers::{Layer, LockLayer, StudentAction};
use super::layout;
use super::state::StudentState;
use crate::help;
use crate::host::deeds::HostDeed;
use crate::keys::{self as tables, CTRL_C};
use crate::line_edit::{LineEdit, Typed};
use crate::menu::{Choosing, Menu};
use crate::parts::Message;
use crate::theme::Theme;

/// Said where Enter would mean a place that nobody chose.
const CHOOSE_FIRST: &str = "Choose a place first: the arrow keys move to it, Space tries it.";

impl StudentState {
    /// Whether Enter would answer or call with the cursor's place.
    pub(super) fn may_commit(&self) -> bool {
        self.is_searching() || self.is_my_turn()
    }

    /// Takes one key.
    pub fn handle_key(&mut self, event: &KeyEvent) -> Option<StudentAction> {
        match &mut self.layer {
            Layer::Caution
            | Layer::NoSound(_)
            | Layer::Help(_)
            | Layer::Keys
            | Layer::Joining(_)
                if tables::is(CTRL_C, event) =>
            {
                self.layer = Layer::Main;
                let command = self.main_key(event)?;
                self.command(command)
            }
            Layer::Keys => {
                if event.kind != KeyEventKind::Release {
                    self.layer = if help::opens_all(event) {
                        Layer::Help(0)
                    } else {
                        Layer::Main
                    };
                    self.mind_lock();
                }
                None
            }
            Layer::Caution | Layer::NoSound(_) => {
                if event.kind != KeyEventKind::Release {
                    self.layer = Layer::Main;
                    self.mind_lock();
                }
                None
            }
            Layer::Main => {
                let command = self.main_key(event)?;
                self.command(command)
            }
            Layer::TypeName(line) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => {
                    self.layer = Layer::Main;
                    None
                }
                Typed::Done(text) => self.take_name(&text),
            },
            Layer::Leave(menu) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Chosen(true) => Some(StudentAction::Leave),
                Choosing::Chosen(false) | Choosing::Dropped => {
                    self.layer = Layer::Main;
                    self.mind_lock();
                    None
                }
            },
            Layer::Lock(LockLayer::Passphrase(line)) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => self.command(StudentCommand::Leave),
                Typed::Done(text) => self.take_passphrase(&text),
            },
            Layer::Lock(LockLayer::NewKey(menu)) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Chosen(true) => {
                    self.layer = Layer::Main;
                    Some(StudentAction::NewKey)
                }
                Choosing::Chosen(false) | Choosing::Dropped => self.command(StudentCommand::Leave),
            },
            Layer::Lock(LockLayer::IsMe(menu)) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Chosen(yes) => self.key_answered(yes),
                Choosing::Dropped => self.key_answered(true),
            },
            Layer::Lock(LockLayer::KeyOffer(menu)) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Chosen(yes) => self.key_answered(yes),
                Choosing::Dropped => self.key_answered(false),
            },
            Layer::Lock(LockLayer::OtherName(line)) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => self.command(StudentCommand::Leave),
                Typed::Done(text) => self.take_other_name(&text),
            },
            Layer::Joining(_) if event.kind == KeyEventKind::Release => None,
            Layer::Joining(_) if event.code == KeyCode::Char('w') => {
                Some(StudentAction::Host(HostDeed::NewPageWords))
            }
            Layer::Joining(_) => {
                self.layer = Layer::Main;
                None
            }
            Layer::HostList(menu) => match menu.handle_key(event) {
                Choosing::More => None,
                Choosing::Chosen(choice) => self.take_choice(choice),
                Choosing::Dropped => {
                    self.layer = Layer::Main;
                    None
                }
            },
            Layer::TypeReach(line) => match line.handle_key(event) {
                Typed::More => None,
                Typed::Dropped => {
                    self.layer = Layer::Main;
                    None
                }
                Typed::Done(text) => self.take_typed_reach(&text),
            },
            Layer::Help(first) => {
                let theme = Theme::new(&self.options);
                let parts = keys::help(theme, self.hosting.as_ref(), self.ear.is_some());
                let length = help::length(&parts);
                match help::scrolled(*first, length, event) {
                    Some(next) => *first = next,
                    None => {
                        self.layer = Layer::Main;
                        self.mind_lock();
                    }
                }
                None
            }
        }
    }

    fn main_key(&self, event: &KeyEvent) -> Option<StudentCommand> {
        if self.is_over() {
            return tables::command(OVER_KEYS, event);
        }
        let as_host = self.hosting.as_ref();
        as_host
            .and_then(|hosting| tables::command(hosting.keys(), event))
            .or_else(|| tables::command(self.table(), event))
            .or_else(|| tables::command(SEARCH_KEYS, event))
    }

    /// Takes pasted text, where a line is being typed.
    pub fn handle_paste(&mut self, text: &str) {
        if let Layer::TypeName(line)
        | Layer::TypeReach(line)
        | Layer::Lock(LockLayer::Passphrase(line) | LockLayer::OtherName(line)) = &mut self.layer
        {
            line.paste(text);
        }
    }

    /// Takes the mouse: a click moves the cursor to a place and tries it.
    pub fn handle_mouse(&mut self, event: &MouseEvent, screen: Rect) -> Option<StudentAction> {
        let clicked = event.kind == MouseEventKind::Down(MouseButton::Left);
        if !clicked || self.layer != Layer::Main || self.is_over() {
            return None;
        }
        let picture = super::draw::picture(self, &[])?;
        let grid = picture.grid(layout::areas(self, screen).neck)?;
        let place = grid.place_at(event.column, event.row)?;
        if self.place_wanted().is_some() {
            return Some(StudentAction::Order(StudentOrder::AnswerPlace(place)));
        }
        (self.played_last, self.chosen) = (false, true);
        let neck = self.view.neck.as_ref()?;
        self.cursor
            .as_mut()
            .is_some_and(|cursor| cursor.put(neck, place))
            .then_some(StudentAction::Order(StudentOrder::Try(Answer::Place(
                place,
            ))))
    }

    fn command(&mut self, command: StudentCommand) -> Option<StudentAction> {
        let order = |order| Some(StudentAction::Order(order));
        let place = self.cursor.map(|cursor| Answer::Place(cursor.place()));
        let calls = matches!(
            command,
            StudentCommand::Commit
                | StudentCommand::Heard
                | StudentCommand::Host(HostingCommand::Next)
        );
        if calls && self.has_just_found() && !self.is_searching() {
            return None;
        }
        if self.view.welcome.is_none() && !self.can(command) {
            return None;
        }
        match command {
            StudentCommand::Heard if self.is_my_turn() => {
                return order(StudentOrder::CallHeard);
            }
            StudentCommand::Heard => return order(StudentOrder::AnswerHeard),
            StudentCommand::LetGo => self.played_last = false,
            StudentCommand::OtherPlace(next) => self.other_place(next),
            StudentCommand::ThisPlace => {
                let place = self.cursor?.place();
                return order(StudentOrder::AnswerPlace(place));
            }
            StudentCommand::Listen | StudentCommand::Quiet => return self.ear_command(command),
            StudentCommand::Try => {
                self.chosen = true;
                return order(StudentOrder::Try(place?));
            }
            StudentCommand::Commit if !self.chosen && self.may_commit() => {
                self.message = Some(Message::news(CHOOSE_FIRST));
            }
            StudentCommand::Commit if self.is_my_turn() => {
                return order(StudentOrder::Pick(Some(place?)));
            }
            StudentCommand::Commit => return order(StudentOrder::Answer(place?)),
            StudentCommand::CallAny => return order(StudentOrder::Pick(None)),
            StudentCommand::Hear if self.is_caller() => {
                return order(StudentOrder::CallerHearAgain);
            }
            StudentCommand::Hear => return order(StudentOrder::Hear),
            StudentCommand::Reveal => return order(StudentOrder::CallerReveal),
            StudentCommand::Close => return order(StudentOrder::CallerClose),
            StudentCommand::TypeName => self.layer = Layer::TypeName(LineEdit::default()),
            StudentCommand::Move(step) => {
                self.played_last = false;
                self.chosen = true;
                if let (Some(cursor), Some(neck)) = (&mut self.cursor, &self.view.neck) {
                    cursor.step(neck, step, self.options.left_handed);
                }
            }
            StudentCommand::Names => {
                self.names = !self.names;
                self.message = Some(Message::news(if self.names {
                    "Note names are shown."
                } else {
                    "Note names are hidden: places and ear only."
                }));
            }
            StudentCommand::Host(command) => return self.host_command(command),
            StudentCommand::Leave if self.is_over() => return Some(StudentAction::Leave),
            StudentCommand::Leave => {
                let lines = vec![
                    ("no, stay".to_owned(), false),
                    ("yes, leave the lesson".to_owned(), true),
                ];
                let menu = Menu::new("Leave the lesson?", lines, 0).insisted(true);
                self.layer = Layer::Leave(menu);
            }
            StudentCommand::Help => self.layer = Layer::Keys,
        }
        None
    }

    /// A name that cannot be read leaves the line open, to be mended.
    fn take_name(&mut self, text: &str) -> Option<StudentAction> {
        let answer = match text.parse::<Named>() {
            Ok(Named::Pitch(pitch)) => Answer::Pitch(pitch),
            Ok(Named::Class(class)) => Answer::Class(class),
            Err(why) => {
                if let Layer::TypeName(line) = &mut self.layer {
                    line.complain(why);
                }
                return None;
            }
        };
        self.layer = Layer::Main;
        self.message = None;
        Some(StudentAction::Order(StudentOrder::Answer(answer)))
    }
}
