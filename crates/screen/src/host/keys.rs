//! The keys of the host's screen.

use crossterm::event::KeyCode;
use fifthpeg_front::NOTHING_MET;
use fifthpeg_host::Counter;
use fifthpeg_lesson::message::Mode;

use crate::help::HelpPart;
use crate::keys::{Binding, Key};
use crate::menu::MENU_KEYS;
use crate::neck::PlaceSign;
use crate::neck::cursor::Step;
use crate::theme::Theme;

/// What keys do on the main screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HostCommand {
    /// Choose a place to call.
    CallByHand,
    /// Call a random note of the reach.
    CallAny,
    /// Call the note that was played on the host's instrument.
    CallHeard,
    /// Listen to the instrument, or no longer.
    Listen,
    /// Measure the noise of the room.
    Quiet,
    /// Invite students to sing first, or no longer.
    SingFirst,
    /// Sound the call again for everyone.
    HearAgain,
    /// Show the note.
    Reveal,
    /// End the call.
    Close,
    /// Choose a reach.
    Reach,
    /// Choose who sounds calls.
    Sounding,
    /// Choose what counts as right.
    Marking,
    /// Choose how much a miss says.
    Telling,
    /// Choose the voice.
    Voice,
    /// Choose how notes are picked.
    Picking,
    /// Hide or show the target.
    Hide,
    /// Show or hide note names.
    Names,
    /// Roster or answers, where there is room for one.
    Pane,
    /// One student up.
    Up,
    /// One student down.
    Down,
    /// Remove the chosen student.
    Remove,
    /// Say who the chosen student is.
    WhoIs,
    /// Offer somebody a class key.
    Key,
    /// Go on without the lesson book.
    WithoutBook,
    /// Say how to join.
    Joining,
    /// Friends: pass the turn.
    Pass,
    /// End the lesson.
    End,
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

/// The main screen's keys.
pub const MAIN_KEYS: &[Binding<HostCommand>] = &[
    binding!(
        [Key::Char('c')],
        "c",
        "call by hand: on the neck, or typed unseen while hidden",
        "call by hand",
        HostCommand::CallByHand
    ),
    binding!(
        [Key::Char('n')],
        "n",
        "call any note of the reach, picked as a says",
        "any",
        HostCommand::CallAny
    ),
    binding!(
        [Key::Char('h')],
        "h",
        "sound the call again for everyone",
        "again",
        HostCommand::HearAgain
    ),
    binding!(
        [Key::Char('r')],
        "r",
        "reveal the note and every place of it",
        "reveal",
        HostCommand::Reveal
    ),
    binding!(
        [Key::Char('x')],
        "x",
        "close the call",
        "close",
        HostCommand::Close
    ),
    binding!(
        [Key::Char('e')],
        "e",
        "change the reach, or take what is suggested",
        "reach",
        HostCommand::Reach
    ),
    binding!(
        [Key::Char('q'), Key::Ctrl('c')],
        "q",
        "end the lesson (asks first)",
        "end",
        HostCommand::End
    ),
    binding!(
        [Key::Char('f')],
        "f",
        "invite students to sing each note first, or no longer",
        "sing first",
        HostCommand::SingFirst
    ),
    binding!(
        [Key::Char('k')],
        "k",
        "hide or show target and who needs help: students look on",
        "hide",
        HostCommand::Hide
    ),
    binding!(
        [Key::Char('m')],
        "m",
        "change what counts as right",
        "marking",
        HostCommand::Marking
    ),
    binding!(
        [Key::Char('s')],
        "s",
        "change who sounds the calls",
        "sounding",
        HostCommand::Sounding
    ),
    binding!(
        [Key::Char('t')],
        "t",
        "change how much a miss says",
        "telling",
        HostCommand::Telling
    ),
    binding!(
        [Key::Char('v')],
        "v",
        "change the voice",
        "voice",
        HostCommand::Voice
    ),
    binding!(
        [Key::Char('a')],
        "a",
        "change how notes are picked: at random, or to teach",
        "",
        HostCommand::Picking
    ),
    binding!(
        [Key::Char('l')],
        "l",
        "show or hide note names",
        "letters",
        HostCommand::Names
    ),
    binding!(
        [Key::Code(KeyCode::Tab)],
        "Tab",
        "students, or the answers as they came in",
        "answers",
        HostCommand::Pane
    ),
    binding!(
        [Key::Code(KeyCode::Up)],
        "Up",
        "choose the student above",
        "",
        HostCommand::Up
    ),
    binding!(
        [Key::Code(KeyCode::Down)],
        "Down",
        "choose the student below",
        "",
        HostCommand::Down
    ),
    binding!(
        [Key::Char('d')],
        "d",
        "remove the chosen student (asks first)",
        "remove",
        HostCommand::Remove
    ),
    binding!(
        [Key::Char('w')],
        "w",
        "say who the chosen student is, of those who are known",
        "",
        HostCommand::WhoIs
    ),
    binding!(
        [Key::Char('g')],
        "g",
        "give a class key, for a student's own machine",
        "",
        HostCommand::Key
    ),
    binding!(
        [
            Key::Code(KeyCode::Enter),
            Key::Char(' '),
            Key::Code(KeyCode::PageDown)
        ],
        "Enter",
        "call the note heard (Space, PageDown, a foot switch too)",
        "",
        HostCommand::CallHeard
    ),
    binding!(
        [Key::Char('i')],
        "i",
        "listen to your instrument, or no longer (needs --microphone)",
        "",
        HostCommand::Listen
    ),
    binding!(
        [Key::Char('o')],
        "o",
        "measure the noise of the room: three seconds of quiet",
        "",
        HostCommand::Quiet
    ),
    binding!(
        [Key::Char('b')],
        "b",
        "go on without the lesson book, if it cannot be written",
        "",
        HostCommand::WithoutBook
    ),
    binding!(
        [Key::Char('j')],
        "j",
        "say how to join: name, passphrase, every address",
        "",
        HostCommand::Joining
    ),
    binding!(
        [Key::Char('p')],
        "p",
        "let the next friend call",
        "",
        HostCommand::Pass
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        HostCommand::Help
    ),
];

