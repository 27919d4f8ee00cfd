//! Names of students: tidied, and made different where two are the same or
//! look the same.

use std::collections::HashMap;

pub use fifthpeg_core::text::are_alike;
use fifthpeg_core::text::{composed, is_joiner, letters, look, may_be_named};

use crate::message::Refusal;
use crate::setup::MAX_NAME_CHARS;

/// The name without white space at its ends and with single spaces inside,
/// each letter in its composed spelling.
///
/// # Errors
///
/// [`Refusal::BadName`] if nothing is left, if it is longer than
/// [`MAX_NAME_CHARS`], or if it holds signs that would move a screen's cursor,
/// turn its writing direction, hide, stand for nothing, or heap up marks.
pub fn tidy(name: &str) -> Result<String, Refusal> {
    let bad = Refusal::BadName(MAX_NAME_CHARS);
    // Bounds the work on a hostile name before anything is copied.
    if name.len() > 16 * MAX_NAME_CHARS as usize || !may_be_named(name) {
        return Err(bad);
    }
    let tidied = composed(&name.split_whitespace().collect::<Vec<_>>().join(" "));
    match tidied.chars().count() {
        1.. if tidied.chars().count() <= MAX_NAME_CHARS as usize && has_ink(&tidied) => Ok(tidied),
        _ => Err(bad),
    }
}

/// How the names on a roster look, kept so that a newcomer's name is not held
/// against every other.
#[derive(Debug, Clone, Default)]
pub(crate) struct Looks(HashMap<String, u32>);

impl Looks {
    /// Takes in a name.
    pub fn add(&mut self, name: &str) {
        for look in look(name) {
            *self.0.entry(look).or_default() += 1;
        }
    }

    /// Lets go of a name that was taken in.
    pub fn remove(&mut self, name: &str) {
        for look in look(name) {
            if let Some(count) = self.0.get_mut(&look) {
                *count -= 1;
                if *count == 0 {
                    self.0.remove(&look);
                }
            }
        }
    }

    /// The name itself if nobody has one that looks like it, else with the
    /// lowest free number from 2 behind it: "Mia 2". Capitals make no
    /// difference, and neither do letters of another script that look the same.
    pub fn unlike(&self, name: &str) -> String {
        let is_free = |name: &str| !look(name).iter().any(|l| self.0.contains_key(l));
        if is_free(name) {
            return name.to_owned();
        }
        let mut number = 2_u32;
        loop {
            let suffix = format!(" {number}");
            let room = MAX_NAME_CHARS as usize - suffix.len();
            let candidate = format!("{}{suffix}", cut(name, room).trim_end());
            if is_free(&candidate) {
                return candidate;
            }
            number += 1;
        }
    }
}

/// As many whole letters as fit into so many code points.
fn cut(name: &str, most: usize) -> String {
    let mut room = most;
    let fits = letters(name).take_while(|letter| {
        let long = letter.chars().count();
        let fits = long <= room;
        room = room.saturating_sub(long);
        fits
    });
    fits.collect()
}

fn has_ink(name: &str) -> bool {
    name.chars().any(|c| !c.is_whitespace() && !is_joiner(c))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unlike(name: &str, taken: &[&str]) -> String {
        let mut looks = Looks::default();
        taken.iter().for_each(|name| looks.add(name));
        looks.unlike(name)
    }

    #[test]
    fn a_name_let_go_of_is_free_again() {
        let mut looks = Looks::default();
        // Two that look alike hold it between them.
        looks.add("Ivo");
        looks.add("lvo");
        looks.remove("Ivo");
        assert_eq!(looks.unlike("IVO"), "IVO 2");
        looks.remove("lvo");
        assert_eq!(looks.unlike("IVO"), "IVO");
    }

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
            "Mi\u{301}\u{301}\u{301}\u{301}\u{301}a",
            "Mia\u{3164}",
            "X\u{ffff}",
            "X\u{378}",
            "M\u{200d}ia",
            "X\u{fe0f}",
            "Mia\u{2028}Sol",
            "\u{9b}31mMia",
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
    fn a_name_that_looks_like_another_gets_a_number_as_well() {
        // Cyrillic and fullwidth letters, and one letter spelt with two signs.
        assert_eq!(unlike("М\u{456}а", &["Mia"]), "М\u{456}а 2");
        assert_eq!(unlike("Ｍｉａ", &["Mia", "Mia 2"]), "Ｍｉａ 3");
        assert_eq!(tidy("Zoe\u{308}").as_deref(), Ok("Zoë"));
        assert!(are_alike("Ivo", "lvo") && !are_alike("Ivo", "Ida"));
    }

    #[test]
    fn a_numbered_name_is_cut_between_letters() {
        let singer = "👩\u{200d}🎤";
        let name = singer.repeat(10);
        let second = unlike(&name, &[&name]);
        assert_eq!(second, format!("{} 2", singer.repeat(10)));
        let longest = format!("{}ab", singer.repeat(10));
        assert_eq!(
            unlike(&longest, &[&longest]),
            format!("{} 2", singer.repeat(10))
        );
        let full = format!("ab{}", singer.repeat(10));
        assert_eq!(unlike(&full, &[&full]), format!("ab{} 2", singer.repeat(9)));
    }

    #[test]
    fn a_numbered_name_is_no_longer_than_others() {
        let longest = "x".repeat(MAX_NAME_CHARS as usize);
        let second = unlike(&longest, &[&longest]);
        assert_eq!(second.chars().count(), MAX_NAME_CHARS as usize);
        assert!(second.ends_with(" 2"));
    }
}
