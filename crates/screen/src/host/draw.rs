//! Draws the host's screen.

use fifthpeg_core::Position;
use fifthpeg_host::BookState;
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, Progress, Rules};
use fifthpeg_lesson::view::CallStage;
use fifthpeg_vocab::pace::Untold;
use fifthpeg_vocab::rules::{Chosen, RULES, Rule};
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use super::joining;
use super::keys::{self, PICK_KEYS, keys_now};
use super::layers::Layer;
use super::layout::{self, HostAreas};
use super::roster;
use super::state::HostState;
use crate::ear_line::EarLine;
use crate::menu::MENU_KEYS;
use crate::neck::PlaceSign;
use crate::parts::Message;
use crate::theme::Tint;
use crate::words;
use crate::{help, parts};

/// Draws the whole screen.
pub fn draw(state: &HostState, frame: &mut Frame) {
    let theme = state.theme();
    if parts::too_small(theme, frame) {
        return;
    }
    let screen = frame.area();
    let areas = layout::areas(state.shape(), screen);
    draw_main(state, &areas, frame.buffer_mut());
    match &state.layer {
        Layer::Menu(menu) => menu.draw(screen, theme, frame),
        Layer::Caution => {
            parts::notice("Mind your ears", &words::caution(), screen, theme, frame);
        }
        Layer::TypeReach(line) => {
            let now = state.view.rules.reach.to_string();
            parts::ask_reach(&now, line, screen, theme, frame);
        }
        Layer::TypeCall(line) => parts::ask(
            "Call a note by hand (typed unseen)",
            &["a string and a fret, such as 2/3, or a note, such as F#4".to_owned()],
            &line.masked('*'),
            screen,
            theme,
            frame,
        ),
        Layer::Keys => help::draw_short(&keys::short_help(), screen, theme, frame),
        Layer::Help(first) => {
            help::draw(
                &keys::help(theme, state.ear.is_some(), &state.network),
                *first,
                screen,
                theme,
                frame,
            );
        }
        Layer::Joining(joining) => joining.draw(screen, theme, frame),
        Layer::Main | Layer::Pick(_) => {}
    }
}

fn draw_main(state: &HostState, areas: &HostAreas, buf: &mut Buffer) {
    let theme = state.theme();
    draw_head(state, areas.head, buf);
    if areas.neck_rule.height > 0 {
        parts::rule(state.neck.name(), areas.neck_rule, theme, buf);
    }
    let (text, tint) = call_line(state);
    let width = usize::from(areas.call.width);
    let text = theme.text(words::within(&text, width));
    buf.set_stringn(areas.call.x, areas.call.y, text, width, theme.style(tint));
    let marks = marks(state);
    state.picture(&marks).draw(areas.neck, buf);
    if let Some(ear) = &state.ear {
        EarLine::new(ear, false, heard(state)).draw(areas.ear, theme, buf);
    }
    if let Some(area) = areas.students {
        roster::students(state, area, buf);
    }
    if let Some(area) = areas.answers {
        roster::answers(state, area, buf);
    }
    let suggested = suggested(state, width);
    let asked = state.pedal_question().map(Message::trouble);
    let told = asked.as_ref().or(state.message.as_ref());
    let told = told.or(suggested.as_ref());
    parts::message(told, areas.message, theme, buf);
    match &state.layer {
        Layer::Main => draw_foot(state, areas.foot, buf),
        Layer::Pick(_) => parts::foot(PICK_KEYS, areas.foot, theme, buf),
        Layer::Menu(_) => parts::foot(MENU_KEYS, areas.foot, theme, buf),
        Layer::Caution
        | Layer::TypeReach(_)
        | Layer::TypeCall(_)
        | Layer::Help(_)
        | Layer::Keys
        | Layer::Joining(_) => {}
    }
}

