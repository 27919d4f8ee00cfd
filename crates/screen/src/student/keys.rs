//! The keys of the student's screen.

use crossterm::event::KeyCode;

use super::alone::{self, ALONE_KEYS, NEXT_KEYS};
use super::hosting::{HOSTING_KEYS, Hosting, HostingCommand};
use crate::help::HelpPart;
use crate::keys::{Binding, Key};
use crate::menu::MENU_KEYS;
use crate::neck::PlaceSign;
use crate::neck::cursor::Step;
use crate::theme::Theme;

/// What keys do on the student's screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudentCommand {
    /// Sound the place under the cursor.
    Try,
    /// Answer with the place under the cursor; as the one whose turn it is,
    /// call it.
    Commit,
    /// Answer with the note heard from the instrument; as the one whose turn
    /// it is, call it.
    Heard,
    /// Give the keys back to the cursor.
    LetGo,
    /// To the next or the one before of the places of the note heard.
    OtherPlace(bool),
    /// The note was played at the place under the cursor.
    ThisPlace,
    /// Listen to the instrument, or no longer.
    Listen,
    /// Measure the noise of the room.
    Quiet,
    /// Hear the call again.
    Hear,
    /// Answer by typing a note name.
    TypeName,
    /// Move the cursor.
    Move(Step),
    /// Show or hide note names.
    Names,
    /// Caller: any note.
    CallAny,
    /// Caller: show the note.
    Reveal,
    /// Caller: end the call.
    Close,
    /// Leave the lesson, or the screen once the lesson is over.
    Leave,
    /// Only the friend who hosts.
    Host(HostingCommand),
    /// Help.
    Help,
}

macro_rules! binding {
    ($keys:expr, $shown:literal, $does:literal, $short:literal, $command:expr) => {
        Binding {
            keys: &$keys,
            shown: $shown,
            does: $does,
            short: $short,
            command: $command,
        }
    };
}

