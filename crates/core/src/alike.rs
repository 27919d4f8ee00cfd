//! When two names are one, look the same, or may be meant for the same person:
//! one idea for the roster and the lesson book.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;
use unicode_security::skeleton;

use crate::text::is_joiner;

/// One spelling for what may be spelt with one sign or several: Unicode's
/// normal form C.
pub fn composed(text: &str) -> String {
    text.nfc().collect()
}

/// What all spellings of one name have in common: capitals, joining signs, and
/// more or less white space make no difference.
pub fn folded(name: &str) -> String {
    let spaced = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let signs = composed(&spaced);
    let signs = signs.chars().filter(|c| !is_joiner(*c));
    signs.flat_map(char::to_lowercase).collect()
}

/// Whether two spellings are of one name.
pub fn is_same_name(one: &str, other: &str) -> bool {
    folded(one) == folded(other)
}

/// What a name looks like: two names with a look in common are taken for one
/// another. The skeletons of Unicode Technical Standard 39, section 4, of the
/// name as it is and in small letters, since people read "MIA" and "Mia" as one
/// name. Spaces and joiners make no difference.
pub fn look(name: &str) -> [String; 2] {
    let bare = || name.nfkc().filter(|c| !is_joiner(*c) && !c.is_whitespace());
    let small: String = bare().flat_map(char::to_lowercase).collect();
    let as_is: String = bare().collect();
    [
        skeleton(&small).collect(),
        // Once more in small letters: a skeleton may hold capitals.
        skeleton(&as_is).flat_map(char::to_lowercase).collect(),
    ]
}

/// Whether people would take one name for the other.
pub fn are_alike(one: &str, other: &str) -> bool {
    let other = look(other);
    look(one).iter().any(|l| other.contains(l))
}

/// A name as somebody sees it who asks which entries may be one person.
#[derive(Debug, Clone)]
pub struct Seen {
    looks: [String; 2],
    letters: Vec<char>,
}

impl Seen {
    /// The number that a roster puts behind the second of a name makes no
    /// difference, and neither do accents.
    pub fn of(name: &str) -> Self {
        let is_number = |end: &str| end.chars().all(|c| c.is_ascii_digit());
        let bare = match name.trim().rsplit_once(' ') {
            Some((first, end)) if is_number(end) => first,
            _ => name,
        };
        let plain: String = bare.nfd().filter(|c| !is_combining_mark(*c)).collect();
        Self {
            looks: look(&plain),
            letters: folded(&plain).chars().collect(),
        }
    }

    /// Whether both may be one person: they look the same, or differ by one slip
    /// in a name of more than three letters.
    pub fn may_be_one(&self, other: &Self) -> bool {
        let is_long = self.letters.len().max(other.letters.len()) > 3;
        self.looks.iter().any(|l| other.looks.contains(l))
            || (is_long && is_one_slip(&self.letters, &other.letters))
    }
}

/// Whether one letter more, less or another, or two in the other order, make one
/// the other.
fn is_one_slip(one: &[char], other: &[char]) -> bool {
    let same = |pair: &(&char, &char)| pair.0 == pair.1;
    let ahead = one.iter().zip(other).take_while(same).count();
    let (one, other) = (&one[ahead..], &other[ahead..]);
    let behind = one.iter().rev().zip(other.iter().rev());
    let behind = behind.take_while(same).count();
    match (&one[..one.len() - behind], &other[..other.len() - behind]) {
        ([a, b], [c, d]) => a == d && b == c,
        (one, other) => one.len() <= 1 && other.len() <= 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_cannot_be_told_apart_have_a_look_in_common() {
        for (a, b) in [
            ("Mia", "MIA"),
            ("Mia", "М\u{456}а"),
            ("Mia", "Ｍｉａ"),
            ("Mia", "𝐌𝐢𝐚"),
            ("Mia", "M\u{200d}ia"),
            ("Ivo", "lvo"),
            ("Ivo", "1vo"),
            ("Ben", "Веn"),
            ("Zoe\u{308}", "Zoë"),
            ("Otto", "0tto"),
            ("Carmen", "Carrnen"),
            ("Mia Sol", "MiaSol"),
        ] {
            assert!(are_alike(a, b), "{a} {b}");
        }
        for (a, b) in [
            ("Mia", "Mira"),
            ("Ruth", "Ben"),
            ("Zoe", "Zoë"),
            ("Mia", "Mia 2"),
        ] {
            assert!(!are_alike(a, b), "{a} {b}");
        }
    }

    #[test]
    fn entries_that_may_be_one_person_are_seen_and_no_others() {
        let may_be_one = |a: &str, b: &str| Seen::of(a).may_be_one(&Seen::of(b));
        for (a, b) in [
            ("Mia", "mia 2"),
            ("Tomas", "Thomas"),
            ("Tomas", "Tomsa"),
            ("Mia", "Mía"),
            ("Zoe", "Zoë"),
            // A small l for a capital I, and Cyrillic letters, small and capital.
            ("Ivo", "lvo"),
            ("Ida", "lda 2"),
            ("Mia", "Mi\u{430}"),
            ("Ben", "\u{412}\u{435}n"),
            ("MIA", "\u{41c}I\u{410}"),
        ] {
            assert!(may_be_one(a, b) && may_be_one(b, a), "{a} {b}");
        }
        for (a, b) in [
            // Names that merely begin alike.
            ("Mia", "Mia Sol"),
            ("Mia", "Miamar"),
            ("Mia Sol", "Mia Rand"),
            ("Mia", "Pia"),
            ("Ruth", "Ben"),
            ("Ivo", "Ida"),
            ("Tomas", "Thomsa"),
        ] {
            assert!(!may_be_one(a, b) && !may_be_one(b, a), "{a} {b}");
        }
    }

    /// Whoever the roster tells apart by a number is offered as one by the book.
    #[test]
    fn roster_and_book_agree() {
        let names = [
            "Ivo",
            "lvo",
            "IVO",
            "Ben",
            "\u{412}\u{435}n",
            "Zoë",
            "Zoe",
            "Mia Sol",
            "MiaSol",
        ];
        for one in names {
            for other in names {
                let seen = Seen::of(one).may_be_one(&Seen::of(other));
                assert!(seen || !are_alike(one, other), "{one} {other}");
                assert!(
                    are_alike(one, other) || !is_same_name(one, other),
                    "{one} {other}"
                );
            }
        }
    }
}
