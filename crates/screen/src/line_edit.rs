//! One line that the user types.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use crate::keys::{self, Binding, CTRL_C, END, ENTER, ESC, HOME, Key, LEFT, RIGHT, row};

/// Longest line taken, in characters; longer pastes are cut.
const MAX_CHARS: usize = 120;

/// One line being typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LineEdit {
    text: Vec<char>,
    at: usize,
    trouble: Option<String>,
}

/// What a key did to the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// Still typing.
    More,
    /// Enter: this is the line, without space around it.
    Done(String),
    /// Escape.
    Dropped,
}

/// What keys do in the line; all others are typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TypingCommand {
    /// The line is done.
    Done,
    /// Leave it.
    Drop,
    /// Take away what stands before the cursor.
    Clear,
    /// Take away the letter before the cursor.
    TakeBefore,
    /// Take away the letter under the cursor.
    TakeHere,
    /// The cursor to the left.
    Left,
    /// The cursor to the right.
    Right,
    /// The cursor to the beginning.
    Start,
    /// The cursor to the end.
    End,
}

/// The keys while a line is typed.
pub const TYPING_KEYS: &[Binding<TypingCommand>] = &[
    row(&[ENTER], "that is the line", "", TypingCommand::Done),
    row(
        &[ESC, CTRL_C],
        "back without it (Ctrl-C too)",
        "",
        TypingCommand::Drop,
    ),
    row(
        &[Key::Code(KeyCode::Backspace)],
        "take the letter before away",
        "",
        TypingCommand::TakeBefore,
    ),
    row(
        &[Key::Code(KeyCode::Delete)],
        "take the letter here away",
        "",
        TypingCommand::TakeHere,
    ),
    row(
        &[Key::Ctrl('u')],
        "take all before away",
        "",
        TypingCommand::Clear,
    ),
    row(&[LEFT], "one letter to the left", "", TypingCommand::Left),
    row(
        &[RIGHT],
        "one letter to the right",
        "",
        TypingCommand::Right,
    ),
    row(
        &[HOME],
        "to the beginning of the line",
        "",
        TypingCommand::Start,
    ),
    row(&[END], "to the end of the line", "", TypingCommand::End),
];

impl LineEdit {
    /// A line that begins with some text, the cursor at its end.
    pub fn new(text: &str) -> Self {
        let text: Vec<char> = text.chars().take(MAX_CHARS).collect();
        Self {
            at: text.len(),
            text,
            trouble: None,
        }
    }

    /// Says what is wrong with the line, until it is changed.
    pub fn complain(&mut self, why: impl ToString) {
        self.trouble = Some(why.to_string());
    }

    /// What is wrong with the line, if anything.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// The same line with a sign in place of every letter, for a screen that
    /// others see.
    #[must_use]
    pub fn masked(&self, sign: char) -> Self {
        Self {
            text: vec![sign; self.text.len()],
            at: self.at,
            trouble: self.trouble.clone(),
        }
    }

    /// The line before and after the cursor.
    pub fn parts(&self) -> (String, String) {
        let (before, after) = self.text.split_at(self.at);
        (before.iter().collect(), after.iter().collect())
    }

    /// Takes one key.
    pub fn handle_key(&mut self, event: &KeyEvent) -> Typed {
        if event.kind == KeyEventKind::Release {
            return Typed::More;
        }
        match keys::command(TYPING_KEYS, event) {
            Some(TypingCommand::Done) => {
                let line: String = self.text.iter().collect();
                return Typed::Done(line.trim().to_owned());
            }
            Some(TypingCommand::Drop) => return Typed::Dropped,
            Some(TypingCommand::Clear) => {
                self.text.drain(..self.at);
                self.at = 0;
                self.trouble = None;
            }
            Some(TypingCommand::TakeBefore) if self.at > 0 => {
                self.at -= 1;
                self.text.remove(self.at);
                self.trouble = None;
            }
            Some(TypingCommand::TakeHere) if self.at < self.text.len() => {
                self.text.remove(self.at);
                self.trouble = None;
            }
            Some(TypingCommand::TakeBefore | TypingCommand::TakeHere) => {}
            Some(TypingCommand::Left) => self.at = self.at.saturating_sub(1),
            Some(TypingCommand::Right) => self.at = (self.at + 1).min(self.text.len()),
            Some(TypingCommand::Start) => self.at = 0,
            Some(TypingCommand::End) => self.at = self.text.len(),
            None => {
                let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
                if let (KeyCode::Char(c), false) = (event.code, ctrl) {
                    self.insert(c);
                }
            }
        }
        Typed::More
    }

    /// Takes pasted text.
    pub fn paste(&mut self, text: &str) {
        for c in text.chars() {
            self.insert(c);
        }
    }

    fn insert(&mut self, c: char) {
        self.trouble = None;
        if self.text.len() < MAX_CHARS && !c.is_control() {
            self.text.insert(self.at, c);
            self.at += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::keys::Key;
    use super::*;

    fn press(line: &mut LineEdit, code: KeyCode) -> Typed {
        line.handle_key(&Key::Code(code).event())
    }

    #[test]
    fn typing_and_mending() {
        let mut line = LineEdit::new("F4");
        press(&mut line, KeyCode::Left);
        line.handle_key(&Key::Char('#').event());
        assert_eq!(line.parts(), ("F#".to_owned(), "4".to_owned()));
        press(&mut line, KeyCode::End);
        press(&mut line, KeyCode::Backspace);
        press(&mut line, KeyCode::Char('5'));
        assert_eq!(
            press(&mut line, KeyCode::Enter),
            Typed::Done("F#5".to_owned())
        );
    }

    #[test]
    fn a_complaint_stands_until_the_line_is_changed() {
        let mut line = LineEdit::new("H9");
        line.complain("no such note");
        press(&mut line, KeyCode::Left);
        assert_eq!(line.trouble(), Some("no such note"));
        press(&mut line, KeyCode::Backspace);
        assert_eq!(line.trouble(), None);
    }

    #[test]
    fn a_huge_paste_is_cut_and_control_signs_are_dropped() {
        let mut line = LineEdit::default();
        line.paste(&"a\u{1b}\n".repeat(500));
        assert_eq!(line.parts().0.chars().count(), MAX_CHARS);
        assert!(!line.parts().0.contains('\u{1b}'));
        assert_eq!(press(&mut line, KeyCode::Esc), Typed::Dropped);
    }
}
