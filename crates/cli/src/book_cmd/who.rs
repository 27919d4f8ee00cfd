//! Which person is meant by what was typed.

use fifthpeg_book::Reader;
use fifthpeg_book::reader::Person;
use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;

use super::args::Where;

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
            let one = names.iter().find(|name| same(name, asked));
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
    Failure::Usage(format!(
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
        return Err(Failure::Usage(format!(
            "\"{}\" is too short: give at least {LEAST_DIGITS} digits of the number that \
             book people shows",
            text::shown(typed)
        )));
    }
    let fits = |person: &&Person| match number {
        Some(digits) => person.id.to_string().starts_with(&digits.to_lowercase()),
        None => same(&person.name, typed),
    };
    let mut found: Vec<&Person> = people.iter().filter(fits).collect();
    match found.len() {
        1 => Ok(found.remove(0).clone()),
        0 => Err(nobody(&people, typed, at.class.as_deref())),
        _ if number.is_some() => Err(Failure::Usage(format!(
            "\"{}\" is the beginning of several numbers: give more digits",
            text::shown(typed)
        ))),
        _ => Err(Failure::Usage(format!(
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
        return Failure::Usage(format!("{place} knows nobody yet: hold a lesson first"));
    }
    Failure::Usage(format!(
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

/// Names are one whatever their case.
pub fn same(one: &str, other: &str) -> bool {
    tidied(one) == tidied(other)
}

fn tidied(name: &str) -> String {
    let words: Vec<&str> = name.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

fn apart(one: &str, other: &str) -> usize {
    strsim::osa_distance(&tidied(one), &tidied(other))
}

/// Pairs of entries of one class that may be one person: one letter apart, or
/// one with a word or number more behind it.
pub fn alike(people: &[Person]) -> Vec<(&Person, &Person)> {
    let mut pairs = Vec::new();
    for (at, one) in people.iter().enumerate() {
        for other in &people[at + 1..] {
            if one.class == other.class && look_alike(&one.name, &other.name) {
                pairs.push((one, other));
            }
        }
    }
    pairs
}

fn look_alike(one: &str, other: &str) -> bool {
    let (one, other) = (tidied(one), tidied(other));
    let longer = |long: &str, short: &str| {
        long.strip_prefix(short)
            .is_some_and(|rest| rest.starts_with(' '))
    };
    let long_enough = one.chars().count().max(other.chars().count()) > 3;
    longer(&one, &other)
        || longer(&other, &one)
        || (long_enough && strsim::osa_distance(&one, &other) == 1)
        || (one.chars().count() == other.chars().count()
            && !long_enough
            && script_differs(&one, &other))
}

/// One letter apart where one of the two letters is not ASCII: `Mia`, `Mía`.
fn script_differs(one: &str, other: &str) -> bool {
    let mut differ = one.chars().zip(other.chars()).filter(|(a, b)| a != b);
    let first = differ.next();
    differ.next().is_none() && first.is_some_and(|(a, b)| a.is_ascii() != b.is_ascii())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_may_be_one_person_are_seen() {
        for (one, other) in [
            ("Mia", "Mia Sol"),
            ("mia 2", "Mia"),
            ("Tomas", "Thomas"),
            ("Mia", "Mía"),
            // The second is in Cyrillic letters.
            ("Mia", "Miа"),
        ] {
            assert!(look_alike(one, other), "{one} {other}");
        }
        for (one, other) in [
            ("Mia", "Pia"),
            ("Mia", "Miamar"),
            ("Ruth", "Ben"),
            ("Ivo", "Ida"),
        ] {
            assert!(!look_alike(one, other), "{one} {other}");
        }
    }
}
