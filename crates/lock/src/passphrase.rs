//! A lesson's passphrase: as it is shown, and in the form that is compared.

use core::fmt;

use unicode_normalization::UnicodeNormalization;
use zeroize::Zeroizing;

use crate::words;

/// Words in a passphrase that the host makes.
pub(crate) const WORDS_IN_ONE: usize = 4;

/// The longest passphrase, in bytes as typed.
pub const MAX_BYTES: usize = 200;

/// Letters and digits that a chosen passphrase has at least.
const LEAST_SIGNS: usize = 10;

/// How many of them differ at least.
const LEAST_DIFFERENT: usize = 5;

/// A passphrase. Capitals, spaces, hyphens, commas and the ways in which one
/// letter can be encoded make no difference.
#[derive(Clone)]
pub struct Passphrase {
    shown: Zeroizing<String>,
    compared: Zeroizing<String>,
}

/// Why a passphrase cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PassphraseError {
    /// Nothing is left of it.
    #[error("a passphrase has letters or digits in it: type the words that the host shows")]
    Empty,
    /// It is too long.
    #[error("a passphrase has at most {MAX_BYTES} bytes: give a shorter one")]
    Long,
    /// It holds what nobody can type or see.
    #[error("a passphrase has only letters, digits and signs that can be seen: type it by hand")]
    Unseen,
    /// It could be guessed.
    #[error(
        "\"{LEAST_SIGNS} letters or digits, {LEAST_DIFFERENT} of them different\" is the least for a passphrase of your own; without one the host makes four words that nobody can guess"
    )]
    Weak,
    /// It says what everybody can see.
    #[error(
        "a passphrase like the lesson's name is the first that anyone tries: choose another, or let the host make one"
    )]
    LikeTheName,
}

impl Passphrase {
    /// One that the host makes, from random bytes, which it takes again until each makes a word of its own: a
    /// word said twice is taken for a slip.
    ///
    /// # Errors
    /// Those of what fills the bytes.
    pub fn made<E>(mut fill: impl FnMut(&mut [u8]) -> Result<(), E>) -> Result<Self, E> {
        let mut chance = [0; WORDS_IN_ONE];
        fill(&mut chance)?;
        while has_twice(&chance) {
            fill(&mut chance)?;
        }
        let shown = words::spoken(chance);
        Ok(Self {
            compared: Zeroizing::new(normal(&shown)),
            shown: Zeroizing::new(shown),
        })
    }

    /// One that the host has chosen for the lesson of this name.
    ///
    /// # Errors
    /// If it can be guessed too easily; otherwise as [`Passphrase::typed`].
    pub fn chosen(text: &str, lesson: &str) -> Result<Self, PassphraseError> {
        let typed = Self::typed(text)?;
        let mut signs: Vec<char> = typed.compared.chars().collect();
        let name = normal(lesson);
        if !name.is_empty() && (typed.compared.contains(&name) || name.contains(&*typed.compared)) {
            return Err(PassphraseError::LikeTheName);
        }
        let many = signs.len();
        signs.sort_unstable();
        signs.dedup();
        if many < LEAST_SIGNS || signs.len() < LEAST_DIFFERENT {
            return Err(PassphraseError::Weak);
        }
        Ok(typed)
    }

    /// One as a student types it.
    ///
    /// # Errors
    /// If nothing is left of it, it is too long, or holds signs that steer.
    pub fn typed(text: &str) -> Result<Self, PassphraseError> {
        let text = text.trim();
        if text.len() > MAX_BYTES {
            return Err(PassphraseError::Long);
        }
        if !fifthpeg_core::text::may_be_shown(text) {
            return Err(PassphraseError::Unseen);
        }
        let compared = normal(text);
        if compared.is_empty() {
            return Err(PassphraseError::Empty);
        }
        Ok(Self {
            shown: Zeroizing::new(text.to_owned()),
            compared: Zeroizing::new(compared),
        })
    }

    /// As it is to be shown and said.
    pub fn shown(&self) -> &str {
        &self.shown
    }

    /// What is compared.
    pub(crate) fn bytes(&self) -> &[u8] {
        self.compared.as_bytes()
    }
}

