//! One line that the user types.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

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
        let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
        match event.code {
            KeyCode::Enter => {
                let line: String = self.text.iter().collect();
                return Typed::Done(line.trim().to_owned());
            }
            KeyCode::Esc => return Typed::Dropped,
            KeyCode::Char('c') if ctrl => return Typed::Dropped,
            KeyCode::Char('u') if ctrl => {
                self.text.drain(..self.at);
                self.at = 0;
                self.trouble = None;
            }
            KeyCode::Char(c) if !ctrl => self.insert(c),
            KeyCode::Backspace if self.at > 0 => {
                self.at -= 1;
                self.text.remove(self.at);
                self.trouble = None;
            }
            KeyCode::Delete if self.at < self.text.len() => {
                self.text.remove(self.at);
                self.trouble = None;
            }
            KeyCode::Left => self.at = self.at.saturating_sub(1),
            KeyCode::Right => self.at = (self.at + 1).min(self.text.len()),
            KeyCode::Home => self.at = 0,
            KeyCode::End => self.at = self.text.len(),
            _ => {}
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
