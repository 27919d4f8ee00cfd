//! A list to choose one line from.

use crossterm::event::KeyEvent;
use fifthpeg_front::wrap::wrapped;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Clear, Paragraph};

use super::keys::{self, Binding, CTRL_C, DOWN, ENTER, ESC, UP, row};
use super::parts;
use super::theme::{Theme, Tint};

/// A list to choose one line from, each with what it stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct Menu<T> {
    title: String,
    lines: Vec<(String, T)>,
    chosen: usize,
    /// What Ctrl-C stands for, in a question that Ctrl-C may have opened.
    insisted: Option<T>,
}

/// What a key did to a menu.
#[derive(Debug, Clone, PartialEq)]
pub enum Choosing<T> {
    /// Still choosing.
    More,
    /// This one.
    Chosen(T),
    /// None of them.
    Dropped,
}

/// What keys do in a menu.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MenuCommand {
    /// One line up.
    Up,
    /// One line down.
    Down,
    /// Take the chosen line.
    Take,
    /// Leave without choosing.
    Back,
    /// Yes, in a question whether to end or leave; else as [`Self::Back`].
    Insist,
}

/// The keys of every menu.
pub const MENU_KEYS: &[Binding<MenuCommand>] = &[
    row(&[UP], "one line up", "", MenuCommand::Up),
    row(&[DOWN], "one line down", "", MenuCommand::Down),
    row(&[ENTER], "take this line", "take", MenuCommand::Take),
    row(&[ESC], "back, changing nothing", "back", MenuCommand::Back),
    row(
        &[CTRL_C],
        "asked whether to end or leave: yes; else back",
        "",
        MenuCommand::Insist,
    ),
];

impl<T: Clone> Menu<T> {
    /// A menu with some line chosen at first.
    pub fn new(title: &str, lines: Vec<(String, T)>, chosen: usize) -> Self {
        Self {
            title: title.to_owned(),
            chosen: chosen.min(lines.len().saturating_sub(1)),
            lines,
            insisted: None,
        }
    }

    /// The same with a meaning for Ctrl-C, so that pressing it twice ends.
    pub fn insisted(self, what: T) -> Self {
        Self {
            insisted: Some(what),
            ..self
        }
    }

    /// Takes one key.
    pub fn handle_key(&mut self, event: &KeyEvent) -> Choosing<T> {
        match keys::command(MENU_KEYS, event) {
            Some(MenuCommand::Up) => self.chosen = self.chosen.saturating_sub(1),
            Some(MenuCommand::Down) => {
                self.chosen = (self.chosen + 1).min(self.lines.len().saturating_sub(1));
            }
            Some(MenuCommand::Take) => {
                return self
                    .lines
                    .get(self.chosen)
                    .map_or(Choosing::Dropped, |(_, what)| {
                        Choosing::Chosen(what.clone())
                    });
            }
            Some(MenuCommand::Back) => return Choosing::Dropped,
            Some(MenuCommand::Insist) => {
                let what = self.insisted.clone();
                return what.map_or(Choosing::Dropped, Choosing::Chosen);
            }
            None => {}
        }
        Choosing::More
    }

    /// Draws it over the screen.
    pub fn draw(&self, area: Rect, theme: Theme, frame: &mut Frame) {
        let widest = self.lines.iter().map(|(line, _)| line.chars().count());
        let width = widest.max().unwrap_or(0).max(self.title.len() + 2) + 6;
        // Between the box's sides, after the pointer and before a space.
        let screen = usize::from(area.width);
        let room = if width > screen {
            screen.saturating_sub(7)
        } else {
            width - 5
        };
        let mut lines: Vec<Line> = Vec::new();
        // Where the chosen one ends.
        let mut end = 0;
        for (at, (text, _)) in self.lines.iter().enumerate() {
            let chosen = at == self.chosen;
            for (row, text) in wrapped(&theme.text(text), room, "").iter().enumerate() {
                let pointer = if chosen && row == 0 {
                    theme.signs().pointer
                } else {
                    " "
                };
                let further = if row == 0 { "" } else { "  " };
                lines.push(if chosen {
                    Line::styled(
                        format!("{pointer} {further}{text} "),
                        theme.style(Tint::Cursor),
                    )
                } else {
                    Line::raw(format!("  {further}{text}"))
                });
            }
            if chosen {
                end = lines.len();
            }
        }
        let inside = parts::over(area, width, lines.len() + 2);
        let rows = usize::from(inside.height.saturating_sub(2));
        let lines = lines.split_off(end.saturating_sub(rows));
        frame.render_widget(Clear, inside);
        let page = Paragraph::new(lines).block(theme.boxed(&self.title));
        frame.render_widget(page, inside);
    }
}
