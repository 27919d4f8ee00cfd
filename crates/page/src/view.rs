//! What the page shows, ready to be drawn.

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::Mode;
use fifthpeg_lesson::terminal::{Listening, TerminalView};
use fifthpeg_lesson::view::CallStage;
use serde::Serialize;

use crate::heard;
use crate::neck::{self, NeckShown};
use crate::session::{PageSession, PageStanding};
use crate::words;

/// All of it.
#[derive(Debug, Serialize)]
pub(crate) struct View {
    /// `coming`, `words`, `in`, `lost`, `over`.
    standing: &'static str,
    /// How the connection is, where there is something to say of it.
    link: String,
    lesson: String,
    /// From where notes are called.
    search: String,
    name: String,
    locked: bool,
    /// The key that the host is known by.
    host: String,
    /// What to do now.
    now: String,
    /// What the last order was refused for.
    refusal: String,
    /// The number of the call that is shown.
    call: u32,
    /// `none`, `open`, `revealed`, `closed`.
    stage: &'static str,
    can_hear: bool,
    can_answer: bool,
    you_call: bool,
    your_turn: bool,
    friends: bool,
    tried: Vec<String>,
    tally: String,
    /// Microphones of phones are allowed here.
    may_use_microphone: bool,
    /// What the microphone does, where it is open.
    listening: String,
    /// What was plucked, and what it takes to answer with it.
    heard: String,
    /// What a tap would do with it: `answer`, `call`, or nothing.
    heard_order: &'static str,
    /// The place of what was plucked is asked for.
    place_wanted: bool,
    neck: Option<NeckShown>,
}

pub(crate) fn standing(session: &PageSession) -> (&'static str, String) {
    match session.standing() {
        PageStanding::Coming => ("coming", "Coming into the lesson.".into()),
        PageStanding::In => ("in", String::new()),
        PageStanding::InLine => (
            "coming",
            "Somebody is guessing at the words, so newcomers wait in line. You need do nothing: yours are checked, usually within half a minute."
                .into(),
        ),
        PageStanding::Lost(why) => (
            "lost",
            format!(
                "{} Trying again.",
                fifthpeg_lesson::words::as_sentence(why)
            ),
        ),
        // What to type stands over the line.
        PageStanding::WordsWanted { wrong: false } => ("words", String::new()),
        PageStanding::WordsWanted { wrong: true } => (
            "words",
            "Those are not the words for this page, or new ones have been made since. Read them \
             from the host's screen once more."
                .into(),
        ),
        PageStanding::NotTheHost => (
            "over",
            "The machine that answered could not show that it is the host. Ask your teacher before you \
             go on."
                .into(),
        ),
        PageStanding::Over(why) => ("over", why.clone()),
    }
}

/// Whether a call is open that this student answers.
fn answers(view: &TerminalView) -> bool {
    view.call_to_find().is_some()
}

/// Whether it is this friend's turn to call.
pub(crate) fn calls(view: &TerminalView) -> bool {
    matches!(view.turn, Some((_, true))) && view.open_call().is_none()
}

/// Whether there is something to listen for, and the host lets pages listen.
pub(crate) fn listens(view: &TerminalView) -> bool {
    let allowed = view.welcome.as_ref().is_some_and(|w| !w.rules.taps_only);
    allowed && (answers(view) || calls(view))
}

fn listening_words(view: &TerminalView) -> &'static str {
    match view.listening {
        Listening::Off => "",
        _ if !listens(view) => "Not listening: there is nothing to answer.",
        Listening::Muted => "Not listening while the tone sounds.",
        Listening::On if calls(view) => "Listening. Pluck the note to call.",
        Listening::On => "Listening. Pluck the note twice to answer.",
    }
}

/// The view at this moment.
pub(crate) fn of(
    session: &PageSession,
    microphone: bool,
    refusal: Option<&str>,
    left_handed: bool,
    now: Moment,
) -> View {
    let view = session.terminal.view(now);
    let (standing, link) = standing(session);
    let rules = view.welcome.as_ref().map(|welcome| &welcome.rules);
    let call = view.call.as_ref();
    let stage = match call.map(|call| call.stage) {
        None => "none",
        Some(CallStage::Open) => "open",
        Some(CallStage::Revealed) => "revealed",
        Some(CallStage::Closed) => "closed",
    };
    let started = call
        .and_then(|call| call.started)
        .is_none_or(|start| start <= now);
    let tally = view.tally;
    View {
        standing,
        link,
        lesson: rules.map_or_else(String::new, |rules| rules.lesson.clone()),
        search: rules.map_or_else(String::new, |rules| {
            format!("Search: {} (heavy strings).", rules.reach.title())
        }),
        name: view
            .welcome
            .as_ref()
            .map_or_else(|| session.name().to_owned(), |welcome| welcome.name.clone()),
        locked: session.is_locked(),
        host: session
            .host()
            .map_or_else(String::new, |host| host.to_string()),
        now: rules.map_or_else(String::new, |rules| words::now(&view, rules, started)),
        refusal: match (refusal, &view.last_refusal) {
            (Some(why), _) => why.to_owned(),
            (None, Some(why)) => fifthpeg_lesson::words::as_sentence(&why.to_string()),
            (None, None) => String::new(),
        },
        call: call.map_or(0, |call| call.number),
        stage,
        can_hear: call.is_some(),
        can_answer: answers(&view),
        you_call: view.current_call().is_some_and(|call| call.you_call),
        your_turn: calls(&view),
        friends: rules.is_some_and(|rules| rules.mode == Mode::Friends),
        tried: call
            .iter()
            .flat_map(|call| &call.tries)
            .zip(rules.into_iter().cycle())
            .map(|(tried, rules)| words::answer(*tried, rules.spelling()))
            .collect(),
        tally: match (tally.calls, standing) {
            (0, _) => String::new(),
            (1, "over") => format!("1 call, {} found.", tally.found),
            (calls, "over") => format!("{calls} calls, {} found.", tally.found),
            (1, _) => format!("1 call so far, {} found.", tally.found),
            (calls, _) => format!("{calls} calls so far, {} found.", tally.found),
        },
        may_use_microphone: rules.is_some_and(|rules| !rules.taps_only),
        listening: match microphone {
            true => listening_words(&view).to_owned(),
            false => String::new(),
        },
        heard: rules.map_or_else(String::new, |rules| heard::words(&view, rules)),
        heard_order: heard::order(&view),
        place_wanted: call.is_some_and(|call| call.place_wanted.is_some()),
        neck: view
            .neck
            .as_ref()
            .zip(rules)
            .map(|(neck, rules)| neck::shown(neck, rules, &neck::signs(call), left_handed)),
    }
}