/// The keys, and in the corner what the pedal does.
fn draw_foot(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let says = Span::styled(theme.text(&state.pedal_says()), theme.style(Tint::Strong));
    let wide = u16::try_from(says.width()).unwrap_or(area.width);
    let left = Rect {
        width: area.width.saturating_sub(wide + 2),
        ..area
    };
    let stage = state.view.call.as_ref().map(|call| call.stage);
    parts::foot(&keys_now(stage), left, theme, buf);
    let x = area.right().saturating_sub(wide);
    buf.set_span(x, area.y, &says, wide);
}

fn draw_head(state: &HostState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let rules = &state.view.rules;
    let here = state.view.students.iter().filter(|s| s.connected).count();
    let away = state.view.students.len() - here;
    let mut right = format!("{here} here");
    if away > 0 {
        right.push_str(&format!(", {away} away"));
    }
    right.push_str(&format!(
        ", {} closed",
        words::count(state.view.calls_closed, "call", "calls")
    ));
    right.push_str(match (state.view.untold.pace, state.view.pace_stopped) {
        (Some(_), Some(_)) => ", pace stopped",
        (Some(_), None) => ", at a pace",
        (None, _) => "",
    });
    right.push_str(match &state.book {
        BookState::Waits { is_lost: true, .. } => ", the lesson book is gone: b",
        BookState::Waits { .. } => ", answers wait to be written down",
        BookState::Unusable { .. } | BookState::Left => ", not written down",
        _ => "",
    });
    if let Some(silence) = state.options.silence {
        right.push_str(&format!(", {silence}"));
    }
    let row = |at: u16| Rect {
        y: area.y + at,
        height: 1,
        ..area
    };
    let title = Span::styled(theme.text(&rules.lesson), theme.style(Tint::Strong));
    parts::ends(title, Span::raw(right), row(0), buf);
    let width = usize::from(area.width);
    let joining = theme.text(&joining::line(&state.joining, width));
    let plain = theme.style(Tint::Plain);
    buf.set_stringn(area.x, area.y + 1, joining, width, plain);
    let mut next = 2;
    if let Some(door) = &state.door {
        let (text, tint) = door.line();
        let text = theme.text(words::within(&text, width));
        buf.set_stringn(area.x, area.y + next, text, width, theme.style(tint));
        next += 1;
    }
    if area.height < next + 2 {
        return;
    }
    let reach = rules.reach.title();
    let picked = match state.view.untold.picking {
        Picking::Random => "",
        Picking::Teaching => ", picked to teach",
    };
    let reach = format!(
        "Reach: {reach} ({}){picked}",
        words::count(places(state), "place", "places")
    );
    buf.set_stringn(
        area.x,
        area.y + next,
        theme.text(&reach),
        width,
        theme.style(Tint::Plain),
    );
    let full = rules_line(rules, |choice| choice.label.clone().into_owned());
    let line = if full.len() <= width {
        full
    } else {
        short_rules(rules, width)
    };
    buf.set_stringn(
        area.x,
        area.y + next + 1,
        line,
        width,
        theme.style(Tint::Plain),
    );
}

/// What is suggested for the reach and the key that takes it, in one line where
/// nothing else is told. Not where others look on.
fn suggested(state: &HostState, width: usize) -> Option<Message> {
    let suggestion = state.view.suggestion?;
    if !suggestion.is_change() || state.hidden {
        return None;
    }
    let whole = format!("{suggestion} Key: e.");
    let line = if whole.chars().count() <= width {
        whole
    } else {
        words::short_suggestion(&suggestion)
    };
    Some(Message::news(line))
}

/// What the instrument played, in the line on the microphone.
fn heard(state: &HostState) -> Option<(String, Tint)> {
    let pitch = state.offered()?;
    if state.is_offer_hidden() {
        let text = "A note was heard, unseen: Enter calls it";
        return Some((text.to_owned(), Tint::Strong));
    }
    let note = state.writing().heard(&state.neck, pitch);
    let within = |place: &Position| state.neck.pitch_at(*place) == Some(pitch);
    Some(if state.reach.iter().any(within) {
        (format!("Heard {note}: Enter calls it"), Tint::Strong)
    } else {
        (format!("Heard {note}: outside the reach"), Tint::Caution)
    })
}

