//! The two lists of the host's screen: who is how far, and what came in.

use fifthpeg_lesson::learning::help::{Glance, Need};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Progress, Source};
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

/// From this width on the roster has room for the last answer's time.
const ROOMY_COLUMNS: u16 = 95;
/// From this width on how each fares has a column beside the last answer; below it
/// whoever needs help has the reason there.
const LATELY_COLUMNS: u16 = 110;
/// Below this width tries are left out.
const TIGHT_COLUMNS: u16 = 75;

/// A column of the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Pointer,
    Name,
    Now,
    Wrong,
    Tries,
    Again,
    Sang,
    Sound,
    Last,
    Time,
    Found,
    Why,
}

/// Which columns there are, from left to right, with heading and width.
fn columns(state: &HostState, width: u16) -> Vec<(Column, &'static str, Constraint)> {
    let fixed = Constraint::Length;
    let sings = state.view.rules.sing_first;
    let sound = state
        .view
        .students
        .iter()
        .any(|s| s.no_sound || s.microphone);
    let narrow = width < ROOMY_COLUMNS;
    let time = if state.theme().is_ascii() { 14 } else { 12 };
    let last = if (TIGHT_COLUMNS..LATELY_COLUMNS).contains(&width) {
        "last answer, or reason"
    } else {
        "last answer"
    };
    #[rustfmt::skip] // So that it reads as the table it is.
    let all = [
        (true,                               Column::Pointer, "",      fixed(1)),
        (true,                               Column::Name,    "name",  Constraint::Fill(1)),
        (true,                               Column::Now,     "now",   fixed(11)),
        (true,                               Column::Wrong,   "wrong", fixed(5)),
        (width >= TIGHT_COLUMNS,             Column::Tries,   "tries", fixed(5)),
        (!narrow || (width >= TIGHT_COLUMNS && !sound && !sings),
                                             Column::Again,   "again", fixed(5)),
        (sings,                              Column::Sang,    "sang",  fixed(9)),
        (sound,                              Column::Sound,   "sound", fixed(10)),
        (true,                               Column::Last,    last,    Constraint::Fill(2)),
        (!narrow,                            Column::Time,    "time",  fixed(time)),
        (true,                               Column::Found,   "found", fixed(5)),
        (width >= LATELY_COLUMNS,            Column::Why,     "lately", fixed(27)),
    ];
    let there = all.into_iter().filter(|(there, ..)| *there);
    there
        .map(|(_, column, title, width)| (column, title, width))
        .collect()
}

/// Draws the roster: a heading, column names, and a line for each student. The
/// chosen student stays in sight.
pub fn students(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let all = state.roster();
    let chosen = state.chosen_row();
    let rows = usize::from(area.height.saturating_sub(2));
    let first = (chosen + 1).saturating_sub(rows);
    let mut title = if all.len() > rows {
        let last = (first + rows).min(all.len());
        format!("Students {} to {last} of {}", first + 1, all.len())
    } else {
        format!("Students ({})", all.len())
    };
    match all
        .iter()
        .filter(|(student, glance)| needs_help(student, *glance))
        .count()
    {
        0 => {}
        1 => title.push_str(": 1 needs help"),
        many => title.push_str(&format!(": {many} need help")),
    }
    parts::rule(&title, heading(area), theme, buf);
    let columns = columns(state, area.width);
    let widths: Vec<Constraint> = columns.iter().map(|(_, _, width)| *width).collect();
    let cells = Layout::horizontal(widths.clone()).spacing(1).split(area);
    let lines = all.iter().enumerate().skip(first).take(rows);
    let lines = lines.map(|(at, student)| {
        let row = columns.iter().zip(cells.iter());
        Row::new(row.map(|((column, ..), cell)| {
            let room = Room {
                list: area.width,
                cell: usize::from(cell.width),
            };
            student_cell(state, *student, at == chosen, *column, room)
        }))
    });
    let titles = columns.iter().map(|(_, title, _)| *title);
    let table = Table::new(lines, widths)
        .header(Row::new(titles).style(theme.style(Tint::Faint)))
        .column_spacing(1);
    table.render(below_heading(area), buf);
}

/// How wide the list and the cell are.
#[derive(Debug, Clone, Copy)]
struct Room {
    list: u16,
    cell: usize,
}

fn needs_help(student: &StudentView, glance: Option<Glance>) -> bool {
    student.connected && glance.is_some_and(|glance| glance.needs_help())
}

