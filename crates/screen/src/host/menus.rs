//! The lists of the host's screen.

use fifthpeg_core::{Neck, Reach, ReachSpec, ReachStep};
use fifthpeg_host::BookState;
use fifthpeg_lesson::message::{Mode, StudentId};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_vocab::rules::{ChangeTime, ChangedBy, RULES, Rule, Setting};

use super::deeds::HostDeed;
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
        let order = HostOrder::Set(Setting::Reach(spec));
        lines.push((
            format!("{}{note}", step.title()),
            MenuChoice::Do(HostDeed::Order(order)),
        ));
    }
    lines.push((
        "a reach of your own: type it".to_owned(),
        MenuChoice::TypeReach,
    ));
    Menu::new("Where calls are picked from", lines, chosen)
}

/// A rule's choices.
pub fn rule(rule: &Rule, view: &LessonView) -> Menu<MenuChoice> {
    let now = (rule.now)(&view.rules, view.untold);
    let choices = (rule.choices)();
    let chosen = choices.iter().position(|choice| choice.setting == now);
    let lines = choices.into_iter().map(|choice| {
        let line = format!("{}: {}", choice.word, choice.meaning);
        (
            line,
            MenuChoice::Do(HostDeed::Order(HostOrder::Set(choice.setting))),
        )
    });
    Menu::new(rule.title, lines.collect(), chosen.unwrap_or(0))
}

/// The order that changes a rule of only two choices; `None` for any other.
pub fn other(rule: &Rule, view: &LessonView) -> Option<HostOrder> {
    let now = (rule.now)(&view.rules, view.untold);
    let other = (rule.choices)().into_iter().find(|c| c.setting != now)?;
    rule.is_on_or_off().then_some(HostOrder::Set(other.setting))
}

/// Whether to end the lesson. Staying comes first, so that Enter alone ends
/// nothing.
pub fn end() -> Menu<MenuChoice> {
    let lines = vec![
        ("no, go on".to_owned(), MenuChoice::Back),
        (
            "yes, end the lesson for everyone".to_owned(),
            MenuChoice::Do(HostDeed::Order(HostOrder::End)),
        ),
    ];
    Menu::new("End the lesson?", lines, 0).insisted(MenuChoice::Do(HostDeed::Order(HostOrder::End)))
}

/// Where there is no lesson book to go on without.
pub const NOT_WRITTEN: &str = "This lesson is not being written down.";
/// The same for who is alone.
pub fn end_alone() -> Menu<MenuChoice> {
    let end = MenuChoice::Do(HostDeed::Order(HostOrder::End));
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
                MenuChoice::Do(HostDeed::NewBook),
            ),
            ("in the old one: I put it back".to_owned(), MenuChoice::Back),
            (
                "in none: nothing more is written down".to_owned(),
                MenuChoice::Do(HostDeed::WithoutBook),
            ),
        ];
        return Menu::new("Where does the lesson go on?", lines, 0);
    }
    let lines = vec![
        ("no, go on writing it".to_owned(), MenuChoice::Back),
        (
            "yes: nothing more is written down".to_owned(),
            MenuChoice::Do(HostDeed::WithoutBook),
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
            MenuChoice::Do(HostDeed::Order(HostOrder::Remove(student))),
        ),
    ];
    Menu::new(&format!("Remove {name}?"), lines, 0)
}

/// The rules but for the reach, each with what it is now and a list of its own.
pub fn rules(view: &LessonView) -> Menu<MenuChoice> {
    let class = view.rules.mode == Mode::Class;
    rules_of(
        view,
        RULES
            .iter()
            .filter(|rule| class || rule.who != ChangedBy::HostOfClass),
    )
}

/// The same for who is alone.
pub fn rules_alone(view: &LessonView) -> Menu<MenuChoice> {
    rules_of(
        view,
        RULES.iter().filter(|rule| rule.who == ChangedBy::Host),
    )
}

fn rules_of(view: &LessonView, rules: impl Iterator<Item = &'static Rule>) -> Menu<MenuChoice> {
    let open = view.open_call().is_some();
    let lines = rules.filter_map(|rule| {
        let now = rule.chosen(&view.rules, view.untold)?;
        let line = format!("{}: {}", rule.line, now.label);
        if open && rule.when == ChangeTime::BetweenCalls {
            return Some((format!("{line}; once the call is over"), MenuChoice::Back));
        }
        Some(match other(rule, view) {
            Some(order) => (
                format!("{line}; choose this to change it"),
                MenuChoice::Do(HostDeed::Order(order)),
            ),
            None => (line, MenuChoice::Open(List::Rule(rule))),
        })
    });
    Menu::new("The rules of the lesson", lines.collect(), 0)
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
    Some(match list {
        List::Rule(of) => rule(of, view),
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
    Ok(HostOrder::Set(Setting::Reach(spec)))
}
