//! Draws the student's screen.

use fifthpeg_core::Position;
use fifthpeg_lesson::marking::{Mark, Telling};
use fifthpeg_lesson::message::{Answer, Progress};
use fifthpeg_lesson::terminal::TerminalCall;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::words::sentence;
use fifthpeg_vocab::Choice;
use fifthpeg_vocab::hint::in_short;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};

use super::instrument;
use super::keys;
use super::layers::{Layer, LockLayer};
use super::layout::{self, StudentAreas};
use super::sentences;
use super::state::StudentState;
use crate::ear_line::EarLine;
use crate::host::joining;
use crate::menu::MENU_KEYS;
use crate::neck::{NeckPicture, PlaceSign};
use crate::theme::Tint;
use crate::words::{self, NoteStyle};
use crate::{help, parts};

/// Draws the whole screen.
pub fn draw(state: &StudentState, frame: &mut Frame) {
    let theme = state.theme();
    if parts::too_small(theme, frame) {
        return;
    }
    let screen = frame.area();
    let areas = layout::areas(state, screen);
    draw_main(state, &areas, frame.buffer_mut());
    match &state.layer {
        Layer::Main => {}
        Layer::Caution => {
            let mut said = words::caution();
            if state.options.silence.is_some() {
                said.splice(0..0, words::no_sound(None));
            }
            parts::notice("Mind your ears", &said, screen, theme, frame);
        }
        Layer::NoSound(why) => {
            let mut said = words::no_sound(Some(why));
            said.push("Press any key to go on without sound.".to_owned());
            parts::notice("No sound", &said, screen, theme, frame);
        }
        Layer::TypeName(line) => parts::ask(
            "Answer with a note name",
            &["such as F#4, Gb4 or, where any octave counts, F#".to_owned()],
            line,
            screen,
            theme,
            frame,
        ),
        Layer::Leave(menu) => menu.draw(screen, theme, frame),
        Layer::HostList(menu) => menu.draw(screen, theme, frame),
        Layer::Joining(joining) => joining.draw(screen, theme, frame),
        Layer::Lock(
            LockLayer::NewKey(menu) | LockLayer::IsMe(menu) | LockLayer::KeyOffer(menu),
        ) => menu.draw(screen, theme, frame),
        Layer::Lock(LockLayer::OtherName(line)) => parts::ask(
            "Your name",
            &["This terminal comes in anew under it.".to_owned()],
            line,
            screen,
            theme,
            frame,
        ),
        Layer::Lock(LockLayer::Passphrase(line)) => parts::ask(
            "The lesson's passphrase",
            &state.passphrase_hints(),
            line,
            screen,
            theme,
            frame,
        ),
        Layer::TypeReach(line) => {
            let hosting = state.hosting.as_ref();
            let now = hosting.map_or_else(String::new, |h| h.view.rules.reach.to_string());
            parts::ask_reach(&now, line, screen, theme, frame);
        }
        Layer::Keys => help::draw_short(&keys::short_help(state), screen, theme, frame),
        Layer::Help(first) => {
            let help = keys::help(theme, state.hosting.as_ref(), state.ear.is_some());
            help::draw(&help, *first, screen, theme, frame);
        }
    }
}

fn draw_main(state: &StudentState, areas: &StudentAreas, buf: &mut Buffer) {
    let theme = state.theme();
    draw_head(state, areas.head, buf);
    if areas.neck_rule.height > 0 {
        let name = state.view.neck.as_ref().map_or("", |neck| neck.name());
        parts::rule(name, areas.neck_rule, theme, buf);
    }
    let (text, tint) = sentences::now(state, usize::from(areas.sentence.width));
    // Before the welcome there is no neck, and a status may need its room.
    let room = if state.view.neck.is_some() {
        areas.sentence
    } else {
        areas.sentence.union(areas.neck)
    };
    Paragraph::new(theme.text(&text))
        .style(theme.style(tint))
        .wrap(Wrap { trim: true })
        .render(room, buf);
    let marks = marks(state);
    if let Some(picture) = picture(state, &marks) {
        picture.draw(areas.neck, buf);
    }
    draw_under(state, areas.under, buf);
    if let Some(ear) = &state.ear {
        EarLine::new(ear, state.is_deaf(), instrument::heard(state)).draw(areas.ear, theme, buf);
    }
    draw_list(state, areas.list, buf);
    let width = usize::from(areas.tally.width);
    let so_far = words::tally(&state.view.tally, width);
    let so_far = words::within(&so_far, width);
    buf.set_stringn(
        areas.tally.x,
        areas.tally.y,
        so_far,
        width,
        theme.style(Tint::Plain),
    );
    let suggested = state.suggested(width);
    let told = state.message.as_ref().or(suggested.as_ref());
    parts::message(told, areas.message, theme, buf);
    match &state.layer {
        Layer::Main => parts::foot(&keys::at_foot(state), areas.foot, theme, buf),
        Layer::Leave(_)
        | Layer::HostList(_)
        | Layer::Lock(LockLayer::NewKey(_) | LockLayer::IsMe(_) | LockLayer::KeyOffer(_)) => {
            parts::foot(MENU_KEYS, areas.foot, theme, buf)
        }
        Layer::Caution
        | Layer::Joining(_)
        | Layer::TypeName(_)
        | Layer::TypeReach(_)
        | Layer::Lock(LockLayer::Passphrase(_) | LockLayer::OtherName(_))
        | Layer::NoSound(_)
        | Layer::Keys
        | Layer::Help(_) => {}
    }
}

