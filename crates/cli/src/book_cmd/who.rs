//! Which person is meant by what was typed.

use fifthpeg_book::Reader;
use fifthpeg_book::reader::Person;
use fifthpeg_core::text::{self, Seen, folded, is_same_name};
use fifthpeg_front::failure::Failure;

use crate::args::book::Where;

/// In front of the beginning of a person's number.
const NUMBER: &str = "number:";
/// Least digits of a number that are typed.
const LEAST_DIGITS: usize = 6;
/// Most names that an error lists.
const MOST_NAMED: usize = 8;

/// Everyone of the classes asked for.
pub fn everyone(book: &Reader, class: Option<&str>) -> Result<Vec<Person>, Failure> {
    let classes = book.classes().map_err(Failure::runtime)?;
    let names: Vec<&str> = classes.iter().map(|c| c.name.as_str()).collect();
    let wanted: Vec<&str> = match class {
        None => names,
        Some(asked) => {
            let one = names.iter().find(|name| is_same_name(name, asked));
            let one = one.ok_or_else(|| no_class(asked, &names))?;
            vec![one]
        }
    };
    let mut people = Vec::new();
    for class in wanted {
        people.extend(book.people(class).map_err(Failure::runtime)?);
    }
    Ok(people)
}

fn no_class(asked: &str, there: &[&str]) -> Failure {
    Failure::usage(format!(
        "the lesson book holds no class \"{}\": it has {}",
        text::shown(asked),
        named(there.iter().copied())
    ))
}

/// The one person of that name, or whose number begins so.
pub fn find(book: &Reader, at: &Where, typed: &str) -> Result<Person, Failure> {
    let people = everyone(book, at.class.as_deref())?;
    let number = typed.strip_prefix(NUMBER);
    if number.is_some_and(|digits| digits.len() < LEAST_DIGITS) {
        return Err(Failure::usage(format!(
            "\"{}\" is too short: give at least {LEAST_DIGITS} digits of the number that \
             book people shows",
            text::shown(typed)
        )));
    }
    let fits = |person: &&Person| match number {
        Some(digits) => person.id.to_string().starts_with(&digits.to_lowercase()),
        None => is_same_name(&person.name, typed),
    };
    let mut found: Vec<&Person> = people.iter().filter(fits).collect();
    match found.len() {
        1 => Ok(found.remove(0).clone()),
        0 => Err(nobody(&people, typed, at.class.as_deref())),
        _ if number.is_some() => Err(Failure::usage(format!(
            "\"{}\" is the beginning of several numbers: give more digits",
            text::shown(typed)
        ))),
        _ => Err(Failure::usage(format!(
            "\"{}\" is in several classes ({}): say which with --class",
            text::shown(typed),
            named(found.iter().map(|p| p.class.as_str()))
        ))),
    }
}

fn nobody(people: &[Person], typed: &str, class: Option<&str>) -> Failure {
    let mut near: Vec<(usize, &str)> = people
        .iter()
        .map(|p| (apart(&p.name, typed), p.name.as_str()))
        .collect();
    near.sort();
    near.dedup();
    let place = class.map_or_else(|| "the lesson book".to_owned(), text::shown);
    if near.is_empty() {
        return Failure::usage(format!("{place} knows nobody yet: hold a lesson first"));
    }
    Failure::usage(format!(
        "nobody in {place} is called \"{}\": it has {}",
        text::shown(typed),
        named(near.into_iter().map(|(_, name)| name))
    ))
}

fn named<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let names: Vec<String> = names.map(text::one_line).collect();
    if names.is_empty() {
        return "none".to_owned();
    }
    if names.len() > MOST_NAMED {
        let first = names[..MOST_NAMED].join(", ");
        return format!("{first} and {} more", names.len() - MOST_NAMED);
    }
    names.join(", ")
}

fn apart(one: &str, other: &str) -> usize {
    strsim::osa_distance(&folded(one), &folded(other))
}

/// Pairs of entries of one class that may be one person.
pub fn alike(people: &[Person]) -> Vec<(&Person, &Person)> {
    let seen: Vec<Seen> = people.iter().map(|p| Seen::of(&p.name)).collect();
    let mut pairs = Vec::new();
    for (at, (one, one_seen)) in people.iter().zip(&seen).enumerate() {
        for (other, other_seen) in people.iter().zip(&seen).skip(at + 1) {
            if one.class == other.class && one_seen.may_be_one(other_seen) {
                pairs.push((one, other));
            }
        }
    }
    pairs
}
