//! Who is who, and class keys, on the screens of those who host: lists made
//! from the roster and from whom the lesson book knows.

use fifthpeg_front::{NOBODY_HERE, NOBODY_KNOWN};
use fifthpeg_host::{KnownPerson, Notice, could_be};
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::names::are_alike;
use fifthpeg_lesson::view::LessonView;

use super::deeds::{Came, HostDeed, People};
use super::layers::{Layer, MenuChoice};
use super::state::HostState;
use crate::menu::Menu;
use crate::parts::Message;

/// Who this student is; `None` if nobody could be meant.
pub fn who_is(
    view: &LessonView,
    known: &[KnownPerson],
    student: StudentId,
) -> Option<Menu<MenuChoice>> {
    let name = &view.students.iter().find(|s| s.id == student)?.name;
    let names = could_be(view, known, student);
    let mut lines = vec![("none of these".to_owned(), MenuChoice::Back)];
    lines.extend(names.into_iter().map(|known| {
        let choice = MenuChoice::Do(HostDeed::People(People::KnownAs(student, known.clone())));
        (known, choice)
    }));
    (lines.len() > 1).then(|| Menu::new(&format!("Who is {name}?"), lines, 0))
}

/// Everyone but this one, to say who it is.
pub fn who(view: &LessonView, but: Option<StudentId>) -> Option<Menu<MenuChoice>> {
    let others = view.students.iter().filter(|s| Some(s.id) != but);
    let lines: Vec<_> = others
        .map(|s| (s.name.clone(), MenuChoice::WhoIs(s.id)))
        .collect();
    (!lines.is_empty()).then(|| Menu::new("Who is somebody known?", lines, 0))
}

/// Those who are here, to be offered a class key; staying without comes first.
pub fn keys(
    view: &LessonView,
    known: &[KnownPerson],
    but: Option<StudentId>,
) -> Option<Menu<MenuChoice>> {
    let here = view
        .students
        .iter()
        .filter(|s| s.connected && Some(s.id) != but);
    let mut lines = vec![("nobody just now".to_owned(), MenuChoice::Back)];
    lines.extend(here.map(|s| {
        let has = known
            .iter()
            .any(|k| k.has_key && are_alike(&k.name, &s.name));
        let note = if has { " (has one)" } else { "" };
        let choice = MenuChoice::Do(HostDeed::People(People::OfferKey(s.id)));
        (format!("{}{note}", s.name), choice)
    }));
    (lines.len() > 1)
        .then(|| Menu::new("Who may come in without a passphrase next time?", lines, 0))
}

/// A notice as it is told: what became of a class key is no trouble.
pub fn notice(notice: &Notice) -> Message {
    match notice {
        Notice::KeyKept { .. } | Notice::KeyNotTaken { .. } | Notice::CameByPage { .. } => {
            Message::news(notice)
        }
        other => Message::trouble(other),
    }
}

impl HostState {
    /// Opens the list that was asked for.
    pub fn show_people(&mut self, asked: &People, known: Vec<KnownPerson>) {
        let (menu, none) = match asked {
            People::AskKeys => (keys(&self.view, &known, None), NOBODY_HERE),
            _ => {
                let chosen = self.chosen_student().map(|s| s.id);
                let menu = chosen.and_then(|id| who_is(&self.view, &known, id));
                (menu, NOBODY_KNOWN)
            }
        };
        match menu {
            Some(menu) => self.layer = Layer::Menu(menu),
            None => self.message = Some(Message::news(none)),
        }
    }

    /// Takes what came of something.
    pub fn take_came(&mut self, came: Came) {
        match came {
            Came::Known(asked, known) => self.show_people(&asked, known),
            Came::Invite(Some(invite)) => self.show_joining(&invite),
            Came::Invite(None) => self.say_no_page(),
            Came::Done(told) => self.message = told,
            Came::Failed(why) => self.message = Some(why),
        }
    }
}
