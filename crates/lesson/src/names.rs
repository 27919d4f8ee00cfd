//! Names of students: tidied, and made different where two are the same.

use fifthpeg_core::text::may_be_shown;

use crate::message::Refusal;
use crate::setup::MAX_NAME_CHARS;

/// The name without white space at its ends and with single spaces inside.
///
/// # Errors
///
/// [`Refusal::BadName`] if nothing is left, if it is longer than
/// [`MAX_NAME_CHARS`], or if it holds signs that would move a screen's cursor,
/// turn its writing direction or hide.
pub fn tidy(name: &str) -> Result<String, Refusal> {
    let bad = Refusal::BadName(MAX_NAME_CHARS);
    // Bounds the work on a hostile name before anything is copied.
    if name.len() > 16 * MAX_NAME_CHARS as usize || !may_be_shown(name) {
        return Err(bad);
    }
    let tidied = name.split_whitespace().collect::<Vec<_>>().join(" ");
    match tidied.chars().count() {
        1.. if tidied.chars().count() <= MAX_NAME_CHARS as usize && has_ink(&tidied) => Ok(tidied),
        _ => Err(bad),
    }
}

/// The name itself if nobody has it, else with the lowest free number from 2
/// behind it: "Mia 2". Capitals make no difference.
pub fn unlike(name: &str, taken: &[&str]) -> String {
    let taken: Vec<String> = taken.iter().map(|t| folded(t)).collect();
    if !taken.contains(&folded(name)) {
        return name.to_owned();
    }
    let mut number = 2_u32;
    loop {
        let suffix = format!(" {number}");
        let room = MAX_NAME_CHARS as usize - suffix.len();
        let short: String = name.chars().take(room).collect();
        let candidate = format!("{}{suffix}", short.trim_end());
        if !taken.contains(&folded(&candidate)) {
            return candidate;
        }
        number += 1;
    }
}

/// Joiners are part of some scripts' spelling, but a name needs more than them.
fn is_joiner(c: char) -> bool {
    matches!(c, '\u{200c}' | '\u{200d}')
}

fn has_ink(name: &str) -> bool {
    name.chars().any(|c| !c.is_whitespace() && !is_joiner(c))
}

fn folded(name: &str) -> String {
    name.chars()
        .filter(|c| !is_joiner(*c))
        .flat_map(char::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_trimmed_and_spaced_once() {
        assert_eq!(tidy("  Mia \u{3000} Sol ").as_deref(), Ok("Mia Sol"));
        assert_eq!(tidy("Žofie").as_deref(), Ok("Žofie"));
    }

    #[test]
    fn empty_long_and_unprintable_names_are_refused() {
        let longest = "x".repeat(MAX_NAME_CHARS as usize);
        assert_eq!(tidy(&longest), Ok(longest.clone()));
        for bad in [
            "",
            "   ",
            "\u{200d}",
            "Mi\u{1b}[2Ja",
            "Mia\n",
            "Mia\u{202e}",
            "M\u{200b}ia",
            &format!("{longest}x"),
            &"x".repeat(1_000_000),
        ] {
            assert_eq!(tidy(bad), Err(Refusal::BadName(MAX_NAME_CHARS)), "{bad:?}");
        }
    }

    #[test]
    fn the_second_of_a_name_gets_a_number() {
        assert_eq!(unlike("Mia", &["Ole"]), "Mia");
        assert_eq!(unlike("Mia", &["Mia"]), "Mia 2");
        assert_eq!(unlike("mia", &["Mia", "MIA 2"]), "mia 3");
        assert_eq!(unlike("Mia", &["Mia", "Mia 3"]), "Mia 2");
    }

    #[test]
    fn a_numbered_name_is_no_longer_than_others() {
        let longest = "x".repeat(MAX_NAME_CHARS as usize);
        let second = unlike(&longest, &[&longest]);
        assert_eq!(second.chars().count(), MAX_NAME_CHARS as usize);
        assert!(second.ends_with(" 2"));
    }
}
