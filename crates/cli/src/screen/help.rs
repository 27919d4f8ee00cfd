//! The help over a screen, made from the key tables themselves.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Paragraph};

use super::keys::Binding;
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
    /// The keys of a table.
    pub fn keys<C>(title: &'static str, table: &[Binding<C>]) -> Self {
        Self {
            title,
            lines: table
                .iter()
                .map(|binding| (binding.shown.to_owned(), binding.does.to_owned()))
                .collect(),
        }
    }
}

/// Draws the help from this line on; returns the last line it may start from.
pub fn draw(
    parts: &[HelpPart],
    first: usize,
    area: Rect,
    theme: Theme,
    frame: &mut Frame,
) -> usize {
    frame.render_widget(Clear, area);
    let block = theme.boxed("Help (Up and Down move, any other key closes)");
    let inside = block.inner(area);
    frame.render_widget(block, area);
    let lines = lines(parts, theme);
    let rows = usize::from(inside.height);
    // Two columns where they help: then everything is seen at once.
    if inside.width >= 120 && lines.len() > rows {
        let [left, right] =
            Layout::horizontal([Constraint::Fill(1), Constraint::Fill(1)]).areas(inside);
        let first = first.min(lines.len().saturating_sub(2 * rows));
        let (a, b) = lines[first..].split_at(rows.min(lines.len() - first));
        frame.render_widget(Paragraph::new(a.to_vec()), left);
        frame.render_widget(Paragraph::new(b.to_vec()), right);
        return lines.len().saturating_sub(2 * rows);
    }
    let last = lines.len().saturating_sub(rows);
    let shown = lines[first.min(last)..].to_vec();
    frame.render_widget(Paragraph::new(shown), inside);
    last
}

/// How many lines the help has.
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

/// Where the help starts after this key, or `None` if the key closes it.
pub fn scrolled(first: usize, length: usize, event: &KeyEvent) -> Option<usize> {
    let last = length.saturating_sub(1);
    match event.code {
        _ if event.kind == KeyEventKind::Release => Some(first),
        KeyCode::Up => Some(first.saturating_sub(1)),
        KeyCode::Down => Some((first + 1).min(last)),
        KeyCode::PageUp => Some(first.saturating_sub(10)),
        KeyCode::PageDown => Some((first + 10).min(last)),
        _ => None,
    }
}
