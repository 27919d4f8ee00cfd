//! Words and figures that both screens show.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, Spelling};
use fifthpeg_host::OrderError;
use fifthpeg_lesson::learning::Confusion;
use fifthpeg_lesson::learning::help::{Glance, State};
use fifthpeg_lesson::learning::suggest::{ReachChange, Suggestion};
use fifthpeg_lesson::marking::{Mark, MissKind, Side};
use fifthpeg_lesson::message::{Answer, Progress, Refusal};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::tally::Tally;
use fifthpeg_vocab::Choice;
use ratatui::text::Span;

use super::theme::{Theme, Tint};

/// The caution about loudness, shown before the first tone. The figures are
/// from WHO-ITU H.870 (80 dB(A) for 40 hours a week; 75 for children).
pub fn caution() -> Vec<String> {
    vec![
        format!("Before anything sounds: {}.", fifthpeg_front::CAUTION),
        String::new(),
        "Safe listening is about 80 dB(A) for 40 hours a week, and 75 dB(A) for children. \
         If it hurts or rings, it is too loud."
            .to_owned(),
        String::new(),
        "Press any key when you are ready.".to_owned(),
    ]
}

/// That a terminal makes no sound, why if that is known, and what to try.
pub fn no_sound(why: Option<&str>) -> Vec<String> {
    let why = why.map_or_else(String::new, |why| {
        format!(": {}", why.trim_end_matches('.'))
    });
    vec![
        format!("This terminal makes no sound{why}."),
        "Plug headphones or speakers in. If that does not help, leave and type fifthpeg check, \
         which says what to do."
            .to_owned(),
        String::new(),
    ]
}

/// How notes are written on one screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoteStyle {
    /// Whether note names are shown at all.
    pub names: bool,
    /// Sharps or flats.
    pub spelling: Spelling,
    /// `F#4`, not `F♯4`.
    pub ascii: bool,
}

impl NoteStyle {
    /// A pitch by name.
    pub fn pitch(self, pitch: Pitch) -> String {
        if self.ascii {
            pitch.ascii_name(self.spelling)
        } else {
            pitch.name(self.spelling)
        }
    }

    /// A place as "2/7", and the name of its note where names are shown.
    pub fn place(self, neck: &Neck, place: Position) -> String {
        match neck.pitch_at(place).filter(|_| self.names) {
            Some(pitch) => format!("{place} {}", self.pitch(pitch)),
            None => place.to_string(),
        }
    }

    /// An answer. A note that was answered by name is shown by name.
    pub fn answer(self, neck: &Neck, answer: Answer) -> String {
        match answer {
            Answer::Place(place) => self.place(neck, place),
            Answer::Pitch(pitch) => self.pitch(pitch),
            Answer::Class(class) if self.ascii => class.ascii_name(self.spelling),
            Answer::Class(class) => class.name(self.spelling),
        }
    }

    /// A note heard from an instrument: by name, or by its places where no
    /// names are shown.
    pub fn heard(self, neck: &Neck, pitch: Pitch) -> String {
        if self.names {
            return self.pitch(pitch);
        }
        let places = neck.places(pitch);
        let places: Vec<String> = places.iter().map(Position::to_string).collect();
        if places.is_empty() {
            "a note off this neck".to_owned()
        } else {
            places.join(" = ")
        }
    }

    /// A place in full: "string 2, fret 7 (F♯4)".
    pub fn place_in_full(self, neck: &Neck, place: Position) -> String {
        let words = neck.place_in_words(place);
        match neck.pitch_at(place).filter(|_| self.names) {
            Some(pitch) => format!("{words} ({})", self.pitch(pitch)),
            None => words,
        }
    }

    /// A revealed note: its name where names are shown, and all its places.
    pub fn revealed(self, pitch: Pitch, places: &[Position]) -> String {
        let name = self.names.then(|| self.pitch(pitch));
        fifthpeg_lesson::words::revealed(name.as_deref(), places)
    }
}

/// A response time with how far it may be off, never shown as exact:
/// "4.21 ±0.04 s".
pub fn response(time: Duration, uncertainty: Duration, theme: Theme) -> String {
    let hundredths = uncertainty.as_micros().div_ceil(10_000).max(1);
    format!(
        "{:.2} {}{}.{:02} s",
        time.as_secs_f64(),
        theme.signs().plus_minus,
        hundredths / 100,
        hundredths % 100
    )
}

/// How far somebody is: a sign, a word and a tint.
pub fn progress(progress: Progress, theme: Theme) -> (&'static str, &'static str, Tint) {
    let signs = theme.signs();
    let (sign, tint) = match progress {
        Progress::Silent => (signs.silent, Tint::Plain),
        Progress::Searching => (signs.tried, Tint::Tried),
        Progress::Missed => (signs.missed, Tint::Missed),
        Progress::Found => (signs.found, Tint::Right),
        Progress::Away => (signs.away, Tint::Faint),
        Progress::NoSound => (signs.silent, Tint::Caution),
    };
    (sign, progress.label(), tint)
}

/// How somebody fares in as few words as can be; nothing after too few calls.
pub fn short_glance(glance: &Glance) -> String {
    let of = glance.of;
    match glance.state {
        State::New => String::new(),
        State::Steady => "steady".to_owned(),
        State::Silent { calls } => format!("silent {calls} calls"),
        State::LongNow { tries, seconds, .. } => {
            let tries = match tries {
                0 => String::new(),
                tries => format!(", {}", count(tries, "try", "tries")),
            };
            format!("searching {seconds} s{tries}")
        }
        State::WrongNow { wrong, far } => {
            let far = if far { ", far off" } else { "" };
            format!("{wrong} wrong{far}")
        }
        State::SilentNow { seconds } => format!("nothing for {seconds} s"),
        State::SearchingLong { long } => format!("long in {long} of {of}"),
        State::Missing { missed, by } => {
            let by = match by {
                Some(Confusion::Octave) => ", octaves",
                Some(Confusion::Neighbour) => ", semitones",
                Some(Confusion::WholeTone) => ", whole tones",
                Some(Confusion::Further) => ", far off",
                None => "",
            };
            format!("missed {missed} of {of}{by}")
        }
    }
}

