//! Pieces that both screens are made of.

use fifthpeg_front::wrap::wrapped;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Paragraph, Widget, Wrap};

use super::keys::{self, Binding};
use super::line_edit::LineEdit;
use super::theme::{Theme, Tint};

/// Least width a screen is drawn at, in columns.
pub const MIN_COLUMNS: u16 = 60;
/// Least height, in rows.
pub const MIN_ROWS: u16 = 16;

/// Something to tell in the line above the foot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// One sentence.
    pub text: String,
    /// What kind.
    pub tint: Tint,
}

impl Message {
    /// News.
    pub fn news(text: impl ToString) -> Self {
        Self {
            text: text.to_string(),
            tint: Tint::Plain,
        }
    }

    /// Something that did not work.
    pub fn trouble(text: impl ToString) -> Self {
        Self {
            text: text.to_string(),
            tint: Tint::Caution,
        }
    }
}

/// If a window is too small to draw in, says so there and returns true.
pub fn too_small(theme: Theme, frame: &mut Frame) -> bool {
    let area = frame.area();
    if area.width >= MIN_COLUMNS && area.height >= MIN_ROWS {
        return false;
    }
    let text = format!(
        "This window has {} columns and {} rows: make it at least {MIN_COLUMNS} by {MIN_ROWS}, or use --plain. The lesson goes on meanwhile.",
        area.width, area.height
    );
    let page = Paragraph::new(text)
        .style(theme.style(Tint::Plain))
        .wrap(Wrap { trim: true });
    frame.render_widget(page, area);
    true
}

/// A rule across the screen with a heading in it.
pub fn rule(title: &str, area: Rect, theme: Theme, buf: &mut Buffer) {
    let faint = theme.style(Tint::Faint);
    let sign = theme.signs().rule;
    let line = sign.repeat(usize::from(area.width));
    buf.set_stringn(area.x, area.y, line, usize::from(area.width), faint);
    if !title.is_empty() {
        let title = format!(" {} ", theme.text(title));
        let width = usize::from(area.width.saturating_sub(4));
        let strong = theme.style(Tint::Strong);
        // Only the heading itself is ordinary text, so the rule stays faint.
        for x in area.x + 2..area.right() {
            if usize::from(x - area.x - 2) < Span::raw(&title).width().min(width)
                && let Some(cell) = buf.cell_mut((x, area.y))
            {
                cell.reset();
            }
        }
        buf.set_stringn(area.x + 2, area.y, title, width, strong);
    }
}

/// A line with something at each end; the left gives way.
pub fn ends(left: Span<'static>, right: Span<'static>, area: Rect, buf: &mut Buffer) {
    let right_width = u16::try_from(right.width()).unwrap_or(u16::MAX);
    let room = area.width.saturating_sub(right_width + 1);
    buf.set_span(area.x, area.y, &left, room);
    let x = area.right().saturating_sub(right_width).max(area.x);
    buf.set_span(x, area.y, &right, area.width.min(right_width));
}

/// The keys at the foot.
pub fn foot<C>(table: &[Binding<C>], area: Rect, theme: Theme, buf: &mut Buffer) {
    let mut spans = Vec::new();
    for (key, word) in keys::foot(table, usize::from(area.width)) {
        spans.push(Span::styled(key, theme.style(Tint::Strong)));
        spans.push(Span::raw(format!(" {word}  ")));
    }
    buf.set_line(area.x, area.y, &Line::from(spans), area.width);
}

/// A message. One that is longer than a line takes rows above it as well, so
/// that all of it can be read.
pub fn message(message: Option<&Message>, area: Rect, theme: Theme, buf: &mut Buffer) {
    let Some(message) = message else {
        return;
    };
    let text = theme.text(&message.text);
    let rows = wrapped(&text, usize::from(area.width.max(1)), "").len();
    let above = u16::try_from(rows - 1).unwrap_or(u16::MAX).min(area.y);
    let place = Rect {
        y: area.y - above,
        height: area.height + above,
        ..area
    };
    Clear.render(place, buf);
    Paragraph::new(text)
        .style(theme.style(message.tint))
        .wrap(Wrap { trim: true })
        .render(place, buf);
}