/// Keys for everyone.
pub const SEARCH_KEYS: &[Binding<StudentCommand>] = &[
    binding!(
        [Key::Char(' ')],
        "Space",
        "try: sound the place under the cursor",
        "try",
        StudentCommand::Try
    ),
    binding!(
        [Key::Code(KeyCode::Enter)],
        "Enter",
        "answer with the place under the cursor",
        "answer",
        StudentCommand::Commit
    ),
    binding!(
        [Key::Char('h')],
        "h",
        "hear the call again",
        "hear again",
        StudentCommand::Hear
    ),
    binding!(
        [Key::Char('n')],
        "n",
        "answer by typing a note name, such as F#4",
        "note name",
        StudentCommand::TypeName
    ),
    binding!(
        [Key::Code(KeyCode::Up)],
        "Up",
        "one string up",
        "",
        StudentCommand::Move(Step::Up)
    ),
    binding!(
        [Key::Code(KeyCode::Down)],
        "Down",
        "one string down",
        "",
        StudentCommand::Move(Step::Down)
    ),
    binding!(
        [Key::Code(KeyCode::Left)],
        "Left",
        "one fret to the left",
        "",
        StudentCommand::Move(Step::Left)
    ),
    binding!(
        [Key::Code(KeyCode::Right)],
        "Right",
        "one fret to the right",
        "",
        StudentCommand::Move(Step::Right)
    ),
    binding!(
        [Key::Code(KeyCode::Home)],
        "Home",
        "to the open string",
        "",
        StudentCommand::Move(Step::Open)
    ),
    binding!(
        [Key::Code(KeyCode::End)],
        "End",
        "to the last fret",
        "",
        StudentCommand::Move(Step::Last)
    ),
    binding!(
        [Key::Char('l')],
        "l",
        "show or hide note names",
        "letters",
        StudentCommand::Names
    ),
    binding!(
        [Key::Char('i')],
        "i",
        "listen to your instrument, or no longer (needs --microphone)",
        "",
        StudentCommand::Listen
    ),
    binding!(
        [Key::Char('o')],
        "o",
        "measure the noise of the room: three seconds of quiet",
        "",
        StudentCommand::Quiet
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// The keys that foot switches send: one press answers, calls or chooses.
macro_rules! foot_switch {
    ($does:literal, $short:literal, $command:expr) => {
        binding!(
            [
                Key::Char(' '),
                Key::Code(KeyCode::Enter),
                Key::Code(KeyCode::PageDown)
            ],
            "Space",
            $does,
            $short,
            $command
        )
    };
}

/// Keys while a note stands that was plucked since the cursor last moved,
/// before those for everyone.
pub const HEARD_KEYS: &[Binding<StudentCommand>] = &[
    foot_switch!(
        "answer with the note plucked last (Enter, PageDown too)",
        "answer with it",
        StudentCommand::Heard
    ),
    binding!(
        [Key::Code(KeyCode::Esc)],
        "Esc",
        "let it go: Space, Enter are the cursor's (so does moving it)",
        "back to the cursor",
        StudentCommand::LetGo
    ),
    binding!(
        [Key::Char('h')],
        "h",
        "hear the call again",
        "hear again",
        StudentCommand::Hear
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// Keys while the place is asked for at which the note heard was played.
pub const PLACE_KEYS: &[Binding<StudentCommand>] = &[
    foot_switch!(
        "it was played here (Enter, PageDown too)",
        "it was here",
        StudentCommand::ThisPlace
    ),
    binding!(
        [Key::Code(KeyCode::Right), Key::Code(KeyCode::Down)],
        "Right",
        "to the next place of the note heard (Down too)",
        "next place",
        StudentCommand::OtherPlace(true)
    ),
    binding!(
        [Key::Code(KeyCode::Left), Key::Code(KeyCode::Up)],
        "Left",
        "to the place before (Up too)",
        "the one before",
        StudentCommand::OtherPlace(false)
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// Keys of the friend whose turn it is and who has played a note since the
/// cursor last moved, before those of the turn.
pub const OFFERED_KEYS: &[Binding<StudentCommand>] = &[
    foot_switch!(
        "call the note plucked last (Enter, PageDown too)",
        "call it",
        StudentCommand::Heard
    ),
    binding!(
        [Key::Code(KeyCode::Esc)],
        "Esc",
        "let it go: Enter calls the place under the cursor again",
        "back to the cursor",
        StudentCommand::LetGo
    ),
    binding!(
        [Key::Char('n')],
        "n",
        "call any note of the reach, picked at random",
        "any note",
        StudentCommand::CallAny
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// Keys of the friend whose turn it is to call, before those for everyone.
pub const TURN_KEYS: &[Binding<StudentCommand>] = &[
    binding!(
        [Key::Code(KeyCode::Enter)],
        "Enter",
        "call the place under the cursor",
        "call it",
        StudentCommand::Commit
    ),
    binding!(
        [Key::Char('n')],
        "n",
        "call any note of the reach, picked at random",
        "any note",
        StudentCommand::CallAny
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// Keys of the friend who has called, before those for everyone.
pub const CALLER_KEYS: &[Binding<StudentCommand>] = &[
    binding!(
        [Key::Char('h')],
        "h",
        "sound the call again for everyone",
        "hear again",
        StudentCommand::Hear
    ),
    binding!(
        [Key::Char('r')],
        "r",
        "reveal the note and every place of it",
        "reveal",
        StudentCommand::Reveal
    ),
    binding!(
        [Key::Char('x')],
        "x",
        "close the call",
        "close",
        StudentCommand::Close
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "leave the lesson (asks first)",
        "leave",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// Keys once the lesson is over; no others count then, so that a key meant for
/// the lesson does not take its end away.
pub const OVER_KEYS: &[Binding<StudentCommand>] = &[
    binding!(
        [Key::Char('q'), Key::Code(KeyCode::Esc), Key::Ctrl('c')],
        "q",
        "close the screen",
        "close the screen",
        StudentCommand::Leave
    ),
    binding!(
        [Key::Char('l')],
        "l",
        "show or hide note names",
        "letters",
        StudentCommand::Names
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        StudentCommand::Help
    ),
];

/// The foot while no call can be answered: first that there is nothing to do.
pub fn waiting_foot() -> Vec<Binding<StudentCommand>> {
    let mut foot = vec![Binding {
        keys: &[],
        shown: "Wait",
        does: "nothing is called",
        short: "for the next call",
        command: StudentCommand::Help,
    }];
    let answers = |command| matches!(command, StudentCommand::Commit | StudentCommand::TypeName);
    foot.extend(SEARCH_KEYS.iter().filter(|b| !answers(b.command)).copied());
    foot
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
fn without_leaving(table: &[Binding<StudentCommand>]) -> Vec<Binding<StudentCommand>> {
    let stays = |binding: &&Binding<_>| binding.command != StudentCommand::Leave;
    table.iter().filter(stays).copied().collect()
}

/// The help, made from the tables; the host's keys only for a friend who hosts,
/// and for who is alone their own.
pub fn help(theme: Theme, hosting: Option<&Hosting>) -> Vec<HelpPart> {
    if hosting.is_some_and(|hosting| hosting.alone.is_some()) {
        return help_alone(theme);
    }
    let hosting = hosting.is_some();
    let signs = PlaceSign::help(theme);
    let keys = |title, table: &[Binding<StudentCommand>]| {
        if hosting {
            HelpPart::keys(title, &without_leaving(table))
        } else {
            HelpPart::keys(title, table)
        }
    };
    let mut parts = vec![
        keys("Searching (a click tries a place)", SEARCH_KEYS),
        keys(
            "After a pluck (these are what a foot switch sends)",
            HEARD_KEYS,
        ),
        keys("Exact place: at which one was it plucked?", PLACE_KEYS),
        HelpPart {
            title: "Signs on the neck",
            lines: signs,
        },
        keys("Friends, when it is your turn to call", TURN_KEYS),
        keys("Friends, when you have plucked on your turn", OFFERED_KEYS),
        keys("Friends, when you have called", CALLER_KEYS),
    ];
    if hosting {
        parts.insert(1, HelpPart::keys("As the one who hosts", HOSTING_KEYS));
    }
    parts.push(HelpPart::keys("Once the lesson is over", OVER_KEYS));
    parts.push(HelpPart::keys("Lists", MENU_KEYS));
    parts
}

fn help_alone(theme: Theme) -> Vec<HelpPart> {
    let signs = PlaceSign::help(theme);
    vec![
        HelpPart::keys("Searching (a click tries a place)", &alone::search_keys()),
        HelpPart::keys("Before a note is called", NEXT_KEYS),
        HelpPart::keys("At any time", ALONE_KEYS),
        HelpPart::keys(
            "After a pluck (these are what a foot switch sends)",
            &without_leaving(HEARD_KEYS),
        ),
        HelpPart::keys(
            "Exact place: at which one was it plucked?",
            &without_leaving(PLACE_KEYS),
        ),
        HelpPart {
            title: "Signs on the neck",
            lines: signs,
        },
        HelpPart::keys("Once the lesson is over", OVER_KEYS),
        HelpPart::keys("Lists", MENU_KEYS),
    ]
}