/// Unicode's compatibility form (NFKC, UAX #15) in small letters, without what
/// nobody says aloud: spaces, hyphens and other dashes, commas, full stops.
fn has_twice(chance: &[u8]) -> bool {
    (1..chance.len()).any(|at| chance[..at].contains(&chance[at]))
}

fn normal(text: &str) -> String {
    let small: String = text.nfkc().flat_map(char::to_lowercase).collect();
    small.nfkc().filter(|c| !is_silent(*c)).collect()
}

fn is_silent(c: char) -> bool {
    c.is_whitespace()
        || matches!(c,
            '-' | '_' | ',' | '.' | ';'
            // Soft hyphen, zero-width signs, the dashes, minus.
            | '\u{ad}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}'
            | '\u{2010}'..='\u{2015}' | '\u{2212}')
}

impl PartialEq for Passphrase {
    fn eq(&self, other: &Self) -> bool {
        self.compared == other.compared
    }
}

impl Eq for Passphrase {}

impl fmt::Debug for Passphrase {
    /// Never itself: what is printed for debugging gets copied about.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Passphrase(..)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str) -> Passphrase {
        Passphrase::typed(text).unwrap()
    }

    fn made<const N: usize>(chances: [[u8; WORDS_IN_ONE]; N]) -> Passphrase {
        let mut chances = chances.into_iter();
        Passphrase::made(|bytes| {
            bytes.copy_from_slice(&chances.next().ok_or("no more chance")?);
            Ok::<_, &str>(())
        })
        .unwrap()
    }

    #[test]
    fn no_word_of_one_is_said_twice() {
        let said = made([[7, 7, 1, 2], [3, 1, 2, 3], [4, 0, 9, 0], [0, 255, 1, 2]]);
        assert_eq!(said.shown(), "acorn zipper alarm almond");
    }

    #[test]
    fn whatever_is_not_heard_makes_no_difference() {
        let said = made([[1, 2, 3, 4]]);
        assert_eq!(said.shown(), "alarm almond anchor ankle");
        for like in [
            "alarm almond anchor ankle",
            "  Alarm-Almond-Anchor-Ankle ",
            "ALARM, ALMOND, ANCHOR, ANKLE.",
            "alarmalmondanchorankle",
            "alarm\u{2013}almond\u{a0}anchor\u{2011}ankle",
            // Full-width letters, as some keyboards send them.
            "ａｌａｒｍ ａｌｍｏｎｄ ａｎｃｈｏｒ ａｎｋｌｅ",
        ] {
            assert_eq!(typed(like), said, "{like}");
        }
        assert_ne!(typed("almond alarm anchor ankle"), said);
        // é as one sign and as two.
        assert_eq!(typed("caf\u{e9} au lait"), typed("cafe\u{301} au lait"));
    }

    #[test]
    fn what_nobody_sees_is_refused() {
        // The second was found by made-up bytes: a joiner that hides.
        for hidden in ["blue\u{1b}boots", "bk\u{34f}&gehal"] {
            assert_eq!(Passphrase::typed(hidden), Err(PassphraseError::Unseen));
        }
    }

    #[test]
    fn what_is_easily_guessed_is_not_chosen() {
        let chosen = |text| Passphrase::chosen(text, "Thursday class").map(drop);
        assert_eq!(chosen("short one"), Err(PassphraseError::Weak));
        assert_eq!(chosen("aaaaaaaaaaaaaaaa"), Err(PassphraseError::Weak));
        assert_eq!(
            chosen("Thursday Class 1"),
            Err(PassphraseError::LikeTheName)
        );
        assert_eq!(chosen(" - "), Err(PassphraseError::Empty));
        assert_eq!(chosen("blue boots in the rain"), Ok(()));
        assert_eq!(chosen("синие сапоги"), Ok(()));
    }

    #[test]
    fn nothing_endless_or_steering_is_taken() {
        assert_eq!(
            Passphrase::typed(&"x".repeat(MAX_BYTES + 1)),
            Err(PassphraseError::Long)
        );
        assert_eq!(
            Passphrase::typed("blue\u{1b}[2Jboots"),
            Err(PassphraseError::Unseen)
        );
        assert_eq!(format!("{:?}", typed("blue boots")), "Passphrase(..)");
    }
}
