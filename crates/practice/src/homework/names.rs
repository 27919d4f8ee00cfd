//! A folder's name for each student: safe on every file system, no two alike.

use std::collections::BTreeSet;

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The longest name, in bytes of UTF-8, so that files named after it fit too:
/// file systems take 255 bytes or letters for a name.
const LONGEST: usize = 100;

/// What devices are called, from Microsoft's "Naming Files, Paths, and
/// Namespaces", and the files that lie in every folder besides those named
/// after the student.
const TAKEN: [&str; 7] = ["con", "prn", "aux", "nul", "index", "start", "report"];
/// The same with a digit after them.
const TAKEN_WITH_DIGIT: [&str; 2] = ["com", "lpt"];

/// A name for each of these students, in their order. The same students in the
/// same order get the same names.
pub fn folder_names<'a>(students: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut used: BTreeSet<String> = BTreeSet::new();
    students
        .into_iter()
        .map(|student| {
            let plain = safe(student);
            let mut name = plain.clone();
            let mut number = 2_u32;
            while !used.insert(folded(&name)) {
                name = format!("{plain}-{number}");
                number += 1;
            }
            name
        })
        .collect()
}

/// Letters, digits and marks of any script, with `-` for everything between.
/// In compatibility form (Unicode Standard Annex #15, NFKC), so that no two
/// names look alike on one file system and are one on another.
fn safe(student: &str) -> String {
    let mut name = String::new();
    for sign in student.nfkc() {
        let fine = sign.is_alphanumeric() || sign == '_' || is_combining_mark(sign);
        if fine && name.len() + sign.len_utf8() <= LONGEST {
            name.push(sign);
        } else if !fine && !name.is_empty() && !name.ends_with('-') {
            name.push('-');
        }
    }
    let name = name.trim_end_matches('-');
    if name.is_empty() {
        return "student".to_owned();
    }
    if is_taken(name) || name.starts_with(is_combining_mark) {
        return format!("student-{name}");
    }
    name.to_owned()
}

fn is_taken(name: &str) -> bool {
    let name = folded(name);
    let with_digit = |taken: &&str| {
        let rest = name.strip_prefix(*taken);
        rest.is_some_and(|rest| rest.len() == 1 && rest.bytes().all(|b| b.is_ascii_digit()))
    };
    TAKEN.contains(&name.as_str()) || TAKEN_WITH_DIGIT.iter().any(with_digit)
}

/// What names have in common that are one to some file system: capitals make no
/// difference, nor does how a letter is put together.
fn folded(name: &str) -> String {
    // Upper first: it takes apart what lower keeps, such as the sharp s.
    let upper: String = name.chars().flat_map(char::to_uppercase).collect();
    upper.to_lowercase().nfkc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn names(students: &[&str]) -> Vec<String> {
        folder_names(students.iter().copied())
    }

    #[test]
    fn names_stay_where_they_can() {
        assert_eq!(
            names(&["Mia", "Ruth B", "Zoë", "Łukasz", "愛子", "रुथ"]),
            ["Mia", "Ruth-B", "Zoë", "Łukasz", "愛子", "रुथ"]
        );
        // Written with a joined or a separate mark: one letter.
        assert_eq!(names(&["Zoe\u{308}"]), ["Zo\u{eb}"]);
    }

    #[test]
    fn what_a_file_system_would_not_take_is_put_in_other_words() {
        for (student, name) in [
            ("..", "student"),
            ("...Mia...", "Mia"),
            ("../../etc", "etc"),
            ("Ben/Ada", "Ben-Ada"),
            ("a\\b:c*d?e\"f<g>h|i", "a-b-c-d-e-f-g-h-i"),
            ("Mia. ", "Mia"),
            ("-rf", "rf"),
            ("🎵", "student"),
            ("con", "student-con"),
            ("NUL", "student-NUL"),
            ("Com1", "student-Com1"),
            ("LPT¹", "student-LPT1"),
            ("Aux.txt", "Aux-txt"),
            ("Report", "student-Report"),
            ("index", "student-index"),
            ("Connie", "Connie"),
        ] {
            assert_eq!(names(&[student]), [name], "{student}");
        }
    }

    #[test]
    fn no_two_are_one_on_any_file_system() {
        assert_eq!(
            names(&["Mia", "MIA", "mia", "Mia."]),
            ["Mia", "MIA-2", "mia-3", "Mia-4"]
        );
        assert_eq!(names(&["Ben-2", "Ben", "Ben!"]), ["Ben-2", "Ben", "Ben-3"]);
        assert_eq!(names(&["Strauß", "STRAUSS"]), ["Strauß", "STRAUSS-2"]);
        assert_eq!(names(&["ﬁona", "Fiona"]), ["fiona", "Fiona-2"]);
        assert_eq!(
            names(&[".", "🎵", "student"]),
            ["student", "student-2", "student-3"]
        );
    }

    proptest! {
        #[test]
        fn any_names_make_safe_names(students in prop::collection::vec("\\PC{0,40}", 1..8)) {
            let names = folder_names(students.iter().map(String::as_str));
            let mut seen = BTreeSet::new();
            for name in &names {
                prop_assert!(!name.is_empty() && name.len() <= LONGEST + 12, "{name}");
                prop_assert!(!name.contains(['/', '\\', '.', ':', '*', '?', '"', '<', '>', '|', ' ']));
                prop_assert!(!name.chars().any(char::is_control));
                prop_assert!(!is_taken(name) && !name.starts_with('-'));
                prop_assert!(seen.insert(name.to_lowercase()));
            }
        }
    }
}
