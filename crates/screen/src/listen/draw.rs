//! Draws the screen.

use fifthpeg_listen::bench::{BenchString, StringState};
use fifthpeg_listen::microphone::MicrophoneState;
use fifthpeg_listen::words;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Span;
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::state::{LISTEN_KEYS, Layer, ListenState};
use crate::ear_line::level_parts;
use crate::help;
use crate::parts;
use crate::theme::{Theme, Tint};
use crate::words::caution;
use fifthpeg_lesson::words::as_sentence;

/// What is told before the delay is measured.
const DELAY: [&str; 4] = [
    "Turn headphones and amplifiers down first: a rising sweep sounds for just under a second.",
    "The microphone must hear it. With headphones on, lay one ear piece on the microphone.",
    "It takes about seven seconds. Keep quiet meanwhile.",
    "Enter measures, any other key goes back.",
];

/// Draws everything.
pub fn draw(state: &ListenState, frame: &mut Frame) {
    let theme = state.theme();
    if parts::too_small(theme, frame) {
        return;
    }
    let screen = frame.area();
    let [
        head,
        mic_rule,
        mic,
        strings_rule,
        strings,
        one_rule,
        one,
        message,
        foot,
    ] = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(3),
        Constraint::Length(1),
        Constraint::Fill(1),
        Constraint::Length(1),
        Constraint::Length(3),
        Constraint::Length(1),
        Constraint::Length(1),
    ])
    .areas(screen);
    let buf = frame.buffer_mut();
    parts::ends(
        Span::styled("Listening and tuning", theme.style(Tint::Strong)),
        Span::raw(theme.text(&state.neck)),
        head,
        buf,
    );
    parts::rule("Microphone", mic_rule, theme, buf);
    draw_microphone(state, mic, buf);
    parts::rule(&strings_title(state), strings_rule, theme, buf);
    draw_strings(state, strings, buf);
    let chosen = format!("String {}", state.bench.chosen().number);
    parts::rule(&chosen, one_rule, theme, buf);
    draw_one(state, one, buf);
    parts::message(state.message.as_ref(), message, theme, buf);
    parts::foot(LISTEN_KEYS, foot, theme, buf);
    let lines = |text: &[&str]| -> Vec<String> { text.iter().map(|l| (*l).to_owned()).collect() };
    match &state.layer {
        Layer::None => {}
        Layer::Caution => parts::notice("Mind your ears", &caution(), screen, theme, frame),
        Layer::AskDelay => {
            parts::notice("Measure the delay?", &lines(&DELAY), screen, theme, frame);
        }
        Layer::Told { lines, .. } => parts::notice("The delay", lines, screen, theme, frame),
        Layer::Trim => parts::notice("The output's trim", &trim(state), screen, theme, frame),
        Layer::Help(first) => help::draw(&ListenState::help(), *first, screen, theme, frame),
    }
}

fn trim(state: &ListenState) -> Vec<String> {
    let mut lines = vec![as_sentence(&state.trim_words)];
    lines.push(if state.trim.is_some() {
        "x or Delete forgets it, d measures the delay, any other key goes back.".to_owned()
    } else {
        "d measures the delay, and offers to keep it as a trim. Any other key goes back.".to_owned()
    });
    lines.push("To set one by hand: fifthpeg listen --plain, and there trim 140.".to_owned());
    lines
}

fn strings_title(state: &ListenState) -> String {
    if state.bench.meter {
        let (in_tune, all) = (state.bench.in_tune(), state.bench.strings().len());
        format!("Strings: {in_tune} of {all} in tune")
    } else {
        "Strings".to_owned()
    }
}

