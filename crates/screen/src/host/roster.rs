//! The two lists of the host's screen: who is how far, and what came in.

use core::time::Duration;

use fifthpeg_lesson::learning::help::Glance;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::Source;
use fifthpeg_lesson::view::{AnswerView, StudentView};
use fifthpeg_lesson::words::sentence;
use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Span;
use ratatui::widgets::{Row, Table, Widget};

use super::state::HostState;
use crate::parts;
use crate::theme::{Theme, Tint};
use crate::words;

/// From this width on the roster has room for whole sentences.
const ROOMY_COLUMNS: u16 = 95;
/// From this width on it has a column on how each has fared lately; below it
/// the heading says who needs help.
const LATELY_COLUMNS: u16 = 110;

/// Draws the roster: a heading, column names, and a line for each student. The
/// chosen student stays in sight.
pub fn students(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let all = state.roster();
    let chosen = state.chosen_row();
    let rows = usize::from(area.height.saturating_sub(2));
    let first = (chosen + 1).saturating_sub(rows);
    let title = if all.len() > rows {
        let last = (first + rows).min(all.len());
        format!("Students {} to {last} of {}", first + 1, all.len())
    } else {
        format!("Students ({})", all.len())
    };
    let lately = area.width >= LATELY_COLUMNS;
    let title = if lately {
        title
    } else {
        with_help(title, &all, usize::from(area.width.saturating_sub(6)))
    };
    parts::rule(&title, heading(area), theme, buf);
    let narrow = area.width < ROOMY_COLUMNS;
    let sings = state.view.rules.sing_first;
    let names = [
        "",
        "name",
        "now",
        "again",
        "tries",
        if sings { "sang" } else { "" },
        "last answer",
        "time",
        "found",
        if lately { "lately" } else { "" },
    ];
    let widths = [
        Constraint::Length(1),
        Constraint::Fill(if narrow { 2 } else { 1 }),
        Constraint::Length(11),
        Constraint::Length(5),
        Constraint::Length(5),
        Constraint::Length(if sings { 9 } else { 0 }),
        Constraint::Fill(if narrow { 3 } else { 2 }),
        Constraint::Length(if theme.is_ascii() { 14 } else { 12 }),
        Constraint::Length(5),
        Constraint::Length(if lately { 27 } else { 0 }),
    ];
    // No room is kept for a column that is not there.
    let columns = if lately { 10 } else { 9 };
    let cells = Layout::horizontal(widths.into_iter().take(columns)).spacing(1);
    let cells = cells.split(area);
    let room = |column: usize| cells.get(column).map_or(0, |cell| usize::from(cell.width));
    let fitting = Fitting {
        narrow,
        name: room(NAME),
        answer: room(LAST_ANSWER),
    };
    let lines = all.iter().enumerate().skip(first).take(rows);
    let lines = lines.map(|(at, student)| student_row(state, *student, at == chosen, fitting));
    let table = Table::new(lines, widths.into_iter().take(columns))
        .header(Row::new(names.into_iter().take(columns)).style(theme.style(Tint::Faint)))
        .column_spacing(1);
    table.render(below_heading(area), buf);
}

/// Where the two columns stand that give way.
const NAME: usize = 1;
const LAST_ANSWER: usize = 6;

/// How much room they have, in columns of the terminal.
#[derive(Debug, Clone, Copy)]
struct Fitting {
    narrow: bool,
    name: usize,
    answer: usize,
}

fn student_row(
    state: &HostState,
    (student, glance): (&StudentView, Option<Glance>),
    chosen: bool,
    fitting: Fitting,
) -> Row<'static> {
    let theme = state.theme();
    let calls = state.view.turn == Some(student.id);
    let (sign, word, tint) = match student.progress {
        _ if !student.connected => (theme.signs().away, "away", Tint::Faint),
        Some(progress) => words::progress(progress, theme),
        None if calls => (theme.signs().pointer, "calls", Tint::Strong),
        None => (" ", "", Tint::Plain),
    };
    let last = student.answers.last();
    let pointer = if chosen { theme.signs().pointer } else { " " };
    let name_tint = if chosen { Tint::Strong } else { Tint::Plain };
    let name = match glance {
        Some(glance) if student.connected && glance.needs_help() => format!("! {}", student.name),
        _ => student.name.clone(),
    };
    let lately = glance.map_or_else(String::new, |glance| words::short_glance(&glance));
    let tally = format!("{}/{}", student.tally.found, student.tally.calls);
    Row::new([
        Span::styled(pointer, theme.style(Tint::Strong)),
        Span::styled(
            words::fitted(theme.text(&name), fitting.name, theme),
            theme.style(name_tint),
        ),
        Span::styled(format!("{sign} {word}"), theme.style(tint)),
        Span::raw(number(student.hearings)),
        Span::raw(number(student.tries)),
        Span::raw(student.sung.map_or_else(String::new, words::short_sung)),
        Span::raw(last.map_or_else(String::new, |answer| {
            let text = said(state, answer, fitting.narrow);
            words::fitted(text, fitting.answer, theme)
        })),
        Span::raw(last.map_or_else(String::new, |answer| time(answer, theme))),
        Span::raw(tally),
        Span::raw(lately),
    ])
}