fn draw_head(state: &StudentState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let row = |at: u16| Rect {
        y: area.y + at,
        height: 1,
        ..area
    };
    let title = state.view.welcome.as_ref().map_or_else(
        || "fifthpeg".to_owned(),
        |welcome| match state.alone() {
            // It has the player's name in it.
            Some(_) => welcome.rules.lesson.clone(),
            None => format!("{}, in {}", welcome.name, welcome.rules.lesson),
        },
    );
    let (text, tint) = sentences::connection(state);
    let (text, tint) = match state.options.silence {
        Some(silence) => (format!("{silence}, {text}"), Tint::Caution),
        None => (text, tint),
    };
    let right = Span::styled(text, theme.style(tint));
    // The lesson's name goes before the own one is cut.
    let room = usize::from(area.width).saturating_sub(right.width() + 1);
    let title = theme.text(words::within(&title, room));
    let title = Span::styled(title, theme.style(Tint::Strong));
    parts::ends(title, right, row(0), buf);
    let width = usize::from(area.width);
    let plain = theme.style(Tint::Plain);
    let mut next = 1;
    if let Some(hosting) = state.hosting.as_ref().filter(|_| state.shows_joining()) {
        for line in hosting.joining.lines() {
            let line = theme.text(&joining::line(line, width));
            buf.set_stringn(area.x, area.y + next, line, width, plain);
            next += 1;
        }
    }
    let roomy = area.height >= next + 2;
    let Some(welcome) = state.view.welcome.as_ref().filter(|_| roomy) else {
        return;
    };
    let rules = &welcome.rules;
    let reach = rules.reach.title();
    let heavy = theme.signs().string_inside;
    let reach = theme.text(&format!("Search: {reach} (drawn {heavy}{heavy}{heavy})"));
    buf.set_stringn(area.x, area.y + next, reach, width, plain);
    let right = format!("Right is: {}.", rules.marking.label());
    buf.set_stringn(area.x, area.y + next + 1, right, width, plain);
}

/// The place under the cursor, for those who would rather read it, and what
/// this call has taken so far.
fn draw_under(state: &StudentState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let cursor = state.cursor.zip(state.view.neck.as_ref());
    let left = cursor.map_or_else(String::new, |(cursor, neck)| {
        let place = cursor.place();
        let full = state.writing().place_in_full(neck, place);
        if state.may_commit() && !state.chosen && state.place_wanted().is_none() {
            // Here "1/0" shows first, so it is said what it means.
            let plain = NoteStyle {
                names: false,
                ..state.writing()
            };
            let full = plain.place_in_full(neck, place);
            return format!("No place yet: arrows start at {place} ({full})");
        }
        format!("Cursor: {full}")
    });
    let counted = state.current_call().filter(|call| !call.you_call);
    let right = counted.map_or_else(String::new, |call| {
        let tries = u32::try_from(call.tries.len()).unwrap_or(u32::MAX);
        format!(
            "call {}: {} again, {}",
            call.number,
            call.hearings,
            words::count(tries, "try", "tries"),
        )
    });
    let left = Span::raw(theme.text(&left));
    let right = Span::styled(right, theme.style(Tint::Faint));
    parts::ends(left, right, area, buf);
}

/// The neck as this screen draws it, once it is known.
pub fn picture<'a>(
    state: &'a StudentState,
    marks: &'a [(Position, PlaceSign)],
) -> Option<NeckPicture<'a>> {
    let writing = state.writing();
    Some(NeckPicture {
        neck: state.view.neck.as_ref()?,
        reach: &state.reach,
        marks,
        cursor: state.cursor.map(|cursor| cursor.place()),
        chosen: state.chosen || state.place_wanted().is_some(),
        last_fret: state.last_fret(),
        names: writing.names.then_some(writing.spelling),
        left_handed: state.options.left_handed,
        theme: state.theme(),
    })
}

/// What is marked on the neck: tries, then the note once it is shown (to who
/// called it, at once), then one's own answers.
pub fn marks(state: &StudentState) -> Vec<(Position, PlaceSign)> {
    let Some(call) = state.shown_call() else {
        return Vec::new();
    };
    // A note that was played or named lies at every place of it.
    let at = |answer: &Answer| match (answer, &state.view.neck) {
        (Answer::Place(place), _) => vec![*place],
        (Answer::Pitch(pitch), Some(neck)) => neck.places(*pitch),
        _ => Vec::new(),
    };
    let tries = call.tries.iter().flat_map(at);
    let mut marks: Vec<_> = tries.map(|place| (place, PlaceSign::Tried)).collect();
    if let Some((_, places)) = &call.revealed {
        marks.extend(places.iter().map(|place| (*place, PlaceSign::Place)));
    }
    if let (Some((pitch, picked)), Some(neck)) = (call.target, &state.view.neck) {
        let places = neck.places(pitch);
        marks.extend(places.into_iter().map(|place| (place, PlaceSign::Place)));
        marks.extend(picked.map(|place| (place, PlaceSign::Picked)));
    }
    marks.extend(call.answers.iter().flat_map(|(answer, mark)| {
        let sign = match mark {
            None => PlaceSign::Waiting,
            Some(Mark::Right) => PlaceSign::Found,
            Some(Mark::Missed(_)) => PlaceSign::Missed,
        };
        at(answer).into_iter().map(move |place| (place, sign))
    }));
    marks
}

