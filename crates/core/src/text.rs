//! Text from elsewhere that a screen is to show: names of people, lessons and
//! necks, and sentences from another machine.

/// Whether a text may be shown as it is: it holds no control signs, which
/// steer a terminal, no separators of lines and paragraphs, and no invisible
/// signs that turn the writing direction, break words or carry hidden tags.
///
/// The joiners U+200C and U+200D may be shown: some scripts are spelt with
/// them. The signs are Unicode's format characters of the blocks "General
/// Punctuation", "Specials" and "Tags" and a few strays, listed from memory.
pub fn may_be_shown(text: &str) -> bool {
    !text.chars().any(steers)
}

pub(crate) fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00ad}' | '\u{061c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}'
            | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_shown_and_steering_is_not() {
        for fine in ["", "my banjo", "F♯ 𝄪", "نی\u{200c}لبک", "👩\u{200d}🎤"] {
            assert!(may_be_shown(fine), "{fine:?}");
        }
        for bad in [
            "\u{1b}[2J",
            "a\nb",
            "\u{7f}",
            "\u{9b}2J",
            "\u{ad}",
            "\u{200b}",
            "\u{2028}",
            "\u{2029}",
            "\u{202e}cba",
            "\u{2066}",
            "\u{feff}",
            "\u{e0041}",
        ] {
            assert!(!may_be_shown(bad), "{bad:?}");
        }
    }
}