/// The heading with who needs help and why, as many as there is room for.
fn with_help(title: String, roster: &[(&StudentView, Option<Glance>)], width: usize) -> String {
    let needs = |(student, glance): &(&StudentView, Option<Glance>)| {
        let glance = glance.filter(|g| student.connected && g.needs_help())?;
        Some(format!(
            "{}: {}",
            student.name,
            words::short_glance(&glance)
        ))
    };
    let needs: Vec<String> = roster.iter().filter_map(needs).collect();
    let fitting = |shown: usize| {
        let rest = match needs.len() - shown {
            0 => String::new(),
            rest => format!("; {rest} more"),
        };
        let text = format!("{title}. Help: {}{rest}", needs[..shown].join("; "));
        (Span::raw(&text).width() <= width).then_some(text)
    };
    let whole = (1..=needs.len()).rev().find_map(fitting);
    match (whole, needs.len()) {
        (Some(text), _) => text,
        (None, 0) => title,
        (None, many) => format!("{title}. Help: {many} of them"),
    }
}

/// Draws the answers to the call, the quickest first; those whose time is not
/// known come last.
pub fn answers(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let mut all: Vec<(&StudentView, &AnswerView)> = state
        .view
        .students
        .iter()
        .flat_map(|student| student.answers.iter().map(move |answer| (student, answer)))
        .collect();
    all.sort_by_key(|(_, answer)| answer.response.unwrap_or(Duration::MAX));
    let rows = usize::from(area.height.saturating_sub(2));
    let title = if all.len() > rows {
        format!("What came in, the {rows} quickest of {}", all.len())
    } else {
        format!("What came in ({}), the quickest first", all.len())
    };
    parts::rule(&title, heading(area), theme, buf);
    let lines = all.iter().take(rows).map(|(student, answer)| {
        let (sign, tint) = match answer.mark {
            Mark::Right => (theme.signs().found, Tint::Right),
            Mark::Missed(_) => (theme.signs().missed, Tint::Missed),
        };
        Row::new([
            Span::raw(time(answer, theme)),
            Span::raw(theme.text(&student.name)),
            Span::styled(sign, theme.style(tint)),
            Span::raw(said(state, answer, false)),
        ])
    });
    let widths = [
        Constraint::Length(if theme.is_ascii() { 15 } else { 13 }),
        Constraint::Fill(1),
        Constraint::Length(1),
        Constraint::Fill(2),
    ];
    let table = Table::new(lines, widths)
        .header(Row::new(["time", "name", "", "answer"]).style(theme.style(Tint::Faint)))
        .column_spacing(1);
    table.render(below_heading(area), buf);
}

/// An answer and how it was marked; only the mark's sign and word while the
/// target is hidden, because a place would give it away.
fn said(state: &HostState, answer: &AnswerView, narrow: bool) -> String {
    let played = match answer.source {
        Source::Instrument => format!("{} ", state.theme().signs().played),
        Source::Screen => String::new(),
    };
    if state.is_target_hidden() {
        let mark = match answer.mark {
            Mark::Right => "right",
            Mark::Missed(_) => "missed",
        };
        return format!("{played}{mark}");
    }
    let mut writing = state.writing();
    writing.names &= !narrow;
    let what = writing.answer(&state.neck, answer.answer);
    let mark = if narrow {
        words::short_mark(&answer.mark)
    } else {
        sentence(&answer.mark)
    };
    format!("{played}{what} {mark}")
}

fn time(answer: &AnswerView, theme: Theme) -> String {
    answer.response.map_or_else(
        || "not known".to_owned(),
        |time| words::response(time, answer.uncertainty, theme),
    )
}

/// Nought is left blank, so that what happened stands out.
fn number(number: u32) -> String {
    if number == 0 {
        String::new()
    } else {
        number.to_string()
    }
}

fn heading(area: Rect) -> Rect {
    Rect { height: 1, ..area }
}

fn below_heading(area: Rect) -> Rect {
    Rect {
        y: area.y + 1,
        height: area.height.saturating_sub(1),
        ..area
    }
}
