//! Keys and what they do. Each screen has tables of [`Binding`]; the tables
//! drive the keys, the line at the foot and the help, so that none of them can
//! say what another does not do.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// One key as a table names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A letter or sign, typed without Ctrl or Alt.
    Char(char),
    /// A letter with Ctrl.
    Ctrl(char),
    /// Any other key.
    Code(KeyCode),
    /// No key: a word where one would stand.
    Word(&'static str),
}

/// Keys that have a name.
pub const ENTER: Key = Key::Code(KeyCode::Enter);
/// Escape.
pub const ESC: Key = Key::Code(KeyCode::Esc);
/// The arrow up.
pub const UP: Key = Key::Code(KeyCode::Up);
/// The arrow down.
pub const DOWN: Key = Key::Code(KeyCode::Down);
/// The arrow to the left.
pub const LEFT: Key = Key::Code(KeyCode::Left);
/// The arrow to the right.
pub const RIGHT: Key = Key::Code(KeyCode::Right);
/// Home.
pub const HOME: Key = Key::Code(KeyCode::Home);
/// End.
pub const END: Key = Key::Code(KeyCode::End);
/// Page up, which foot switches send as well.
pub const PAGE_UP: Key = Key::Code(KeyCode::PageUp);
/// Page down, which foot switches send as well.
pub const PAGE_DOWN: Key = Key::Code(KeyCode::PageDown);
/// The space bar.
pub const SPACE: Key = Key::Char(' ');
/// What ends a program.
pub const CTRL_C: Key = Key::Ctrl('c');

impl Key {
    fn matches(self, event: &KeyEvent) -> bool {
        let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
        let alt = event.modifiers.contains(KeyModifiers::ALT);
        match (self, event.code) {
            (Self::Char(wanted), KeyCode::Char(typed)) => {
                !ctrl && !alt && wanted == typed.to_ascii_lowercase()
            }
            (Self::Ctrl(wanted), KeyCode::Char(typed)) => {
                ctrl && !alt && wanted == typed.to_ascii_lowercase()
            }
            (Self::Code(wanted), typed) => wanted == typed,
            _ => false,
        }
    }

    /// The event of this key, for tests and scripts.
    pub fn event(self) -> KeyEvent {
        match self {
            Self::Char(c) => KeyEvent::new(KeyCode::Char(c), KeyModifiers::NONE),
            Self::Ctrl(c) => KeyEvent::new(KeyCode::Char(c), KeyModifiers::CONTROL),
            Self::Code(code) => KeyEvent::new(code, KeyModifiers::NONE),
            Self::Word(_) => KeyEvent::new(KeyCode::Null, KeyModifiers::NONE),
        }
    }

    /// As it is written in the help and at the foot.
    pub fn name(self) -> String {
        match self {
            Self::Char(' ') => "Space".to_owned(),
            Self::Char(c) => c.to_string(),
            Self::Ctrl(c) => format!("Ctrl-{}", c.to_ascii_uppercase()),
            Self::Code(KeyCode::PageUp) => "PageUp".to_owned(),
            Self::Code(KeyCode::PageDown) => "PageDown".to_owned(),
            Self::Code(code) => code.to_string(),
            Self::Word(word) => word.to_owned(),
        }
    }
}

/// Some keys, and the one thing they do.
#[derive(Debug, Clone, Copy)]
pub struct Binding<C: 'static> {
    /// The keys; any of them will do. The first stands in the help.
    pub keys: &'static [Key],
    /// What they do, for the help.
    pub does: &'static str,
    /// The same in a word or two for the line at the foot; empty to leave it out.
    pub short: &'static str,
    /// The command.
    pub command: C,
}

/// One row of a table.
pub const fn row<C>(
    keys: &'static [Key],
    does: &'static str,
    short: &'static str,
    command: C,
) -> Binding<C> {
    Binding {
        keys,
        does,
        short,
        command,
    }
}

impl<C> Binding<C> {
    /// How its key is written.
    pub fn shown(&self) -> String {
        self.keys.first().map_or_else(String::new, |key| key.name())
    }
}

/// Whether this is a press of that key.
pub fn is(key: Key, event: &KeyEvent) -> bool {
    event.kind != KeyEventKind::Release && key.matches(event)
}

/// The command that a key stands for in a table, if any. Key releases, which
/// some terminals report, never count.
pub fn command<C: Copy>(table: &[Binding<C>], event: &KeyEvent) -> Option<C> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    table
        .iter()
        .find(|binding| binding.keys.iter().any(|key| key.matches(event)))
        .map(|binding| binding.command)
}

/// The line at the foot, as wide as fits: "c call by hand  n any ...".
/// Bindings that do not fit are left out whole.
pub fn foot<C>(table: &[Binding<C>], width: usize) -> Vec<(String, &'static str)> {
    let mut used = 0;
    let mut out = Vec::new();
    // The help key comes last in every table and must always be there.
    let help = table.iter().rfind(|b| b.keys.contains(&Key::Char('?')));
    let kept = help.map_or(0, |b| b.shown().len() + b.short.len() + 3);
    for binding in table {
        let shown = binding.shown();
        let wide = shown.chars().count() + binding.short.len() + 3;
        let is_help = binding.keys.contains(&Key::Char('?'));
        if binding.short.is_empty() || is_help || used + wide + kept > width + 2 {
            continue;
        }
        used += wide;
        out.push((shown, binding.short));
    }
    if let Some(binding) = help {
        out.push((binding.shown(), binding.short));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &[Binding<u8>] = &[
        row(&[Key::Char('c')], "call", "call", 1),
        row(&[CTRL_C, Key::Char('q')], "end the lesson", "end", 2),
        row(&[Key::Char('?')], "help", "help", 3),
    ];

    #[test]
    fn ctrl_is_not_the_letter_alone() {
        assert_eq!(command(TABLE, &Key::Char('c').event()), Some(1));
        assert_eq!(command(TABLE, &Key::Ctrl('c').event()), Some(2));
        assert_eq!(command(TABLE, &Key::Char('z').event()), None);
    }

    #[test]
    fn a_released_key_does_nothing() {
        let mut event = Key::Char('c').event();
        event.kind = KeyEventKind::Release;
        assert_eq!(command(TABLE, &event), None);
    }

    #[test]
    fn the_foot_keeps_help_when_narrow() {
        assert_eq!(foot(TABLE, 80).len(), 3);
        assert_eq!(foot(TABLE, 10), vec![("?".to_owned(), "help")]);
    }
}
