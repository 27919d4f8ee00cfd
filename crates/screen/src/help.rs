//! The help over a screen, made from the key tables themselves.

use crossterm::event::{KeyEvent, KeyEventKind};
use fifthpeg_front::SHORT_HELP;
use fifthpeg_front::wrap::wrapped;
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Paragraph};

use super::keys::{self, Binding, DOWN, Key, PAGE_DOWN, PAGE_UP, UP, row};
use super::line_edit::TYPING_KEYS;
use super::menu::MENU_KEYS;
use super::parts::{MIN_ROWS, over};
use super::rows;
use super::theme::{Theme, Tint};

/// One part of the help: a heading and what stands under it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HelpPart {
    /// The heading.
    pub title: &'static str,
    /// Keys or signs, and what they do or mean.
    pub lines: Vec<(String, String)>,
}

impl HelpPart {
    /// The first of a table's keys that stand at the foot, but for the help's own.
    pub fn short<C: Copy>(title: &'static str, table: &[Binding<C>]) -> Self {
        let kept = |b: &&Binding<C>| !b.short.is_empty() && !b.keys.contains(&Key::Char('?'));
        let kept: Vec<Binding<C>> = table
            .iter()
            .filter(kept)
            .take(SHORT_HELP)
            .copied()
            .collect();
        Self::keys(title, &kept)
    }

    /// The same with what a key does on as many lines as it takes.
    fn in_columns(&self, columns: usize) -> Self {
        let room = columns.saturating_sub(KEY_COLUMNS).max(1);
        let mut lines = Vec::new();
        for (key, does) in &self.lines {
            let keys = core::iter::once(key.clone()).chain(core::iter::repeat(String::new()));
            lines.extend(keys.zip(wrapped(does, room, "")));
        }
        Self {
            title: self.title,
            lines,
        }
    }

    /// The keys of a table.
    pub fn keys<C>(title: &'static str, table: &[Binding<C>]) -> Self {
        Self {
            title,
            lines: table
                .iter()
                .map(|binding| (binding.shown(), binding.does.to_owned()))
                .collect(),
        }
    }
}

/// Whether this key opens the whole help from the short one: the key of the help.
pub fn opens_all(event: &KeyEvent) -> bool {
    keys::command(&[rows::help(())], event).is_some()
}

/// Draws the short help.
pub fn draw_short(part: &HelpPart, area: Rect, theme: Theme, frame: &mut Frame) {
    let inside = usize::from(area.width.saturating_sub(2)).min(HELP_COLUMNS);
    let mut lines = lines(std::slice::from_ref(&part.in_columns(inside)), theme);
    lines.push(Line::default());
    lines.push(Line::raw("? shows all keys; any other key goes back."));
    let place = over(area, HELP_COLUMNS + 2, lines.len() + 2);
    frame.render_widget(Clear, place);
    frame.render_widget(Paragraph::new(lines).block(theme.boxed("Help")), place);
}

/// Columns that a key takes, before what it does.
const KEY_COLUMNS: usize = 16;
/// Lines that a page key moves by.
const PAGE: usize = 12;
/// Columns for one column of help.
const HELP_COLUMNS: usize = 76;

/// Draws the help from this line on, or from the last line that fills the
/// screen.
pub fn draw(parts: &[HelpPart], first: usize, area: Rect, theme: Theme, frame: &mut Frame) {
    let inside = usize::from(area.width.saturating_sub(2)).min(HELP_COLUMNS);
    let first = rows_before(parts, first, inside);
    let lines = lines(&in_columns(parts, inside), theme);
    let rows = usize::from(area.height.saturating_sub(2));
    // Two columns where they help: then everything is seen at once.
    let wide = usize::from(area.width) >= 2 * HELP_COLUMNS + 2 && lines.len() > rows;
    let columns = if wide { 2 } else { 1 };
    let place = over(area, HELP_COLUMNS * columns + 2, lines.len() + 2);
    frame.render_widget(Clear, place);
    let mut block = theme.boxed("Help (Up, Down, PageUp, PageDown move; others close)");
    let inside = block.inner(place);
    let rows = usize::from(inside.height);
    let first = first.min(lines.len().saturating_sub(rows * columns));
    let more = match (first > 0, first + rows * columns < lines.len()) {
        (false, false) => "",
        (true, false) => " more above: Up ",
        (false, true) => " more below: Down ",
        (true, true) => " more above and below: Up, Down ",
    };
    block = block.title_bottom(Line::styled(more, theme.style(Tint::Strong)));
    frame.render_widget(block, place);
    let areas = Layout::horizontal(vec![Constraint::Fill(1); columns]).split(inside);
    for (page, area) in lines[first..].chunks(rows.max(1)).zip(areas.iter()) {
        frame.render_widget(Paragraph::new(page.to_vec()), *area);
    }
}