fn student_cell(
    state: &HostState,
    (student, glance): (&StudentView, Option<Glance>),
    chosen: bool,
    column: Column,
    room: Room,
) -> Span<'static> {
    let theme = state.theme();
    let helped = needs_help(student, glance);
    let why = || glance.map_or_else(String::new, |glance| words::short_glance(&glance));
    match column {
        Column::Pointer => {
            let pointer = if chosen { theme.signs().pointer } else { " " };
            Span::styled(pointer, theme.style(Tint::Strong))
        }
        Column::Name => {
            let tint = if chosen { Tint::Strong } else { Tint::Plain };
            let mark = if helped { "! " } else { "" };
            let name = theme.text(&format!("{mark}{}", student.name));
            Span::styled(words::fitted(name, room.cell, theme), theme.style(tint))
        }
        Column::Now => {
            let (sign, word, tint) = now(state, student, glance);
            Span::styled(format!("{sign} {word}"), theme.style(tint))
        }
        Column::Wrong => Span::raw(number(student.wrong())),
        Column::Tries => Span::raw(number(student.tries)),
        Column::Again => Span::raw(number(student.hearings)),
        Column::Sang => Span::raw(student.sung.map_or_else(String::new, words::short_sung)),
        Column::Sound if student.no_sound => Span::styled("no sound", theme.style(Tint::Caution)),
        Column::Sound if student.microphone => Span::raw("microphone"),
        Column::Sound => Span::raw(""),
        Column::Last if helped && room.list < LATELY_COLUMNS => {
            let why = why();
            let why = words::within(&why, room.cell).to_owned();
            Span::styled(
                words::fitted(why, room.cell, theme),
                theme.style(Tint::Caution),
            )
        }
        Column::Last => Span::raw(student.answers.last().map_or_else(String::new, |answer| {
            let mut ways = [Length::Whole, Length::Short]
                .into_iter()
                .map(|length| said(state, answer, length));
            ways.find(|said| Span::raw(said).width() <= room.cell)
                .unwrap_or_else(|| {
                    words::fitted(said(state, answer, Length::Tight), room.cell, theme)
                })
        })),
        Column::Time => {
            let last = student.answers.last();
            Span::raw(last.map_or_else(String::new, |answer| time(answer, theme)))
        }
        Column::Found => Span::raw(format!("{}/{}", student.tally.found, student.tally.calls)),
        Column::Why => Span::raw(why()),
    }
}

/// How somebody stands with the call: a sign, a word and a tint. Who needs help is
/// told so until the next call.
fn now(
    state: &HostState,
    student: &StudentView,
    glance: Option<Glance>,
) -> (&'static str, &'static str, Tint) {
    let theme = state.theme();
    let signs = theme.signs();
    let need = glance.map(|glance| glance.need());
    let open = state.view.open_call().is_some();
    match (student.progress, need) {
        _ if !student.connected => (signs.away, "away", Tint::Faint),
        (Some(Progress::Found), _) => words::progress(Progress::Found, theme),
        (None, _) if state.view.turn == Some(student.id) => (signs.pointer, "calls", Tint::Strong),
        (Some(progress @ Progress::NoSound), Some(_)) => words::progress(progress, theme),
        (_, Some(need @ Need::Stuck)) => (signs.tried, need.label(), Tint::Tried),
        (_, Some(need @ Need::FarOff)) => (signs.missed, need.label(), Tint::Missed),
        (_, Some(need @ Need::Silent)) => (signs.silent, need.label(), Tint::Caution),
        (Some(_), Some(Need::Well)) if open => (" ", "looking", Tint::Plain),
        (Some(progress), _) => words::progress(progress, theme),
        (None, _) => (" ", "", Tint::Plain),
    }
}

/// Draws the answers to the call, in the order of the roster and each one's as
/// they came. Where there are more than rows, those of the chosen student are seen.
pub fn answers(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let roster = state.roster();
    let before = roster.iter().take(state.chosen_row());
    let before: usize = before.map(|(student, _)| student.answers.len()).sum();
    let all: Vec<(&StudentView, &AnswerView)> = roster
        .iter()
        .flat_map(|(student, _)| student.answers.iter().map(move |answer| (*student, answer)))
        .collect();
    let rows = usize::from(area.height.saturating_sub(2));
    let first = before.min(all.len().saturating_sub(rows));
    let title = if all.len() > rows {
        let last = (first + rows).min(all.len());
        format!("Answers {} to {last} of {}", first + 1, all.len())
    } else {
        format!("Answers ({}); Tab: students", all.len())
    };
    parts::rule(&title, heading(area), theme, buf);
    let lines = all.iter().skip(first).take(rows).map(|(student, answer)| {
        let (sign, tint) = match answer.mark {
            Mark::Right => (theme.signs().found, Tint::Right),
            Mark::Missed(_) => (theme.signs().missed, Tint::Missed),
        };
        Row::new([
            Span::raw(theme.text(&student.name)),
            Span::styled(sign, theme.style(tint)),
            Span::raw(said(state, answer, Length::Whole)),
            Span::raw(time(answer, theme)),
        ])
    });
    let widths = [
        Constraint::Fill(1),
        Constraint::Length(1),
        Constraint::Fill(2),
        Constraint::Length(if theme.is_ascii() { 15 } else { 13 }),
    ];
    let table = Table::new(lines, widths)
        .header(Row::new(["name", "", "answer", "time"]).style(theme.style(Tint::Faint)))
        .column_spacing(1);
    table.render(below_heading(area), buf);
}

/// In how many words an answer is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Length {
    Whole,
    Short,
    Tight,
}

/// An answer and how it was marked; only the mark's sign and word while the
/// target is hidden, because a place would give it away.
fn said(state: &HostState, answer: &AnswerView, length: Length) -> String {
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
    writing.names &= length == Length::Whole;
    let what = writing.answer(&state.neck, answer.answer);
    let mark = match length {
        Length::Whole => sentence(&answer.mark),
        Length::Short => words::short_mark(&answer.mark),
        Length::Tight => words::tight_mark(&answer.mark),
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