/// An area in the middle of another, as large as asked for and fits.
pub fn over(area: Rect, width: usize, height: usize) -> Rect {
    let width = u16::try_from(width).unwrap_or(u16::MAX).min(area.width);
    let height = u16::try_from(height).unwrap_or(u16::MAX).min(area.height);
    Rect {
        x: area.x + (area.width - width) / 2,
        y: area.y + (area.height - height) / 2,
        width,
        height,
    }
}

/// Some sentences in a box over the screen.
pub fn notice(title: &str, text: &[String], area: Rect, theme: Theme, frame: &mut Frame) {
    let width = usize::from(area.width.min(76));
    let inner = width.saturating_sub(4).max(1);
    let rows: usize = text
        .iter()
        .map(|line| wrapped(line, inner, "").len())
        .sum::<usize>()
        + 2;
    let place = over(area, width, rows);
    let lines: Vec<Line> = text
        .iter()
        .map(|line| Line::raw(theme.text(line)))
        .collect();
    frame.render_widget(Clear, place);
    let block = theme
        .boxed(title)
        .padding(ratatui::widgets::Padding::horizontal(1));
    let page = Paragraph::new(lines).wrap(Wrap { trim: true }).block(block);
    frame.render_widget(page, place);
}

/// A line to type into, in a box with some hints above it and what is wrong
/// with the line below it.
pub fn ask(
    title: &str,
    hints: &[String],
    line: &LineEdit,
    area: Rect,
    theme: Theme,
    frame: &mut Frame,
) {
    let width = usize::from(area.width.min(76));
    let inner = width.saturating_sub(2).max(1);
    let trouble = line.trouble().map(|why| theme.text(why));
    let trouble_rows = trouble
        .as_ref()
        .map_or(0, |why| wrapped(why, inner, "").len());
    let place = over(area, width, hints.len() + trouble_rows + 4);
    frame.render_widget(Clear, place);
    let block = theme.boxed(title);
    let inside = block.inner(place);
    frame.render_widget(block, place);
    let (before, after) = line.parts();
    let (before, after) = (theme.text(&before), theme.text(&after));
    let room = usize::from(inside.width.saturating_sub(5));
    // What is typed stays in sight: the beginning gives way.
    let skip = before.chars().count().saturating_sub(room);
    let seen: String = before.chars().skip(skip).collect();
    let x = inside.x + 2 + u16::try_from(seen.chars().count()).unwrap_or(0);
    let y = inside.y + u16::try_from(hints.len()).unwrap_or(0);
    let typed = Line::from(vec![
        Span::styled("> ", theme.style(Tint::Strong)),
        Span::raw(seen),
        Span::raw(after),
    ]);
    let faint = theme.style(Tint::Faint);
    let mut lines: Vec<Line> = hints
        .iter()
        .map(|hint| Line::styled(theme.text(hint), faint))
        .collect();
    lines.push(typed);
    frame.render_widget(Paragraph::new(lines), inside);
    let below = |rows: u16, height: usize| Rect {
        y: y + rows,
        height: u16::try_from(height).unwrap_or(u16::MAX),
        ..inside
    };
    if let Some(why) = trouble {
        let why = Paragraph::new(why)
            .style(theme.style(Tint::Caution))
            .wrap(Wrap { trim: true });
        frame.render_widget(why, below(1, trouble_rows).intersection(inside));
    }
    let foot = below(1 + u16::try_from(trouble_rows).unwrap_or(0), 1);
    let keys = Paragraph::new("Enter takes it, Esc goes back");
    frame.render_widget(keys, foot.intersection(inside));
    frame.set_cursor_position((x, y));
}

/// The line to type a reach into.
pub fn ask_reach(now: &str, line: &LineEdit, area: Rect, theme: Theme, frame: &mut Frame) {
    let hints = [
        format!("The reach is now: {now}"),
        "Type another, such as strings=1,2 frets=0-5".to_owned(),
        "or pitches=D3-D4 notes=G:major".to_owned(),
    ];
    ask("A reach of your own", &hints, line, area, theme, frame);
}
