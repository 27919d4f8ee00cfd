//! Whose lesson it is, and of which class.

use fifthpeg_book::{Reader, default_location};
use fifthpeg_core::text::{self, is_same_name};

use crate::args::solo::SoloArgs;

/// The class of who belongs to no other.
pub const CLASS: &str = "Solo";
/// What follows the player's name in the name of a lesson alone.
const ALONE: &str = ", solo";
/// The name of who gives none.
const NAME: &str = "Me";

/// The player.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoloPlayer {
    /// The name.
    pub name: String,
    /// The class.
    pub class: String,
    /// Nobody was named: it is the one whom the book knows.
    pub guessed: bool,
}

impl SoloPlayer {
    /// As asked for; for the rest, what the book knows. A book that cannot be
    /// read says so where it is opened to be written.
    pub fn of(args: &SoloArgs) -> Self {
        let path = args.book.book.clone().or_else(default_location);
        let reader = path.filter(|_| !args.book.no_book);
        let reader = reader.and_then(|path| Reader::open(&path).ok());
        let known = known(reader.as_ref());
        Self::among(
            args.name_in_lesson.as_deref(),
            args.book.class.as_deref(),
            &known,
        )
    }

    /// Whoever gives a name is looked for in all classes. Whoever gives none is the
    /// one who practises alone, or the only one known; never one of several.
    fn among(name: Option<&str>, class: Option<&str>, known: &[(String, Vec<String>)]) -> Self {
        let of_class = |class: &str| {
            let of_class = known.iter().find(|(known, _)| is_same_name(known, class));
            of_class.map_or(&[][..], |(_, people)| people.as_slice())
        };
        let Some(name) = name else {
            let everybody: Vec<(&str, &str)> = known
                .iter()
                .flat_map(|(class, people)| people.iter().map(|p| (class.as_str(), p.as_str())))
                .collect();
            let found = match (of_class(class.unwrap_or(CLASS)), everybody.as_slice()) {
                ([only], _) => Some((class.unwrap_or(CLASS), only.as_str())),
                ([], [only]) if class.is_none() => Some(*only),
                _ => None,
            };
            let (class, name) = found.unwrap_or((class.unwrap_or(CLASS), NAME));
            return Self {
                name: name.to_owned(),
                class: class.to_owned(),
                guessed: found.is_some(),
            };
        };
        let class = class.map(str::to_owned).unwrap_or_else(|| {
            let has = |people: &[String]| people.iter().any(|p| is_same_name(p, name));
            let mut classes = known.iter().filter(|(_, people)| has(people));
            match (classes.next(), classes.next()) {
                (Some((class, _)), None) => class.clone(),
                _ => CLASS.to_owned(),
            }
        });
        Self {
            name: name.to_owned(),
            class,
            guessed: false,
        }
    }

    /// Whose practice it is, where nobody said so.
    pub fn said(&self) -> Option<String> {
        self.guessed.then(|| {
            format!(
                "practising as {} of {}: start with --as NAME if you are somebody else",
                text::shown(&self.name),
                text::shown(&self.class)
            )
        })
    }

    /// The lesson's own name: by it a lesson that did not end is gone on with.
    pub fn lesson(&self) -> String {
        let room = fifthpeg_lesson::setup::MAX_NAME_CHARS as usize - ALONE.len();
        let name: String = self.name.chars().take(room).collect();
        format!("{}{ALONE}", name.trim_end())
    }
}

/// Who it would be, where nobody is named.
pub fn usual(reader: &Reader) -> Option<String> {
    let who = SoloPlayer::among(None, None, &known(Some(reader)));
    who.guessed.then_some(who.name)
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
        let who = SoloPlayer::among(name, class, &known);
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
        // The one name that the book knows, of whichever class.
        let one: &[(&str, &[&str])] = &[("Village hall", &["Mia"])];
        assert_eq!(who(None, None, one), pair("Mia", "Village hall"));
        assert_eq!(who(None, Some("Choir"), one), pair("Me", "Choir"));
        let both: &[(&str, &[&str])] = &[("Solo", &["Ben"]), ("Village hall", &["Mia"])];
        assert_eq!(who(None, None, both), pair("Ben", "Solo"));
        let said = |name: Option<&str>| {
            let known = [("Solo".to_owned(), vec!["Ben".to_owned()])];
            SoloPlayer::among(name, None, &known).said()
        };
        let sentence = said(None).unwrap();
        assert!(
            sentence.starts_with("practising as Ben of Solo:"),
            "{sentence}"
        );
        assert_eq!(said(Some("Ben")), None);
    }

    #[test]
    fn the_lessons_name_fits() {
        let lesson = |name: &str| {
            let who = SoloPlayer {
                name: name.to_owned(),
                class: CLASS.to_owned(),
                guessed: false,
            };
            who.lesson()
        };
        assert_eq!(lesson("Mia"), "Mia, solo");
        let long = lesson(&"m".repeat(32));
        assert_eq!(long.chars().count(), 32);
    }
}