/// What is suggested for the reach, for narrow screens.
pub fn short_suggestion(suggestion: &Suggestion) -> String {
    let what = match suggestion.change {
        ReachChange::Widen(Some(step)) => format!("try {}", step.title()),
        ReachChange::Widen(None) => "try more notes".to_owned(),
        ReachChange::Narrow(Some(step)) => format!("go back to {}", step.title()),
        ReachChange::Narrow(None) => "try fewer notes".to_owned(),
        ReachChange::Stay => "stay".to_owned(),
    };
    let (found, of) = (suggestion.found, suggestion.of);
    format!("Found {found} of {of}: {what}. Key: e.")
}

/// How an answer was marked in as few words as can be, for narrow lists.
pub fn short_mark(mark: &Mark) -> String {
    let Mark::Missed(miss) = mark else {
        return "right".to_owned();
    };
    let side = match miss.side {
        Some(Side::Low) => " low",
        Some(Side::High) => " high",
        None => "",
    };
    let octaves = |octaves: u8| count(u32::from(octaves), "octave", "octaves");
    match miss.kind {
        None => format!("missed{side}"),
        Some(MissKind::Octave { octaves: many }) => format!("{}{side}", octaves(many)),
        Some(MissKind::Neighbour) => format!("1 semitone{side}"),
        Some(MissKind::WholeTone) => format!("2 semitones{side}"),
        Some(MissKind::Interval { semitones }) => format!("{semitones} semitones{side}"),
        Some(MissKind::Further) => format!("further{side}"),
        Some(MissKind::Far) => format!("far{side}"),
        Some(MissKind::OtherPlace) => "other place".to_owned(),
        Some(MissKind::OtherPlaceOctave { octaves: many }) => {
            // That it lay elsewhere as well goes without saying.
            format!("{}{side}", octaves(many))
        }
    }
}

/// The same where there is hardly room: semitones as a number alone.
pub fn tight_mark(mark: &Mark) -> String {
    let Mark::Missed(miss) = mark else {
        return short_mark(mark);
    };
    let semitones = match miss.kind {
        Some(MissKind::Neighbour) => 1,
        Some(MissKind::WholeTone) => 2,
        Some(MissKind::Interval { semitones }) => semitones,
        _ => return short_mark(mark),
    };
    match miss.side {
        Some(Side::Low) => format!("low by {semitones}"),
        Some(Side::High) => format!("high by {semitones}"),
        None => short_mark(mark),
    }
}

/// How near a sung note was, for narrow lists, in the marks that music is
/// written with: "-12c", "8vb +3c" an octave below, "15ma" two above.
pub fn short_sung(sung: SungMark) -> String {
    let octave = match sung.octaves {
        0 => String::new(),
        1 => "8va ".to_owned(),
        -1 => "8vb ".to_owned(),
        2 => "15ma ".to_owned(),
        -2 => "15mb ".to_owned(),
        more => format!("{more:+}o "),
    };
    format!("{octave}{:+.0}c", sung.cents)
}

/// Why a host's order was not done; `no_call` where it needs a call and none is
/// open, since a host need not wait for one.
pub fn order_refused(error: &OrderError, no_call: &str) -> String {
    match error {
        OrderError::Refused(Refusal::NoCall) => no_call.to_owned(),
        error => error.to_string(),
    }
}

/// As many whole clauses of a sentence, from its beginning, as fit; the first in any
/// case.
pub fn within(text: &str, columns: usize) -> &str {
    let mut kept = text;
    while Span::raw(kept).width() > columns {
        let ends = [". ", "; ", ": ", ", ", " and ", " or "];
        match ends.iter().filter_map(|end| kept.rfind(end)).max() {
            Some(at) => kept = &kept[..at],
            None => break,
        }
    }
    kept
}

/// As much of a text as fits; one that is cut says so.
pub fn fitted(text: String, columns: usize, theme: Theme) -> String {
    if Span::raw(&text).width() <= columns {
        return text;
    }
    let more = if theme.is_ascii() { "~" } else { "…" };
    let mut kept = String::new();
    for letter in text.chars() {
        if Span::raw(format!("{kept}{letter}{more}")).width() > columns {
            break;
        }
        kept.push(letter);
    }
    kept + more
}

/// A tally in as much as fits.
pub fn tally(tally: &Tally, columns: usize) -> String {
    // Without sound nothing starts the clock of an answer.
    let no_times = tally.found > 0 && tally.median.is_none();
    let times = if no_times { ", time not known" } else { "" };
    let full = format!("So far: {}{times}.", fifthpeg_lesson::words::tally(tally));
    if full.len() <= columns {
        return full;
    }
    let median = tally.median.map_or_else(
        || times.to_owned(),
        |median| format!(", median {}", fifthpeg_lesson::words::seconds(median)),
    );
    format!(
        "Found {} of {} ({} at first){median}, {}, {}.",
        tally.found,
        tally.calls,
        tally.found_first,
        count(tally.hearings, "more hearing", "more hearings"),
        count(tally.tries, "try", "tries"),
    )
}

/// "1 try", "2 tries".
pub fn count(number: u32, one: &str, more: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { more })
}

/// A span of time as minutes and seconds, "1:05".
pub fn clock(time: Duration) -> String {
    let seconds = time.as_secs();
    format!("{}:{:02}", seconds / 60, seconds % 60)
}