/// The parts, in lines that fit.
fn in_columns(parts: &[HelpPart], columns: usize) -> Vec<HelpPart> {
    parts.iter().map(|part| part.in_columns(columns)).collect()
}

/// How many rows of the screen so many lines of the help take.
fn rows_before(parts: &[HelpPart], lines: usize, columns: usize) -> usize {
    let rows_of = |part: &HelpPart| {
        let one = |line: &(String, String)| HelpPart {
            title: part.title,
            lines: vec![line.clone()],
        };
        let rows = part.lines.iter();
        rows.map(move |line| one(line).in_columns(columns).lines.len())
            .collect::<Vec<_>>()
    };
    // Each part begins with a title, and all but the first with a blank line.
    let all = parts.iter().enumerate().flat_map(|(at, part)| {
        std::iter::repeat_n(1, 1 + usize::from(at > 0)).chain(rows_of(part))
    });
    all.take(lines).sum()
}

/// How many lines the help has, where none has to be wrapped.
pub fn length(parts: &[HelpPart]) -> usize {
    parts.iter().map(|part| part.lines.len() + 2).sum::<usize>() - 1
}

fn lines(parts: &[HelpPart], theme: Theme) -> Vec<Line<'static>> {
    let mut out = Vec::new();
    for (at, part) in parts.iter().enumerate() {
        if at > 0 {
            out.push(Line::default());
        }
        out.push(Line::styled(part.title, theme.style(Tint::Strong)));
        for (key, does) in &part.lines {
            out.push(Line::from(vec![
                Span::styled(format!("  {key:<14}"), theme.style(Tint::Strong)),
                Span::raw(does.clone()),
            ]));
        }
    }
    out
}

/// What keys do in the help; all others close it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HelpCommand {
    /// One line up.
    Up,
    /// One line down.
    Down,
    /// A page up.
    PageUp,
    /// A page down.
    PageDown,
}

/// The keys of the help itself.
pub const HELP_KEYS: &[Binding<HelpCommand>] = &[
    row(&[UP], "one line up", "", HelpCommand::Up),
    row(&[DOWN], "one line down", "", HelpCommand::Down),
    row(&[PAGE_UP], "a page up", "", HelpCommand::PageUp),
    row(
        &[PAGE_DOWN],
        "a page down; other keys close",
        "",
        HelpCommand::PageDown,
    ),
];

/// The parts that the help of every screen with a lesson ends with.
pub fn of_every_screen() -> [HelpPart; 3] {
    [
        HelpPart::keys("Lists", MENU_KEYS),
        HelpPart::keys("While you type", TYPING_KEYS),
        HelpPart::keys("This help", HELP_KEYS),
    ]
}

/// Where the help starts after this key, or `None` if the key closes it.
pub fn scrolled(first: usize, length: usize, event: &KeyEvent) -> Option<usize> {
    // Not far past what the smallest screen shows at the end, so that the way back
    // begins at once; some of those lines may take two rows there.
    let last = length.saturating_sub(usize::from(MIN_ROWS) - 4);
    match keys::command(HELP_KEYS, event) {
        _ if event.kind == KeyEventKind::Release => Some(first),
        Some(HelpCommand::Up) => Some(first.saturating_sub(1)),
        Some(HelpCommand::Down) => Some((first + 1).min(last)),
        Some(HelpCommand::PageUp) => Some(first.saturating_sub(PAGE)),
        Some(HelpCommand::PageDown) => Some((first + PAGE).min(last)),
        None => None,
    }
}
