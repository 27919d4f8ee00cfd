//! The keys of the student's screen.

use super::alone;
use super::commands::StudentCommand;
use super::host_keys::{ALONE_KEYS, HOSTING_KEYS, NEXT_KEYS};
use super::layers::Hosting;
use super::state::StudentState;
use crate::help::HelpPart;
use crate::keys::{Binding, CTRL_C, DOWN, ENTER, ESC, Key, LEFT, RIGHT, SPACE, UP, row};
use crate::neck::PlaceSign;
use crate::neck::cursor::Step;
use crate::rows;
use crate::theme::Theme;
use fifthpeg_front::SHORT_HELP;

const HEAR: Binding<StudentCommand> = row(
    &[Key::Char('h')],
    "hear the call again",
    "hear again",
    StudentCommand::Hear,
);
const ANY_NOTE: Binding<StudentCommand> = row(
    &[Key::Char('n')],
    "call any note of the reach, picked at random",
    "any note",
    StudentCommand::CallAny,
);
const LEAVE: Binding<StudentCommand> = rows::leave(StudentCommand::Leave);
/// The help, in every table of this screen.
const HELP: Binding<StudentCommand> = rows::help(StudentCommand::Help);

/// Keys for everyone.
pub const SEARCH_KEYS: &[Binding<StudentCommand>] = &[
    row(
        &[SPACE],
        "try: sound the place under the cursor",
        "try",
        StudentCommand::Try,
    ),
    row(
        &[ENTER],
        "answer with the place under the cursor",
        "answer",
        StudentCommand::Commit,
    ),
    HEAR,
    row(
        &[Key::Char('t')],
        "answer by typing a note name, such as F#4",
        "note name",
        StudentCommand::TypeName,
    ),
    rows::string_up(StudentCommand::Move(Step::Up)),
    rows::string_down(StudentCommand::Move(Step::Down)),
    rows::fret_left(StudentCommand::Move(Step::Left)),
    rows::fret_right(StudentCommand::Move(Step::Right)),
    rows::open_string("", StudentCommand::Move(Step::Open)),
    rows::last_fret("", StudentCommand::Move(Step::Last)),
    rows::names(StudentCommand::Names),
    rows::listen(StudentCommand::Listen),
    rows::quiet("", StudentCommand::Quiet),
    LEAVE,
    HELP,
];

/// Keys while a note stands that was plucked since the cursor last moved,
/// before those for everyone.
pub const HEARD_KEYS: &[Binding<StudentCommand>] = &[
    rows::foot_switch(
        "answer with the note plucked last (Enter, PageDown too)",
        "answer with it",
        StudentCommand::Heard,
    ),
    row(
        &[ESC],
        "let it go: Space, Enter are the cursor's (so does moving it)",
        "back to the cursor",
        StudentCommand::LetGo,
    ),
    HEAR,
    LEAVE,
    HELP,
];

/// Keys while the place is asked for at which the note heard was played.
pub const PLACE_KEYS: &[Binding<StudentCommand>] = &[
    rows::foot_switch(
        "it was played here (Enter, PageDown too)",
        "it was here",
        StudentCommand::ThisPlace,
    ),
    row(
        &[RIGHT, DOWN],
        "to the next place of the note heard (Down too)",
        "next place",
        StudentCommand::OtherPlace(true),
    ),
    row(
        &[LEFT, UP],
        "to the place before (Up too)",
        "the one before",
        StudentCommand::OtherPlace(false),
    ),
    LEAVE,
    HELP,
];

/// Keys of the friend whose turn it is and who has played a note since the
/// cursor last moved, before those of the turn.
pub const OFFERED_KEYS: &[Binding<StudentCommand>] = &[
    rows::foot_switch(
        "call the note plucked last (Enter, PageDown too)",
        "call it",
        StudentCommand::Heard,
    ),
    row(
        &[ESC],
        "let it go: Enter calls the place under the cursor again",
        "back to the cursor",
        StudentCommand::LetGo,
    ),
    ANY_NOTE,
    LEAVE,
    HELP,
];

/// Keys of the friend whose turn it is to call, before those for everyone.
pub const TURN_KEYS: &[Binding<StudentCommand>] = &[
    row(
        &[ENTER],
        "call the place under the cursor",
        "call it",
        StudentCommand::Commit,
    ),
    ANY_NOTE,
    LEAVE,
    HELP,
];

/// Keys of the friend who has called, before those for everyone.
pub const CALLER_KEYS: &[Binding<StudentCommand>] = &[
    rows::sound_again("hear again", StudentCommand::Hear),
    rows::reveal(StudentCommand::Reveal),
    rows::close(StudentCommand::Close),
    LEAVE,
    HELP,
];

/// Keys once the lesson is over; no others count then, so that a key meant for
/// the lesson does not take its end away.
pub const OVER_KEYS: &[Binding<StudentCommand>] = &[
    row(
        &[Key::Char('q'), ESC, CTRL_C],
        "close the screen",
        "close the screen",
        StudentCommand::Leave,
    ),
    rows::names(StudentCommand::Names),
    HELP,
];

/// For whom a table of this screen is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    Everyone,
    /// Who has a microphone.
    Ear,
    /// Friends, who call in turn.
    Turns,
    /// Friends with a microphone.
    TurnsEar,
    /// The friend who hosts.
    Host,
    /// Who has a lesson alone.
    Alone,
}

