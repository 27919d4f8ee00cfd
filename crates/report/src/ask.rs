//! Which class, lesson or student a report is about, as it is asked for.

use fifthpeg_book::reader::LessonSummary;
use fifthpeg_book::{BookError, LessonId, PersonId, Reader};
use fifthpeg_core::text::is_same_name;

use super::dates::{Date, Offset};

/// What somebody asks for, as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Ask {
    /// The class; may be left out where the book has one alone.
    pub class: Option<String>,
    /// One student of it.
    pub student: Option<String>,
    /// One lesson of it: `last` (of the class), its day as `2026-10-13`, that and a time of day,
    /// or the beginning of its number.
    pub lesson: Option<String>,
}

/// What a report is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Subject {
    /// The class, as the book writes it.
    pub class: String,
    /// One student, over all lessons or in one.
    pub student: Option<(PersonId, String)>,
    /// One lesson.
    pub lesson: Option<LessonId>,
}

/// Why there is no such report.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AskError {
    /// The book cannot be read.
    #[error(transparent)]
    Book(#[from] BookError),
    /// No lesson was ever written into it.
    #[error("the lesson book is empty: hold a lesson first, then ask for its report")]
    Empty,
    /// There are several classes.
    #[error("the lesson book holds several classes ({there}): say which with --class")]
    WhichClass {
        /// Their names.
        there: String,
    },
    /// There is no such class.
    #[error("the lesson book holds no class \"{asked}\": it has {there}")]
    NoClass {
        /// The name asked for.
        asked: String,
        /// Names there are.
        there: String,
    },
    /// There is nobody of that name.
    #[error("nobody in {class} is called \"{asked}\": it has {there}")]
    NoStudent {
        /// The class.
        class: String,
        /// The name asked for.
        asked: String,
        /// Names there are.
        there: String,
    },
    /// There is no such lesson.
    #[error("{class} has no lesson \"{asked}\": it has {there}")]
    NoLesson {
        /// The class.
        class: String,
        /// What was asked for.
        asked: String,
        /// The latest lessons.
        there: String,
    },
    /// There are several such lessons.
    #[error("{class} has several lessons \"{asked}\": say which of {there}")]
    WhichLesson {
        /// The class.
        class: String,
        /// What was asked for.
        asked: String,
        /// Those lessons.
        there: String,
    },
}

/// Most names that an error lists.
const MOST_NAMED: usize = 12;

impl Ask {
    /// Finds what is asked for.
    ///
    /// # Errors
    /// [`AskError`]; where a name is not found, it lists those there are.
    pub fn find(&self, book: &Reader, offset: Offset<'_>) -> Result<Subject, AskError> {
        let class = self.class(book)?;
        let student = match &self.student {
            None => None,
            Some(asked) => Some(student(book, &class, asked)?),
        };
        let lesson = match &self.lesson {
            None => None,
            Some(asked) => Some(lesson(book, &class, asked, offset)?),
        };
        Ok(Subject {
            class,
            student,
            lesson,
        })
    }

    fn class(&self, book: &Reader) -> Result<String, AskError> {
        let mut names: Vec<String> = book.classes()?.into_iter().map(|c| c.name).collect();
        let there = named(&names);
        match &self.class {
            _ if names.is_empty() => Err(AskError::Empty),
            None if names.len() == 1 => Ok(names.remove(0)),
            // A student's name says which, where it is in one class alone.
            None => match self.classes_of_the_student(book, &names)?.as_slice() {
                [only] => Ok(only.clone()),
                _ => Err(AskError::WhichClass { there }),
            },
            Some(asked) => names
                .into_iter()
                .find(|name| is_same_name(name, asked))
                .ok_or_else(|| AskError::NoClass {
                    asked: shown(asked),
                    there,
                }),
        }
    }

    fn classes_of_the_student(
        &self,
        book: &Reader,
        classes: &[String],
    ) -> Result<Vec<String>, AskError> {
        let mut having = Vec::new();
        for class in classes {
            let asked = self.student.as_deref();
            match asked.map(|name| book.person(class, name)) {
                None | Some(Err(BookError::NoPerson)) => {}
                Some(Err(other)) => return Err(other.into()),
                Some(Ok(_)) => having.push(class.clone()),
            }
        }
        Ok(having)
    }
}

fn student(book: &Reader, class: &str, asked: &str) -> Result<(PersonId, String), AskError> {
    match book.person(class, asked) {
        Ok(person) => Ok((person.id, person.name)),
        Err(BookError::NoPerson) => {
            let people: Vec<String> = book.people(class)?.into_iter().map(|p| p.name).collect();
            Err(AskError::NoStudent {
                class: class.to_owned(),
                asked: shown(asked),
                there: named(&people),
            })
        }
        Err(other) => Err(other.into()),
    }
}

fn lesson(
    book: &Reader,
    class: &str,
    asked: &str,
    offset: Offset<'_>,
) -> Result<LessonId, AskError> {
    let lessons = book.lessons(class)?;
    if asked == "last" && !lessons.is_empty() {
        // The class's own; only who has none but practice alone means that.
        let last = lessons.iter().rev().find(|lesson| !lesson.alone);
        let last = last.or(lessons.last());
        return last.map_or(Err(AskError::Empty), |l| Ok(l.id));
    }
    let when = |l: &LessonSummary| {
        let date = Date::at(l.started_ms, offset);
        format!("{} {}", date.iso(), date.time())
    };
    let fits = |l: &&LessonSummary| {
        let enough = asked.len() >= "2026-10-13".len();
        enough && (when(l).starts_with(asked) || l.id.to_string().starts_with(asked))
    };
    let found: Vec<&LessonSummary> = lessons.iter().filter(fits).collect();
    let class = class.to_owned();
    let asked = shown(asked);
    match found.as_slice() {
        [one] => Ok(one.id),
        [] => {
            let latest: Vec<String> = lessons.iter().rev().map(when).collect();
            Err(AskError::NoLesson {
                class,
                asked,
                there: named(&latest),
            })
        }
        [first, rest @ ..] => {
            let alike = rest.iter().any(|l| when(l) == when(first));
            let name = |l: &&LessonSummary| if alike { l.id.to_string() } else { when(l) };
            let several: Vec<String> = found.iter().map(name).collect();
            Err(AskError::WhichLesson {
                class,
                asked,
                there: named(&several),
            })
        }
    }
}

fn named(names: &[String]) -> String {
    match names.len() {
        0 => "none".to_owned(),
        n if n > MOST_NAMED => {
            let first = names[..MOST_NAMED].join(", ");
            format!("{first} and {} more", n - MOST_NAMED)
        }
        _ => names.join(", "),
    }
}

/// What was typed, as it may be printed.
fn shown(typed: &str) -> String {
    typed
        .chars()
        .take(64)
        .map(|c| {
            if fifthpeg_core::text::may_be_shown(c.encode_utf8(&mut [0; 4])) {
                c
            } else {
                '?'
            }
        })
        .collect()
}