fn draw_microphone(state: &ListenState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let microphone = &state.microphone;
    let (words, tint) = match &microphone.state {
        _ if state.measuring.is_some() => (
            format!(
                "measuring the delay, {:.0} %: keep quiet",
                100.0 * state.measuring.unwrap_or_default()
            ),
            Tint::Strong,
        ),
        MicrophoneState::Listening(_) if state.bench.is_deaf(state.now) => {
            ("not listening, the tone sounds".to_owned(), Tint::Plain)
        }
        MicrophoneState::Listening(_) | MicrophoneState::Measuring(_) => {
            (microphone.words(), Tint::Strong)
        }
        MicrophoneState::Off => (microphone.words(), Tint::Plain),
        MicrophoneState::Trouble(_) => (microphone.words(), Tint::Caution),
    };
    let level = microphone.level_db.map_or_else(String::new, |db| {
        format!("loudness {}", level_parts(db, theme.signs()))
    });
    let row = |y| Rect {
        y: area.y + y,
        height: 1,
        ..area
    };
    parts::ends(
        Span::styled(theme.text(&as_sentence(&words)), theme.style(tint)),
        Span::raw(level),
        row(0),
        buf,
    );
    let room = microphone.room.as_deref();
    let room = room.unwrap_or("not measured: o measures it in three seconds of quiet");
    parts::ends(
        Span::raw(theme.text(&format!("Room: {room}"))),
        Span::raw(state.trim.clone().unwrap_or_default()),
        row(1),
        buf,
    );
    let heard = match microphone.heard_name(state.spelling) {
        Some(note) => format!("Heard last: {note}"),
        None => "Pluck a string to see that it is heard.".to_owned(),
    };
    text(&heard, Tint::Plain, row(2), theme, buf);
}

fn draw_strings(state: &ListenState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let strings = state.bench.strings();
    let chosen = state.bench.chosen().number;
    let at = strings.iter().position(|s| s.number == chosen).unwrap_or(0);
    let rows = usize::from(area.height).max(1);
    // The chosen one stays in sight.
    let first = (at + 1).saturating_sub(rows);
    for (y, string) in (area.y..area.bottom()).zip(&strings[first..]) {
        let (line, tint) = string_line(state, string, string.number == chosen, theme);
        let row = Rect {
            y,
            height: 1,
            ..area
        };
        text(&line, tint, row, theme, buf);
    }
}

fn string_line(
    state: &ListenState,
    string: &BenchString,
    is_chosen: bool,
    theme: Theme,
) -> (String, Tint) {
    let signs = theme.signs();
    let sign = match string.state {
        StringState::Unheard => signs.silent,
        StringState::InTune(_) if state.bench.meter => signs.found,
        _ => signs.tried,
    };
    let pointer = if is_chosen { signs.pointer } else { " " };
    let name = if state.options.names {
        string.pitch.name(state.spelling)
    } else {
        String::new()
    };
    let line = format!(
        "{pointer} {}  {name:<4} {sign} {}",
        string.number,
        words::state(string, state.bench.meter)
    );
    let tint = match string.state {
        _ if is_chosen => Tint::Strong,
        StringState::InTune(_) if state.bench.meter => Tint::Right,
        _ => Tint::Plain,
    };
    (line, tint)
}

/// What to do with the chosen string.
fn draw_one(state: &ListenState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let row = |y| Rect {
        y: area.y + y,
        height: area.height - y,
        ..area
    };
    if !state.bench.meter {
        let by_ear = format!(
            "By ear: {} (Space sounds it). With m you see how far off it is.",
            words::BY_EAR
        );
        Paragraph::new(theme.text(&by_ear))
            .wrap(Wrap { trim: true })
            .render(area, buf);
        return;
    }
    match state.bench.ringing() {
        Some(cents) => {
            text(
                &words::scale(cents, theme.signs().picked),
                Tint::Plain,
                row(0),
                theme,
                buf,
            );
            let words = as_sentence(&words::how_far(cents));
            text(&words, Tint::Strong, row(1), theme, buf);
        }
        None => {
            let words = format!("Pluck string {} alone.", state.bench.chosen().number);
            text(&words, Tint::Plain, row(0), theme, buf);
        }
    }
}

fn text(line: &str, tint: Tint, area: Rect, theme: Theme, buf: &mut Buffer) {
    let width = usize::from(area.width);
    buf.set_stringn(area.x, area.y, theme.text(line), width, theme.style(tint));
}