/// Every table of this screen, with its heading in the help.
const TABLES: &[(For, &str, &[Binding<StudentCommand>])] = &[
    (
        For::Everyone,
        "Searching (a click tries a place)",
        SEARCH_KEYS,
    ),
    (For::Alone, "Before a note is called", NEXT_KEYS),
    (For::Alone, "At any time", ALONE_KEYS),
    (For::Host, "As the one who hosts", HOSTING_KEYS),
    (
        For::Ear,
        "After a pluck (these are what a foot switch sends)",
        HEARD_KEYS,
    ),
    (
        For::Ear,
        "Exact place: at which one was it plucked?",
        PLACE_KEYS,
    ),
    (
        For::Turns,
        "Friends, when it is your turn to call",
        TURN_KEYS,
    ),
    (
        For::TurnsEar,
        "Friends, when you have plucked on your turn",
        OFFERED_KEYS,
    ),
    (For::Turns, "Friends, when you have called", CALLER_KEYS),
    (For::Everyone, "Once the lesson is over", OVER_KEYS),
];

/// The foot while no call can be answered: first that there is nothing to do.
fn waiting_foot() -> Vec<Binding<StudentCommand>> {
    let wait = row(
        &[Key::Word("Wait")],
        "nothing is called",
        "for the next call",
        StudentCommand::Help,
    );
    let mut foot = vec![wait];
    foot.extend(SEARCH_KEYS);
    foot
}

/// The keys at the foot: those that can do something now.
pub fn at_foot(state: &StudentState) -> Vec<Binding<StudentCommand>> {
    let as_host = state.hosting.is_some() && !state.is_over();
    let mut keys = if as_host && state.alone().is_some() {
        alone::foot(state)
    } else if state.is_waiting() {
        foot(&waiting_foot(), as_host)
    } else {
        foot(state.table(), as_host)
    };
    keys.retain(|binding| state.can(binding.command));
    keys
}

/// What stands at the foot for a table: for the friend who hosts, the host's
/// keys come behind the first three.
pub fn foot(table: &[Binding<StudentCommand>], hosting: bool) -> Vec<Binding<StudentCommand>> {
    if !hosting {
        return table.to_vec();
    }
    let mut foot = without_leaving(table);
    let rest = foot.split_off(foot.len().min(3));
    foot.extend_from_slice(HOSTING_KEYS);
    foot.extend(rest);
    foot
}

/// The friend who hosts does not leave but ends the lesson, with the same key.
pub(super) fn without_leaving(table: &[Binding<StudentCommand>]) -> Vec<Binding<StudentCommand>> {
    let stays = |binding: &&Binding<_>| binding.does != LEAVE.does;
    table.iter().filter(stays).copied().collect()
}

/// The keys that matter now: those at the foot, then those of a search that mean
/// nothing else.
pub fn matter_now(state: &StudentState) -> Vec<Binding<StudentCommand>> {
    let as_host = state.hosting.is_some() && !state.is_over();
    let mut table = if as_host && state.alone().is_some() {
        alone::foot(state)
    } else {
        let mut table = foot(state.table(), as_host);
        if !state.is_over() {
            let taken = |key: &Key| table.iter().any(|row| row.keys.contains(key));
            let free = |row: &&Binding<_>| !row.keys.iter().any(taken);
            let more: Vec<_> = SEARCH_KEYS.iter().filter(free).copied().collect();
            table.extend(more);
        }
        table
    };
    table.retain(|binding| state.can(binding.command));
    table
}

/// These, and how to move.
pub fn short_help(state: &StudentState) -> HelpPart {
    let mut part = HelpPart::short("The keys that matter now", &matter_now(state));
    let moves = state.view.welcome.is_some() && !state.is_over();
    if moves && state.place_wanted().is_none() {
        let arrows = "move the cursor on the neck".to_owned();
        let at = 2.min(part.lines.len());
        part.lines.insert(at, ("arrows".to_owned(), arrows));
    }
    part.lines.truncate(SHORT_HELP);
    part
}

/// The help, made from the tables; the host's keys only for a friend who hosts,
/// and for who is alone their own.
pub fn help(theme: Theme, hosting: Option<&Hosting>, hears: bool) -> Vec<HelpPart> {
    let is_alone = hosting.is_some_and(|hosting| hosting.alone.is_some());
    let is_shown = |of| match of {
        For::Everyone => true,
        For::Ear => hears,
        For::Turns => !is_alone,
        For::TurnsEar => !is_alone && hears,
        For::Host => hosting.is_some() && !is_alone,
        For::Alone => is_alone,
    };
    let mut parts = Vec::new();
    for (_, title, table) in TABLES.iter().filter(|(of, ..)| is_shown(*of)) {
        // Who hosts ends the lesson with the key that others leave with.
        let mut table = match hosting {
            Some(_) => without_leaving(table),
            None => table.to_vec(),
        };
        table.retain(|binding| {
            let of_ear = matches!(
                binding.command,
                StudentCommand::Listen | StudentCommand::Quiet
            );
            hears || !of_ear
        });
        parts.push(HelpPart::keys(title, &table));
    }
    parts.push(HelpPart {
        title: "Signs on the neck",
        lines: PlaceSign::help(theme),
    });
    parts.extend(crate::help::of_every_screen());
    parts
}
