//! The lists of the host's screen.

use fifthpeg_core::{Neck, Reach, ReachSpec, ReachStep};
use fifthpeg_front::choice::Choice;
use fifthpeg_host::BookState;
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Rules, Sounding, StudentId, Voice};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;

use super::layers::{List, MenuChoice};
use crate::menu::Menu;

/// The ready steps from narrow to wide, and a line to type one's own. It begins
/// at the step that is suggested, if one is, else at the present one.
pub fn reach(view: &LessonView) -> Menu<MenuChoice> {
    let suggested = view.suggestion.and_then(|s| s.step());
    let mut chosen = ReachStep::all().len();
    let mut lines = Vec::new();
    for (at, step) in ReachStep::all().iter().enumerate() {
        let spec = ReachSpec::from(*step);
        let now = spec == view.rules.reach;
        if suggested.map_or(now, |suggested| suggested == *step) {
            chosen = at;
        }
        let note = match suggested {
            Some(suggested) if suggested == *step => " (suggested)",
            Some(_) if now => " (now)",
            _ => "",
        };
        let order = HostOrder::SetReach(spec);
        lines.push((format!("{}{note}", step.title()), MenuChoice::Order(order)));
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

/// How notes are picked.
pub fn picking(now: Picking) -> Menu<MenuChoice> {
    choices::<Picking>("How notes are picked", now, HostOrder::SetPicking)
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

/// Where there is no lesson book to go on without.
pub const NOT_WRITTEN: &str = "This lesson is not being written down.";
/// The same for who is alone.
pub fn end_alone() -> Menu<MenuChoice> {
    let end = MenuChoice::Order(HostOrder::End);
    let lines = vec![
        ("no, go on".to_owned(), MenuChoice::Back),
        ("yes, end the lesson".to_owned(), end.clone()),
    ];
    Menu::new("End the lesson?", lines, 0).insisted(end)
}

/// Whether to go on without the lesson book, or, where it is lost, in a new one.
pub fn leave_book(book: &BookState) -> Menu<MenuChoice> {
    if book.is_lost() {
        let lines = vec![
            (
                "in a new book, with all of this lesson".to_owned(),
                MenuChoice::NewBook,
            ),
            ("in the old one: I put it back".to_owned(), MenuChoice::Back),
            (
                "in none: confirm what waits, and write nothing more".to_owned(),
                MenuChoice::WithoutBook,
            ),
        ];
        return Menu::new("Where does the lesson go on?", lines, 0);
    }
    let lines = vec![
        ("no, go on writing it".to_owned(), MenuChoice::Back),
        (
            "yes: confirm what waits, and write nothing more".to_owned(),
            MenuChoice::WithoutBook,
        ),
    ];
    Menu::new("Go on without the lesson book?", lines, 0)
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

/// The rules but for the reach, each with what it is now and a list of its own.
pub fn rules(view: &LessonView) -> Menu<MenuChoice> {
    Menu::new("The rules of the lesson", rule_lines(view), 0)
}

/// The same for who is alone: there is only one who can sound a call.
pub fn rules_alone(view: &LessonView) -> Menu<MenuChoice> {
    let mut lines = rule_lines(view);
    lines.retain(|(_, choice)| *choice != MenuChoice::Open(List::Sounding));
    Menu::new("The rules of the lesson", lines, 0)
}

fn rule_lines(view: &LessonView) -> Vec<(String, MenuChoice)> {
    let rules = &view.rules;
    let line = |what: &str, now: &str, list| (format!("{what}: {now}"), MenuChoice::Open(list));
    vec![
        line("what is right", rules.marking.meaning(), List::Marking),
        line(
            "who sounds a call",
            rules.sounding.meaning(),
            List::Sounding,
        ),
        line("what a miss tells", rules.telling.meaning(), List::Telling),
        line("the voice", rules.voice.word(), List::Voice),
        line(
            "how notes are picked",
            view.picking.meaning(),
            List::Picking,
        ),
        (
            if rules.sing_first {
                "singing first: invited; choose this to stop inviting".to_owned()
            } else {
                "singing first: not invited; choose this to invite".to_owned()
            },
            MenuChoice::Order(HostOrder::SetSingFirst(!rules.sing_first)),
        ),
    ]
}

/// Everyone but this one, to be removed; `None` if there is nobody.
pub fn roster(view: &LessonView, but: Option<StudentId>) -> Option<Menu<MenuChoice>> {
    let others = view.students.iter().filter(|s| Some(s.id) != but);
    let lines: Vec<_> = others
        .map(|student| {
            let away = if student.connected { "" } else { " (away)" };
            let choice = MenuChoice::Open(List::Remove(student.id));
            (format!("{}{away}", student.name), choice)
        })
        .collect();
    (!lines.is_empty()).then(|| Menu::new("Remove whom?", lines, 0))
}

/// A list opened from another; `None` if what it was about is gone.
pub fn open(list: List, view: &LessonView) -> Option<Menu<MenuChoice>> {
    let rules = &view.rules;
    Some(match list {
        List::Marking => marking(rules),
        List::Sounding => sounding(rules),
        List::Telling => telling(rules),
        List::Voice => voice(rules),
        List::Picking => picking(view.picking),
        List::Remove(id) => {
            let student = view.students.iter().find(|s| s.id == id)?;
            remove(id, &student.name)
        }
    })
}

/// The order that a typed reach stands for on this neck.
///
/// # Errors
/// One sentence that says what is wrong with it.
pub fn typed_reach(text: &str, neck: &Neck) -> Result<HostOrder, String> {
    let spec = text
        .parse::<ReachSpec>()
        .map_err(|error| error.to_string())?;
    Reach::resolve(neck, &spec).map_err(|error| error.to_string())?;
    Ok(HostOrder::SetReach(spec))
}

fn choices<C: Choice>(title: &str, now: C, order: impl Fn(C) -> HostOrder) -> Menu<MenuChoice> {
    let chosen = C::ALL.iter().position(|(choice, _, _)| *choice == now);
    let lines = C::ALL.iter().map(|(choice, word, meaning)| {
        let line = format!("{word}: {meaning}");
        (line, MenuChoice::Order(order(*choice)))
    });
    Menu::new(title, lines.collect(), chosen.unwrap_or(0))
}
