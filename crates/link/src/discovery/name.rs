//! Lesson names as instance names, and back.

use std::collections::HashSet;

use fifthpeg_core::text::look;
use fifthpeg_core::text::tamed;

/// The longest instance name, in bytes (RFC 6763 section 4.1.1).
const MAX_INSTANCE_BYTES: usize = 63;

/// The longest name in a TXT record: a string there holds 255 bytes with its
/// key (RFC 6763 section 6.1).
pub(super) const MAX_TXT_NAME_BYTES: usize = 200;

/// An instance name like no other's, in front of it as much of the lesson's
/// name as there is room for. Dots and backslashes, which would have to be
/// escaped (RFC 6763 section 4.3) and are not everywhere escaped alike, become
/// hyphens; the name itself is in the TXT record.
pub(super) fn instance_name(lesson: &str, random: u64) -> String {
    let tail = format!("{random:016x}");
    let plain = lesson.replace(['.', '\\'], "-");
    let front = printable(&plain, MAX_INSTANCE_BYTES - tail.len() - 1);
    format!("{front} {tail}")
}

/// The name without signs that steer a screen, cut between letters if it is too long.
pub(super) fn printable(lesson: &str, most_bytes: usize) -> String {
    let mut name = String::new();
    for letter in tamed(lesson.trim()).chars() {
        if name.len() + letter.len_utf8() > most_bytes {
            break;
        }
        name.push(letter);
    }
    let name = name.trim();
    if name.is_empty() {
        "lesson".to_owned()
    } else {
        name.to_owned()
    }
}

/// What people see of the `number`th lesson of a name.
pub(super) fn numbered(lesson: &str, number: u32) -> String {
    match number {
        0 | 1 => lesson.to_owned(),
        n => format!("{lesson} ({n})"),
    }
}

/// What names look like, to find those that look the same. Capitals make no
/// difference, and neither do letters of another script that look alike.
#[derive(Debug, Default)]
pub(super) struct NameLooks(HashSet<String>);

impl NameLooks {
    pub(super) fn add(&mut self, name: &str) {
        self.0.extend(look(name));
    }

    pub(super) fn has(&self, name: &str) -> bool {
        look(name).iter().any(|l| self.0.contains(l))
    }
}

impl<N: AsRef<str>> FromIterator<N> for NameLooks {
    fn from_iter<I: IntoIterator<Item = N>>(names: I) -> Self {
        let mut looks = Self::default();
        names.into_iter().for_each(|name| looks.add(name.as_ref()));
        looks
    }
}

/// The lowest number that makes the name look different from all of these.
pub(super) fn free_number(lesson: &str, taken: &NameLooks) -> u32 {
    (1..=MAX_NUMBER)
        .find(|n| !taken.has(&numbered(lesson, *n)))
        .unwrap_or(MAX_NUMBER)
}

/// More lessons of one name than are ever listed.
const MAX_NUMBER: u32 = 1000;

/// This machine's name for people, as far as it says one.
pub(crate) fn machine_name() -> String {
    let said = std::fs::read_to_string("/proc/sys/kernel/hostname")
        .ok()
        .or_else(|| std::env::var("HOSTNAME").ok())
        .or_else(|| std::env::var("COMPUTERNAME").ok())
        .unwrap_or_default();
    let name: String = said
        .trim()
        .split('.')
        .next()
        .unwrap_or_default()
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .take(32)
        .collect();
    if name.is_empty() {
        "host".to_owned()
    } else {
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_names_are_cut_between_letters() {
        let name = instance_name(&"é".repeat(60), u64::MAX);
        assert!(name.len() <= MAX_INSTANCE_BYTES, "{name}");
        assert!(name.starts_with('é') && name.ends_with(" ffffffffffffffff"));
        assert!(instance_name("St. Anne\\s", 1).starts_with("St- Anne-s 0"));
        assert_eq!(printable("  Tuesday\u{7} class ", 99), "Tuesday class");
        assert_eq!(printable("\u{202e}Hall\u{2029}", 99), "Hall");
        assert_eq!(printable("\n", 99), "lesson");
    }

    #[test]
    fn the_lowest_free_number_is_taken() {
        let taken = |names: &[&str]| names.iter().collect::<NameLooks>();
        assert_eq!(free_number("Hall", &taken(&[])), 1);
        assert_eq!(free_number("Hall", &taken(&["Barn"])), 1);
        assert_eq!(free_number("Hall", &taken(&["HALL", "hall (3)"])), 2);
        // Greek and Cyrillic letters that look Latin.
        assert_eq!(free_number("Hall", &taken(&["Η\u{430}ll"])), 2);
        assert_eq!(
            numbered("Hall", free_number("Hall", &taken(&["Hall"]))),
            "Hall (2)"
        );
    }
}