/// What keys do while a place is chosen on the neck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PickCommand {
    /// Move the cursor.
    Move(Step),
    /// Call the place under the cursor.
    Call,
    /// Back without calling.
    Back,
    /// Help.
    Help,
}

/// The keys while a place is chosen.
pub const PICK_KEYS: &[Binding<PickCommand>] = &[
    binding!(
        [Key::Code(KeyCode::Enter)],
        "Enter",
        "call the place under the cursor",
        "call it",
        PickCommand::Call
    ),
    binding!(
        [Key::Code(KeyCode::Esc), Key::Char('q'), Key::Ctrl('c')],
        "Esc",
        "back without calling",
        "back",
        PickCommand::Back
    ),
    binding!(
        [Key::Code(KeyCode::Up)],
        "Up",
        "one string up",
        "",
        PickCommand::Move(Step::Up)
    ),
    binding!(
        [Key::Code(KeyCode::Down)],
        "Down",
        "one string down",
        "",
        PickCommand::Move(Step::Down)
    ),
    binding!(
        [Key::Code(KeyCode::Left)],
        "Left",
        "one fret to the left",
        "",
        PickCommand::Move(Step::Left)
    ),
    binding!(
        [Key::Code(KeyCode::Right)],
        "Right",
        "one fret to the right",
        "",
        PickCommand::Move(Step::Right)
    ),
    binding!(
        [Key::Code(KeyCode::Home)],
        "Home",
        "to the open string",
        "open",
        PickCommand::Move(Step::Open)
    ),
    binding!(
        [Key::Code(KeyCode::End)],
        "End",
        "to the last fret",
        "last fret",
        PickCommand::Move(Step::Last)
    ),
    binding!(
        [Key::Char('?'), Key::Code(KeyCode::F(1))],
        "?",
        "this help",
        "help",
        PickCommand::Help
    ),
];

/// The help, made from the tables.
pub fn help(theme: Theme, mode: Mode, network: &[(Counter, u64)]) -> Vec<HelpPart> {
    let main: Vec<_> = MAIN_KEYS
        .iter()
        .filter(|binding| mode == Mode::Friends || binding.command != HostCommand::Pass)
        .copied()
        .collect();
    let signs = PlaceSign::help(theme);
    vec![
        HelpPart::keys("The lesson", &main),
        HelpPart::keys("Choosing a place (a click moves the cursor too)", PICK_KEYS),
        HelpPart::keys("Lists", MENU_KEYS),
        HelpPart {
            title: "Signs on the neck",
            lines: signs,
        },
        network_part(network),
    ]
}

/// What peers met of the host's limits.
fn network_part(network: &[(Counter, u64)]) -> HelpPart {
    let mut lines: Vec<_> = network
        .iter()
        .map(|(counter, times)| (times.to_string(), counter.title().to_owned()))
        .collect();
    if lines.is_empty() {
        lines.push(("0".to_owned(), NOTHING_MET.to_owned()));
    }
    HelpPart {
        title: "The network, since the lesson was opened here",
        lines,
    }
}