/// The rules in few words, as many as there is room for: the first matter most.
fn short_rules(rules: &Rules, width: usize) -> String {
    let mut line = rules_line(rules, |choice| choice.word.replace('-', " "));
    while line.len() > width {
        let Some(last) = line.trim_end_matches('.').rfind(". ") else {
            break;
        };
        line.truncate(last + 1);
    }
    line
}

/// "Right: same pitch. Sound: every terminal."
fn rules_line(rules: &Rules, say: impl Fn(&Chosen) -> String) -> String {
    let of = |rule: &Rule| {
        let now = rule.chosen(rules, Untold::default())?;
        match now.word.as_ref() {
            // What is not asked for is not said.
            "off" => None,
            "on" => Some(format!("{}.", rule.head)),
            _ => Some(format!("{}: {}.", rule.head, say(&now))),
        }
    };
    let told = RULES.iter().filter(|rule| rule.told);
    let parts: Vec<String> = told.filter_map(of).collect();
    parts.join(" ")
}

fn places(state: &HostState) -> u32 {
    u32::try_from(state.reach.len()).unwrap_or(u32::MAX)
}

/// Said before a call that nobody would hear.
const SILENT_SPEAKERS: &str = "This machine is silent: s chooses who sounds the notes.";

/// What is called now, in a sentence.
fn call_line(state: &HostState) -> (String, Tint) {
    if let Layer::Pick(cursor) = &state.layer {
        let place = state.writing().place_in_full(&state.neck, cursor.place());
        return (format!("Call this place? {place}"), Tint::Strong);
    }
    let Some(call) = state.current_call() else {
        if state.speakers_are_silent() {
            return (SILENT_SPEAKERS.to_owned(), Tint::Caution);
        }
        let text = if state.view.students.is_empty() {
            "Nobody is here yet. Students join as the line above says."
        } else {
            "No call is open: c calls a place by hand, n any note of the reach."
        };
        return (text.to_owned(), Tint::Plain);
    };
    let number = call.id.0;
    if call.stage == CallStage::Revealed {
        let note = state.writing().revealed(call.pitch, &call.places);
        return (format!("Call {number}. {note}"), Tint::Strong);
    }
    let answering = state.view.students.iter().filter(|s| s.progress.is_some());
    let (found, of) = answering.fold((0, 0), |(found, of), student| {
        let one = u32::from(student.progress == Some(Progress::Found));
        (found + one, of + 1)
    });
    let open = words::clock(state.now.since(call.start));
    let target = if state.is_target_hidden() {
        "hidden (k shows it)".to_owned()
    } else {
        let place = call.place.or_else(|| call.places.first().copied());
        place.map_or_else(String::new, |place| {
            state.writing().place(&state.neck, place)
        })
    };
    let text = format!("Call {number}, open {open}: {target}. {found} of {of} found it.");
    (text, Tint::Strong)
}

/// What is marked on the neck: tries, then misses, then the note itself.
/// Nothing at all while the target is hidden.
pub fn marks(state: &HostState) -> Vec<(Position, PlaceSign)> {
    let mut marks = Vec::new();
    if let Some(pitch) = state.offered().filter(|_| !state.is_offer_hidden()) {
        let places = state.neck.places(pitch);
        marks.extend(places.into_iter().map(|place| (place, PlaceSign::Tried)));
    }
    let Some(call) = state.current_call() else {
        return marks;
    };
    if state.is_target_hidden() {
        return marks;
    }
    let mut missed = Vec::new();
    for student in &state.view.students {
        if let Some(Answer::Place(place)) = student.last_try {
            marks.push((place, PlaceSign::Tried));
        }
        for answer in &student.answers {
            if let (Answer::Place(place), Mark::Missed(_)) = (answer.answer, answer.mark) {
                missed.push((place, PlaceSign::Missed));
            }
        }
    }
    marks.append(&mut missed);
    marks.extend(call.places.iter().map(|place| (*place, PlaceSign::Place)));
    marks.extend(call.place.map(|place| (place, PlaceSign::Picked)));
    marks
}
