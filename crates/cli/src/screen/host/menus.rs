//! The lists of the host's screen.

use fifthpeg_core::{ReachSpec, ReachStep};
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Rules, Sounding, StudentId, Voice};
use fifthpeg_lesson::setup::HostOrder;

use super::layers::MenuChoice;
use crate::choice::Choice;
use crate::screen::menu::Menu;

/// The ready steps from narrow to wide, and a line to type one's own.
pub fn reach(rules: &Rules) -> Menu<MenuChoice> {
    let mut chosen = ReachStep::all().len();
    let mut lines = Vec::new();
    for (at, step) in ReachStep::all().iter().enumerate() {
        let spec = ReachSpec::from(*step);
        if spec == rules.reach {
            chosen = at;
        }
        let order = HostOrder::SetReach(spec);
        lines.push((step.title().to_owned(), MenuChoice::Order(order)));
    }
    lines.push((
        "a reach of your own: type it".to_owned(),
        MenuChoice::TypeReach,
    ));
    Menu::new("Where calls are picked from", lines, chosen)
}

/// Who sounds calls.
pub fn sounding(rules: &Rules) -> Menu<MenuChoice> {
    choices::<Sounding>("Who sounds a call", rules.sounding, HostOrder::SetSounding)
}

/// What counts as right.
pub fn marking(rules: &Rules) -> Menu<MenuChoice> {
    choices::<Marking>("What counts as right", rules.marking, HostOrder::SetMarking)
}

/// How much a miss says.
pub fn telling(rules: &Rules) -> Menu<MenuChoice> {
    choices::<Telling>(
        "What a miss says before the reveal",
        rules.telling,
        HostOrder::SetTelling,
    )
}

/// The voice.
pub fn voice(rules: &Rules) -> Menu<MenuChoice> {
    choices::<Voice>(
        "The voice of calls and tries",
        rules.voice,
        HostOrder::SetVoice,
    )
}

/// Whether to end the lesson. Staying comes first, so that Enter alone ends
/// nothing.
pub fn end() -> Menu<MenuChoice> {
    let lines = vec![
        ("no, go on".to_owned(), MenuChoice::Back),
        (
            "yes, end the lesson for everyone".to_owned(),
            MenuChoice::Order(HostOrder::End),
        ),
    ];
    Menu::new("End the lesson?", lines, 0).insisted(MenuChoice::Order(HostOrder::End))
}

/// Whether to remove a student.
pub fn remove(student: StudentId, name: &str) -> Menu<MenuChoice> {
    let lines = vec![
        ("no, keep".to_owned(), MenuChoice::Back),
        (
            format!("yes, take {name} off the roster"),
            MenuChoice::Order(HostOrder::Remove(student)),
        ),
    ];
    Menu::new(&format!("Remove {name}?"), lines, 0)
}

fn choices<C: Choice>(title: &str, now: C, order: impl Fn(C) -> HostOrder) -> Menu<MenuChoice> {
    let chosen = C::ALL.iter().position(|(choice, _, _)| *choice == now);
    let lines = C::ALL.iter().map(|(choice, word, meaning)| {
        let line = format!("{word}: {meaning}");
        (line, MenuChoice::Order(order(*choice)))
    });
    Menu::new(title, lines.collect(), chosen.unwrap_or(0))
}
