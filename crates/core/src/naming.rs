//! Which texts may be names: of people, of lessons, of classes.
//!
//! What may be shown may still hide something. A name must not hold what people
//! cannot see, since two that look the same must be the same: no code points
//! that stand for nothing, and joining and variation signs only where a script
//! or an emoji is spelt with them.

use unicode_joining_type::{JoiningType, get_joining_type};
use unicode_normalization::char::canonical_combining_class;
use unicode_properties::{
    GeneralCategory, GeneralCategoryGroup, UnicodeEmoji, UnicodeGeneralCategory,
};

use crate::text::may_be_shown;

const ZWNJ: char = '\u{200c}';
const ZWJ: char = '\u{200d}';
/// `Canonical_Combining_Class=Virama`.
const VIRAMA: u8 = 9;

/// Whether a text may be a name: it may be shown, each of its code points is
/// one that Unicode has given a meaning, and joiners and variation selectors
/// stand only where they change what is seen.
///
/// The joiners' places are those of Unicode Standard Annex 31, section 2.3.1
/// (rules A1, A2 and B), and between emoji those of Unicode Technical Standard 51.
pub fn may_be_named(text: &str) -> bool {
    let signs: Vec<char> = text.chars().collect();
    let fits = |(at, sign): (usize, &char)| {
        let (before, after) = (&signs[..at], &signs[at + 1..]);
        match *sign {
            ZWNJ => joins_letters(before, after) || follows_virama(before, after),
            ZWJ => joins_emoji(before, after) || follows_virama(before, after),
            selector if is_selector(selector) => before.last().is_some_and(|c| is_emoji(*c)),
            other => other.general_category() != GeneralCategory::Unassigned,
        }
    };
    may_be_shown(text) && signs.iter().enumerate().all(fits)
}

fn is_selector(c: char) -> bool {
    matches!(c, '\u{fe00}'..='\u{fe0f}')
}

/// Emoji that stand for themselves: digits and letters are ones too, with a frame
/// around them.
fn is_emoji(c: char) -> bool {
    let group = c.general_category_group();
    c.is_emoji_char() && !matches!(group, GeneralCategoryGroup::Letter) && !c.is_ascii()
}

fn joins_emoji(before: &[char], after: &[char]) -> bool {
    let shown = before.iter().rev().find(|c| !is_selector(**c));
    shown.is_some_and(|c| is_emoji(*c)) && after.first().is_some_and(|c| is_emoji(*c))
}

/// Rule A1: between two letters of a cursive script that would join without it.
fn joins_letters(before: &[char], after: &[char]) -> bool {
    use JoiningType as J;
    let kind = |c: &char| get_joining_type(*c);
    let shows = |kind: &JoiningType| *kind != J::Transparent;
    let left = before.iter().rev().map(kind).find(shows);
    let right = after.iter().map(kind).find(shows);
    matches!(left, Some(J::DualJoining | J::LeftJoining))
        && matches!(right, Some(J::DualJoining | J::RightJoining))
}

/// Rules A2 and B: behind a virama on a letter, with a letter after it. Rule B
/// asks only that no dependent vowel follows.
fn follows_virama(before: &[char], after: &[char]) -> bool {
    let is_letter = |c: &char| c.general_category_group() == GeneralCategoryGroup::Letter;
    let is_mark = |c: &char| c.general_category() == GeneralCategory::NonspacingMark;
    let is_virama = |c: &char| canonical_combining_class(*c) == VIRAMA;
    let mut marks = before
        .iter()
        .rev()
        .take_while(|c| is_mark(c) || is_virama(c));
    let on = before.iter().rev().find(|c| !is_mark(c) && !is_virama(c));
    marks.any(is_virama) && on.is_some_and(is_letter) && after.first().is_some_and(is_letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_many_scripts_are_names() {
        for name in [
            "Mia",
            "Zoe\u{308}",
            "Žofie",
            "Nguye\u{302}\u{303}n",
            "Jean-Luc O'Hara",
            "岡本",
            // Persian: without the sign the letters around it would join.
            "نی\u{200c}لبک",
            "می\u{64e}\u{200c}خوانم",
            // Devanagari and Sinhala, behind a virama (UAX 31, figure 3: the
            // word for "Sri" in Sinhala is spelt with U+200D).
            "ශ්\u{200d}රී",
            "क्\u{200d}ष",
            "राजन्\u{200c}य",
            "👩\u{200d}🎤",
            "❤\u{fe0f}",
            "👩🏻\u{200d}❤\u{fe0f}\u{200d}💋\u{200d}👨🏻",
            "🇳🇱",
        ] {
            assert!(may_be_named(name), "{name:?}");
        }
    }

    #[test]
    fn what_nobody_sees_is_in_no_name() {
        for name in [
            // Noncharacters (The Unicode Standard, section 23.7) and code points
            // without a meaning yet (`UnicodeData.txt`, from memory).
            "X\u{ffff}",
            "X\u{fdd0}",
            "X\u{10fffe}",
            "X\u{378}",
            "X\u{e000}",
            // Joiners where nothing joins.
            "M\u{200d}ia",
            "Mi\u{200c}a",
            "Mia\u{200d}",
            "\u{200d}Mia",
            "М\u{200c}ия",
            "岡\u{200d}本",
            "1\u{200d}2",
            "🎤\u{200c}🎤",
            "🎤\u{200d}",
            "👩\u{200d}a",
            "a\u{301}\u{200d}b",
            "نی\u{200d}لبک",
            // An Arabic letter that does not join to the next anyway.
            "د\u{200c}ل",
            "نی\u{200c}",
            "क्\u{200d}",
            "क\u{200d}ष",
            // Selectors of nothing.
            "X\u{fe0f}",
            "Mia 1\u{fe0f}",
            "X\u{fe00}",
            "\u{fe0f}",
        ] {
            assert!(!may_be_named(name), "{name:?}");
        }
    }
}
