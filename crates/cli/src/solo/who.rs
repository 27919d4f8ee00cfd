//! Whose lesson it is, and of which class.

use fifthpeg_book::{Reader, default_place};
use fifthpeg_core::text::is_same_name;
use fifthpeg_report::asked::ALONE;

use crate::args::solo::SoloArgs;

/// The class of who belongs to no other.
pub const CLASS: &str = "Solo";
/// The name of who gives none.
const NAME: &str = "Me";

/// The player.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    /// The name.
    pub name: String,
    /// The class.
    pub class: String,
}

impl Who {
    /// As asked for; for the rest, what the book knows. A book that cannot be
    /// read says so where it is opened to be written.
    pub fn of(args: &SoloArgs) -> Self {
        let path = args.book.book.clone().or_else(default_place);
        let reader = path.filter(|_| !args.book.no_book);
        let reader = reader.and_then(|path| Reader::open(&path).ok());
        let known = known(reader.as_ref());
        Self::among(
            args.name_in_lesson.as_deref(),
            args.book.class.as_deref(),
            &known,
        )
    }

    /// Whoever gives a name is looked for in all classes; whoever gives none is
    /// never taken for somebody of a class of others.
    fn among(name: Option<&str>, class: Option<&str>, known: &[(String, Vec<String>)]) -> Self {
        let class = class.map(str::to_owned).unwrap_or_else(|| {
            let has = |people: &[String]| {
                people
                    .iter()
                    .any(|p| name.is_some_and(|n| is_same_name(p, n)))
            };
            let mut classes = known.iter().filter(|(_, people)| has(people));
            match (classes.next(), classes.next()) {
                (Some((class, _)), None) => class.clone(),
                _ => CLASS.to_owned(),
            }
        });
        let name = name.map(str::to_owned).unwrap_or_else(|| {
            let of_class = known.iter().find(|(known, _)| is_same_name(known, &class));
            match of_class.map(|(_, people)| people.as_slice()) {
                Some([only]) => only.clone(),
                _ => NAME.to_owned(),
            }
        });
        Self { name, class }
    }

    /// The lesson's own name: by it a lesson that did not end is gone on with.
    pub fn lesson(&self) -> String {
        let room = fifthpeg_lesson::setup::MAX_NAME_CHARS as usize - ALONE.len();
        let name: String = self.name.chars().take(room).collect();
        format!("{}{ALONE}", name.trim_end())
    }
}

/// Every class of the book with its people.
fn known(reader: Option<&Reader>) -> Vec<(String, Vec<String>)> {
    let Some(reader) = reader else {
        return Vec::new();
    };
    let classes = reader.classes().unwrap_or_default();
    let people = |class: &str| {
        let people = reader.people(class).unwrap_or_default();
        people.into_iter().map(|person| person.name).collect()
    };
    classes
        .into_iter()
        .map(|class| {
            let people = people(&class.name);
            (class.name, people)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn who(name: Option<&str>, class: Option<&str>, known: &[(&str, &[&str])]) -> (String, String) {
        let known: Vec<_> = known
            .iter()
            .map(|(class, people)| {
                let people = people.iter().map(|p| (*p).to_owned()).collect();
                ((*class).to_owned(), people)
            })
            .collect();
        let who = Who::among(name, class, &known);
        (who.name, who.class)
    }

    #[test]
    fn a_name_is_looked_for_and_never_guessed_among_others() {
        let pair = |name: &str, class: &str| (name.to_owned(), class.to_owned());
        assert_eq!(who(None, None, &[]), pair("Me", "Solo"));
        assert_eq!(who(Some("Mia"), None, &[]), pair("Mia", "Solo"));
        let hall: &[(&str, &[&str])] = &[("Village hall", &["Mia", "Ivo"])];
        assert_eq!(who(Some("mia"), None, hall), pair("mia", "Village hall"));
        assert_eq!(who(Some("Ruth"), None, hall), pair("Ruth", "Solo"));
        assert_eq!(who(None, None, hall), pair("Me", "Solo"));
        let two: &[(&str, &[&str])] = &[("Village hall", &["Mia"]), ("Monday", &["Mia"])];
        assert_eq!(who(Some("Mia"), None, two), pair("Mia", "Solo"));
        assert_eq!(who(Some("Mia"), Some("Monday"), two), pair("Mia", "Monday"));
        assert_eq!(who(None, Some("monday"), two), pair("Mia", "monday"));
        let home: &[(&str, &[&str])] = &[("Solo", &["Ben"])];
        assert_eq!(who(None, None, home), pair("Ben", "Solo"));
    }

    #[test]
    fn the_lessons_name_fits() {
        let lesson = |name: &str| {
            let who = Who {
                name: name.to_owned(),
                class: CLASS.to_owned(),
            };
            who.lesson()
        };
        assert_eq!(lesson("Mia"), "Mia, solo");
        let long = lesson(&"m".repeat(32));
        assert_eq!(long.chars().count(), 32);
    }
}