/// One's own answers, or for the caller how the others are doing.
fn draw_list(state: &StudentState, area: Rect, buf: &mut Buffer) {
    let theme = state.theme();
    let Some(call) = state.view.call.as_ref() else {
        parts::rule("", Rect { height: 1, ..area }, theme, buf);
        return;
    };
    let over = if call.stage == CallStage::Closed {
        ", over"
    } else {
        ""
    };
    let (title, lines) = if call.you_call {
        let found = call.progress.iter().filter(|(_, p)| *p == Progress::Found);
        let (found, of) = (found.count(), call.progress.len());
        (
            format!(
                "The others, call {}{over}: {found} of {of} found it",
                call.number
            ),
            others(state, call),
        )
    } else {
        (
            format!("Your answers, call {}{over}", call.number),
            answers(state, call),
        )
    };
    parts::rule(&title, Rect { height: 1, ..area }, theme, buf);
    let mut rows = usize::from(area.height.saturating_sub(1));
    if rows > lines.len() + 1 && !call.you_call {
        rows -= 1;
        let y = area.bottom() - 1;
        buf.set_line(area.x, y, &legend(state, area.width), area.width);
    }
    // The newest must be in sight.
    let skip = lines.len().saturating_sub(rows);
    for (y, line) in (area.y + 1..).zip(lines.into_iter().skip(skip).take(rows)) {
        buf.set_line(area.x, y, &line, area.width);
    }
}

/// What the signs on the neck mean, for those who see no colour.
fn legend(state: &StudentState, columns: u16) -> Line<'static> {
    let theme = state.theme();
    let meanings = [
        (PlaceSign::Tried, "tried"),
        (PlaceSign::Missed, "missed"),
        (PlaceSign::Found, "found, or a place of the note"),
    ];
    let mut spans = vec![Span::raw("Signs: [ ] cursor")];
    for (sign, meaning) in meanings {
        spans.push(Span::raw("   "));
        spans.push(Span::styled(sign.sign(theme.signs()), sign.style(theme)));
        spans.push(Span::raw(format!(" {meaning}")));
    }
    let line = Line::from(spans);
    if line.width() > usize::from(columns) {
        let short =
            |span: Span<'static>| match span.content.strip_suffix(", or a place of the note") {
                Some(found) => Span::raw(found.to_owned()),
                None => span,
            };
        return Line::from(line.spans.into_iter().map(short).collect::<Vec<_>>());
    }
    line
}

fn answers(state: &StudentState, call: &TerminalCall) -> Vec<Line<'static>> {
    let theme = state.theme();
    let signs = theme.signs();
    let rules = state.view.welcome.as_ref().map(|welcome| &welcome.rules);
    // Once the note is shown, everything is told.
    let telling = rules
        .filter(|_| call.revealed.is_none())
        .map_or(Telling::Interval, |rules| rules.telling);
    let said = |(answer, mark): &(Answer, Option<Mark>)| {
        let what = match &state.view.neck {
            // Whoever plays and has no names on the screen reads places.
            Some(neck) => match answer {
                Answer::Pitch(pitch) if state.ear.is_some() => state.writing().heard(neck, *pitch),
                _ => state.writing().answer(neck, *answer),
            },
            None => String::new(),
        };
        let (sign, text, tint) = match mark {
            None if state.view.connected && !state.waits_long() => {
                (signs.waiting, String::new(), Tint::Tried)
            }
            None if state.view.connected => {
                let text = "waits to be written down".to_owned();
                (signs.waiting, text, Tint::Tried)
            }
            None => (signs.waiting, "not confirmed yet".to_owned(), Tint::Tried),
            Some(Mark::Right) => (signs.found, sentence(&Mark::Right), Tint::Right),
            Some(mark) => (signs.missed, in_short(telling, mark), Tint::Missed),
        };
        Line::from(vec![
            Span::styled(sign, theme.style(tint)),
            Span::raw(format!(" {} {text}", theme.text(&what))),
        ])
    };
    call.answers.iter().map(said).collect()
}

fn others(state: &StudentState, call: &TerminalCall) -> Vec<Line<'static>> {
    let theme = state.theme();
    let line = |(name, progress): &(String, Progress)| {
        let (sign, word, tint) = words::progress(*progress, theme);
        Line::from(vec![
            Span::styled(sign, theme.style(tint)),
            Span::raw(format!(" {}: {word}", theme.text(name))),
        ])
    };
    call.progress.iter().map(line).collect()
}
