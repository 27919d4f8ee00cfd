//! Text from elsewhere that a screen is to show: names of people, lessons and
//! necks, and sentences from another machine.

use unicode_properties::{GeneralCategory, UnicodeGeneralCategory};
use unicode_segmentation::UnicodeSegmentation;

pub use crate::alike::{Seen, are_alike, composed, folded, is_same_name, look};
pub use crate::naming::may_be_named;
pub use crate::wording::{count, counted, list_and, list_or, measured, seconds, shown};

/// The most nonspacing marks in a row: more are no spelling but a heap that
/// runs over the lines above and below (Unicode Technical Standard 39, section
/// 5.4).
pub const MAX_MARKS: usize = 4;

/// The most code points of one letter as people see it. The longest emoji that
/// Unicode recommends has ten (Unicode Technical Standard 51, data file
/// `emoji-zwj-sequences.txt`, from memory).
pub const MAX_LETTER_CODE_POINTS: usize = 16;

/// Whether a text may be shown as it is: it holds no control signs, which
/// steer a terminal, no separators of lines and paragraphs, no invisible
/// signs that turn the writing direction, break words or carry hidden tags,
/// and no heaps of marks.
///
/// The joiners U+200C and U+200D may be shown: some scripts are spelt with
/// them. Where in a name they may stand says [`may_be_named`].
pub fn may_be_shown(text: &str) -> bool {
    !text.chars().any(steers) && !text.graphemes(true).any(is_heaped)
}

/// A text as far as it may be shown: what steers is left out, and so are the
/// marks of a heap.
pub fn tamed(text: &str) -> String {
    let mut tame = String::new();
    let shown: String = text.chars().filter(|c| !steers(*c)).collect();
    for letter in shown.graphemes(true) {
        let mut marks = 0;
        for c in letter.chars().take(MAX_LETTER_CODE_POINTS) {
            marks = in_a_row(marks, c);
            if marks <= MAX_MARKS {
                tame.push(c);
            }
        }
    }
    tame
}

/// A text as a run of words on one line: each sign that steers or hides is a
/// question mark, and heaps of marks are cut.
pub fn one_line(text: &str) -> String {
    let asked: String = text
        .chars()
        .map(|c| if steers(c) { '?' } else { c })
        .collect();
    tamed(&asked)
}

/// JSON (RFC 8259) in which no sign steers or hides: inside its strings, the
/// only place for them, each is written as `\\u` and four digits, which says the
/// same. Line ends between its parts stay.
pub fn plain_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '\n' || !(steers(c) || is_joiner(c)) {
            out.push(c);
            continue;
        }
        for unit in c.encode_utf16(&mut [0; 2]) {
            out.push_str(&format!("\\u{unit:04x}"));
        }
    }
    out
}

/// The letters as people see them: Unicode's extended grapheme clusters.
pub fn letters(text: &str) -> impl Iterator<Item = &str> {
    text.graphemes(true)
}

pub(crate) fn steers(c: char) -> bool {
    use GeneralCategory as G;
    if is_joiner(c) {
        return false;
    }
    matches!(
        c.general_category(),
        G::Control
            | G::Format
            | G::LineSeparator
            | G::ParagraphSeparator
            | G::Surrogate
            | G::PrivateUse
    ) || is_hidden(c)
        || is_noncharacter(c)
}

/// Signs that show nothing though they count as letters or marks: Unicode's
/// `Default_Ignorable_Code_Point` beyond the format characters, but for the
/// variation selectors of emoji, and the empty braille pattern. From memory.
fn is_hidden(c: char) -> bool {
    matches!(c,
        '\u{034f}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{2065}' | '\u{2800}' | '\u{3164}' | '\u{ffa0}' | '\u{fff0}'..='\u{fff8}'
        | '\u{e0000}'..='\u{e0fff}')
}

/// Code points that never stand for anything (The Unicode Standard, section
/// 23.7).
fn is_noncharacter(c: char) -> bool {
    matches!(c, '\u{fdd0}'..='\u{fdef}') || u32::from(c) & 0xfffe == 0xfffe
}

/// Joiners are part of some scripts' spelling, and of emoji.
pub fn is_joiner(c: char) -> bool {
    matches!(c, '\u{200c}' | '\u{200d}')
}

fn is_mark(c: char) -> bool {
    matches!(
        c.general_category(),
        GeneralCategory::NonspacingMark | GeneralCategory::EnclosingMark
    )
}

fn is_heaped(letter: &str) -> bool {
    let mut marks = 0;
    let mut code_points = 0;
    letter.chars().any(|c| {
        code_points += 1;
        marks = in_a_row(marks, c);
        marks > MAX_MARKS || code_points > MAX_LETTER_CODE_POINTS
    })
}

/// Joiners between marks make two heaps of none.
fn in_a_row(marks: usize, c: char) -> usize {
    match c {
        c if is_mark(c) => marks + 1,
        c if is_joiner(c) => marks,
        _ => 0,
    }
}

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The bytes that hexadecimal digits stand for; `None` if there is anything else.
pub fn unhex(text: &str) -> Option<Vec<u8>> {
    let pairs = text.as_bytes().chunks(2);
    let byte = |pair| {
        let pair = core::str::from_utf8(pair).ok()?;
        let digits = pair.len() == 2 && pair.bytes().all(|b| b.is_ascii_hexdigit());
        u8::from_str_radix(pair, 16).ok().filter(|_| digits)
    };
    pairs.map(byte).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FINE: [&str; 8] = [
        "",
        "my banjo",
        "F♯ 𝄪",
        "نی\u{200c}لبک",
        "👩\u{200d}🎤",
        "❤\u{fe0f}",
        "Nguye\u{302}\u{303}n",
        "👩🏻\u{200d}❤\u{fe0f}\u{200d}💋\u{200d}👨🏻",
    ];

    #[test]
    fn bytes_come_back_from_their_digits() {
        // RFC 4648, section 10: "foobar" in base 16.
        assert_eq!(hex(b"foobar"), "666f6f626172");
        assert_eq!(unhex("666F6F626172"), Some(b"foobar".to_vec()));
        assert_eq!(unhex(""), Some(Vec::new()));
        for wrong in ["6", "666", "6g", "+6", "\u{e9}", "6 6f"] {
            assert_eq!(unhex(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn words_are_shown_and_steering_is_not() {
        for fine in FINE {
            assert!(may_be_shown(fine), "{fine:?}");
            assert_eq!(tamed(fine), fine);
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
            "\u{e0101}",
            "\u{61c}",
            "\u{1bca0}",
            "Mia\u{3164}",
            "\u{2800}",
            "\u{e000}",
            "M\u{34f}ia",
            "X\u{ffff}",
            "X\u{1fffe}",
            "X\u{fdd0}",
        ] {
            assert!(!may_be_shown(bad), "{bad:?}");
            assert!(may_be_shown(&tamed(bad)), "{bad:?}");
        }
    }

    #[test]
    fn heaps_of_marks_are_not_shown() {
        let heap = |n: usize| format!("Mi{}a", "\u{301}".repeat(n));
        assert!(may_be_shown(&heap(MAX_MARKS)));
        assert!(!may_be_shown(&heap(MAX_MARKS + 1)));
        assert_eq!(tamed(&heap(500)), heap(MAX_MARKS));
        // Broken up by joiners they are one letter all the same.
        let joined = "\u{301}\u{200d}".repeat(300);
        assert!(!may_be_shown(&format!("a{joined}")));
        let left = tamed(&format!("a{joined}b"));
        assert!(
            left.chars().count() <= MAX_LETTER_CODE_POINTS + 1,
            "{left:?}"
        );
    }
}
