//! The keys of the host's screen.

use std::sync::LazyLock;

use crossterm::event::KeyCode;
use fifthpeg_front::NOTHING_MET;
use fifthpeg_host::Counter;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_vocab::RULES;

use crate::help::{self, HelpPart};
use crate::keys::{Binding, CTRL_C, DOWN, ENTER, ESC, Key, PAGE_DOWN, SPACE, UP, row};
use crate::neck::PlaceSign;
use crate::neck::cursor::Step;
use crate::rows;
use crate::theme::Theme;

/// What keys do on the main screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HostCommand {
    /// Choose a place to call.
    CallByHand,
    /// Call a random note of the reach.
    CallAny,
    /// Do the next sensible thing.
    Pedal,
    /// Call the note that was played on the host's instrument.
    CallHeard,
    /// Listen to the instrument, or no longer.
    Listen,
    /// Measure the noise of the room.
    Quiet,
    /// Sound the call again for everyone.
    HearAgain,
    /// Show the note.
    Reveal,
    /// End the call.
    Close,
    /// Choose a reach.
    Reach,
    /// Change the rule of this key.
    Rule(char),
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
    /// End the lesson.
    End,
    /// Help.
    Help,
}

/// The main screen's keys.
pub fn main_keys() -> &'static [Binding<HostCommand>] {
    static ALL: LazyLock<Vec<Binding<HostCommand>>> = LazyLock::new(|| {
        // Made once, and kept as long as the program runs.
        let rules = RULES.iter().map(|rule| Binding {
            keys: vec![Key::Char(rule.key)].leak(),
            does: format!("change {}", rule.what).leak(),
            short: if rule.told { rule.word } else { "" },
            command: HostCommand::Rule(rule.key),
        });
        let first = CALL_KEYS.iter().copied();
        first
            .chain(rules)
            .chain(OTHER_KEYS.iter().copied())
            .collect()
    });
    &ALL
}

/// Those for the line at the foot: what can be done now, with a call at this stage.
pub fn keys_now(stage: Option<CallStage>) -> Vec<Binding<HostCommand>> {
    let open = stage == Some(CallStage::Open);
    let there = open || stage == Some(CallStage::Revealed);
    let can_be = |row: &&Binding<HostCommand>| match row.command {
        HostCommand::CallByHand | HostCommand::CallAny => !open,
        HostCommand::Reveal => open,
        HostCommand::HearAgain | HostCommand::Close => there,
        _ => true,
    };
    main_keys().iter().filter(can_be).copied().collect()
}

/// Those of a call, and what else is wanted most.
pub const CALL_KEYS: &[Binding<HostCommand>] = &[
    row(
        &[Key::Char('c')],
        "call by hand: on the neck, or typed unseen while hidden",
        "call by hand",
        HostCommand::CallByHand,
    ),
    row(
        &[Key::Char('n')],
        "call any note of the reach (a sets how it is picked)",
        "any",
        HostCommand::CallAny,
    ),
    rows::sound_again("again", HostCommand::HearAgain),
    rows::reveal(HostCommand::Reveal),
    rows::close(HostCommand::Close),
    row(
        &[Key::Char('j')],
        "say how to join, and show a code for phones",
        "join",
        HostCommand::Joining,
    ),
    rows::reach(HostCommand::Reach),
    rows::end(HostCommand::End),
    row(
        &[Key::Char('k')],
        "hide the note and the answers: students can see this screen",
        "hide",
        HostCommand::Hide,
    ),
];

/// The rest of them, after those of the rules.
pub const OTHER_KEYS: &[Binding<HostCommand>] = &[
    rows::names(HostCommand::Names),
    row(
        &[Key::Code(KeyCode::Tab)],
        "students, or the answers by student",
        "answers",
        HostCommand::Pane,
    ),
    row(&[UP], "choose the student above", "", HostCommand::Up),
    row(&[DOWN], "choose the student below", "", HostCommand::Down),
    row(
        &[Key::Char('d')],
        "remove the chosen student (asks first)",
        "remove",
        HostCommand::Remove,
    ),
    row(
        &[Key::Char('w')],
        "say who the chosen student is, of those who are known",
        "",
        HostCommand::WhoIs,
    ),
    row(
        &[Key::Char('g')],
        "give a class key, for a student's own machine",
        "",
        HostCommand::Key,
    ),
    row(&[ENTER], "call the note heard", "", HostCommand::CallHeard),
    row(
        &[PAGE_DOWN, SPACE],
        "the pedal (Space too): the corner says what it does",
        "",
        HostCommand::Pedal,
    ),
    rows::listen(HostCommand::Listen),
    rows::quiet("", HostCommand::Quiet),
    rows::without_book(HostCommand::WithoutBook),
    rows::help(HostCommand::Help),
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
    row(
        &[ENTER],
        "call the place under the cursor",
        "call it",
        PickCommand::Call,
    ),
    row(
        &[ESC, Key::Char('q'), CTRL_C],
        "back without calling",
        "back",
        PickCommand::Back,
    ),
    rows::string_up(PickCommand::Move(Step::Up)),
    rows::string_down(PickCommand::Move(Step::Down)),
    rows::fret_left(PickCommand::Move(Step::Left)),
    rows::fret_right(PickCommand::Move(Step::Right)),
    rows::open_string("open", PickCommand::Move(Step::Open)),
    rows::last_fret("last fret", PickCommand::Move(Step::Last)),
    rows::help(PickCommand::Help),
];

/// The keys of a lesson.
pub fn short_help() -> HelpPart {
    HelpPart::short("A lesson", main_keys())
}

/// The help, made from the tables; nothing on a microphone where there is none.
pub fn help(theme: Theme, hears: bool, network: &[(Counter, u64)]) -> Vec<HelpPart> {
    let shown = |binding: &&Binding<HostCommand>| match binding.command {
        HostCommand::CallHeard | HostCommand::Listen | HostCommand::Quiet => hears,
        _ => true,
    };
    let group = |of: &dyn Fn(HostCommand) -> bool| -> Vec<_> {
        let all = main_keys().iter().filter(shown);
        all.filter(|binding| of(binding.command)).copied().collect()
    };
    let calls = |command| CALL_KEYS.iter().any(|binding| binding.command == command);
    let rules = |command| matches!(command, HostCommand::Rule(_));
    let signs = PlaceSign::help(theme);
    let mut parts = vec![
        HelpPart::keys("The lesson", &group(&calls)),
        HelpPart::keys("Rules", &group(&rules)),
        HelpPart::keys(
            "Students, screen and everything else",
            &group(&|command| !calls(command) && !rules(command)),
        ),
        HelpPart::keys("Choosing a place (a click moves the cursor too)", PICK_KEYS),
        HelpPart {
            title: "Signs on the neck",
            lines: signs,
        },
        network_part(network),
    ];
    parts.extend(help::of_every_screen());
    parts
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
