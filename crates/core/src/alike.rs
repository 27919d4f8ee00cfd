//! When two names look the same.

use unicode_normalization::UnicodeNormalization;
use unicode_security::skeleton;

use crate::text::is_joiner;

/// One spelling for what may be spelt with one sign or several: Unicode's
/// normal form C.
pub fn composed(text: &str) -> String {
    text.nfc().collect()
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
}
